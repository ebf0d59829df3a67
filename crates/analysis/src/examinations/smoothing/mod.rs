//! Delay and smoothing of what the device reports, against what the reference reports.

mod fit;
pub(super) mod found;
mod kernel;
mod report;
mod seen;
#[cfg(test)]
mod tests;

use super::bins::Paired;
use super::integral::{secs, usual_interval_s};
use super::prepared::Prepared;
use super::transitions::{Piece, transitions};
use crate::outcome::{Outcome, not_tested};
use fit::fit;
pub use found::Smoothing;
pub use kernel::Kernel;
use kernel::{Sample, Scene};
use report::report;
use seen::{Seen, share_repeated, variance_ratio};
use units::{Series, Timestamp};

/// Name of the examination.
pub const NAME: &str = "reporting lag and smoothing";

/// Fewest changes of load that show a delay.
const LEAST_TRANSITIONS: usize = 4;
/// What is looked at around a change, s before and after.
const AROUND_S: [f64; 2] = [-4.0, 16.0];
/// What a kernel may reach back to, s.
const REACH_S: f64 = 13.0;
/// Where the search for lag and window begins, s; the better end counts.
const STARTS: [[f64; 2]; 2] = [[0.5, 2.0], [2.0, 6.0]];
/// Samples used at most.
const MOST_SAMPLES: usize = 320;

impl Prepared<'_> {
    /// Delay and smoothing of the device, found once.
    pub(super) fn smoothing(&self) -> &Outcome<Smoothing> {
        self.smoothing.get_or_init(|| smoothing(self))
    }
}

/// Fits delay and smoothing from reference to device around quick changes of power.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn smoothing(given: &Prepared<'_>) -> Outcome<Smoothing> {
    let paired = Paired::new(given, NAME)?;
    let under_test = given.under_test(NAME)?;
    let reference = given.reference(NAME)?;
    // On its own arrival times the device is as late as it really was.
    let removed = under_test.facts.removed_shift_s;
    let places = transitions(paired.reference);
    let mut pieces = Vec::new();
    let mut samples = Vec::new();
    for at_s in places {
        let (from_s, to_s) = (at_s + AROUND_S[0], at_s + AROUND_S[1]);
        if !paired.is_free(from_s - 2.0, to_s) {
            continue;
        }
        let Some(piece) = Piece::new(paired.reference, from_s - REACH_S, to_s + 4.0) else {
            continue;
        };
        let series = &under_test.stream.power_w;
        let moved = |s: f64| Timestamp::from_secs_f64(s - removed);
        for index in series.range(moved(from_s), moved(to_s)) {
            samples.push(Sample {
                piece: pieces.len(),
                at_s: secs(series.times()[index]) + removed,
                value: series.values()[index],
            });
        }
        pieces.push(piece);
    }
    if pieces.len() < LEAST_TRANSITIONS || samples.len() < 40 {
        return not_tested(
            NAME,
            format!(
                "{} quick changes of power with both instruments; ride at least six steps of \
                 50 W or more, or some short hard efforts",
                pieces.len()
            ),
        );
    }
    thin(&mut samples);
    let scene = Scene {
        pieces: &pieces,
        samples: &samples,
        y: samples.iter().map(|sample| sample.value).collect(),
    };
    let boxed = STARTS
        .iter()
        .filter_map(|start| fit(Kernel::Box, &scene, *start, [1.0, 2.0]))
        .min_by(|a, b| a.rss.total_cmp(&b.rss));
    let first_order = boxed.as_ref().and_then(|boxed| {
        fit(
            Kernel::FirstOrder,
            &scene,
            [boxed.lag_s, boxed.window_s],
            [0.5, 1.0],
        )
    });
    let (kernel, fit) = match (boxed, first_order) {
        (Some(a), Some(b)) if b.rss < a.rss => (Kernel::FirstOrder, b),
        (Some(a), _) => (Kernel::Box, a),
        (None, _) => {
            return not_tested(NAME, "the device does not follow the reference at all");
        }
    };
    let interval_s = |series: &Series| usual_interval_s(series).unwrap_or(1.0);
    let (device_w, reference_w) = (&under_test.stream.power_w, &reference.stream.power_w);
    let seen = Seen {
        intervals_s: [interval_s(device_w), interval_s(reference_w)],
        repeated: [share_repeated(device_w), share_repeated(reference_w)],
        variance_ratio: variance_ratio(given, &paired),
        samples: samples.len(),
        transitions: pieces.len(),
    };
    Ok(report(kernel, &fit, &seen))
}

/// Keeps an even choice of samples.
fn thin(samples: &mut Vec<Sample>) {
    let every = samples.len().div_ceil(MOST_SAMPLES);
    let mut index = 0;
    samples.retain(|_| {
        index += 1;
        (index - 1) % every == 0
    });
}
