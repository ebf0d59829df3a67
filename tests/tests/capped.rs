//! A script beyond the device on the whole program: the operator caps it before it begins, it is
//! ridden within the limits, and a replay knows all of that.

use acceptance::record;
use bench::{Awaiting, Bench, Command, Happening};
use prony::engine::Audience;
use prony::standing_in::StandIn;
use protocol::Script;

const SCRIPT: &str = r#"Script(
    title: "Too much",
    steps: [
        Hold(title: "easy", power_w: 120, seconds: 40),
        Hold(title: "hard", power_w: 240, seconds: 60),
    ],
)"#;

/// Tries to begin, then caps, then begins.
#[derive(Default)]
struct Operator {
    stand_in: StandIn,
    tried: usize,
}

impl Audience for Operator {
    fn show(&mut self, _bench: &Bench) {}

    fn answer(&mut self, bench: &Bench) -> Option<Command> {
        if bench.awaiting() == Some(Awaiting::Start) && self.tried < 2 {
            self.tried += 1;
            return Some(if self.tried == 1 {
                Command::Start
            } else {
                Command::CapSteps
            });
        }
        self.stand_in.answer(bench)
    }
}

#[test]
fn a_script_beyond_the_device_begins_only_when_it_was_capped() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("capped.prony");
    let text = rig::built_in_text("honest").expect("a built-in rig");
    let weak = text.replacen(
        "    title:",
        "    brake: (power_range_w: (0, 150)),\n    title:",
        1,
    );
    let rig = rig::RigPlan::parse(&weak, "weak").expect("a rig");
    let script = Script::from_ron("too-much", SCRIPT).expect("a script");
    let change = |setup: prony::setup::Setup| {
        assert_eq!(setup.beyond.len(), 1);
        setup.uncapped(&script)
    };
    record(&script, &rig, 4, &file, change, &mut Operator::default());

    let replayed = prony::replaying::replay(&file).expect("it replays");
    let recorded: Vec<_> = replayed
        .recorded
        .into_iter()
        .filter(|(_, happening)| !matches!(happening, Happening::Rules(_)))
        .collect();
    assert_eq!(replayed.concluded, recorded, "replay differs");
    let refused = recorded.iter().position(|(_, happening)| {
        matches!(happening, Happening::Notice { words }
            if words.contains("not begun") && words.contains("step 2 (hard)"))
    });
    let begun = recorded
        .iter()
        .position(|(_, happening)| matches!(happening, Happening::StepBegan { .. }));
    assert!(
        refused.is_some() && refused < begun,
        "{refused:?} {begun:?}"
    );
    let highest = recorded
        .iter()
        .filter_map(|(_, happening)| match happening {
            Happening::Target { power_w, .. } => *power_w,
            _ => None,
        })
        .fold(0.0, f64::max);
    assert_eq!(highest, 150.0);
    assert_eq!(replayed.bench.end_reason(), Some("complete"));
}
