//! Where the recorder's clock jumped: the most likely course of the lag, ten seconds by ten
//! seconds.
//!
//! Every block of ten seconds says how well it fits at every lag near the rough ones. A course
//! through the blocks may stay, creep by a quarter of a second for a drift of the clock, or jump for
//! a price that chance does not pay (Viterbi's search). The moment of a jump is then looked for
//! point by point; a pause that shows as a gap in the records is where it was.

use super::sides::{Side, Sides};
use crate::align::STEP_S;
use crate::stats::autocorrelation::long_run_variance;
use crate::stats::order::quantile;
use std::ops::Range;
use units::{Series, Span, Timestamp};

/// Points of a block: 10 s.
const BLOCK: usize = 20;
/// Spacing of the lags that are tried, s.
const LAG_STEP_S: f64 = 0.25;
/// How far around a rough lag is tried, steps of the lag: 4 s.
const REACH: i64 = 16;
/// Points on either side over which the slow part is taken: 30 s.
const SLOW: usize = 60;
/// What a creep by one step of the lag costs, in units of log-likelihood.
const CREEP_COST: f64 = 6.0;
/// What a jump costs.
const JUMP_COST: f64 = 16.0;
/// From this change on, within a few blocks, a change of the lag is a jump and no drift, s.
const LEAST_JUMP_S: f64 = 0.7;
/// A point counts as a misfit of at most this many variances: one drop-out decides nothing.
const WORST: f64 = 9.0;
/// What a point costs for which the reference has no value at that lag.
const MISSING: f64 = 1.5;
/// A moment of a jump is ruled out where it is less likely by this, in units of log-likelihood. The
/// likelihood ratio of a wrong moment to the true one, followed to one side, is a martingale of mean
/// one, so that chance lifts it to eˢ anywhere with a probability of at most e⁻ˢ (Ville's
/// inequality): the true moment is ruled out in fewer than two rides in a thousand, both sides
/// together, as far as the misfits scatter as they are taken to.
const SURE: f64 = 7.0;
/// Seconds on either side of a jump that belong to no stretch: what smoothing mixes.
const MARGIN_S: f64 = 5.0;
/// Two instruments see a change at moments that differ by about this, s.
const TIMING_S: f64 = 0.15;
/// Lags over which residuals are correlated, points: 8 s.
const MEMORY: usize = 16;

/// A stretch without a jump.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stretch {
    /// The most likely moment of the jump before it, on the recorder's clock.
    pub(super) from: Timestamp,
    /// Between these moments the jump surely lies; what is there belongs to no stretch.
    pub(super) unsure: (Timestamp, Timestamp),
    /// Its lag, to a quarter of a second.
    pub(super) lag_s: f64,
}

/// The stretches of a recording. `None` if nothing overlaps.
pub(super) fn stretches(sides: &Sides, rough_s: &[f64], records: &Series) -> Option<Vec<Stretch>> {
    let sides = sides.smoothed(1);
    let lags = lags(rough_s);
    let fits = Fits::of(&sides, &lags)?;
    let course = fits.course()?;
    let jump = |blocks: Range<usize>| {
        let lags_s = [blocks.start, blocks.end].map(|block| lags[course[block]].lag_s);
        let switch = switch(&sides, &blocks, lags_s, fits.inflation);
        let (from, unsure) = boundary(&sides.stream, switch, records);
        Begun {
            stretch: Stretch {
                from,
                unsure,
                lag_s: lags_s[1],
            },
            blocks,
        }
    };
    let beginning = Timestamp::from_nanos(i64::MIN);
    let mut begun = vec![Begun {
        stretch: Stretch {
            from: beginning,
            unsure: (beginning, beginning),
            lag_s: lags[course[0]].lag_s,
        },
        blocks: 0..0,
    }];
    begun.extend(jumps(&course, &lags).into_iter().map(jump));
    let end = Timestamp::from_secs_f64(sides.stream.moment_s(sides.stream.uniform.values.len()));
    Some(without_short(begun, sides.stream.from_s, end, jump))
}

