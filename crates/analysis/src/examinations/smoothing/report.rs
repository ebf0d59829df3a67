//! What was found of the kernel, in words and as a plot.

use super::fit::KernelFit;
use super::found::Smoothing;
use super::kernel::Kernel;
use super::seen::Seen;
use crate::examinations::words;
use crate::outcome::{Estimate, Ink, Tested};
use crate::stats::intervals::interval_95;

pub(super) fn report(kernel: Kernel, fit: &KernelFit, seen: &Seen) -> Tested<Smoothing> {
    let [device_s, reference_interval_s] = seen.intervals_s;
    let grain_s = device_s.max(reference_interval_s);
    // Values held from report to report blur every moment by a part of the interval.
    let grain = grain_s * grain_s / 12.0;
    let [lag_variance, window_variance, covariance] = fit.covariance;
    let estimate = |value: f64, variance: f64| Estimate {
        value,
        u: (variance.max(0.0) + grain).sqrt(),
        dof: fit.dof,
    };
    // A held reference is late by half its interval on average; reports are compared at the
    // moments they came.
    let pure_s = fit.lag_s + 0.5 * reference_interval_s;
    let lag_s = estimate(pure_s, lag_variance);
    let window_s = estimate(fit.window_s, window_variance);
    let mean_delay_s = estimate(
        pure_s + 0.5 * fit.window_s,
        lag_variance + 0.25 * window_variance + covariance,
    );
    let [low, high] = interval_95(window_s);
    let window_interval_s = [low.max(0.0), high.max(0.0)];
    // A window no longer than one report of the slower instrument is no smoothing.
    let claimed = low > grain_s;
    let sentence = if claimed {
        format!(
            "The device averages over about {} s ({}) and reports {} s after the reference.",
            words::plain(fit.window_s, 1),
            words::interval_of_size(window_interval_s, 1, "s"),
            words::plain(mean_delay_s.value, 1),
        )
    } else {
        format!(
            "No smoothing beyond that of the reference is shown ({}); the device reports {} s \
             after the reference.",
            words::interval_of_size(window_interval_s, 1, "s"),
            words::plain(mean_delay_s.value, 1),
        )
    };
    let kernel_line = match kernel {
        Kernel::Box => vec![
            [pure_s, 0.0],
            [pure_s, 1.0 / fit.window_s.max(0.1)],
            [pure_s + fit.window_s, 1.0 / fit.window_s.max(0.1)],
            [pure_s + fit.window_s, 0.0],
        ],
        Kernel::FirstOrder => {
            let tau = (0.5 * fit.window_s).max(0.05);
            (0..=40)
                .map(|i| f64::from(i) * 0.1 * tau)
                .map(|age| [pure_s + age, (-age / tau).exp() / tau])
                .collect()
        }
    };
    let plots = vec![words::plot(
        "smoothing-kernel",
        "Weight of the past in what the device reports",
        ["age of the reference's power, s", "weight, 1/s"],
        vec![words::line(Ink::Fit, "fitted kernel", kernel_line)],
        format!(
            "{} samples around {} changes of power; relative to the reference",
            seen.samples, seen.transitions
        ),
    )];
    let result = Smoothing {
        kernel,
        lag_s,
        window_s,
        window_interval_s,
        mean_delay_s,
        claimed,
        repeated: seen.repeated,
        variance_ratio: seen.variance_ratio,
        samples: seen.samples,
        transitions: seen.transitions,
    };
    Tested {
        result,
        sentence,
        plots,
    }
}
