//! Assurance of the reference: its zero, its sides, and its independence of the device.

use super::given::Given;
use crate::outcome::{Estimate, Outcome};

/// Name of the examination.
pub const NAME: &str = "assurance of the reference";

/// What is known about the reference itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Assurance {
    /// Zero before and after, per stream that has both.
    pub zeros: Vec<ZeroChange>,
    /// Everything that blocks or weakens a verdict.
    pub concerns: Vec<Concern>,
}

/// Change of an instrument's zero.
#[derive(Clone, Debug, PartialEq)]
pub struct ZeroChange {
    /// Name of the stream.
    pub source: String,
    /// Last minus first, N·m.
    pub change_nm: f64,
    /// The same as power at the mean cadence, W.
    pub change_w: f64,
    /// Standard uncertainty to carry, %: half the change at the mean power.
    pub u_pct: f64,
}

/// Something that weakens or blocks a verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Concern {
    /// What it is.
    pub kind: ConcernKind,
    /// Whether no verdict may be given while it stands.
    pub blocks: bool,
    /// In words with numbers.
    pub words: String,
}

/// Kinds of concern.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ConcernKind {
    /// The zero was not read before and after.
    ZeroNotChecked,
    /// The zero moved by more than the gate.
    ZeroMoved,
    /// One side only, doubled.
    OneSided,
    /// The zero seems to have been set anew during the ride.
    AutomaticZero,
    /// The device seems to be steered by the reference, or to report its values.
    Circular,
}

/// Examines the reference itself.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn assurance(_given: &Given<'_>) -> Outcome<Assurance> {
    super::not_tested(NAME, "this examination is not written yet")
}
