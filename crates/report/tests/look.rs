//! Writes documents of an invented session, so that somebody can look at them. What it asserts is
//! only that they were written; `documents.rs` reads them.

mod common;

use common::{Device, Names};
use report::{Paper, Size};
use std::path::Path;

#[test]
fn documents_to_look_at() {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("look");
    std::fs::create_dir_all(&folder).unwrap();
    let names = Names::default();
    let mut facts = common::facts(names);
    let findings = common::findings(Device::default(), names);
    let page = report::html(&facts, &findings);
    std::fs::write(folder.join("report.html"), &page).unwrap();
    facts.about.rig = Some("(a rig)".into());
    let beyond = Device {
        scale_pct: 5.5,
        ..Device::default()
    };
    let simulated = report::html(&facts, &common::findings(beyond, names));
    std::fs::write(folder.join("simulated.html"), simulated).unwrap();
    let nothing = report::html(&report::SessionFacts::default(), &common::nothing());
    std::fs::write(folder.join("nothing.html"), nothing).unwrap();
    for picture in report::pictures(&facts, &findings) {
        for (paper, word) in [(Paper::Light, "light"), (Paper::Dark, "dark")] {
            let file = folder.join(format!("{}-{word}.svg", picture.name));
            std::fs::write(file, picture.svg(Size::HD, paper)).unwrap();
        }
    }
    assert!(page.len() > 100_000);
}
