//! `prony assess`: the findings of a recorded session, computed from its bytes.

use super::Failure;
use crate::choice;
use crate::cli::{self, AssessArguments, say, tell};
use crate::picturing::{self, Ground};
use crate::reopening::reopen;
use crate::reporting;
use analysis::findings::Findings;
use anyhow::Result;
use indicatif::{ProgressBar, ProgressStyle};
use report::{Imprint, SessionFacts};
use session::Document;
use std::path::Path;

/// Assesses a session and gives the findings in the form asked for.
pub fn assess(arguments: &AssessArguments) -> Result<(), Failure> {
    let imprint = match &arguments.imprint {
        Some(path) => reporting::imprint(path).map_err(Failure::unusable)?.imprint,
        None => Imprint::default(),
    };
    let reopened = reopen(&arguments.session)?;
    let mut settings = reopened.settings.clone();
    if arguments.claims.is_some() {
        let (in_force, sheet) =
            choice::claims(arguments.claims.as_deref(), settings).map_err(Failure::unusable)?;
        settings = in_force;
        let fixed = reopened.facts.about.claims.as_ref().map(Document::sha256);
        if fixed != sheet.as_ref().map(Document::sha256) {
            tell(
                "note: judged by a claim sheet given after the ride, not by the one fixed before it",
            );
        }
    }
    if let Some(path) = &arguments.measurements {
        choice::measurements(path, &mut settings).map_err(Failure::unusable)?;
    }
    let findings = reopened.findings(&settings);
    let facts = reopened.facts;
    let tested = facts.about.started.map(|started| started.date_naive());
    for doubt in imprint.doubts(tested) {
        tell(format_args!(
            "note: the imprint does not fit the session: {doubt}"
        ));
    }
    if let Some(to) = &arguments.json {
        cli::write_json(&report::document(&facts, &findings), to)?;
    }
    if let Some(to) = &arguments.report {
        let page = reporting::report(&arguments.session, &facts, &findings, &imprint)?;
        cli::write_file(to, page)?;
        tell(format_args!("report: {}", to.display()));
    }
    if let Some(folder) = &arguments.pictures {
        let ground = if arguments.transparent {
            Ground::Transparent
        } else {
            Ground::Plain
        };
        let files = draw(&facts, &findings, folder, ground)?;
        tell(format_args!(
            "pictures: {files} files in {}",
            folder.display()
        ));
    }
    if arguments
        .json
        .as_ref()
        .is_none_or(|to| to.as_os_str() != "-")
    {
        summary(&findings);
    }
    Ok(())
}

/// Draws every plot, with a progress bar on stderr; hidden where there is no terminal.
fn draw(facts: &SessionFacts, findings: &Findings, folder: &Path, ground: Ground) -> Result<usize> {
    let bar = ProgressBar::no_length();
    if let Ok(style) = ProgressStyle::with_template("{bar:30} {pos}/{len} pictures") {
        bar.set_style(style);
    }
    let files = picturing::save(facts, findings, folder, ground, &|done, of| {
        bar.set_length(of as u64);
        bar.set_position(done as u64);
        true
    });
    bar.finish_and_clear();
    files
}

/// The findings in a few lines for a person.
fn summary(findings: &Findings) {
    say(&findings.overall.sentence);
    for cell in &findings.cells {
        say(format_args!(
            "  {:>4.0} W {:>3} rpm {:>5} km/h  {:<12}  {:+6.2} % ± {:.2} %  {}",
            cell.level_w,
            cell.cadence_rpm
                .map_or("–".to_owned(), |rpm| format!("{rpm:.0}")),
            cell.speed_kmh
                .map_or("–".to_owned(), |kmh| format!("{kmh:.1}")),
            cell.treatment.words(),
            cell.bias_pct,
            cell.expanded_pct,
            cell.verdict.words(),
        ));
    }
    for claim in &findings.claims {
        say(format_args!(
            "claim {:?} ({}): {}",
            claim.name,
            claim.limit,
            claim.verdict.words()
        ));
    }
    say(format_args!(
        "{} not tested, {} exclusions, {} anomalies",
        findings.not_tested.len(),
        findings.exclusions.len(),
        findings.anomalies.len(),
    ));
}
