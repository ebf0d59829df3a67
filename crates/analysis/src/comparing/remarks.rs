//! What a comparison says in sentences, and what a reader has to know before trusting it.

use super::change::Shown;
use super::common::Shared;
use super::conditions::{Condition, Counts, treatment_of};
use super::mean::Shift;
use super::sides::{Side, listed, sessions};
use crate::examinations::words::{interval, signed};

/// What changed, from the means and from the conditions.
pub(super) fn changes(conditions: &[Condition], shifts: &[Option<Shift>]) -> Vec<String> {
    let mut sentences = shift_sentences(shifts);
    let changes = || {
        conditions.iter().flat_map(|condition| {
            let cells = condition.cells.iter().enumerate();
            cells.filter_map(|(index, cell)| Some((index, cell.as_ref()?.change?)))
        })
    };
    if changes().next().is_none() {
        sentences.push("No condition was ridden in the first and in another session.".to_owned());
        return sentences;
    }
    for (shown, words) in [
        (Shown::Yes, "is shown"),
        (
            Shown::IfCommonHeld,
            "is shown on the assumption that what is common held",
        ),
    ] {
        let mut counts: Vec<(usize, usize)> = Vec::new();
        for (index, _) in changes().filter(|(_, change)| change.shown == shown) {
            match counts.iter_mut().find(|(known, _)| *known == index) {
                Some((_, count)) => *count += 1,
                None => counts.push((index, 1)),
            }
        }
        counts.sort_unstable();
        if counts.len() > MOST_SENTENCES {
            sentences.push(format!(
                "At single conditions a change from the first session {words} {} times of {}.",
                counts.iter().map(|(_, count)| count).sum::<usize>(),
                changes().count()
            ));
        } else if !counts.is_empty() {
            let list: Vec<String> = counts
                .iter()
                .map(|(index, count)| format!("session {} at {count}", index + 1))
                .collect();
            sentences.push(format!(
                "A change from the first session {words} for {} of the conditions.",
                listed(&list)
            ));
        }
    }
    if changes().all(|(_, change)| change.shown == Shown::No) {
        sentences
            .push("No change from the first session is shown at any single condition.".to_owned());
    }
    sentences
}

/// Most mean changes that have a sentence of their own.
const MOST_SENTENCES: usize = 3;

/// The mean changes: a sentence for each, or of many their reach and which are shown.
fn shift_sentences(shifts: &[Option<Shift>]) -> Vec<String> {
    let there: Vec<(usize, &Shift)> = shifts
        .iter()
        .enumerate()
        .filter_map(|(index, shift)| Some((index, shift.as_ref()?)))
        .collect();
    if there.len() <= MOST_SENTENCES {
        let words = there
            .iter()
            .map(|(index, shift)| shift_words(*index, shift));
        return words.collect();
    }
    let values = || there.iter().map(|(_, shift)| shift.change.value_pct);
    let all: Vec<usize> = there.iter().map(|(index, _)| *index).collect();
    let mut words = format!(
        "Over the conditions both rode, {} read {} to {} % against session 1.",
        sessions(&all),
        signed(values().fold(f64::INFINITY, f64::min), 2),
        signed(values().fold(f64::NEG_INFINITY, f64::max), 2)
    );
    for (shown, verdict) in [
        (Shown::Yes, "A change is shown"),
        (
            Shown::IfCommonHeld,
            "A change is shown on the assumption that what is common held",
        ),
        (Shown::No, "No change is shown"),
    ] {
        let some = there
            .iter()
            .filter(|(_, shift)| shift.change.shown == shown);
        let some: Vec<usize> = some.map(|(index, _)| *index).collect();
        if !some.is_empty() {
            words += &format!(" {verdict} for {}.", sessions(&some));
        }
    }
    vec![words]
}

fn shift_words(index: usize, shift: &Shift) -> String {
    let change = &shift.change;
    let over = match shift.conditions {
        1 => "at the one condition both rode".to_owned(),
        count => format!("over the {count} conditions both rode"),
    };
    let verdict = match change.shown {
        Shown::Yes => "a change is shown",
        Shown::IfCommonHeld => "a change is shown on the assumption that what is common held",
        Shown::No => "no change is shown",
    };
    let mut words = format!(
        "Session {} reads {} % against session 1 {over} ({}",
        index + 1,
        signed(change.value_pct, 2),
        interval(change.independent.interval, 2, "%")
    );
    if let Some(cancelled) = change.cancelled {
        words += &format!(
            "; {} to {}\u{a0}% with what is common cancelled",
            signed(cancelled.interval[0], 2),
            signed(cancelled.interval[1], 2)
        );
    }
    words + &format!("): {verdict}.")
}

