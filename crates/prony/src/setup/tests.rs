//! What was done to instruments before a session goes into its file and comes out of it again.

use super::*;
use crate::recording::Recording;
use analysis::before::BeforeSession;
use analysis::evidence::Place;
use bench::{Bench, Input};

fn done(procedure: &str, seconds_before: f64, torque_nm: Option<f64>) -> BeforeSession {
    BeforeSession {
        procedure: procedure.to_owned(),
        succeeded: true,
        seconds_before,
        value: torque_nm,
        unit: torque_nm.map(|_| "N·m".to_owned()),
        words: "done".to_owned(),
    }
}

fn instrument(id: u16, role: InstrumentRole, done: Vec<BeforeSession>) -> (String, SourcePlan) {
    let plan = SourcePlan {
        id: SourceId(id),
        name: format!("instrument {id}"),
        role,
        place: Place::Crank,
        main: None,
        calibration: CalibrationRecord {
            before_session: done,
        },
    };
    (format!("device {id}"), plan)
}

#[test]
fn what_was_done_before_a_session_is_sealed_in_it_and_read_again() {
    let text = "Script(title: \"t\", steps: [Hold(power_w: 100, seconds: 120)])";
    let script = Script::from_ron("t", text).expect("a script");
    let bench = BenchFile {
        name: "left stand".to_owned(),
        rider_ceiling_w: None,
        instruments: vec![
            instrument(
                1,
                InstrumentRole::UnderTest,
                vec![done("spin-down", 300.0, None)],
            ),
            instrument(
                2,
                InstrumentRole::PrimaryReference,
                vec![done("zero offset", 719.123_456_7, Some(0.07))],
            ),
            instrument(3, InstrumentRole::Witness, Vec::new()),
        ],
    };
    let settings = analysis::settings::Settings::default();
    let setup = on_bench(&script, &bench, settings, |_| Capabilities::default());
    assert_eq!(setup.sources[2].calibration, serde_json::Value::Null);

    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("a.prony");
    let recording = Recording::start(&path, &setup.about, &setup.sources).expect("a file");
    recording.event(setup.rules_row());
    recording.finish().expect("it is sealed");

    let archive = session::Archive::open(&path).expect("it opens");
    let again = from_archive(&archive).expect("a plan");
    assert_eq!(again.sources, setup.plan.sources);

    let mut bench = Bench::new(again);
    let at = Timestamp::from_secs(1);
    // A record of 200 W and nothing else (Cycling Power Service 1.1, 3.2).
    bench.handle(
        at,
        Input::Packet(Packet {
            at,
            source: SourceId(2),
            epoch: 1,
            characteristic: sensor::assigned::CYCLING_POWER_MEASUREMENT,
            bytes: vec![0, 0, 200, 0],
        }),
    );
    let evidence = bench.evidence(at);
    let [stream] = &evidence.streams[..] else {
        panic!("one instrument has spoken: {:?}", evidence.streams);
    };
    let [zero] = stream.zero_offsets[..] else {
        panic!("one zero was set: {:?}", stream.zero_offsets);
    };
    assert!((zero.at.as_secs_f64() + 719.123).abs() < 0.001, "{zero:?}");
    assert!((zero.torque_nm - 0.07).abs() < 1e-12, "{zero:?}");
}
