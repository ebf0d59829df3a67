//! Placing: where a recording with a clock of its own lies on the clock of the reference.
//!
//! Recorders start minutes apart, their clocks run at different rates, and one may have paused
//! without counting the pause. So the place is searched window by window over all shifts; windows
//! that agree make a piece, and a jump between two pieces is accepted only if what follows fits
//! clearly better for it. What varies slowly is taken out first: two unrelated rides both rise and
//! fall over minutes, and only what the same legs did within seconds shows that a ride is the same.
//! Each piece then gets its lag by the same fine search as everything else, and all pieces share
//! one drift of the clock.
//!
//! What cannot be placed surely is refused, never guessed.

use super::coarse;
use super::spline::Uniform;
use super::variance;
use super::{INTERPOLATION_U_S, MIN_POINTS, STEP_S, TimeGrid};
use crate::findings::{Alignment, DriftApplied, LagQuantity, LagSegment};
use crate::outcome::{Estimate, NotTested};
use crate::settings::AlignSettings;
use crate::stats::normal::student_t_quantile;
use units::{Series, Span, Timestamp};

/// Grid points that are joined: 2 s.
const JOINED: usize = 4;
/// Length of one joined point, s.
const POINT_S: f64 = STEP_S * JOINED as f64;
/// Points of a window: 5 min.
const WINDOW: usize = 150;
/// Points from one window to the next.
const STRIDE: usize = 50;
/// Points over which the slow part is taken: 2 min on either side together.
const SLOW: usize = 60;
/// Share of a window that both streams have to cover.
const COVERED: f64 = 0.7;
/// Shifts of one window that are remembered.
const CANDIDATES: usize = 6;
/// Shifts that are tried for the whole recording.
const STATES: usize = 48;
/// What a jump has to gain, in correlation summed over windows: three windows that fit.
const JUMP_COST: f64 = 1.8;
/// Mean correlation of the windows below which the rides are not the same. Unrelated rides reach
/// 0.4 somewhere among all shifts.
const LEAST_CORRELATION: f64 = 0.65;
/// The same where the clock is said to have jumped: with jumps, chance reaches 0.6.
const LEAST_WITH_JUMPS: f64 = 0.75;
/// Windows that a place has to rest on: with their overlap about seven minutes.
const FEWEST_WINDOWS: usize = 3;
/// Shifts this near to each other are one place, points.
const SAME_PLACE: i64 = 5;
/// How far around the coarse place of a jump it is looked for, s.
const JUMP_REACH_S: i64 = 320;
/// A drift known better than this is applied whatever its size, ppm: two recorders have two
/// clocks, and leaving a drift of tens of ppm in is worse than an error of this size.
const KNOWN_DRIFT_PPM: f64 = 20.0;
/// Around a jump so much may not be judged, s.
pub const JUMP_MARGIN_S: f64 = 12.0;

/// Power and cadence of one recording.
#[derive(Clone, Copy, Debug)]
pub struct Recorded<'a> {
    /// Power, W.
    pub power_w: &'a Series,
    /// Cadence, rpm; may be empty.
    pub cadence_rpm: &'a Series,
}

/// Where a recording lies on the clock of the reference.
#[derive(Clone, Debug, PartialEq)]
pub struct Placement {
    /// Stretches between jumps of the clock, in order; never empty.
    pub pieces: Vec<Piece>,
    /// Drift of the clock, parts per million, where three segments or more agree on one.
    pub drift_ppm: Option<Estimate>,
    /// Whether the drift is applied: it is when it is known to 20 ppm, or when its 95 % interval
    /// excludes zero.
    pub drift_applied: DriftApplied,
    /// Moment on the recorder's clock at which the pieces' lags hold.
    pub pivot: Timestamp,
    /// Lags of the segments that were used.
    pub segments: Vec<LagSegment>,
    /// Mean correlation of the windows at this place, without what varies slowly.
    pub correlation: f64,
    /// The same at the next best place: how far this one stands out.
    pub rival: f64,
}

/// A stretch of a recording without a jump of its clock.
#[derive(Clone, Debug, PartialEq)]
pub struct Piece {
    /// Beginning on the recorder's clock; the first piece begins at the smallest moment.
    pub from: Timestamp,
    /// By how much the recorder's clock is ahead of the reference's, s.
    pub lag_s: f64,
    /// Its standard uncertainty, s.
    pub lag_u_s: f64,
}