/// A stretch, and the jump before it: the last block of the stretch before and its own first.
struct Begun {
    stretch: Stretch,
    blocks: Range<usize>,
}

/// Where a stretch begins, and between which moments that surely is.
fn boundary(
    stream: &Side,
    switch: Switch,
    records: &Series,
) -> (Timestamp, (Timestamp, Timestamp)) {
    let moment = |point: usize| Timestamp::from_secs_f64(stream.moment_s(point));
    let margin = Span::from_secs_f64(MARGIN_S);
    let surely = (moment(switch.earliest), moment(switch.latest));
    let (since, from, until) = match gap_within(records, surely) {
        Some((before, behind)) => (before, behind, behind),
        None => (surely.0, moment(switch.likely), surely.1),
    };
    (from, (since - margin, until + margin))
}

/// Leaves out stretches of less than a minute, which tell no lag: at either end their neighbour goes
/// on, and between two jumps nobody is sure. The jump over what was left out is looked for anew: its
/// parts were looked for with a lag that is no longer believed, and may lie beside it.
fn without_short(
    begun: Vec<Begun>,
    from_s: f64,
    end: Timestamp,
    jump: impl Fn(Range<usize>) -> Begun,
) -> Vec<Stretch> {
    const SHORTEST_S: f64 = 60.0;
    let mut kept: Vec<Stretch> = Vec::new();
    // Where what is left out began, and what is unsure of it, while it goes on.
    let mut left_out: Option<(usize, (Timestamp, Timestamp))> = None;
    for (place, Begun { stretch, blocks }) in begun.iter().enumerate() {
        let from_s = stretch.unsure.1.as_secs_f64().max(from_s);
        let until = (begun.get(place + 1)).map_or(end, |next| next.stretch.unsure.0);
        if until.as_secs_f64() - from_s < SHORTEST_S {
            left_out = Some(match left_out {
                Some((block, unsure)) => (block, both(unsure, stretch.unsure)),
                None => (blocks.start, stretch.unsure),
            });
            continue;
        }
        let left_out = left_out.take();
        // An excursion that comes back is a bad minute and no jump.
        let came_back = |last: &Stretch| (last.lag_s - stretch.lag_s).abs() < 0.5 * LEAST_JUMP_S;
        if kept.last().is_some_and(came_back) {
            continue;
        }
        kept.push(match left_out {
            Some((block, unsure)) if !kept.is_empty() => {
                let over = jump(block..blocks.end).stretch;
                Stretch {
                    unsure: both(over.unsure, both(unsure, stretch.unsure)),
                    ..over
                }
            }
            _ => *stretch,
        });
    }
    if let Some(first) = kept.first_mut() {
        let beginning = Timestamp::from_nanos(i64::MIN);
        first.from = beginning;
        first.unsure = (beginning, beginning);
    }
    kept
}

/// The time from the earlier beginning to the later end.
fn both(a: (Timestamp, Timestamp), b: (Timestamp, Timestamp)) -> (Timestamp, Timestamp) {
    (a.0.min(b.0), a.1.max(b.1))
}

/// A lag that is tried, and the rough lag around which it lies.
#[derive(Clone, Copy, Debug)]
struct Tried {
    lag_s: f64,
    group: usize,
}

/// The lags near the rough ones, in order; each once.
fn lags(rough_s: &[f64]) -> Vec<Tried> {
    let mut steps: Vec<i64> = rough_s
        .iter()
        .flat_map(|rough| {
            let middle = (rough / LAG_STEP_S).round() as i64;
            middle - REACH..=middle + REACH
        })
        .collect();
    steps.sort_unstable();
    steps.dedup();
    let mut group = 0;
    let mut lags: Vec<Tried> = Vec::with_capacity(steps.len());
    for (place, step) in steps.iter().enumerate() {
        if place > 0 && step - steps[place - 1] > 1 {
            group += 1;
        }
        lags.push(Tried {
            lag_s: *step as f64 * LAG_STEP_S,
            group,
        });
    }
    lags
}

