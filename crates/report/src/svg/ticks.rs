//! Where an axis begins and ends, where its marks stand and what they say.

use crate::words;

/// A mark on an axis.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tick {
    /// Where, in the unit of the axis.
    pub(crate) at: f64,
    /// What stands beside it.
    pub(crate) label: String,
}

/// What the numbers of an axis are, as far as its marks depend on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A plain number.
    Plain,
    /// A difference: the sign is written, and the range is one of a fixed set around zero, so
    /// that plots of different devices can be laid side by side.
    Difference,
    /// A size that begins at nothing, such as a power.
    FromZero,
    /// Minutes that people count in halves and quarters of an hour.
    Time,
    /// A share or a chance: from 0 to 1 if it stays within.
    Share,
    /// Places in a list: marked with whole numbers.
    Ordinal,
    /// A size whose ratios matter.
    Logarithmic,
    /// Nothing: the axis only holds spans of the other one.
    Blank,
}

impl Kind {
    /// From the label of an axis.
    pub(crate) fn of(label: &str) -> Self {
        let lower = label.to_lowercase();
        let begins = |words: &[&str]| words.iter().any(|word| lower.starts_with(word));
        if lower.contains("(logarithmic)") {
            Self::Logarithmic
        } else if begins(&[
            "device − reference",
            "device minus reference",
            "difference",
            "error",
        ]) {
            Self::Difference
        } else if begins(&["time"]) && lower.contains(", min") {
            Self::Time
        } else if begins(&["share not", "share of windows", "chance", "probability"]) {
            Self::Share
        } else if lower.contains("order of the list") || begins(&["group", "1 "]) {
            Self::Ordinal
        } else if begins(&["power", "standard deviation", "work", "weight", "count"]) {
            Self::FromZero
        } else {
            Self::Plain
        }
    }
}

/// Half-ranges of a difference, in its unit.
const DIFFERENCES: [f64; 16] = [
    2.5, 4.0, 6.0, 10.0, 15.0, 25.0, 40.0, 60.0, 100.0, 150.0, 250.0, 400.0, 600.0, 1000.0, 2500.0,
    5000.0,
];

/// The smallest of 1, 2, 5 × 10ⁿ that is not below `raw`; 25, 250 and so on as well.
pub(crate) fn round_step(raw: f64) -> f64 {
    if !raw.is_finite() || raw <= 0.0 {
        return 1.0;
    }
    let magnitude = 10f64.powf(raw.log10().floor());
    [1.0, 2.0, 2.5, 5.0]
        .into_iter()
        .filter(|step| *step != 2.5 || magnitude > 5.0)
        .find(|step| step * magnitude >= raw * 0.999_999)
        .unwrap_or(10.0)
        * magnitude
}

fn step(low: f64, high: f64, most: usize, kind: Kind) -> f64 {
    let raw = (high - low) / most.max(1) as f64;
    if kind == Kind::Time
        && let Some(step) = [1.0, 2.0, 5.0, 10.0, 15.0, 20.0, 30.0, 60.0, 120.0, 240.0]
            .into_iter()
            .find(|step| *step >= raw)
        && raw >= 0.5
    {
        return step;
    }
    let step = round_step(raw);
    if kind == Kind::Ordinal {
        step.max(1.0)
    } else {
        step
    }
}

/// A range that holds `low..high` and ends on marks. `most` is about the number of marks.
pub(crate) fn range([low, high]: [f64; 2], most: usize, kind: Kind) -> [f64; 2] {
    let (mut low, mut high) = (low.min(high), high.max(low));
    match kind {
        Kind::Difference => {
            let needed = low.abs().max(high.abs());
            let half = DIFFERENCES.into_iter().find(|half| *half >= needed);
            let half = half.unwrap_or_else(|| round_step(needed));
            return [-half, half];
        }
        Kind::Share if low >= 0.0 && high <= 1.0 => return [0.0, 1.0],
        Kind::Logarithmic if low > 0.0 => return [ladder(low).0, ladder(high).1],
        Kind::Blank => return [0.0, 1.0],
        Kind::Ordinal => (low, high) = (low - 0.5, high + 0.5),
        Kind::FromZero if low >= 0.0 => low = 0.0,
        Kind::Time if low >= 0.0 && low < 0.3 * high => low = 0.0,
        Kind::Plain if low >= 0.0 && low < 0.3 * high => low = 0.0,
        _ => {}
    }
    if high - low <= 1e-9 * high.abs().max(low.abs()).max(1e-9) {
        let room = (0.05 * high.abs()).max(0.5);
        (low, high) = (low - room, high + room);
    }
    let step = step(low, high, most, kind);
    if matches!(kind, Kind::Time | Kind::Ordinal) {
        // Time ends when the recording ends, not on the next mark.
        return [low, high];
    }
    [
        (low / step + 1e-9).floor() * step,
        (high / step - 1e-9).ceil() * step,
    ]
}

