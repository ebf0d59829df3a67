"""The examinations, recomputed from the decoded streams.

Each function takes what recording.py and steady.py give and answers with plain numbers. Exact
intervals come from scipy's beta and chi-square quantiles, the nested analysis of variance from
statsmodels, the line with errors in both variables from scipy's Levenberg-Marquardt with the true
abscissas as unknowns, the lag from scipy's interpolating splines: none of them the method of the
program.
"""

import math

import numpy as np
import pandas as pd
import statsmodels.formula.api as smf
from scipy import interpolate, optimize, stats
from statsmodels.stats.anova import anova_lm
from statsmodels.tsa.stattools import acf

from recording import SECOND_NS

# ---------------------------------------------------------------- radio and drop-outs


def radio(source):
    """Intervals within one link, quantiles between order statistics, packets missing."""
    frame = pd.DataFrame({"at": source["at"], "epoch": source["epochs"]})
    intervals = frame.groupby("epoch")["at"].diff().dropna() / SECOND_NS
    median = intervals.median()
    long = intervals[intervals > 1.6 * median]
    missing = int((np.floor(long / median + 0.5) - 1).sum())
    expected = len(intervals) + missing
    return {
        "packets": len(frame),
        "links": frame["epoch"].nunique(),
        "median_s": median,
        "p95_s": intervals.quantile(0.95),
        "p99_s": intervals.quantile(0.99),
        "longest_s": intervals.max(),
        "rate_hz": len(intervals) / intervals.sum(),
        "missing": missing,
        "loss": missing / expected,
        "loss_interval": [
            stats.beta.ppf(0.025, missing, expected - missing + 1) if missing else 0.0,
            stats.beta.ppf(0.975, missing + 1, expected - missing) if missing < expected else 1.0,
        ],
    }


def runs_of(series, same_as_before):
    """Runs of samples without a gap: beginning, end of hold, first value."""
    starts = np.flatnonzero(np.append(True, ~same_as_before | series.gap_after()[:-1]))
    ends = np.append(starts[1:], len(series.v)) - 1
    return series.t[starts], series.until[ends], series.v[starts]


