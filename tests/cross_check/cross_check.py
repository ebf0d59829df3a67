"""Recomputes findings of recorded sessions without the program's own code and compares.

    cross_check.py --prony PATH SESSION [SESSION ...] [--all] [--no-timing]

For every session file the JSON of `prony assess SESSION --json -` is held against what numpy, scipy,
pandas and statsmodels make of the raw Bluetooth bytes in the file. One row of the table per
quantity: how many numbers were compared, the pair that lies furthest apart in units of its
tolerance, the tolerance, and whether all were within. Exit code 1 if any was not, or if a quantity
that the program reports was left out.

README. What is independent here: reading the file (sqlite3), the layouts of the packets, the held
grid as differences of one running integral, gate and cells, every probability and quantile (scipy),
autocorrelation and analysis of variance (statsmodels), the line with errors in both variables
(Levenberg-Marquardt), the lag (one fit over the whole recording instead of segments). What is taken from the
program: the rules it states in its source, the settings that the session file holds, and the shift by
which a stream was moved, because every later number depends on its nanoseconds; that lag is checked
by a fit of its own. What is absent: examinations that these sessions do not contain (bursts, slope,
coast-down, ladders) and the fits of response and smoothing.

Tolerances. Sums and ratios of the same numbers: 1e-9 of the value. Quantiles and probabilities: 1e-9
too, or 1e-8 where an interval comes from a search on a distribution. Counts: equal. Others carry
their reason in the last column. At the end the same set of quantities is timed against the whole
process of `prony assess`; no time decides anything.
"""

import argparse
import json
import math
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

import examine
import steady
from recording import SECOND_NS, Session

EXACT, SEARCHED = 1e-9, 1e-8


class Table:
    """Pairs of numbers, gathered by quantity."""

    def __init__(self):
        self.rows = {}

    def add(self, quantity, prony, python, tolerance=EXACT, reason="", scale=None):
        """`scale` is what the difference is divided by; without it, the larger of the two."""
        if isinstance(python, (list, tuple)):
            for one, other in zip(prony, python, strict=True):
                self.add(quantity, one, other, tolerance, reason, scale)
            return
        if prony is None or python is None:
            difference = 0.0 if prony is python is None else math.inf
        else:
            size = max(abs(prony), abs(python)) if scale is None else scale
            difference = 0.0 if prony == python else abs(prony - python) / max(size, 1e-300)
        row = self.rows.setdefault(quantity, [])
        row.append(
            (difference / max(tolerance, 1e-300), difference, prony, python, tolerance, reason)
        )

    def equal(self, quantity, prony, python):
        """Counts and words: equal or not."""
        row = self.rows.setdefault(quantity, [])
        difference = 0.0 if prony == python else math.inf
        row.append((difference, difference, prony, python, 0.0, "equal"))

    def print(self, everything):
        missed = 0
        print(
            f"{'quantity':<36} {'n':>4}  {'prony':>20}  {'python':>20}  {'rel. diff.':>10}  {'tolerance':>9}  ok"
        )
        for quantity, row in self.rows.items():
            bad = sum(pair[0] > 1 for pair in row)
            missed += bad
            for pair in sorted(row, key=lambda pair: -pair[0])[
                : len(row) if everything else max(1, min(bad, 5))
            ]:
                _, difference, prony, python, tolerance, reason = pair
                ok = "yes" if pair[0] <= 1 else "NO"
                print(
                    f"{quantity:<36} {len(row):>4}  {show(prony):>20}  {show(python):>20}  "
                    f"{difference:>10.1e}  {tolerance:>9.0e}  {ok:<3} {reason}"
                )
        return missed


def show(value):
    return f"{value:.13g}" if isinstance(value, (float, np.floating)) else str(value)[:20]


def compute(session, lags):
    """Everything from the decoded streams. `lags` are those by which the program moved them."""
    reference = session.of_role("reference")
    streams = [
        examine.aligned(source, lags.get(source["name"], 0.0)) for source in session.sources
    ]
    device = next(s for s in streams if s["role"] == "under-test")
    main = reference["power"]
    found = {"session": session, "streams": streams}
    found["dropouts"] = examine.dropouts(session, device, reference)
    faults = [d for d in found["dropouts"] if d[0] != "coasting"]
    second = steady.seconds_of(device, reference, found["dropouts"])
    windows, found["excluded"] = steady.windows_of(session, second)
    cells = steady.cells_of(windows)
    found["cells"], drivetrain = steady.judge(session, cells)
    found["overall"] = steady.overall_bias(session.settings, found["cells"])
    usual = np.average([c.indicated for c in cells], weights=[c.n for c in cells])
    efficiency = drivetrain.share(usual), drivetrain.share(usual) * drivetrain.u_pct(usual) / 100
    found["radio"] = [examine.radio(source) for source in session.sources]
    found["coverage"] = [
        min(100 * s["power"].means([0], [session.end_ns])[1][0] / session.end_ns, 100.0)
        for s in session.sources
    ]
    found["energy"] = examine.energy(device["power"], main)
    found["best"] = examine.best_means(device["power"], main, faults)
    found["consistency"] = examine.consistency(session, windows, streams, efficiency)
    found["apportioning"] = examine.apportioning(windows, streams, efficiency)
    found["agreement"] = examine.agreement(windows)
    found["level"] = examine.level(windows)
    found["holds"] = examine.holds(session, device["power"], main, faults)
    found["hours"] = (main.extent()[1] - main.extent()[0]) / SECOND_NS / 3600
    found["lags"] = [
        examine.lag_s(source["power"], main, session.settings["align"]["near_s"])
        for source in session.sources
        if source["role"] != "reference"
    ]
    return found


