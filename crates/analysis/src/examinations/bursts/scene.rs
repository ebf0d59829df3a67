//! One effort in the streams around it: onset, peaks, closed work and what remains after.

use super::found::{ClosedWork, Effort, PEAK_SECONDS, Peak};
use crate::evidence::StepSpan;
use crate::examinations::bins::Paired;
use crate::examinations::integral::{Integral, secs};
use units::{Series, Timestamp};

/// What is looked at around a step ridden as a burst, s.
const BEFORE_S: f64 = 6.0;
const AFTER_S: f64 = 40.0;
/// Peaks are looked for at this spacing, s.
const SLIDE_S: f64 = 0.25;
/// A burst rises at least this far above what was ridden before, W.
const LEAST_RISE_W: f64 = 100.0;
/// Below this nobody pedals, W.
const NOTHING_W: f64 = 20.0;

/// The streams around the efforts.
pub(super) struct Scene<'a> {
    pub(super) paired: &'a Paired<'a>,
    pub(super) reference: &'a Series,
    pub(super) under_test: &'a Series,
    pub(super) speed: Option<&'a Integral>,
    pub(super) late_s: f64,
}

impl Scene<'_> {
    pub(super) fn effort(&self, index: usize, step: &StepSpan, end_s: f64) -> Option<Effort> {
        let from_s = secs(step.from) - BEFORE_S;
        let to_s = (secs(step.to) + AFTER_S).min(end_s);
        let search_to_s = (secs(step.to) + 5.0).min(to_s);
        let before_w = self
            .paired
            .reference
            .mean(from_s, from_s + 3.0, 0.8)?
            .max(0.0);
        let (top_s, top_w) = highest(self.paired.reference, from_s, search_to_s, 1.0)?;
        if top_w - before_w < LEAST_RISE_W {
            return None;
        }
        let risen = before_w + 0.3 * (top_w - before_w);
        let onset_s = steps_of(from_s, top_s, SLIDE_S).find(|at_s| {
            self.paired
                .reference
                .mean(*at_s, at_s + 0.5, 0.8)
                .is_some_and(|p| p >= risen)
        })?;
        let peaks = PEAK_SECONDS
            .into_iter()
            .filter_map(|seconds| {
                let (reference_s, reference_w) =
                    highest(self.paired.reference, from_s, search_to_s, seconds)?;
                let (under_test_s, under_test_w) =
                    highest(self.paired.under_test, from_s, search_to_s + 3.0, seconds)?;
                let later_s = under_test_s - reference_s + self.late_s;
                Some(Peak {
                    seconds,
                    reference_w,
                    under_test_w,
                    later_s,
                })
            })
            .collect();
        let after = self.after(top_s, top_w, to_s);
        Some(Effort {
            step: index,
            onset: Timestamp::from_secs_f64(onset_s),
            peaks,
            work: self.closed_work(onset_s, top_s, to_s),
            surplus_after_w: after.surplus_w,
            surplus_s: after.surplus_s,
            tail_s: after.tail_s,
            zero_after_s: after.zero_s,
        })
    }

    /// Work from the onset until the flywheel is as fast as it was at the onset: then what was
    /// stored in it has come out again.
    fn closed_work(&self, onset_s: f64, top_s: f64, to_s: f64) -> Option<ClosedWork> {
        let speed = self.speed?;
        let at = |at_s: f64| speed.mean(at_s - 0.5, at_s + 0.5, 0.8);
        let from_s = onset_s - 1.0;
        let speed_kmh = at(from_s)?;
        let (fast_s, fastest) = steps_of(top_s, to_s, SLIDE_S)
            .filter_map(|at_s| Some((at_s, at(at_s)?)))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        if fastest <= speed_kmh {
            return None;
        }
        let end_s = steps_of(fast_s, to_s, SLIDE_S)
            .find(|at_s| at(*at_s).is_some_and(|now| now <= speed_kmh))?;
        let work = |integral: &Integral| {
            let mean = integral.mean(from_s, end_s, 0.95)?;
            Some(mean * (end_s - from_s) / 1000.0)
        };
        Some(ClosedWork {
            from: Timestamp::from_secs_f64(from_s),
            to: Timestamp::from_secs_f64(end_s),
            speed_kmh,
            reference_kj: work(self.paired.reference)?,
            under_test_kj: work(self.paired.under_test)?,
        })
    }

    fn after(&self, top_s: f64, top_w: f64, to_s: f64) -> After {
        let mut after = After::default();
        let mut fallen = false;
        let (mut reference_gone_s, mut under_test_gone_s) = (None, None);
        for at_s in steps_of(top_s, to_s - 1.0, SLIDE_S) {
            let mean = |integral: &Integral| integral.mean(at_s, at_s + 1.0, 0.8);
            let (Some(reference), Some(under_test)) =
                (mean(self.paired.reference), mean(self.paired.under_test))
            else {
                continue;
            };
            fallen |= reference < 0.5 * top_w;
            if !fallen {
                continue;
            }
            let surplus = under_test - reference;
            after.surplus_w = after.surplus_w.max(surplus);
            if surplus > 0.1 * top_w {
                after.surplus_s += SLIDE_S;
            }
            if reference < NOTHING_W && reference_gone_s.is_none() {
                reference_gone_s = Some(at_s);
            }
            if reference_gone_s.is_some() && under_test < NOTHING_W && under_test_gone_s.is_none() {
                under_test_gone_s = Some(at_s);
            }
            if reference > NOTHING_W && under_test <= 0.0 {
                after.zero_s += SLIDE_S;
            }
        }
        after.tail_s = match (reference_gone_s, under_test_gone_s) {
            (Some(reference), Some(under_test)) => Some(under_test - reference + self.late_s),
            _ => None,
        };
        after
    }
}

#[derive(Default)]
struct After {
    surplus_w: f64,
    surplus_s: f64,
    pub(super) tail_s: Option<f64>,
    zero_s: f64,
}

/// Moments from one to another at even spacing.
pub(super) fn steps_of(from_s: f64, to_s: f64, by_s: f64) -> impl Iterator<Item = f64> {
    let count = ((to_s - from_s) / by_s).clamp(0.0, 1e6) as usize;
    (0..count).map(move |i| from_s + i as f64 * by_s)
}

/// Beginning and height of the highest mean of one length.
fn highest(integral: &Integral, from_s: f64, to_s: f64, seconds: f64) -> Option<(f64, f64)> {
    steps_of(from_s, to_s - seconds + SLIDE_S, SLIDE_S)
        .filter_map(|at_s| Some((at_s, integral.mean(at_s, at_s + seconds, 0.9)?)))
        .max_by(|a, b| a.1.total_cmp(&b.1))
}
