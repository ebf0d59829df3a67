//! What lies in a selected stretch, summed up: mean, standard deviation, extremes, and the
//! difference of two streams.
//!
//! Values are held as they are drawn, so every mean is weighted by the time each value was held,
//! and what lies in a gap counts for nobody. Two streams are compared only over the time in which
//! both have a value. These are descriptions of what is on the screen and no judgement: nothing is
//! gated, aligned or given an uncertainty here.

use bench::trace::Trace;
use units::Timestamp;

/// One stream over a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Summary {
    /// How much of the stretch has a value, seconds.
    pub seconds: f64,
    /// Mean, in the unit of the stream.
    pub mean: f64,
    /// Standard deviation of the held values around their mean.
    pub sd: f64,
    /// Smallest value.
    pub low: f64,
    /// Largest value.
    pub high: f64,
}

impl Summary {
    /// The same stretch in another unit, `factor` of which make one of the present.
    #[must_use]
    pub fn times(self, factor: f64) -> Self {
        Self {
            seconds: self.seconds,
            mean: self.mean * factor,
            sd: self.sd * factor,
            low: self.low * factor,
            high: self.high * factor,
        }
    }
}

/// One stream less another over a stretch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The difference itself.
    pub of: Summary,
    /// Mean of the stream that was taken away, over the same time.
    pub against: f64,
}

impl Difference {
    /// The mean difference in percent of the stream that was taken away; nothing where that one
    /// is nearly zero.
    pub fn pct(&self) -> Option<f64> {
        (self.against.abs() >= 1.0).then(|| 100.0 * self.of.mean / self.against)
    }
}

/// A stretch over which a value is held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// The value.
    pub value: f64,
}

/// The pieces of a stream between two moments, in order; nothing where there is a gap.
pub fn pieces(trace: &Trace, from: Timestamp, to: Timestamp) -> impl Iterator<Item = Piece> + '_ {
    let hold = trace.hold();
    let mut points = trace.between(from, to).peekable();
    std::iter::from_fn(move || {
        let point = points.next()?;
        let next = points.peek().map_or(Timestamp::MAX, |next| next.at);
        Some(Piece {
            from: point.at.max(from),
            to: (point.at + hold).min(next).min(to),
            value: point.value,
        })
    })
    .filter(|piece| piece.to > piece.from)
}

/// Sums up one stream between two moments; nothing if it has no value there.
pub fn summary(trace: &Trace, from: Timestamp, to: Timestamp) -> Option<Summary> {
    sum_up(pieces(trace, from, to).map(|piece| (seconds(piece.from, piece.to), piece.value)))
}

/// Sums up `a − b` over the time between two moments in which both have a value.
pub fn difference(a: &Trace, b: &Trace, from: Timestamp, to: Timestamp) -> Option<Difference> {
    let both = || Both::new(pieces(a, from, to), pieces(b, from, to));
    let of = sum_up(both().map(|(seconds, [a, b])| (seconds, a - b)))?;
    let against = sum_up(both().map(|(seconds, [_, b])| (seconds, b)))?.mean;
    Some(Difference { of, against })
}

fn seconds(from: Timestamp, to: Timestamp) -> f64 {
    (to - from).as_secs_f64()
}

/// West's weighted form of the running mean and sum of squares (Communications of the ACM 22,
/// 1979), so that a small scatter around a large mean keeps its digits.
fn sum_up(weighted: impl Iterator<Item = (f64, f64)>) -> Option<Summary> {
    let (mut total, mut mean, mut squares) = (0.0, 0.0, 0.0);
    let (mut low, mut high) = (f64::MAX, f64::MIN);
    for (weight, value) in weighted {
        total += weight;
        let step = value - mean;
        mean += step * weight / total;
        squares += weight * step * (value - mean);
        (low, high) = (low.min(value), high.max(value));
    }
    (total > 0.0).then(|| Summary {
        seconds: total,
        mean,
        sd: (squares / total).max(0.0).sqrt(),
        low,
        high,
    })
}

/// The time in which two streams both have a value, piece by piece.
struct Both<A: Iterator<Item = Piece>, B: Iterator<Item = Piece>> {
    a: std::iter::Peekable<A>,
    b: std::iter::Peekable<B>,
}

impl<A: Iterator<Item = Piece>, B: Iterator<Item = Piece>> Both<A, B> {
    fn new(a: A, b: B) -> Self {
        Self {
            a: a.peekable(),
            b: b.peekable(),
        }
    }
}

