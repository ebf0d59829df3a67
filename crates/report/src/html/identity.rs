//! Identification: what a test report has to say about itself, in the order in which
//! ISO/IEC 17025:2017 asks for it (7.8.2.1, 7.8.3, 7.8.6, 7.8.8). What is not known is a dash.

use super::markup::{Row, Safe, Set, join, known, ours, p, see, table, text};
use super::{Imprint, Page};
use crate::words::NOTHING;

/// The table of identification.
pub(super) fn identification(page: &Page<'_>) -> Safe {
    let (about, findings, imprint) = (&page.facts.about, page.findings, page.imprint);
    let asked: Vec<(&str, &str, Safe)> = vec![
        ("title", "7.8.2.1 a", text("Test report")),
        (
            "tester, address",
            "7.8.2.1 b",
            two(&imprint.tester, &imprint.address),
        ),
        (
            "place of testing",
            "7.8.2.1 c",
            known(imprint.place.as_deref()),
        ),
        ("identification, on every page", "7.8.2.1 d", text(&page.id)),
        ("customer", "7.8.2.1 e", known(imprint.customer.as_deref())),
        (
            "method",
            "7.8.2.1 f",
            ours(format!(
                "{}; {}",
                about.script.as_ref().map_or_else(
                    || text("no script"),
                    |script| ours(format!("script “{}”", text(&script.name)))
                ),
                see("method", "method")
            )),
        ),
        ("item tested", "7.8.2.1 g", item(page)),
        (
            "condition of the item",
            "7.8.2.1 g",
            known(imprint.item_condition.as_deref()),
        ),
        (
            "received on",
            "7.8.2.1 h",
            known(imprint.received.as_deref()),
        ),
        (
            "tested on",
            "7.8.2.1 i",
            known(
                about
                    .started
                    .map(|at| at.format("%-d %B %Y, %H:%M (UTC%:z)").to_string())
                    .as_deref(),
            ),
        ),
        ("issued on", "7.8.2.1 j", known(imprint.issued.as_deref())),
        (
            "how the unit was obtained",
            "7.8.2.1 k",
            known(imprint.sampling.as_deref()),
        ),
        (
            "scope",
            "7.8.2.1 l",
            text("The results relate only to the item tested. One unit is not the model."),
        ),
        (
            "results with units",
            "7.8.2.1 m",
            join([
                see("conditions", "conditions"),
                text(", "),
                see("claims", "claims"),
            ]),
        ),
        (
            "deviations and exclusions",
            "7.8.2.1 n",
            join([
                see("exclusions", "exclusions"),
                text(", "),
                see("examinations", "not tested"),
            ]),
        ),
        (
            "authorised by",
            "7.8.2.1 o",
            known(imprint.authorised_by.as_deref()),
        ),
        (
            "results of others",
            "7.8.2.1 p",
            known(imprint.external.as_deref()),
        ),
        (
            "conditions of the test",
            "7.8.3",
            see("surroundings", "surroundings"),
        ),
        ("uncertainty", "7.8.3", see("uncertainty", "uncertainty")),
        (
            "statement of conformity, decision rule",
            "7.8.6",
            join([see("claims", "claims"), text(", "), see("rule", "rule")]),
        ),
        (
            "opinions",
            "7.8.7",
            text("None. Everything here is a result or follows from the rule."),
        ),
        ("replaces", "7.8.8", known(imprint.amends.as_deref())),
        (
            "who supplied the unit, who paid",
            NOTHING,
            known(imprint.interests.as_deref()),
        ),
    ];
    let under_test = findings.under_test.is_some();
    let rows = asked
        .into_iter()
        .filter(|(name, _, _)| under_test || *name != "scope")
        .map(|(name, clause, value)| Row::new(vec![text(name), value, text(clause)]));
    let columns = [
        ("asked for", Set::Words),
        ("answer", Set::Words),
        ("clause", Set::Numbers),
    ];
    join([
        p(
            "The order follows ISO/IEC 17025:2017, so that nothing is forgotten. It does not mean that \
           the tester works by that standard or is accredited: they are not.",
        ),
        table(&columns, rows.collect()),
        p(
            "This report may be passed on whole. A part of it without its limits, its uncertainty and \
           its exclusions says something else.",
        ),
    ])
}

fn two(first: &Option<String>, second: &Option<String>) -> Safe {
    match (first, second) {
        (Some(first), Some(second)) => text(&format!("{first}, {second}")),
        (first, second) => known(first.as_deref().or(second.as_deref())),
    }
}

fn item(page: &Page<'_>) -> Safe {
    let Some(name) = page.findings.under_test.as_deref() else {
        return text(NOTHING);
    };
    let info = page
        .facts
        .sources
        .iter()
        .find(|info| name == info.name || name.starts_with(&format!("{} · ", info.name)));
    let Some(info) = info else { return text(name) };
    let identity = &info.identity;
    let part = |what: &str, value: &Option<String>| {
        format!("{what} {}", value.as_deref().unwrap_or(NOTHING))
    };
    text(
        &[
            info.name.clone(),
            part("maker", &identity.maker),
            part("model", &identity.model),
            part("serial", &identity.serial),
            part("firmware", &identity.firmware),
            part("hardware", &identity.hardware),
        ]
        .join("; "),
    )
}

/// Program, session and seal.
pub(super) fn integrity(page: &Page<'_>) -> Safe {
    let (about, facts) = (&page.facts.about, page.facts);
    let seal = facts.sealed.as_deref();
    let meaning = match seal {
        Some("sealed") => "Every recorded byte is as it was sealed while it was recorded.",
        Some("broken") => "Something in the session file is not as it was recorded.",
        Some(_) => "Not every row of the session file is covered by a seal.",
        None => "The seals of the session file were not checked for this report.",
    };
    let broken = if seal == Some("broken") {
        " class=\"beyond\""
    } else {
        ""
    };
    join([
        super::markup::pairs(vec![
            ("session", known(Some(&about.session))),
            ("recorded by", known(Some(&about.program))),
            ("findings and report computed by", text(&program())),
            (
                "seal",
                ours(format!(
                    "<strong{broken}>{}</strong>. {}",
                    known(seal),
                    text(meaning)
                )),
            ),
            ("schema of the findings", text(crate::json::SCHEMA)),
        ]),
        p(
            "All figures are computed anew from the recorded bytes; none is stored as the only copy. A \
           chain of seals shows that a file was changed afterwards, not that the measurement was \
           right.",
        ),
    ])
}

/// The program that computed the findings.
pub(super) fn program() -> String {
    format!("Prony {}", env!("CARGO_PKG_VERSION"))
}

/// A name of this report that no other report has: the session, and a digest of all that is in it.
pub(super) fn report_id(
    facts: &crate::SessionFacts,
    findings: &analysis::findings::Findings,
    imprint: &Imprint,
) -> String {
    let content = format!(
        "{}\n{imprint:?}\n{}",
        crate::document(facts, findings),
        program()
    );
    let digest = session::Document::new("", content).sha256();
    let plain = |words: &str| -> String {
        words
            .chars()
            .filter(char::is_ascii_alphanumeric)
            .take(8)
            .collect()
    };
    let session = plain(&facts.about.session);
    let session = if session.is_empty() {
        "unnamed".to_owned()
    } else {
        session
    };
    format!("PR-{session}-{}", plain(&digest))
}
