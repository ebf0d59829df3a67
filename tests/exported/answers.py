"""Runs the statements of PARQUET.md in DuckDB and DataFusion, and computes their answers from the
CSV tables in plain Python."""

from collections import defaultdict

import datafusion
import duckdb


class Tables:
    """The CSV tables of all sessions."""

    def __init__(self, folder, read):
        self.sessions = {}
        self.of = defaultdict(list)
        for one in sorted(folder.iterdir()):
            (row,) = read(one / "sessions.csv")
            self.sessions[row["id"]] = row
            for name in ("windows", "dropouts", "seconds", "raw"):
                self.of[name] += [{**line, "session": row["id"]} for line in read(one / f"{name}.csv")]

    def device(self, session):
        return self.sessions[session]["device"]


def number(field):
    return float(field) if field else None


def error_by_device(tables):
    groups = defaultdict(list)
    for window in tables.of["windows"]:
        session = tables.sessions[window["session"]]
        key = (session["device"], session["device_firmware"], float(window["level_w"]))
        groups[key].append(window)
    return [
        (
            *key,
            len(windows),
            len({window["session"] for window in windows}),
            sum(float(window["difference_pct"]) for window in windows) / len(windows),
        )
        for key, windows in sorted(groups.items())
    ]


def dropouts_per_hour(tables):
    hours = defaultdict(float)
    for session in tables.sessions.values():
        hours[session["device"]] += float(session["duration_s"]) / 3600
    groups = defaultdict(list)
    for dropout in tables.of["dropouts"]:
        groups[tables.device(dropout["session"]), dropout["kind"]].append(float(dropout["lost_kj"]))
    rows = [(device, kind, len(lost) / hours[device], sum(lost)) for (device, kind), lost in groups.items()]
    without = hours.keys() - {device for device, _ in groups}
    rows += [(device, None, 0.0, None) for device in without]
    return sorted(rows, key=lambda row: (row[0], row[1] or ""))


def seconds_of_windows(tables):
    seconds = defaultdict(dict)
    for second in tables.of["seconds"]:
        seconds[second["session"]][int(second["time_s"])] = second
    rows = []
    for window in tables.of["windows"]:
        difference = float(window["difference_pct"])
        if not abs(difference) > float(window["tolerance_pct"]):
            continue
        of = seconds[window["session"]]
        inside = [
            second
            for at, second in of.items()
            if float(window["from_s"]) <= at < float(window["to_s"]) and second["excluded"] == ""
        ]
        if inside:
            apart = [
                abs(float(second["under_test_w"]) - float(second["reference_w"]))
                for second in inside
                if second["under_test_w"] and second["reference_w"]
            ]
            device = tables.device(window["session"])
            key = (device, window["session"], float(window["from_s"]), difference)
            rows.append((*key, len(inside), max(apart, default=None)))
    return sorted(rows, key=lambda row: (row[1], row[2]))


def longest_silence(tables):
    times = defaultdict(list)
    for sample in tables.of["raw"]:
        if sample["quantity"] == "power_w":
            times[sample["session"], sample["source"]].append(float(sample["time_s"]))
    return [
        (*key, len(at), max((b - a for a, b in zip(at, at[1:])), default=None))
        for key, at in sorted(times.items())
    ]


COMPUTED = {
    "Error by device, firmware and level": error_by_device,
    "Drop-outs per hour": dropouts_per_hour,
    "The seconds of every window": seconds_of_windows,
    "Longest silence of every source": longest_silence,
}


def compare(engine, title, found, expected):
    assert expected, f"{title}: nothing to be found"
    assert len(found) == len(expected), f"{engine}, {title}: {len(found)} rows, {len(expected)} expected"
    for one, other in zip(found, expected):
        assert len(one) == len(other), f"{engine}, {title}: {one}"
        for mine, theirs in zip(one, other):
            same = mine == theirs
            if isinstance(mine, float) and isinstance(theirs, float):
                same = abs(mine - theirs) <= 1e-9 * max(abs(mine), abs(theirs))
            assert same, f"{engine}, {title}: {one}, expected {other}"


def check(statements, folder, read):
    """Every statement is run and every answer is known; how many rows were compared."""
    tables = Tables(folder, read)
    duck = duckdb.connect()
    fusion = datafusion.SessionContext()
    for statement in statements.pop("Tables (DuckDB)").split(";"):
        if statement.strip():
            duck.execute(statement)
    for statement in statements.pop("Tables (Apache DataFusion)").split(";"):
        if statement.strip():
            fusion.sql(statement)
    assert statements.keys() == COMPUTED.keys(), f"{statements.keys()} against {COMPUTED.keys()}"
    rows = 0
    for title, statement in statements.items():
        expected = COMPUTED[title](tables)
        # Without the last order the engines sort nulls as they like; the answers hold few.
        order = lambda row: [(value is not None, value) for value in row[:3]]
        answered = {
            "DuckDB": duck.execute(statement).fetchall(),
            "DataFusion": [tuple(row.values()) for row in fusion.sql(statement.rstrip(";\n")).to_pylist()],
        }
        for engine, found in answered.items():
            compare(engine, title, sorted(found, key=order), sorted(expected, key=order))
            rows += len(found)
    return rows
