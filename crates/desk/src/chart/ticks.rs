//! Where the marks of an axis stand and what they say.

use crate::parts::words;

/// A mark on an axis.
#[derive(Clone, Debug, PartialEq)]
pub struct Tick {
    /// Where, in the unit of the axis.
    pub at: f64,
    /// What stands beside it.
    pub label: String,
}

/// Steps of time that people count in, seconds.
const TIME_STEPS_S: [f64; 16] = [
    1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 60.0, 120.0, 300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0,
    14_400.0, 28_800.0,
];

/// The smallest of 1, 2, 5 × 10ⁿ that is not below `raw`.
pub fn round_up(raw: f64) -> f64 {
    if !raw.is_finite() || raw <= 0.0 {
        return 1.0;
    }
    let magnitude = 10f64.powf(raw.log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .into_iter()
        .find(|step| step * magnitude >= raw * 0.999_999);
    step.unwrap_or(10.0) * magnitude
}

/// Marks on a range of numbers, at most about `most` of them.
pub fn numbers([low, high]: [f64; 2], most: usize) -> Vec<Tick> {
    let step = round_up((high - low) / most.max(1) as f64);
    let decimals = (-step.log10().floor()).clamp(0.0, 6.0) as usize;
    multiples(low, high, step)
        .map(|at| Tick {
            at,
            label: words::decimals(at, decimals),
        })
        .collect()
}

/// Marks on places in a list: whole numbers only.
pub fn whole([low, high]: [f64; 2]) -> Vec<Tick> {
    let step = round_up((high - low) / 12.0).max(1.0);
    multiples(low, high, step)
        .map(|at| Tick {
            at,
            label: words::decimals(at, 0),
        })
        .collect()
}

/// Marks on a range of numbers whose sign matters: a plus is written too.
pub fn signed(range: [f64; 2], most: usize) -> Vec<Tick> {
    numbers(range, most)
        .into_iter()
        .map(|tick| {
            let plus = tick.at > 0.0 && !tick.label.starts_with('+');
            Tick {
                label: if plus {
                    format!("+{}", tick.label)
                } else {
                    tick.label
                },
                ..tick
            }
        })
        .collect()
}

/// Marks on a range of seconds since the session began.
pub fn time([low, high]: [f64; 2], most: usize) -> Vec<Tick> {
    let raw = (high - low) / most.max(1) as f64;
    let step = TIME_STEPS_S
        .into_iter()
        .find(|step| *step >= raw)
        .unwrap_or_else(|| round_up(raw));
    multiples(low, high, step)
        .filter(|at| *at >= 0.0)
        .map(|at| Tick {
            at,
            label: words::clock(at),
        })
        .collect()
}

fn multiples(low: f64, high: f64, step: f64) -> impl Iterator<Item = f64> {
    let first = (low / step - 1e-9).ceil();
    let count = if (high - low).is_finite() && step > 0.0 {
        ((high / step + 1e-9).floor() - first + 1.0).clamp(0.0, 200.0) as usize
    } else {
        0
    };
    (0..count).map(move |i| (first + i as f64) * step)
}

/// A range with round ends around the values, not narrower than forty units.
pub fn around(extent: Option<[f64; 2]>) -> [f64; 2] {
    let [low, high] = extent.unwrap_or([0.0, 100.0]);
    let step = round_up((high - low).max(40.0) / 4.0);
    let floor = (low / step - 0.2).floor() * step;
    let ceiling = (high / step + 0.2).ceil() * step;
    [floor, ceiling.max(floor + 2.0 * step)]
}

/// A vertical range that moves seldom: it grows to the next round number at once when a value
/// does not fit, and shrinks only when less than half of it is used.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slow {
    top: f64,
    floor: f64,
}

impl Slow {
    /// A range that is never smaller than `floor`.
    pub const fn at_least(floor: f64) -> Self {
        Self { top: floor, floor }
    }

    /// The range after having seen that `needed` must fit.
    pub fn fit(&mut self, needed: f64) -> f64 {
        let wanted = quarter_steps(needed.max(0.0) * 1.08).max(self.floor);
        if needed > self.top || wanted < 0.5 * self.top {
            self.top = wanted;
        }
        self.top
    }
}

/// Rounds up to 1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 8 × 10ⁿ.
fn quarter_steps(raw: f64) -> f64 {
    if !raw.is_finite() || raw <= 0.0 {
        return 0.0;
    }
    let magnitude = 10f64.powf(raw.log10().floor());
    [1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 8.0, 10.0]
        .into_iter()
        .find(|step| step * magnitude >= raw)
        .unwrap_or(10.0)
        * magnitude
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(ticks: Vec<Tick>) -> Vec<String> {
        ticks.into_iter().map(|tick| tick.label).collect()
    }

    #[test]
    fn marks_stand_on_round_numbers() {
        assert_eq!(
            labels(numbers([0.0, 250.0], 5)),
            ["0", "50", "100", "150", "200", "250"]
        );
        assert_eq!(labels(whole([0.6, 2.4])), ["1", "2"]);
        assert_eq!(labels(signed([-5.0, 5.0], 4)), ["−5", "0", "+5"]);
        assert_eq!(labels(numbers([0.0, 0.3], 3)), ["0.0", "0.1", "0.2", "0.3"]);
        assert_eq!(labels(time([-30.0, 130.0], 5)), ["0:00", "1:00", "2:00"]);
        assert_eq!(
            labels(time([0.0, 36_000.0], 5)),
            [
                "0:00", "2:00:00", "4:00:00", "6:00:00", "8:00:00", "10:00:00"
            ]
        );
    }

    #[test]
    fn a_degenerate_range_gives_few_marks_and_no_panic() {
        assert!(numbers([5.0, 5.0], 5).len() <= 1);
        assert!(numbers([f64::NAN, 5.0], 5).is_empty());
        assert!(numbers([0.0, f64::INFINITY], 5).is_empty());
    }

    #[test]
    fn a_close_look_has_round_ends() {
        assert_eq!(around(Some([196.0, 207.0])), [190.0, 210.0]);
        assert_eq!(around(Some([0.0, 300.0])), [-100.0, 400.0]);
        assert_eq!(around(None), [-50.0, 150.0]);
    }

    #[test]
    fn a_range_grows_at_once_and_shrinks_late() {
        let mut range = Slow::at_least(100.0);
        assert_eq!(range.fit(220.0), 250.0);
        assert_eq!(range.fit(249.0), 250.0);
        assert_eq!(range.fit(150.0), 250.0);
        assert_eq!(range.fit(90.0), 100.0);
        assert_eq!(range.fit(0.0), 100.0);
    }
}