/// How well every point fits at every lag.
struct Fits {
    points: usize,
    /// By lag, then by point: misfit in variances, less than [`WORST`].
    costs: Vec<Vec<f32>>,
    /// By how much the misfits of neighbouring points say the same.
    inflation: f64,
    groups: Vec<usize>,
}

impl Fits {
    fn of(sides: &Sides, lags: &[Tried]) -> Option<Self> {
        let stream = quick(&sides.stream.uniform.values, &sides.stream.uniform.valid);
        let references: Vec<Vec<Option<(f64, f64)>>> = {
            let uniform = &sides.reference.uniform;
            let slow = slow(&uniform.values, &uniform.valid);
            lags.iter()
                .map(|lag| {
                    (0..stream.len())
                        .map(|point| {
                            let moment_s = sides.stream.moment_s(point) - lag.lag_s;
                            let sample = sides.reference_at(moment_s)?;
                            let place = (moment_s - sides.reference.from_s) / STEP_S;
                            let slow = slow.get(place.round() as usize)?;
                            Some((sample.value - slow, sample.slope))
                        })
                        .collect()
                })
                .collect()
        };
        let best = best_lags(&stream, &references);
        let (gain, variance, inflation) = scales(&stream, &references, &best)?;
        let costs = references
            .iter()
            .map(|reference| {
                stream
                    .iter()
                    .zip(reference)
                    .map(|(stream, reference)| match (stream, reference) {
                        (None, _) => 0.0,
                        (Some(_), None) => MISSING as f32,
                        (Some(stream), Some((value, slope))) => {
                            let scale = variance + (gain * slope * TIMING_S).powi(2);
                            ((stream - gain * value).powi(2) / scale).min(WORST) as f32
                        }
                    })
                    .collect()
            })
            .collect();
        Some(Self {
            points: stream.len(),
            costs,
            inflation,
            groups: lags.iter().map(|lag| lag.group).collect(),
        })
    }

    fn block(&self, lag: usize, points: Range<usize>) -> f64 {
        let sum: f32 = self.costs[lag][points].iter().sum();
        f64::from(sum) / (2.0 * self.inflation)
    }

    fn blocks(&self) -> usize {
        self.points.div_ceil(BLOCK)
    }

    fn points_of(&self, block: usize) -> Range<usize> {
        block * BLOCK..((block + 1) * BLOCK).min(self.points)
    }

    /// The most likely lag of every block, as an index.
    fn course(&self) -> Option<Vec<usize>> {
        let lags = self.costs.len();
        let mut totals = vec![0.0; lags];
        let mut cames: Vec<Vec<usize>> = Vec::with_capacity(self.blocks());
        for block in 0..self.blocks() {
            let cheapest = cheapest(&totals)?;
            let mut came = Vec::with_capacity(lags);
            let mut next = Vec::with_capacity(lags);
            for lag in 0..lags {
                let mut from = (lag, totals[lag]);
                if block > 0 {
                    let creep = [lag.checked_sub(1), Some(lag + 1)];
                    for beside in creep.into_iter().flatten() {
                        if self.groups.get(beside) == Some(&self.groups[lag])
                            && totals[beside] + CREEP_COST < from.1
                        {
                            from = (beside, totals[beside] + CREEP_COST);
                        }
                    }
                    if totals[cheapest] + JUMP_COST < from.1 {
                        from = (cheapest, totals[cheapest] + JUMP_COST);
                    }
                }
                came.push(from.0);
                next.push(from.1 + self.block(lag, self.points_of(block)));
            }
            totals = next;
            cames.push(came);
        }
        let mut lag = cheapest(&totals)?;
        let mut course = Vec::with_capacity(cames.len());
        for came in cames.iter().rev() {
            course.push(lag);
            lag = came[lag];
        }
        course.reverse();
        Some(course)
    }
}

/// How far from its block the moment of a jump is looked for, points: 1 min, for the slow part of
/// either side of a jump holds something of the other.
const AROUND: usize = 120;
/// How far to either side of that the levels are compared, points: 3 min.
const LEVELS: usize = 360;

