//! The documents of an invented session, read back by other people's readers.

mod common;

use analysis::findings::Findings;
use common::page::{check_numbers, check_page, collect, parse, text_of};
use common::{Device, Names};
use report::{Imprint, Paper, Photo, SessionFacts, Size};
use roxmltree::{Document, Node};
use std::collections::BTreeSet;
use std::path::Path;

/// Names that would do harm if anything forgot to escape them.
const HOSTILE: Names<'static> = Names {
    device: "<script>alert(1)</script> & \"K\"",
    reference: "</style><img src=x onerror=y>'",
    second: "]]> <!-- \u{202e}\u{7}",
};

fn session(device: Device, names: Names<'_>) -> (SessionFacts, Findings) {
    (common::facts(names), common::findings(device, names))
}

#[test]
fn the_report_is_one_harmless_well_formed_file() {
    let (facts, findings) = session(Device::default(), Names::default());
    let page = report::html(&facts, &findings);
    check_page(&page);
    assert_eq!(
        page,
        report::html(&facts, &findings),
        "the same findings give the same bytes"
    );
}

#[test]
fn names_from_outside_stay_text() {
    let (mut facts, findings) = session(Device::default(), HOSTILE);
    facts.about.session = "\"; } </style><script>".into();
    facts.about.note = Some("<b onclick='x'>".into());
    facts.about.script = Some(session::Document::new("<i>", "a < b && c\u{0}"));
    facts.sources[1].calibration = serde_json::json!({ "<u>": ["</td>", 1, null, true] });
    facts.sealed = Some("<s>".into());
    let mut photo = Photo::new("<a>", "\"><em>");
    photo.embed(b"\xff\xd8\xff").unwrap();
    let imprint = Imprint {
        number: Some("\"; } </style><em>".into()),
        customer: Some("<em>".into()),
        deviations: vec!["<em>".into()],
        photos: vec![photo],
        ..Imprint::default()
    };
    let page = report::html_with(&facts, &findings, &imprint);
    check_page(&page);
    let document = parse(&page);
    let heading = document
        .descendants()
        .find(|node| node.has_tag_name("h1"))
        .unwrap();
    assert_eq!(text_of(heading), HOSTILE.device);
    for foreign in ["i", "b", "u", "s", "em"] {
        let made = document
            .descendants()
            .filter(|node| node.has_tag_name(foreign));
        // The running header sets the report's own name in bold.
        assert!(
            made.into_iter()
                .all(|node| foreign == "b" && text_of(node).starts_with("PR-"))
        );
    }
    for picture in report::pictures(&facts, &findings) {
        for paper in [Paper::Light, Paper::Dark, Paper::Transparent] {
            let text = picture.svg(Size::UHD, paper);
            let document = Document::parse(&text).expect("a picture is well-formed");
            check_numbers(document.root_element());
            assert!(
                !document
                    .descendants()
                    .any(|node| node.has_tag_name("script"))
            );
        }
    }
}

#[test]
fn a_simulation_says_so_loudly_everywhere() {
    let (mut facts, findings) = session(Device::default(), Names::default());
    let loud = |facts: &SessionFacts| report::html(facts, &findings).matches("SIMULATED").count();
    assert_eq!(loud(&facts), 0);
    facts.about.rig = Some("(a rig)".into());
    assert!(
        loud(&facts) >= 2,
        "on the first page and on every printed one"
    );
    for picture in report::pictures(&facts, &findings) {
        assert!(picture.title.starts_with("SIMULATED"));
        assert!(picture.svg(Size::HD, Paper::Light).contains(">SIMULATED"));
    }
}

#[test]
fn another_content_is_another_report() {
    let (facts, findings) = session(Device::default(), Names::default());
    let id = |page: String| page.split("PR-").nth(1).unwrap()[..17].to_owned();
    let first = id(report::html(&facts, &findings));
    let imprint = Imprint {
        amends: Some("a typing error".into()),
        ..Imprint::default()
    };
    assert_ne!(first, id(report::html_with(&facts, &findings, &imprint)));
    let (facts, findings) = session(
        Device {
            scale_pct: 2.0,
            ..Device::default()
        },
        Names::default(),
    );
    assert_ne!(first, id(report::html(&facts, &findings)));
}

