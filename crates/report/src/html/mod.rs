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
mod summary;
mod surroundings;

pub use comparison::comparison_html;

use crate::imprint::stands_in_corner;
use crate::words::escape;
use crate::{Imprint, SessionFacts, svg::measure, typeface};
use analysis::findings::Findings;
use markup::{Safe, join, ours, section};

/// What every part of the page is written from.
struct Page<'a> {
    facts: &'a SessionFacts,
    findings: &'a Findings,
    imprint: &'a Imprint,
    id: String,
}

impl Page<'_> {
    /// The computed name of the report, and the tester's own number if there is one.
    fn names(&self) -> String {
        match &self.imprint.number {
            Some(number) => format!("{} · {number}", self.id),
            None => self.id.clone(),
        }
    }
}

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

/// A whole page.
fn whole(title: &str, names: &str, running: &Safe, matter: &Safe) -> String {
    format!(
        "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n\
         <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
         style-src 'unsafe-inline'; font-src data:; img-src data:\"/>\n\
         <meta name=\"generator\" content=\"{}\"/>\n<title>{}</title>\n<style>\n{}</style>\n\
         </head>\n<body>\n<div class=\"sheet\">\n{running}<main class=\"matter\">\n{matter}</main>\n\
         </div>\n</body>\n</html>\n",
        identity::program(),
        escape(title),
        style(names),
    )
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

/// The opening of a report and its sections bound together, with top, contents and end.
fn bound(kind: &str, names: &str, opening: Safe, sections: Vec<(&str, &str, Safe)>) -> Safe {
    let contents: String = sections
        .iter()
        .map(|(id, name, _)| format!("{}\n", markup::see(id, name)))
        .collect();
    let top = ours(format!(
        "<div class=\"top\"><span>{kind}</span><span>{}</span></div>\n",
        escape(names)
    ));
    let contents = ours(format!("<nav aria-label=\"Contents\">\n{contents}</nav>\n"));
    let end = ours(format!(
        "<p class=\"end\">End of report {}</p>\n",
        escape(names)
    ));
    let sections = sections
        .into_iter()
        .map(|(id, heading, content)| section(id, heading, content));
    join(
        [top, opening, contents]
            .into_iter()
            .chain(sections)
            .chain([end]),
    )
}

/// The word that nothing here is real, where that is so.
fn simulated(is_simulated: bool) -> Safe {
    if !is_simulated {
        return Safe::default();
    }
    ours(
        "<div class=\"simulated\" role=\"note\"><strong>SIMULATED – not a test of a real \
         device</strong>\n<p>No rider, no trainer and no power meter stands behind these figures. \
         They come from a simulated bench and say something about this program only.</p></div>\n"
            .to_owned(),
    )
}

/// The word that a file is not as it was recorded, where that is so.
fn broken(is_broken: bool) -> Safe {
    if !is_broken {
        return Safe::default();
    }
    ours(
        "<div class=\"simulated\" role=\"note\"><strong>The seal is broken</strong>\n<p>Something \
         in the session file is not as it was recorded. Nothing below may be relied on; go back to a \
         copy of the file that verifies.</p></div>\n"
            .to_owned(),
    )
}

/// What stands on top of every printed page.
fn running(kind: &str, names: &str, device: &str, is_simulated: bool) -> Safe {
    let device = measure::clip(device, 10.0, 400.0);
    let simulated = if is_simulated { "<b>SIMULATED</b>" } else { "" };
    ours(format!(
        "<div class=\"running\" aria-hidden=\"true\"><div><span>{kind} <b>{}</b></span>\
         {simulated}<span>{}</span></div></div>\n",
        escape(names),
        escape(&device)
    ))
}

/// The style sheet with the typeface in it.
fn style(names: &str) -> String {
    // What needs escaping in a string of a style sheet is left out.
    let names = names.replace(" · ", " / ");
    let names: String = names.chars().filter(|c| stands_in_corner(*c)).collect();
    let pages = format!(
        "@page {{ margin: 15mm 15mm 17mm; \
         @bottom-left {{ content: \"{}\"; font: 7.5pt B612, sans-serif; color: #4b5257; }} \
         @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); \
         font: 7.5pt B612, sans-serif; color: #4b5257; }} }}\n",
        names
    );
    [&typeface::rules(), include_str!("page.css"), &pages].concat()
}
