//! The place of a recording: a lag for every stretch, and a drift of the clock for all.

use crate::findings::LagSegment;

/// The place of every stretch.
#[derive(Clone, Debug)]
pub(super) struct Joint {
    pub(super) stretches: Vec<Placed>,
    /// Drift, seconds per second, with its standard uncertainty and degrees of freedom.
    pub(super) drift: f64,
    pub(super) drift_u: f64,
    pub(super) dof: f64,
    pub(super) segments: Vec<LagSegment>,
}

/// One stretch.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    /// Moment on the recorder's clock at which the lag holds: the middle of what told it, s.
    pub(super) middle_s: f64,
    pub(super) lag_s: f64,
    /// Standard uncertainty at that moment, s.
    pub(super) u_s: f64,
}

impl Joint {
    pub(super) fn lag_s(&self, stretch: usize, moment_s: f64) -> f64 {
        let placed = &self.stretches[stretch];
        placed.lag_s + self.drift * (moment_s - placed.middle_s)
    }

    /// Mean square uncertainty of the stretches, to choose between ways.
    pub(super) fn badness(&self) -> f64 {
        self.stretches
            .iter()
            .map(|placed| placed.u_s * placed.u_s)
            .sum()
    }
}
