//! Identification: what a test report has to say about itself, in the order in which
//! ISO/IEC 17025:2017 asks for it (7.8.2.1, 7.8.3, 7.8.6, 7.8.8). What the tester left out is *not
//! stated*; nothing is guessed.

use super::markup::{Row, Safe, Set, join, known, not_stated, ours, p, see, table, text};
use super::page::Page;
use crate::imprint::Imprint;
use crate::words::NOTHING;

/// The table of identification.
pub(super) fn identification(page: &Page<'_>) -> Safe {
    let under_test = page.findings.under_test.is_some();
    let asked = who_and_where(page)
        .into_iter()
        .chain(what_and_when(page))
        .chain(results(page));
    let rows = asked
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

/// What is asked for, the answer, and the clause that asks.
type Asked = (&'static str, &'static str, Safe);

fn who_and_where(page: &Page<'_>) -> Vec<Asked> {
    let imprint = page.imprint;
    let number = imprint.number.as_deref().map_or_else(
        || text(&page.id),
        |number| text(&format!("{number}; {}", page.id)),
    );
    vec![
        ("title", "7.8.2.1 a", text("Test report")),
        ("tester", "7.8.2.1 b", stated(&imprint.tester.name)),
        ("address", "7.8.2.1 b", stated(&imprint.tester.address)),
        ("contact", "7.8.2.1 b", stated(&imprint.tester.contact)),
        ("place of testing", "7.8.2.1 c", stated(&imprint.place)),
        ("identification, on every page", "7.8.2.1 d", number),
        ("customer", "7.8.2.1 e", stated(&imprint.customer)),
    ]
}

fn what_and_when(page: &Page<'_>) -> Vec<Asked> {
    let (about, imprint) = (&page.facts.about, page.imprint);
    let script = about.script.as_ref().map_or_else(
        || text("no script"),
        |script| ours(format!("script “{}”", text(&script.name))),
    );
    let tested = about
        .started
        .map(|at| at.format("%-d %B %Y, %H:%M (UTC%:z)").to_string());
    vec![
        (
            "method",
            "7.8.2.1 f",
            ours(format!("{script}; under {}", see("method", "Method"))),
        ),
        ("item tested", "7.8.2.1 g", item(page)),
        (
            "condition of the item",
            "7.8.2.1 g",
            stated(&imprint.item.condition),
        ),
        (
            "settings of the item",
            "7.8.2.1 g",
            stated(&imprint.item.settings),
        ),
        ("received on", "7.8.2.1 h", day(imprint.item.received)),
        ("tested on", "7.8.2.1 i", stated(&tested)),
        ("issued on", "7.8.2.1 j", day(imprint.issued)),
        (
            "how the unit was obtained",
            "7.8.2.1 k",
            stated(&imprint.item.obtained),
        ),
        (
            "scope",
            "7.8.2.1 l",
            text("The results relate only to the item tested. One unit is not the model."),
        ),
    ]
}

fn results(page: &Page<'_>) -> Vec<Asked> {
    let imprint = page.imprint;
    let and = |first: Safe, second: Safe| join([first, text(", "), second]);
    vec![
        (
            "results with units",
            "7.8.2.1 m",
            and(
                see("conditions", "Results at every condition"),
                see("claims", "Claims and verdicts"),
            ),
        ),
        (
            "deviations from the method",
            "7.8.2.1 n",
            if imprint.deviations.is_empty() {
                not_stated()
            } else {
                text(&imprint.deviations.join("; "))
            },
        ),
        (
            "exclusions",
            "7.8.2.1 n",
            and(
                see("exclusions", "What did not count"),
                see("examinations", "Examinations, not tested"),
            ),
        ),
        ("authorised by", "7.8.2.1 o", stated(&imprint.authorised_by)),
        ("results of others", "7.8.2.1 p", stated(&imprint.external)),
        (
            "conditions of the test",
            "7.8.3",
            see("surroundings", "Surroundings"),
        ),
        (
            "uncertainty",
            "7.8.3",
            see("uncertainty", "Uncertainty budget"),
        ),
        (
            "statement of conformity, decision rule",
            "7.8.6",
            and(
                see("claims", "Claims and verdicts"),
                see("rule", "Decision rule"),
            ),
        ),
        (
            "opinions",
            "7.8.7",
            text("None. Everything here is a result or follows from the rule."),
        ),
        ("replaces", "7.8.8", stated(&imprint.amends)),
        (
            "who supplied the unit, who paid",
            NOTHING,
            stated(&imprint.interests),
        ),
    ]
}

fn stated(words: &Option<String>) -> Safe {
    match words.as_deref().map(str::trim) {
        None | Some("") => not_stated(),
        Some(words) => text(words),
    }
}

fn day(date: Option<chrono::NaiveDate>) -> Safe {
    stated(&date.map(|date| date.format("%-d %B %Y").to_string()))
}

/// The unit, as it says itself and as the tester states.
fn item(page: &Page<'_>) -> Safe {
    let Some(name) = page.findings.under_test.as_deref() else {
        return text(NOTHING);
    };
    let info = page
        .facts
        .sources
        .iter()
        .find(|info| name == info.name || name.starts_with(&format!("{} · ", info.name)));
    let own = info.map(|info| &info.identity);
    let said = [
        ("maker", own.and_then(|own| own.maker.as_deref())),
        ("model", own.and_then(|own| own.model.as_deref())),
        ("serial", own.and_then(|own| own.serial.as_deref())),
        ("firmware", own.and_then(|own| own.firmware.as_deref())),
        ("hardware", own.and_then(|own| own.hardware.as_deref())),
    ];
    let seen = page.imprint.item.identity();
    let parts = |parts: &[(&str, Option<&str>)]| -> String {
        parts
            .iter()
            .filter_map(|(what, value)| value.map(|value| format!("{what} {value}")))
            .collect::<Vec<_>>()
            .join("; ")
    };
    let unknown: Vec<&str> = seen
        .iter()
        .zip(&said)
        .filter(|((_, stated), (_, said))| stated.is_none() && said.is_none())
        .map(|((what, _), _)| *what)
        .collect();
    // What stands on the plate and what the device says of itself should be the same.
    let differing: Vec<&str> = seen
        .iter()
        .zip(&said)
        .filter_map(|((what, stated), (_, said))| {
            let (stated, said) = ((*stated)?, (*said)?);
            let same = stated.trim().eq_ignore_ascii_case(said.trim());
            (!same && *what != "maker").then_some(*what)
        })
        .collect();
    let lines = [
        ("", info.map_or(name, |info| &info.name).to_owned()),
        ("as it says itself: ", parts(&said)),
        ("as the tester states: ", parts(&seen)),
        ("these two do not agree: ", differing.join(", ")),
        ("not stated: ", unknown.join(", ")),
    ];
    let lines: Vec<String> = lines
        .iter()
        .filter(|(_, words)| !words.is_empty())
        .map(|(head, words)| format!("{head}{}", text(words)))
        .collect();
    ours(lines.join("<br/>"))
}

/// Program, session and seal.
pub(super) fn integrity(page: &Page<'_>) -> Safe {
    let (about, facts) = (&page.facts.about, page.facts);
    let seal = facts.sealed.as_deref();
    let meaning = match seal {
        Some("sealed") => "Every recorded byte is as it was sealed while it was recorded.",
        Some("broken") => "Something in the session file is not as it was recorded.",
        Some("closed") => {
            "The recording was ended in order. Whether every byte is still as it was sealed was not \
             checked for this report."
        }
        Some(_) => "The recording was not ended in order; what came last is covered by no seal.",
        None => "The seals of the session file were not checked for this report.",
    };
    let broken = if is_broken(page) {
        " class=\"beyond\""
    } else {
        ""
    };
    let digest = facts.seal_sha256.as_deref().map_or_else(
        || text(NOTHING),
        |digest| {
            ours(format!(
                "<span class=\"mono\">SHA-256 {}</span>",
                text(digest)
            ))
        },
    );
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
            ("seal at the end of the recording", digest),
            ("schema of the findings", text(crate::json::SCHEMA)),
        ]),
        p(
            "All figures are computed anew from the recorded bytes; none is stored as the only copy. A \
           chain of seals shows that a file was changed afterwards, not that the measurement was \
           right. Whoever has the session file can compute this report again and compare.",
        ),
    ])
}

/// Whether the session file is known to be not what was recorded.
pub(super) fn is_broken(page: &Page<'_>) -> bool {
    page.facts.sealed.as_deref() == Some("broken")
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
