//! ISO/IEC 17025:2017, item by item: what a report has to hold is in it with its value, and what
//! nobody stated is said to be not stated.
//!
//! The list is a paraphrase. Clause 7.8.2.1 a to p was read in full, and 7.8.6; 7.8.3, 7.8.7 and 7.8.8
//! are known from summaries and the 2005 edition (5.10.3) and are marked as such; what the trade adds
//! is common practice.

mod common;

use analysis::claim::{read_measurements, read_sheet};
use analysis::findings::{Findings, Treatment};
use analysis::settings::Settings;
use common::{Device, Names};
use report::{Imprint, Photo, SessionFacts};
use roxmltree::{Document, Node, ParsingOptions};

/// How well the wording of a clause is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Known {
    /// Read in the text of the standard.
    Read,
    /// From summaries of it; to be checked by somebody who has it at hand.
    Summary,
    /// Not the standard: common practice of the trade.
    Practice,
}
use Known::{Practice, Read, Summary};

/// One thing that is asked for.
struct Item {
    clause: &'static str,
    asked: &'static str,
    known: Known,
    /// Section of the report, by its id, and a value that has to stand there.
    values: Vec<(&'static str, String)>,
}

fn item(
    clause: &'static str,
    known: Known,
    asked: &'static str,
    values: &[(&'static str, &str)],
) -> Item {
    let values = values.iter().map(|(id, value)| (*id, (*value).to_owned()));
    Item {
        clause,
        asked,
        known,
        values: values.collect(),
    }
}

const SHEET: &str = include_str!("../../../demo-sessions/ferrule-claims.ron");
const MEASURED: &str = include_str!("../../../demo-sessions/ferrule-measurements.ron");
const IMPRINT: &str = include_str!("../../../demo-sessions/ferrule-imprint.ron");

/// A session with everything: claims, measurements by hand, imprint, a photograph.
fn full() -> (SessionFacts, Findings, Imprint) {
    let names = Names::default();
    let mut facts = common::facts(names);
    facts.about.started = serde_json::from_value(serde_json::json!("2026-03-02T09:30:00+01:00"))
        .expect("a date with time");
    facts.about.claims = Some(session::Document::new("ferrule-claims.ron", SHEET));
    facts.seal_sha256 = Some("5ea1".repeat(16));
    let sheet = read_sheet(SHEET).expect("the sheet reads");
    let mut settings = sheet
        .in_force(&Settings::default())
        .expect("its check is good");
    settings.measurements = read_measurements(MEASURED, &sheet.claims).expect("they read");
    let findings = analysis::assess::assess(&common::evidence(Device::default(), names), &settings);
    let mut imprint = Imprint::from_ron(IMPRINT).expect("the imprint reads");
    let mut photo = Photo::new("bench.png", "the trainer on its mat, seen from the left");
    photo
        .embed(b"\x89PNG\x0d\x0a\x1a\x0a")
        .expect("it begins as a PNG does");
    imprint.photos.push(photo);
    imprint.amends = Some("PR-7f3a9c0d-00000000, whose place of testing was wrong".into());
    (facts, findings, imprint)
}

fn parse(page: &str) -> Document<'_> {
    let options = ParsingOptions {
        allow_dtd: true,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(page, options).expect("well-formed XML")
}

/// The text of a section without its headings.
fn section(document: &Document<'_>, id: &str) -> String {
    let by_id = |node: &Node<'_, '_>| node.attribute("id") == Some(id);
    let found = document.descendants().find(by_id);
    let found = found.unwrap_or_else(|| panic!("there is no section {id}"));
    let is_heading = |node: &Node<'_, '_>| {
        node.ancestors().any(|above| {
            ["h1", "h2", "h3", "th"]
                .iter()
                .any(|name| above.has_tag_name(*name))
        })
    };
    found
        .descendants()
        .filter(|node| node.is_text() && !is_heading(node))
        .filter_map(|node| node.text())
        .collect::<Vec<_>>()
        .join(" ")
}

/// A text with spaces and signs as they are typed.
fn plain(text: &str) -> String {
    text.replace('\u{a0}', " ").replace('−', "-")
}

/// Rows of the table of identification: asked for, answer, clause.
fn identification(document: &Document<'_>) -> Vec<[String; 3]> {
    let by_id = |node: &Node<'_, '_>| node.attribute("id") == Some("identification");
    let table = document.descendants().find(by_id).expect("identification");
    let text = |node: Node<'_, '_>| -> String {
        node.descendants()
            .filter_map(|n| n.text().filter(|_| n.is_text()))
            .collect()
    };
    table
        .descendants()
        .filter(|node| node.has_tag_name("tr"))
        .filter_map(|row| {
            let cells: Vec<String> = row
                .children()
                .filter(|node| node.has_tag_name("td"))
                .map(text)
                .collect();
            cells.try_into().ok()
        })
        .collect()
}

/// What is asked for and answered by the tester alone.
fn stated_items() -> Vec<Item> {
    let here = "identification";
    vec![
        item("7.8.2.1 a", Read, "a title", &[(here, "Test report")]),
        item(
            "7.8.2.1 b",
            Read,
            "name and address of the laboratory",
            &[
                (here, "Kessel Lane workshop"),
                (here, "3 Kessel Lane, Nether Wallow"),
                (here, "bench@kessel-lane.example"),
            ],
        ),
        item(
            "7.8.2.1 c",
            Read,
            "place of testing",
            &[(here, "back room")],
        ),
        item(
            "7.8.2.1 d",
            Read,
            "identification of the report",
            &[(here, "KL-2026-007"), (here, "PR-7f3a9c0d-")],
        ),
        item(
            "7.8.2.1 e",
            Read,
            "the customer",
            &[(here, "the workshop's own readers")],
        ),
        item(
            "7.8.2.1 f",
            Read,
            "the method",
            &[
                (here, "level-sweep"),
                ("method", "(title: \"Level sweep\", steps: [])"),
            ],
        ),
        item(
            "7.8.2.1 g",
            Read,
            "description, identification and condition of the item",
            &[
                (here, "Ferrule Works"),
                (here, "FW20-000117"),
                (here, "these two do not agree: model, serial"),
                (here, "firmware 1.4.2"),
                (here, "14 h of use before the test"),
                (here, "automatic matching to a meter off"),
            ],
        ),
        item(
            "7.8.2.1 h",
            Read,
            "date of receipt",
            &[(here, "20 February 2026")],
        ),
        item(
            "7.8.2.1 i",
            Read,
            "date of testing",
            &[(here, "2 March 2026, 09:30")],
        ),
        item(
            "7.8.2.1 j",
            Read,
            "date of issue",
            &[(here, "30 December 2026")],
        ),
        item(
            "7.8.2.1 k",
            Read,
            "sampling",
            &[(here, "bought over the counter")],
        ),
        item(
            "7.8.2.1 l",
            Read,
            "the results relate only to the item tested",
            &[(here, "relate only to the item tested")],
        ),
        item(
            "7.8.2.1 n",
            Read,
            "deviations",
            &[(here, "the drift hour was not ridden")],
        ),
        item(
            "7.8.2.1 o",
            Read,
            "who authorised it",
            &[(here, "keeper of the Kessel Lane")],
        ),
        item(
            "7.8.2.1 p",
            Read,
            "results of external providers; not to be reproduced in part",
            &[(here, "none"), (here, "passed on whole")],
        ),
        item(
            "7.8.7",
            Summary,
            "opinions apart from results",
            &[(here, "None. Everything")],
        ),
        item(
            "7.8.8",
            Summary,
            "what is amended",
            &[(here, "whose place of testing was wrong")],
        ),
        item(
            "–",
            Practice,
            "conflicts of interest",
            &[(here, "bought with the workshop's own money")],
        ),
    ]
}

/// What the session itself answers.
fn recorded_items(facts: &SessionFacts) -> Vec<Item> {
    let sha = |document: &Option<session::Document>| {
        document
            .as_ref()
            .map(session::Document::sha256)
            .unwrap_or_default()
    };
    let about = &facts.about;
    vec![
        item(
            "7.8.3",
            Summary,
            "conditions of the test",
            &[
                ("surroundings", "workshop, 21.5 °C, fan on"),
                ("surroundings", "by a wall thermometer"),
                ("surroundings", "steel road bike, 50/34"),
                ("surroundings", "crank 172.5 mm"),
                ("surroundings", "72.5 kg"),
                ("surroundings", "trainer on its mat, seen from the left"),
            ],
        ),
        item(
            "7.8.6.1",
            Read,
            "the decision rule, documented before",
            &[
                ("rule", "95"),
                ("rule", &sha(&about.decision_rule)),
                ("method", &sha(&about.claims)),
            ],
        ),
        item(
            "–",
            Practice,
            "references with serial, firmware, calibration; software and seal",
            &[
                ("items", "A-5531"),
                ("items", "B-0042"),
                ("items", "1.4.2"),
                ("items", "2025-03-02"),
                ("integrity", concat!("Prony ", env!("CARGO_PKG_VERSION"))),
                ("integrity", "prony 0.1.0"),
                ("integrity", "sealed"),
                ("integrity", &"5ea1".repeat(16)),
                ("method", &sha(&about.script)),
            ],
        ),
    ]
}

/// What the findings answer, with every number as the report writes it.
fn result_items(findings: &Findings) -> Vec<Item> {
    let signed = |value: f64, places: usize| {
        let text = format!("{value:+.places$}").replace('-', "−");
        let is_zero = text.chars().all(|c| matches!(c, '+' | '−' | '0' | '.'));
        if is_zero {
            text.trim_start_matches(['+', '−']).to_owned()
        } else {
            text
        }
    };
    let mut results = item("7.8.2.1 m", Read, "results with units", &[]);
    let mut doubts = item(
        "7.8.3",
        Summary,
        "uncertainty in the unit of the result",
        &[],
    );
    for cell in &findings.cells {
        results.values.push(("conditions", signed(cell.bias_w, 1)));
        results
            .values
            .push(("conditions", signed(cell.bias_pct, 2)));
        doubts.values.push((
            "conditions",
            format!("{:.2} ({:.2})", cell.expanded_pct, cell.k),
        ));
    }
    for term in &findings.budget {
        doubts
            .values
            .push(("uncertainty", format!("{:.3}", term.u_pct)));
        doubts.values.push(("uncertainty", term.source.clone()));
    }
    let mut excluded = item("7.8.2.1 n", Read, "exclusions, each with its reason", &[]);
    for exclusion in &findings.exclusions {
        let clock = |s: f64| format!("{}:{:02}", s.round() as u64 / 60, s.round() as u64 % 60);
        let span = format!("{}–{}", clock(exclusion.from_s), clock(exclusion.to_s));
        excluded.values.push(("exclusions", span));
        excluded
            .values
            .push(("exclusions", exclusion.reason[1..].to_owned()));
    }
    for not in &findings.not_tested {
        excluded
            .values
            .push(("examinations", not.reason[1..].to_owned()));
    }
    let mut conformity = item(
        "7.8.6.2",
        Read,
        "to which results, which limit, met or not",
        &[],
    );
    for claim in &findings.claims {
        // A rule that several claims share is written out once.
        let rule = claim.rule.split(" Claimed in: ").map(str::to_owned);
        let words = [claim.name.clone(), claim.limit.clone()];
        for words in words.into_iter().chain(rule) {
            conformity.values.push(("claims", words));
        }
        conformity
            .values
            .push(("claims", claim.verdict.words().to_owned()));
        if let (Some(value), Some(expanded)) = (claim.measured, claim.expanded) {
            // JCGM 100:2008, 7.2.6: two significant digits of the uncertainty.
            let measured = match claim.name.as_str() {
                "power accuracy" => format!("{} ± {expanded:.2}", signed(value, 2)),
                "mass" => "20.400 ± 0.057".to_owned(),
                "height" => "482.00 ± 0.98".to_owned(),
                _ => {
                    let places = (1.0 - expanded.log10().floor()).max(0.0) as usize;
                    format!("{value:.places$} ± {expanded:.places$}")
                }
            };
            results.values.push(("claims", measured));
            results.values.push(("claims", claim.unit.to_owned()));
        }
    }
    vec![results, doubts, excluded, conformity]
}

#[test]
fn every_item_is_in_the_report_with_its_value() {
    let (facts, findings, imprint) = full();
    assert!(
        findings
            .cells
            .iter()
            .any(|cell| cell.treatment == Treatment::AsIndicated)
    );
    assert!(findings.claims.len() == 8 && !findings.exclusions.is_empty());
    let page = report::html_with(&facts, &findings, &imprint);
    let document = parse(&page);
    let items: Vec<Item> = stated_items()
        .into_iter()
        .chain(recorded_items(&facts))
        .chain(result_items(&findings))
        .collect();
    for letter in 'a'..='p' {
        let clause = format!("7.8.2.1 {letter}");
        let read = items
            .iter()
            .any(|item| item.clause == clause && item.known == Read);
        assert!(read, "{clause} is not on the list");
    }
    let mut checked = 0;
    for Item {
        clause,
        asked,
        known,
        values,
    } in items
    {
        assert!(!values.is_empty(), "{clause}, {asked}: nothing to look for");
        for (id, value) in values {
            let there = plain(&section(&document, id));
            assert!(
                there.contains(&plain(&value)),
                "{clause} ({known:?}), {asked}: {value:?} is not in {id}"
            );
            checked += 1;
        }
    }
    assert!(checked > 150, "{checked} values");
    let rows = identification(&document);
    let unanswered: Vec<_> = rows
        .iter()
        .filter(|row| row[1].contains("not stated"))
        .collect();
    assert!(unanswered.is_empty(), "{unanswered:?}");
}

/// 7.8.2.1 d: on every page, and a clear end.
#[test]
fn the_identification_is_on_every_page_and_at_the_end() {
    let (facts, findings, imprint) = full();
    let page = report::html_with(&facts, &findings, &imprint);
    let id = page.split("PR-").nth(1).expect("the report has a name");
    let id = format!("PR-{}", &id[..17]);
    assert!(page.contains(&format!("@bottom-left {{ content: \"{id} / KL-2026-007\"")));
    assert!(page.contains("counter(page) \" of \" counter(pages)"));
    assert!(page.contains(&format!("End of report {id} · KL-2026-007")));
}

/// What nobody stated is said to be not stated, and never made up.
#[test]
fn what_nobody_stated_is_not_stated() {
    let names = Names::default();
    let findings = common::findings(Device::default(), names);
    let facts = SessionFacts::default();
    let page = report::html(&facts, &findings);
    let document = parse(&page);
    let rows = identification(&document);
    for (asked, clause) in [
        ("tester", "7.8.2.1 b"),
        ("address", "7.8.2.1 b"),
        ("contact", "7.8.2.1 b"),
        ("place of testing", "7.8.2.1 c"),
        ("customer", "7.8.2.1 e"),
        ("condition of the item", "7.8.2.1 g"),
        ("settings of the item", "7.8.2.1 g"),
        ("received on", "7.8.2.1 h"),
        ("tested on", "7.8.2.1 i"),
        ("issued on", "7.8.2.1 j"),
        ("how the unit was obtained", "7.8.2.1 k"),
        ("deviations from the method", "7.8.2.1 n"),
        ("authorised by", "7.8.2.1 o"),
        ("results of others", "7.8.2.1 p"),
        ("replaces", "7.8.8"),
        ("who supplied the unit, who paid", "–"),
    ] {
        let row = rows.iter().find(|row| row[0] == asked);
        let row = row.unwrap_or_else(|| panic!("{asked} is not asked for"));
        assert_eq!(
            [row[1].as_str(), row[2].as_str()],
            ["not stated", clause],
            "{asked}"
        );
    }
    let item = rows
        .iter()
        .find(|row| row[0] == "item tested")
        .expect("the item");
    assert!(
        item[1].contains("not stated: maker, model, serial, firmware"),
        "{}",
        item[1]
    );
    let surroundings = section(&document, "surroundings");
    assert_eq!(
        surroundings.matches("not stated").count(),
        4,
        "{surroundings}"
    );
    assert!(section(&document, "items").contains("no description"));
    assert!(section(&document, "integrity").contains("were not checked"));
}

/// Somebody who is not accredited must not look as if they were.
#[test]
fn nobody_is_made_an_accredited_laboratory() {
    let (facts, findings, imprint) = full();
    let page = report::html_with(&facts, &findings, &imprint);
    let document = parse(&page);
    assert!(section(&document, "summary").contains("not an accredited laboratory"));
    assert!(section(&document, "identification").contains("does not mean"));
}

/// A broken seal stands before everything else.
#[test]
fn a_broken_seal_is_the_first_thing_said() {
    let (mut facts, findings, imprint) = full();
    let loud = "The seal is broken";
    assert!(!report::html_with(&facts, &findings, &imprint).contains(loud));
    facts.sealed = Some("broken".into());
    let page = report::html_with(&facts, &findings, &imprint);
    let at = |words: &str| page.find(words).expect("it is there");
    assert!(at(loud) < at("id=\"summary\""));
}
