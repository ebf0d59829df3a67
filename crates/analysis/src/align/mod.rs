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
mod grid;
mod held;
mod joined;
mod moved;
mod placing;
mod spline;
mod variance;

use crate::evidence::{Evidence, Role};
use crate::findings::{Alignment, LagQuantity, LagSegment};
use crate::settings::AlignSettings;
use grid::without_zeros;
pub(crate) use grid::{MIN_POINTS, STEP_S, TimeGrid};
use held::held_difference_s;
use joined::conclude;
pub use moved::apply;
pub use placing::{Agreement, Details, Jump, Piece, Placement, Recorded, place};
use spline::{Coefficients, Uniform};
use units::Series;
pub use variance::lag_of_series;

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

impl Alignment {
    /// The move of one that was found, for streams whose reports are held for different times.
    fn with_held(mut self, held_s: f64) -> Self {
        if self.refused.is_none() {
            self.shift_s = self.lag_s + held_s;
        }
        self
    }
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
