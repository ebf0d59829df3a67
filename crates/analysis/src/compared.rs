//! What a comparison of device and reference gives, before anything is made of it.

use crate::examinations::{DropOut, SteadyWindow};
use crate::findings::{Cell, Exclusion, PairedTraces, Treatment, WindowFinding};

/// What the comparison of device and reference gives.
#[derive(Clone, Debug)]
pub(crate) struct Compared {
    /// In which treatment verdicts are given.
    pub(crate) treatment: Treatment,
    pub(crate) windows: Vec<WindowFinding>,
    pub(crate) steady: Vec<SteadyWindow>,
    pub(crate) cells: Vec<Cell>,
    pub(crate) dropouts: Vec<DropOut>,
    pub(crate) exclusions: Vec<Exclusion>,
    pub(crate) traces: PairedTraces,
    pub(crate) anomalies: Vec<String>,
}

impl Default for Compared {
    fn default() -> Self {
        Self {
            treatment: Treatment::AsIndicated,
            windows: Vec::new(),
            steady: Vec::new(),
            cells: Vec::new(),
            dropouts: Vec::new(),
            exclusions: Vec::new(),
            traces: PairedTraces::default(),
            anomalies: Vec::new(),
        }
    }
}
