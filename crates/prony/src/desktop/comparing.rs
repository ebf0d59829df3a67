//! Sessions side by side: every condition with what changed and its interval, and in words what
//! cannot be told apart.
//!
//! The uncertainties of two sessions are treated as independent. Where the same reference measured
//! both, what is common to both would cancel, so that the intervals here are rather too wide.

use super::jobs::Reins;
use super::opened;
use analysis::examinations::comparison::ranking;
use analysis::findings::{Cell, Findings};
use analysis::outcome::{Ink, Layer, Plot};
use anyhow::{Result, bail};
use desk::{CompareView, ComparedSession};
use session::Archive;
use std::collections::BTreeMap;
use std::path::PathBuf;

/// Levels closer than this are one condition, W; cadences, rpm; speeds, km/h.
const SAME_LEVEL_W: f64 = 10.0;
const SAME_CADENCE_RPM: f64 = 5.0;
const SAME_SPEED_KMH: f64 = 3.0;

/// One session that was judged.
struct Side {
    title: String,
    started: String,
    findings: Findings,
}

/// Judges the sessions and puts them side by side; the first is what the others are compared with.
///
/// # Errors
/// If one of them cannot be judged; the message names it.
pub fn compare(paths: &[PathBuf], id: u64, reins: &Reins) -> Result<CompareView> {
    let mut sides = Vec::new();
    for (index, path) in paths.iter().enumerate() {
        if reins.is_given_up() {
            bail!("the comparison was given up");
        }
        let opened = opened::open(path, 0)?;
        let about = Archive::open(path)?.about()?;
        let device = opened
            .facts
            .sources
            .iter()
            .find(|source| source.role == "under-test")
            .map(|source| source.name.clone());
        let script = about.script.map(|script| script.name);
        let parts: Vec<String> = [device, script].into_iter().flatten().collect();
        sides.push(Side {
            title: match parts.is_empty() {
                true => opened.label,
                false => parts.join(" · "),
            },
            started: about
                .started
                .map(|started| started.format("%Y-%m-%d %H:%M").to_string())
                .unwrap_or_default(),
            findings: std::sync::Arc::unwrap_or_clone(opened.findings),
        });
        reins.done(index + 1, paths.len());
    }
    Ok(view(&sides, id))
}

fn view(sides: &[Side], id: u64) -> CompareView {
    let conditions = conditions(sides);
    CompareView {
        id,
        sessions: sides
            .iter()
            .enumerate()
            .map(|(index, side)| ComparedSession {
                title: name(index, side),
                started: side.started.clone(),
                verdict: side.findings.overall.verdict.words().to_owned(),
            })
            .collect(),
        heads: std::iter::once("Condition".to_owned())
            .chain((1..=sides.len()).map(|number| match number {
                1 => "1".to_owned(),
                number => format!("{number}, and change from 1"),
            }))
            .collect(),
        rows: conditions.iter().map(row).collect(),
        sentences: sentences(sides, &conditions),
        plots: plots(sides, &conditions),
    }
}

fn name(index: usize, side: &Side) -> String {
    format!("{} · {}", index + 1, side.title)
}

/// One condition and its cell in each session.
struct Condition<'a> {
    words: String,
    level_w: f64,
    cells: Vec<Option<&'a Cell>>,
}

/// The conditions of all sessions, those of the deciding treatment of the first.
fn conditions(sides: &[Side]) -> Vec<Condition<'_>> {
    let Some(first) = sides.first() else {
        return Vec::new();
    };
    let treatment = first.findings.overall.treatment;
    let mut found: Vec<Condition<'_>> = Vec::new();
    for (index, side) in sides.iter().enumerate() {
        for cell in &side.findings.cells {
            if cell.treatment != treatment {
                continue;
            }
            let known = found.iter_mut().find(|condition| {
                condition.cells[index].is_none()
                    && condition
                        .cells
                        .iter()
                        .flatten()
                        .next()
                        .is_some_and(|other| are_same(other, cell))
            });
            match known {
                Some(condition) => condition.cells[index] = Some(cell),
                None => {
                    let mut cells = vec![None; sides.len()];
                    cells[index] = Some(cell);
                    found.push(Condition {
                        words: words(cell),
                        level_w: cell.level_w,
                        cells,
                    });
                }
            }
        }
    }
    found.sort_by(|a, b| a.level_w.total_cmp(&b.level_w));
    found
}

