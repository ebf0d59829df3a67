//! The examples of SCRIPTS.md load, and the guide names every step and purpose there is.

#![allow(clippy::unwrap_used, reason = "test helpers are tests as well")]

use protocol::{Feeds, Script};

const GUIDE: &str = include_str!("../SCRIPTS.md");

#[test]
fn the_examples_load() {
    let mut count = 0;
    for block in GUIDE.split("```ron\n").skip(1) {
        let text = block.split("```").next().unwrap();
        if let Err(errors) = Script::from_ron("SCRIPTS.md", text) {
            panic!("{errors}\n{text}");
        }
        count += 1;
    }
    assert_eq!(count, 2);
}

#[test]
fn the_guide_names_every_step_and_purpose() {
    let errors = Script::from_ron("x", "Script(title: \"x\", steps: [Juggle()])").unwrap_err();
    let message = errors.to_string();
    let known = message.split("known: ").nth(1).unwrap();
    let steps: Vec<&str> = known.split(", ").collect();
    assert_eq!(steps.len(), 20, "{message}");
    for name in steps
        .into_iter()
        .chain(Feeds::ALL.iter().map(|feeds| feeds.name()))
    {
        assert!(
            GUIDE.contains(&format!("`{name}`")),
            "{name} is not in the guide"
        );
    }
}
