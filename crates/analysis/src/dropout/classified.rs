//! After the ride: every drop-out of the recording, with what was lost by it.

use super::signs::{is_frozen, is_target, movement, shows_work};
use crate::examinations::{DropOut, DropOutKind};
use crate::grid::{Pair, Second};
use crate::settings::DropOutSettings;
use units::{Series, Span, Timestamp};

/// Seconds at either end of a zero in which the reference may still be spinning up or down.
const EDGE_S: i64 = 2;
/// Shortest coasting and shortest work inside a longer zero that are listed, s.
const SHORTEST_S: i64 = 2;

/// Classifies the drop-outs of the device under test, in order of time. The streams are aligned;
/// `seconds` are the paired seconds of the whole recording in order.
pub fn classify(
    pair: Pair<'_>,
    seconds: &[Second],
    end: Timestamp,
    settings: &DropOutSettings,
) -> Vec<DropOut> {
    let power = &pair.under_test.power_w;
    if power.is_empty() || seconds.is_empty() {
        return Vec::new();
    }
    let view = View {
        pair,
        seconds,
        settings,
    };
    let mut found = view.missing(end);
    view.zeros(&mut found);
    view.frozen(&mut found);
    found.sort_by_key(|dropout| (dropout.from, dropout.kind));
    found
}

struct View<'a> {
    pair: Pair<'a>,
    seconds: &'a [Second],
    pub(super) settings: &'a DropOutSettings,
}

