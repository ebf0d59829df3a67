//! Spin-down, zero offset and crank length against instruments of a few lines: what is answered,
//! what is not, and what is never written.
//!
//! Bytes after the Fitness Machine Service 1.0.1 (control point 13, status 14) and the Cycling
//! Power Service (control point 04, 05, 0C; 1/32 N·m or 1 N by feature bit 16; half millimetres).

#![allow(clippy::unwrap_used, reason = "test helpers are tests as well")]

use analysis::before::CalibrationRecord;
use analysis::evidence::{Place, Role};
use analysis::settings::Settings;
use bench::model::InstrumentRole;
use bench::{Bench, BenchPlan, Command, Happening, Input, Origin, Output, RideRules, SourcePlan};
use protocol::Script;
use units::{AttError, Characteristic, Packet, SourceId, Span, Timestamp, Write};

const TRAINER: SourceId = SourceId(1);
const METER: SourceId = SourceId(2);
const SECOND: SourceId = SourceId(3);
const MACHINE_POINT: Characteristic = Characteristic(0x2AD9);
const MACHINE_STATUS: Characteristic = Characteristic(0x2ADA);
const POWER_POINT: Characteristic = Characteristic(0x2A66);
const MACHINE_FEATURE: Characteristic = Characteristic(0x2ACC);
const POWER_FEATURE: Characteristic = Characteristic(0x2A65);

/// Cadence, power; resistance, power, simulation, spin-down.
const WITH_SPIN_DOWN: [u8; 8] = [0x82, 0x40, 0, 0, 0x0C, 0xA0, 0, 0];
const WITHOUT_SPIN_DOWN: [u8; 8] = [0x82, 0x40, 0, 0, 0x0C, 0x20, 0, 0];
/// Crank revolutions, offset compensation, crank length; the third octet says torque.
const TORQUE_METER: [u8; 4] = [0x08, 0x12, 0x01, 0];
const FORCE_METER: [u8; 4] = [0x08, 0x12, 0x00, 0];
const BARE_METER: [u8; 4] = [0x08, 0x00, 0x00, 0];

/// How an instrument answers a write: the packets that follow a little later.
type Answers = fn(&Write) -> Vec<(Characteristic, Vec<u8>)>;

struct Stand {
    bench: Bench,
    now: Timestamp,
    answers: Answers,
    refuses: Option<AttError>,
    written: Vec<Write>,
    events: Vec<(Timestamp, Happening)>,
    cues: Vec<protocol::Cue>,
}

fn source(id: SourceId, role: InstrumentRole, place: Place) -> SourcePlan {
    SourcePlan {
        id,
        name: format!("instrument {}", id.0),
        role,
        place,
        main: None,
        calibration: CalibrationRecord::default(),
    }
}

impl Stand {
    fn new(steps: &str, machine: [u8; 8], meter: [u8; 4], answers: Answers) -> Self {
        let script = Script::from_ron("t", &format!("Script(title: \"t\", steps: [{steps}])"));
        let plan = BenchPlan {
            sources: vec![
                source(TRAINER, InstrumentRole::UnderTest, Place::Hub),
                source(METER, InstrumentRole::PrimaryReference, Place::Crank),
                source(SECOND, InstrumentRole::SecondReference, Place::Pedals),
            ],
            script: script.unwrap().plan().clone(),
            runner: RideRules::under(400.0).runner_config(),
            settings: Settings::default(),
            origin: Origin::Simulated,
        };
        let mut stand = Self {
            bench: Bench::new(plan),
            now: Timestamp::ZERO,
            answers,
            refuses: None,
            written: Vec::new(),
            events: Vec::new(),
            cues: Vec::new(),
        };
        stand.packet(TRAINER, MACHINE_FEATURE, machine.to_vec());
        stand.packet(METER, POWER_FEATURE, meter.to_vec());
        stand.packet(SECOND, POWER_FEATURE, TORQUE_METER.to_vec());
        stand
    }

    fn started(steps: &str, machine: [u8; 8], meter: [u8; 4], answers: Answers) -> Self {
        let mut stand = Self::new(steps, machine, meter, answers);
        stand.give(Input::Command(Command::Start));
        stand.give(Input::Command(Command::AcceptCautions));
        stand
    }

    fn packet(&mut self, source: SourceId, characteristic: Characteristic, bytes: Vec<u8>) {
        self.give(Input::Packet(Packet {
            at: self.now,
            source,
            epoch: 1,
            characteristic,
            bytes,
        }));
    }

