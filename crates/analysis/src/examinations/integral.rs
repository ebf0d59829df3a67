//! The running integral of a held series, for means over many overlapping spans.
//!
//! [`Series::mean_over`] visits every sample of its span; an examination that slides a window over
//! an hour needs each mean in constant time.

use crate::stats::order::median;
use units::{Series, Timestamp};

/// Integral and covered time of a series up to any moment. Times in seconds.
#[derive(Clone, Debug)]
pub(super) struct Integral {
    /// Corners of the two piecewise straight curves: time, integral, covered time.
    corners: Vec<[f64; 3]>,
    /// For every whole second since the first corner, the last corner at or before it.
    index: Vec<u32>,
    first_s: f64,
}

impl Integral {
    pub(super) fn new(series: &Series) -> Self {
        let mut corners: Vec<[f64; 3]> = Vec::with_capacity(series.len() + 16);
        let (mut integral, mut covered) = (0.0, 0.0);
        let mut at_s = f64::NEG_INFINITY;
        for (position, (at, value)) in series.iter().enumerate() {
            let from = at.as_secs_f64();
            if from > at_s {
                corners.push([from, integral, covered]);
            }
            let to = series.held_until(position).as_secs_f64();
            if to > from {
                integral += value * (to - from);
                covered += to - from;
                corners.push([to, integral, covered]);
            }
            at_s = to.max(from);
        }
        let first_s = corners.first().map_or(0.0, |corner| corner[0]);
        let last_s = corners.last().map_or(0.0, |corner| corner[0]);
        // A recording of many days would need a large table; a search takes its place there.
        let seconds = (last_s - first_s).clamp(0.0, 1e6) as usize + 1;
        let mut index = Vec::with_capacity(seconds);
        let mut corner = 0;
        for second in 0..seconds {
            while corner + 1 < corners.len() && corners[corner + 1][0] <= first_s + second as f64 {
                corner += 1;
            }
            index.push(corner as u32);
        }
        Self {
            corners,
            index,
            first_s,
        }
    }

    /// Integral and covered time up to a moment.
    pub(super) fn up_to(&self, at_s: f64) -> [f64; 2] {
        let (Some(first), Some(last)) = (self.corners.first(), self.corners.last()) else {
            return [0.0, 0.0];
        };
        if at_s <= first[0] {
            return [first[1], first[2]];
        }
        if at_s >= last[0] {
            return [last[1], last[2]];
        }
        let second = (at_s - self.first_s) as usize;
        let mut corner = self.index[second.min(self.index.len() - 1)] as usize;
        while self.corners[corner + 1][0] <= at_s {
            corner += 1;
        }
        let (a, b) = (self.corners[corner], self.corners[corner + 1]);
        let share = (at_s - a[0]) / (b[0] - a[0]);
        [a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2])]
    }

    /// Integral over a span (value · s) and covered time in it (s).
    pub(super) fn over(&self, from_s: f64, to_s: f64) -> [f64; 2] {
        let (a, b) = (self.up_to(from_s), self.up_to(to_s));
        [b[0] - a[0], b[1] - a[1]]
    }

    /// Mean over a span of which at least a share is covered.
    pub(super) fn mean(&self, from_s: f64, to_s: f64, least_share: f64) -> Option<f64> {
        let [sum, covered] = self.over(from_s, to_s);
        (covered > 1e-9 && covered >= least_share * (to_s - from_s) - 1e-9).then(|| sum / covered)
    }

    /// Beginning and end of what is covered.
    pub(super) fn extent(&self) -> Option<[f64; 2]> {
        Some([self.corners.first()?[0], self.corners.last()?[0]])
    }
}

/// Middle interval between the samples of a series, s, from at most 400 of them.
pub(crate) fn usual_interval_s(series: &Series) -> Option<f64> {
    let times = series.times();
    let every = (times.len() / 400).max(1);
    let intervals: Vec<f64> = times
        .windows(2)
        .step_by(every)
        .map(|w| (w[1] - w[0]).as_secs_f64())
        .collect();
    median(&intervals)
}

/// A moment as seconds.
pub(super) fn secs(at: Timestamp) -> f64 {
    at.as_secs_f64()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn means_are_those_of_the_series(
            steps in proptest::collection::vec((0.05f64..4.0, -50.0f64..900.0), 1..60),
            from in 0.0f64..60.0,
            length in 0.1f64..30.0,
        ) {
            let mut secs = 0.0;
            let mut series = Series::new();
            for (step, value) in steps {
                secs += step;
                series.push(Timestamp::from_secs_f64(secs), value).unwrap();
            }
            let integral = Integral::new(&series);
            let expected = series.mean_over(
                Timestamp::from_secs_f64(from),
                Timestamp::from_secs_f64(from + length),
            );
            let [sum, covered] = integral.over(from, from + length);
            match expected {
                Some(mean) if mean.covered.as_secs_f64() > 1e-6 => {
                    prop_assert!((covered - mean.covered.as_secs_f64()).abs() < 1e-6);
                    prop_assert!((sum / covered - mean.value).abs() < 1e-3);
                }
                _ => prop_assert!(covered < 1e-5),
            }
        }
    }

    #[test]
    fn an_empty_series_covers_nothing() {
        let integral = Integral::new(&Series::new());
        assert_eq!(integral.over(0.0, 10.0), [0.0, 0.0]);
        assert_eq!(
            (integral.mean(0.0, 1.0, 0.5), integral.extent()),
            (None, None)
        );
    }
}
