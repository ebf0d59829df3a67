//! Agreement of window means: difference plot, limits, probability of agreement, distribution.

use super::given::{SteadyWindow, Tolerance};
use super::prepared::Prepared;
use super::visits::{is_comparison, same_level};
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Plot, Tested, not_tested};
use crate::stats::intervals::interval_95;
use crate::stats::limits::{Limits, NestedLimits, from_nested, from_pairs};
use crate::stats::normal::{normal_probability, normal_quantile};
use crate::stats::order::exceeds;

/// Name of the examination.
pub const NAME: &str = "agreement";

/// Agreement of window means with the reference.
#[derive(Clone, Debug, PartialEq)]
pub struct Agreement {
    /// Mean difference, % of reference, windows nested in conditions.
    pub bias_pct: Estimate,
    /// 95 % interval of the mean difference.
    pub bias_interval_pct: [f64; 2],
    /// Standard deviation of single windows about the mean difference, %.
    pub sd_pct: f64,
    /// Limits of agreement (95 %), %.
    pub limits_pct: [f64; 2],
    /// 95 % interval of the lower limit.
    pub lower_interval_pct: [f64; 2],
    /// 95 % interval of the upper limit.
    pub upper_interval_pct: [f64; 2],
    /// Standard deviation within conditions, %.
    pub within_pct: f64,
    /// Standard deviation between conditions, %.
    pub between_pct: f64,
    /// Chance that a window agrees within the tolerance, by level; empty without a tolerance.
    pub probability: Vec<ProbabilityPoint>,
    /// Share of windows within the tolerance, if there is one.
    pub share_within: Option<f64>,
    /// Share that a perfect device with the same noise would have within the tolerance.
    pub share_within_perfect: Option<f64>,
    /// Windows.
    pub windows: usize,
    /// Conditions.
    pub conditions: usize,
}

/// Chance of agreement at one level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProbabilityPoint {
    /// Level, W.
    pub level_w: f64,
    /// Chance that a window mean lies within the tolerance.
    pub probability: f64,
    /// 95 % interval of it.
    pub interval: [f64; 2],
}

/// Fewest windows that make limits.
const LEAST_WINDOWS: usize = 6;

/// Examines the agreement of window means; the windows of one step or plateau are one condition.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn agreement(given: &Prepared<'_>) -> Outcome<Agreement> {
    let windows: Vec<&SteadyWindow> = given
        .windows
        .iter()
        .filter(|window| {
            is_comparison(given.feeds_of(window))
                && window.reference_w > 5.0
                && window.error_pct().is_finite()
        })
        .collect();
    if windows.len() < LEAST_WINDOWS {
        return not_tested(
            NAME,
            format!(
                "{} steady windows; ride at least three minutes of steady levels",
                windows.len()
            ),
        );
    }
    let conditions: Vec<Vec<f64>> = windows
        .chunk_by(|a, b| a.step == b.step && same_level(a.level_w, b.level_w))
        .map(|run| run.iter().map(|window| window.error_pct()).collect())
        .collect();
    let Some(nested) = nested(&conditions) else {
        return not_tested(NAME, "the windows do not hold numbers that can be compared");
    };
    let limits = nested.limits;
    let bias_pct = Estimate {
        value: limits.bias,
        u: limits.se_bias,
        dof: limits.dof,
    };
    let about = |value: f64| {
        interval_95(Estimate {
            value,
            u: limits.se_limit,
            dof: limits.dof,
        })
    };
    let limits_pct = limits.limits();
    let tolerance = given.bench.tolerance;
    let inside = |window: &SteadyWindow| {
        let half = tolerance?.half_width_pct(window.reference_w)?;
        Some(window.error_pct().abs() <= half)
    };
    let judged: Vec<bool> = windows.iter().filter_map(|window| inside(window)).collect();
    let share = |hits: f64| (!judged.is_empty()).then(|| hits / judged.len() as f64);
    let perfect: f64 = windows
        .iter()
        .filter_map(|window| tolerance?.half_width_pct(window.reference_w))
        .map(|half| probability(0.0, nested.within, half))
        .sum();
    let result = Agreement {
        bias_pct,
        bias_interval_pct: interval_95(bias_pct),
        sd_pct: limits.sd,
        limits_pct,
        lower_interval_pct: about(limits_pct[0]),
        upper_interval_pct: about(limits_pct[1]),
        within_pct: nested.within,
        between_pct: nested.between,
        probability: tolerance.map_or(Vec::new(), |tolerance| {
            probabilities(&windows, tolerance, nested.within)
        }),
        share_within: share(judged.iter().filter(|within| **within).count() as f64),
        share_within_perfect: share(perfect),
        windows: windows.len(),
        conditions: conditions.len(),
    };
    let sentence = sentence(&result);
    let plots = plots(&windows, &result, tolerance);
    Ok(given.as_indicated(Tested {
        result,
        sentence,
        plots,
    }))
}

