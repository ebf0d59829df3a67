//! The drift as a result: which curve, how much, whether it is claimed.

use super::change::change;
use super::curves::{Fits, Shape, curve_at};
use crate::examinations::bins::Bin;
use crate::examinations::words;
use crate::outcome::{Estimate, Ink, Tested};
use crate::stats::intervals::{excludes, interval_95};

/// How the difference changed over a long steady ride.
#[derive(Clone, Debug, PartialEq)]
pub struct WarmUp {
    /// The curve that describes the change best, by the corrected Akaike criterion.
    pub shape: Shape,
    /// Change of the difference from the beginning to the end of the observation, % of reference,
    /// by the curve that was chosen. The
    /// uncertainty holds scatter, autocorrelation and the zero change of the instruments.
    pub change_pct: Estimate,
    /// 95 % interval of the change.
    pub interval_pct: [f64; 2],
    /// Whether a drift is claimed: a drifting curve is preferred and the interval excludes zero.
    pub claimed: bool,
    /// Minutes observed.
    pub minutes: f64,
    /// Time constant of the saturating curve, s, where that curve was chosen.
    pub tau_s: Option<Estimate>,
    /// Slope of the straight line, % per 10 minutes.
    pub slope_pct_per_10_min: Estimate,
    /// Standard uncertainty from the zero changes of the instruments, %.
    pub u_zero_pct: f64,
    /// Lag-one autocorrelation of the residuals that the intervals allow for.
    pub autocorrelation: f64,
    /// Mean difference in parts of the ride.
    pub checkpoints: Vec<Checkpoint>,
    /// Criterion of every curve tried; the smallest is the best.
    pub criteria: Vec<(Shape, f64)>,
}

/// Mean difference in one part of the ride.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Checkpoint {
    /// Beginning, minutes from the start of the observation.
    pub from_min: f64,
    /// End, minutes.
    pub to_min: f64,
    /// Mean difference, % of reference.
    pub error_pct: f64,
    /// Standard uncertainty of the mean, %.
    pub u_pct: f64,
}

/// By how much the criterion of a drifting curve must undercut that of no change.
const CLEARLY_BETTER: f64 = 2.0;
/// Parts of the ride whose means are listed, minutes.
const CHECKPOINTS_MIN: [[f64; 2]; 4] = [[2.0, 5.0], [10.0, 15.0], [25.0, 30.0], [55.0, 60.0]];

pub(super) fn report(
    fits: &Fits,
    t: &[f64],
    error: &[f64],
    minutes: f64,
    u_zero_pct: f64,
    bins: &[Bin],
) -> Tested<WarmUp> {
    let criteria = fits.criteria();
    let best = criteria
        .iter()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(criteria[0], |c| *c);
    let (scatter, tau_s) = change(fits, t, best.0, minutes);
    let change_pct = Estimate {
        u: scatter.u.hypot(u_zero_pct),
        ..scatter
    };
    let interval_pct = interval_95(change_pct);
    let claimed = best.0 != Shape::Constant
        && criteria[0].1 - best.1 > CLEARLY_BETTER
        && excludes(interval_pct, 0.0);
    let slope = Estimate {
        value: 10.0 * fits.linear.coefficients[1],
        u: 10.0 * fits.linear.sd(1),
        dof: (fits.n - 2.0).max(1.0),
    };
    let start = bins[0].from_s;
    let checkpoints = CHECKPOINTS_MIN
        .iter()
        .filter_map(|&[from_min, to_min]| {
            let inside: Vec<f64> = bins
                .iter()
                .filter(|bin| {
                    bin.from_s - start >= 60.0 * from_min - 1.0
                        && bin.to_s - start <= 60.0 * to_min + 1.0
                })
                .map(Bin::error_pct)
                .collect();
            let n = inside.len() as f64;
            let factor = (1.0 + fits.autocorrelation) / (1.0 - fits.autocorrelation);
            (inside.len() >= 2).then(|| Checkpoint {
                from_min,
                to_min,
                error_pct: inside.iter().sum::<f64>() / n,
                u_pct: (fits.linear.variance() / (1.0 - fits.autocorrelation.powi(2)) * factor / n)
                    .sqrt(),
            })
        })
        .collect();
    let what = format!(
        "{} % over {minutes:.0} minutes ({})",
        words::signed(change_pct.value, 2),
        words::interval(interval_pct, 2, "%")
    );
    let sentence = if claimed {
        let tail = tau_s.map_or(String::new(), |tau| {
            format!(
                ", most of it within the first {:.0} minutes",
                (2.0 * tau.value / 60.0).ceil()
            )
        });
        format!("The difference drifted by {what}{tail}.")
    } else {
        format!("No drift is shown: the difference changed by {what}.")
    };
    let curve: Vec<[f64; 2]> = t.iter().map(|t| [*t, curve_at(fits, best.0, *t)]).collect();
    let plots = vec![words::plot(
        "warm-up",
        "Difference while warming up",
        ["time, minutes", "device minus reference, % of reference"],
        vec![
            words::points(
                Ink::UnderTest,
                "30-s means",
                t.iter().zip(error).map(|(t, e)| [*t, *e]).collect(),
            ),
            words::line(Ink::Fit, "fitted curve", curve),
        ],
        format!(
            "{} means of 30 s; lag-one autocorrelation of the residuals {:.2}",
            t.len(),
            fits.autocorrelation
        ),
    )];
    let result = WarmUp {
        shape: best.0,
        change_pct,
        interval_pct,
        claimed,
        minutes,
        tau_s,
        slope_pct_per_10_min: slope,
        u_zero_pct,
        autocorrelation: fits.autocorrelation,
        checkpoints,
        criteria,
    };
    Tested {
        result,
        sentence,
        plots,
    }
}