/// The point from which the lag after a jump fits better than that before it, and the points between
/// which it surely lies.
#[derive(Clone, Copy, Debug)]
struct Switch {
    likely: usize,
    earliest: usize,
    latest: usize,
}

fn switch(sides: &Sides, jump: &Range<usize>, lags_s: [f64; 2], inflation: f64) -> Switch {
    let points = sides.stream.uniform.values.len();
    let from = (jump.start * BLOCK).saturating_sub(AROUND);
    let to = ((jump.end + 1) * BLOCK + AROUND).min(points);
    let pair = |point: usize, lag_s: f64| {
        let reference = sides.reference_at(sides.stream.moment_s(point) - lag_s)?;
        Some((sides.stream_at(point)?.value, reference))
    };
    // Away from the jump it is plain which lag holds: there the levels are compared.
    let near: Vec<Left> = (from.saturating_sub(LEVELS)..from)
        .filter_map(|point| pair(point, lags_s[0]))
        .chain((to..(to + LEVELS).min(points)).filter_map(|point| pair(point, lags_s[1])))
        .map(|(stream, reference)| (stream, reference.value, reference.slope))
        .collect();
    let Some(level) = Level::of(&near) else {
        return Switch {
            likely: (from + to) / 2,
            earliest: from,
            latest: to,
        };
    };
    let of = |lag_s: f64| -> Vec<(Option<Left>, f64)> {
        (from..to)
            .map(|point| {
                let left = pair(point, lag_s)
                    .map(|(stream, reference)| (stream, reference.value, reference.slope));
                let missing = sides.stream.uniform.valid[point] && left.is_none();
                (left, if missing { MISSING } else { 0.0 })
            })
            .collect()
    };
    let gained = level.gained(&near, &of(lags_s[0]), &of(lags_s[1]));
    let best = gained.iter().copied().fold(f64::MIN, f64::max);
    let enough = best - 2.0 * inflation * SURE;
    let first = |good: f64| gained.iter().position(|gained| *gained >= good);
    let last = gained.iter().rposition(|gained| *gained >= enough);
    Switch {
        likely: from + first(best).unwrap_or(0),
        earliest: from + first(enough).unwrap_or(0),
        latest: from + last.unwrap_or(0),
    }
}

/// Stream, reference and slope of the reference at one point.
type Left = (f64, f64, f64);

/// How the stream follows the reference, level for level.
struct Level {
    gain: f64,
    offset: f64,
    variance: f64,
}

impl Level {
    fn of(near: &[Left]) -> Option<Self> {
        let n = near.len() as f64;
        let (b, a) = (
            near.iter().map(|left| left.0).sum::<f64>() / n,
            near.iter().map(|left| left.1).sum::<f64>() / n,
        );
        let (mut aa, mut ab) = (0.0, 0.0);
        for left in near {
            aa += (left.1 - a).powi(2);
            ab += (left.0 - b) * (left.1 - a);
        }
        let gain = ab / aa;
        let mut level = Self {
            gain,
            offset: b - gain * a,
            variance: 0.0,
        };
        let sizes: Vec<f64> = near
            .iter()
            .map(|left| (left.0 - level.gain * left.1 - level.offset).abs())
            .collect();
        level.variance = (1.4826 * quantile(&sizes, 0.5)?).max(0.05).powi(2);
        gain.is_finite().then_some(level)
    }

    /// Variance of a residual where the reference changes so steeply.
    fn scale(&self, slope: f64) -> f64 {
        self.variance + (self.gain * slope * TIMING_S).powi(2)
    }

    fn cost(&self, left: &Left, scale: f64) -> f64 {
        ((left.0 - self.gain * left.1 - self.offset).powi(2) / scale).min(WORST)
    }

