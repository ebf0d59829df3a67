//! What the window shows of sessions that were compared: the same computation as on the command
//! line, in words for the desk.

use crate::comparing::{Compilation, compile};
use crate::desktop::jobs::Reins;
use analysis::comparing::{Along, Bounds, Change, Comparison, Condition, Counts, Kind, Shown};
use anyhow::Result;
use desk::{CompareView, ComparedRow, ComparedSession, Laid};
use std::path::PathBuf;

/// What stands where there is nothing.
const NOTHING: &str = "–";

/// What somebody can say that sessions are to each other, in the order of the desk.
const KINDS: [Kind; 4] = [Kind::Repeats, Kind::BeforeAfter, Kind::Units, Kind::Devices];

/// Judges the sessions and puts them side by side; the first is what the others are compared with.
/// What they are to each other is told by them, unless somebody says it by an index of [`KINDS`].
///
/// # Errors
/// If one of them cannot be judged, or is there twice; the message names it.
pub fn compare(paths: &[PathBuf], asked: Option<usize>, reins: &Reins) -> Result<Compilation> {
    let asked = asked.and_then(|index| KINDS.get(index)).copied();
    compile(paths, None, asked, |judged| {
        reins.done(judged, paths.len());
        !reins.is_given_up()
    })
}

/// The view of a comparison; `asked` is what somebody said that the sessions are, and `id` changes
/// with every one.
pub fn view(compiled: &Compilation, asked: Option<usize>, id: u64) -> CompareView {
    let found = &compiled.comparison;
    let words = found.kind.kind.words();
    CompareView {
        id,
        kind: sentence_case(words),
        kinds: KINDS.iter().map(|kind| kind.words().to_owned()).collect(),
        asked,
        sessions: sessions(compiled),
        rows: found
            .conditions
            .iter()
            .flat_map(rows)
            .chain(means(found))
            .collect(),
        sentences: found.sentences.clone(),
        basis: found.cautions.iter().chain(&found.basis).cloned().collect(),
        plots: found.plots.clone(),
        by_step: laid(found, Along::Step),
        by_clock: laid(found, Along::Clock),
    }
}

fn sessions(compiled: &Compilation) -> Vec<ComparedSession> {
    let described = |member: &crate::comparing::Member| {
        let device = member.side().device;
        let script = member.reopened.facts.about.script.as_ref();
        let words = [
            Some(device.name.clone()).filter(|name| !name.is_empty()),
            script.map(|script| script.name.clone()),
        ];
        let words: Vec<String> = words.into_iter().flatten().collect();
        let started = member.reopened.facts.about.started;
        ComparedSession {
            title: match words.is_empty() {
                true => member.file.clone(),
                false => words.join(" · "),
            },
            serial: device.serial.unwrap_or_else(|| "not known".to_owned()),
            firmware: device.firmware.unwrap_or_else(|| "not known".to_owned()),
            started: started
                .map(|started| started.format("%Y-%m-%d %H:%M").to_string())
                .unwrap_or_default(),
            verdict: member.findings.overall.verdict.words().to_owned(),
        }
    };
    compiled.members.iter().map(described).collect()
}

fn laid(found: &Comparison, along: Along) -> Laid {
    match found.overlay(along) {
        Ok(overlay) => Laid::Over(overlay.plots.clone()),
        Err(not) => Laid::Refused(sentence_case(&not.reason) + "."),
    }
}

/// The rows of one condition, one for each session that rode it.
fn rows(condition: &Condition) -> Vec<ComparedRow> {
    let ridden = condition.cells.iter().enumerate();
    ridden
        .filter_map(|(index, cell)| Some((index, cell.as_ref()?)))
        .map(|(index, it)| {
            let change = it.change.as_ref();
            ComparedRow {
                condition: condition.words.clone(),
                session: (index + 1).to_string(),
                error: format!("{} ± {:.2}", signed(it.cell.bias_pct), it.cell.expanded_pct),
                verdict: it.cell.verdict.words().to_owned(),
                change: change.map_or_else(|| NOTHING.to_owned(), |c| signed(c.value_pct)),
                independent: interval(change.map(|change| &change.independent)),
                cancelled: interval(change.and_then(|change| change.cancelled.as_ref())),
                shown: shown(it.counts, change),
            }
        })
        .collect()
}

/// The rows of the mean changes, over the conditions that each session shares with the first.
fn means(found: &Comparison) -> Vec<ComparedRow> {
    let there = found.shifts.iter().enumerate();
    there
        .filter_map(|(index, shift)| Some((index, shift.as_ref()?)))
        .map(|(index, shift)| {
            let change = &shift.change;
            ComparedRow {
                condition: "mean of those both rode".to_owned(),
                session: (index + 1).to_string(),
                error: NOTHING.to_owned(),
                verdict: String::new(),
                change: signed(change.value_pct),
                independent: interval(Some(&change.independent)),
                cancelled: interval(change.cancelled.as_ref()),
                shown: shown(Counts::Yes, Some(change)),
            }
        })
        .collect()
}

fn shown(counts: Counts, change: Option<&Change>) -> String {
    match (counts, change.map(|change| change.shown)) {
        (Counts::TooFewWindows, _) => "few windows",
        (_, None) => "",
        (_, Some(Shown::Yes)) => "yes",
        (_, Some(Shown::IfCommonHeld)) => "if held",
        (_, Some(Shown::No)) => "no",
    }
    .to_owned()
}

fn interval(bounds: Option<&Bounds>) -> String {
    bounds.map_or_else(
        || NOTHING.to_owned(),
        |bounds| {
            let [low, high] = bounds.interval;
            format!("{} to {}", signed(low), signed(high))
        },
    )
}

/// A number with its sign, a true minus among them.
fn signed(value: f64) -> String {
    format!("{value:+.2}").replace('-', "−")
}

fn sentence_case(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
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
    fn a_good_trainer_and_one_with_faults_are_told_apart() {
        let good = demo("level-sweep-honest.prony");
        let bad = demo("level-sweep-workshop.prony");
        let compiled = compare(&[good, bad], None, &Reins::default()).unwrap();
        let view = view(&compiled, None, 1);
        assert_eq!(view.sessions.len(), 2);
        assert_eq!(view.kind, "Different devices");
        assert_eq!(view.sessions[1].serial, "BT4-3301");
        assert!(view.rows.len() >= 6, "{:?}", view.rows);
        assert!(view.rows.iter().any(|row| row.shown == "yes"));
        let words = view.sentences.join(" ");
        assert!(words.contains("session 1 – then session 2"), "{words}");
        assert!(matches!(&view.by_step, Laid::Over(plots) if plots.len() == 4));
        assert!(matches!(&view.by_clock, Laid::Over(plots) if plots.len() == 4));
    }

    #[test]
    fn the_same_session_twice_is_refused_by_name() {
        let good = demo("level-sweep-honest.prony");
        let Err(error) = compare(&[good.clone(), good], None, &Reins::default()) else {
            panic!("a session was compared with itself");
        };
        let words = format!("{error:#}");
        assert!(
            words.contains("level-sweep-honest.prony was given twice"),
            "{words}"
        );
    }
}