    fn give(&mut self, input: Input) {
        self.bench.handle(self.now, input);
        while let Some(output) = self.bench.poll_output() {
            match output {
                Output::Event { at, happening } => self.events.push((at, happening)),
                Output::Cue(cue) => self.cues.push(cue),
                Output::Write(write) => self.answer(write),
            }
        }
    }

    fn answer(&mut self, write: Write) {
        self.written.push(write.clone());
        let result = self.refuses.clone().map_or(Ok(()), Err);
        let refused = result.is_err();
        self.give(Input::WriteReply {
            source: write.source,
            characteristic: write.characteristic,
            result,
        });
        if refused {
            return;
        }
        for (characteristic, bytes) in (self.answers)(&write) {
            self.now += Span::from_millis(30);
            self.packet(write.source, characteristic, bytes);
        }
    }

    /// Lets time pass, deadline by deadline.
    fn run(&mut self, seconds: i64) {
        let until = self.now + Span::from_secs(seconds);
        while let Some(due) = self.bench.poll_timeout().filter(|due| *due <= until) {
            self.now = self.now.max(due);
            self.give(Input::Tick);
        }
        self.now = self.now.max(until);
        self.give(Input::Tick);
    }

    fn link(&mut self, source: SourceId, up: bool) {
        self.give(Input::Link {
            source,
            up,
            epoch: 2,
            words: "test".to_owned(),
        });
    }

    /// State, value and unit of everything recorded about a procedure.
    fn told(&self, procedure: &str) -> Vec<(&str, Option<f64>, Option<&str>)> {
        self.events
            .iter()
            .filter_map(|(_, happening)| match happening {
                Happening::Calibration {
                    procedure: which,
                    state,
                    value,
                    unit,
                    ..
                } if which == procedure => Some((state.as_str(), *value, unit.as_deref())),
                _ => None,
            })
            .collect()
    }

    fn states(&self, procedure: &str) -> Vec<&str> {
        self.told(procedure)
            .into_iter()
            .map(|told| told.0)
            .collect()
    }

    /// How the steps ended.
    fn ends(&self) -> Vec<&str> {
        self.events
            .iter()
            .filter_map(|(_, happening)| match happening {
                Happening::StepEnded { why, .. } => Some(why.as_str()),
                _ => None,
            })
            .collect()
    }

    /// What was written to the trainer.
    fn to_trainer(&self) -> Vec<&[u8]> {
        self.written
            .iter()
            .filter(|write| write.characteristic == MACHINE_POINT)
            .map(|write| write.bytes.as_slice())
            .collect()
    }

    /// Nothing but control, release, spin-down and reset was ever written to the trainer.
    fn assert_never_loaded(&self) {
        let harmless: [&[u8]; 4] = [&[0x00], &[0x01], &[0x05, 0, 0], &[0x13, 0x01]];
        for bytes in self.to_trainer() {
            assert!(harmless.contains(&bytes), "{bytes:02x?} was written");
        }
    }
}

/// Instruments that do everything: control, release and spin-down speeds 20.00 and 40.00 km/h; a
/// zero of 170 steps; a crank of 345 half millimetres.
fn willing(write: &Write) -> Vec<(Characteristic, Vec<u8>)> {
    match (write.characteristic, write.bytes.as_slice()) {
        (MACHINE_POINT, [0x13, 0x01]) => {
            vec![(MACHINE_POINT, vec![0x80, 0x13, 1, 0xD0, 0x07, 0xA0, 0x0F])]
        }
        (MACHINE_POINT, [op, ..]) => vec![(MACHINE_POINT, vec![0x80, *op, 1])],
        (POWER_POINT, [0x0C]) => vec![(POWER_POINT, vec![0x20, 0x0C, 1, 0xAA, 0x00])],
        (POWER_POINT, [0x05]) => vec![(POWER_POINT, vec![0x20, 0x05, 1, 0x59, 0x01])],
        (POWER_POINT, [op, ..]) => vec![(POWER_POINT, vec![0x20, *op, 1])],
        _ => vec![],
    }
}

fn silent(write: &Write) -> Vec<(Characteristic, Vec<u8>)> {
    let meter = write.characteristic == POWER_POINT;
    let spin_down = write.bytes.first() == Some(&0x13);
    if meter || spin_down {
        vec![]
    } else {
        willing(write)
    }
}