fn are_same(a: &Cell, b: &Cell) -> bool {
    let near = |a: Option<f64>, b: Option<f64>, within: f64| match (a, b) {
        (Some(a), Some(b)) => (a - b).abs() <= within,
        _ => true,
    };
    a.feeds == b.feeds
        && (a.level_w - b.level_w).abs() <= SAME_LEVEL_W
        && near(a.cadence_rpm, b.cadence_rpm, SAME_CADENCE_RPM)
        && near(a.speed_kmh, b.speed_kmh, SAME_SPEED_KMH)
}

fn words(cell: &Cell) -> String {
    let mut words = format!("{:.0} W", cell.level_w);
    if let Some(rpm) = cell.cadence_rpm {
        words.push_str(&format!(", {rpm:.0} rpm"));
    }
    if let Some(kmh) = cell.speed_kmh {
        words.push_str(&format!(", {kmh:.0} km/h"));
    }
    words
}

/// A number with its sign, a true minus among them.
fn signed(value: f64) -> String {
    format!("{value:+.2}").replace('-', "−")
}

/// Change from the first to another cell, with its 95 % interval, %.
fn change(first: &Cell, other: &Cell) -> [f64; 3] {
    let value = other.bias_pct - first.bias_pct;
    // Both expanded uncertainties are of 95 %, so their root of squares is one, too.
    let expanded = first.expanded_pct.hypot(other.expanded_pct);
    [value - expanded, value, value + expanded]
}

fn row(condition: &Condition<'_>) -> Vec<String> {
    let first = condition.cells.first().copied().flatten();
    let cells = condition.cells.iter().enumerate().map(|(index, cell)| {
        let Some(cell) = cell else {
            return "not ridden".to_owned();
        };
        let own = format!("{} % ± {:.2} %", signed(cell.bias_pct), cell.expanded_pct);
        match first.filter(|_| index > 0) {
            Some(first) => {
                let [low, value, high] = change(first, cell);
                format!(
                    "{own}; {} % ({} to {})",
                    signed(value),
                    signed(low),
                    signed(high)
                )
            }
            None => format!("{own}, {}", cell.verdict.words()),
        }
    });
    std::iter::once(condition.words.clone())
        .chain(cells)
        .collect()
}

