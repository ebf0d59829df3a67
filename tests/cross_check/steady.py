"""Seconds, gate, windows, cells and their uncertainty budget, from the rules alone.

The rules are those that crates/analysis states in words: seconds of the session's clock (grid.rs),
what bars a second and what ends a window (gate/), which windows make a cell (cell/), the terms
of the budget (budget.rs) and its combination after the GUM (JCGM 100:2008, G.4.1), the decision by
conformance probability (JCGM 106:2012, clause 8). The formulas are written down anew from those
sources; probabilities come from scipy, autocorrelations from statsmodels.
"""

import math

import numpy as np
from scipy import stats
from statsmodels.tsa.stattools import acovf

from recording import SECOND_NS

SQRT3 = math.sqrt(3)


def seconds_of(device, reference, dropouts_frozen):
    """Every second from the first to the last sample of either, as columns."""
    low = min(series["power"].t[0] for series in (device, reference)) // SECOND_NS
    high = max(series["power"].t[-1] for series in (device, reference)) // SECOND_NS + 3
    index = np.arange(low, high)
    begin, end = index * SECOND_NS, (index + 1) * SECOND_NS
    cadence = reference["cadence"] if len(reference["cadence"].t) else device["cadence"]
    speed = device["speed"] if len(device["speed"].t) else reference["speed"]
    second = {"index": index}
    for name, series in (("device", device["power"]), ("reference", reference["power"])):
        mean, covered = series.means(begin, end)
        second[name], second[name + "_covered"] = mean, covered / SECOND_NS
    second["cadence"] = cadence.means(begin, end)[0]
    second["speed"] = speed.means(begin, end)[0]

    def touched(series, limit):
        """Seconds in which a value not above a limit was held at any moment."""
        at_or_below = series.where(series.v <= limit)
        return np.nan_to_num(at_or_below.means(begin, end)[0]) > 0

    second["device_zero"] = touched(device["power"], 0.0)
    second["touched"] = touched
    second["frozen"] = np.zeros(len(index), bool)
    for kind, start, stop, _ in dropouts_frozen:
        if kind == "frozen":
            second["frozen"] |= (begin < stop) & (start < end)
    return second


def windows_of(session, second):
    """Steady windows of the held steps, and the seconds that were excluded."""
    gate = session.settings["gate"]
    length, shortest = int(gate["window_s"]), int(gate["shortest_s"])
    reference_zero = second["touched"](
        session.of_role("reference")["power"], gate["reference_zero_below_w"]
    )
    missing = (second["reference_covered"] < 0.5) | (second["device_covered"] < 0.5)
    barred = second["frozen"] | missing | reference_zero | second["device_zero"]
    begin = second["index"] * SECOND_NS
    windows, excluded = [], []
    for visit, step in enumerate(session.steps):
        if step["feeds"] not in ("Steady", "Cadence", "FlywheelSpeed", "Drift"):
            continue
        if step["target"] is None:
            raise SystemExit("cross_check: judged steps without a target are not handled here")
        inside = (begin >= step["from"]) & (begin + SECOND_NS <= step["to"])
        settled = begin >= step["from"] + round(step["settle"] * SECOND_NS)
        free = inside & settled & ~barred
        excluded += second["index"][inside & ~free].tolist()
        places = np.flatnonzero(free)
        for run in np.split(places, np.flatnonzero(np.diff(places) > 1) + 1):
            at = 0
            while len(run) - at >= length or len(run) - at >= shortest:
                window = run[at : at + length]
                if is_steady(second, window, gate):
                    windows.append({"visit": visit, "places": window, "step": step})
                    at += len(window)
                else:
                    # A full window moves on by five seconds; a rest is given up as a whole.
                    skipped = 5 if len(window) == length else len(window)
                    excluded += second["index"][run[at : at + skipped]].tolist()
                    at += skipped
            excluded += second["index"][run[at:]].tolist()
    for window in windows:
        places = window["places"]
        window["from_s"] = int(second["index"][places[0]])
        window["to_s"] = int(second["index"][places[-1]]) + 1
        for name in ("device", "reference"):
            window[name] = second[name][places]
        for name in ("cadence", "speed"):
            known = second[name][places]
            known = known[~np.isnan(known)]
            window[name] = known.mean() if len(known) else None
        window["closure"] = closure_w(second["speed"][places], gate["equivalent_mass_kg"])
    return windows, spans(excluded)


