//! One quantity of both recordings, each on a uniform grid of its own clock.

use crate::align::grid::{STEP_S, TimeGrid, without_zeros};
use crate::align::spline::{Coefficients, Uniform, slopes, weights};
use units::Series;

/// Longest recording that is looked at, s: a clock that jumped by days must not ask for the memory
/// of days.
const LONGEST_S: f64 = 48.0 * 3600.0;

/// A stream on the grid of its own clock.
#[derive(Clone, Debug)]
pub(super) struct Side {
    /// Moment of the first point, s.
    pub(super) from_s: f64,
    /// The stream at every point.
    pub(super) uniform: Uniform,
}

impl Side {
    /// `None` of an empty stream.
    fn of(series: &Series) -> Option<Self> {
        let (first, last) = (series.times().first()?, series.times().last()?);
        let from_s = (first.as_secs_f64() / STEP_S).floor() * STEP_S;
        let length_s = (last.as_secs_f64() - from_s).min(LONGEST_S);
        let grid = TimeGrid {
            from_s,
            points: (length_s / STEP_S) as usize + 1,
        };
        // A drop-out is the steepest change of a ride and would be matched with anything.
        let uniform = Uniform::resample(&without_zeros(series), grid);
        (uniform.valid_points() > 0).then_some(Self { from_s, uniform })
    }

    /// Moment of a point, s.
    pub(super) fn moment_s(&self, point: usize) -> f64 {
        self.from_s + point as f64 * STEP_S
    }
}

/// Both sides of one quantity.
#[derive(Clone, Debug)]
pub(super) struct Sides {
    pub(super) reference: Side,
    pub(super) stream: Side,
    spline: Coefficients,
}

/// The reference at a moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sample {
    pub(super) value: f64,
    /// Change in one second.
    pub(super) slope: f64,
}

impl Sides {
    /// `None` if either is empty.
    pub(super) fn of(reference: &Series, stream: &Series) -> Option<Self> {
        let (reference, stream) = (Side::of(reference)?, Side::of(stream)?);
        Some(Self::new(reference, stream))
    }

    fn new(reference: Side, stream: Side) -> Self {
        let spline = reference.uniform.coefficients();
        Self {
            reference,
            stream,
            spline,
        }
    }

    /// Both smoothed alike, so many times over by a binomial filter of half a second.
    pub(super) fn smoothed(&self, times: usize) -> Self {
        let smooth = |side: &Side| Side {
            from_s: side.from_s,
            uniform: (0..times).fold(side.uniform.clone(), |uniform, _| uniform.smoothed()),
        };
        Self::new(smooth(&self.reference), smooth(&self.stream))
    }

    /// The reference at a moment of its clock, s; `None` in a gap.
    pub(super) fn reference_at(&self, moment_s: f64) -> Option<Sample> {
        let place = (moment_s - self.reference.from_s) / STEP_S;
        let whole = place.floor();
        let base = usize::try_from(whole as i64 - 1).ok()?;
        let valid = self.spline.valid.get(base..base + 4)?;
        if valid.contains(&false) {
            return None;
        }
        let c = &self.spline.values[base..base + 4];
        let (w, d) = (weights(place - whole), slopes(place - whole));
        let dot = |by: [f64; 4]| (0..4).map(|i| by[i] * c[i]).sum::<f64>();
        Some(Sample {
            value: dot(w),
            slope: dot(d) / STEP_S,
        })
    }

    /// The stream at a point, with its change in one second from the points beside it.
    pub(super) fn stream_at(&self, point: usize) -> Option<Sample> {
        let Side { uniform, .. } = &self.stream;
        let (values, valid) = (&uniform.values, &uniform.valid);
        if !*valid.get(point)? {
            return None;
        }
        let beside = point
            .checked_sub(1)
            .filter(|before| valid[*before] && valid.get(point + 1) == Some(&true));
        Some(Sample {
            value: values[point],
            slope: beside.map_or(0.0, |before| {
                (values[point + 1] - values[before]) / (2.0 * STEP_S)
            }),
        })
    }
}