fn refusing(write: &Write) -> Vec<(Characteristic, Vec<u8>)> {
    match (write.characteristic, write.bytes.as_slice()) {
        (MACHINE_POINT, [0x13, ..]) => vec![(MACHINE_POINT, vec![0x80, 0x13, 0x04])],
        (POWER_POINT, [op, ..]) => vec![(POWER_POINT, vec![0x20, *op, 0x04])],
        _ => willing(write),
    }
}

const ZERO: &str = "ZeroOffset(of: References), Rest(seconds: 2)";
const SPIN: &str = "SpinDown(limit_seconds: 120), Rest(seconds: 2)";

/// By hand: 170/32 = 5.3125 N·m.
#[test]
fn a_zero_offset_is_told_in_the_unit_of_the_feature_bit_and_kept_as_evidence() {
    let mut stand = Stand::started(ZERO, WITH_SPIN_DOWN, TORQUE_METER, willing);
    stand.run(4);
    assert!(
        stand.told("zero offset").is_empty(),
        "the cranks have to come to rest first"
    );
    stand.run(4);
    let found = ("succeeded", Some(5.3125), Some("N·m"));
    let begun = ("begun", None, None);
    assert_eq!(stand.told("zero offset"), [begun, begun, found, found]);
    assert_eq!(stand.ends(), ["complete", "complete"]);
    // 100 W from the meter, so that it has a stream at all.
    stand.packet(METER, Characteristic(0x2A63), vec![0, 0, 100, 0]);
    let evidence = stand.bench.evidence(stand.now);
    let reference = evidence
        .streams
        .iter()
        .find(|stream| stream.role == Role::PrimaryReference);
    let zeros = &reference.unwrap().zero_offsets;
    assert_eq!(zeros.len(), 1);
    assert_eq!(zeros[0].torque_nm, 5.3125);
    stand.assert_never_loaded();
}

/// By hand: 170 N at the end of a crank of 172.5 mm are 29.325 N·m.
#[test]
fn a_force_becomes_a_torque_by_the_length_of_the_crank() {
    let mut stand = Stand::started(ZERO, WITH_SPIN_DOWN, FORCE_METER, willing);
    stand.run(10);
    let told = stand.told("zero offset");
    assert!(
        told.contains(&("succeeded", Some(170.0), Some("N"))),
        "{told:?}"
    );
    stand.packet(METER, Characteristic(0x2A63), vec![0, 0, 100, 0]);
    let evidence = stand.bench.evidence(stand.now);
    let zeros: Vec<f64> = evidence.streams[0]
        .zero_offsets
        .iter()
        .map(|zero| zero.torque_nm)
        .collect();
    assert_eq!(zeros.len(), 1);
    assert!((zeros[0] - 29.325).abs() < 1e-9, "{zeros:?}");
}

#[test]
fn cranks_that_do_not_come_to_rest_get_no_zero() {
    let mut stand = Stand::started(ZERO, WITH_SPIN_DOWN, TORQUE_METER, willing);
    // One turn a second from the reference: revolutions and their times in 1/1024 s.
    for second in 1..70_u16 {
        let (turns, ticks) = (
            second.to_le_bytes(),
            second.wrapping_mul(1024).to_le_bytes(),
        );
        let bytes = vec![0x20, 0, 100, 0, turns[0], turns[1], ticks[0], ticks[1]];
        stand.packet(METER, Characteristic(0x2A63), bytes);
        stand.run(1);
    }
    let why = stand.ends()[0].to_owned();
    assert!(
        why.contains("instrument 2: the cranks did not come to rest"),
        "{why}"
    );
    assert!(!why.contains("instrument 3"), "{why}");
}

#[test]
fn a_refused_procedure_fails_in_words_and_the_script_goes_on() {
    let mut stand = Stand::started(ZERO, WITH_SPIN_DOWN, TORQUE_METER, refusing);
    stand.run(8);
    let why = stand.ends()[0].to_owned();
    assert!(why.starts_with("procedure failed: "), "{why}");
    for name in ["instrument 2: ", "instrument 3: "] {
        let part = format!("{name}the meter answers: operation failed");
        assert!(why.contains(&part), "{why}");
    }
    assert_eq!(stand.ends().len(), 2, "the rest was ridden");
    assert_eq!(stand.states("zero offset")[2..], ["failed", "failed"]);

    let mut stand = Stand::started(SPIN, WITH_SPIN_DOWN, TORQUE_METER, refusing);
    stand.run(8);
    assert_eq!(stand.states("spin-down"), ["begun", "failed"]);
    assert!(stand.ends()[0].contains("operation failed"));
    stand.assert_never_loaded();
}