fn sentences(sides: &[Side], conditions: &[Condition<'_>]) -> Vec<String> {
    let mut sentences = Vec::new();
    let errors: Vec<_> = sides
        .iter()
        .enumerate()
        .filter_map(|(index, side)| Some((name(index, side), side.findings.overall.bias_pct?)))
        .collect();
    match ranking(&errors, "%") {
        Ok(tested) => sentences.push(tested.sentence),
        Err(not) => sentences.push(format!("No order is given: {}.", not.reason)),
    }
    let mut shared = 0;
    let mut changed = BTreeMap::<usize, usize>::new();
    for condition in conditions {
        let Some(first) = condition.cells.first().copied().flatten() else {
            continue;
        };
        for (index, cell) in condition.cells.iter().enumerate().skip(1) {
            if let Some(cell) = cell {
                shared += 1;
                let [low, _, high] = change(first, cell);
                if low > 0.0 || high < 0.0 {
                    *changed.entry(index).or_default() += 1;
                }
            }
        }
    }
    sentences.push(match (shared, changed.is_empty()) {
        (0, _) => "No condition was ridden in the first and in another session.".to_owned(),
        (_, true) => "No change from the first session is shown at any condition.".to_owned(),
        (_, false) => {
            let list: Vec<String> = changed
                .iter()
                .map(|(index, count)| format!("session {} at {count}", index + 1))
                .collect();
            format!(
                "A change from the first session is shown for {} of the conditions.",
                list.join(", ")
            )
        }
    });
    sentences.push(
        "The intervals are of 95 % and take the sessions as independent. Where the same reference \
         measured both, what is common to them cancels, and the intervals are rather too wide."
            .to_owned(),
    );
    sentences
}

fn ink(index: usize) -> Ink {
    match index {
        0 => Ink::Reference,
        index if index % 2 == 1 => Ink::UnderTest,
        _ => Ink::SecondReference,
    }
}

fn plots(sides: &[Side], conditions: &[Condition<'_>]) -> Vec<Plot> {
    if conditions.is_empty() {
        return Vec::new();
    }
    // Side by side within a level, so that intervals do not hide each other.
    let place = |level_w: f64, index: usize| {
        level_w + 4.0 * (index as f64 - 0.5 * (sides.len() as f64 - 1.0))
    };
    let layer = |index: usize, intervals: Vec<[f64; 4]>| Layer::Intervals {
        ink: ink(index),
        label: name(index, &sides[index]),
        intervals,
    };
    let zero = || Layer::Level {
        ink: Ink::Fit,
        label: String::new(),
        at: 0.0,
    };
    let mut overlay = vec![zero()];
    let mut changes = vec![zero()];
    for index in 0..sides.len() {
        let cells = conditions.iter().filter_map(|condition| {
            let cell = condition.cells[index]?;
            Some((condition, cell))
        });
        let own = cells.clone().map(|(condition, cell)| {
            let [low, high] = [-cell.expanded_pct, cell.expanded_pct];
            let x = place(condition.level_w, index);
            [x, cell.bias_pct + low, cell.bias_pct, cell.bias_pct + high]
        });
        overlay.push(layer(index, own.collect()));
        if index > 0 {
            let changed = cells.filter_map(|(condition, cell)| {
                let [low, value, high] = change(condition.cells[0]?, cell);
                Some([place(condition.level_w, index), low, value, high])
            });
            changes.push(layer(index, changed.collect()));
        }
    }
    vec![
        Plot {
            name: "side-by-side",
            title: "Difference of each session by level".into(),
            x: "level, W".into(),
            y: "device − reference, % of reference".into(),
            layers: overlay,
            caption: "bars are 95 % expanded uncertainties; sessions stand beside each other \
                      within a level"
                .into(),
        },
        Plot {
            name: "change",
            title: "Change from the first session by level".into(),
            x: "level, W".into(),
            y: "change, % of reference".into(),
            layers: changes,
            caption: "bars are 95 % intervals; one that does not cross zero shows a change".into(),
        },
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    fn demo(name: &str) -> PathBuf {
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../../demo-sessions")
            .join(name)
    }

    #[test]
    fn a_good_trainer_and_one_with_faults_are_told_apart_and_a_session_not_from_itself() {
        let good = demo("level-sweep-honest.prony");
        let bad = demo("level-sweep-workshop.prony");
        let view = compare(&[good.clone(), bad], 1, &Reins::default()).unwrap();
        assert_eq!(view.sessions.len(), 2);
        assert_eq!(view.heads.len(), 3);
        assert!(view.rows.len() >= 3, "{:?}", view.rows);
        assert!(view.rows.iter().all(|row| row.len() == 3));
        assert!(
            view.sentences[1].starts_with("A change from the first session is shown"),
            "{:?}",
            view.sentences
        );
        let same = compare(&[good.clone(), good], 2, &Reins::default()).unwrap();
        assert!(
            same.sentences[0].contains("do not allow an order"),
            "{:?}",
            same.sentences
        );
        assert!(same.sentences[1].starts_with("No change"));
        for row in &same.rows {
            assert!(row[2].contains("+0.00 % ("), "{row:?}");
        }
    }
}
