//! Short hard efforts as a result.

use crate::outcome::Estimate;
use units::Timestamp;

/// Lengths over which peaks are compared, s.
pub const PEAK_SECONDS: [f64; 4] = [1.0, 3.0, 5.0, 10.0];

/// All short hard efforts.
#[derive(Clone, Debug, PartialEq)]
pub struct Bursts {
    /// One entry per effort.
    pub efforts: Vec<Effort>,
    /// Ratio of peaks, device over reference, over all efforts, one per length.
    pub ratios: Vec<PeakRatio>,
    /// Ratio of work, device over reference, over windows closed in flywheel speed.
    pub work_ratio: Option<Estimate>,
    /// Time the device keeps showing power after the reference has fallen to nothing, s.
    pub tail_s: Option<Estimate>,
}

/// Ratio of peaks of one length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PeakRatio {
    /// Length, s.
    pub seconds: f64,
    /// Device over reference.
    pub ratio: Estimate,
    /// 95 % interval; absent for a single effort.
    pub interval: Option<[f64; 2]>,
}

/// One effort.
#[derive(Clone, Debug, PartialEq)]
pub struct Effort {
    /// Index of the step.
    pub step: usize,
    /// When the reference rose.
    pub onset: Timestamp,
    /// Peaks, one per length of [`PEAK_SECONDS`] that fits.
    pub peaks: Vec<Peak>,
    /// Work over the closed window.
    pub work: Option<ClosedWork>,
    /// Largest surplus of the device over the reference after the effort, W.
    pub surplus_after_w: f64,
    /// How long the surplus stayed above a tenth of the peak, s.
    pub surplus_s: f64,
    /// Time the device keeps showing power after the reference has fallen to nothing, s.
    pub tail_s: Option<f64>,
    /// How long the device then showed nothing while the reference showed work again, s.
    pub zero_after_s: f64,
}

/// Peak mean power over one length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Length, s.
    pub seconds: f64,
    /// Reference, W.
    pub reference_w: f64,
    /// Device, W.
    pub under_test_w: f64,
    /// How much later the device's peak is, s.
    pub later_s: f64,
}

/// Work over a window that begins and ends at the same flywheel speed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ClosedWork {
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// Speed at both ends, km/h.
    pub speed_kmh: f64,
    /// Reference, kJ.
    pub reference_kj: f64,
    /// Device, kJ.
    pub under_test_kj: f64,
}