def compare(document, found):
    table = Table()
    made = document["examinations"]
    sources = document["sources"]
    table.equal(
        "sources", [s["name"] for s in sources], [s["name"] for s in found["session"].sources]
    )
    for source, stream, radio, covered in zip(
        sources, found["session"].sources, found["radio"], found["coverage"]
    ):
        power = stream["power"]  # as received
        table.equal("packets", source["packets"], radio["packets"])
        table.add("coverage, %", source["coverage_pct"], covered)
        rate = (len(power.t) - 1) / (power.t[-1] - power.t[0]) * SECOND_NS
        table.add("rate of power, Hz", source["rate_hz"], rate)
    for reported, radio in zip(made["radio"], found["radio"], strict=True):
        for name in ("packets", "links", "missing"):
            table.equal(f"radio: {name}", reported[name], radio[name])
        for name in ("median_s", "p95_s", "p99_s", "longest_s", "rate_hz", "loss"):
            table.add(f"radio: {name}", reported[name], radio[name])
        table.add(
            "radio: loss interval",
            reported["loss_interval"],
            radio["loss_interval"],
            1e-7,
            "beta quantile by a search that ends at about 1e-8",
        )

    table.equal("excluded spans", merged(document["exclusions"]), found["excluded"])
    for cell, own in zip(document["cells"], found["cells"], strict=True):
        table.equal("cell: treatment", cell["treatment"], own["treatment"])
        for name in ("windows", "visits", "seconds"):
            table.equal(f"cell: {name}", cell[name], own[name])
        names = (
            "level_w",
            "cadence_rpm",
            "speed_kmh",
            "reference_w",
            "under_test_w",
            "tolerance_pct",
            "n_eff",
            "u_a_pct",
            "u_pct",
            "k",
            "expanded_pct",
            "capability",
        )
        for name in names:
            table.add(f"cell: {name}", cell[name], own[name])
        table.add("cell: bias_w", cell["bias_w"], own["bias_w"], scale=own["reference_w"] / 100)
        table.add("cell: bias_pct", cell["bias_pct"], own["bias_pct"], scale=1.0)
        table.add("cell: p_conform", cell["p_conform"], own["p_conform"], scale=1.0)
        table.add("cell: dof (Welch-Satterthwaite)", cell["dof"], finite(own["dof"]))
        table.equal(
            "budget: terms", [t["term"] for t in cell["budget"]], [t[0] for t in own["budget"]]
        )
        for term, mine in zip(cell["budget"], own["budget"]):
            table.add(
                f"budget: {term['term']}",
                term["u_pct"],
                mine[1],
                scale=max(own["u_pct"] / 100, mine[1]),
            )
            table.add("budget: dof of terms", term["dof"], finite(mine[2]))
    overall = document["overall"]["bias_pct"]
    table.add("overall bias, %", overall["value"], found["overall"]["value"], scale=1.0)
    table.add("overall u, %", overall["u"], found["overall"]["u"])
    table.add("overall dof", overall["dof"], finite(found["overall"]["dof"]))

    compare_dropouts(table, made, found)
    compare_work(table, made, found)
    table.equal(
        "consistency: pairs",
        [(p["a"], p["b"]) for p in made.get("consistency", [])],
        [p[:2] for p in found["consistency"]],
    )
    for pair, own in zip(made.get("consistency", []), found["consistency"]):
        table.add("consistency: difference, %", pair["difference_pct"], own[2], scale=1.0)
        table.add("consistency: u, %", pair["u_pct"], own[3])
        table.add("consistency: E_n", pair["e_n"], own[4])
    present(table, "apportioning", made, found)
    for reported, own in zip(made.get("apportioning", []), found["apportioning"] or []):
        for name in ("noise_w", "noise_interval_w", "bias_u_pct"):
            table.add(f"three-cornered hat: {name}", reported[name], own[name])
        table.add(
            "three-cornered hat: bias_pct", reported["bias_pct"], own["bias_pct"], scale=1.0
        )
    present(table, "agreement", made, found)
    if found["agreement"]:
        reported, own = made["agreement"], found["agreement"]
        table.add("agreement: mean, %", reported["bias_pct"]["value"], own["bias"], scale=1.0)
        table.add("agreement: u, %", reported["bias_pct"]["u"], own["u"])
        for name in ("windows", "conditions"):
            table.equal(f"agreement: {name}", reported[name], own[name])
        for name in ("sd_pct", "share_within", "share_within_perfect"):
            table.add(f"agreement: {name}", reported[name], own[name])
        for name in (
            "bias_interval_pct",
            "limits_pct",
            "lower_interval_pct",
            "upper_interval_pct",
        ):
            table.add(f"agreement: {name}", reported[name], own[name], scale=1.0)
    present(table, "level", made, found)
    if found["level"]:
        reported, own = made["level"], found["level"]
        for name, unit in (("offset", "w"), ("scale", "pct")):
            value, u = own[name]
            one = reported[f"{name}_{unit}"]
            reason = "ends where the sum of squares is flat; in units of u"
            table.add(f"level: {name}_{unit}", one["value"], value, 1e-6, reason, u)
            table.add(f"level: u of {name}_{unit}", one["u"], u, 1e-6, reason)
            interval = f"{name}_interval_{unit}"
            table.add(f"level: {interval}", reported[interval], own[interval], 1e-6, reason, u)
    table.equal("stability: holds", len(made.get("stability", [])), len(found["holds"]))
    for reported, own in zip(made.get("stability", []), found["holds"]):
        for name in ("from_s", "reference_w"):
            table.add(f"stability: {name}", reported[name], own[name])
        # A device that repeats one value scatters by the rounding of its mean, not by nothing.
        size = max(own["under_test_sd_w"], own["reference_w"] / 100)
        table.add(
            "stability: under_test_sd_w",
            reported["under_test_sd_w"],
            own["under_test_sd_w"],
            scale=size,
        )
        table.add("stability: sd of reference, W", reported["reference_sd_w"]["value"], own["sd"])
        table.add("stability: u of sd, W", reported["reference_sd_w"]["u"], own["u"])
    for reported, own in zip(document["alignment"], found["lags"], strict=True):
        table.add(
            "lag, s",
            reported["lag_s"],
            own,
            1.0,
            "one fit over all, not a mean of segments: 3 u",
            3 * reported["lag_u_s"],
        )
    return table


