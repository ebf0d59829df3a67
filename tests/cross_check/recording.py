"""Reads a session file and decodes its bytes, without any code of the program under check.

Layouts of the packets: Bluetooth SIG, Cycling Power Service 1.1 (characteristic 2A63) and Fitness
Machine Service 1.0 (2AD2, 2ACC). Table layout of the file: crates/session/src/format_1.sql. What is
absent: split records of 2AD2 and every step of a script that is not ridden here; both are refused
loudly rather than guessed.
"""

import json
import re
import sqlite3

import numpy as np

HOLD_NS = 2_500_000_000  # crates/units/src/series.rs: a value is held for at most 2.5 s
SECOND_NS = 1_000_000_000

# ---------------------------------------------------------------- the notation of the documents

TOKEN = re.compile(
    r'\s+|//[^\n]*|"(?:\\.|[^"\\])*"|r#[\w-]+|[A-Za-z_]\w*|-?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?|[()\[\]:,]',
    re.S,
)


def parse_notation(text):
    """Rusty object notation as dictionaries; the name of a structure is kept under `_`."""
    tokens = []
    at = 0
    while at < len(text):
        found = TOKEN.match(text, at)
        if not found:
            raise ValueError(f"cannot read {text[at:at + 30]!r}")
        at = found.end()
        word = found.group()
        if not word.isspace() and not word.startswith("//"):
            tokens.append(word)
    position = 0

    def value():
        nonlocal position
        word = tokens[position]
        position += 1
        if word == "(":
            return structure("")
        if word == "[":
            items = []
            while tokens[position] != "]":
                items.append(value())
                if tokens[position] == ",":
                    position += 1
            position += 1
            return items
        if word[0] == '"':
            return json.loads(re.sub(r"\\\n\s*", "", word).replace("\\'", "'"))
        if word[0].isdigit() or (word[0] == "-" and len(word) > 1):
            return float(word)
        if position < len(tokens) and tokens[position] == "(":
            position += 1
            return structure(word)
        return word.removeprefix("r#")

    def structure(name):
        nonlocal position
        fields = {"_": name, "args": []}
        while tokens[position] != ")":
            if tokens[position + 1] == ":":
                key = tokens[position]
                position += 2
                fields[key] = value()
            else:
                fields["args"].append(value())
            if tokens[position] == ",":
                position += 1
        position += 1
        return fields

    return value()


# ---------------------------------------------------------------- held series


class Held:
    """Samples whose value is held until the next one, but not longer than 2.5 s or over a break.

    The running integral is kept in units of value x ns; whole watts times whole nanoseconds stay
    exact in a double for any session of these lengths.
    """

    def __init__(self, times_ns, values, breaks_ns=()):
        times = np.asarray(times_ns, np.int64)
        values = np.asarray(values, float)
        later = np.ones(len(times), bool)
        later[1:] = times[1:] > np.maximum.accumulate(times)[:-1]
        self.t, self.v = times[later], values[later]
        following = np.append(self.t[1:], np.iinfo(np.int64).max)
        until = np.minimum(self.t + HOLD_NS, following)
        for at in breaks_ns:
            index = np.searchsorted(self.t, at, "right") - 1
            if index >= 0:
                until[index] = min(until[index], at)
        self.until = until
        self._cumulate()

    def _cumulate(self):
        length = self.until - self.t
        self.integral = np.concatenate([[0.0], np.cumsum(self.v * length)])
        self.covered = np.concatenate([[0], np.cumsum(length)])

    def shifted(self, by_ns):
        moved = object.__new__(Held)
        moved.t, moved.v, moved.until = self.t + by_ns, self.v, self.until + by_ns
        moved.integral, moved.covered = self.integral, self.covered
        return moved

    def where(self, values):
        """The same times with other values, an indicator for example."""
        other = object.__new__(Held)
        other.t, other.until = self.t, self.until
        other.v = np.asarray(values, float)
        other._cumulate()
        return other

    def up_to(self, at_ns):
        """Integral (value x ns) and covered time (ns) up to each moment."""
        at = np.asarray(at_ns, np.int64)
        if len(self.t) == 0:
            return np.zeros(at.shape), np.zeros(at.shape, np.int64)
        index = np.searchsorted(self.t, at, "right") - 1
        inside = np.maximum(index, 0)
        part = np.clip(at - self.t[inside], 0, self.until[inside] - self.t[inside])
        part = np.where(index >= 0, part, 0)
        return self.integral[inside] + self.v[inside] * part, self.covered[inside] + part

    def means(self, from_ns, to_ns):
        """Mean over each span (not a number where nothing is covered) and its covered time, ns."""
        a, b = self.up_to(from_ns), self.up_to(to_ns)
        covered = b[1] - a[1]
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(covered > 0, (b[0] - a[0]) / covered, np.nan), covered

    def mean(self, from_ns, to_ns, least_share):
        """Means over spans; not a number where less than a share is covered."""
        mean, covered = self.means(from_ns, to_ns)
        length = np.asarray(to_ns) - np.asarray(from_ns)
        return np.where(covered >= least_share * length - 1, mean, np.nan)

    def gap_after(self):
        """Whether nothing is held just before the next sample."""
        return np.append(self.until[:-1] < self.t[1:], False)

    def extent(self):
        return int(self.t[0]), int(self.until[-1])


