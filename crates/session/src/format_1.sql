-- A row once written is never changed: triggers below refuse UPDATE, DELETE and REPLACE.
-- seq is the place of a row in the one order of the whole session, shared by the five tables
-- about, source, packet, event and file: 1, 2, 3 … without holes.
CREATE TABLE about (
    seq   INTEGER PRIMARY KEY,
    key   TEXT NOT NULL UNIQUE,
    value TEXT NOT NULL
) STRICT;

CREATE TABLE source (
    seq         INTEGER PRIMARY KEY,
    id          INTEGER NOT NULL UNIQUE, -- what packet.source refers to
    name        TEXT NOT NULL,
    role        TEXT NOT NULL,           -- what the instrument is for in this session
    place       TEXT NOT NULL,           -- where it measures
    identity    TEXT NOT NULL,           -- JSON: maker, model, serial, firmware, …
    calibration TEXT NOT NULL,           -- JSON, null if there is none
    simulated   INTEGER NOT NULL         -- 1 if no real instrument stands behind it
) STRICT;

CREATE TABLE packet (
    seq            INTEGER PRIMARY KEY,
    at_ns          INTEGER NOT NULL,     -- nanoseconds since the session began
    source         INTEGER NOT NULL,     -- source.id
    link_epoch     INTEGER NOT NULL,     -- how many links to this instrument there have been
    characteristic TEXT NOT NULL,        -- assigned number as the standards write it: 2A63
    bytes          BLOB NOT NULL         -- as received, uninterpreted
) STRICT;

CREATE TABLE event (
    seq   INTEGER PRIMARY KEY,
    at_ns INTEGER NOT NULL,
    kind  TEXT NOT NULL,
    body  TEXT NOT NULL                  -- JSON
) STRICT;

CREATE TABLE file (
    seq   INTEGER PRIMARY KEY,
    at_ns INTEGER NOT NULL,
    name  TEXT NOT NULL UNIQUE,
    bytes BLOB NOT NULL                  -- the original, whole
) STRICT;

CREATE TABLE seal (
    block           INTEGER PRIMARY KEY, -- 1, 2, 3 …
    kind            TEXT NOT NULL,       -- opening, block, end, recovery or annotation
    first_seq       INTEGER NOT NULL,
    last_seq        INTEGER NOT NULL,
    row_count       INTEGER NOT NULL,
    from_ns         INTEGER,             -- earliest packet or event of the block
    to_ns           INTEGER,             -- latest packet or event of the block
    previous_sha256 TEXT NOT NULL,       -- sha256 of the block before; 64 zeros for the first
    sha256          TEXT NOT NULL
) STRICT;

CREATE TRIGGER about_no_update BEFORE UPDATE ON about
BEGIN SELECT RAISE(ABORT, 'about is append-only: rows are never changed'); END;
CREATE TRIGGER about_no_delete BEFORE DELETE ON about
BEGIN SELECT RAISE(ABORT, 'about is append-only: rows are never removed'); END;
CREATE TRIGGER about_at_the_end BEFORE INSERT ON about
WHEN NEW.seq <= (SELECT max(seq) FROM about) OR NEW.key IN (SELECT key FROM about)
BEGIN SELECT RAISE(ABORT, 'about is append-only: a row must be new'); END;

CREATE TRIGGER source_no_update BEFORE UPDATE ON source
BEGIN SELECT RAISE(ABORT, 'source is append-only: rows are never changed'); END;
CREATE TRIGGER source_no_delete BEFORE DELETE ON source
BEGIN SELECT RAISE(ABORT, 'source is append-only: rows are never removed'); END;
CREATE TRIGGER source_at_the_end BEFORE INSERT ON source
WHEN NEW.seq <= (SELECT max(seq) FROM source) OR NEW.id IN (SELECT id FROM source)
BEGIN SELECT RAISE(ABORT, 'source is append-only: a row must be new'); END;

CREATE TRIGGER packet_no_update BEFORE UPDATE ON packet
BEGIN SELECT RAISE(ABORT, 'packet is append-only: rows are never changed'); END;
CREATE TRIGGER packet_no_delete BEFORE DELETE ON packet
BEGIN SELECT RAISE(ABORT, 'packet is append-only: rows are never removed'); END;
CREATE TRIGGER packet_at_the_end BEFORE INSERT ON packet
WHEN NEW.seq <= (SELECT max(seq) FROM packet)
BEGIN SELECT RAISE(ABORT, 'packet is append-only: a row must be new'); END;

CREATE TRIGGER event_no_update BEFORE UPDATE ON event
BEGIN SELECT RAISE(ABORT, 'event is append-only: rows are never changed'); END;
CREATE TRIGGER event_no_delete BEFORE DELETE ON event
BEGIN SELECT RAISE(ABORT, 'event is append-only: rows are never removed'); END;
CREATE TRIGGER event_at_the_end BEFORE INSERT ON event
WHEN NEW.seq <= (SELECT max(seq) FROM event)
BEGIN SELECT RAISE(ABORT, 'event is append-only: a row must be new'); END;

CREATE TRIGGER file_no_update BEFORE UPDATE ON file
BEGIN SELECT RAISE(ABORT, 'file is append-only: rows are never changed'); END;
CREATE TRIGGER file_no_delete BEFORE DELETE ON file
BEGIN SELECT RAISE(ABORT, 'file is append-only: rows are never removed'); END;
CREATE TRIGGER file_at_the_end BEFORE INSERT ON file
WHEN NEW.seq <= (SELECT max(seq) FROM file) OR NEW.name IN (SELECT name FROM file)
BEGIN SELECT RAISE(ABORT, 'file is append-only: a row must be new'); END;

CREATE TRIGGER seal_no_update BEFORE UPDATE ON seal
BEGIN SELECT RAISE(ABORT, 'seal is append-only: rows are never changed'); END;
CREATE TRIGGER seal_no_delete BEFORE DELETE ON seal
BEGIN SELECT RAISE(ABORT, 'seal is append-only: rows are never removed'); END;
CREATE TRIGGER seal_at_the_end BEFORE INSERT ON seal
WHEN NEW.block <= (SELECT max(block) FROM seal)
BEGIN SELECT RAISE(ABORT, 'seal is append-only: a row must be new'); END;
