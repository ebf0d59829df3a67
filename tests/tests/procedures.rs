//! Spin-down and zero offset on the simulated bench, whose instruments answer as real ones do: the
//! same script, the same bench and the same bytes as on the radio, on the virtual clock.

use acceptance::record;
use bench::Happening;
use prony::standing_in::StandIn;
use protocol::Script;

const SCRIPT: &str = r#"Script(
    title: "Calibrate and ride",
    ceiling_w: 220,
    steps: [
        ZeroOffset(title: "zero before", of: References),
        Ramp(from_w: 80, to_w: 150, seconds: 120, feeds: Warmup),
        SpinDown(),
        Hold(power_w: 200, seconds: 150),
        ZeroOffset(title: "zero after", of: References),
    ],
)"#;

fn states<'a>(events: &'a [(units::Timestamp, Happening)], which: &str) -> Vec<&'a str> {
    events
        .iter()
        .filter_map(|(_, happening)| match happening {
            Happening::Calibration {
                procedure, state, ..
            } if procedure == which => Some(state.as_str()),
            _ => None,
        })
        .collect()
}

#[test]
fn the_procedures_succeed_are_recorded_and_end_in_the_findings() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let script = Script::from_ron("calibrate", SCRIPT).expect("a script");
    let path = folder.path().join("calibrate.prony");
    let rig = rig::built_in("workshop").expect("a built-in rig");
    record(
        &script,
        &rig,
        2,
        &path,
        |setup| setup,
        &mut StandIn::default(),
    );
    let replayed = prony::replaying::replay(&path).expect("it replays");
    let conclusions = |list: &[(units::Timestamp, Happening)]| {
        list.iter()
            .filter(|(_, happening)| !matches!(happening, Happening::Rules(_)))
            .cloned()
            .collect::<Vec<_>>()
    };
    let (now, then) = (
        conclusions(&replayed.concluded),
        conclusions(&replayed.recorded),
    );
    let first = now.iter().zip(&then).find(|(a, b)| a != b);
    assert_eq!(first, None, "the replay concludes something else");
    assert_eq!(now.len(), then.len());
    let spin_down = states(&replayed.recorded, "spin-down");
    assert_eq!(
        spin_down,
        [
            "begun",
            "low speed",
            "high speed",
            "accelerate",
            "stop pedalling",
            "succeeded"
        ]
    );
    let zeros = states(&replayed.recorded, "zero offset");
    let succeeded = zeros.iter().filter(|state| **state == "succeeded").count();
    assert!(succeeded >= 2, "{zeros:?}");
    for (_, happening) in &replayed.recorded {
        if let Happening::StepEnded { why, .. } = happening {
            assert_eq!(why, "complete");
        }
    }
    // A meter finds the same zero twice within a few hundredths of a newton metre (rig: 0.01 N·m).
    let assurance = replayed.bench.findings().examinations.assurance;
    let assurance = assurance.expect("there are references").result;
    assert_eq!(assurance.zeros.len(), 2, "{assurance:?}");
    for zero in &assurance.zeros {
        assert!(zero.change_nm.abs() < 0.1, "{zero:?}");
    }

    // While the spin-down lasts, the trainer is told to begin and nothing else.
    let moment = |state: &str| {
        replayed
            .recorded
            .iter()
            .find_map(|(at, happening)| match happening {
                Happening::Calibration { state: this, .. } if this == state => Some(*at),
                _ => None,
            })
    };
    let (speeds, over) = (moment("low speed"), moment("stop pedalling"));
    let speeds = speeds.expect("the trainer named its speeds");
    let over = over.expect("the trainer said stop") + units::Span::from_secs(20);
    let meanwhile: Vec<_> = replayed
        .recorded
        .iter()
        .filter(|(at, happening)| {
            *at > speeds && *at < over && matches!(happening, Happening::Write { .. })
        })
        .collect();
    assert!(meanwhile.is_empty(), "{meanwhile:?}");
}
