//! The documents of a comparison of invented sessions, read back by other people's readers.

mod common;

use analysis::comparing::{Along, Comparison, Instrument, Kind, Script, Side, compare};
use analysis::evidence::Evidence;
use analysis::findings::Findings;
use analysis::settings::Settings;
use common::page::{check_page, collect, parse, text_of};
use common::{Device, Names};
use report::{Compared, ComparedSession, Seal, SessionFacts};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;

/// One session with everything that belongs to it.
struct Session {
    facts: SessionFacts,
    evidence: Evidence,
    findings: Findings,
    settings: Settings,
    serial: String,
    name: String,
}

fn session(name: &str, serial: &str, scale_pct: f64) -> Session {
    let names = Names::default();
    let device = Device {
        scale_pct,
        ..Device::default()
    };
    Session {
        facts: common::facts(names),
        evidence: common::evidence(device, names),
        findings: common::findings(device, names),
        settings: Settings::default(),
        serial: serial.to_owned(),
        name: name.to_owned(),
    }
}

impl Session {
    fn side(&self) -> Side<'_> {
        let instrument = |name: &str, serial: &str| Instrument {
            name: name.to_owned(),
            maker: Some("Workshop".into()),
            model: Some("Model 1".into()),
            serial: Some(serial.to_owned()),
            firmware: Some("1.4.2".into()),
        };
        Side {
            device: instrument(&self.name, &self.serial),
            reference: instrument("meter", "R-1"),
            calibrations: Vec::new(),
            script: Some(Script {
                name: "levels".into(),
                sha256: "00".repeat(32),
            }),
            bike: self.facts.about.bike.clone(),
            started_s: Some(1_700_000_000),
            steps: &self.evidence.steps,
            findings: &self.findings,
            settings: &self.settings,
        }
    }
}