def compare_dropouts(table, made, found):
    """The list and the rates of drop-outs."""
    own = found["dropouts"]
    table.equal("drop-outs: kinds", [d["kind"] for d in made["dropouts"]], [d[0] for d in own])
    for reported, (_, start, stop, lost) in zip(made["dropouts"], own):
        table.add("drop-outs: from, s", reported["from_s"], start / SECOND_NS)
        table.add("drop-outs: duration, s", reported["seconds"], (stop - start) / SECOND_NS)
        table.add("drop-outs: lost energy, kJ", reported["lost_kj"], lost)
    rates = made["dropout_rates"]
    table.add("drop-outs: hours", rates["hours"], found["hours"])
    lost = sum(d[3] for d in own if d[0] != "coasting")
    table.add("drop-outs: lost in all, kJ", rates["lost_kj"], lost)
    for rate in rates["kinds"]:
        of_kind = [(d[2] - d[1]) / SECOND_NS for d in own if d[0] == rate["kind"]]
        table.equal("drop-outs: count", rate["count"], len(of_kind))
        table.add("drop-outs: longest, s", rate["longest_s"], max(of_kind, default=0.0))
        table.add("drop-outs: seconds in all", rate["seconds"], sum(of_kind))
        table.add("drop-outs: per hour", rate["per_hour"], len(of_kind) / found["hours"])
        interval = [x / found["hours"] for x in examine.poisson_interval(len(of_kind))]
        table.add(
            "drop-outs: interval of the rate",
            rate["interval_per_hour"],
            interval,
            SEARCHED,
            "chi-square quantile by a search",
        )


def compare_work(table, made, found):
    """Work of the session and best means."""
    own, reported = found["energy"], made["energy"]
    table.add("work: reference, kJ", reported["reference_kj"], own["work_kj"][0])
    table.add("work: device, kJ", reported["under_test_kj"], own["work_kj"][1])
    for name in ("ratio", "ratio_without_zeros"):
        value, u, dof = own[name]
        table.add(f"work: {name}", reported[name]["value"], value)
        table.add(f"work: u of {name}", reported[name]["u"], u)
        table.equal(f"work: dof of {name}", reported[name]["dof"], dof)
    durations = [int(best["seconds"]) for best in made["best_means"]]
    table.equal("best means: durations", durations, list(found["best"]))
    for best in made["best_means"]:
        if own := found["best"].get(int(best["seconds"])):
            table.add("best means: reference, W", best["reference_w"], own[0])
            table.add("best means: device, W", best["under_test_w"], own[1])