# ---------------------------------------------------------------- packets

CPM_FIELDS = {0: 1, 2: 2, 4: 6, 5: 4, 6: 4, 7: 4, 8: 3, 9: 2, 10: 2, 11: 2}
BIKE_FIELDS = {1: 2, 2: 2, 3: 2, 4: 3, 5: 2, 6: 2, 7: 2, 8: 5, 9: 1, 10: 1, 11: 2, 12: 2}


def by_flags(packets):
    """Packets of one characteristic grouped by their flags: flags, positions, bytes as a table."""
    groups = {}
    for position, (_, _, data) in enumerate(packets):
        groups.setdefault((int.from_bytes(data[:2], "little"), len(data)), []).append(position)
    for (flags, length), positions in groups.items():
        joined = b"".join(packets[p][2] for p in positions)
        table = np.frombuffer(joined, np.uint8).reshape(-1, length)
        yield flags, np.array(positions), table


def word(table, offset, kind="<u2"):
    return np.ascontiguousarray(table[:, offset : offset + 2]).view(kind)[:, 0]


def cycling_power(packets):
    """Power in W of every packet, and (positions, revolutions, event time) of the crank."""
    power = np.empty(len(packets))
    crank = []
    for flags, positions, table in by_flags(packets):
        power[positions] = word(table, 2, "<i2")
        if flags >> 5 & 1:
            offset = 4 + sum(
                size for bit, size in CPM_FIELDS.items() if bit < 5 and flags >> bit & 1
            )
            revolutions, event = word(table, offset), word(table, offset + 2)
            crank += zip(positions.tolist(), revolutions.tolist(), event.tolist())
    return power, sorted(crank)


def bike_data(packets):
    """Power (W), cadence (rpm) and speed (km/h) of every packet; not a number where absent."""
    found = {name: np.full(len(packets), np.nan) for name in ("power", "cadence", "speed")}
    for flags, positions, table in by_flags(packets):
        if flags & 1:
            raise SystemExit("cross_check: split records of 2AD2 are not handled here")
        offset = 2
        found["speed"][positions] = word(table, offset) / 100
        offset += 2
        for bit, size in BIKE_FIELDS.items():
            if flags >> bit & 1:
                if bit == 2:
                    found["cadence"][positions] = word(table, offset) / 2
                if bit == 6:
                    found["power"][positions] = word(table, offset, "<i2")
                offset += size
    return found


def crank_cadence(packets, crank, end_ns):
    """Cadence from running counters, with the rules of crates/sensor/src/counter.rs: the first
    difference after two seconds of silence, a new link or half a turn of the event time is
    dropped; zero falls due three seconds (or two slow turns, at most eight seconds) after the last
    turn."""
    readings = []
    last = None
    zero_at = None
    for position, revolutions, event in crank:
        at, epoch, _ = packets[position]
        if zero_at is not None and zero_at <= at:
            readings.append((zero_at, 0.0))
            zero_at = None
        if last is None or last[1] != epoch:
            last = [at, epoch, revolutions, event, at]
            zero_at = at + 3 * SECOND_NS
            continue
        silence, since = at - last[0], at - last[4]
        turned, ticks = (revolutions - last[2]) & 0xFFFF, (event - last[3]) & 0xFFFF
        if turned == 0 and ticks == 0:
            last[0] = at
            continue
        before, last = last, [at, epoch, revolutions, event, at]
        if silence > 2 * SECOND_NS or since > 32 * SECOND_NS:
            zero_at = at + 3 * SECOND_NS
        elif turned and not ticks:
            last = [at, *before[1:]]
        elif turned:
            rpm = turned * 60 / (ticks / 1024)
            if rpm <= 250:
                hold = min(max(3.0, 2 * ticks / 1024 / turned), 8.0)
                zero_at = at + round(hold * SECOND_NS)
                readings.append((at, rpm))
    if zero_at is not None and zero_at <= end_ns:
        readings.append((zero_at, 0.0))
    return readings


