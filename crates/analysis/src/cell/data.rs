//! The windows of one condition, gathered.

use crate::evidence::Feeds;
use crate::gate::Window;

/// The windows of one condition.
#[derive(Clone, Debug, Default)]
pub struct CellData {
    /// What the steps were ridden for.
    pub feeds: Option<Feeds>,
    /// Constant power asked for, W.
    pub target_w: Option<f64>,
    /// Cadence asked for, rpm.
    pub(super) cadence_cue_rpm: Option<f64>,
    /// Gear asked for.
    pub(super) gear: Option<f64>,
    /// Positions of the windows in the order they were added to all cells.
    pub windows: Vec<usize>,
    /// Unbroken runs of paired seconds.
    pub(super) runs: Vec<Run>,
    pub(super) cadence: Weighted,
    pub(super) speed: Weighted,
    pub(super) closure: Weighted,
    pub(super) under_test_sum_w: f64,
    pub(super) reference_sum_w: f64,
    pub(super) n: usize,
}

#[derive(Clone, Debug)]
pub(super) struct Run {
    pub(super) visit: usize,
    to_s: i64,
    pub(super) under_test_w: Vec<f64>,
    pub(super) reference_w: Vec<f64>,
}

#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Weighted {
    sum: f64,
    weight: f64,
}

impl Weighted {
    pub(super) fn add(&mut self, value: Option<f64>, weight: f64) {
        if let Some(value) = value {
            self.sum += value * weight;
            self.weight += weight;
        }
    }

    pub(super) fn mean(self) -> Option<f64> {
        (self.weight > 0.0).then(|| self.sum / self.weight)
    }
}

impl CellData {
    /// A cell with this window's condition and nothing in it yet.
    pub fn for_window(window: &Window) -> Self {
        Self {
            feeds: window.step.map(|step| step.feeds),
            target_w: window.target_w,
            cadence_cue_rpm: window.step.and_then(|step| step.cadence_rpm),
            gear: window.step.and_then(|step| step.gear),
            ..Self::default()
        }
    }

    /// Adds a window, whose position among all windows is given.
    pub fn add(&mut self, window: &Window, position: usize) {
        self.windows.push(position);
        let weight = window.seconds() as f64;
        self.cadence.add(window.cadence_rpm, weight);
        self.speed.add(window.speed_kmh, weight);
        self.closure.add(window.closure_w, weight);
        self.under_test_sum_w += window.under_test_w.iter().sum::<f64>();
        self.reference_sum_w += window.reference_w.iter().sum::<f64>();
        self.n += window.seconds();
        match self.runs.last_mut() {
            Some(run) if run.visit == window.visit && run.to_s == window.from_s => {
                run.under_test_w.extend_from_slice(&window.under_test_w);
                run.reference_w.extend_from_slice(&window.reference_w);
                run.to_s = window.to_s;
            }
            _ => self.runs.push(Run {
                visit: window.visit,
                to_s: window.to_s,
                under_test_w: window.under_test_w.clone(),
                reference_w: window.reference_w.clone(),
            }),
        }
    }

    /// Steady seconds.
    pub fn seconds(&self) -> usize {
        self.n
    }

    /// Mean of the reference as indicated, W.
    pub fn mean_reference_w(&self) -> f64 {
        self.reference_sum_w / self.n.max(1) as f64
    }

    /// Level, W: the target, or the mean of the reference.
    pub fn level_w(&self) -> f64 {
        self.target_w.unwrap_or_else(|| self.mean_reference_w())
    }

    /// The condition in words: `200 W, 90 rpm, 33 km/h`.
    pub fn title(&self) -> String {
        let mut words = format!("{:.0} W", self.level_w());
        if let Some(rpm) = self.cadence.mean() {
            words += &format!(", {rpm:.0} rpm");
        }
        if let Some(kmh) = self.speed.mean() {
            words += &format!(", {kmh:.0} km/h");
        }
        words
    }

    /// Separate visits.
    pub fn visits(&self) -> usize {
        let mut visits: Vec<usize> = self.runs.iter().map(|run| run.visit).collect();
        visits.sort_unstable();
        visits.dedup();
        visits.len()
    }
}
