//! Offset and scale of the device, separated by a regression with errors in both variables.

use super::prepared::Prepared;
use super::visits::{VisitMean, same_level, same_motion, visits};
use super::words;
use crate::outcome::{Estimate, Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::{excludes, interval_95};
use crate::stats::york::{Line, UncertainPoint, york};

/// Name of the examination.
pub const NAME: &str = "dependence on level";

/// Offset and scale against the reference as indicated.
#[derive(Clone, Debug, PartialEq)]
pub struct LevelDependence {
    /// Indicated power of the device where the reference shows zero, W.
    pub offset_w: Estimate,
    /// 95 % interval of the offset.
    pub offset_interval_w: [f64; 2],
    /// Scale error, %: slope of device against reference minus one.
    pub scale_pct: Estimate,
    /// 95 % interval of the scale error.
    pub scale_interval_pct: [f64; 2],
    /// Correlation of the two; close to −1 when low levels were not ridden.
    pub correlation: f64,
    /// Weighted residual sum of squares over its degrees of freedom; near one for a straight line.
    pub reduced_chi_square: f64,
    /// Levels the line goes through.
    pub levels: Vec<LevelPoint>,
}

/// One level.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LevelPoint {
    /// Level, W.
    pub level_w: f64,
    /// Mean of the reference, W.
    pub reference_w: f64,
    /// Mean of the device, W.
    pub under_test_w: f64,
    /// Standard uncertainty of the mean difference, W.
    pub u_w: f64,
    /// Windows.
    pub windows: usize,
}

/// Fewest levels, and how far apart the lowest and the highest must be.
const LEAST_LEVELS: usize = 3;
const LEAST_RATIO: f64 = 1.5;
/// No level mean is taken as known better than this, W: the resolution of the power field.
const RESOLUTION_W: f64 = 0.29;

/// Separates offset and scale by a line through the levels with errors in both instruments.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn level_dependence(given: &Prepared<'_>) -> Outcome<LevelDependence> {
    let levels = levels(&visits(given));
    let (Some(low), Some(high)) = (levels.first(), levels.last()) else {
        return not_tested(
            NAME,
            "no steady windows; ride at least three levels of power",
        );
    };
    if levels.len() < LEAST_LEVELS || high.reference_w < LEAST_RATIO * low.reference_w {
        return not_tested(
            NAME,
            format!(
                "{} levels from {:.0} to {:.0} W; ride at least three in one gear at one \
                 cadence, the highest at least half as much again as the lowest",
                levels.len(),
                low.reference_w,
                high.reference_w
            ),
        );
    }
    // The scatter of the difference is shared out equally: which instrument it comes from cannot
    // be told from two.
    let points: Vec<UncertainPoint> = levels
        .iter()
        .map(|level| UncertainPoint {
            x: level.reference_w,
            y: level.under_test_w,
            u_x: level.u_w / 2f64.sqrt(),
            u_y: level.u_w / 2f64.sqrt(),
        })
        .collect();
    let Some(line) = york(&points) else {
        return not_tested(
            NAME,
            "the levels make no line; check that both instruments followed",
        );
    };
    Ok(given.as_indicated(report(levels, line)))
}

/// Levels in ascending order, only visits in the gear and at the cadence ridden most.
fn levels(visits: &[VisitMean]) -> Vec<LevelPoint> {
    let usual = visits
        .iter()
        .max_by_key(|a| visits.iter().filter(|b| same_motion(a, b)).count());
    let Some(usual) = usual else {
        return Vec::new();
    };
    let mut kept: Vec<&VisitMean> = visits.iter().filter(|v| same_motion(usual, v)).collect();
    kept.sort_by(|a, b| a.level_w.total_cmp(&b.level_w));
    kept.chunk_by(|a, b| same_level(a.level_w, b.level_w))
        .map(level_of)
        .collect()
}

fn level_of(visits: &[&VisitMean]) -> LevelPoint {
    let n = visits.len() as f64;
    let mean = |f: &dyn Fn(&VisitMean) -> f64| visits.iter().map(|v| f(v)).sum::<f64>() / n;
    let reference_w = mean(&|v| v.reference_w);
    let stated = mean(&|v| v.u_pct * v.u_pct) / n;
    let centre = mean(&|v| v.error_pct);
    let scattered = if visits.len() < 2 {
        0.0
    } else {
        mean(&|v| (v.error_pct - centre).powi(2)) / (n - 1.0)
    };
    let u_w = stated.max(scattered).sqrt() / 100.0 * reference_w;
    LevelPoint {
        level_w: visits[0].level_w,
        reference_w,
        under_test_w: mean(&|v| v.under_test_w),
        u_w: u_w.max(RESOLUTION_W / n.sqrt()),
        windows: visits.iter().map(|v| v.windows).sum(),
    }
}

