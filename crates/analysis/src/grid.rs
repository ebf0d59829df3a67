//! Seconds: time-weighted means of a stream over whole seconds of the session's clock.
//!
//! Paired differences live here and nowhere else. A second knows how much of it was covered by
//! held values; a second that was not covered at all is missing, never zero.

use crate::evidence::{Feeds, StepSpan, Stream};
use std::sync::Arc;
use units::{Series, Timestamp};

/// The mean of a quantity over one second, and which share of the second was covered.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// Time-weighted mean over the covered part.
    pub value: f64,
    /// Covered share of the second, above 0 up to 1.
    pub covered: f64,
    /// Smallest value held at any moment of the second: a zero that lasted only part of it shows.
    pub low: f64,
    /// Largest value held at any moment of the second.
    pub high: f64,
}

/// Everything about one second that the judgement needs: the same for a live second and for a
/// second of a recording.
#[derive(Clone, Debug, PartialEq)]
pub struct Second {
    /// The second covers `index..index + 1` seconds of the session's clock.
    pub index: i64,
    /// Power of the device under test, W.
    pub under_test: Option<Held>,
    /// Power of the primary reference, W.
    pub reference: Option<Held>,
    /// Mean cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Mean flywheel speed, km/h.
    pub speed_kmh: Option<f64>,
    /// Commanded power, W, if the load is a power.
    pub target_w: Option<f64>,
    /// The step being ridden; `None` between steps.
    pub step: Option<StepNow>,
    /// Whether there is a script at all: without one, plateaus are looked for.
    pub script: Script,
    /// Why the second may not be judged, if so.
    pub invalid: Option<Arc<str>>,
}

/// Whether steps say what is judged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Script {
    /// Steps say what is judged.
    Ridden,
    /// There is no script; steady plateaus are looked for.
    None,
}

/// What a second knows about the step it lies in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepNow {
    /// Running number of the attempt: index into [`crate::evidence::Evidence::steps`].
    pub visit: usize,
    /// What the step is ridden for.
    pub feeds: Feeds,
    /// Whole seconds of settling that remain; zero once the second counts.
    pub settling_s: u32,
    /// The constant power asked for, W.
    pub target_w: Option<f64>,
    /// Cadence asked for, rpm.
    pub cadence_rpm: Option<f64>,
    /// Gear asked for.
    pub gear: Option<f64>,
}

impl StepNow {
    /// What second `index` knows about a step, or `None` if the second is not wholly inside it.
    /// Live, give the running step an end of [`Timestamp::MAX`].
    pub fn at(span: &StepSpan, visit: usize, index: i64) -> Option<Self> {
        let (from, to) = (Timestamp::from_secs(index), Timestamp::from_secs(index + 1));
        if from < span.from || to > span.to {
            return None;
        }
        let settled_at = span.from + span.settle;
        let left_s = (settled_at - from).as_secs_f64();
        Some(Self {
            visit,
            feeds: span.feeds,
            settling_s: left_s.ceil().max(0.0) as u32,
            target_w: span.target_w,
            cadence_rpm: span.cadence_rpm,
            gear: span.gear,
        })
    }
}

/// The two streams that are compared, and where cadence and flywheel speed come from.
#[derive(Clone, Copy, Debug)]
pub struct Pair<'a> {
    /// The device under test.
    pub under_test: &'a Stream,
    /// The primary reference.
    pub reference: &'a Stream,
}

impl<'a> Pair<'a> {
    /// Cadence: from the reference if it has any, else from the device.
    pub fn cadence(self) -> &'a Series {
        if self.reference.cadence_rpm.is_empty() {
            &self.under_test.cadence_rpm
        } else {
            &self.reference.cadence_rpm
        }
    }

    /// Flywheel speed: from the device if it has any, else from the reference.
    pub fn speed(self) -> &'a Series {
        if self.under_test.speed_kmh.is_empty() {
            &self.reference.speed_kmh
        } else {
            &self.under_test.speed_kmh
        }
    }

    /// The second `index..index + 1`, for live use: call it once the second is over by at least
    /// the time a packet may be late.
    pub fn second(self, index: i64) -> Second {
        Second {
            index,
            under_test: held(&self.under_test.power_w, index),
            reference: held(&self.reference.power_w, index),
            cadence_rpm: held(self.cadence(), index).map(|held| held.value),
            speed_kmh: held(self.speed(), index).map(|held| held.value),
            target_w: None,
            step: None,
            script: Script::Ridden,
            invalid: None,
        }
    }
}

