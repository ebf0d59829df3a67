//! Numbers in sentences: signs, units and intervals written the same way everywhere.

use crate::outcome::{Ink, Layer, Plot};

/// A signed number with a true minus sign.
pub(crate) fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{:+.*}", decimals, value);
    let zero = text.chars().all(|c| !c.is_ascii_digit() || c == '0');
    if zero {
        text.trim_start_matches(['+', '-']).to_owned()
    } else {
        text.replace('-', "−")
    }
}

/// An unsigned number; a negative one keeps a true minus sign, a rounded zero has none.
pub(crate) fn plain(value: f64, decimals: usize) -> String {
    let text = format!("{:.*}", decimals, value);
    let zero = text.chars().all(|c| !c.is_ascii_digit() || c == '0');
    text.replace('-', if zero { "" } else { "−" })
}

/// "95 % interval −0.3 to +1.2 %".
pub(crate) fn interval(interval: [f64; 2], decimals: usize, unit: &str) -> String {
    format!(
        "95\u{a0}% interval {} to {}\u{a0}{unit}",
        signed(interval[0], decimals),
        signed(interval[1], decimals)
    )
}

/// "95 % interval 3.1 to 4.3 s", for quantities that have no sign.
pub(super) fn interval_of_size(interval: [f64; 2], decimals: usize, unit: &str) -> String {
    format!(
        "95\u{a0}% interval {} to {}\u{a0}{unit}",
        plain(interval[0], decimals),
        plain(interval[1], decimals)
    )
}

/// A plot with its axes and layers.
pub(super) fn plot(
    name: &'static str,
    title: &str,
    [x, y]: [&str; 2],
    layers: Vec<Layer>,
    caption: String,
) -> Plot {
    Plot {
        name,
        title: title.into(),
        x: x.into(),
        y: y.into(),
        layers,
        caption,
    }
}

/// A difference with its expanded uncertainty (two standard uncertainties) as an interval: where it
/// stands, its lower end, itself, its upper end.
pub(super) const fn error_bar(x: f64, error_pct: f64, u_pct: f64) -> [f64; 4] {
    [
        x,
        error_pct - 2.0 * u_pct,
        error_pct,
        error_pct + 2.0 * u_pct,
    ]
}

/// An unbroken line.
pub(super) fn line(ink: Ink, label: &str, points: Vec<[f64; 2]>) -> Layer {
    Layer::Line {
        ink,
        label: label.into(),
        runs: vec![points],
    }
}

/// Points.
pub(super) fn points(ink: Ink, label: &str, points: Vec<[f64; 2]>) -> Layer {
    Layer::Points {
        ink,
        label: label.into(),
        points,
    }
}

/// Points with intervals.
pub(super) fn intervals(ink: Ink, label: &str, intervals: Vec<[f64; 4]>) -> Layer {
    Layer::Intervals {
        ink,
        label: label.into(),
        intervals,
    }
}

/// A horizontal line.
pub(super) fn level(ink: Ink, label: &str, at: f64) -> Layer {
    Layer::Level {
        ink,
        label: label.into(),
        at,
    }
}

/// A horizontal band.
pub(super) fn band(ink: Ink, label: &str, low: f64, high: f64) -> Layer {
    Layer::Band {
        ink,
        label: label.into(),
        low,
        high,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_in_sentences() {
        assert_eq!(signed(-0.26, 1), "−0.3");
        assert_eq!(signed(0.04, 1), "0.0");
        assert_eq!(signed(-0.04, 1), "0.0");
        assert_eq!(
            interval([-1.0, 2.0], 1, "%"),
            "95\u{a0}% interval −1.0 to +2.0\u{a0}%"
        );
    }
}