impl Placement {
    /// A recording whose clock is that of the reference already.
    pub fn none() -> Self {
        Self {
            pieces: vec![Piece {
                from: Timestamp::from_nanos(i64::MIN),
                lag_s: 0.0,
                lag_u_s: 0.0,
            }],
            drift_ppm: None,
            drift_applied: DriftApplied::No,
            pivot: Timestamp::ZERO,
            segments: Vec::new(),
            correlation: 1.0,
            rival: 0.0,
        }
    }

    /// Where a moment of the recording lies on the clock of the reference.
    pub fn on_reference_clock(&self, at: Timestamp) -> Timestamp {
        let index = self.pieces.partition_point(|piece| piece.from <= at);
        let piece = &self.pieces[index.saturating_sub(1)];
        let mut late_s = piece.lag_s;
        if let (DriftApplied::Yes, Some(drift)) = (self.drift_applied, self.drift_ppm) {
            late_s += drift.value * 1e-6 * (at - self.pivot).as_secs_f64();
        }
        at - Span::from_secs_f64(late_s)
    }

    /// A series on the clock of the reference. Where a jump of the clock lays one stretch over
    /// another, what comes later is left out.
    pub fn series(&self, series: &Series) -> Series {
        let mut moved = Series::with_hold(series.hold_limit());
        for (index, (at, value)) in series.iter().enumerate() {
            let to = self.on_reference_clock(at);
            if moved.push(to, value).is_ok() && series.gap_after(index) {
                moved.break_at(self.on_reference_clock(series.held_until(index)));
            }
        }
        moved
    }

    /// Moves the whole recording: later by so much, by hand.
    pub fn nudge(&mut self, later: Span) {
        for piece in &mut self.pieces {
            piece.lag_s -= later.as_secs_f64();
        }
    }

    /// Jumps of the clock: when, on the clock of the reference, and by how much the recorder's
    /// clock fell behind, s.
    pub fn jumps(&self) -> Vec<(Timestamp, f64)> {
        self.pieces
            .windows(2)
            .map(|pair| {
                let at = self.on_reference_clock(pair[1].from);
                (at, pair[0].lag_s - pair[1].lag_s)
            })
            .collect()
    }

    /// The placement as an alignment of the findings.
    pub fn alignment(&self, source: &str) -> Alignment {
        let of = |quantity: LagQuantity| {
            let segments: Vec<LagSegment> = self
                .segments
                .iter()
                .copied()
                .filter(|segment| segment.quantity == quantity)
                .collect();
            super::weighted_mean(&segments)
        };
        let one_piece = self.pieces.len() == 1;
        Alignment {
            source: source.to_owned(),
            lag_s: self.pieces[0].lag_s,
            shift_s: self.pieces[0].lag_s,
            lag_u_s: self
                .pieces
                .iter()
                .fold(0.0, |u, piece| piece.lag_u_s.max(u)),
            drift_ppm: self.drift_ppm,
            pivot: self.pivot,
            drift_applied: self.drift_applied,
            from_power: of(LagQuantity::Power).filter(|_| one_piece),
            from_cadence: of(LagQuantity::Cadence).filter(|_| one_piece),
            segments: self.segments.clone(),
            refused: None,
        }
    }
}

