//! The signs that both forms go by: work, the commanded power, and a value repeated for too long.

use crate::grid::Second;
use crate::settings::DropOutSettings;

/// How many times longer than the 95th percentile of its runs a frozen value lasts.
const FAR_LONGER: f64 = 4.0;
/// The reference is alive if it moved at least this much meanwhile, W.
const ALIVE_W: f64 = 2.0;
/// A value this close to the commanded power is the commanded power, W.
const SAME_AS_TARGET_W: f64 = 0.5;
/// Where the device usually repeats itself, the reference has to move this many times more.
const REPEATER: f64 = 3.0;

/// Whether a run of one repeated value is frozen rather than honest.
///
/// `usual_s` is the 95th percentile of the device's runs; the reference moved by `moved_w` around
/// `reference_w` meanwhile.
pub(super) fn is_frozen(
    run_s: f64,
    usual_s: f64,
    moved_w: f64,
    reference_w: f64,
    settings: &DropOutSettings,
) -> bool {
    if run_s < settings.frozen_after_s || reference_w <= settings.work_above_w {
        return false;
    }
    let out_of_the_usual = run_s >= FAR_LONGER * usual_s;
    let change_w = settings
        .frozen_change_w
        .max(settings.frozen_change_pct / 100.0 * reference_w);
    let needed_w = if out_of_the_usual {
        ALIVE_W
    } else if usual_s >= settings.frozen_after_s / 2.0 {
        REPEATER * change_w
    } else {
        change_w
    };
    moved_w >= needed_w
}

/// Range of three-second means, and the mean, of seconds in a row.
pub(super) fn movement(means: &[f64]) -> Option<(f64, f64)> {
    let smooth = means
        .windows(3)
        .map(|three| three.iter().sum::<f64>() / 3.0);
    let (low, high) = smooth.fold((f64::MAX, f64::MIN), |(low, high), mean| {
        (low.min(mean), high.max(mean))
    });
    (low <= high).then(|| (high - low, means.iter().sum::<f64>() / means.len() as f64))
}

/// Whether a value is the commanded power of a second.
pub(super) fn is_target(value_w: f64, second: &Second) -> bool {
    second
        .target_w
        .is_some_and(|target_w| (value_w - target_w).abs() <= SAME_AS_TARGET_W)
}

pub(super) fn shows_work(
    reference_w: f64,
    cadence_rpm: Option<f64>,
    settings: &DropOutSettings,
) -> bool {
    reference_w > settings.work_above_w
        && cadence_rpm.is_none_or(|rpm| rpm > settings.pedalling_above_rpm)
}