/// What is common and what is not, and by what rule it is used.
pub(super) fn common(shared: &[Shared]) -> Vec<String> {
    let mut words = vec![
        "Two 95 % intervals stand beside each change. The first takes nothing as common to the two \
         sessions and is never too narrow. The second cancels the terms of the uncertainty whose \
         cause is provably the same thing in both (JCGM 100:2008, 5.2, correlated inputs). A change \
         is called shown where both leave out zero."
            .to_owned(),
    ];
    words.extend(grouped(shared, &|one| {
        one.common
            .iter()
            .map(|c| (c.term, c.because.clone()))
            .map(|(term, because)| format!("the {term} cancels: {because}"))
            .collect()
    }));
    words.extend(grouped(shared, &|one| {
        one.own
            .iter()
            .map(|why| format!("not taken as common: {why}"))
            .collect()
    }));
    words
}

/// The same words of several sessions once, with the sessions they hold for.
fn grouped(shared: &[Shared], words_of: &dyn Fn(&Shared) -> Vec<String>) -> Vec<String> {
    let mut found: Vec<(String, Vec<usize>)> = Vec::new();
    for (index, one) in shared.iter().enumerate().skip(1) {
        for words in words_of(one) {
            match found.iter_mut().find(|(known, _)| *known == words) {
                Some((_, of)) => of.push(index),
                None => found.push((words, vec![index])),
            }
        }
    }
    found
        .into_iter()
        .map(|(words, of)| format!("Session 1 and {}: {words}.", sessions(&of)))
        .collect()
}

/// Whether two sessions were fixed to something else.
type Differs = fn(&Side<'_>, &Side<'_>) -> bool;

/// What a reader has to know: other rules, other treatments, conditions that do not count, no
/// verdict.
pub(super) fn cautions(sides: &[Side<'_>], conditions: &[Condition]) -> Vec<String> {
    let mut words = Vec::new();
    let differing = |differs: &dyn Fn(&Side<'_>) -> bool| -> Vec<usize> {
        let others = sides.iter().enumerate().skip(1);
        others
            .filter(|(_, side)| differs(side))
            .map(|(index, _)| index)
            .collect()
    };
    let parts: [(&str, Differs); 6] = [
        ("decision rule", |a, b| {
            a.settings.in_force().decision != b.settings.in_force().decision
        }),
        ("claimed tolerance", |a, b| {
            a.settings.power_claim().tolerance != b.settings.power_claim().tolerance
        }),
        ("assumed drivetrain", |a, b| {
            a.settings.drivetrain != b.settings.drivetrain
        }),
        ("knowledge of the reference", |a, b| {
            a.settings.reference != b.settings.reference
        }),
        ("gating of windows", |a, b| {
            a.settings.gate != b.settings.gate
        }),
        ("alignment of streams", |a, b| {
            a.settings.align != b.settings.align
        }),
    ];
    for (name, differs) in parts {
        let others = differing(&|side| differs(&sides[0], side));
        if !others.is_empty() {
            words.push(format!(
                "Judged by another {name} than session 1: {}. Each verdict is by what was fixed \
                 before its own ride; `prony compare --settings` judges all by one.",
                sessions(&others)
            ));
        }
    }
    let first = sides[0].findings.overall.treatment;
    let other_treatment = differing(&|side| treatment_of(side, first) != first);
    if !other_treatment.is_empty() {
        words.push(format!(
            "Session 1 is compared {}, {} {}: the instruments measure at other places.",
            first.words(),
            sessions(&other_treatment),
            treatment_of(&sides[other_treatment[0]], first).words()
        ));
    }
    for (index, side) in sides.iter().enumerate() {
        if !side.findings.overall.blocked_by.is_empty() {
            words.push(format!(
                "No verdict stands on session {}: {}.",
                index + 1,
                side.findings.overall.blocked_by.join("; ")
            ));
        }
    }
    let too_few = conditions
        .iter()
        .flat_map(|condition| condition.cells.iter().flatten())
        .filter(|compared| compared.counts == Counts::TooFewWindows)
        .count();
    if too_few > 0 {
        words.push(format!(
            "{too_few} cells have fewer steady windows than their rule asks for; they are shown and \
             enter no change, spread or order."
        ));
    }
    words
}