impl<A: Iterator<Item = Piece>, B: Iterator<Item = Piece>> Iterator for Both<A, B> {
    type Item = (f64, [f64; 2]);

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            let (a, b) = (*self.a.peek()?, *self.b.peek()?);
            let (from, to) = (a.from.max(b.from), a.to.min(b.to));
            // Whichever ends first is done with.
            if a.to <= b.to {
                self.a.next();
            }
            if b.to <= a.to {
                self.b.next();
            }
            if to > from {
                return Some((seconds(from, to), [a.value, b.value]));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use units::{Series, Span};

    const HOLD: Span = Span::from_millis(2500);

    fn trace(points: &[(i64, f64)]) -> Trace {
        let mut trace = Trace::new(HOLD);
        for &(millis, value) in points {
            trace.push(Timestamp::from_millis(millis), value);
        }
        trace
    }

    fn at(seconds: i64) -> Timestamp {
        Timestamp::from_secs(seconds)
    }

    /// 2, 4, 4, 4, 5, 5, 7, 9, one second each: mean 5 and standard deviation exactly 2, since the
    /// squares of the deviations add up to 32.
    #[test]
    fn a_stretch_is_summed_up() {
        let values = [2.0, 4.0, 4.0, 4.0, 5.0, 5.0, 7.0, 9.0, 100.0];
        let points: Vec<_> = (0..9).map(|i| (i * 1000, values[i as usize])).collect();
        let trace = trace(&points);
        let summary = summary(&trace, at(0), at(8)).unwrap();
        assert_eq!((summary.mean, summary.seconds), (5.0, 8.0));
        assert!((summary.sd - 2.0).abs() < 1e-12);
        assert_eq!((summary.low, summary.high), (2.0, 9.0));
        assert_eq!(super::summary(&trace, at(100), at(200)), None);
    }

    #[test]
    fn a_gap_counts_for_nobody() {
        let a = trace(&[(0, 10.0), (1000, 20.0), (10_000, 30.0)]);
        let whole = summary(&a, at(0), at(12)).unwrap();
        // One second of 10, two and a half of 20, two of 30.
        assert_eq!(whole.seconds, 5.5);
        assert!((whole.mean - (10.0 + 50.0 + 60.0) / 5.5).abs() < 1e-12);
        let b = trace(&[(0, 8.0), (1000, 8.0), (2000, 8.0), (3000, 8.0)]);
        let both = difference(&a, &b, at(0), at(12)).unwrap();
        assert_eq!((both.of.seconds, both.against), (3.5, 8.0));
        assert!((both.of.mean - (2.0 + 2.5 * 12.0) / 3.5).abs() < 1e-12);
        assert!((both.pct().unwrap() - 12.5 * both.of.mean).abs() < 1e-9);
        assert_eq!(difference(&a, &trace(&[]), at(0), at(12)), None);
    }

    #[test]
    fn no_percentage_of_nearly_nothing() {
        let a = trace(&[(0, 5.0), (1000, 5.0)]);
        let zero = trace(&[(0, 0.0), (1000, 0.0)]);
        let both = difference(&a, &zero, at(0), at(2)).unwrap();
        assert_eq!((both.of.mean, both.pct()), (5.0, None));
    }

    proptest! {
        /// The mean is the one that `units` computes, and the difference of a stream from itself
        /// is nothing.
        #[test]
        fn the_mean_is_the_mean_of_the_series(
            steps in proptest::collection::vec((50i64..4000, -50.0f64..900.0), 1..300),
            from in 0i64..200_000,
            length in 1i64..400_000,
        ) {
            let mut millis = 0;
            let points: Vec<_> = steps.iter().map(|&(step, value)| {
                millis += step;
                (millis, value)
            }).collect();
            let trace = trace(&points);
            let pairs = points.iter().map(|&(millis, value)| (millis as f64 / 1000.0, value));
            let series = Series::from_pairs(pairs, HOLD).unwrap();
            let (from, to) = (Timestamp::from_millis(from), Timestamp::from_millis(from + length));
            let (ours, theirs) = (summary(&trace, from, to), series.mean_over(from, to));
            prop_assert_eq!(ours.is_some(), theirs.is_some());
            if let (Some(ours), Some(theirs)) = (ours, theirs) {
                prop_assert!((ours.mean - theirs.value).abs() < 1e-9 * theirs.value.abs().max(1.0));
                prop_assert!((ours.seconds - theirs.covered.as_secs_f64()).abs() < 1e-6);
                prop_assert!(ours.low <= ours.mean + 1e-9 && ours.mean <= ours.high + 1e-9);
                let nothing = difference(&trace, &trace, from, to).unwrap();
                prop_assert_eq!((nothing.of.mean, nothing.of.sd), (0.0, 0.0));
                prop_assert!((nothing.of.seconds - ours.seconds).abs() < 1e-6);
            }
        }
    }
}
