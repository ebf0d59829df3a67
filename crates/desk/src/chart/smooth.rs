//! The same window for every stream: means over the last so many seconds, once a second.
//!
//! A smoothed stream is a curve like any other and is drawn like one. It grows with the recording,
//! so a frame pays only for the seconds that are new. Only whole seconds that are over are taken,
//! and a window of which too little has a value has no mean.

use super::selected::{Piece, pieces};
use bench::trace::Trace;
use std::collections::VecDeque;
use units::{Span, Timestamp};

/// Least share of a window that must have a value.
const COVERED: f64 = 0.75;

/// A stream seen through a window.
#[derive(Clone, Debug)]
pub struct Smoothed {
    window_s: u32,
    /// Whole seconds that are taken.
    taken_s: i64,
    /// Sum of value × seconds, and seconds with a value, of each second in the window.
    seconds: VecDeque<[f64; 2]>,
    means: Trace,
}

impl Smoothed {
    /// Nothing yet, for a window of whole seconds.
    pub fn over(window_s: u32) -> Self {
        Self {
            window_s: window_s.max(1),
            taken_s: 0,
            seconds: VecDeque::new(),
            means: Trace::new(Span::from_millis(1500)),
        }
    }

    /// Length of the window, seconds.
    pub const fn window_s(&self) -> u32 {
        self.window_s
    }

    /// The means so far, each at the end of its window.
    pub const fn means(&self) -> &Trace {
        &self.means
    }

    /// Takes the seconds of `trace` that are over and were not taken yet.
    pub fn take(&mut self, trace: &Trace, now: Timestamp) {
        let over_s = now.as_nanos().div_euclid(1_000_000_000);
        if over_s <= self.taken_s {
            return;
        }
        let (from, to) = (moment(self.taken_s), moment(over_s));
        let mut sum = [0.0; 2];
        for piece in pieces(trace, from, to) {
            let mut begin = piece.from;
            while begin < piece.to {
                let edge = moment(self.taken_s + 1);
                if begin >= edge {
                    self.close_second(std::mem::take(&mut sum));
                    continue;
                }
                let end = piece.to.min(edge);
                let part = Piece {
                    from: begin,
                    to: end,
                    ..piece
                };
                add(&mut sum, part);
                begin = end;
            }
        }
        while self.taken_s < over_s {
            self.close_second(std::mem::take(&mut sum));
        }
    }

    fn close_second(&mut self, sum: [f64; 2]) {
        self.taken_s += 1;
        self.seconds.push_back(sum);
        if self.seconds.len() > self.window_s as usize {
            self.seconds.pop_front();
        }
        let [weighted, covered] = self
            .seconds
            .iter()
            .fold([0.0; 2], |[a, b], [c, d]| [a + c, b + d]);
        if covered >= COVERED * f64::from(self.window_s) {
            self.means.push(moment(self.taken_s), weighted / covered);
        }
    }
}

fn add(sum: &mut [f64; 2], piece: Piece) {
    let seconds = (piece.to - piece.from).as_secs_f64();
    sum[0] += piece.value * seconds;
    sum[1] += seconds;
}

fn moment(second: i64) -> Timestamp {
    Timestamp::from_secs(second)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::selected::summary;
    use proptest::prelude::*;

    fn trace(points: impl IntoIterator<Item = (i64, f64)>) -> Trace {
        let mut trace = Trace::new(Span::from_millis(2500));
        for (millis, value) in points {
            trace.push(Timestamp::from_millis(millis), value);
        }
        trace
    }

    #[test]
    fn a_level_stays_a_level_and_a_step_takes_the_window() {
        let trace = trace((0..120).map(|i| (i * 250, if i < 60 { 100.0 } else { 200.0 })));
        let mut smoothed = Smoothed::over(10);
        smoothed.take(&trace, Timestamp::from_secs(30));
        let at = |second: i64| {
            let point = smoothed.means().between(moment(second), moment(second));
            point
                .filter(|point| point.at == moment(second))
                .map(|point| point.value)
                .next()
        };
        assert_eq!(at(7), None);
        assert_eq!(at(15), Some(100.0));
        assert_eq!(at(20), Some(150.0));
        assert_eq!(at(25), Some(200.0));
    }

    #[test]
    fn a_gap_stays_a_gap() {
        let points = (0..400)
            .filter(|i| !(100..200).contains(i))
            .map(|i| (i * 250, 100.0));
        let mut smoothed = Smoothed::over(3);
        smoothed.take(&trace(points), Timestamp::from_secs(100));
        let in_gap = smoothed.means().between(moment(30), moment(48)).count();
        assert!(
            in_gap <= 2,
            "one neighbour on each side and no more: {in_gap}"
        );
        assert!(
            smoothed
                .means()
                .between(moment(52), moment(60))
                .any(|point| point.after_gap)
        );
    }

    proptest! {
        /// Taken at once or in small bites, the means are the same, and each is the mean of its
        /// window.
        #[test]
        fn bites_do_not_matter(
            steps in proptest::collection::vec((50i64..4000, 0.0f64..900.0), 1..200),
            bites in proptest::collection::vec(1i64..5000, 1..40),
            window_s in 1u32..12,
        ) {
            let mut millis = 0;
            let whole = trace(steps.iter().map(|&(step, value)| {
                millis += step;
                (millis, value)
            }));
            let mut at_once = Smoothed::over(window_s);
            at_once.take(&whole, Timestamp::from_millis(millis));
            let mut in_bites = Smoothed::over(window_s);
            let mut now = 0;
            for bite in bites.iter().cycle().take(10_000) {
                now = (now + bite).min(millis);
                // What has not arrived yet is not there yet.
                let mut arrived = Trace::new(whole.hold());
                for point in whole.between(Timestamp::ZERO, Timestamp::from_millis(now)) {
                    if point.at <= Timestamp::from_millis(now) {
                        arrived.push(point.at, point.value);
                    }
                }
                in_bites.take(&arrived, Timestamp::from_millis(now));
                if now == millis {
                    break;
                }
            }
            prop_assert_eq!(at_once.means().len(), in_bites.means().len());
            let all = |smoothed: &Smoothed| -> Vec<_> {
                smoothed.means().between(Timestamp::ZERO, Timestamp::MAX).collect()
            };
            for (a, b) in all(&at_once).into_iter().zip(all(&in_bites)) {
                prop_assert_eq!(a.at, b.at);
                prop_assert!((a.value - b.value).abs() < 1e-9 * a.value.abs().max(1.0));
                let from = a.at - Span::from_secs(i64::from(window_s));
                let mean = summary(&whole, from, a.at).unwrap().mean;
                prop_assert!((a.value - mean).abs() < 1e-7 * mean.abs().max(1.0));
            }
        }
    }
}
