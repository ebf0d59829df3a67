//! Rates of drop-outs with exact intervals, from the classified list.

use super::given::{DropOutKind, Given};
use crate::outcome::Outcome;

/// Name of the examination.
pub const NAME: &str = "drop-outs";

/// Rates per kind.
#[derive(Clone, Debug, PartialEq)]
pub struct DropOutRates {
    /// Hours observed.
    pub hours: f64,
    /// One entry per kind, also where none was seen.
    pub kinds: Vec<DropOutRate>,
    /// Work lost in all faults, kJ; coasting is no fault.
    pub lost_kj: f64,
}

/// The rate of one kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropOutRate {
    /// Which kind.
    pub kind: DropOutKind,
    /// How many.
    pub count: u64,
    /// Per hour.
    pub per_hour: f64,
    /// Exact 95 % interval of the rate, per hour.
    pub interval_per_hour: [f64; 2],
    /// Seconds in all.
    pub seconds: f64,
    /// The longest, s.
    pub longest_s: f64,
    /// Work lost, kJ.
    pub lost_kj: f64,
}

/// Counts drop-outs and gives their rates.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn drop_out_rates(_given: &Given<'_>) -> Outcome<DropOutRates> {
    super::not_tested(NAME, "this examination is not written yet")
}
