//! `prony compare`: sessions side by side, with what changed, what spreads and what cannot be told
//! apart.

use super::Failure;
use crate::choice;
use crate::cli::{self, CompareArguments, say, tell};
use crate::comparing::{Compilation, compile};
use crate::places;
use analysis::comparing::{Along, Change, Counts, Shown};

/// Compares sessions and gives what was found in the form asked for.
pub fn compare(arguments: &CompareArguments) -> Result<(), Failure> {
    let count = arguments.sessions.len();
    let [fewest, most] = analysis::comparing::SESSIONS;
    if !(fewest..=most).contains(&count) {
        return Err(Failure::unusable(anyhow::anyhow!(
            "{fewest} to {most} sessions can be compared, and {count} {} given",
            if count == 1 { "was" } else { "were" }
        )));
    }
    let settings = match &arguments.settings {
        Some(path) => Some((
            places::file_name(path),
            choice::settings(Some(path)).map_err(Failure::unusable)?,
        )),
        None => None,
    };
    if settings.is_some() {
        tell("note: judged by settings given after the rides, not by what was fixed before them");
    }
    let judged_by = settings.as_ref().map(|(name, it)| (name.as_str(), it));
    let asked = arguments.kind.map(Into::into);
    let compiled = compile(&arguments.sessions, judged_by, asked, |_| true)?;
    for member in compiled.members.iter().filter(|it| it.seal.is_broken) {
        tell(format_args!(
            "warning: {} is not what was recorded: its seals are broken; `prony verify` says where",
            member.path.display()
        ));
    }
    let along = along(arguments, &compiled);
    if let Some(to) = &arguments.json {
        let document = compiled.written(along, report::comparison_document);
        cli::write_json(&document, to)?;
    }
    if let Some(to) = &arguments.report {
        let page = compiled.written(along, report::comparison_html);
        cli::write_file(to, page)?;
        tell(format_args!("report: {}", to.display()));
    }
    if arguments
        .json
        .as_ref()
        .is_none_or(|to| to.as_os_str() != "-")
    {
        summary(&compiled, along);
    }
    Ok(())
}

fn along(arguments: &CompareArguments, compiled: &Compilation) -> Along {
    let along = arguments.by.map_or(Along::Step, Into::into);
    if let Err(not) = compiled.comparison.overlay(along) {
        tell(format_args!(
            "note: not laid over each other by {}: {}",
            along.name(),
            not.reason
        ));
    }
    along
}

/// The comparison in a few lines for a person.
fn summary(compiled: &Compilation, along: Along) {
    let found = &compiled.comparison;
    for (index, member) in compiled.members.iter().enumerate() {
        say(format_args!(
            "{:>2}  {}  {}  {}  {}",
            index + 1,
            member.file,
            member
                .reopened
                .facts
                .about
                .started
                .map_or("–".to_owned(), |at| at
                    .format("%Y-%m-%d %H:%M")
                    .to_string()),
            member.findings.overall.verdict.words(),
            member.seal.state,
        ));
    }
    say("");
    for sentence in &found.sentences {
        say(sentence);
    }
    say("");
    say(format_args!(
        "Every condition, {}; a change is from session 1, % of the reference, 95 %:",
        found.treatment.words()
    ));
    for condition in &found.conditions {
        say(format_args!("{}", condition.words));
        for (index, cell) in condition.cells.iter().enumerate() {
            let Some(it) = cell else {
                say(format_args!("  {:>2}  not ridden", index + 1));
                continue;
            };
            let note = match (it.counts, it.change) {
                (Counts::TooFewWindows, _) => "  too few windows".to_owned(),
                (Counts::Yes, Some(change)) => change_words(&change),
                (Counts::Yes, None) => String::new(),
            };
            say(format_args!(
                "  {:>2}  {:+6.2} ± {:.2}  {:<17}{note}",
                index + 1,
                it.cell.bias_pct,
                it.cell.expanded_pct,
                it.cell.verdict.words(),
            ));
        }
    }
    say("");
    for sentence in found.basis.iter().chain(&found.cautions) {
        say(sentence);
    }
    if let Ok(overlay) = found.overlay(along)
        && !overlay.steps.is_empty()
    {
        say(format_args!(
            "{} steps of the script lie over each other; the curves are in the report.",
            overlay.steps.len()
        ));
    }
}

fn change_words(change: &Change) -> String {
    let [low, high] = change.independent.interval;
    let mut words = format!("  {:+.2} ({low:+.2} to {high:+.2}", change.value_pct);
    if let Some(cancelled) = change.cancelled {
        let [low, high] = cancelled.interval;
        words += &format!("; common cancelled {low:+.2} to {high:+.2}");
    }
    words += ")";
    if change.shown != Shown::No {
        words += &format!("  {}", change.shown.words());
    }
    words
}