/// Whatever the device is like, and even if nothing was received, there is a sound report whose
/// first line is the verdict of the findings.
#[test]
fn every_verdict_has_a_report() {
    let mut seen = BTreeSet::new();
    for scale_pct in [-4.0, -1.0, 0.0, 1.0, 3.0, 8.0] {
        let device = Device {
            scale_pct,
            offset_w: 0.0,
            ..Device::default()
        };
        let (facts, findings) = session(device, Names::default());
        seen.insert(findings.overall.verdict.words());
        check_first_line(&facts, &findings);
    }
    check_first_line(&SessionFacts::default(), &common::nothing());
    assert!(seen.contains("shown beyond") && seen.len() >= 3, "{seen:?}");
}

fn check_first_line(facts: &SessionFacts, findings: &Findings) {
    let page = report::html(facts, findings);
    check_page(&page);
    let document = parse(&page);
    let said = document
        .descendants()
        .find(|node| {
            node.attribute("class")
                .is_some_and(|class| class.starts_with("said"))
        })
        .expect("the summary begins with the verdict");
    let direct: String = said
        .children()
        .filter(Node::is_text)
        .filter_map(|n| n.text())
        .collect();
    let verdict = findings.overall.verdict.words();
    assert!(
        direct.to_lowercase().starts_with(verdict),
        "{direct} is not {verdict}"
    );
}

#[test]
fn pictures_have_unique_names_and_their_size() {
    let (facts, findings) = session(Device::default(), Names::default());
    let pictures = report::pictures(&facts, &findings);
    let names: BTreeSet<_> = pictures
        .iter()
        .map(|picture| picture.name.as_str())
        .collect();
    assert_eq!(names.len(), pictures.len());
    for wanted in [
        "conditions-hub-referred",
        "power-over-time",
        "difference-in-watts",
        "budget",
    ] {
        assert!(names.contains(wanted), "{wanted} is missing");
    }
    for picture in &pictures {
        assert!(
            picture
                .name
                .chars()
                .all(|c| c.is_ascii_alphanumeric() || c == '-')
        );
        let text = picture.svg(Size::HD, Paper::Dark);
        let document = Document::parse(&text).unwrap();
        let root = document.root_element();
        assert_eq!(root.attribute("width"), Some("1920"));
        assert_eq!(root.attribute("height"), Some("1080"));
        assert_eq!(text, picture.svg(Size::HD, Paper::Dark));
    }
}

/// Every key that the document can hold stands in SCHEMA.md in backticks.
#[test]
fn every_key_of_the_document_is_described() {
    let schema = std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("SCHEMA.md"))
        .expect("SCHEMA.md lies beside the manifest");
    let described: BTreeSet<&str> = schema
        .split('`')
        .skip(1)
        .step_by(2)
        .flat_map(|word| word.split(['"', ' ', '{', '}', ',', '[']))
        .collect();
    let (facts, findings) = session(Device::default(), Names::default());
    let mut keys = BTreeSet::new();
    collect(&report::document(&facts, &findings), &mut keys);
    // What this session did not reach: the keys as they stand in the source.
    let source = concat!(
        include_str!("../src/json/mod.rs"),
        include_str!("../src/json/recording.rs"),
        include_str!("../src/json/judgement.rs"),
        include_str!("../src/json/examinations.rs"),
    );
    for line in source.lines() {
        for (place, _) in line.match_indices("\":") {
            let key = line[..place].rsplit('"').next().unwrap_or_default();
            keys.insert(key.to_owned());
        }
    }
    assert!(keys.len() > 150, "{} keys", keys.len());
    let missing: Vec<_> = keys
        .iter()
        .filter(|key| !described.contains(key.as_str()))
        .collect();
    assert!(
        missing.is_empty(),
        "SCHEMA.md does not describe {missing:?}"
    );
    assert!(schema.contains(report::SCHEMA));
}