#[test]
fn what_is_not_offered_is_not_asked_for() {
    let mut stand = Stand::started(ZERO, WITH_SPIN_DOWN, BARE_METER, willing);
    stand.run(12);
    assert!(stand.ends()[0].contains("does not offer a zero offset"));
    assert!(stand.written.iter().all(|write| write.source != METER));

    let mut stand = Stand::started(SPIN, WITHOUT_SPIN_DOWN, TORQUE_METER, willing);
    stand.run(5);
    assert!(stand.ends()[0].contains("does not offer a spin-down"));
    assert!(!stand.to_trainer().contains(&[0x13, 0x01].as_slice()));
}

/// The standard gives every procedure thirty seconds for its answer.
#[test]
fn without_an_answer_the_time_out_ends_it() {
    let mut stand = Stand::started(ZERO, WITH_SPIN_DOWN, TORQUE_METER, silent);
    stand.run(34);
    assert!(stand.ends().is_empty());
    stand.run(4);
    assert!(
        stand.ends()[0].contains("no answer within 30 s"),
        "{:?}",
        stand.ends()
    );

    let mut stand = Stand::started(SPIN, WITH_SPIN_DOWN, TORQUE_METER, silent);
    stand.run(28);
    assert!(stand.ends().is_empty());
    stand.run(8);
    assert!(
        stand.ends()[0].contains("no answer within 30 s"),
        "{:?}",
        stand.ends()
    );
    stand.assert_never_loaded();
}

#[test]
fn a_spin_down_asks_for_both_speeds_tells_when_to_stop_and_hears_how_it_went() {
    for (outcome, expected) in [(0x02, "complete"), (0x03, "procedure failed")] {
        let mut stand = Stand::started(SPIN, WITH_SPIN_DOWN, TORQUE_METER, willing);
        stand.run(2);
        let told = stand.told("spin-down");
        assert_eq!(told[0].0, "begun");
        assert!(
            told.contains(&("low speed", Some(20.0), Some("km/h"))),
            "{told:?}"
        );
        assert!(
            told.contains(&("high speed", Some(40.0), Some("km/h"))),
            "{told:?}"
        );
        let speed = stand.cues.last().unwrap().speed.unwrap();
        assert!(speed.to_kilometres_per_hour() > 40.0);
        let words = stand.bench.model().prompt.unwrap().text;
        assert!(words.contains("40.0") && words.contains("20.0"), "{words}");

        stand.run(20);
        stand.packet(TRAINER, MACHINE_STATUS, vec![0x14, 0x04]);
        assert_eq!(
            stand.cues.last().unwrap().pedalling,
            protocol::Pedalling::Stop
        );
        stand.run(30);
        assert!(stand.ends().is_empty(), "it waits for the trainer");
        stand.packet(TRAINER, MACHINE_STATUS, vec![0x14, outcome]);
        stand.run(5);
        assert!(stand.ends()[0].starts_with(expected), "{:?}", stand.ends());
        assert_eq!(stand.ends().len(), 2);
        stand.assert_never_loaded();
    }
}

#[test]
fn a_spin_down_that_never_ends_is_broken_off_and_the_trainer_reset() {
    let mut stand = Stand::started(SPIN, WITH_SPIN_DOWN, TORQUE_METER, willing);
    stand.run(118);
    assert!(stand.ends().is_empty());
    stand.run(8);
    assert_eq!(stand.ends()[0], "time limit reached");
    assert_eq!(*stand.states("spin-down").last().unwrap(), "broken off");
    assert!(stand.to_trainer().contains(&[0x01].as_slice()));
    stand.assert_never_loaded();
}

