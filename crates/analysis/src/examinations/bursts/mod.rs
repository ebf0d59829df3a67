//! Short hard efforts: peaks, work over a window closed in flywheel speed, and what remains after.

mod found;
mod scene;
mod shown;
#[cfg(test)]
mod tests;

use super::bins::Paired;
use super::integral::secs;
use super::prepared::Prepared;
use crate::evidence::{Feeds, StepSpan};
use crate::outcome::{Outcome, Tested, not_tested};
use crate::stats::intervals::{interval_95, mean_of_repeats};
pub use found::{Bursts, ClosedWork, Effort, PEAK_SECONDS, Peak, PeakRatio};
use scene::Scene;
use shown::{plots, sentence};

/// Name of the examination.
pub const NAME: &str = "bursts";

/// Examines the short hard efforts.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn bursts(given: &Prepared<'_>) -> Outcome<Bursts> {
    let paired = Paired::new(given, NAME)?;
    let under_test = given.under_test(NAME)?;
    let reference = given.reference(NAME)?;
    let scene = Scene {
        paired: &paired,
        reference: &reference.stream.power_w,
        under_test: &under_test.stream.power_w,
        speed: given.speed(),
        late_s: under_test.facts.removed_lag_s,
    };
    let steps: Vec<(usize, &StepSpan)> = given.steps(Feeds::Burst).collect();
    let efforts: Vec<Effort> = steps
        .iter()
        .filter_map(|(index, step)| {
            let next = given
                .evidence
                .steps
                .get(index + 1)
                .filter(|n| n.feeds == Feeds::Burst);
            let end_s = next.map_or(f64::MAX, |next| secs(next.from) - 1.0);
            scene.effort(*index, step, end_s)
        })
        .collect();
    if efforts.is_empty() {
        return not_tested(
            NAME,
            "no short hard effort with both instruments; ride three to five sprints of 5 to 10 \
             seconds in resistance or slope mode, not in power mode",
        );
    }
    let ratios: Vec<PeakRatio> = PEAK_SECONDS
        .into_iter()
        .filter_map(|seconds| ratio(&efforts, seconds))
        .collect();
    let works: Vec<f64> = efforts
        .iter()
        .filter_map(|effort| effort.work)
        .filter(|work| work.reference_kj > 0.0)
        .map(|work| work.under_test_kj / work.reference_kj)
        .collect();
    let tails: Vec<f64> = efforts.iter().filter_map(|effort| effort.tail_s).collect();
    let result = Bursts {
        work_ratio: mean_of_repeats(&works),
        tail_s: mean_of_repeats(&tails),
        ratios,
        efforts,
    };
    let sentence = sentence(&result);
    let plots = plots(&scene, &result);
    Ok(given.as_indicated(Tested {
        result,
        sentence,
        plots,
    }))
}

fn ratio(efforts: &[Effort], seconds: f64) -> Option<PeakRatio> {
    let ratios: Vec<f64> = efforts
        .iter()
        .flat_map(|effort| &effort.peaks)
        .filter(|peak| peak.seconds == seconds && peak.reference_w > 0.0)
        .map(|peak| peak.under_test_w / peak.reference_w)
        .collect();
    let ratio = mean_of_repeats(&ratios)?;
    Some(PeakRatio {
        seconds,
        ratio,
        interval: Some(interval_95(ratio)),
    })
}