fn report(levels: Vec<LevelPoint>, line: Line) -> Tested<LevelDependence> {
    let widen = line.reduced_chi_square.max(1.0).sqrt();
    let windows: usize = levels.iter().map(|level| level.windows).sum();
    let dof = if line.reduced_chi_square > 1.0 {
        line.dof.max(1) as f64
    } else {
        windows.saturating_sub(2).max(line.dof).max(1) as f64
    };
    let offset_w = Estimate {
        value: line.intercept,
        u: widen * line.u_intercept,
        dof,
    };
    let scale_pct = Estimate {
        value: 100.0 * (line.slope - 1.0),
        u: 100.0 * widen * line.u_slope,
        dof,
    };
    let (offset_interval_w, scale_interval_pct) = (interval_95(offset_w), interval_95(scale_pct));
    let offset = format!(
        "{} W ({})",
        words::signed(offset_w.value, 1),
        words::interval(offset_interval_w, 1, "W")
    );
    let scale = format!(
        "{} % ({})",
        words::signed(scale_pct.value, 2),
        words::interval(scale_interval_pct, 2, "%")
    );
    let judge = |interval, shown: &str, not: &str| {
        if excludes(interval, 0.0) {
            shown.to_owned()
        } else {
            not.to_owned()
        }
    };
    let sentence = format!(
        "{} {offset}; {} {scale}.",
        judge(
            offset_interval_w,
            "The device is offset by",
            "No offset is shown:"
        ),
        judge(
            scale_interval_pct,
            "its scale is off by",
            "no error of scale is shown:"
        ),
    );
    let fitted = |x: f64| [x, line.intercept + (line.slope - 1.0) * x];
    let ends = [levels[0].reference_w, levels[levels.len() - 1].reference_w];
    let plots = vec![words::plot(
        "difference-by-level",
        "Difference against level",
        ["reference, W", "device minus reference, W"],
        vec![
            words::level(Ink::Reference, "no difference", 0.0),
            words::intervals(
                Ink::UnderTest,
                "levels",
                levels
                    .iter()
                    .map(|l| {
                        let d = l.under_test_w - l.reference_w;
                        [l.reference_w, d - 2.0 * l.u_w, d, d + 2.0 * l.u_w]
                    })
                    .collect(),
            ),
            words::line(Ink::Fit, "offset and scale", ends.map(fitted).to_vec()),
        ],
        format!(
            "{windows} windows at {} levels; errors in both variables",
            levels.len()
        ),
    )];
    let result = LevelDependence {
        offset_w,
        offset_interval_w,
        scale_pct,
        scale_interval_pct,
        correlation: line.covariance / (line.u_intercept * line.u_slope),
        reduced_chi_square: line.reduced_chi_square,
        levels,
    };
    Tested {
        result,
        sentence,
        plots,
    }
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, TestWindow};
    use super::*;
    use crate::evidence::Feeds;

    fn sweep(seed: u64, offset_w: f64, scale: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::empty();
        let mut t = 0.0;
        for level_w in [
            50.0, 100.0, 150.0, 200.0, 250.0, 300.0, 250.0, 200.0, 150.0, 100.0,
        ] {
            let step = session.step(Feeds::Steady, t, t + 180.0, level_w);
            for window in 0..5 {
                let reference = level_w + 2.0 * noise.normal();
                let under_test = offset_w + scale * reference + 0.01 * level_w * noise.normal();
                session.window(TestWindow {
                    from_s: t + 30.0 + 30.0 * f64::from(window),
                    step,
                    level_w,
                    reference_w: reference,
                    under_test_w: under_test,
                    cadence_rpm: 90.0,
                    speed_kmh: 33.0,
                    u_pct: 1.0,
                });
            }
            t += 180.0;
        }
        session
    }

    #[test]
    fn offset_and_scale_are_separated() {
        let (mut offsets, mut scales) = (0, 0);
        for seed in 0..60 {
            let found = level_dependence(&sweep(seed, 3.0, 0.98).given())
                .unwrap()
                .result;
            offsets += usize::from(!excludes(found.offset_interval_w, 3.0));
            scales += usize::from(!excludes(found.scale_interval_pct, -2.0));
            assert!(excludes(found.scale_interval_pct, 0.0), "{found:?}");
        }
        assert!(
            offsets >= 53 && scales >= 53,
            "{offsets} and {scales} of 60"
        );
    }

    #[test]
    fn a_true_device_has_neither() {
        let claims = (100..160)
            .filter(|&seed| {
                let found = level_dependence(&sweep(seed, 0.0, 1.0).given())
                    .unwrap()
                    .result;
                excludes(found.offset_interval_w, 0.0)
            })
            .count();
        assert!(claims <= 7, "{claims} of 60");
    }

    #[test]
    fn too_few_levels_are_not_tested() {
        let mut session = sweep(1, 0.0, 1.0);
        session.windows.retain(|window| window.level_w > 240.0);
        assert!(level_dependence(&session.given()).is_err());
        assert!(level_dependence(&Session::empty().given()).is_err());
        session.windows.clear();
        let step = session.step(Feeds::Steady, 0.0, 100.0, 0.0);
        for level_w in [0.0, -10.0, 0.0, 100.0] {
            session.window(TestWindow {
                from_s: 0.0,
                step,
                level_w,
                reference_w: level_w,
                under_test_w: 0.0,
                cadence_rpm: 0.0,
                speed_kmh: 0.0,
                u_pct: 0.0,
            });
        }
        assert!(level_dependence(&session.given()).is_err());
    }
}