/// Places a recording on the clock of the reference.
///
/// # Errors
/// [`NotTested`] with the reason if the two do not surely belong to one ride, or show too little
/// change to tell.
pub fn place(
    name: &str,
    reference: Recorded<'_>,
    stream: Recorded<'_>,
    settings: &AlignSettings,
) -> Result<Placement, NotTested> {
    let refused = |reason: String| NotTested {
        examination: super::EXAMINATION,
        reason: format!("{name}: {reason}"),
    };
    let quantities = [
        (LagQuantity::Power, reference.power_w, stream.power_w),
        (
            LagQuantity::Cadence,
            reference.cadence_rpm,
            stream.cadence_rpm,
        ),
    ];
    let mut found: Option<(Path, Vec<Window>)> = None;
    for (_, reference, stream) in quantities {
        let (Some(reference), Some(stream)) = (Joined::of(reference), Joined::of(stream)) else {
            continue;
        };
        let windows = windows(&reference, &stream);
        let path = path(&windows, JUMP_COST)
            .filter(|path| !path.jumps() || path.mean >= LEAST_WITH_JUMPS)
            .or_else(|| path(&windows, f64::INFINITY));
        if let Some(path) = path
            && found.as_ref().is_none_or(|(best, _)| path.mean > best.mean)
        {
            found = Some((path, windows));
        }
    }
    let Some((path, windows)) = found else {
        return Err(refused(
            "the two recordings overlap for less than seven minutes with changes of power or \
             cadence; record longer, with a few clear changes"
                .to_owned(),
        ));
    };
    if path.mean < LEAST_CORRELATION {
        return Err(refused(format!(
            "the two recordings do not resemble each other at any shift (correlation {:.2}, {:.2} \
             is asked for); they are not of one ride, or one of them hardly changes",
            path.mean, LEAST_CORRELATION
        )));
    }
    let rival = rival(&windows, &path);
    if path.mean - rival < 0.08 {
        return Err(refused(format!(
            "two places fit almost equally well (correlations {:.2} and {rival:.2}); the ride \
             repeats itself too evenly to tell them apart",
            path.mean
        )));
    }
    let rough = pieces(&path, &windows, reference.power_w, stream.power_w);
    fine(rough, quantities, settings, (path.mean, rival)).ok_or_else(|| {
        refused("no clear minimum: ride a few clear changes of power and cadence".to_owned())
    })
}

/// A stream in points of 2 s without its slow part; zero where missing.
struct Joined {
    from_s: f64,
    values: Vec<f64>,
    known: Vec<bool>,
}

impl Joined {
    fn of(series: &Series) -> Option<Self> {
        let (first, last) = (series.times().first()?, series.times().last()?);
        let from_s = (first.as_secs_f64() / POINT_S).floor() * POINT_S;
        let length_s = (last.as_secs_f64() - from_s).min(48.0 * 3600.0);
        let grid = TimeGrid {
            from_s,
            points: (length_s / STEP_S) as usize + 1,
        };
        let uniform = Uniform::resample(series, grid);
        let means: Vec<Option<f64>> = uniform
            .values
            .chunks(JOINED)
            .zip(uniform.valid.chunks(JOINED))
            .map(|(values, valid)| {
                let known = valid.iter().filter(|valid| **valid).count();
                let sum: f64 = values.iter().sum();
                // A missing value is zero in the grid, so the sum is that of the known ones.
                (known * 2 >= JOINED).then(|| sum / known as f64)
            })
            .collect();
        let (mut sums, mut counts) = (vec![0.0], vec![0.0]);
        for mean in &means {
            sums.push(sums[sums.len() - 1] + mean.unwrap_or(0.0));
            counts.push(counts[counts.len() - 1] + f64::from(u8::from(mean.is_some())));
        }
        let values = means
            .iter()
            .enumerate()
            .map(|(place, mean)| {
                let (from, to) = (
                    place.saturating_sub(SLOW / 2),
                    (place + SLOW / 2).min(means.len()),
                );
                let slow = (sums[to] - sums[from]) / (counts[to] - counts[from]).max(1.0);
                mean.map_or(0.0, |mean| mean - slow)
            })
            .collect();
        Some(Self {
            from_s,
            values,
            known: means.iter().map(Option::is_some).collect(),
        })
    }
}

/// One window of the stream with its correlation at every shift.
struct Window {
    /// First point in the stream.
    from: usize,
    /// Correlation by shift; the first shift is `lowest`.
    correlations: Vec<f64>,
    lowest: i64,
}

impl Window {
    fn at(&self, shift: i64) -> f64 {
        // The place may lie between two points, or drift by one.
        (shift - 1..=shift + 1)
            .filter_map(|shift| {
                self.correlations
                    .get(usize::try_from(shift - self.lowest).ok()?)
            })
            .fold(0.0, |best: f64, found| best.max(*found))
    }

    fn candidates(&self) -> Vec<i64> {
        let mut places: Vec<usize> = (0..self.correlations.len())
            .filter(|&place| {
                let here = self.correlations[place];
                let beside = |offset: i64| {
                    usize::try_from(place as i64 + offset)
                        .ok()
                        .and_then(|place| self.correlations.get(place))
                        .copied()
                        .unwrap_or(0.0)
                };
                here > 0.3 && here >= beside(-1) && here > beside(1)
            })
            .collect();
        places.sort_by(|a, b| self.correlations[*b].total_cmp(&self.correlations[*a]));
        places.truncate(CANDIDATES);
        places
            .into_iter()
            .map(|place| self.lowest + place as i64)
            .collect()
    }
}

