//! A steady window, and what its seconds say: means, and the energy that went into the flywheel.

use crate::grid::{Second, StepNow};
use crate::settings::GateSettings;
use units::MetresPerSecond;

/// Seconds at either end of a window over which the flywheel speed is averaged for the closure.
const CLOSURE_ENDS_S: usize = 3;

/// A steady window: paired seconds of device and reference.
#[derive(Clone, Debug, PartialEq)]
pub struct Window {
    /// First second.
    pub from_s: i64,
    /// One past the last second.
    pub to_s: i64,
    /// The step it lies in.
    pub step: Option<StepNow>,
    /// Which visit to a level it belongs to: step attempt, or running number of the plateau.
    pub visit: usize,
    /// Constant power asked for, W.
    pub target_w: Option<f64>,
    /// Paired seconds: device under test, W.
    pub under_test_w: Vec<f64>,
    /// Paired seconds: reference, W; as many as of the device.
    pub reference_w: Vec<f64>,
    /// Mean cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Mean flywheel speed, km/h.
    pub speed_kmh: Option<f64>,
    /// Energy that went into the flywheel, per second, W: ½·m·Δ(v²)/T.
    pub closure_w: Option<f64>,
}

impl Window {
    /// Mean of the device, W.
    pub fn mean_under_test_w(&self) -> f64 {
        mean_of(&self.under_test_w)
    }

    /// Mean of the reference, W.
    pub fn mean_reference_w(&self) -> f64 {
        mean_of(&self.reference_w)
    }

    /// Paired seconds.
    pub fn seconds(&self) -> usize {
        self.under_test_w.len()
    }
}

/// The seconds of a running window as a window.
pub(crate) fn window_so_far(seconds: &[Second], settings: &GateSettings) -> Window {
    let visit = seconds[0].step.map_or(0, |step| step.visit);
    window_of(seconds, visit, settings)
}

pub(super) fn window_of(seconds: &[Second], visit: usize, settings: &GateSettings) -> Window {
    let mean = |pick: fn(&Second) -> Option<f64>| {
        let values: Vec<f64> = seconds.iter().filter_map(pick).collect();
        (!values.is_empty()).then(|| mean_of(&values))
    };
    let pairs = seconds
        .iter()
        .filter_map(|second| Some((second.under_test?, second.reference?)));
    let (under_test_w, reference_w) = pairs
        .map(|(device, reference)| (device.value, reference.value))
        .unzip();
    Window {
        from_s: seconds[0].index,
        to_s: seconds[seconds.len() - 1].index + 1,
        step: seconds[0].step,
        visit,
        target_w: seconds[0].step.and_then(|step| step.target_w),
        under_test_w,
        reference_w,
        cadence_rpm: mean(|second| second.cadence_rpm),
        speed_kmh: mean(|second| second.speed_kmh),
        closure_w: closure_w(seconds, settings.equivalent_mass_kg),
    }
}

/// Power that went into the flywheel over the seconds; `None` without speed at both ends.
pub(super) fn closure_w(seconds: &[Second], equivalent_mass_kg: f64) -> Option<f64> {
    let ends = CLOSURE_ENDS_S.min(seconds.len() / 2).max(1);
    let speed = |part: &[Second]| {
        let values: Vec<f64> = part.iter().filter_map(|second| second.speed_kmh).collect();
        (!values.is_empty())
            .then(|| MetresPerSecond::from_kilometres_per_hour(mean_of(&values)).get())
    };
    let begin = speed(&seconds[..ends])?;
    let end = speed(&seconds[seconds.len() - ends..])?;
    let between_s = (seconds.len() - ends) as f64;
    (between_s > 0.0).then(|| 0.5 * equivalent_mass_kg * (end * end - begin * begin) / between_s)
}

pub(super) fn mean_reference(seconds: &[Second]) -> f64 {
    let (sum, n) = seconds
        .iter()
        .filter_map(|second| second.reference)
        .fold((0.0, 0usize), |(sum, n), held| (sum + held.value, n + 1));
    sum / n.max(1) as f64
}

pub(super) fn mean_of(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}