/// Compares the sessions and hands the comparison on.
fn with<T>(
    sessions: &[Session],
    asked: Option<Kind>,
    write: impl FnOnce(&Compared<'_>) -> T,
) -> (Comparison, T) {
    let sides: Vec<Side<'_>> = sessions.iter().map(Session::side).collect();
    let comparison = compare(&sides, asked).expect("they can be compared");
    let seal = Seal {
        state: "sealed".into(),
        head_sha256: Some("ab".repeat(32)),
        is_broken: false,
    };
    let compared = Compared {
        sessions: sessions
            .iter()
            .zip(&sides)
            .map(|(session, side)| ComparedSession {
                file: "a <b> & 'c'.prony",
                facts: &session.facts,
                side,
                seal: &seal,
            })
            .collect(),
        comparison: &comparison,
        along: Along::Step,
        judged_by: None,
    };
    let written = write(&compared);
    (comparison, written)
}

/// Sessions of every kind, so that together they reach every part of both documents.
fn several() -> Vec<Vec<Session>> {
    vec![
        vec![session("one", "1", 1.0), session("one", "1", 1.3)],
        vec![
            session("one", "1", 1.0),
            session("<script>alert(1)</script> & \"K\"", "2", -1.0),
            session("one", "1", 1.2),
        ],
        (0..12)
            .map(|i| session("unit", &i.to_string(), f64::from(i)))
            .collect(),
    ]
}

#[test]
fn the_report_is_one_harmless_well_formed_file() {
    for sessions in several() {
        let (comparison, page) = with(&sessions, None, report::comparison_html);
        check_page(&page);
        let again = with(&sessions, None, report::comparison_html).1;
        assert_eq!(page, again, "the same comparison gives the same bytes");
        let words = text_of(parse(&page).root());
        // The page ties numbers to their units and has true minus signs.
        let plain = |text: &str| text.replace('\u{a0}', " ").replace('−', "-");
        for sentence in comparison.sentences.iter().chain(&comparison.basis) {
            assert!(plain(&words).contains(&plain(sentence)), "{sentence}");
        }
        assert!(words.contains("not an accredited laboratory"));
        assert!(words.contains(&"ab".repeat(32)), "the seals are named");
        assert!(words.contains(report::COMPARISON_SCHEMA));
        assert!(words.contains(&format!("Prony {}", env!("CARGO_PKG_VERSION"))));
        let pictures = parse(&page)
            .descendants()
            .filter(|node| node.has_tag_name("svg") && node.attribute("class") == Some("plot"))
            .count();
        let wanted = 3 + 3 + sessions.len() - 1;
        assert!(pictures >= wanted, "{pictures} pictures, not {wanted}");
    }
}

#[test]
fn every_field_is_described_and_every_described_field_is_there() {
    let guide = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("COMPARE.md"))
        .expect("COMPARE.md lies beside the manifest");
    assert!(guide.contains(report::COMPARISON_SCHEMA));
    // The first cells of the tables name the fields.
    let described: BTreeSet<&str> = guide
        .lines()
        .filter(|line| line.starts_with("| `"))
        .filter_map(|line| line.split('|').nth(1))
        .flat_map(|cell| cell.split('`').skip(1).step_by(2))
        .collect();
    let mut found = BTreeSet::new();
    for sessions in several() {
        collect(
            &with(&sessions, None, report::comparison_document).1,
            &mut found,
        );
    }
    // Repeats of two states, for what only they have.
    let states = [0.0, 0.1, 2.0, 2.1].map(|scale| session("one", "1", scale));
    let mut states: Vec<Session> = states.into();
    for later in &mut states[2..] {
        later.serial = "1".into();
    }
    let sides: Vec<Side<'_>> = states
        .iter()
        .enumerate()
        .map(|(index, session)| {
            let mut side = session.side();
            side.device.firmware = Some(if index < 2 { "1" } else { "2" }.into());
            // One calibration that changes nothing in the order of the states.
            if index == 3 {
                side.calibrations = vec![analysis::comparing::Calibration {
                    at_s: 1e6,
                    procedure: "spin-down".into(),
                }];
            }
            side
        })
        .collect();
    let comparison = compare(&sides, None).expect("they can be compared");
    assert!(comparison.states.is_ok(), "{:?}", comparison.kind);
    let seal = Seal::default();
    let compared = Compared {
        sessions: states
            .iter()
            .zip(&sides)
            .map(|(session, side)| ComparedSession {
                file: "f.prony",
                facts: &session.facts,
                side,
                seal: &seal,
            })
            .collect(),
        comparison: &comparison,
        along: Along::Clock,
        judged_by: Some("other.ron"),
    };
    let document = report::comparison_document(&compared);
    collect(&document, &mut found);
    check_page(&report::comparison_html(&compared));
    assert_eq!(document["judged_by"], "other.ron");
    let found: BTreeSet<&str> = found.iter().map(String::as_str).collect();
    let missing: Vec<_> = found.difference(&described).collect();
    assert!(
        missing.is_empty(),
        "COMPARE.md does not describe {missing:?}"
    );
    let absent: Vec<_> = described.difference(&found).collect();
    assert!(absent.is_empty(), "no document has {absent:?}");
}

/// The numbers of the document are those of the comparison, and its cells those of the sessions.
#[test]
fn the_document_says_what_was_found() {
    let sessions = &several()[0];
    let (comparison, document) = with(sessions, None, report::comparison_document);
    assert_eq!(document["kind"]["name"], "repeats");
    let number = |value: &Value| value.as_f64().expect("a number");
    for (condition, written) in comparison
        .conditions
        .iter()
        .zip(document["conditions"].as_array().expect("a list"))
    {
        let [first, other] = [0, 1].map(|session| condition.cells[session].as_ref());
        let (Some(first), Some(other)) = (first, other) else {
            panic!("{} was ridden in one only", condition.words);
        };
        let change = &written["cells"][1]["change"];
        let value = other.cell.bias_pct - first.cell.bias_pct;
        assert_eq!(number(&change["value_pct"]), value);
        assert_eq!(
            number(&written["cells"][0]["bias_pct"]),
            first.cell.bias_pct
        );
        assert!(written["cells"][0]["change"].is_null());
        // Both name one meter and one bike: both common terms cancel.
        let [independent, cancelled] =
            ["independent", "cancelled"].map(|which| number(&change[which]["u_pct"]));
        assert!(cancelled < 0.8 * independent, "{cancelled} {independent}");
    }
    assert!(document["order"].is_null());
    assert_eq!(document["overlay"]["along"], "step");
    let refused = document["not_tested"].as_array().expect("a list");
    assert!(refused.iter().any(|not| {
        let reason = not["reason"].as_str().unwrap_or_default();
        reason.contains("no order")
    }));
}
