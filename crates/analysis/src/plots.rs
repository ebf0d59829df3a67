//! Plots of the comparison as a whole, as data.

use crate::compared::Compared;
use crate::findings::{Alignment, Cell, LagQuantity, Overall, WindowFinding};
use crate::outcome::{Ink, Layer, Plot};

/// The plots of the comparison as a whole.
pub(crate) fn plots(compared: &Compared, overall: &Overall, alignment: &[Alignment]) -> Vec<Plot> {
    let mut plots = Vec::new();
    if !compared.cells.is_empty() {
        plots.push(by_level(compared, overall));
        plots.push(over_time(compared, overall));
    }
    if alignment.iter().any(|found| found.segments.len() > 1) {
        plots.push(lags(alignment));
    }
    plots
}

fn by_level(compared: &Compared, overall: &Overall) -> Plot {
    let cells: Vec<&Cell> = compared
        .cells
        .iter()
        .filter(|cell| cell.treatment == overall.treatment)
        .collect();
    let mut layers = tolerance_layers(
        cells
            .iter()
            .map(|cell| (cell.level_w, cell.tolerance_pct))
            .collect(),
    );
    layers.push(Layer::Intervals {
        ink: Ink::UnderTest,
        label: "difference with expanded uncertainty".into(),
        intervals: cells
            .iter()
            .map(|cell| {
                [
                    cell.level_w,
                    cell.bias_pct - cell.expanded_pct,
                    cell.bias_pct,
                    cell.bias_pct + cell.expanded_pct,
                ]
            })
            .collect(),
    });
    Plot {
        name: "difference-by-level",
        title: "Difference by level".into(),
        x: "level, W".into(),
        y: "device − reference, % of reference".into(),
        layers,
        caption: format!(
            "{} conditions, {} steady windows, {}; bars are 95 % expanded uncertainties",
            cells.len(),
            compared.windows.len(),
            overall.treatment.words()
        ),
    }
}

fn over_time(compared: &Compared, overall: &Overall) -> Plot {
    let mut layers: Vec<Layer> = compared
        .exclusions
        .iter()
        .map(|exclusion| Layer::Span {
            ink: Ink::Excluded,
            label: exclusion.reason.clone(),
            from: exclusion.from_s / 60.0,
            to: exclusion.to_s / 60.0,
        })
        .collect();
    let middle = |window: &WindowFinding| (window.from_s + window.to_s) / 120.0;
    layers.extend(tolerance_layers(
        compared
            .windows
            .iter()
            .map(|window| (middle(window), window.tolerance_pct))
            .collect(),
    ));
    layers.push(Layer::Intervals {
        ink: Ink::UnderTest,
        label: "window mean with expanded uncertainty".into(),
        intervals: compared
            .windows
            .iter()
            .map(|window| {
                [
                    middle(window),
                    window.difference_pct - window.expanded_pct,
                    window.difference_pct,
                    window.difference_pct + window.expanded_pct,
                ]
            })
            .collect(),
    });
    Plot {
        name: "difference-over-time",
        title: "Difference over time".into(),
        x: "time, min".into(),
        y: "device − reference, % of reference".into(),
        layers,
        caption: format!(
            "{} steady windows, {}; excluded spans carry their reason",
            compared.windows.len(),
            overall.treatment.words()
        ),
    }
}

/// A band where the tolerance is one number, else the two edges as lines.
fn tolerance_layers(mut edges: Vec<(f64, f64)>) -> Vec<Layer> {
    edges.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(&(_, first)) = edges.first() else {
        return Vec::new();
    };
    let mut layers = vec![Layer::Level {
        ink: Ink::Reference,
        label: String::new(),
        at: 0.0,
    }];
    if edges.iter().all(|(_, edge)| (edge - first).abs() < 1e-9) {
        layers.push(Layer::Band {
            ink: Ink::Tolerance,
            label: "claimed tolerance".into(),
            low: -first,
            high: first,
        });
    } else {
        let edge = |sign: f64| edges.iter().map(|&(x, edge)| [x, sign * edge]).collect();
        layers.push(Layer::Line {
            ink: Ink::Tolerance,
            label: "claimed tolerance".into(),
            runs: vec![edge(1.0), edge(-1.0)],
        });
    }
    layers
}

fn lags(alignment: &[Alignment]) -> Plot {
    let inks = [Ink::UnderTest, Ink::SecondReference, Ink::Fit];
    let mut layers = Vec::new();
    for (place, found) in alignment.iter().enumerate() {
        for (quantity, word) in [
            (LagQuantity::Power, "power"),
            (LagQuantity::Cadence, "cadence"),
        ] {
            let intervals: Vec<[f64; 4]> = found
                .segments
                .iter()
                .filter(|segment| segment.quantity == quantity)
                .map(|segment| {
                    let half = 2.0 * segment.u_s;
                    [
                        segment.middle_s / 60.0,
                        segment.lag_s - half,
                        segment.lag_s,
                        segment.lag_s + half,
                    ]
                })
                .collect();
            if !intervals.is_empty() {
                layers.push(Layer::Intervals {
                    ink: inks[place.min(inks.len() - 1)],
                    label: format!("{}, {word}", found.source),
                    intervals,
                });
            }
        }
    }
    Plot {
        name: "lag-by-segment",
        title: "Lag against the primary reference".into(),
        x: "time, min".into(),
        y: "lag, s (positive: late)".into(),
        layers,
        caption: "least variance of the difference, by segment; bars are ±2 u".into(),
    }
}