/// Windows of the stream that show any change, each with its correlation at every shift. Shift s:
/// point j of the stream lies over point j − s of the reference.
fn windows(reference: &Joined, stream: &Joined) -> Vec<Window> {
    let n = reference.values.len();
    let mut squares = vec![0.0];
    let mut counts = vec![0_u32];
    for (value, known) in reference.values.iter().zip(&reference.known) {
        squares.push(squares[squares.len() - 1] + value * value);
        counts.push(counts[counts.len() - 1] + u32::from(*known));
    }
    let fewest = (COVERED * WINDOW as f64) as u32;
    let mut windows = Vec::new();
    let mut from = 0;
    while from + WINDOW <= stream.values.len() {
        let values = &stream.values[from..from + WINDOW];
        let known = stream.known[from..from + WINDOW]
            .iter()
            .filter(|known| **known)
            .count();
        let energy: f64 = values.iter().map(|value| value * value).sum();
        // Half a unit of scatter is a resting instrument, not a ride.
        if known as u32 >= fewest && energy > 0.25 * WINDOW as f64 {
            let mut correlations = vec![0.0; n.saturating_sub(WINDOW) + 1];
            if n >= WINDOW {
                for (start, correlation) in correlations.iter_mut().enumerate() {
                    let end = start + WINDOW;
                    let other = squares[end] - squares[start];
                    if counts[end] - counts[start] < fewest || other <= 0.25 * WINDOW as f64 {
                        continue;
                    }
                    let cross =
                        crate::stats::autocorrelation::dot(values, &reference.values[start..end]);
                    *correlation = (cross / (energy * other).sqrt()).max(0.0);
                }
                // By start in the reference, falling starts are rising shifts.
                correlations.reverse();
                let first_start = (n - WINDOW) as i64;
                windows.push(Window {
                    from,
                    correlations,
                    lowest: from as i64 - first_start,
                });
            }
        }
        from += STRIDE;
    }
    let offset = ((stream.from_s - reference.from_s) / POINT_S).round() as i64;
    // From here on a shift is between the two clocks, not between two arrays.
    for window in &mut windows {
        window.lowest += offset;
    }
    windows
}

/// The shift of every window, and how well they fit.
#[derive(Clone, Debug)]
struct Path {
    /// Window and its shift, only windows within the overlap.
    steps: Vec<(usize, i64)>,
    mean: f64,
}

impl Path {
    fn jumps(&self) -> bool {
        self.steps
            .windows(2)
            .any(|pair| (pair[0].1 - pair[1].1).abs() > 2)
    }
}

/// The best path through the windows: each fits as well as it can, and a change of shift costs.
fn path(windows: &[Window], jump_cost: f64) -> Option<Path> {
    let mut states: Vec<(i64, f64)> = Vec::new();
    for window in windows {
        for shift in window.candidates() {
            let near = |known: &&mut (i64, f64)| (known.0 - shift).abs() <= 1;
            match states.iter_mut().find(near) {
                Some(known) => known.1 += window.at(shift),
                None => states.push((shift, window.at(shift))),
            }
        }
    }
    states.sort_by(|a, b| b.1.total_cmp(&a.1));
    states.truncate(STATES);
    if states.is_empty() {
        return None;
    }
    // Chance fits a little everywhere; only what exceeds it counts, so that windows outside the
    // overlap neither help nor harm.
    let gain = |window: &Window, shift: i64| (window.at(shift) - 0.3).max(-0.15);
    let mut totals: Vec<f64> = vec![0.0; states.len()];
    let mut cames: Vec<Vec<usize>> = Vec::with_capacity(windows.len());
    for (place, window) in windows.iter().enumerate() {
        let best = (0..states.len()).max_by(|a, b| totals[*a].total_cmp(&totals[*b]))?;
        let mut next = Vec::with_capacity(states.len());
        let mut came = Vec::with_capacity(states.len());
        for (state, (shift, _)) in states.iter().enumerate() {
            let jump = totals[best] - if place == 0 { 0.0 } else { jump_cost };
            let from = if jump > totals[state] { best } else { state };
            came.push(from);
            next.push(totals[state].max(jump) + gain(window, *shift));
        }
        totals = next;
        cames.push(came);
    }
    let mut state = (0..states.len()).max_by(|a, b| totals[*a].total_cmp(&totals[*b]))?;
    let mut steps = Vec::new();
    for (place, came) in cames.iter().enumerate().rev() {
        steps.push((place, states[state].0));
        state = came[state];
    }
    steps.reverse();
    // Only windows that lie over the reference at their shift say anything about the fit.
    steps.retain(|(place, shift)| {
        let window = &windows[*place];
        usize::try_from(shift - window.lowest).is_ok_and(|index| {
            window
                .correlations
                .get(index)
                .is_some_and(|found| *found > 0.0)
        })
    });
    if steps.len() < FEWEST_WINDOWS {
        return None;
    }
    let sum: f64 = steps
        .iter()
        .map(|(place, shift)| windows[*place].at(*shift))
        .sum();
    Some(Path {
        mean: sum / steps.len() as f64,
        steps,
    })
}

