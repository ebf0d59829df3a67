//! Places where the reference power changes quickly, and the pieces of both streams around them.

use super::integral::Integral;

/// Grid on which kernels are applied, s.
pub(super) const FINE_S: f64 = 0.2;
/// Smallest change between the means before and after that counts, W.
const LEAST_CHANGE_W: f64 = 30.0;
/// Length of the means before and after, s.
const BESIDE_S: f64 = 4.0;
/// Two transitions are at least this far apart, s.
const APART_S: f64 = 12.0;
/// More would cost time and add nothing.
const MOST: usize = 16;

/// Moments of the largest changes, in order of time.
pub(super) fn transitions(reference: &Integral) -> Vec<f64> {
    let Some([from_s, to_s]) = reference.extent() else {
        return Vec::new();
    };
    let seconds = (to_s - from_s).clamp(0.0, 1e6) as usize;
    let mut found: Vec<(f64, f64)> = (0..seconds)
        .filter_map(|second| {
            let at_s = from_s + second as f64;
            let before = reference.mean(at_s - BESIDE_S, at_s, 0.9)?;
            let after = reference.mean(at_s, at_s + BESIDE_S, 0.9)?;
            let change = (after - before).abs();
            (change >= LEAST_CHANGE_W).then_some((at_s, change))
        })
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut kept: Vec<f64> = Vec::new();
    for (at_s, _) in found {
        if kept.iter().all(|k| (k - at_s).abs() >= APART_S) {
            kept.push(at_s);
            if kept.len() == MOST {
                break;
            }
        }
    }
    kept.sort_by(f64::total_cmp);
    kept
}

/// A piece of the reference on the fine grid, with its running sum.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub(super) from_s: f64,
    values: Vec<f64>,
    sums: Vec<f64>,
}

impl Piece {
    /// `None` where the reference does not cover the whole piece.
    pub(super) fn new(reference: &Integral, from_s: f64, to_s: f64) -> Option<Self> {
        let count = ((to_s - from_s) / FINE_S).round().max(1.0) as usize;
        let mut values = Vec::with_capacity(count);
        let mut sums = Vec::with_capacity(count + 1);
        let mut sum = 0.0;
        sums.push(0.0);
        for i in 0..count {
            let begin = from_s + i as f64 * FINE_S;
            let value = reference.mean(begin, begin + FINE_S, 0.5)?;
            values.push(value);
            sum += value * FINE_S;
            sums.push(sum);
        }
        Some(Self {
            from_s,
            values,
            sums,
        })
    }

    /// Mean over the `window_s` that end `lag_s` before `at_s`.
    pub(super) fn boxed(&self, at_s: f64, lag_s: f64, window_s: f64) -> f64 {
        let window_s = window_s.max(FINE_S);
        let end = at_s - lag_s;
        (self.sum_to(end) - self.sum_to(end - window_s)) / window_s
    }

    /// Writes the piece after a first-order lag, on the fine grid (value at the end of each cell).
    pub(super) fn lagged(&self, tau_s: f64, into: &mut Vec<f64>) {
        let keep = if tau_s > 1e-6 {
            (-FINE_S / tau_s).exp()
        } else {
            0.0
        };
        let mut state = self.values.first().copied().unwrap_or(0.0);
        into.clear();
        into.extend(self.values.iter().map(|value| {
            state = keep * state + (1.0 - keep) * value;
            state
        }));
    }

    /// Value of a curve on this piece's grid at a moment.
    pub(super) fn on_grid(&self, curve: &[f64], at_s: f64) -> f64 {
        let place = ((at_s - self.from_s) / FINE_S - 1.0).clamp(0.0, (curve.len() - 1) as f64);
        let below = place as usize;
        let above = (below + 1).min(curve.len() - 1);
        curve[below] + (place - below as f64) * (curve[above] - curve[below])
    }

    fn sum_to(&self, at_s: f64) -> f64 {
        let place = (at_s - self.from_s) / FINE_S;
        let last = self.sums.len() - 1;
        // Outside the piece the first and the last value go on.
        if place <= 0.0 {
            return place * FINE_S * self.values[0];
        }
        if place >= last as f64 {
            return self.sums[last] + (place - last as f64) * FINE_S * self.values[last - 1];
        }
        let below = place as usize;
        self.sums[below] + (place - below as f64) * (self.sums[below + 1] - self.sums[below])
    }
}