def dropouts(session, device, reference):
    """Missing packets, zeros under load, coasting and frozen values (analysis/src/dropout/)."""
    rule = session.settings["dropout"]
    power, other = device["power"], reference["power"]
    cadence = reference["cadence"] if len(reference["cadence"].t) else device["cadence"]
    found = []

    def lost_kj(start, stop, shown_w):
        mean, covered = other.means([start], [stop])
        lost = 0.0 if not covered[0] else (mean[0] - shown_w) * covered[0] / SECOND_NS / 1000
        return max(lost, 0.0)

    def second_mean(series, first, last):
        index = np.arange(first, last) * SECOND_NS
        return series.means(index, index + SECOND_NS)[0]

    def works(first, last):
        """Whether the reference shows work in each second; not a number where it says nothing."""
        watts, rpm = second_mean(other, first, last), second_mean(cadence, first, last)
        shown = (watts > rule["work_above_w"]) & ~(rpm <= rule["pedalling_above_rpm"])
        return np.where(np.isnan(watts), np.nan, shown)

    usual = int(np.sort(np.diff(power.t))[(len(power.t) - 1) // 2])
    following = np.append(power.t[1:], session.end_ns)
    gap = np.append(power.gap_after()[:-1], power.t[-1] + 2.5 * SECOND_NS < session.end_ns)
    arrivals = device["at_aligned"]
    for index in np.flatnonzero(gap):
        stop = int(following[index])
        start = min(int(power.t[index]) + usual, stop)
        before, after = (
            device["epochs"][np.searchsorted(arrivals, t, "right") - 1]
            for t in (power.t[index], stop)
        )
        kind = (
            "reconnection" if before != after and index + 1 < len(power.t) else "missing_packets"
        )
        found.append((kind, start, stop, lost_kj(start, stop, 0.0)))

    zero = power.v <= 0
    for start, stop, value in zip(*runs_of(power, zero[1:] == zero[:-1])):
        if value > 0:
            continue
        first, last = start // SECOND_NS, stop // SECOND_NS
        around = works(first - 2, last + 3)
        known = around[~np.isnan(around)]
        if len(known) and known.all():
            found.append(("zero_under_load", start, stop, lost_kj(start, stop, 0.0)))
            continue
        inner = np.nan_to_num(works(first + 2, last - 1)) > 0
        edges = np.flatnonzero(np.diff(np.concatenate([[0], inner, [0]])))
        pieces = [(first + 2 + a, first + 2 + b) for a, b in edges.reshape(-1, 2) if b - a >= 2]
        for a, b in pieces:
            a, b = a * SECOND_NS, b * SECOND_NS
            found.append(("zero_under_load", a, b, lost_kj(a, b, 0.0)))
        if not pieces and stop - start >= 2 * SECOND_NS:
            found.append(("coasting", start, stop, 0.0))

    starts, stops, values = runs_of(power, power.v[1:] == power.v[:-1])
    lengths = (stops - starts) / SECOND_NS
    lasting = np.sort(lengths[values > 0])
    usual_s = lasting[(len(lasting) - 1) * 95 // 100]
    at = np.array([target[0] for target in session.targets])
    targets = np.array([np.nan if t[1] is None else t[1] for t in session.targets], float)
    for start, stop, value in zip(starts, stops, values):
        run_s = (stop - start) / SECOND_NS
        if value <= 0 or run_s < rule["frozen_after_s"]:
            continue
        asked = np.arange(start // SECOND_NS, stop // SECOND_NS + 1) * SECOND_NS
        place = np.searchsorted(at, asked, "right") - 1
        if (np.abs(targets[place[place >= 0]] - value) <= 0.5).any():
            continue
        means = second_mean(other, start // SECOND_NS, stop // SECOND_NS)
        means = means[~np.isnan(means)]
        if len(means) < 3:
            continue
        moved = np.ptp(np.convolve(means, np.ones(3) / 3, "valid"))
        change = max(rule["frozen_change_w"], rule["frozen_change_pct"] / 100 * means.mean())
        if run_s < 4 * usual_s:
            needed = 3 * change if usual_s >= rule["frozen_after_s"] / 2 else change
        else:
            needed = 2.0
        if means.mean() > rule["work_above_w"] and moved >= needed:
            found.append(("frozen", start, stop, lost_kj(start, stop, value)))
    return sorted(found, key=lambda dropout: dropout[1])


def poisson_interval(count):
    low = stats.chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    return low, stats.chi2.ppf(0.975, 2 * count + 2) / 2


# ---------------------------------------------------------------- work and best means


def energy(device, reference):
    """Work over the seconds both cover, and the ratio with its leave-one-block-out uncertainty."""
    a, b = reference.extent(), device.extent()
    begin, end = max(a[0], b[0]), min(a[1], b[1])
    at = begin + np.arange((end - begin) // SECOND_NS) * SECOND_NS
    pair = np.column_stack([s.mean(at, at + SECOND_NS, 0.8) for s in (reference, device)])
    pair = pair[~np.isnan(pair).any(axis=1)]
    return {
        "work_kj": pair.sum(axis=0) / 1000,
        "ratio": jackknife(pair),
        "ratio_without_zeros": jackknife(pair[(pair > 0).all(axis=1)]),
    }


def jackknife(pair):
    size = -(-len(pair) // 20)
    blocks = np.add.reduceat(pair, np.arange(0, len(pair), size))
    total = blocks.sum(axis=0)
    left = total - blocks
    n = len(blocks)
    u = math.sqrt((n - 1) * np.var(left[:, 1] / left[:, 0]))
    return total[1] / total[0], u, n - 1


def best_means(device, reference, faults):
    """The reference's best mean per duration among the moments without a fault, and the device over
    the same moments."""
    a, b = reference.extent(), device.extent()
    begin, end = max(a[0], b[0]), min(a[1], b[1])
    at = begin + np.arange((end - begin) // SECOND_NS + 1) * SECOND_NS
    found = {}
    for duration in (1, 3, 5, 10, 30, 60, 300, 600, 1200):
        if len(at) <= duration:
            continue
        start, stop = at[:-duration], at[duration:]
        means = reference.mean(start, stop, 0.95)
        shown = device.mean(start, stop, 0.95)
        means[np.isnan(shown)] = np.nan
        for _, f, t, _ in faults:
            means[(f < stop) & (start < t)] = np.nan
        if np.isnan(means).all():
            continue
        best = np.nanargmax(means)
        found[duration] = means[best], shown[best]
    return found


# ---------------------------------------------------------------- instruments against each other


def comparisons(windows):
    kept = [w for w in windows if w["step"]["feeds"] in ("Steady", "Cadence", "FlywheelSpeed")]
    from_ns = np.array([w["from_s"] for w in kept]) * SECOND_NS
    to_ns = np.array([w["to_s"] for w in kept]) * SECOND_NS
    return kept, from_ns, to_ns


def nested(values, groups):
    """Mean, its standard error, dof, spread and error of a limit, from pairs nested in groups
    (Bland and Altman 2007, section 3; the mean squares by statsmodels)."""
    frame = pd.DataFrame({"d": values, "g": groups})
    frame["d"] -= values[0]
    table = anova_lm(smf.ols("d ~ C(g)", frame).fit())
    (dof_b, dof_w), (ms_b, ms_w) = table["df"], table["mean_sq"]
    n = len(frame)
    sizes = frame.groupby("g").size()
    per_group = (n - (sizes**2).sum() / n) / dof_b
    between = max((ms_b - ms_w) / per_group, 0.0)
    sd = math.sqrt(between + ms_w)
    if between > 0:
        se, dof = math.sqrt(ms_b / n), dof_b
        total = 2 * (ms_b / per_group) ** 2 / dof_b
        total += 2 * (ms_w * (1 - 1 / per_group)) ** 2 / dof_w
        of_sd = total / (4 * sd * sd)
    else:
        total = frame["d"].var(ddof=0) * n / (n - 1)
        se, dof, of_sd = math.sqrt(total / n), n - 1, total / (2 * (n - 1))
    mean = values[0] + frame["d"].mean()
    return {
        "mean": mean,
        "se": se,
        "dof": dof,
        "sd": sd,
        "se_limit": math.hypot(se, 1.96 * math.sqrt(of_sd)),
        "within": math.sqrt(ms_w),
    }


def consistency(session, windows, streams, efficiency):
    """Pairs of instruments over the steady windows: difference, its uncertainty, E_n."""
    kept, from_ns, to_ns = comparisons(windows)
    visits = np.array([w["visit"] for w in kept])
    slopes = {
        "reference": session.settings["reference"]["slope"],
        "second-reference": session.settings["second_reference"],
    }
    expanded = {role: 2 * slope["half_width"] / math.sqrt(3) for role, slope in slopes.items()}
    order = [
        s
        for role in ("reference", "second-reference", "under-test")
        for s in streams
        if s["role"] == role
    ]
    found = []
    for i, a in enumerate(order):
        for b in order[i + 1 :]:
            factor, relative = [1.0, 1.0], 0.0
            for side, (one, two) in enumerate(((a, b), (b, a))):
                if one["place"] != "hub" and two["place"] == "hub":
                    factor[side], relative = efficiency[0], 200 * efficiency[1] / efficiency[0]
            first = factor[0] * a["power"].mean(from_ns, to_ns, 0.9)
            second = factor[1] * b["power"].mean(from_ns, to_ns, 0.9)
            good = first > 5
            difference = 100 * (second[good] / first[good] - 1)
            if good.sum() < 4:
                continue
            result = nested(difference, visits[good])
            e_n = None
            if a["role"] in expanded and b["role"] in expanded:
                total = math.hypot(
                    expanded[a["role"]], expanded[b["role"]], relative, 2 * result["se"]
                )
                e_n = abs(result["mean"]) / total
            found.append((a["name"], b["name"], result["mean"], result["se"], e_n))
    return found


def apportioning(windows, streams, efficiency):
    """Own noise of three instruments from the variances of their differences (three-cornered hat)."""
    order = [
        next((s for s in streams if s["role"] == role), None)
        for role in ("under-test", "reference", "second-reference")
    ]
    if None in order:
        return None
    behind = any(s["place"] == "hub" for s in order)
    sides = [efficiency[0] if behind and s["place"] != "hub" else 1.0 for s in order]
    rows = []
    for block, window in enumerate(comparisons(windows)[0]):
        begin = (
            window["from_s"] * SECOND_NS
            + np.arange((window["to_s"] - window["from_s"]) // 10) * 10 * SECOND_NS
        )
        table = np.column_stack(
            [
                side * s["power"].mean(begin, begin + 10 * SECOND_NS, 0.9)
                for side, s in zip(sides, order)
            ]
        )
        table = table[~np.isnan(table).any(axis=1)]
        if len(table) > 1:
            rows += [(block, *row) for row in table]
    frame = pd.DataFrame(rows, columns=["block", 0, 1, 2])
    if frame["block"].nunique() < 4 or len(frame) < 24:
        return None
    means = frame.groupby("block").mean()
    departures = frame[[0, 1, 2]] - means.loc[frame["block"]].to_numpy()

    def hat(kept):
        d = departures[kept]
        freedom = kept.sum() - frame["block"][kept].nunique()
        var = {(i, j): ((d[i] - d[j]) ** 2).sum() / freedom for i, j in ((0, 1), (0, 2), (1, 2))}
        return np.array(
            [
                (var[0, 1] + var[0, 2] - var[1, 2]) / 2,
                (var[0, 1] + var[1, 2] - var[0, 2]) / 2,
                (var[0, 2] + var[1, 2] - var[0, 1]) / 2,
            ]
        )

    variances = hat(frame["block"] >= 0)
    blocks = means.index
    each = np.array([hat(frame["block"] != block) for block in blocks])
    n = len(blocks)
    reach = stats.t.ppf(0.975, n - 1) * np.sqrt((n - 1) * each.var(axis=0))
    middle = means.median(axis=1)
    bias = 100 * (means.div(middle, axis=0) - 1)
    return [
        {
            "source": s["name"],
            "noise_w": math.sqrt(max(variances[i], 0)),
            "noise_interval_w": [
                math.sqrt(max(variances[i] + sign * reach[i], 0)) for sign in (-1, 1)
            ],
            "bias_pct": bias[i].mean(),
            "bias_u_pct": bias[i].sem(),
        }
        for i, s in enumerate(order)
    ]


def agreement(windows):
    """Window means, nested in steps, as indicated."""
    kept = comparisons(windows)[0]
    error = np.array([100 * (w["device"].mean() / w["reference"].mean() - 1) for w in kept])
    if len(kept) < 6:
        return None
    found = nested(error, [w["visit"] for w in kept])
    k = stats.t.ppf(0.975, found["dof"])
    limits = [found["mean"] + sign * 1.96 * found["sd"] for sign in (-1, 1)]
    tolerance = 2.0
    perfect = stats.norm.cdf(tolerance / found["within"]) - stats.norm.cdf(
        -tolerance / found["within"]
    )
    return {
        "bias": found["mean"],
        "u": found["se"],
        "sd_pct": found["sd"],
        "bias_interval_pct": [found["mean"] + sign * k * found["se"] for sign in (-1, 1)],
        "limits_pct": limits,
        "lower_interval_pct": [limits[0] + sign * k * found["se_limit"] for sign in (-1, 1)],
        "upper_interval_pct": [limits[1] + sign * k * found["se_limit"] for sign in (-1, 1)],
        "share_within": float((np.abs(error) <= tolerance).mean()),
        "share_within_perfect": perfect,
        "windows": len(kept),
        "conditions": len({w["visit"] for w in kept}),
    }


def level(windows):
    """Offset and scale by least squares with errors in both instruments, through the levels."""
    frame = pd.DataFrame(
        [
            {
                "visit": w["visit"],
                "level": w["step"]["target"],
                "device": w["device"].mean(),
                "reference": w["reference"].mean(),
                "u": 100
                * w["cell"].noise.u_mean(len(w["device"]))
                / w["reference"].mean(),
            }
            for w in comparisons(windows)[0]
        ]
    )
    frame["error"] = 100 * (frame["device"] / frame["reference"] - 1)
    groups = frame.groupby("visit")
    visits = groups[["level", "device", "reference"]].mean()
    visits["error"] = 100 * (visits["device"] / visits["reference"] - 1)
    n = groups.size()
    stated = groups["u"].agg(lambda u: (u**2).mean()) / n
    scattered = (groups["error"].var(ddof=0) / (n - 1)).where(n > 1, 0.0)
    visits["variance"] = np.maximum(stated, scattered)
    levels = visits.groupby("level")
    means = levels[["device", "reference"]].mean()
    if len(means) < 3 or means["reference"].iloc[-1] < 1.5 * means["reference"].iloc[0]:
        return None
    count = levels.size()
    own = levels["variance"].mean() / count
    between = (levels["error"].var(ddof=0) / (count - 1)).where(count > 1, 0.0)
    u = np.sqrt(np.maximum(own, between)) / 100 * means["reference"]
    u = np.maximum(u, 0.29 / np.sqrt(count)) / math.sqrt(2)
    x, y, u = (np.asarray(column, float) for column in (means["reference"], means["device"], u))

    # Unknowns: slope, intercept and the true abscissa of every level, all by least squares.
    def residuals(unknown):
        slope, intercept, true = unknown[0], unknown[1], unknown[2:]
        return np.concatenate([(x - true) / u, (y - intercept - slope * true) / u])

    def jacobian(unknown):
        slope, true, size = unknown[0], unknown[2:], len(x)
        table = np.zeros((2 * size, size + 2))
        table[:size, 2:] = np.diag(-1 / u)
        table[size:, 0], table[size:, 1] = -true / u, -1 / u
        table[size:, 2:] = np.diag(-slope / u)
        return table

    fit = optimize.least_squares(
        residuals,
        np.concatenate([[1.0, 0.0], x]),
        jacobian,
        method="lm",
        xtol=1e-15,
        ftol=1e-15,
        gtol=1e-15,
    )
    spread = np.sqrt(np.diag(np.linalg.inv(fit.jac.T @ fit.jac)))[:2]
    reduced = 2 * fit.cost / (len(means) - 2)
    spread = spread * math.sqrt(max(reduced, 1.0))
    dof = len(means) - 2 if reduced > 1 else max(len(frame) - 2, len(means) - 2)
    k = stats.t.ppf(0.975, dof)
    offset, scale = fit.x[1], 100 * (fit.x[0] - 1)
    return {
        "offset": (offset, spread[1]),
        "scale": (scale, 100 * spread[0]),
        "offset_interval_w": [offset + sign * k * spread[1] for sign in (-1, 1)],
        "scale_interval_pct": [scale + sign * k * 100 * spread[0] for sign in (-1, 1)],
    }


def holds(session, device, reference, faults):
    """Scatter of the one-second means in every hold."""
    found = []
    for step in session.steps:
        if (
            step["feeds"] not in ("Steady", "Drift", "Cadence", "FlywheelSpeed")
            or not step["target"]
        ):
            continue
        begin = step["from"] + round(step["settle"] * SECOND_NS)
        at = begin + np.arange((step["to"] - begin) // SECOND_NS) * SECOND_NS
        free = np.ones(len(at), bool)
        for _, start, stop, _ in faults:
            free &= ~((start < at + SECOND_NS) & (at < stop))
        pair = pd.DataFrame(
            {
                "reference": reference.mean(at, at + SECOND_NS, 0.8),
                "device": device.mean(at, at + SECOND_NS, 0.8),
            }
        )[free].dropna()
        if len(pair) < max(45, 0.8 * (step["to"] - begin) / SECOND_NS):
            continue
        rho = float(np.clip(acf(pair["reference"], nlags=1, fft=False)[1], -0.99, 0.99)) ** 2
        n_eff = max(len(pair) * (1 - rho) / (1 + rho), 3.0)
        sd = pair["reference"].std()
        found.append(
            {
                "from_s": begin / SECOND_NS,
                "reference_w": pair["reference"].mean(),
                "sd": sd,
                "u": sd / math.sqrt(2 * (n_eff - 1)),
                "under_test_sd_w": pair["device"].std(),
            }
        )
    return found


# ---------------------------------------------------------------- alignment


def half_seconds(series, grid):
    """Means over a second around every half second of the straight lines between samples, smoothed
    by 1-4-6-4-1; not a number within reach of a gap or of a zero."""
    t = (series.t - grid[0]) / SECOND_NS
    lines = interpolate.make_interp_spline(t, series.v, k=1).antiderivative()
    at = (grid - grid[0]) / SECOND_NS
    inside = (at - 0.5 >= t[0]) & (at + 0.5 <= t[-1])
    mean = np.full(len(at), np.nan)
    mean[inside] = lines(at[inside] + 0.5) - lines(at[inside] - 0.5)
    bad = series.gap_after() | (series.v <= 0)
    for index in np.flatnonzero(bad):
        stop = t[min(index + 1, len(t) - 1)]
        mean[(at > t[max(index - 1, 0)] - 0.5) & (at < stop + 0.5)] = np.nan
    kernel = np.array([1, 4, 6, 4, 1]) / 16
    return np.convolve(mean, kernel, "same")


def lag_s(stream, reference, near_s):
    """The shift at which the variance of stream - gain x reference is least, whole recording."""
    begin = min(stream.t[0], reference.t[0]) // (SECOND_NS // 2) * (SECOND_NS // 2)
    end = max(stream.t[-1], reference.t[-1])
    grid = np.arange(begin, end, SECOND_NS // 2)
    at = (grid - begin) / SECOND_NS
    a, b = half_seconds(reference, grid), half_seconds(stream, grid)
    known = ~np.isnan(a)
    curve = interpolate.CubicSpline(at[known], a[known])

    def variance(lag):
        moved = at - lag
        near = np.clip(np.round(moved / 0.5).astype(int), 0, len(at) - 1)
        good = (
            ~np.isnan(b)
            & known[near]
            & known[np.maximum(near - 2, 0)]
            & known[np.minimum(near + 2, len(at) - 1)]
        )
        x, y = curve(moved[good]), b[good]
        c = np.cov(x, y)
        return c[1, 1] - max(c[0, 1], 0) ** 2 / c[0, 0]

    coarse = np.arange(-near_s, near_s + 0.1, 0.25)
    best = coarse[np.argmin([variance(lag) for lag in coarse])]
    found = optimize.minimize_scalar(
        variance, bounds=(best - 0.4, best + 0.4), method="bounded", options={"xatol": 1e-6}
    )
    return found.x


def aligned(source, lag):
    """A stream moved onto the clock of the reference."""
    by = -int(math.floor(lag * SECOND_NS + 0.5))
    moved = dict(source)
    for name in ("power", "cadence", "speed"):
        series = source[name]
        moved[name] = series.shifted(by) if len(series.t) else series
    moved["at_aligned"] = source["at"] + by
    return moved