/// The steps of 1, 2, 5 × 10ⁿ below and above a positive number, or that number itself.
fn ladder(value: f64) -> (f64, f64) {
    let magnitude = 10f64.powf(value.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0].map(|step| step * magnitude);
    let below = steps
        .into_iter()
        .rev()
        .find(|step| *step <= value * 1.000_001);
    let above = steps.into_iter().find(|step| *step >= value * 0.999_999);
    (below.unwrap_or(value), above.unwrap_or(value))
}

/// Marks of a logarithmic axis: 1, 2 and 5 of every decade where there is room, else 1.
fn logarithmic([low, high]: [f64; 2], most: usize) -> Vec<Tick> {
    if low <= 0.0 || !high.is_finite() || high <= low {
        return Vec::new();
    }
    let decades = (high / low).log10();
    let steps: &[f64] = if 3.0 * decades <= most as f64 + 2.0 {
        &[1.0, 2.0, 5.0]
    } else {
        &[1.0]
    };
    let first = low.log10().floor() as i32;
    let last = high.log10().ceil() as i32;
    (first..=last.min(first + 40))
        .flat_map(|decade| steps.iter().map(move |step| step * 10f64.powi(decade)))
        .filter(|at| *at >= low * 0.999_999 && *at <= high * 1.000_001)
        .map(|at| Tick {
            at,
            label: words::decimals(at, places(at)),
        })
        .collect()
}

/// Marks on a range.
pub(crate) fn marks([low, high]: [f64; 2], most: usize, kind: Kind) -> Vec<Tick> {
    match kind {
        Kind::Blank => return Vec::new(),
        Kind::Logarithmic => return logarithmic([low, high], most),
        _ => {}
    }
    let step = step(low, high, most, kind);
    let places = places(step);
    let first = (low / step - 1e-9).ceil();
    let span = (high / step + 1e-9).floor() - first + 1.0;
    let count = if span.is_finite() {
        span.clamp(0.0, 60.0) as usize
    } else {
        0
    };
    (0..count)
        .map(|i| (first + i as f64) * step)
        .map(|at| Tick {
            at,
            label: match kind {
                Kind::Difference => words::signed(at, places),
                _ => words::decimals(at, places),
            },
        })
        .collect()
}

/// Decimals that a step needs: 2.5 needs one more than 2.
fn places(step: f64) -> usize {
    let mut places = 0;
    let mut scaled = step;
    while places < 6 && (scaled - scaled.round()).abs() > 1e-6 * scaled.abs() {
        scaled *= 10.0;
        places += 1;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(range: [f64; 2], most: usize, kind: Kind) -> Vec<String> {
        marks(range, most, kind)
            .into_iter()
            .map(|tick| tick.label)
            .collect()
    }

    #[test]
    fn marks_stand_on_round_numbers() {
        assert_eq!(
            labels([0.0, 250.0], 5, Kind::Plain),
            ["0", "50", "100", "150", "200", "250"]
        );
        assert_eq!(
            labels([-5.0, 5.0], 5, Kind::Difference),
            ["−4", "−2", "0", "+2", "+4"]
        );
        assert_eq!(
            labels([0.0, 1.0], 5, Kind::Share),
            ["0.0", "0.2", "0.4", "0.6", "0.8", "1.0"]
        );
        assert_eq!(
            labels([0.5, 10.0], 6, Kind::Logarithmic),
            ["0.5", "1", "2", "5", "10"]
        );
        assert_eq!(
            labels([0.01, 1000.0], 6, Kind::Logarithmic),
            ["0.01", "0.1", "1", "10", "100", "1000"]
        );
        assert_eq!(labels([0.5, 3.5], 8, Kind::Ordinal), ["1", "2", "3"]);
        assert_eq!(
            labels([0.0, 61.0], 6, Kind::Time),
            ["0", "15", "30", "45", "60"]
        );
    }

    #[test]
    fn differences_share_their_ranges() {
        assert_eq!(range([-1.0, 3.1], 5, Kind::Difference), [-4.0, 4.0]);
        assert_eq!(range([0.2, 0.3], 5, Kind::Difference), [-2.5, 2.5]);
        assert_eq!(range([150.0, 400.0], 5, Kind::FromZero), [0.0, 400.0]);
    }

    #[test]
    fn odd_ranges_give_few_marks_and_no_panic() {
        for bad in [
            [5.0, 5.0],
            [f64::NAN, 5.0],
            [0.0, f64::INFINITY],
            [-f64::MAX, f64::MAX],
        ] {
            for kind in [Kind::Plain, Kind::Logarithmic, Kind::Time, Kind::Ordinal] {
                assert!(marks(bad, 5, kind).len() <= 130);
            }
        }
        let [low, high] = range([5.0, 5.0], 5, Kind::Plain);
        assert!(low < 5.0 && high > 5.0);
        assert!(Kind::of("Device − reference, % of reference") == Kind::Difference);
    }
}