/// The mean of a series over one second.
pub fn held(series: &Series, index: i64) -> Option<Held> {
    let at = Timestamp::from_secs(index);
    let first = series
        .times()
        .partition_point(|&time| time <= at)
        .saturating_sub(1);
    let mut sum = Sum::default();
    sum.add_from(series, first, index);
    sum.held()
}

/// Every second from `from` on, `count` of them, in one pass.
pub fn column(series: &Series, from: i64, count: usize) -> Vec<Option<Held>> {
    let mut cursor = 0;
    let times = series.times();
    (0..count as i64)
        .map(|offset| {
            let index = from + offset;
            let at = Timestamp::from_secs(index);
            while times.get(cursor + 1).is_some_and(|&next| next <= at) {
                cursor += 1;
            }
            let mut sum = Sum::default();
            sum.add_from(series, cursor, index);
            sum.held()
        })
        .collect()
}

/// What is held during one second.
struct Sum {
    weighted: f64,
    covered_ns: i64,
    low: f64,
    high: f64,
}

impl Default for Sum {
    fn default() -> Self {
        Self {
            weighted: 0.0,
            covered_ns: 0,
            low: f64::MAX,
            high: f64::MIN,
        }
    }
}

impl Sum {
    /// Adds what samples from `first` on hold within the second.
    fn add_from(&mut self, series: &Series, first: usize, index: i64) {
        let (from, to) = (Timestamp::from_secs(index), Timestamp::from_secs(index + 1));
        for sample in first..series.len() {
            let begin = series.times()[sample].max(from);
            if begin >= to {
                break;
            }
            let end = series.held_until(sample).min(to);
            if end > begin {
                let value = series.values()[sample];
                let length_ns = (end - begin).as_nanos();
                self.covered_ns += length_ns;
                self.weighted += value * length_ns as f64;
                self.low = self.low.min(value);
                self.high = self.high.max(value);
            }
        }
    }

    fn held(&self) -> Option<Held> {
        (self.covered_ns > 0).then(|| Held {
            value: self.weighted / self.covered_ns as f64,
            covered: (self.covered_ns as f64 * 1e-9).min(1.0),
            low: self.low,
            high: self.high,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use units::Span;

    proptest! {
        /// One pass over all seconds gives what each second alone gives, and both agree with the
        /// series' own time-weighted mean.
        #[test]
        fn a_column_is_its_seconds(
            steps in proptest::collection::vec((0.05f64..4.0, -50.0f64..900.0), 1..60),
            broken in 0usize..60,
        ) {
            let mut secs = 0.3;
            let mut series = Series::new();
            for (place, (step, value)) in steps.into_iter().enumerate() {
                secs += step;
                series.push(Timestamp::from_secs_f64(secs), value).unwrap();
                if place == broken {
                    series.break_at(Timestamp::from_secs_f64(secs + 0.02));
                }
            }
            let column = column(&series, -2, 70);
            for (offset, second) in column.iter().enumerate() {
                let index = offset as i64 - 2;
                prop_assert_eq!(*second, held(&series, index));
                let from = Timestamp::from_secs(index);
                let mean = series.mean_over(from, from + Span::from_secs(1));
                prop_assert_eq!(second.is_some(), mean.is_some());
                if let (Some(second), Some(mean)) = (second, mean) {
                    prop_assert!((second.value - mean.value).abs() < 1e-9 * (1.0 + mean.value.abs()));
                    prop_assert!((second.covered - mean.covered.as_secs_f64()).abs() < 1e-9);
                    prop_assert!(second.low <= second.value + 1e-9);
                    prop_assert!(second.high >= second.value - 1e-9);
                }
            }
        }
    }

    #[test]
    fn a_step_knows_when_it_has_settled() {
        let step = StepSpan {
            index: 0,
            attempt: 1,
            title: "200 W".into(),
            feeds: Feeds::Steady,
            from: Timestamp::from_millis(10_400),
            to: Timestamp::MAX,
            settle: Span::from_secs(30),
            target_w: Some(200.0),
            cadence_rpm: None,
            gear: None,
        };
        assert_eq!(StepNow::at(&step, 0, 10), None);
        assert_eq!(StepNow::at(&step, 0, 11).unwrap().settling_s, 30);
        assert_eq!(StepNow::at(&step, 0, 40).unwrap().settling_s, 1);
        assert_eq!(StepNow::at(&step, 0, 41).unwrap().settling_s, 0);
    }
}
