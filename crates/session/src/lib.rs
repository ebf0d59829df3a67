//! The session file: append, reopen, verify.
//!
//! One session is one SQLite file with the extension `.prony`. It holds what was received, byte
//! for byte, and what was decided while recording; nothing in it is derived, and nothing in it
//! is ever changed. Any SQLite tool (3.37 of 2021 or later) opens it.
//!
//! What is absent, on purpose: a clock (every time is an argument), threads, and any
//! interpretation of the bytes.
//!
//! * [`Recorder`] writes one session, from the opening block to the end seal.
//! * [`Archive`] reads one, never writing.
//! * [`verify`] says whether a file is what was recorded, and if not, where.
//! * [`recover`] closes a file whose recording was interrupted; [`annotate`] adds to a closed one.
//! * [`CommitTimer`] says when a commit is due.
//! * [`import`] reads recordings made elsewhere.
//! * [`shelf`] lists the sessions of a folder, with notes and tags.
//!
//! # The file
//!
//! `application_id` is 1347571289 (the letters `PRNY`), `user_version` the format version, now 1.
//! While recording the file is in WAL mode with `synchronous=FULL` and has two companions
//! (`-wal`, `-shm`): copy all three, or none. After [`Recorder::close`] it is a single file.
//!
//! Rows of `about`: `format`, `session`, `program`, `started` (wall clock at `at_ns` 0, RFC 3339),
//! `simulated` (`yes` or `no`), `rig`, `script_name`, `script`, `script_sha256`, `claims_name`,
//! `claims`, `claims_sha256`, `decision_rule_name`, `decision_rule`, `decision_rule_sha256`,
//! `bike`, `environment`, `rider`, `rider_mass_kg`, `note`. What is not known has no row.
//!
#![doc = concat!("```sql\n", include_str!("format_1.sql"), "```")]
//!
//! # The seals
//!
//! Blocks follow each other without a hole. Block 1 (`opening`) holds `about` and the first
//! sources and is sealed before the first sample, so script, claim sheet and decision rule are
//! fixed by then. The last block of a finished recording is an `end`; a `recovery` closes an
//! interrupted one; each later note is an `annotation`.
//!
//! The `sha256` of a block is SHA-256 over, in this order: the 64 hexadecimal digits of
//! `previous_sha256`; every row with `first_seq <= seq <= last_seq` in order of `seq`; the row of
//! `seal` without its last column. A row is one letter for its table (`a` about, `s` source,
//! `p` packet, `e` event, `f` file, `z` seal) and its columns in the order of the table. A column
//! is `i` and eight bytes, least significant first; or `t` (text, UTF-8) or `b` (blob), the
//! length as eight bytes and the content; or `n` for NULL. Digests are written as lower-case
//! hexadecimal digits. `tests/seal_check.py` does the same in Python.
//!
//! A chain shows that a file was altered after it was sealed by somebody who did not seal it
//! anew. Against somebody who does, or who cuts off the last blocks together with their seals,
//! only the digest of the last block helps, published or given to somebody else beforehand
//! ([`Closed::head_sha256`]). And no chain shows that the measurement was right.

/// A program in Python that recomputes the seals of a session file, for those who do not have this
/// one: `python3 seal_check.py FILE.prony`.
pub const SEAL_CHECK: &str = include_str!("../tests/seal_check.py");

mod about;
mod amend;
mod archive;
mod chain;
mod error;
pub mod import;
mod pace;
mod recorder;
mod row;
mod scan;
mod schema;
pub mod shelf;
mod verify;

pub use about::{About, Document};
pub use amend::{RECOVERED, Recovery, annotate, recover};
pub use archive::{Archive, FileInfo};
pub use chain::sha256_hex as sha256_of;
pub use error::{Error, Result};
pub use pace::CommitTimer;
pub use recorder::{Closed, Recorder};
pub use row::{Entry, EntryRef, EventRef, EventRow, Identity, PacketRef, SourceInfo};
pub use schema::{APPLICATION_ID, EXTENSION, FORMAT_VERSION};
pub use verify::{BlockFault, Fault, SealState, VerifyReport, verify};