/// Mean correlation at the best single shift that is not on the path, over as many windows.
fn rival(windows: &[Window], path: &Path) -> f64 {
    let lowest = windows
        .iter()
        .map(|window| window.lowest)
        .min()
        .unwrap_or(0);
    let highest = windows
        .iter()
        .map(|window| window.lowest + window.correlations.len() as i64)
        .max()
        .unwrap_or(0);
    let needed = (path.steps.len() / 2).max(FEWEST_WINDOWS);
    (lowest..highest)
        .filter(|shift| {
            path.steps
                .iter()
                .all(|(_, used)| (used - shift).abs() > SAME_PLACE)
        })
        .filter_map(|shift| {
            let found: Vec<f64> = path
                .steps
                .iter()
                .map(|(place, _)| windows[*place].at(shift))
                .filter(|found| *found > 0.0)
                .collect();
            (found.len() >= needed).then(|| found.iter().sum::<f64>() / found.len() as f64)
        })
        .fold(0.0, f64::max)
}

/// A stretch with its rough shift: beginning on the recorder's clock, lag in s.
type Rough = (Timestamp, f64);

fn pieces(path: &Path, windows: &[Window], reference: &Series, stream: &Series) -> Vec<Rough> {
    let origin_s = stream
        .times()
        .first()
        .map_or(0.0, |at| (at.as_secs_f64() / POINT_S).floor() * POINT_S);
    let mut pieces: Vec<Rough> = Vec::new();
    let mut last: Option<(usize, i64)> = None;
    for &(place, shift) in &path.steps {
        match last {
            Some((_, had)) if (had - shift).abs() <= 2 => {}
            Some((before, had)) => {
                let middle =
                    |place: usize| origin_s + (windows[place].from + WINDOW / 2) as f64 * POINT_S;
                let rough_s = 0.5 * (middle(before) + middle(place));
                let lags = [had as f64 * POINT_S, shift as f64 * POINT_S];
                pieces.push((jump_at(rough_s, lags, reference, stream), lags[1]));
            }
            None => pieces.push((Timestamp::from_nanos(i64::MIN), shift as f64 * POINT_S)),
        }
        last = Some((place, shift));
    }
    pieces
}

/// The moment of a jump: where the sum of squared differences, with one lag before it and the
/// other behind, is least.
fn jump_at(rough_s: f64, lags: [f64; 2], reference: &Series, stream: &Series) -> Timestamp {
    let rough = rough_s.round() as i64;
    let from = rough - JUMP_REACH_S;
    let second = |lag_s: f64, at: i64| -> Option<f64> {
        let span = |series: &Series, from_s: f64| {
            let from = Timestamp::from_secs_f64(from_s);
            series
                .mean_over(from, from + Span::from_secs(2))
                .map(|mean| mean.value)
        };
        let difference = span(stream, at as f64)? - span(reference, at as f64 - lag_s)?;
        Some(difference * difference)
    };
    let costs: Vec<[Option<f64>; 2]> = (0..2 * JUMP_REACH_S)
        .map(|offset| lags.map(|lag_s| second(lag_s, from + offset)))
        .collect();
    // Where only one of the two is known, the second says nothing about the jump.
    let both = |costs: &[Option<f64>; 2]| Some(costs[1]? - costs[0]?);
    let mut behind: f64 = costs.iter().filter_map(both).sum();
    let mut best = (behind, 0);
    for (offset, cost) in costs.iter().enumerate() {
        behind -= both(cost).unwrap_or(0.0);
        if behind < best.0 {
            best = (behind, offset as i64 + 1);
        }
    }
    let at = Timestamp::from_secs(from + best.1);
    // A pause that shows as a gap is where it jumped.
    let index = stream.times().partition_point(|&time| time < at);
    let near = index.saturating_sub(6)..(index + 6).min(stream.len());
    let gap = near
        .filter(|index| stream.gap_after(*index))
        .filter_map(|index| stream.times().get(index + 1))
        .next();
    gap.copied().unwrap_or(at)
}