/// Nested limits; plain ones where every condition has one window.
fn nested(conditions: &[Vec<f64>]) -> Option<NestedLimits> {
    from_nested(conditions).or_else(|| {
        let all: Vec<f64> = conditions.iter().flatten().copied().collect();
        let limits: Limits = from_pairs(&all)?;
        Some(NestedLimits {
            limits,
            between: 0.0,
            within: limits.sd,
        })
    })
}

/// Chance that a normal value with this mean and standard deviation lies within ±half.
fn probability(mean: f64, sd: f64, half: f64) -> f64 {
    if !exceeds(sd, 0.0) {
        return f64::from(u8::from(mean.abs() <= half));
    }
    (normal_probability((half - mean) / sd) - normal_probability((-half - mean) / sd))
        .clamp(0.0, 1.0)
}

/// Chance of agreement per level, after Stevens, Steiner and MacKay; interval by propagating the
/// uncertainties of mean and standard deviation.
fn probabilities(
    windows: &[&SteadyWindow],
    tolerance: Tolerance,
    within: f64,
) -> Vec<ProbabilityPoint> {
    let mut sorted: Vec<&SteadyWindow> = windows.to_vec();
    sorted.sort_by(|a, b| a.level_w.total_cmp(&b.level_w));
    let dof = (windows.len() as f64 - 1.0).max(1.0);
    sorted
        .chunk_by(|a, b| same_level(a.level_w, b.level_w))
        .filter_map(|level| {
            let n = level.len() as f64;
            let mean = level.iter().map(|w| w.error_pct()).sum::<f64>() / n;
            let level_w = level.iter().map(|w| w.reference_w).sum::<f64>() / n;
            let half = tolerance.half_width_pct(level_w)?;
            let at = |mean: f64, sd: f64| probability(mean, sd, half);
            let (u_mean, u_sd) = (within / n.sqrt(), within / (2.0 * dof).sqrt());
            let by_mean = at(mean + u_mean, within) - at(mean, within);
            let by_mean = by_mean
                .abs()
                .max((at(mean - u_mean, within) - at(mean, within)).abs());
            let by_sd = at(mean, within + u_sd) - at(mean, within);
            let reach = normal_quantile(0.975) * by_mean.hypot(by_sd);
            let p = at(mean, within);
            Some(ProbabilityPoint {
                level_w,
                probability: p,
                interval: [(p - reach).max(0.0), (p + reach).min(1.0)],
            })
        })
        .collect()
}

fn sentence(found: &Agreement) -> String {
    let shares = match (found.share_within, found.share_within_perfect) {
        (Some(share), Some(perfect)) => format!(
            "; {:.0} % of windows lie within the tolerance where a perfect device with this \
             noise would have {:.0} %",
            100.0 * share,
            100.0 * perfect
        ),
        _ => String::new(),
    };
    format!(
        "Window means differ by {} % on average ({}); 95 of 100 lie between {} and {} %{shares}.",
        words::signed(found.bias_pct.value, 2),
        words::interval(found.bias_interval_pct, 2, "%"),
        words::signed(found.limits_pct[0], 1),
        words::signed(found.limits_pct[1], 1)
    )
}

