//! Alignment: by how much each stream is late against the primary reference.
//!
//! The lag is the shift that makes the variance of the difference least, on power and on cadence
//! where both instruments have them. Shifts are found to a fraction of a sample by cubic splines,
//! segment by segment, and each lag carries an uncertainty from the residuals and the steepness of
//! the minimum, robust against autocorrelation. Three segments or more also give a linear drift
//! of the clock. No data are scaled and none are warped; only the search allows for a difference
//! in gain, so that it cannot pull the lag.
//!
//! The lag is that of the reports. What is compared are values held from one report to the next,
//! which are late by half an interval on average: [`apply`] moves each stream by its lag and by
//! half the difference of the usual intervals, so that the held values of both lie together.
//!
//! A lag is relative: the reference has a delay of its own. A positive lag means that the stream
//! is late.
//!
//! Cost: samples are interpolated once onto a uniform grid; for each whole step of shift the sums
//! of products with the four spline coefficients are taken once, after which the variance at any
//! fraction of a step is a small quadratic form.

mod coarse;
mod placing;
mod spline;
mod variance;

use crate::evidence::{Arrival, Evidence, Role, Stream, ZeroOffset};
use crate::examinations::usual_interval_s;
use crate::findings::{Alignment, DriftApplied, LagQuantity, LagSegment};
use crate::outcome::{Estimate, NotTested};
use crate::settings::AlignSettings;
use crate::stats::linear::fit_line_weighted;
use crate::stats::normal::student_t_quantile;
use spline::{Coefficients, Uniform};
use std::borrow::Cow;
use units::{Series, Span, Timestamp};

pub use placing::{Agreement, Details, Jump, Piece, Placement, Recorded, place};
pub use variance::lag_of_series;

/// Spacing of the uniform grid, s.
pub(crate) const STEP_S: f64 = 0.5;
/// Fewest grid points that a segment needs: half a minute.
pub(crate) const MIN_POINTS: usize = 60;
/// Standard uncertainty that interpolation leaves at 1 Hz, s (project's check list, section 7).
pub(crate) const INTERPOLATION_U_S: f64 = 0.002;

const EXAMINATION: &str = "alignment";

/// Aligns every stream but the primary reference against it. Without a primary reference with
/// power or cadence nothing can be aligned, and the list is empty.
pub fn align(evidence: &Evidence, settings: &AlignSettings) -> Vec<Alignment> {
    let Some(reference) = evidence
        .streams
        .iter()
        .find(|stream| stream.role == Role::PrimaryReference)
    else {
        return Vec::new();
    };
    let grid = TimeGrid::of(evidence);
    let power = Uniform::resample(&without_zeros(&reference.power_w), grid).smoothed();
    let cadence = Uniform::resample(&reference.cadence_rpm, grid).smoothed();
    let (power_spline, cadence_spline) = (power.coefficients(), cadence.coefficients());
    evidence
        .streams
        .iter()
        .filter(|stream| !std::ptr::eq(*stream, reference))
        .map(|stream| {
            let held_s = held_difference_s(&reference.power_w, &stream.power_w);
            let stream_power = without_zeros(&stream.power_w);
            let against = [
                Against {
                    quantity: LagQuantity::Power,
                    reference: &power,
                    spline: &power_spline,
                    series: &stream_power,
                },
                Against {
                    quantity: LagQuantity::Cadence,
                    reference: &cadence,
                    spline: &cadence_spline,
                    series: &stream.cadence_rpm,
                },
            ];
            align_stream(&stream.name, against, grid, settings).with_held(held_s)
        })
        .collect()
}

/// Moves every stream onto the clock of the reference. Alignments are those of [`align`]; a
/// stream that has none stays where it is.
pub fn apply(evidence: &Evidence, alignments: &[Alignment]) -> Evidence {
    let streams = evidence
        .streams
        .iter()
        .map(|stream| {
            let alignment = alignments
                .iter()
                .find(|alignment| alignment.source == stream.name);
            match alignment {
                Some(alignment) if alignment.moves() => moved(stream, alignment),
                _ => stream.clone(),
            }
        })
        .collect();
    Evidence {
        streams,
        steps: evidence.steps.clone(),
        commands: evidence.commands.clone(),
        invalid: evidence.invalid.clone(),
        end: evidence.end,
    }
}

impl Alignment {
    /// Where a sample of the stream is moved to, so that its held value lies on those of the
    /// reference.
    pub fn on_reference_clock(&self, at: Timestamp) -> Timestamp {
        let mut late_s = self.shift_s;
        if let (DriftApplied::Yes, Some(drift)) = (self.drift_applied, self.drift_ppm) {
            late_s += drift.value * 1e-6 * (at - self.pivot).as_secs_f64();
        }
        at - Span::from_secs_f64(late_s)
    }

    /// The move of one that was found, for streams whose reports are held for different times.
    fn with_held(mut self, held_s: f64) -> Self {
        if self.refused.is_none() {
            self.shift_s = self.lag_s + held_s;
        }
        self
    }

    /// Whether applying it changes anything.
    fn moves(&self) -> bool {
        self.refused.is_none() && (self.shift_s != 0.0 || self.drift_applied == DriftApplied::Yes)
    }