/// The exact lag of each stretch and one drift for all.
fn fine(
    rough: Vec<Rough>,
    quantities: [(LagQuantity, &Series, &Series); 2],
    settings: &AlignSettings,
    (correlation, rival): (f64, f64),
) -> Option<Placement> {
    let mut segments: Vec<(usize, LagSegment)> = Vec::new();
    for (quantity, reference, stream) in quantities {
        for (piece, (from, lag_s)) in rough.iter().enumerate() {
            let to = rough.get(piece + 1).map_or(Timestamp::MAX, |next| next.0);
            let found = segments_of(quantity, reference, stream, (*from, to), *lag_s, settings);
            segments.extend(found.into_iter().map(|segment| (piece, segment)));
        }
    }
    let placed = |quantity: LagQuantity| -> Option<Vec<Estimate>> {
        (0..rough.len())
            .map(|piece| {
                let of: Vec<LagSegment> = segments
                    .iter()
                    .filter(|(of, segment)| *of == piece && segment.quantity == quantity)
                    .map(|(_, segment)| *segment)
                    .collect();
                super::weighted_mean(&of).filter(|lag| lag.u <= settings.max_u_s)
            })
            .collect()
    };
    // Power may be smoothed where cadence is not: the two are joined only if they agree.
    match (placed(LagQuantity::Power), placed(LagQuantity::Cadence)) {
        (Some(power), Some(cadence)) => {
            let agree = power.iter().zip(&cadence).all(|(power, cadence)| {
                (power.value - cadence.value).abs() <= 2.0 * power.u.hypot(cadence.u)
            });
            if !agree {
                segments.retain(|(_, segment)| segment.quantity == LagQuantity::Power);
            }
        }
        (Some(_), None) => {
            segments.retain(|(_, segment)| segment.quantity == LagQuantity::Power);
        }
        (None, Some(_)) => {
            segments.retain(|(_, segment)| segment.quantity == LagQuantity::Cadence);
        }
        (None, None) => return None,
    }
    let weight = |segment: &LagSegment| segment.u_s.powi(-2);
    let total: f64 = segments.iter().map(|(_, segment)| weight(segment)).sum();
    if segments.is_empty() || !total.is_finite() {
        return None;
    }
    // Weighted means of time and lag within each piece, and of the whole for the pivot.
    let means: Vec<Option<[f64; 3]>> = (0..rough.len())
        .map(|piece| {
            let (mut sum, mut t, mut l) = (0.0, 0.0, 0.0);
            for (_, segment) in segments.iter().filter(|(of, _)| *of == piece) {
                sum += weight(segment);
                t += weight(segment) * segment.middle_s;
                l += weight(segment) * segment.lag_s;
            }
            (sum > 0.0).then(|| [t / sum, l / sum, sum])
        })
        .collect();
    let pivot_s = segments
        .iter()
        .map(|(_, s)| weight(s) * s.middle_s)
        .sum::<f64>()
        / total;
    let (mut sxx, mut sxy) = (0.0, 0.0);
    for (piece, segment) in &segments {
        let [t, l, _] = means[*piece]?;
        sxx += weight(segment) * (segment.middle_s - t).powi(2);
        sxy += weight(segment) * (segment.middle_s - t) * (segment.lag_s - l);
    }
    let used = means.iter().flatten().count();
    let dof = segments.len() as f64 - used as f64 - 1.0;
    let slope = if sxx > 0.0 { sxy / sxx } else { 0.0 };
    let rest = |slope: f64| -> f64 {
        let squares = segments.iter().filter_map(|(piece, segment)| {
            let [t, l, _] = means[*piece]?;
            let left = segment.lag_s - l - slope * (segment.middle_s - t);
            Some(weight(segment) * left * left)
        });
        squares.sum()
    };
    // Scatter below the segments' own uncertainty is luck, not precision (Birge ratio at least 1).
    let drift = (dof >= 1.0 && sxx > 0.0).then(|| Estimate {
        value: 1e6 * slope,
        u: 1e6 * sxx.powf(-0.5) * (rest(slope) / dof).sqrt().max(1.0),
        dof,
    });
    let drift_applied = match drift {
        Some(drift)
            if drift.u <= KNOWN_DRIFT_PPM
                || drift.value.abs() > student_t_quantile(0.975, dof) * drift.u =>
        {
            DriftApplied::Yes
        }
        _ => DriftApplied::No,
    };
    let slope = if drift_applied == DriftApplied::Yes {
        slope
    } else {
        0.0
    };
    let scatter = (rest(slope) / dof.max(1.0)).sqrt().max(1.0);
    let pieces = rough
        .iter()
        .zip(&means)
        .map(|((from, _), mean)| {
            let [t, l, sum] = (*mean)?;
            Some(Piece {
                from: *from,
                lag_s: l - slope * (t - pivot_s),
                lag_u_s: (sum.powf(-0.5) * scatter).hypot(INTERPOLATION_U_S),
            })
        })
        .collect::<Option<Vec<Piece>>>()?;
    let usable = pieces.iter().all(|piece| piece.lag_u_s <= settings.max_u_s);
    usable.then(|| Placement {
        pieces,
        drift_ppm: drift,
        drift_applied,
        pivot: Timestamp::from_secs_f64(pivot_s),
        segments: segments.into_iter().map(|(_, segment)| segment).collect(),
        correlation,
        rival,
    })
}

