//! Radio: intervals between packets, gaps and loss of every stream.

use super::given::Given;
use crate::outcome::Outcome;

/// Name of the examination.
pub const NAME: &str = "radio";

/// Intervals of every stream that has arrivals.
#[derive(Clone, Debug, PartialEq)]
pub struct Radio {
    /// One entry per stream.
    pub streams: Vec<RadioStream>,
}

/// Intervals of one stream. Intervals across links are not counted.
#[derive(Clone, Debug, PartialEq)]
pub struct RadioStream {
    /// Name of the stream.
    pub source: String,
    /// Packets received.
    pub packets: usize,
    /// Links there have been.
    pub links: usize,
    /// Middle interval, s.
    pub median_s: f64,
    /// 95 of 100 intervals are not longer, s.
    pub p95_s: f64,
    /// 99 of 100 intervals are not longer, s.
    pub p99_s: f64,
    /// Longest interval, s.
    pub longest_s: f64,
    /// Packets per second while linked.
    pub rate_hz: f64,
    /// Packets that the regular interval lets expect but that did not come.
    pub missing: usize,
    /// Share missing.
    pub loss: f64,
    /// Exact 95 % interval of the share, losses taken as independent.
    pub loss_interval: [f64; 2],
}

/// Examines the arrivals of every stream.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride or bring.
pub fn radio(_given: &Given<'_>) -> Outcome<Radio> {
    super::not_tested(NAME, "this examination is not written yet")
}
