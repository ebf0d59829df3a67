//! A script that asks for more than the device offers: which steps, which limit, and what the
//! operator can do about it.

use analysis::before::CalibrationRecord;
use analysis::evidence::Place;
use analysis::settings::Settings;
use bench::model::{InstrumentRole, Phase};
use bench::{Bench, BenchPlan, Command, Input, Origin, RideRules, SourcePlan};
use protocol::Script;
use units::{SourceId, Timestamp, Watts};

const STEPS: &str = "Hold(title: \"easy\", power_w: 150, seconds: 60), \
     Hold(title: \"hard\", power_w: 320, seconds: 60), \
     SlopeSteps(title: \"wall\", grades_pct: [14], seconds: 60)";

fn bench(rules: &RideRules) -> Bench {
    let text = format!("Script(title: \"t\", steps: [{STEPS}])");
    let script = Script::from_ron("t", &text).expect("a script");
    Bench::new(BenchPlan {
        sources: vec![SourcePlan {
            id: SourceId(1),
            name: "trainer".to_owned(),
            role: InstrumentRole::UnderTest,
            place: Place::Hub,
            main: None,
            calibration: CalibrationRecord::default(),
        }],
        script: script.plan().clone(),
        runner: rules.runner_config(),
        settings: Settings::default(),
        origin: Origin::Simulated,
    })
}

fn give(bench: &mut Bench, command: Command) {
    bench.handle(Timestamp::from_secs(1), Input::Command(command));
}

#[test]
fn what_lies_beyond_the_device_is_named_and_waits_to_be_capped() {
    let rules = RideRules {
        device_power_w: Some([0.0, 250.0]),
        device_grade_pct: Some([-5.0, 10.0]),
        ..RideRules::under(400.0)
    };
    let mut bench = bench(&rules);
    let beyond = bench.model().script.beyond.clone();
    let indices: Vec<usize> = beyond.iter().map(|one| one.index).collect();
    assert_eq!(indices, [1, 2]);
    assert!(beyond.iter().all(|one| one.to_be_capped));
    for part in ["step 2 (hard)", "320\u{a0}W", "the limit is 250\u{a0}W"] {
        assert!(beyond[0].words.contains(part), "{}", beyond[0].words);
    }
    assert!(
        beyond[1].words.contains("10.00\u{a0}%"),
        "{}",
        beyond[1].words
    );

    give(&mut bench, Command::Start);
    assert_eq!(bench.model().phase, Phase::Ready, "it must not begin");
    let told = bench
        .model()
        .notices
        .last()
        .expect("a notice")
        .words
        .clone();
    assert!(
        told.contains("step 2 (hard)") && told.contains("step 3 (wall"),
        "{told}"
    );

    give(&mut bench, Command::CapSteps);
    assert!(bench.model().script.beyond.is_empty());
    let hardest = bench.plan().script.highest_power();
    assert_eq!(hardest, Some(Watts(250.0)));
    assert_eq!(bench.model().script.steps[1].target_w, Some([250.0, 250.0]));
    give(&mut bench, Command::Start);
    assert_eq!(bench.model().phase, Phase::Cautions);
    give(&mut bench, Command::CapSteps);
    assert_eq!(
        bench.model().phase,
        Phase::Cautions,
        "too late to change anything"
    );
}

/// The rider's ceiling caps every target as it is ridden; that is said, and stops nobody.
#[test]
fn what_lies_beyond_the_rider_is_named_and_capped_as_it_is_ridden() {
    let mut bench = bench(&RideRules::under(300.0));
    let beyond = bench.model().script.beyond.clone();
    assert_eq!(beyond.len(), 1, "{beyond:?}");
    assert!(!beyond[0].to_be_capped);
    assert!(
        beyond[0].words.contains("300\u{a0}W"),
        "{}",
        beyond[0].words
    );
    give(&mut bench, Command::Start);
    assert_eq!(bench.model().phase, Phase::Cautions);
}
