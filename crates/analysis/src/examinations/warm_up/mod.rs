//! Warm-up drift: how the difference between device and reference changes while both get warm.

mod change;
mod curves;
mod report;
#[cfg(test)]
mod tests;

use super::bins::{Bin, Paired};
use super::given::Source;
use super::integral::secs;
use super::prepared::Prepared;
use crate::evidence::Feeds;
use crate::outcome::{NotTested, Outcome, not_tested};
use curves::Fits;
pub use curves::Shape;
use report::report;
pub use report::{Checkpoint, WarmUp};
use std::f64::consts::TAU;

/// Name of the examination.
pub const NAME: &str = "warm-up drift";

/// Length of the means that are fitted, s: long enough that a perfect device with usual noise
/// leaves ±2 % practically never.
const BIN_S: f64 = 30.0;
/// Shortest ride that shows a drift, minutes.
const LEAST_MINUTES: f64 = 12.0;
/// Fewest means.
const LEAST_BINS: usize = 12;

/// Examines the drift of the difference over the longest steady ride.
///
/// # Errors
/// [`NotTested`] with what to ride.
pub fn warm_up(given: &Prepared<'_>) -> Outcome<WarmUp> {
    let paired = Paired::new(given, NAME)?;
    let Some([from_s, to_s]) = longest_ride(given) else {
        return not_tested(
            NAME,
            "no long steady ride; ride at least 20 minutes, better 60, at one power, gear and \
             cadence, cold at the beginning",
        );
    };
    let bins: Vec<Bin> = paired
        .bins(from_s, to_s, BIN_S)
        .into_iter()
        .filter(|bin| bin.reference_w > 20.0)
        .collect();
    let minutes = match (bins.first(), bins.last()) {
        (Some(first), Some(last)) => (last.to_s - first.from_s) / 60.0,
        _ => 0.0,
    };
    if bins.len() < LEAST_BINS || minutes < LEAST_MINUTES {
        return not_tested(
            NAME,
            format!(
                "only {minutes:.0} minutes with both instruments; ride at least \
                 {LEAST_MINUTES:.0} minutes at one power, gear and cadence"
            ),
        );
    }
    let start_s = bins[0].from_s;
    let t: Vec<f64> = bins
        .iter()
        .map(|bin| (bin.middle_s() - start_s) / 60.0)
        .collect();
    let error: Vec<f64> = bins.iter().map(Bin::error_pct).collect();
    let Some(fits) = Fits::new(&t, &error) else {
        return not_tested(
            NAME,
            "the differences do not vary at all; check that they are real",
        );
    };
    let u_zero_pct = zero_change_pct(given, &paired, [from_s, to_s])?;
    Ok(report(&fits, &t, &error, minutes, u_zero_pct, &bins))
}

/// The longest step ridden for drift; without a script the longest run of windows at one level.
fn longest_ride(given: &Prepared<'_>) -> Option<[f64; 2]> {
    let longest = |spans: Vec<[f64; 2]>| {
        spans
            .into_iter()
            .max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])))
    };
    if !given.evidence.steps.is_empty() {
        return longest(
            given
                .steps(Feeds::Drift)
                .map(|(_, step)| [secs(step.from) + secs_of_settling(step), secs(step.to)])
                .collect(),
        );
    }
    longest(
        given
            .windows
            .chunk_by(|a, b| (a.level_w - b.level_w).abs() < 0.05 * a.level_w)
            .map(|run| [secs(run[0].from), secs(run[run.len() - 1].to)])
            .collect(),
    )
}

/// At most half a minute of settling is discarded: the beginning is what a drift is about.
fn secs_of_settling(step: &crate::evidence::StepSpan) -> f64 {
    step.settle.as_secs_f64().clamp(0.0, 30.0)
}

/// Half the change of each instrument's zero, as % of the reference's mean power.
fn zero_change_pct(
    given: &Prepared<'_>,
    paired: &Paired,
    [from_s, to_s]: [f64; 2],
) -> Result<f64, NotTested> {
    let sources = [given.under_test(NAME)?, given.reference(NAME)?];
    let mean_w = paired
        .reference
        .mean(from_s, to_s, 0.1)
        .unwrap_or(0.0)
        .max(1.0);
    let part = |source: &Source<'_>| {
        let zeros = &source.stream.zero_offsets;
        let (Some(first), Some(last)) = (zeros.first(), zeros.last()) else {
            return 0.0;
        };
        let cadence = &sources
            .iter()
            .map(|source| &source.stream.cadence_rpm)
            .find(|series| !series.is_empty());
        let rpm = cadence
            .and_then(|series| series.mean_over(first.at.min(last.at), given.evidence.end))
            .map_or(90.0, |mean| mean.value);
        0.5 * (last.torque_nm - first.torque_nm).abs() * rpm * TAU / 60.0 / mean_w * 100.0
    };
    Ok(part(&sources[0]).hypot(part(&sources[1])))
}
