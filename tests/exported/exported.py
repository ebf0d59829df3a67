"""Reads exported sessions without the program's own code and compares.

    exported.py --prony PATH --out FOLDER

FOLDER holds session files, `csv/` and `dataset/` made of them by `prony export`, and evidence packs.

README. Four readers that share nothing: the session by sqlite3, with the packets decoded by the
cross-check's own decoder; the CSV tables by the csv module; the Parquet files by pyarrow; and the
dataset as a whole by DuckDB and DataFusion. Required: (1) the session's samples, events and
identity are those of the tables, to the last bit; (2) every field of every CSV table is that of the
Parquet file, and there is no NaN; (3) names, types and nulls of the files are those of the tables in
PARQUET.md, no more and no less; (4) every statement in PARQUET.md runs, and answers what Python
computes from the CSV tables; (5) verdict and error in `sessions` are those of `prony assess`; (6) the
members of the packs are those of their manifests, and the session in them is the session.
"""

import argparse
import csv
import json
import math
import os
import subprocess
import sys
from datetime import datetime, timezone
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent.parent / "cross_check"))

import pyarrow
import pyarrow.dataset
import pyarrow.parquet

import answers
import described
import packs
from recording import SECOND_NS, Session

ROOT = Path(__file__).parent.parent.parent


