//! The report of a comparison of sessions: the same sheet as that of one session.
//!
//! On top what the sessions are to each other and what can be said; then the sessions, every
//! condition with its changes, spread and order, the pictures, and what the intervals rest on.

mod tables;

use super::evidence::figure;
use super::identity;
use super::markup::{Safe, Set, join, list, ours, p, pairs, quiet, table, text};
use super::sheet::{bound, broken, running, simulated, whole};
use crate::compared::Compared;
use crate::svg::Room;
use crate::words::{count, escape, sentence_case};
use analysis::outcome::Plot;

/// The report of a comparison, one self-contained HTML file.
pub fn comparison_html(compared: &Compared<'_>) -> String {
    let id = report_id(compared);
    let kind = compared.comparison.kind.kind.words();
    let title = format!(
        "Comparison {id}: {}, {kind}",
        count(compared.sessions.len(), "session", "sessions")
    );
    let is_simulated = compared.is_simulated();
    let running = running("Comparison", &id, kind, is_simulated);
    let opening = join([
        simulated(is_simulated),
        broken(compared.sessions.iter().any(|one| one.seal.is_broken)),
        summary(compared),
    ]);
    let matter = bound("Comparison", &id, opening, sections(compared));
    whole(&title, &id, &running, &matter)
}

/// A name that no other comparison has: a digest of all that is in it.
fn report_id(compared: &Compared<'_>) -> String {
    let content = crate::json::comparison_document(compared).to_string();
    let digest = session::Document::new("", content).sha256();
    format!("PC-{}", digest.chars().take(12).collect::<String>())
}

fn summary(compared: &Compared<'_>) -> Safe {
    let found = compared.comparison;
    let head = ours(format!(
        "<h1>{} compared</h1>\n<p class=\"said\">{}</p>\n",
        escape(&count(compared.sessions.len(), "session", "sessions")),
        escape(&sentence_case(found.kind.kind.words()))
    ));
    let sentences = found.sentences.iter().map(|sentence| p(sentence));
    let scope = quiet(
        "This holds for the units that were tested, under the conditions that were ridden; a few \
         units are not the model. The tester is not an accredited laboratory, and this report does \
         not make them one.",
    );
    ours(format!(
        "<section class=\"plain\" id=\"summary\" aria-label=\"Summary\">\n{}</section>\n",
        join([head].into_iter().chain(sentences).chain([scope]))
    ))
}

/// The sections in their order: id, name in the contents, content.
fn sections<'a>(compared: &Compared<'_>) -> Vec<(&'a str, &'a str, Safe)> {
    vec![
        ("sessions", "The sessions", tables::sessions(compared)),
        (
            "conditions",
            "Every condition and its change",
            tables::conditions(compared),
        ),
        ("means", "Means and spread", tables::means(compared)),
        ("order", "Order", tables::order(compared)),
        (
            "comparison",
            "The conditions in pictures",
            figures(&compared.comparison.plots, "condition"),
        ),
        ("overlay", "The rides over each other", overlay(compared)),
        ("basis", "What the intervals rest on", basis(compared)),
        ("rules", "Decision rules", tables::rules(compared)),
        ("integrity", "Software and seals", integrity(compared)),
    ]
}

fn figures(plots: &[Plot], id: &str) -> Safe {
    if plots.is_empty() {
        return p("There is nothing to draw.");
    }
    let figures = plots
        .iter()
        .enumerate()
        .map(|(index, plot)| figure(plot, format!("{id}-{}", index + 1), Room::Wide));
    join(figures)
}

fn overlay(compared: &Compared<'_>) -> Safe {
    let found = match compared.comparison.overlay(compared.along) {
        Ok(found) => found,
        Err(not) => {
            return p(&format!(
                "Not laid over each other by {}: {}.",
                compared.along.name(),
                not.reason
            ));
        }
    };
    let mut parts = vec![
        p(&format!(
            "Laid over each other with {}.",
            found.along.words()
        )),
        figures(&found.plots, "along"),
    ];
    if !found.steps.is_empty() {
        parts.push(tables::steps(found));
    }
    join(parts)
}

fn basis(compared: &Compared<'_>) -> Safe {
    let found = compared.comparison;
    let mut parts = vec![list(found.basis.iter().map(String::as_str))];
    if !found.cautions.is_empty() {
        parts.push(super::markup::heading("To be known before trusting it"));
        parts.push(list(found.cautions.iter().map(String::as_str)));
    }
    join(parts)
}

/// Program, sessions and seals.
fn integrity(compared: &Compared<'_>) -> Safe {
    let columns = [
        ("", Set::Numbers),
        ("file", Set::Words),
        ("session", Set::Words),
        ("recorded by", Set::Words),
        ("seal", Set::Words),
    ];
    let rows = compared
        .sessions
        .iter()
        .enumerate()
        .map(|(index, one)| tables::seal(index, one));
    join([
        pairs(vec![
            ("compared and reported by", text(&identity::program())),
            (
                "schema of the comparison",
                text(crate::json::COMPARISON_SCHEMA),
            ),
        ]),
        table(&columns, rows.collect()),
        p(
            "All figures are computed anew from the recorded bytes of every session. A chain of \
           seals shows that a file was changed afterwards, not that the measurement was right.",
        ),
    ])
}
