//! The lags of all segments joined: one lag, one drift, each with its uncertainty, or a refusal.

use super::grid::INTERPOLATION_U_S;
use crate::findings::{Alignment, DriftApplied, LagQuantity, LagSegment};
use crate::outcome::{Estimate, NotTested};
use crate::settings::AlignSettings;
use crate::stats::linear::fit_line_weighted;
use crate::stats::normal::student_t_quantile;
use units::Timestamp;

pub(super) const EXAMINATION: &str = "alignment";

impl Alignment {
    pub(super) fn refused(name: &str, reason: String) -> Self {
        Self {
            source: name.into(),
            lag_s: 0.0,
            lag_u_s: 0.0,
            shift_s: 0.0,
            drift_ppm: None,
            pivot: Timestamp::ZERO,
            drift_applied: DriftApplied::No,
            from_power: None,
            from_cadence: None,
            segments: Vec::new(),
            stretches: Vec::new(),
            refused: Some(NotTested {
                examination: EXAMINATION,
                reason: format!("{name}: {reason}"),
            }),
        }
    }
}

/// Joins the lags of the segments.
pub(super) fn conclude(
    name: &str,
    segments: Vec<LagSegment>,
    settings: &AlignSettings,
) -> Alignment {
    let of = |quantity: LagQuantity| -> Vec<LagSegment> {
        segments
            .iter()
            .copied()
            .filter(|segment| segment.quantity == quantity)
            .collect()
    };
    let from_power = weighted_mean(&of(LagQuantity::Power));
    let from_cadence = weighted_mean(&of(LagQuantity::Cadence));
    let usable = |estimate: &Estimate| estimate.u <= settings.max_u_s;
    let used: Vec<LagSegment> = match (from_power.filter(usable), from_cadence.filter(usable)) {
        // Power may be smoothed where cadence is not: the two are joined only if they agree.
        (Some(power), Some(cadence))
            if (power.value - cadence.value).abs() <= 2.0 * power.u.hypot(cadence.u) =>
        {
            segments.clone()
        }
        (Some(_), _) => of(LagQuantity::Power),
        (None, Some(_)) => of(LagQuantity::Cadence),
        (None, None) => Vec::new(),
    };
    let Some(lag) = weighted_mean(&used) else {
        return Alignment {
            from_power,
            from_cadence,
            segments,
            ..Alignment::refused(
                name,
                "no clear minimum: ride a few clear changes of power and cadence".into(),
            )
        };
    };

    let weights: Vec<f64> = used.iter().map(|segment| segment.u_s.powi(-2)).collect();
    let total: f64 = weights.iter().sum();
    let pivot_s = used
        .iter()
        .zip(&weights)
        .map(|(segment, weight)| segment.middle_s * weight)
        .sum::<f64>()
        / total;
    let times: Vec<f64> = used.iter().map(|segment| segment.middle_s).collect();
    let lags: Vec<f64> = used.iter().map(|segment| segment.lag_s).collect();
    let drift = drift_ppm(&times, &lags, &weights);
    let drift_applied = match drift {
        // With three segments there is one degree of freedom, and twice u would be no evidence.
        Some(drift) if drift.value.abs() > student_t_quantile(0.975, drift.dof) * drift.u => {
            DriftApplied::Yes
        }
        _ => DriftApplied::No,
    };
    // Around a drifting clock the lags scatter because of the drift; only what the line leaves
    // over is uncertainty.
    let lag_u_s = match (drift_applied, fit_line_weighted(&times, &lags, &weights)) {
        (DriftApplied::Yes, Some(line)) => {
            (total.powf(-0.5) * (line.rss / line.dof).sqrt().max(1.0)).hypot(INTERPOLATION_U_S)
        }
        _ => lag.u,
    };
    Alignment {
        source: name.into(),
        lag_s: lag.value,
        lag_u_s,
        shift_s: lag.value,
        drift_ppm: drift,
        pivot: Timestamp::from_secs_f64(pivot_s),
        drift_applied,
        from_power,
        from_cadence,
        segments,
        stretches: Vec::new(),
        refused: None,
    }
}

/// Weighted mean of lags; its uncertainty grows where the lags scatter more than they should
/// (Birge ratio). `None` of nothing.
pub(super) fn weighted_mean(segments: &[LagSegment]) -> Option<Estimate> {
    let total: f64 = segments.iter().map(|segment| segment.u_s.powi(-2)).sum();
    if segments.is_empty() || !total.is_finite() || total <= 0.0 {
        return None;
    }
    let value = segments
        .iter()
        .map(|segment| segment.lag_s * segment.u_s.powi(-2))
        .sum::<f64>()
        / total;
    let dof = (segments.len() - 1) as f64;
    let birge = if dof > 0.0 {
        let chi2: f64 = segments
            .iter()
            .map(|segment| ((segment.lag_s - value) / segment.u_s).powi(2))
            .sum();
        (chi2 / dof).sqrt().max(1.0)
    } else {
        1.0
    };
    let u = (total.powf(-0.5) * birge).hypot(INTERPOLATION_U_S);
    Some(Estimate {
        value,
        u,
        dof: if dof > 0.0 { dof } else { f64::MAX },
    })
}

/// Drift from the slope of the lags over time; needs three different moments.
fn drift_ppm(times: &[f64], lags: &[f64], weights: &[f64]) -> Option<Estimate> {
    let mut moments = times.to_vec();
    moments.sort_by(f64::total_cmp);
    moments.dedup();
    if moments.len() < 3 {
        return None;
    }
    let line = fit_line_weighted(times, lags, weights)?;
    // Scatter smaller than the segments' own uncertainty is luck, not precision.
    let birge = (line.rss / line.dof).sqrt();
    let u = if birge > 0.0 {
        line.slope_sd * birge.max(1.0) / birge
    } else {
        line.slope_sd
    };
    let u = if u > 0.0 {
        u
    } else {
        fallback_slope_u(times, weights)
    };
    Some(Estimate {
        value: 1e6 * line.slope,
        u: 1e6 * u,
        dof: line.dof,
    })
}

fn fallback_slope_u(times: &[f64], weights: &[f64]) -> f64 {
    let total: f64 = weights.iter().sum();
    let mean = times.iter().zip(weights).map(|(t, w)| t * w).sum::<f64>() / total;
    let sxx: f64 = times
        .iter()
        .zip(weights)
        .map(|(t, w)| w * (t - mean).powi(2))
        .sum();
    sxx.max(f64::MIN_POSITIVE).powf(-0.5)
}
