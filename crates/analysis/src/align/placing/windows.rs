//! The rough place: window by window over all shifts, and a path through the windows.
//!
//! What varies slowly is taken out first: two unrelated rides both rise and fall over minutes, and
//! only what the same legs did within seconds shows that a ride is the same. Windows that agree
//! make a stretch; a jump between two is accepted only if what follows fits clearly better for it.

use crate::align::grid::{STEP_S, TimeGrid};
use crate::align::spline::Uniform;
use units::Series;

/// Grid points that are joined: 2 s.
const JOINED: usize = 4;
/// Length of one joined point, s.
pub(super) const POINT_S: f64 = STEP_S * JOINED as f64;
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
pub(super) const JUMP_COST: f64 = 1.8;
/// Windows that a place has to rest on: with their overlap about seven minutes.
const FEWEST_WINDOWS: usize = 3;
/// Shifts this near to each other are one place, points.
const SAME_PLACE: i64 = 5;

/// A stream in points of 2 s without its slow part; zero where missing.
pub(super) struct Joined {
    from_s: f64,
    values: Vec<f64>,
    known: Vec<bool>,
}

impl Joined {
    pub(super) fn of(series: &Series) -> Option<Self> {
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
pub(super) struct Window {
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
pub(super) fn windows(reference: &Joined, stream: &Joined) -> Vec<Window> {
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
pub(super) struct Path {
    /// Window and its shift, only windows within the overlap.
    pub(super) steps: Vec<(usize, i64)>,
    pub(super) mean: f64,
}

impl Path {
    pub(super) fn jumps(&self) -> bool {
        self.steps
            .windows(2)
            .any(|pair| (pair[0].1 - pair[1].1).abs() > 2)
    }
}

/// The best path through the windows: each fits as well as it can, and a change of shift costs.
pub(super) fn path(windows: &[Window], jump_cost: f64) -> Option<Path> {
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
pub(super) fn rival(windows: &[Window], path: &Path) -> f64 {
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

impl Path {
    /// The shifts that the path takes, s, in order of their first window.
    pub(super) fn shifts_s(&self) -> Vec<f64> {
        let mut shifts: Vec<i64> = Vec::new();
        for &(_, shift) in &self.steps {
            if shifts.iter().all(|had| (had - shift).abs() > 2) {
                shifts.push(shift);
            }
        }
        shifts
            .into_iter()
            .map(|shift| shift as f64 * POINT_S)
            .collect()
    }
}