fn plots(windows: &[&SteadyWindow], found: &Agreement, tolerance: Option<Tolerance>) -> Vec<Plot> {
    let caption = format!(
        "{} windows in {} conditions; limits nested by condition",
        found.windows, found.conditions
    );
    let mut difference = vec![
        words::band(
            Ink::Uncertainty,
            "95 % interval of the mean",
            found.bias_interval_pct[0],
            found.bias_interval_pct[1],
        ),
        words::band(
            Ink::Uncertainty,
            "95 % interval of the lower limit",
            found.lower_interval_pct[0],
            found.lower_interval_pct[1],
        ),
        words::band(
            Ink::Uncertainty,
            "95 % interval of the upper limit",
            found.upper_interval_pct[0],
            found.upper_interval_pct[1],
        ),
        words::level(Ink::Reference, "no difference", 0.0),
        words::level(Ink::Fit, "mean difference", found.bias_pct.value),
        words::level(Ink::Fit, "lower limit", found.limits_pct[0]),
        words::level(Ink::Fit, "upper limit", found.limits_pct[1]),
    ];
    let span = windows.iter().fold([f64::MAX, f64::MIN], |[low, high], w| {
        [low.min(w.reference_w), high.max(w.reference_w)]
    });
    if let Some(tolerance) = tolerance {
        for (sign, label) in [(1.0, "upper tolerance"), (-1.0, "lower tolerance")] {
            let funnel = (0..=20)
                .map(|i| span[0] + (span[1] - span[0]) * f64::from(i) / 20.0)
                .filter_map(|w| Some([w, sign * tolerance.half_width_pct(w)?]))
                .collect();
            difference.push(words::line(Ink::Tolerance, label, funnel));
        }
    }
    let points = windows
        .iter()
        .map(|w| [w.reference_w, w.error_pct()])
        .collect();
    difference.push(words::points(Ink::UnderTest, "window means", points));
    let mut errors: Vec<f64> = windows.iter().map(|w| w.error_pct()).collect();
    errors.sort_by(f64::total_cmp);
    let n = errors.len() as f64;
    let stairs = errors
        .iter()
        .enumerate()
        .map(|(i, e)| [*e, (i + 1) as f64 / n])
        .collect();
    let reach = 3.0 * found.within_pct.max(1e-6);
    let perfect = (-20..=20)
        .map(|i| reach * f64::from(i) / 20.0)
        .map(|e| [e, normal_probability(e / found.within_pct.max(1e-6))])
        .collect();
    let mut plots = vec![
        words::plot(
            "difference-plot",
            "Difference against the reference",
            ["reference, W", "device minus reference, % of reference"],
            difference,
            caption.clone(),
        ),
        words::plot(
            "error-distribution",
            "Share of windows below a difference",
            ["device minus reference, % of reference", "share of windows"],
            vec![
                words::line(
                    Ink::Reference,
                    "perfect device with the same noise",
                    perfect,
                ),
                words::line(Ink::UnderTest, "device", stairs),
            ],
            caption.clone(),
        ),
    ];
    if !found.probability.is_empty() {
        plots.push(words::plot(
            "probability-of-agreement",
            "Chance that a window agrees within the tolerance",
            ["reference, W", "chance"],
            vec![
                words::level(Ink::Tolerance, "95 of 100", 0.95),
                words::intervals(
                    Ink::UnderTest,
                    "levels",
                    found
                        .probability
                        .iter()
                        .map(|p| [p.level_w, p.interval[0], p.probability, p.interval[1]])
                        .collect(),
                ),
            ],
            caption,
        ));
    }
    plots
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow};
    use super::*;
    use crate::evidence::Feeds;
    use crate::stats::intervals::excludes;

    fn windows(seed: u64, bias: f64, between: f64, within: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        session.bench.tolerance = Some(Tolerance {
            pct: 2.0,
            floor_w: 0.0,
        });
        for condition in 0..12 {
            let t = 200.0 * f64::from(condition);
            let level_w = 100.0 + 50.0 * f64::from(condition % 4);
            let step = session.step(Feeds::Steady, t, t + 180.0, level_w);
            let own = bias + between * noise.normal();
            for window in 0..5 {
                let error = own + within * noise.normal();
                session.window(TestWindow {
                    from_s: t + 30.0 * f64::from(window),
                    step,
                    level_w,
                    reference_w: level_w,
                    under_test_w: level_w * (1.0 + error / 100.0),
                    cadence_rpm: 90.0,
                    speed_kmh: 33.0,
                    u_pct: 0.4,
                });
            }
        }
        session
    }

    #[test]
    fn bias_and_limits_hold_the_truth() {
        let (mut biases, mut limits, mut lower_limits) = (0, 0, 0);
        for seed in 0..80 {
            let found = agreement(&windows(seed, 1.0, 0.8, 0.9).given())
                .unwrap()
                .result;
            assert_eq!((found.windows, found.conditions), (60, 12));
            biases += usize::from(!excludes(found.bias_interval_pct, 1.0));
            let sd = 0.8f64.hypot(0.9);
            limits += usize::from(!excludes(found.upper_interval_pct, 1.0 + 1.96 * sd));
            lower_limits += usize::from(!excludes(found.lower_interval_pct, 1.0 - 1.96 * sd));
        }
        assert!(
            biases >= 71 && limits >= 68 && lower_limits >= 68,
            "{biases} {limits} {lower_limits} of 80"
        );
    }

    #[test]
    fn a_perfect_device_agrees_as_often_as_its_noise_lets_it() {
        let found = agreement(&windows(3, 0.0, 0.0, 0.9).given())
            .unwrap()
            .result;
        let (share, perfect) = (
            found.share_within.unwrap(),
            found.share_within_perfect.unwrap(),
        );
        // ±2 % are 2.22 standard deviations: 97.4 %.
        assert!((perfect - 0.974).abs() < 0.025, "{perfect}");
        assert!((share - perfect).abs() < 0.06, "{share} {perfect}");
        assert_eq!(found.probability.len(), 4);
        assert!(
            found
                .probability
                .iter()
                .all(|p| p.interval[0] <= p.probability)
        );
    }

    #[test]
    fn few_windows_are_not_tested() {
        assert!(agreement(&Session::empty().given()).is_err());
        let mut session = windows(1, 0.0, 0.0, 0.0);
        assert_eq!(agreement(&session.given()).unwrap().result.sd_pct, 0.0);
        session.windows.truncate(3);
        assert!(agreement(&session.given()).is_err());
    }
}
