//! Plots in words and as tables, for everybody who cannot or does not want to look at them.

use crate::svg::spans;
use crate::words::{clock, count, figures, sentence_case};
use analysis::outcome::{Layer, Plot};

/// Most rows of a table under a plot; what has more is described in words only.
const MOST_ROWS: usize = 60;

/// What a plot shows, in words.
pub(crate) fn sentence(plot: &Plot) -> String {
    let mut parts = vec![format!(
        "{}. Across: {}; up: {}.",
        plot.title, plot.x, plot.y
    )];
    for layer in &plot.layers {
        parts.extend(layer_words(layer));
    }
    for reason in spans::reasons(plot) {
        let spans = count(reason.spans.len(), "span", "spans");
        parts.push(format!("Hatched, {spans}: {}.", reason.sentence()));
    }
    if !plot.caption.is_empty() {
        let caption = sentence_case(plot.caption.trim_end_matches('.'));
        parts.push(format!("{caption}."));
    }
    parts.join(" ")
}

fn layer_words(layer: &Layer) -> Option<String> {
    let named = |label: &str| {
        if label.is_empty() {
            "line".to_owned()
        } else {
            label.to_owned()
        }
    };
    match layer {
        Layer::Line { label, runs, .. } => {
            let points: Vec<[f64; 2]> = runs.iter().flatten().copied().collect();
            Some(format!("{}: {}.", named(label), extremes(&points)?))
        }
        Layer::Points { label, points, .. } => {
            Some(format!("{}: {}.", named(label), course(points)?))
        }
        Layer::Intervals {
            label, intervals, ..
        } => {
            let middles: Vec<[f64; 2]> = intervals.iter().map(|i| [i[0], i[2]]).collect();
            let widest = intervals
                .iter()
                .map(|i| i[3] - i[1])
                .filter(|width| width.is_finite())
                .fold(0.0, f64::max);
            let bars = format!("widest interval ±{}", figures(widest / 2.0));
            Some(format!("{}: {}, {bars}.", named(label), course(&middles)?))
        }
        Layer::Band {
            label, low, high, ..
        } => Some(format!(
            "{}: {} to {}.",
            named(label),
            figures(*low),
            figures(*high)
        )),
        Layer::Level { label, at, .. } if !label.is_empty() => {
            Some(format!("{label} at {}.", figures(*at)))
        }
        Layer::Level { .. } | Layer::Span { .. } => None,
    }
}

/// How many values there are, and how far they reach.
fn course(points: &[[f64; 2]]) -> Option<String> {
    let number = finite(points).count();
    let extremes = extremes(points)?;
    Some(match number {
        1 => extremes,
        _ => format!("{}, {extremes}", count(number, "value", "values")),
    })
}

/// How far values reach. Of a line the number of its corners says nothing.
fn extremes(points: &[[f64; 2]]) -> Option<String> {
    let low = finite(points).min_by(|a, b| a[1].total_cmp(&b[1]))?;
    let high = finite(points).max_by(|a, b| a[1].total_cmp(&b[1]))?;
    Some(if finite(points).count() == 1 {
        format!("{} at {}", figures(low[1]), figures(low[0]))
    } else {
        format!(
            "lowest {} at {}, highest {} at {}",
            figures(low[1]),
            figures(low[0]),
            figures(high[1]),
            figures(high[0])
        )
    })
}

fn finite(points: &[[f64; 2]]) -> impl Iterator<Item = &[f64; 2]> {
    let is_finite = |[x, y]: &&[f64; 2]| x.is_finite() && y.is_finite();
    points.iter().filter(is_finite)
}

/// The values of a plot as rows of text: series, x, y, from, to. Empty where there are too many.
pub(crate) fn rows(plot: &Plot) -> Vec<[String; 5]> {
    let mut rows = Vec::new();
    let plain = |label: &str, [x, y]: [f64; 2]| {
        [
            label.to_owned(),
            figures(x),
            figures(y),
            String::new(),
            String::new(),
        ]
    };
    for layer in &plot.layers {
        match layer {
            Layer::Points { label, points, .. } => {
                rows.extend(points.iter().map(|point| plain(label, *point)));
            }
            Layer::Line { label, runs, .. } => {
                rows.extend(runs.iter().flatten().map(|point| plain(label, *point)));
            }
            Layer::Intervals {
                label, intervals, ..
            } => {
                rows.extend(intervals.iter().map(|[x, low, middle, high]| {
                    [
                        label.clone(),
                        figures(*x),
                        figures(*middle),
                        figures(*low),
                        figures(*high),
                    ]
                }));
            }
            Layer::Band { .. } | Layer::Level { .. } | Layer::Span { .. } => {}
        }
    }
    if rows.len() > MOST_ROWS {
        Vec::new()
    } else {
        rows
    }
}

/// A stretch of the session in words.
pub(crate) fn stretch(from_s: f64, to_s: f64) -> String {
    format!("{} to {}", clock(from_s), clock(to_s))
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::outcome::Ink;

    fn plot(points: usize) -> Plot {
        let points = (0..points).map(|i| [i as f64, 2.0 * i as f64]).collect();
        Plot {
            name: "p",
            title: "Title".into(),
            x: "time, min".into(),
            y: "power, W".into(),
            layers: vec![
                Layer::Points {
                    ink: Ink::UnderTest,
                    label: "device".into(),
                    points,
                },
                Layer::Band {
                    ink: Ink::Tolerance,
                    label: "claimed".into(),
                    low: -2.0,
                    high: 2.0,
                },
            ],
            caption: "3 of them".into(),
        }
    }

    #[test]
    fn a_plot_is_told_in_words() {
        assert_eq!(
            sentence(&plot(3)).replace('\u{a0}', " "),
            "Title. Across: time, min; up: power, W. device: 3 values, lowest 0 at 0, highest \
             4.00 at 2.00. claimed: −2.00 to 2.00. 3 of them."
        );
    }

    #[test]
    fn long_series_have_no_table() {
        assert_eq!(rows(&plot(MOST_ROWS)).len(), MOST_ROWS);
        assert!(rows(&plot(MOST_ROWS + 1)).is_empty());
    }
}
