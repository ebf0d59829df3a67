//! Plots of the conditions: every session by level, its change from the first, and the means.

use super::conditions::{Compared, Condition};
use super::mean::MeanError;
use super::overlay::ink;
use crate::outcome::{Ink, Layer, Plot};
use crate::stats::intervals::interval_95;

/// Most room that the sessions of one level take beside each other, W.
const ROOM_W: f64 = 36.0;
/// Room between two of them where there are few, W.
const APART_W: f64 = 4.0;

/// The plots that do not lie along time.
pub(super) fn plots(
    conditions: &[Condition],
    sessions: usize,
    means: Option<&[MeanError]>,
) -> Vec<Plot> {
    if conditions.is_empty() {
        return Vec::new();
    }
    let mut plots = vec![
        side_by_side(conditions, sessions),
        changes(conditions, sessions),
    ];
    plots.extend(means.map(by_session));
    plots
}

/// Where a session stands within a level, so that intervals do not hide each other.
fn place(level_w: f64, index: usize, sessions: usize) -> f64 {
    let apart = APART_W.min(ROOM_W / sessions as f64);
    level_w + apart * (index as f64 - 0.5 * (sessions as f64 - 1.0))
}

fn layer(index: usize, intervals: Vec<[f64; 4]>) -> Layer {
    Layer::Intervals {
        ink: ink(index),
        label: format!("session {}", index + 1),
        intervals,
    }
}

fn zero() -> Layer {
    Layer::Level {
        ink: Ink::Fit,
        label: String::new(),
        at: 0.0,
    }
}

fn of_session(
    conditions: &[Condition],
    index: usize,
) -> impl Iterator<Item = (&Condition, &Compared)> {
    let ridden = move |condition: &'_ Condition| condition.cells[index].is_some();
    conditions
        .iter()
        .filter(move |condition| ridden(condition))
        .filter_map(move |condition| Some((condition, condition.cells[index].as_ref()?)))
}

fn side_by_side(conditions: &[Condition], sessions: usize) -> Plot {
    let own = |index: usize| {
        let intervals = of_session(conditions, index).map(|(condition, compared)| {
            let cell = &compared.cell;
            let [low, high] = [-cell.expanded_pct, cell.expanded_pct].map(|u| cell.bias_pct + u);
            [
                place(condition.level_w, index, sessions),
                low,
                cell.bias_pct,
                high,
            ]
        });
        layer(index, intervals.collect())
    };
    Plot {
        name: "side-by-side",
        title: "Difference of each session by level".into(),
        x: "level, W".into(),
        y: "device − reference, % of reference".into(),
        layers: std::iter::once(zero())
            .chain((0..sessions).map(own))
            .collect(),
        caption: "bars are 95 % expanded uncertainties; sessions stand beside each other within a \
                  level"
            .into(),
    }
}

fn changes(conditions: &[Condition], sessions: usize) -> Plot {
    let changed = |index: usize| {
        let intervals = of_session(conditions, index).filter_map(|(condition, compared)| {
            let change = compared.change?;
            let [low, high] = change.independent.interval;
            let x = place(condition.level_w, index, sessions);
            Some([x, low, change.value_pct, high])
        });
        layer(index, intervals.collect())
    };
    let cancelled = |index: usize| {
        let edges: Vec<[f64; 2]> = of_session(conditions, index)
            .filter_map(|(condition, compared)| {
                let interval = compared.change?.cancelled?.interval;
                Some(interval.map(|edge| [place(condition.level_w, index, sessions), edge]))
            })
            .flatten()
            .collect();
        (!edges.is_empty()).then(|| Layer::Points {
            ink: Ink::Fit,
            label: "ends of the interval with common terms cancelled".into(),
            points: edges,
        })
    };
    Plot {
        name: "change",
        title: "Change from the first session by level".into(),
        x: "level, W".into(),
        y: "change, % of reference".into(),
        layers: std::iter::once(zero())
            .chain((1..sessions).map(changed))
            .chain((1..sessions).filter_map(cancelled))
            .collect(),
        caption: "bars are 95 % intervals with nothing taken as common; where instruments are \
                  provably the same, marks show the ends of the interval with their part cancelled"
            .into(),
    }
}

/// The mean error of each session over the conditions that all of them rode.
fn by_session(means: &[MeanError]) -> Plot {
    let intervals = means.iter().enumerate().map(|(index, mean)| {
        let [low, high] = interval_95(mean.estimate());
        [(index + 1) as f64, low, mean.value_pct, high]
    });
    Plot {
        name: "by-session",
        title: "Mean difference of each session".into(),
        x: "session, in the order of the list".into(),
        y: "device − reference, % of reference".into(),
        layers: vec![
            zero(),
            Layer::Intervals {
                ink: Ink::UnderTest,
                label: "mean over the conditions that all rode".into(),
                intervals: intervals.collect(),
            },
        ],
        caption: "bars are 95 % intervals of the whole uncertainty".into(),
    }
}