def read_csv(path):
    with open(path, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def typed(field, kind):
    """A field of CSV as a value of a type of PARQUET.md."""
    if kind == "STRING":
        return field
    if field == "":
        return None
    if kind.startswith("TIMESTAMP"):
        head, _, rest = field.partition(".")
        digits = rest[: next((i for i, c in enumerate(rest) if not c.isdigit()), len(rest))]
        offset = rest[len(digits) :] if rest else ""
        whole = datetime.fromisoformat(head + offset)
        micros = int(digits.ljust(6, "0")[:6]) if digits else 0
        return whole.replace(microsecond=micros).astimezone(timezone.utc)
    return {"INT64": int, "DOUBLE": float, "BOOLEAN": lambda word: {"true": True, "false": False}[word]}[kind](field)


def same_tables(out, tables):
    """(2) and (3): every Parquet file against PARQUET.md and against its CSV table."""
    arrow = {
        "INT64": pyarrow.int64(),
        "DOUBLE": pyarrow.float64(),
        "BOOLEAN": pyarrow.bool_(),
        "STRING": pyarrow.string(),
        "TIMESTAMP(MICROS, UTC)": pyarrow.timestamp("us", tz="UTC"),
    }
    fields = 0
    folders = sorted((out / "csv").iterdir())
    for folder in folders:
        session = read_csv(folder / "sessions.csv")[0]["id"]
        assert {path.stem for path in folder.iterdir()} == set(tables), folder
        for name, columns in tables.items():
            path = out / "dataset" / name / f"session={session}" / "part.parquet"
            file = pyarrow.parquet.ParquetFile(path)
            schema = file.schema_arrow
            assert schema.names == list(columns), f"{path}: {schema.names}"
            for column, (kind, null) in columns.items():
                field = schema.field(column)
                assert field.type == arrow[kind], f"{path}: {column} is {field.type}"
                assert field.nullable == null, f"{path}: {column} nullable {field.nullable}"
            said = file.metadata.metadata
            assert said[b"prony.session"].decode() == session, path
            assert said[b"prony.table"].decode() == name, path
            rows = file.read().to_pydict()
            lines = read_csv(folder / f"{name}.csv")
            assert file.metadata.num_rows == len(lines), f"{path}: {len(lines)} lines"
            for column, (kind, _) in columns.items():
                for found, line in zip(rows[column], lines, strict=True):
                    expected = typed(line[column], kind)
                    if kind == "STRING" and found is None:
                        found = ""
                    assert found == expected, f"{path}: {column}: {found!r}, {expected!r}"
                    assert not (isinstance(found, float) and not math.isfinite(found)), path
                    fields += 1
    for name, columns in tables.items():
        whole = pyarrow.dataset.dataset(out / "dataset" / name, partitioning="hive")
        assert whole.schema.names == [*columns, "session"], name
        assert whole.schema.field("session").type == pyarrow.string(), name
        assert len(whole.files) == len(folders), name
    return fields


def same_recording(path, out):
    """(1): one session file against its tables; how many samples were compared."""
    import sqlite3

    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    about = dict(connection.execute("SELECT key, value FROM about"))
    events = connection.execute("SELECT at_ns, kind, body FROM event ORDER BY seq").fetchall()
    seals = connection.execute("SELECT sha256 FROM seal ORDER BY block").fetchall()
    sources = connection.execute("SELECT name, role, identity FROM source ORDER BY id").fetchall()
    connection.close()

    def table(name):
        part = out / "dataset" / name / f"session={about['session']}" / "part.parquet"
        return pyarrow.parquet.read_table(part).to_pydict()

    row = {column: values[0] for column, values in table("sessions").items()}
    assert row["id"] == about["session"] and row["program"] == about["program"]
    assert row["started"] == typed(about["started"], "TIMESTAMP"), row["started"]
    assert row["script"] == about["script_name"] and row["claims"] == about.get("claims_name")
    assert row["simulated"] is (about["simulated"] == "yes") and row["imported"] is False
    assert row["bike"] == about.get("bike") and row["rider"] == about.get("rider")
    assert (row["opening_sha256"], row["head_sha256"]) == (seals[0][0], seals[-1][0])
    assert row["file"] == path.name and row["sealed"] == "closed"
    for role, prefix in (("under-test", "device"), ("reference", "reference")):
        name, identity = next((n, json.loads(i)) for n, r, i in sources if r == role)
        assert row[prefix] == name
        assert row[f"{prefix}_serial"] == identity.get("serial")
        assert row[f"{prefix}_firmware"] == identity.get("firmware")

    found = table("events")
    assert found["time_s"] == [at / 1e9 for at, _, _ in events]
    assert found["kind"] == [kind for _, kind, _ in events]
    bodies = [None if body == "null" else json.loads(body) for _, _, body in events]
    assert [body if body is None else json.loads(body) for body in found["body"]] == bodies

    raw = table("raw")
    samples = 0
    by_stream = {}
    for source, quantity, at, value in zip(*raw.values(), strict=True):
        by_stream.setdefault((source, quantity), []).append((at, value))
    for source in Session(str(path)).sources:
        for quantity, series in (
            ("power_w", source["power"]),
            ("cadence_rpm", source["cadence"]),
            ("speed_kmh", source["speed"]),
        ):
            own = [(at / SECOND_NS, value) for at, value in zip(series.t.tolist(), series.v.tolist())]
            theirs = by_stream.pop((source["name"], quantity), [])
            assert [at for at, _ in own] == [at for at, _ in theirs], f"{path}: {source['name']} {quantity}"
            for (_, one), (_, other) in zip(own, theirs):
                assert one == other or abs(one - other) <= 1e-12 * abs(one), f"{quantity}: {one} {other}"
            samples += len(own)
    assert not by_stream, f"{path}: nobody else has {by_stream.keys()}"
    return samples


def same_judgement(prony, path, out):
    """(5): the row in `sessions` and the cells against the findings of `prony assess`."""
    said = subprocess.run([prony, "assess", str(path), "--json", "-"], check=True, capture_output=True)
    findings = json.loads(said.stdout)
    part = f"session={findings['session']['id']}/part.parquet"
    row = pyarrow.parquet.read_table(out / "dataset/sessions" / part).to_pylist()[0]
    overall = findings["overall"]
    assert row["verdict"] == overall["verdict"] and row["sentence"] == overall["sentence"]
    assert row["bias_pct"] == overall["bias_pct"]["value"]
    assert row["bias_u_pct"] == overall["bias_pct"]["u"]
    cells = pyarrow.parquet.read_table(out / "dataset/cells" / part).to_pylist()
    assert len(cells) == len(findings["cells"])
    for mine, theirs in zip(cells, findings["cells"]):
        for name in ("treatment", "level_w", "windows", "bias_pct", "expanded_pct", "dof", "verdict"):
            assert mine[name] == theirs[name], (name, mine[name], theirs[name])


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--prony", required=True)
    arguments.add_argument("--out", required=True, type=Path)
    given = arguments.parse_args()
    out = given.out.resolve()
    sessions = sorted(out.glob("*.prony"))
    assert len(sessions) >= 4, sessions
    document = (ROOT / "crates/report/PARQUET.md").read_text(encoding="utf-8")
    tables = described.tables(document)

    fields = same_tables(out, tables)
    samples = sum(same_recording(path, out) for path in sessions)
    for path in sessions:
        same_judgement(given.prony, path, out)
    os.chdir(out)  # the statements name the folder `dataset`
    asked = answers.check(described.statements(document), out / "csv", read_csv)
    packed = packs.check(sorted(out.glob("*.zip")), sessions)
    print(
        f"exported: {len(sessions)} sessions, {len(tables)} tables; {fields} fields are the same in CSV "
        f"and Parquet, {samples} samples those of the recorded bytes; {asked} answers of two engines as "
        f"computed from CSV; {packed} members of packs as listed"
    )


main()
