//! Delay and smoothing as a result.

use super::kernel::Kernel;
use crate::outcome::Estimate;

/// Delay and smoothing from reference to device.
///
/// Both are relative: the reference has a delay of its own that two radios cannot reveal.
#[derive(Clone, Debug, PartialEq)]
pub struct Smoothing {
    /// Which kernel describes the device better.
    pub kernel: Kernel,
    /// Pure delay before the kernel begins, s.
    pub lag_s: Estimate,
    /// Length of the averaging window, s. For a first-order kernel it is twice the time constant:
    /// the box with the same mean delay and the same reduction of white noise.
    pub window_s: Estimate,
    /// 95 % interval of the window; its lower end is not below zero.
    pub window_interval_s: [f64; 2],
    /// Mean delay of the whole, pure delay plus half the window, s.
    pub mean_delay_s: Estimate,
    /// Whether smoothing is claimed: the interval of the window excludes zero.
    pub claimed: bool,
    /// Share of packets that repeat the value before: device and reference.
    pub repeated: [f64; 2],
    /// Variance of second-to-second changes while steady, device over reference.
    pub variance_ratio: Option<f64>,
    /// Samples used.
    pub samples: usize,
    /// Changes of load that the samples lie around.
    pub transitions: usize,
}