def spans(seconds):
    """Whole seconds as spans without holes."""
    seconds = np.unique(np.array(seconds, np.int64))
    if not len(seconds):
        return []
    parts = np.split(seconds, np.flatnonzero(np.diff(seconds) > 1) + 1)
    return [(int(part[0]), int(part[-1]) + 1) for part in parts]


def closure_w(speed_kmh, mass_kg):
    """Power that the flywheel took up: kinetic energy at the end less that at the beginning."""
    ends = max(min(3, len(speed_kmh) // 2), 1)
    first, last = speed_kmh[:ends] / 3.6, speed_kmh[-ends:] / 3.6
    if np.isnan(first).all() or np.isnan(last).all() or len(speed_kmh) == ends:
        return None
    gained = np.nanmean(last) ** 2 - np.nanmean(first) ** 2
    return mass_kg / 2 * gained / (len(speed_kmh) - ends)


def is_steady(second, places, gate):
    for name in ("device_covered", "reference_covered"):
        if 100 * second[name][places].mean() < gate["coverage_pct"]:
            return False
    cadence, speed = second["cadence"][places], second["speed"][places]
    known = cadence[~np.isnan(cadence)]
    if len(known) > 1 and known.mean() > 0:
        if 100 * known.std(ddof=1) / known.mean() > gate["cadence_cv_pct"]:
            return False
    both = ~np.isnan(cadence) & ~np.isnan(speed)
    if both.any() and cadence[both].sum() > 0:
        whole = speed[both].sum() / cadence[both].sum()
        third = -(-len(places) // 3)
        for start in range(0, len(places), third):
            part = np.arange(len(places))[start : start + third]
            part = part[both[part]]
            if len(part) and cadence[part].sum() > 0:
                ratio = speed[part].sum() / cadence[part].sum()
                if 100 * abs(ratio / whole - 1) > gate["gear_ratio_pct"]:
                    return False
    closure = closure_w(speed, gate["equivalent_mass_kg"])
    if closure is not None:
        share = 100 * abs(closure) / max(second["reference"][places].mean(), 1)
        if share > gate["window_closure_pct"] * max(1, gate["window_s"] / len(places)):
            return False
    return True


# ---------------------------------------------------------------- noise


class Noise:
    """Scatter of values around zero in unbroken runs, and what correlation does to their mean."""

    def __init__(self, runs):
        self.n = sum(len(run) for run in runs)
        squares = sum(float(run @ run) for run in runs)
        self.sd = math.sqrt(squares / (self.n - 1))
        longest = max(len(run) for run in runs)
        lags = min(60, longest // 2)
        products = np.zeros(lags + 1)
        pairs = np.zeros(lags + 1)
        for run in runs:
            reach = min(lags, len(run) - 1)
            sums = acovf(run, demean=False, adjusted=False, fft=False, nlag=reach) * len(run)
            products[: reach + 1] += sums
            pairs += np.maximum(len(run) - np.arange(lags + 1), 0)
        acf = products / squares * self.n / np.maximum(pairs, 1)
        self.lag1 = float(np.clip(acf[1], -1, 1)) if lags >= 1 else 0.0
        # u(mean)^2 = s^2/n [1 + 2 sum (1 - k/n) rho_k], once with the measured correlations in
        # pairs as long as a pair is positive, once with those of a first-order autoregression.
        total, lag = 0.0, 1
        while lag <= lags:
            pair = acf[lag : lag + 2]
            if pair.sum() <= 0:
                break
            total += sum((1 - (lag + i) / self.n) * rho for i, rho in enumerate(pair))
            lag += 2
        rho = min(self.lag1 + (1 + 3 * self.lag1) / self.n, 0.98)
        k = np.arange(1, self.n)
        regression = 1 + 2 * float(((1 - k / self.n) * np.sign(rho) ** k * abs(rho) ** k).sum())
        self.inflation = max(1 + 2 * total, regression, 1.0)

    def n_eff(self, n):
        return max(n / self.inflation, 1.0)

    def u_mean(self, n):
        return self.sd / math.sqrt(self.n_eff(n))


# ---------------------------------------------------------------- cells


class Cell:
    def __init__(self):
        self.windows, self.runs = [], []

    def add(self, window):
        self.windows.append(window)
        last = self.runs[-1] if self.runs else None
        if last and last["visit"] == window["visit"] and last["to_s"] == window["from_s"]:
            last["device"] = np.concatenate([last["device"], window["device"]])
            last["reference"] = np.concatenate([last["reference"], window["reference"]])
            last["to_s"] = window["to_s"]
        else:
            names = ("visit", "to_s", "device", "reference")
            self.runs.append({name: window[name] for name in names})

    def takes(self, window):
        step = self.windows[0]["step"]
        if abs(step["target"] - window["step"]["target"]) >= 0.5:
            return False
        if (step["feeds"] == "Drift") != (window["step"]["feeds"] == "Drift"):
            return False
        if step["cadence"] is not None and window["step"]["cadence"] is not None:
            if abs(step["cadence"] - window["step"]["cadence"]) > 1e-6:
                return False
        speed = self.mean_of("speed")
        if speed is None or window["speed"] is None:
            return speed is None and window["speed"] is None
        return abs(speed - window["speed"]) <= max(2.0, 0.08 * max(speed, window["speed"]))

    def mean_of(self, name):
        known = [w for w in self.windows if w[name] is not None]
        weights = [len(w["device"]) for w in known]
        return np.average([w[name] for w in known], weights=weights) if known else None

    def finish(self):
        self.device = np.concatenate([run["device"] for run in self.runs])
        self.reference = np.concatenate([run["reference"] for run in self.runs])
        self.n = len(self.device)
        self.visits = sorted({run["visit"] for run in self.runs})
        ratios = {}
        for visit in self.visits:
            runs = [run for run in self.runs if run["visit"] == visit]
            device, reference = (sum(r[name].sum() for r in runs) for name in ("device", "reference"))
            ratios[visit] = device / reference
        self.noise = Noise(
            [run["device"] - ratios[run["visit"]] * run["reference"] for run in self.runs]
        )
        self.level = self.windows[0]["step"]["target"]
        self.indicated = self.reference.mean()

    def between_visits(self):
        """Variance between the visits' differences, what scatter within explains, and dof."""
        if len(self.visits) < 2:
            return None
        differences, explained = [], []
        for visit in self.visits:
            runs = [run for run in self.runs if run["visit"] == visit]
            device = sum(run["device"].sum() for run in runs)
            reference = sum(run["reference"].sum() for run in runs)
            n = sum(len(run["device"]) for run in runs)
            differences.append(100 * (device / reference - 1))
            explained.append((100 * self.noise.u_mean(n) / self.indicated) ** 2)
        return np.var(differences, ddof=1), np.mean(explained), len(self.visits) - 1


def cells_of(windows):
    cells = []
    for window in windows:
        cell = next((cell for cell in cells if cell.takes(window)), None)
        if cell is None:
            cell = Cell()
            cells.append(cell)
        cell.add(window)
        window["cell"] = cell
    for cell in cells:
        cell.finish()
    return cells


def half_width(entry):
    return abs(entry["half_width"]) / SQRT3


class Drivetrain:
    """Loss between crank and hub: the larger of an efficiency and a constant with a share."""

    def __init__(self, settings):
        self.given = settings["drivetrain"]

    def share(self, crank_w):
        if crank_w <= 0:
            return self.given["efficiency"]
        usual = (1 - self.given["efficiency"]) * crank_w
        low = self.given["constant_loss_w"] + self.given["proportional_loss"] * crank_w
        return max(1 - max(usual, low) / crank_w, 0.1)

    def u_pct(self, crank_w):
        usual = (1 - self.given["efficiency"]) * crank_w
        low = self.given["constant_loss_w"] + self.given["proportional_loss"] * crank_w
        constant = (
            half_width(self.given["constant_half_width_w"]) / crank_w if low > usual > 0 else 0
        )
        proportional = half_width(self.given["efficiency_half_width"])
        return 100 * math.hypot(proportional, constant) / self.share(crank_w)


def treatments(device, reference):
    behind = device["place"] == "hub" and reference["place"] != "hub"
    return ["hub_referred", "as_indicated"] if behind else ["as_indicated"]


def judge(session, cells):
    """Every cell in every treatment, the deciding one first, with the names of the JSON."""
    settings = session.settings
    device, reference = session.of_role("under-test"), session.of_role("reference")
    drivetrain = Drivetrain(settings)
    assumed = half_width(settings["reference"]["repeat_pct"])
    groups = [found for cell in cells if (found := cell.between_visits())]
    repeat = None
    if groups:
        dof = sum(group[2] for group in groups)
        excess = max(sum((g[0] - g[1]) * g[2] for g in groups), 0.0)
        repeat = math.sqrt((excess + 2 * assumed**2) / (dof + 2)), dof + 2.0
    judged = []
    for treatment in treatments(device, reference):
        for cell in cells:
            judged.append(
                judge_cell(settings, drivetrain, device, reference, cell, treatment, repeat)
            )
    return judged, drivetrain


def judge_cell(settings, drivetrain, device, reference, cell, treatment, repeat):
    known = settings["reference"]
    indicated = cell.indicated
    share = drivetrain.share(indicated) if treatment == "hub_referred" else 1.0
    reference_w, device_w = indicated * share, cell.device.mean()
    n_eff = cell.noise.n_eff(cell.n)
    u_a = 100 * cell.noise.u_mean(cell.n) / reference_w
    cadence = cell.mean_of("cadence")
    omega = 2 * math.pi / 60 * (90.0 if cadence is None else cadence)
    inf = math.inf
    if known["slope"]["_"] != "Claimed":
        raise SystemExit("cross_check: only a claimed slope of the reference is handled here")
    terms = [
        ("reference slope", half_width(known["slope"]), inf),
        ("reference zero", 100 * half_width(known["zero_change_nm"]) * omega / indicated, inf),
        ("reference temperature", half_width(known["temperature_pct"]), inf),
    ]
    if reference["place"] != "hub":
        terms.append(
            ("uniform cadence within a turn", half_width(known["uniform_cadence_pct"]), inf)
        )
    if reference["place"] == "one-side":
        terms.append(("left and right split", half_width(known["one_side_pct"]), inf))
    if treatment == "hub_referred":
        terms.append(("drivetrain", drivetrain.u_pct(indicated), inf))
    terms.append(("scatter of the mean (type A)", u_a, max(n_eff - 1, 1.0)))
    if repeat:
        terms.append(("repeat to repeat", repeat[0] / math.sqrt(len(cell.visits)), repeat[1]))
    else:
        terms.append(("repeat to repeat", half_width(known["repeat_pct"]), inf))
    closure = cell.mean_of("closure")
    if closure is not None:
        terms.append(
            ("flywheel energy not closed", 100 * abs(closure) / reference_w / SQRT3, inf)
        )
    resolution = 1 / math.sqrt(12)
    if cell.device.std(ddof=1) > 0.5:
        resolution /= math.sqrt(n_eff)
    terms.append(("resolution", 100 * resolution / reference_w, inf))

    u = math.sqrt(sum(term[1] ** 2 for term in terms))
    fourth = sum(term[1] ** 4 / term[2] for term in terms)
    dof = u**4 / fourth if fourth > 0 else inf
    # From a million degrees of freedom on, the program takes the normal distribution.
    student = stats.t(dof) if dof < 1e6 else stats.norm
    k = student.ppf(0.975)
    bias = 100 * (device_w - reference_w) / reference_w
    tolerance = 2.0  # crates/analysis/src/claim/power.rs: +-2 % is assumed where no claim is given
    if settings["claims"]:
        raise SystemExit("cross_check: claim sheets are not handled here")
    return {
        "treatment": treatment,
        "cell": cell,
        "budget": terms,
        "level_w": cell.level,
        "windows": len(cell.windows),
        "visits": len(cell.visits),
        "seconds": cell.n,
        "cadence_rpm": cadence,
        "speed_kmh": cell.mean_of("speed"),
        "reference_w": reference_w,
        "under_test_w": device_w,
        "bias_w": device_w - reference_w,
        "bias_pct": bias,
        "n_eff": n_eff,
        "u_a_pct": u_a,
        "u_pct": u,
        "dof": dof,
        "k": k,
        "expanded_pct": k * u,
        "tolerance_pct": tolerance,
        "capability": tolerance / (k * u),
        "p_conform": student.cdf((tolerance - bias) / u) - student.cdf((-tolerance - bias) / u),
    }


def overall_bias(settings, judged):
    """Mean over the cells of the deciding treatment that have enough windows, weighted by time."""
    deciding = judged[0]["treatment"]
    least = settings["decision"]["min_windows"]
    kept = [c for c in judged if c["treatment"] == deciding and c["windows"] >= least]
    share = np.array([c["seconds"] for c in kept], float)
    share /= share.sum()
    u_a, u = (np.array([c[name] for c in kept]) for name in ("u_a_pct", "u_pct"))
    common = share @ np.sqrt(np.maximum(u**2 - u_a**2, 0))
    return {
        "value": share @ np.array([c["bias_pct"] for c in kept]),
        "u": math.hypot(np.linalg.norm(share * u_a), common),
        "dof": min(c["dof"] for c in kept),
    }
