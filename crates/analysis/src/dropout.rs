//! Drop-outs: what the device did not report, told apart and never averaged in.
//!
//! Kinds: packets that did not come; zero while the reference shows work; one value repeated while
//! the reference moves; a link that was lost and came back; and true coasting, which is listed
//! but is no fault. Repeated values need care, because a smoothed device in whole watts repeats
//! itself honestly: a run counts as frozen only if it is far longer than the device's usual runs
//! while the reference is alive, or if the reference moved by more than a live value could hide.
//! A value that repeats the commanded power is left to the examination of target echo.

use crate::examinations::{DropOut, DropOutKind};
use crate::grid::{Pair, Second};
use crate::settings::DropOutSettings;
use units::{Series, Span, Timestamp};

/// Seconds at either end of a zero in which the reference may still be spinning up or down.
const EDGE_S: i64 = 2;
/// Shortest coasting and shortest work inside a longer zero that are listed, s.
const SHORTEST_S: i64 = 2;
/// How many times longer than the 95th percentile of its runs a frozen value lasts.
const FAR_LONGER: f64 = 4.0;
/// The reference is alive if it moved at least this much meanwhile, W.
const ALIVE_W: f64 = 2.0;
/// A value this close to the commanded power is the commanded power, W.
const SAME_AS_TARGET_W: f64 = 0.5;
/// Where the device usually repeats itself, the reference has to move this many times more.
const REPEATER: f64 = 3.0;

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

/// Whether a run of one repeated value is frozen rather than honest.
///
/// `usual_s` is the 95th percentile of the device's runs; the reference moved by `moved_w` around
/// `reference_w` meanwhile.
fn is_frozen(
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

struct View<'a> {
    pair: Pair<'a>,
    seconds: &'a [Second],
    settings: &'a DropOutSettings,
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

/// Range of three-second means, and the mean, of seconds in a row.
fn movement(means: &[f64]) -> Option<(f64, f64)> {
    let smooth = means
        .windows(3)
        .map(|three| three.iter().sum::<f64>() / 3.0);
    let (low, high) = smooth.fold((f64::MAX, f64::MIN), |(low, high), mean| {
        (low.min(mean), high.max(mean))
    });
    (low <= high).then(|| (high - low, means.iter().sum::<f64>() / means.len() as f64))
}

/// Whether a value is the commanded power of a second.
fn is_target(value_w: f64, second: &Second) -> bool {
    second
        .target_w
        .is_some_and(|target_w| (value_w - target_w).abs() <= SAME_AS_TARGET_W)
}

fn shows_work(reference_w: f64, cadence_rpm: Option<f64>, settings: &DropOutSettings) -> bool {
    reference_w > settings.work_above_w
        && cadence_rpm.is_none_or(|rpm| rpm > settings.pedalling_above_rpm)
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

/// What goes on in the present second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EpisodeKind {
    /// The device shows zero while the reference shows work.
    ZeroUnderLoad,
    /// The device repeats one value while the reference moves.
    Frozen,
    /// Nothing comes from the device.
    DeviceMissing,
    /// Nothing comes from the reference.
    ReferenceMissing,
}

/// A drop-out that is going on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Episode {
    /// What it is.
    pub kind: EpisodeKind,
    /// First second.
    pub from_s: i64,
    /// One past the last second so far.
    pub to_s: i64,
}

/// The live form: fed one second at a time, it names what has been going on for long enough.
#[derive(Clone, Debug)]
pub struct Tracker {
    settings: DropOutSettings,
    since: [Option<i64>; 3],
    repeated: Option<Repeated>,
    /// How many runs of one value lasted so many seconds.
    run_lengths: Vec<u32>,
}

/// Whether a repeated value was the commanded power at any time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Echo {
    Yes,
    No,
}

#[derive(Clone, Debug)]
struct Repeated {
    value_w: f64,
    from_s: i64,
    is_target: Echo,
    reference_w: Vec<f64>,
}

impl Tracker {
    /// With the settings in force.
    pub fn new(settings: &DropOutSettings) -> Self {
        Self {
            settings: settings.clone(),
            since: [None; 3],
            repeated: None,
            run_lengths: Vec::new(),
        }
    }

    /// Takes the next second and says what is going on.
    pub fn push(&mut self, second: &Second) -> Vec<Episode> {
        let works = second
            .reference
            .is_some_and(|held| shows_work(held.value, second.cadence_rpm, &self.settings));
        let states = [
            (
                EpisodeKind::ZeroUnderLoad,
                works && second.under_test.is_some_and(|held| held.high <= 0.0),
            ),
            // An instrument may sleep while nobody rides: silence counts while the other works.
            (
                EpisodeKind::DeviceMissing,
                works && second.under_test.is_none(),
            ),
            (
                EpisodeKind::ReferenceMissing,
                second.reference.is_none()
                    && second
                        .under_test
                        .is_some_and(|held| held.low > self.settings.work_above_w),
            ),
        ];
        let to_s = second.index + 1;
        let mut episodes = Vec::new();
        for ((kind, active), since) in states.into_iter().zip(&mut self.since) {
            if !active {
                *since = None;
                continue;
            }
            let from_s = *since.get_or_insert(second.index);
            if to_s - from_s >= i64::from(self.settings.flag_after_s) {
                episodes.push(Episode { kind, from_s, to_s });
            }
        }
        episodes.extend(self.push_repeated(second));
        episodes
    }

    fn push_repeated(&mut self, second: &Second) -> Option<Episode> {
        let steady = second
            .under_test
            .filter(|held| held.low == held.high && held.high > 0.0);
        let continues = match (steady, &self.repeated) {
            (Some(held), Some(repeated)) => held.value == repeated.value_w,
            _ => false,
        };
        if !continues {
            if let Some(repeated) = self.repeated.take() {
                let length = (second.index - repeated.from_s).max(0) as usize;
                let place = length.min(3600);
                if self.run_lengths.len() <= place {
                    self.run_lengths.resize(place + 1, 0);
                }
                self.run_lengths[place] += 1;
            } else if second.under_test.is_some() {
                // A second with several values: runs shorter than a second.
                if self.run_lengths.is_empty() {
                    self.run_lengths.push(0);
                }
                self.run_lengths[0] += 1;
            }
            self.repeated = steady.map(|held| Repeated {
                value_w: held.value,
                from_s: second.index,
                is_target: Echo::No,
                reference_w: Vec::new(),
            });
        }
        let usual_s = self.usual_run_s();
        let repeated = self.repeated.as_mut()?;
        if is_target(repeated.value_w, second) {
            repeated.is_target = Echo::Yes;
        }
        if repeated.is_target == Echo::Yes {
            return None;
        }
        repeated
            .reference_w
            .extend(second.reference.map(|held| held.value));
        let to_s = second.index + 1;
        let run_s = (to_s - repeated.from_s) as f64;
        let (moved_w, reference_w) = movement(&repeated.reference_w)?;
        is_frozen(run_s, usual_s?, moved_w, reference_w, &self.settings).then_some(Episode {
            kind: EpisodeKind::Frozen,
            from_s: repeated.from_s,
            to_s,
        })
    }

    /// 95th percentile of the runs so far, at least one second; `None` before there were twenty.
    fn usual_run_s(&self) -> Option<f64> {
        let total: u32 = self.run_lengths.iter().sum();
        if total < 20 {
            return None;
        }
        let mut seen = 0;
        for (length, count) in self.run_lengths.iter().enumerate() {
            seen += count;
            if 100 * seen >= 95 * total {
                return Some((length as f64).max(1.0));
            }
        }
        None
    }
}
