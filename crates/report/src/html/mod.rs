//! The report: one self-contained HTML file for people.
//!
//! No script, nothing fetched: style, typeface and plots are in the file. It is written as
//! well-formed XML, so that it can be checked. On top a summary that needs no training, then
//! claims, evidence, uncertainty and identification. It prints on A4 and Letter with the report's
//! identification on every page and a clear end.
//!
//! Nothing is computed here besides sums and shares for display; the same findings give the same
//! bytes.

mod comparison;
mod evidence;
mod identity;
mod judgement;
mod markup;
mod page;
mod sheet;
mod summary;
mod surroundings;

use crate::facts::SessionFacts;
use crate::imprint::Imprint;
use analysis::findings::Findings;
pub use comparison::comparison_html;
use markup::{Safe, join};
use page::Page;
use sheet::{bound, broken, running, simulated, whole};

/// The report of one session.
pub fn html(facts: &SessionFacts, findings: &Findings) -> String {
    html_with(facts, findings, &Imprint::default())
}

/// The report of one session with what the tester says about themselves and the unit.
pub fn html_with(facts: &SessionFacts, findings: &Findings, imprint: &Imprint) -> String {
    let id = identity::report_id(facts, findings, imprint);
    let page = Page {
        facts,
        findings,
        imprint,
        id,
    };
    let device = findings
        .under_test
        .as_deref()
        .unwrap_or("no device under test");
    let title = format!("Test report {}: {device}", page.id);
    let names = page.names();
    let running = running("Test report", &names, device, facts.is_simulated());
    whole(&title, &names, &running, &matter(&page))
}

/// The sections in their order: id, name in the contents, heading, content.
fn matter(page: &Page<'_>) -> Safe {
    let sections = [
        ("claims", "Claims and verdicts", judgement::claims(page)),
        (
            "conditions",
            "Results at every condition",
            judgement::conditions(page),
        ),
        (
            "comparison",
            "The comparison in pictures",
            evidence::plots(page),
        ),
        (
            "uncertainty",
            "Uncertainty budget",
            judgement::uncertainty(page),
        ),
        ("rule", "Decision rule", judgement::rule(page)),
        ("examinations", "Examinations", evidence::examinations(page)),
        (
            "exclusions",
            "What did not count",
            evidence::exclusions(page),
        ),
        ("anomalies", "Anomalies", evidence::anomalies(page)),
        ("method", "Method", evidence::method(page)),
        (
            "items",
            "Instruments and their calibration",
            evidence::items(page),
        ),
        (
            "surroundings",
            "Surroundings",
            surroundings::surroundings(page),
        ),
        (
            "identification",
            "Identification",
            identity::identification(page),
        ),
        ("integrity", "Software and seal", identity::integrity(page)),
    ];
    let opening = join([
        simulated(page.facts.is_simulated()),
        broken(identity::is_broken(page)),
        summary::summary(page),
    ]);
    bound("Test report", &page.names(), opening, sections.into())
}