def present(table, name, made, found):
    table.equal(f"{name}: examined", name in made, bool(found[name]))


def finite(dof):
    return None if math.isinf(dof) else dof


def merged(exclusions):
    """Excluded spans without regard to their reasons."""
    seconds = [s for e in exclusions for s in range(int(e["from_s"]), int(e["to_s"]))]
    return steady.spans(seconds)


def assess(prony, path):
    done = subprocess.run(
        [prony, "assess", path, "--json", "-"], capture_output=True, check=False
    )
    if done.returncode:
        sys.exit(f"cross_check: {prony} assess {path} failed:\n{done.stderr.decode()}")
    return json.loads(done.stdout)


def timing(prony, paths, lags):
    """Medians of five, whole process against the same set in this process; decides nothing."""

    def median(call):
        times = []
        for _ in range(5):
            begin = time.perf_counter()
            call()
            times.append(1000 * (time.perf_counter() - begin))
        return statistics.median(times)

    print("\ntime, median of five, ms (not a criterion)")
    print(
        f"{'session':<32} {'prony assess, whole process':>28} {'this recomputation, imports done':>34}"
    )
    for path in paths:
        whole = median(lambda: assess(prony, path))
        own = median(lambda: compute(Session(path), lags[path]))
        print(f"{Path(path).stem:<32} {whole:>28.1f} {own:>34.1f}")


def dump(session, to):
    """The decoded streams, for the bench of crates/analysis."""

    def plain(series):
        return {"t": series.t.tolist(), "v": series.v.tolist()}

    document = {
        "end_ns": int(session.end_ns),
        "settings": session.rule,
        "steps": session.steps,
        "targets": session.targets,
        "streams": [
            {
                **{key: source[key] for key in ("name", "role", "place")},
                **{key: plain(source[key]) for key in ("power", "cadence", "speed")},
                "at": source["at"].tolist(),
            }
            for source in session.sources
        ],
    }
    Path(to).write_text(json.dumps(document, default=float))


def lags_of(document):
    """How far each stream was moved."""
    return {
        a["source"]: a["shift_s"] for a in document["alignment"] if a["refused"] is None
    }


def drifts(document):
    """Streams whose clock was stretched: the document does not say around which moment."""
    return [
        a["source"]
        for a in document["alignment"]
        if a["drift_ppm"] and abs(a["drift_ppm"]["value"]) > 2 * a["drift_ppm"]["u"]
    ]


def main():
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--prony", required=True, help="path of the program")
    options.add_argument("--all", action="store_true", help="print every pair")
    options.add_argument("--no-timing", action="store_true")
    options.add_argument("--dump", metavar="FILE", help="only write the decoded streams as JSON")
    options.add_argument(
        "--speed",
        action="store_true",
        help="only say how long the recomputation of one session takes, decoding done, in ms",
    )
    options.add_argument(
        "--usable",
        action="store_true",
        help="only say by the exit code whether the session can be checked",
    )
    options.add_argument("sessions", nargs="+")
    given = options.parse_args()
    if given.usable:
        sys.exit(1 if any(drifts(assess(given.prony, path)) for path in given.sessions) else 0)
    if given.dump:
        dump(Session(given.sessions[0]), given.dump)
        return
    if given.speed:
        for path in given.sessions:
            session, lags = Session(path), lags_of(assess(given.prony, path))
            times = []
            for _ in range(11):
                begin = time.perf_counter()
                compute(session, lags)
                times.append(1000 * (time.perf_counter() - begin))
            print(f"{statistics.median(times):.3f}")
        return
    missed, lags, compared, quantities = 0, {}, 0, set()
    for path in given.sessions:
        document = assess(given.prony, path)
        lags[path] = lags_of(document)
        if drifting := drifts(document):
            sys.exit(f"cross_check: {path}: a clock drift was applied to {drifting}")
        print(f"\n{Path(path).stem}")
        table = compare(document, compute(Session(path), lags[path]))
        missed += table.print(given.all)
        compared += sum(len(row) for row in table.rows.values())
        quantities |= set(table.rows)
    print(
        f"\n{compared} numbers of {len(quantities)} quantities in {len(given.sessions)} sessions compared, {missed} beyond tolerance"
    )
    if not given.no_timing:
        timing(given.prony, given.sessions, lags)
    sys.exit(1 if missed else 0)


if __name__ == "__main__":
    main()