    /// By how much each place of the jump among some points is more likely than before the first, in
    /// halves of log-likelihood. Gain and offset are fitted anew for each: what is ridden near the
    /// jump may lie outside the levels on either side, where they are not known well enough to
    /// judge it (a profile likelihood). Each point comes with what it costs besides.
    fn gained(
        &self,
        near: &[Left],
        before: &[(Option<Left>, f64)],
        behind: &[(Option<Left>, f64)],
    ) -> Vec<f64> {
        let near: Vec<(Option<Left>, f64)> = near.iter().map(|left| (Some(*left), 0.0)).collect();
        let mut sums = Sums::default();
        for (left, _) in near.iter().chain(behind) {
            sums.add(self, left.as_ref(), 1.0);
        }
        let mut costs = Vec::with_capacity(before.len() + 1);
        for place in 0..=before.len() {
            if place > 0 {
                sums.add(self, before[place - 1].0.as_ref(), 1.0);
                sums.add(self, behind[place - 1].0.as_ref(), -1.0);
            }
            let level = sums.level(self);
            let points = near.iter().chain(&before[..place]).chain(&behind[place..]);
            let cost: f64 = points
                .map(|(left, besides)| match left {
                    Some(left) => besides + level.cost(left, self.scale(left.2)),
                    None => *besides,
                })
                .sum();
            costs.push(cost);
        }
        costs.iter().map(|cost| costs[0] - cost).collect()
    }
}

/// Weighted sums from which gain and offset follow.
#[derive(Default)]
struct Sums {
    n: f64,
    a: f64,
    b: f64,
    aa: f64,
    ab: f64,
}

impl Sums {
    /// Adds a point or takes it away; one that hardly fits weighs less (Huber's bound).
    fn add(&mut self, level: &Level, left: Option<&Left>, sign: f64) {
        let Some(left) = left else { return };
        let scale = level.scale(left.2);
        let size = (left.0 - level.gain * left.1 - level.offset).abs() / scale.sqrt();
        let weight = sign * (WORST.sqrt() / size.max(1e-9)).min(1.0) / scale;
        self.n += weight;
        self.a += weight * left.1;
        self.b += weight * left.0;
        self.aa += weight * left.1 * left.1;
        self.ab += weight * left.1 * left.0;
    }

    /// The level of these points, or the one so far where they do not tell any.
    fn level(&self, so_far: &Level) -> Level {
        let (a, b) = (self.a / self.n, self.b / self.n);
        let gain = (self.ab - self.n * a * b) / (self.aa - self.n * a * a);
        let told = gain.is_finite();
        Level {
            gain: if told { gain } else { so_far.gain },
            offset: if told { b - gain * a } else { so_far.offset },
            variance: so_far.variance,
        }
    }
}

fn cheapest(totals: &[f64]) -> Option<usize> {
    (0..totals.len()).min_by(|a, b| totals[*a].total_cmp(&totals[*b]))
}

/// Jumps of a course: the last block of the stretch before, and the first block of the one behind.
fn jumps(course: &[usize], lags: &[Tried]) -> Vec<Range<usize>> {
    // A jump may be spread over two blocks.
    const TOGETHER: usize = 3;
    let lag_s = |block: usize| lags[course[block]].lag_s;
    let mut jumps: Vec<Range<usize>> = Vec::new();
    let mut block = 1;
    while block < course.len() {
        if course[block] != course[block - 1] {
            let mut end = block;
            for later in block + 1..(block + TOGETHER).min(course.len()) {
                if course[later] != course[later - 1] {
                    end = later;
                }
            }
            if (lag_s(end) - lag_s(block - 1)).abs() >= LEAST_JUMP_S {
                jumps.push(block - 1..end);
                block = end + 1;
                continue;
            }
        }
        block += 1;
    }
    jumps
}

/// A pause that shows as a gap in the records is where the clock jumped: the longest gap near the
/// place, from the record before it to the one after.
fn gap_within(
    records: &Series,
    (earliest, latest): (Timestamp, Timestamp),
) -> Option<(Timestamp, Timestamp)> {
    let near = Span::from_secs_f64(MARGIN_S);
    let times = records.times();
    let range = records.range(earliest - near, latest + near);
    range
        .filter(|index| records.gap_after(*index))
        .filter_map(|index| Some((times[index], *times.get(index + 1)?)))
        .max_by_key(|(from, to)| *to - *from)
}