    fn refused(name: &str, reason: String) -> Self {
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

/// By how much the held power of a stream is later than that of the reference although their
/// reports agree: half the difference of their usual intervals, s.
fn held_difference_s(reference: &Series, stream: &Series) -> f64 {
    match (usual_interval_s(stream), usual_interval_s(reference)) {
        (Some(own_s), Some(reference_s)) => {
            let half_s = 0.5 * (own_s - reference_s);
            // Equal rates need no move, and then every mean is exactly that of the series.
            if half_s.abs() < 0.02 { 0.0 } else { half_s }
        }
        _ => 0.0,
    }
}

/// The uniform grid that all streams of a session share.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TimeGrid {
    /// Moment of the first point, s.
    pub(crate) from_s: f64,
    /// Number of points.
    pub(crate) points: usize,
}

impl TimeGrid {
    fn of(evidence: &Evidence) -> Self {
        let series = evidence.streams.iter().flat_map(|stream| {
            [&stream.power_w, &stream.cadence_rpm]
                .into_iter()
                .filter_map(|series| Some((series.times().first()?, series.times().last()?)))
        });
        let (first, last) = series.fold(
            (Timestamp::MAX, Timestamp::from_nanos(i64::MIN)),
            |(first, last), (begin, end)| (first.min(*begin), last.max(*end)),
        );
        if first > last {
            return Self {
                from_s: 0.0,
                points: 0,
            };
        }
        let from_s = (first.as_secs_f64() / STEP_S).floor() * STEP_S;
        // A clock that jumped by days must not ask for the memory of days.
        let length_s = (last.as_secs_f64() - from_s).min(48.0 * 3600.0);
        Self {
            from_s,
            points: (length_s / STEP_S) as usize + 1,
        }
    }
}

/// Power without its zeros, which are gaps for the search: a drop-out is the steepest change of a
/// ride and would be matched with whatever change it finds.
fn without_zeros(series: &Series) -> Cow<'_, Series> {
    if series.values().iter().all(|value| *value > 0.0) {
        return Cow::Borrowed(series);
    }
    let mut kept = Series::with_hold(series.hold_limit());
    for (index, (at, value)) in series.iter().enumerate() {
        if value <= 0.0 {
            kept.break_at(at);
        } else if kept.push(at, value).is_ok() && series.gap_after(index) {
            kept.break_at(series.held_until(index));
        }
    }
    Cow::Owned(kept)
}

/// One quantity of a stream beside the same quantity of the reference.
struct Against<'a> {
    quantity: LagQuantity,
    reference: &'a Uniform,
    spline: &'a Coefficients,
    series: &'a Series,
}

fn align_stream(
    name: &str,
    against: [Against<'_>; 2],
    grid: TimeGrid,
    settings: &AlignSettings,
) -> Alignment {
    let pairs: Vec<(&Against<'_>, Uniform)> = against
        .iter()
        .filter(|against| against.reference.valid_points() > 0 && !against.series.is_empty())
        .map(|against| (against, Uniform::resample(against.series, grid).smoothed()))
        .collect();
    if pairs.is_empty() {
        return Alignment::refused(
            name,
            "neither power nor cadence was received from both instruments".into(),
        );
    }
    // Power first: it is what is compared. Cadence finds the place if power does not.
    let mut best: Option<coarse::Coarse> = None;
    for (against, stream) in &pairs {
        let found = coarse::search(against.reference, stream, settings);
        if best.is_none_or(|best| found.correlation > best.correlation) {
            best = Some(found);
        }
        if best.is_some_and(|best| best.correlation >= settings.min_correlation) {
            break;
        }
    }
    let coarse = match best {
        Some(coarse) if coarse.correlation >= settings.min_correlation / 2.0 => coarse,
        _ => {
            return Alignment::refused(
                name,
                "the power hardly changes, or the two do not resemble each other at any lag; \
                 ride a few clear changes of power and cadence"
                    .into(),
            );
        }
    };

    let mut segments = Vec::new();
    for (against, stream) in &pairs {
        let length = ((settings.segment_s / STEP_S) as usize).max(MIN_POINTS);
        let mut from = 0;
        while from < grid.points {
            // The last piece joins the one before it if it is shorter than half a segment.
            let to = if grid.points - from < length * 3 / 2 {
                grid.points
            } else {
                from + length
            };
            if let Some(found) =
                variance::segment_lag(against.spline, stream, from..to, coarse.lag_steps)
            {
                segments.push(LagSegment {
                    middle_s: grid.from_s + found.place * STEP_S,
                    lag_s: found.lag_s,
                    u_s: found.u_s,
                    quantity: against.quantity,
                });
            }
            from = to;
        }
    }
    conclude(name, segments, settings)
}

/// Joins the lags of the segments.
fn conclude(name: &str, segments: Vec<LagSegment>, settings: &AlignSettings) -> Alignment {
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
fn weighted_mean(segments: &[LagSegment]) -> Option<Estimate> {
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

fn moved(stream: &Stream, alignment: &Alignment) -> Stream {
    let late = Span::from_secs_f64(alignment.shift_s);
    let map = |at: Timestamp| match alignment.drift_applied {
        DriftApplied::No => at - late,
        DriftApplied::Yes => alignment.on_reference_clock(at),
    };
    // A drift of less than one second per second keeps the order, so nothing is refused.
    let series = |series: &Series| match alignment.drift_applied {
        DriftApplied::No => series.shifted(-late),
        DriftApplied::Yes => series.map_time(map).unwrap_or_else(|_| series.clone()),
    };
    Stream {
        name: stream.name.clone(),
        role: stream.role,
        place: stream.place,
        power_w: series(&stream.power_w),
        cadence_rpm: series(&stream.cadence_rpm),
        speed_kmh: series(&stream.speed_kmh),
        arrivals: stream
            .arrivals
            .iter()
            .map(|arrival| Arrival {
                at: map(arrival.at),
                epoch: arrival.epoch,
            })
            .collect(),
        zero_offsets: stream
            .zero_offsets
            .iter()
            .map(|zero| ZeroOffset {
                at: map(zero.at),
                torque_nm: zero.torque_nm,
            })
            .collect(),
    }
}
