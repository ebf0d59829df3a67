//! How packets travel.

use serde::{Deserialize, Serialize};

/// How packets travel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct LinkSpec {
    /// Shortest time from instrument to receiver, ms.
    pub delay_ms: f64,
    /// Mean of the exponential rest of that time, ms.
    pub jitter_ms: f64,
    /// Share of notifications that are lost, %.
    pub lost_pct: f64,
    /// Share of notifications that arrive twice, %.
    pub twice_pct: f64,
    /// Share of notifications that are held up by half a second to two seconds, %.
    pub late_pct: f64,
    /// Lost links: after so many seconds from the first connection, for so many seconds.
    pub lost_links: Vec<(f64, f64)>,
    /// Lost links by chance, per hour, for 2 to 8 s.
    pub lost_links_per_hour: f64,
    /// Silences with the link up: after so many seconds, for so many seconds.
    pub silences: Vec<(f64, f64)>,
    /// Restarts of the device: after so many seconds from the first connection its link is gone for
    /// so many seconds, and all it counted begins at zero.
    pub restarts: Vec<(f64, f64)>,
    /// How much the instrument's clock is fast, parts per million.
    pub clock_ppm: f64,
    /// Beginning of its reports within the first interval, 0 to 1; by chance if not given.
    pub phase: Option<f64>,
}

impl Default for LinkSpec {
    fn default() -> Self {
        Self {
            delay_ms: 12.0,
            jitter_ms: 8.0,
            lost_pct: 0.0,
            twice_pct: 0.0,
            late_pct: 0.0,
            lost_links: Vec::new(),
            lost_links_per_hour: 0.0,
            silences: Vec::new(),
            restarts: Vec::new(),
            clock_ppm: 0.0,
            phase: None,
        }
    }
}