/// Mean over a minute around every point.
fn slow(values: &[f64], valid: &[bool]) -> Vec<f64> {
    let (mut sums, mut counts) = (vec![0.0], vec![0.0]);
    for (value, valid) in values.iter().zip(valid) {
        sums.push(sums[sums.len() - 1] + if *valid { *value } else { 0.0 });
        counts.push(counts[counts.len() - 1] + f64::from(u8::from(*valid)));
    }
    (0..values.len())
        .map(|point| {
            let (from, to) = (
                point.saturating_sub(SLOW),
                (point + SLOW + 1).min(values.len()),
            );
            (sums[to] - sums[from]) / f64::max(counts[to] - counts[from], 1.0)
        })
        .collect()
}

/// What varies quickly; `None` where missing.
fn quick(values: &[f64], valid: &[bool]) -> Vec<Option<f64>> {
    slow(values, valid)
        .iter()
        .zip(values.iter().zip(valid))
        .map(|(slow, (value, valid))| valid.then_some(value - slow))
        .collect()
}

/// The lag that fits each stretch of a minute best on its own, for a first idea of the scatter.
fn best_lags(stream: &[Option<f64>], references: &[Vec<Option<(f64, f64)>>]) -> Vec<usize> {
    const MINUTE: usize = 6 * BLOCK;
    let mut best = Vec::with_capacity(stream.len());
    for from in (0..stream.len()).step_by(MINUTE) {
        let points = from..(from + MINUTE).min(stream.len());
        let correlation = |reference: &Vec<Option<(f64, f64)>>| -> f64 {
            let (mut ab, mut aa, mut bb) = (0.0, 0.0, 0.0);
            for point in points.clone() {
                if let (Some(b), Some((a, _))) = (stream[point], reference[point]) {
                    ab += a * b;
                    aa += a * a;
                    bb += b * b;
                }
            }
            let energy = f64::sqrt(aa * bb);
            if energy > 0.0 { ab / energy } else { -1.0 }
        };
        let of: Vec<f64> = references.iter().map(correlation).collect();
        let lag = (0..of.len())
            .max_by(|a, b| of[*a].total_cmp(&of[*b]))
            .unwrap_or(0);
        best.extend(std::iter::repeat_n(lag, points.len()));
    }
    best
}

/// Gain, variance of what is left over, and how much longer than a point it lasts.
fn scales(
    stream: &[Option<f64>],
    references: &[Vec<Option<(f64, f64)>>],
    best: &[usize],
) -> Option<(f64, f64, f64)> {
    let pairs: Vec<(f64, f64)> = stream
        .iter()
        .zip(best)
        .enumerate()
        .filter_map(|(point, (stream, lag))| Some(((*stream)?, references[*lag][point]?.0)))
        .collect();
    let squares: f64 = pairs.iter().map(|(_, a)| a * a).sum();
    if pairs.is_empty() || squares <= 0.0 {
        return None;
    }
    let gain = pairs.iter().map(|(b, a)| a * b).sum::<f64>() / squares;
    let left: Vec<f64> = pairs.iter().map(|(b, a)| b - gain * a).collect();
    let sizes: Vec<f64> = left.iter().map(|left| left.abs()).collect();
    // From the median size, which no sprint moves; 1.4826 makes it a standard deviation.
    let sd = (1.4826 * quantile(&sizes, 0.5)?).max(0.05);
    let bounded: Vec<f64> = left
        .iter()
        .map(|left| left.clamp(-3.0 * sd, 3.0 * sd))
        .collect();
    let variance = bounded.iter().map(|left| left * left).sum::<f64>() / bounded.len() as f64;
    let inflation = long_run_variance(&bounded, MEMORY) / variance.max(1e-9);
    Some((gain, sd * sd, inflation.clamp(2.0, 16.0)))
}