/// A lost trainer pauses the run; what was begun is begun anew when somebody resumes.
#[test]
fn a_link_lost_in_between_fails_the_procedure_and_loads_nothing() {
    let mut stand = Stand::started(SPIN, WITH_SPIN_DOWN, TORQUE_METER, willing);
    stand.run(10);
    stand.link(TRAINER, false);
    stand.run(5);
    assert!(stand.states("spin-down").contains(&"failed"));
    assert!(stand.ends().is_empty());
    assert!(matches!(
        stand.bench.model().phase,
        bench::model::Phase::Paused { .. }
    ));
    stand.link(TRAINER, true);
    stand.run(5);
    stand.packet(METER, Characteristic(0x2A63), vec![0, 0, 0, 0]);
    stand.give(Input::Command(Command::Resume));
    stand.run(5);
    let begun = stand.states("spin-down");
    assert_eq!(
        begun.iter().filter(|state| **state == "begun").count(),
        2,
        "{begun:?}"
    );
    stand.assert_never_loaded();

    // The second reference is not needed for the ride; its zero fails and the script goes on.
    let mut stand = Stand::started(ZERO, WITH_SPIN_DOWN, TORQUE_METER, silent);
    stand.run(8);
    stand.link(SECOND, false);
    stand.run(35);
    let why = stand.ends()[0].to_owned();
    assert!(why.contains("instrument 3: the link was lost"), "{why}");
}

#[test]
fn a_pause_breaks_a_procedure_off_and_a_resume_begins_it_anew() {
    let mut stand = Stand::started(SPIN, WITH_SPIN_DOWN, TORQUE_METER, willing);
    stand.run(10);
    stand.give(Input::Command(Command::Release));
    stand.run(2);
    assert_eq!(*stand.states("spin-down").last().unwrap(), "broken off");
    assert!(
        stand.to_trainer().contains(&[0x01].as_slice()),
        "it is told to leave off"
    );
    stand.give(Input::Command(Command::Resume));
    stand.run(5);
    assert_eq!(*stand.states("spin-down").last().unwrap(), "accelerate");
    stand.assert_never_loaded();
}

#[test]
fn the_operator_asks_before_the_ride_and_nobody_is_asked_while_loaded() {
    let steps = "Hold(power_w: 150, seconds: 100)";
    let mut stand = Stand::new(steps, WITH_SPIN_DOWN, TORQUE_METER, willing);
    stand.give(Input::Command(Command::WriteCrankLength {
        source: METER.0,
        tenth_mm: 1725,
    }));
    stand.run(1);
    assert_eq!(
        stand.told("crank length"),
        [("succeeded", Some(172.5), Some("mm"))]
    );
    let sent: Vec<&[u8]> = stand
        .written
        .iter()
        .map(|write| write.bytes.as_slice())
        .collect();
    assert_eq!(sent, [[0x04, 0x59, 0x01].as_slice(), &[0x05]]);
    stand.give(Input::Command(Command::WriteCrankLength {
        source: METER.0,
        tenth_mm: 1750,
    }));
    stand.run(1);
    assert_eq!(
        *stand.states("crank length").last().unwrap(),
        "failed",
        "it tells 172.5"
    );

    stand.give(Input::Command(Command::ZeroOffset(METER.0)));
    stand.run(10);
    assert_eq!(stand.states("zero offset"), ["begun", "succeeded"]);
    stand.packet(TRAINER, MACHINE_STATUS, vec![0x14, 0x01]);
    assert_eq!(
        stand.states("spin-down"),
        ["wanted"],
        "it is asked, not obeyed"
    );
    stand.give(Input::Command(Command::SpinDown));
    stand.run(5);
    assert_eq!(*stand.states("spin-down").last().unwrap(), "accelerate");
    stand.give(Input::Command(Command::Start));
    stand.run(1);
    assert_eq!(
        stand.bench.model().phase,
        bench::model::Phase::Ready,
        "one after the other"
    );
    stand.packet(TRAINER, MACHINE_STATUS, vec![0x14, 0x04]);
    stand.packet(TRAINER, MACHINE_STATUS, vec![0x14, 0x02]);
    stand.assert_never_loaded();

    stand.give(Input::Command(Command::Start));
    stand.give(Input::Command(Command::AcceptCautions));
    stand.run(4);
    assert!(stand.to_trainer().contains(&[0x05, 150, 0].as_slice()));
    let before = stand.written.len();
    for command in [Command::SpinDown, Command::ZeroOffset(METER.0)] {
        stand.give(Input::Command(command));
    }
    stand.give(Input::Command(Command::ReadCrankLength(99)));
    assert_eq!(stand.written.len(), before, "nothing is asked under load");
}

#[test]
fn a_write_that_does_not_get_through_fails_the_procedure() {
    let mut stand = Stand::new("Rest(seconds: 5)", WITH_SPIN_DOWN, TORQUE_METER, willing);
    stand.refuses = Some(AttError::Code(0xFE));
    stand.give(Input::Command(Command::ReadCrankLength(METER.0)));
    assert_eq!(stand.states("crank length"), ["failed"]);
}
