//! Holds that end early because their question is decided: a device that is far off is decided
//! long before its time, one at the limit of the claim is not, and without the rule every hold is
//! ridden to its end. The record says what each look said, and a replay says the same.

use acceptance::record;
use bench::{Bench, Happening};
use prony::setup::Setup;
use prony::standing_in::StandIn;
use protocol::{EarlyEnd, Script};
use std::path::Path;
use units::{Span, Timestamp};

/// Two holds of one condition, eight windows of half a minute each.
const SCRIPT: &str = r#"Script(
    title: "Long holds",
    ceiling_w: 240,
    steps: [
        Ramp(from_w: 80, to_w: 150, seconds: 120, feeds: Warmup),
        Hold(title: "first", power_w: 200, seconds: 270),
        Rest(seconds: 60, power_w: 90),
        Hold(title: "second", power_w: 200, seconds: 270),
    ],
)"#;

struct Ridden {
    bench: Bench,
    concluded: Vec<(Timestamp, Happening)>,
    recorded: Vec<(Timestamp, Happening)>,
}

/// Rides on the good rig with another gain of the trainer, records, and replays the record.
fn ride(gain_pct: f64, holds: Option<EarlyEnd>, script: &str, file: &Path) -> Ridden {
    let text = rig::built_in_text("honest").expect("a built-in rig");
    let changed = text.replace("gain_pct: 0.2,", &format!("gain_pct: {gain_pct:?},"));
    assert_ne!(
        text, changed,
        "the rig file no longer says what is replaced"
    );
    let plan = rig::RigPlan::parse(&changed, "changed").expect("a rig");
    let script = Script::from_ron("long-holds", script).expect("a script");
    let change = |setup: Setup| match holds {
        Some(holds) => setup.with_decided_holds(holds),
        None => setup,
    };
    record(&script, &plan, 11, file, change, &mut StandIn::default());
    let replayed = prony::replaying::replay(file).expect("it replays");
    Ridden {
        bench: replayed.bench,
        concluded: replayed.concluded,
        recorded: replayed
            .recorded
            .into_iter()
            .filter(|(_, happening)| !matches!(happening, Happening::Rules(_)))
            .collect(),
    }
}

impl Ridden {
    /// How long each hold was ridden, and why it ended.
    fn holds(&self) -> Vec<(Span, &str)> {
        let evidence = self.bench.evidence(self.bench.now());
        let ends = self.recorded.iter().filter_map(|(at, happening)| {
            let Happening::StepEnded { index, why, .. } = happening else {
                return None;
            };
            [1, 3].contains(index).then_some((*at, why.as_str()))
        });
        ends.map(|(at, why)| {
            let step = evidence.steps.iter().find(|step| step.to == at);
            (at - step.expect("an ended step was ridden").from, why)
        })
        .collect()
    }

    fn looks(&self) -> Vec<(&str, bool)> {
        self.recorded
            .iter()
            .filter_map(|(_, happening)| match happening {
                Happening::Decision { words, decided, .. } => Some((words.as_str(), *decided)),
                _ => None,
            })
            .collect()
    }
}

#[test]
fn a_device_that_is_far_off_is_decided_early_and_a_replay_says_the_same() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("far-off.prony");
    let ridden = ride(12.0, Some(EarlyEnd::WhenDecided), SCRIPT, &file);
    let holds = ridden.holds();
    assert_eq!(holds.len(), 2, "{holds:?}");
    for (length, why) in &holds {
        assert_eq!(*why, "decided before its time");
        assert!(*length < Span::from_secs(200), "{holds:?}");
    }
    // The question was decided in the first hold; the second only has to confirm it.
    assert!(holds[1].0 < holds[0].0, "{holds:?}");
    let looks = ridden.looks();
    assert!(
        looks
            .iter()
            .any(|(words, decided)| *decided && words.contains("shown beyond")),
        "{looks:?}"
    );
    assert_eq!(ridden.concluded, ridden.recorded, "replay differs");
    // The rule was sealed before the first sample, with its rate of wrong statements.
    let rule = ridden.bench.plan().settings.rule_words();
    assert!(rule.contains("at most 5 times in 100"), "{rule}");
    assert!(
        ridden
            .recorded
            .iter()
            .any(|(_, happening)| matches!(happening, Happening::Notice { words } if rule.contains(words.as_str()))),
        "the rule was not told"
    );
}

#[test]
fn a_device_at_the_limit_of_its_claim_is_ridden_to_the_end() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("at-the-limit.prony");
    let ridden = ride(2.0, Some(EarlyEnd::WhenDecided), SCRIPT, &file);
    for (length, why) in ridden.holds() {
        assert_eq!((length, why), (Span::from_secs(270), "complete"));
    }
    let looks = ridden.looks();
    assert!(looks.len() > 6, "{looks:?}");
    assert!(looks.iter().all(|(_, decided)| !decided), "{looks:?}");
    assert_eq!(ridden.concluded, ridden.recorded, "replay differs");
}

#[test]
fn without_the_rule_every_hold_is_ridden_out_and_a_script_can_ask_for_it() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let off = ride(12.0, None, SCRIPT, &folder.path().join("off.prony"));
    for (length, why) in off.holds() {
        assert_eq!((length, why), (Span::from_secs(270), "complete"));
    }
    assert!(off.looks().is_empty());

    let asking = SCRIPT.replace(
        "ceiling_w: 240,",
        "ceiling_w: 240,\n    decided_holds: End,",
    );
    let on = ride(12.0, None, &asking, &folder.path().join("on.prony"));
    assert_eq!(on.holds()[0].1, "decided before its time");

    // The command line has the last word, over the script and over a step that waits.
    let waiting = SCRIPT.replace(
        "Hold(title: \"first\", power_w: 200, seconds: 270)",
        "HoldUntil(title: \"first\", power_w: 200, until: Decided, limit_seconds: 270)",
    );
    let waits = ride(12.0, None, &waiting, &folder.path().join("waits.prony"));
    let holds = waits.holds();
    assert!(holds[0].0 < Span::from_secs(270), "{holds:?}");
    assert_eq!(holds[1], (Span::from_secs(270), "complete"));
    let forbidden = ride(
        12.0,
        Some(EarlyEnd::Off),
        &waiting,
        &folder.path().join("forbidden.prony"),
    );
    assert_eq!(
        forbidden.holds()[0],
        (Span::from_secs(270), "time limit reached")
    );
}
