//! One step of least squares from what the half minutes say, with its uncertainty.
//!
//! The uncertainty is the sandwich form: sums of the scores over half a minute at a time, scattered as
//! they are, over the squared curvature. It therefore covers whatever the model leaves out and that
//! lasts for less than half a minute: autocorrelated noise, smoothing, cut time stamps.
//! Where few clusters decide, the residual of each is put back to what it would be without its own
//! pull on the lag and on the drift (the form HC3 of MacKinnon and White, 1985), and Student's factor
//! is applied to both.

use super::told::{CLUSTERS, Told};
use crate::align::grid::INTERPOLATION_U_S;
use crate::align::placing::placed::{Joint, Placed};
use crate::findings::LagSegment;
use crate::stats::normal::student_t_quantile;

/// Two quartz clocks drift apart by less than this, mostly; ppm (standard deviation; common
/// practice: ± 20 to 50 ppm for one crystal, more in the cold or heat). A long recording decides the
/// drift by itself; a short one leans on this.
const DRIFT_PRIOR_PPM: f64 = 100.0;

/// The place to which one step leads from what the clusters say.
pub(super) fn step(told: &[Told], joint: &Joint) -> Option<Joint> {
    let mut stretches = Vec::with_capacity(joint.stretches.len());
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for stretch in 0..joint.stretches.len() {
        let of = || told.iter().filter(|told| told.stretch == stretch);
        let information: f64 = of().map(|told| told.information).sum();
        if information <= 0.0 || of().count() < 2 {
            return None;
        }
        let middle_s = of()
            .map(|told| told.information * told.middle_s)
            .sum::<f64>()
            / information;
        // Noise may make the information of single clusters negative; the middle stays inside.
        let (first, last) = (of().next()?.middle_s, of().next_back()?.middle_s);
        let middle_s = middle_s.clamp(first.min(last), last.max(first));
        let shift_s = of().map(|told| told.score).sum::<f64>() / information;
        for told in of() {
            let from_s = told.middle_s - middle_s;
            sxx += told.information * from_s * from_s;
            sxy += from_s * (told.score - told.information * shift_s);
        }
        stretches.push((middle_s, shift_s, information));
    }
    let steeper = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    let left = |told: &Told| {
        let (middle_s, shift_s, information) = stretches[told.stretch];
        let wanted = shift_s + steeper * (told.middle_s - middle_s);
        // A cluster that decides by itself leaves nothing over: its leverage is put back.
        // It has one on the lag of its stretch, and far from the middle another on the drift.
        let far = (told.middle_s - middle_s).powi(2) / sxx;
        let on_drift = if sxx > 0.0 { far } else { 0.0 };
        let leverage = (told.information * (1.0 / information + on_drift)).clamp(0.0, 0.8);
        (told.score - told.information * wanted) / (1.0 - leverage)
    };
    let drift = joint.drift + steeper;
    let slope_variance = if sxx > 0.0 {
        told.iter()
            .map(|told| {
                let from_s = told.middle_s - stretches[told.stretch].0;
                (from_s * left(told)).powi(2)
            })
            .sum::<f64>()
            / (sxx * sxx)
            * few(&mut told.iter().map(|told| {
                let from_s = told.middle_s - stretches[told.stretch].0;
                told.information * from_s * from_s
            }))
            .1
            .powi(2)
    } else {
        f64::INFINITY
    };
    let prior = (DRIFT_PRIOR_PPM * 1e-6).powi(2);
    let trust = if slope_variance.is_finite() {
        prior / (prior + slope_variance)
    } else {
        0.0
    };
    let mut least_dof = f64::MAX;
    let placed: Vec<Placed> = (0..stretches.len())
        .map(|stretch| {
            let (middle_s, shift_s, information) = stretches[stretch];
            let of = || told.iter().filter(|told| told.stretch == stretch);
            let variance = of().map(|told| left(told).powi(2)).sum::<f64>() / information.powi(2);
            let (dof, few) = few(&mut of().map(|told| told.information));
            least_dof = least_dof.min(dof);
            Placed {
                middle_s,
                lag_s: joint.lag_s(stretch, middle_s) + shift_s,
                u_s: (few * variance.sqrt()).hypot(INTERPOLATION_U_S),
            }
        })
        .collect();
    Some(Joint {
        segments: segments(told, joint),
        stretches: placed,
        drift: trust * drift,
        drift_u: if slope_variance.is_finite() {
            (trust * slope_variance).sqrt()
        } else {
            DRIFT_PRIOR_PPM * 1e-6
        },
        dof: least_dof,
    })
}

/// Degrees of freedom of a sum to which the clusters contribute so much each, and Student's factor,
/// so that twice u still covers 95 % where a few of them decide.
fn few(information: &mut dyn Iterator<Item = f64>) -> (f64, f64) {
    let (mut sum, mut squares) = (0.0, 0.0);
    for part in information {
        sum += part;
        squares += part * part;
    }
    let dof = (sum * sum / squares - 1.0).max(1.0);
    (dof, student_t_quantile(0.975, dof) / 1.96)
}

/// The lags of five minutes each, by themselves.
fn segments(told: &[Told], joint: &Joint) -> Vec<LagSegment> {
    let mut segments = Vec::new();
    let same = |a: &Told, b: &Told| a.stretch == b.stretch && a.quantity == b.quantity;
    for run in told.chunk_by(same) {
        for chunk in run.chunks(CLUSTERS) {
            let information: f64 = chunk.iter().map(|told| told.information).sum();
            if information <= 0.0 {
                continue;
            }
            let stretch = chunk[0].stretch;
            let middle_s = chunk.iter().map(|told| told.middle_s).sum::<f64>() / chunk.len() as f64;
            let shift_s = chunk.iter().map(|told| told.score).sum::<f64>() / information;
            let variance = chunk
                .iter()
                .map(|told| (told.score - told.information * shift_s).powi(2))
                .sum::<f64>()
                / information.powi(2);
            segments.push(LagSegment {
                middle_s,
                lag_s: joint.lag_s(stretch, middle_s) + shift_s,
                u_s: variance.sqrt().hypot(INTERPOLATION_U_S),
                quantity: chunk[0].quantity,
            });
        }
    }
    segments
}