impl View<'_> {
    fn second(&self, index: i64) -> Option<&Second> {
        let offset = usize::try_from(index - self.seconds[0].index).ok()?;
        self.seconds.get(offset)
    }

    /// Whether the reference shows work in a second; `None` if it says nothing.
    fn works(&self, index: i64) -> Option<bool> {
        let second = self.second(index)?;
        Some(shows_work(
            second.reference?.value,
            second.cadence_rpm,
            self.settings,
        ))
    }

    fn lost_kj(&self, from: Timestamp, to: Timestamp, shown_w: f64) -> f64 {
        self.pair
            .reference
            .power_w
            .mean_over(from, to)
            .map_or(0.0, |mean| {
                ((mean.value - shown_w) * mean.covered.as_secs_f64() / 1000.0).max(0.0)
            })
    }

    fn dropout(&self, kind: DropOutKind, from: Timestamp, to: Timestamp, shown_w: f64) -> DropOut {
        let lost_kj = match kind {
            DropOutKind::Coasting => 0.0,
            _ => self.lost_kj(from, to, shown_w),
        };
        DropOut {
            kind,
            from,
            to,
            lost_kj,
        }
    }

    /// Gaps: longer than a value may be held.
    fn missing(&self, end: Timestamp) -> Vec<DropOut> {
        let power = &self.pair.under_test.power_w;
        let arrivals = &self.pair.under_test.arrivals;
        let interval = usual_interval(power);
        let epoch_before = |at: Timestamp| {
            let after = arrivals.partition_point(|arrival| arrival.at <= at);
            after.checked_sub(1).map(|index| arrivals[index].epoch)
        };
        let mut found = Vec::new();
        for index in 0..power.len() {
            let at = power.times()[index];
            let next = power.times().get(index + 1).copied();
            let to = match next {
                Some(next) if power.held_until(index) < next => next,
                None if at + power.hold_limit() < end => end,
                _ => continue,
            };
            let kind = match next {
                Some(next) if epoch_before(next) != epoch_before(at) => DropOutKind::Reconnection,
                _ => DropOutKind::MissingPackets,
            };
            let from = (at + interval).min(to);
            found.push(self.dropout(kind, from, to, 0.0));
        }
        found
    }

    /// Zeros: under load, or coasting.
    fn zeros(&self, found: &mut Vec<DropOut>) {
        let power = &self.pair.under_test.power_w;
        for (from, to, _) in
            runs(power, |a, b| (a <= 0.0) == (b <= 0.0)).filter(|&(_, _, value)| value <= 0.0)
        {
            let first = floor_s(from);
            let last = floor_s(to);
            let around = first - EDGE_S..=last + EDGE_S;
            if around
                .clone()
                .filter_map(|index| self.works(index))
                .all(|works| works)
                && around.clone().any(|index| self.works(index).is_some())
            {
                found.push(self.dropout(DropOutKind::ZeroUnderLoad, from, to, 0.0));
                continue;
            }
            let mut coasting = true;
            let mut begun: Option<i64> = None;
            for index in first + EDGE_S..=last - EDGE_S + 1 {
                let works = index <= last - EDGE_S && self.works(index).unwrap_or(false);
                match (works, begun) {
                    (true, None) => begun = Some(index),
                    (false, Some(start)) => {
                        if index - start >= SHORTEST_S {
                            coasting = false;
                            let (from, to) =
                                (Timestamp::from_secs(start), Timestamp::from_secs(index));
                            found.push(self.dropout(DropOutKind::ZeroUnderLoad, from, to, 0.0));
                        }
                        begun = None;
                    }
                    _ => {}
                }
            }
            if coasting && to - from >= Span::from_secs(SHORTEST_S) {
                found.push(self.dropout(DropOutKind::Coasting, from, to, 0.0));
            }
        }
    }

    /// One value again and again.
    fn frozen(&self, found: &mut Vec<DropOut>) {
        let power = &self.pair.under_test.power_w;
        let length = |from: Timestamp, to: Timestamp| (to - from).as_secs_f64();
        let mut lengths: Vec<f64> = runs(power, |a, b| a == b)
            .filter(|&(_, _, value)| value > 0.0)
            .map(|(from, to, _)| length(from, to))
            .collect();
        if lengths.is_empty() {
            return;
        }
        let place = (lengths.len() - 1) * 95 / 100;
        let usual_s = *lengths.select_nth_unstable_by(place, f64::total_cmp).1;
        for (from, to, value) in runs(power, |a, b| a == b) {
            let run_s = length(from, to);
            if value <= 0.0 || run_s < self.settings.frozen_after_s {
                continue;
            }
            let means: Vec<f64> = (floor_s(from)..floor_s(to))
                .filter_map(|index| Some(self.second(index)?.reference?.value))
                .collect();
            let echoes = (floor_s(from)..=floor_s(to))
                .filter_map(|index| self.second(index))
                .any(|second| is_target(value, second));
            if echoes {
                continue;
            }
            let Some((moved_w, reference_w)) = movement(&means) else {
                continue;
            };
            if is_frozen(run_s, usual_s, moved_w, reference_w, self.settings) {
                found.push(self.dropout(DropOutKind::Frozen, from, to, value));
            }
        }
    }
}

fn floor_s(at: Timestamp) -> i64 {
    at.as_nanos().div_euclid(1_000_000_000)
}

/// Usual interval between samples.
fn usual_interval(series: &Series) -> Span {
    let mut intervals: Vec<Span> = series
        .times()
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .collect();
    if intervals.is_empty() {
        return Span::ZERO;
    }
    let middle = intervals.len() / 2;
    *intervals.select_nth_unstable(middle).1
}

/// Runs of samples that belong together by `same`, not across gaps: (from, to, first value). A
/// run lasts until the sample after it, or as long as its last value was held.
fn runs<'a>(
    series: &'a Series,
    same: impl Fn(f64, f64) -> bool + 'a,
) -> impl Iterator<Item = (Timestamp, Timestamp, f64)> + 'a {
    let (times, values) = (series.times(), series.values());
    let mut start = 0;
    std::iter::from_fn(move || {
        if start >= values.len() {
            return None;
        }
        let mut end = start + 1;
        while end < values.len() && same(values[start], values[end]) && !series.gap_after(end - 1) {
            end += 1;
        }
        let run = (times[start], series.held_until(end - 1), values[start]);
        start = end;
        Some(run)
    })
}