# ---------------------------------------------------------------- the session

COMPARED = ("Steady", "Cadence", "FlywheelSpeed", "Slope", "Drift")


def unfold(script):
    """The steps of a script in the order of the plan: feeds, constant target, settling time."""
    plan = []

    def add(step, usual, target):
        feeds = step.get("feeds", usual)
        settle = step.get("settle_seconds", 30.0 if feeds in COMPARED else 0.0)
        cadence = step.get("cadence_rpm", script.get("cadence_rpm"))
        plan.append({"feeds": feeds, "target": target, "settle": settle, "cadence": cadence})

    for step in script["steps"]:
        name = step["_"]
        if name == "Hold":
            add(step, "Steady", step["power_w"])
        elif name in ("Ramp", "Rest", "CoolDown"):
            add(step, "Nothing", step.get("power_w") if name == "Rest" else None)
        elif name == "Staircase" and step.get("order", "Up") in ("Up", "Down"):
            for level in np.linspace(step["from_w"], step["to_w"], int(step["levels"])):
                add(step, "Steady", float(level))
        elif name == "Alternate":
            for _ in range(int(step["times"])):
                for level in step["levels_w"]:
                    add(step, "Response", level)
        else:
            raise SystemExit(f"cross_check: a step {name} is not handled here")
    return plan


class Session:
    """One recorded session, decoded."""

    def __init__(self, path):
        connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
        about = dict(connection.execute("SELECT key, value FROM about"))
        self.settings = parse_notation(about["decision_rule"])
        self.script = parse_notation(about["script"])
        events = connection.execute("SELECT at_ns, kind, body FROM event ORDER BY seq").fetchall()
        rows = connection.execute(
            "SELECT source, characteristic, at_ns, link_epoch, bytes FROM packet ORDER BY seq"
        ).fetchall()
        sources = connection.execute(
            "SELECT id, name, role, place FROM source ORDER BY id"
        ).fetchall()
        last_event = connection.execute("SELECT max(at_ns) FROM event").fetchone()[0]
        connection.close()
        self.rule = about["decision_rule"]
        self.end_ns = max(last_event, max(row[2] for row in rows))
        self._steps(events)
        packets = {}
        for source, characteristic, at, epoch, data in rows:
            packets.setdefault((source, characteristic), []).append((at, epoch, data))
        self.sources = []
        for identifier, name, role, place in sources:
            breaks = [
                at
                for at, kind, body in events
                if kind == "link"
                and (said := json.loads(body))["source"] == identifier
                and not said["up"]
            ]
            self.sources.append(self._source(packets, identifier, name, role, place, breaks))

    def _steps(self, events):
        plan = unfold(self.script)
        self.steps, self.targets = [], []
        for at, kind, body in events:
            said = json.loads(body)
            if kind in ("paused", "invalid", "stalled"):
                raise SystemExit(f"cross_check: an event {kind} is not handled here")
            if kind == "step-began":
                # Beyond the script lies the cool-down that the runner adds of its own accord.
                added = {"feeds": "Nothing", "target": None, "settle": 0.0, "cadence": None}
                step = plan[said["index"]] if said["index"] < len(plan) else added
                self.steps.append({"from": at, "to": self.end_ns, **step})
            elif kind == "step-ended":
                self.steps[-1]["to"] = at
            elif kind == "target":
                self.targets.append((at, said.get("power_w")))

    def _source(self, packets, identifier, name, role, place, breaks):
        features = packets.get((identifier, "2ACC"))
        bike = role == "under-test" and features and features[-1][2][1] >> 6 & 1
        main = packets[(identifier, "2AD2" if bike else "2A63")]
        at = np.array([packet[0] for packet in main], np.int64)
        epochs = np.array([packet[1] for packet in main])
        breaks = breaks + at[1:][np.diff(epochs) != 0].tolist()
        if bike:
            found = bike_data(main)
            series = {
                key: Held(at[~np.isnan(values)], values[~np.isnan(values)], breaks)
                for key, values in found.items()
            }
        else:
            power, crank = cycling_power(main)
            cadence = crank_cadence(main, crank, self.end_ns)
            series = {
                "power": Held(at, power, breaks),
                "cadence": Held([t for t, _ in cadence], [v for _, v in cadence], breaks),
                "speed": Held([], []),
            }
        return {"name": name, "role": role, "place": place, "at": at, "epochs": epochs, **series}

    def of_role(self, role):
        return next((source for source in self.sources if source["role"] == role), None)