/// Lags of one stretch, segment by segment; `middle_s` is on the recorder's clock.
fn segments_of(
    quantity: LagQuantity,
    reference: &Series,
    stream: &Series,
    (from, to): (Timestamp, Timestamp),
    rough_s: f64,
    settings: &AlignSettings,
) -> Vec<LagSegment> {
    // The margin around a jump belongs to neither stretch.
    let margin = Span::from_secs_f64(JUMP_MARGIN_S);
    let mut shifted = Series::with_hold(stream.hold_limit());
    for (index, (at, value)) in stream.iter().enumerate() {
        let inside = at.as_nanos() >= from.as_nanos().saturating_add(margin.as_nanos())
            && at.as_nanos() < to.as_nanos().saturating_sub(margin.as_nanos());
        // A drop-out is the steepest change of a ride and would be matched with anything.
        if inside && value > 0.0 {
            let moved = at - Span::from_secs_f64(rough_s);
            if shifted.push(moved, value).is_ok() && stream.gap_after(index) {
                shifted.break_at(stream.held_until(index) - Span::from_secs_f64(rough_s));
            }
        } else if !shifted.is_empty() {
            shifted.break_at(at - Span::from_secs_f64(rough_s));
        }
    }
    let (Some(first), Some(last)) = (shifted.times().first(), shifted.times().last()) else {
        return Vec::new();
    };
    let from_s = (first.as_secs_f64() / STEP_S).floor() * STEP_S - 20.0;
    let grid = TimeGrid {
        from_s,
        points: ((last.as_secs_f64() + 20.0 - from_s) / STEP_S) as usize + 1,
    };
    let reference = Uniform::resample(&super::without_zeros(reference), grid).smoothed();
    let stream = Uniform::resample(&shifted, grid).smoothed();
    let coarse = coarse::search(&reference, &stream, &near(settings));
    let spline = reference.coefficients();
    let length = ((settings.segment_s / STEP_S) as usize).max(MIN_POINTS);
    let mut found = Vec::new();
    let mut start = 0;
    while start < grid.points {
        let end = if grid.points - start < length * 3 / 2 {
            grid.points
        } else {
            start + length
        };
        if let Some(lag) = variance::segment_lag(&spline, &stream, start..end, coarse.lag_steps) {
            found.push(LagSegment {
                middle_s: grid.from_s + lag.place * STEP_S + rough_s,
                lag_s: lag.lag_s + rough_s,
                u_s: lag.u_s,
                quantity,
            });
        }
        start = end;
    }
    found
}

fn near(settings: &AlignSettings) -> AlignSettings {
    AlignSettings {
        far_s: settings.near_s,
        ..settings.clone()
    }
}
