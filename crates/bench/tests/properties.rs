//! Random scripts, instruments and operators against the whole bench: no write is above the
//! rider's ceiling, none loads after the end, after a release or during a spin-down, and the same
//! inputs give the same conclusions.
//!
//! `PROPTEST_CASES=100000` in release mode takes the long look; the default is a quick one.

use analysis::before::CalibrationRecord;
use analysis::evidence::Place;
use analysis::settings::Settings;
use bench::model::InstrumentRole;
use bench::{Bench, BenchPlan, Command, Happening, Input, Origin, Output, RideRules, SourcePlan};
use proptest::collection::vec;
use proptest::prelude::*;
use protocol::Script;
use units::{AttError, Characteristic, Packet, SourceId, Span, Timestamp, Write};

const CEILING_W: i16 = 260;
const TRAINER: SourceId = SourceId(1);
const METER: SourceId = SourceId(2);
const MACHINE_POINT: Characteristic = Characteristic(0x2AD9);
const MACHINE_STATUS: Characteristic = Characteristic(0x2ADA);
const BIKE_DATA: Characteristic = Characteristic(0x2AD2);
const POWER_POINT: Characteristic = Characteristic(0x2A66);
const POWER: Characteristic = Characteristic(0x2A63);

/// Steps of every sort that the bench treats differently, as a script spells them.
const STEPS: [&str; 9] = [
    "Hold(power_w: 200, seconds: 60)",
    "Hold(power_w: 400, seconds: 40, feeds: Response)",
    "Alternate(levels_w: [120, 250], seconds: 5, times: 3)",
    "SlopeSteps(grades_pct: [4], seconds: 20, settle_seconds: 5)",
    "Rest(seconds: 10)",
    "ZeroOffset(of: All, limit_seconds: 60)",
    "SpinDown(limit_seconds: 60)",
    "Prompt(text: \"x\", limit_seconds: 30)",
    "HoldUntil(power_w: 150, until: Decided, limit_seconds: 90)",
];

/// One thing that happens: how long after the one before, ms, which, and two numbers for it.
type Event = (u16, u8, u8, u8);

struct Ride {
    bench: Bench,
    now: Timestamp,
    /// Which writes are refused and which are not answered: one bit for each in turn.
    moods: u64,
    written: u32,
    inputs: Vec<(Timestamp, Input)>,
    concluded: Vec<(Timestamp, Happening)>,
    loads: Vec<(Timestamp, usize, Vec<u8>)>,
}

fn plan(steps: &[usize]) -> BenchPlan {
    let steps: Vec<&str> = steps.iter().map(|step| STEPS[step % STEPS.len()]).collect();
    let text = format!("Script(title: \"random\", steps: [{}])", steps.join(","));
    let script = Script::from_ron("random", &text).expect("every step is sound");
    let rules = RideRules {
        device_power_w: Some([0.0, 1000.0]),
        ..RideRules::under(f64::from(CEILING_W))
    };
    let source = |id, role, place| SourcePlan {
        id,
        name: format!("instrument {}", id.0),
        role,
        place,
        main: None,
        calibration: CalibrationRecord::default(),
    };
    BenchPlan {
        sources: vec![
            source(TRAINER, InstrumentRole::UnderTest, Place::Hub),
            source(METER, InstrumentRole::PrimaryReference, Place::Crank),
        ],
        script: script.plan().clone(),
        runner: rules.runner_config(),
        settings: Settings::default(),
        origin: Origin::Simulated,
    }
}

impl Ride {
    fn new(steps: &[usize], moods: u64) -> Self {
        let mut ride = Self {
            bench: Bench::new(plan(steps)),
            now: Timestamp::ZERO,
            moods,
            written: 0,
            inputs: Vec::new(),
            concluded: Vec::new(),
            loads: Vec::new(),
        };
        let features = vec![0x82, 0x40, 0, 0, 0x0C, 0xA0, 0, 0];
        ride.packet(TRAINER, Characteristic(0x2ACC), features);
        ride.packet(METER, Characteristic(0x2A65), vec![0x08, 0x12, 0x01, 0]);
        ride.command(Command::Start);
        ride.command(Command::AcceptCautions);
        ride
    }

    fn command(&mut self, command: Command) {
        self.give(Input::Command(command));
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
        self.inputs.push((self.now, input.clone()));
        self.bench.handle(self.now, input);
        self.drain();
    }

    fn drain(&mut self) {
        while let Some(output) = self.bench.poll_output() {
            match output {
                Output::Event { at, happening } => self.concluded.push((at, happening)),
                Output::Write(write) => self.answer(&write),
                Output::Cue(_) => {}
            }
        }
    }

    fn answer(&mut self, write: &Write) {
        if write.characteristic == MACHINE_POINT {
            let bytes = write.bytes.clone();
            self.loads.push((self.now, self.concluded.len(), bytes));
        }
        let mood = (self.moods >> (2 * (self.written % 32))) & 3;
        self.written += 1;
        let result = if mood == 3 {
            Err(AttError::Code(0xFE))
        } else {
            Ok(())
        };
        let answered = result.is_ok() && mood != 2;
        self.give(Input::WriteReply {
            source: write.source,
            characteristic: write.characteristic,
            result,
        });
        let op = write.bytes.first().copied().unwrap_or_default();
        if answered && write.characteristic == MACHINE_POINT {
            let mut bytes = vec![0x80, op, 1];
            if op == 0x13 {
                bytes.extend([0xD0, 0x07, 0xA0, 0x0F]);
            }
            self.packet(TRAINER, MACHINE_POINT, bytes);
        } else if answered && op == 0x0C {
            self.packet(METER, POWER_POINT, vec![0x20, op, 1, 0xAA, 0]);
        }
    }

    /// Lets time pass up to the event, deadline by deadline, and lets it happen.
    fn happen(&mut self, (millis, which, a, b): Event) {
        self.pass(Span::from_millis(i64::from(millis)));
        match which % 24 {
            0..=6 => {
                let power = (i16::from(a) * 2).to_le_bytes();
                self.packet(METER, POWER, vec![0, 0, power[0], power[1]]);
            }
            7..=13 => {
                // Speed, cadence in half turns, power.
                let power = (i16::from(a) * 2).to_le_bytes();
                let speed = 2500_u16.to_le_bytes();
                let bytes = vec![0x44, 0, speed[0], speed[1], b, 0, power[0], power[1]];
                self.packet(TRAINER, BIKE_DATA, bytes);
            }
            14 => self.packet(TRAINER, MACHINE_STATUS, vec![0x14, a % 6]),
            15 => self.packet(
                TRAINER,
                MACHINE_STATUS,
                vec![[0xFF, 0x01, 0x03][a as usize % 3]],
            ),
            16 => self.packet(TRAINER, MACHINE_POINT, vec![0x80, a % 20, b % 6]),
            17 => self.give(Input::Link {
                source: if a % 2 == 0 { TRAINER } else { METER },
                up: b % 3 != 0,
                epoch: 1,
                words: String::new(),
            }),
            18 if a % 8 == 0 => self.give(Input::RecordingFailed {
                words: "disk full".to_owned(),
            }),
            18 => self.give(Input::Stalled),
            _ => self.command(match a % 14 {
                0 => Command::Pause,
                1..=4 => Command::Resume,
                5 => Command::Skip,
                6 => Command::Repeat,
                7 => Command::Extend(u32::from(b)),
                8 => Command::Acknowledge,
                9 => Command::SpinDown,
                10 => Command::ZeroOffset(u16::from(b % 3)),
                11 => Command::WriteCrankLength {
                    source: METER.0,
                    tenth_mm: 1700 + u16::from(b),
                },
                12 if b < 40 => Command::Stop,
                12 => Command::Release,
                _ => Command::CapSteps,
            }),
        }
    }

    fn pass(&mut self, span: Span) {
        let until = self.now + span;
        let mut deadlines = 0;
        while let Some(due) = self.bench.poll_timeout().filter(|due| *due <= until) {
            self.now = self.now.max(due);
            self.bench.handle(self.now, Input::Tick);
            self.drain();
            deadlines += 1;
            assert!(deadlines < 20_000, "time does not pass");
        }
        self.now = self.now.max(until);
    }
}

/// Whether a write to the trainer loads the rider.
fn loads(bytes: &[u8]) -> bool {
    match bytes {
        [0x05, low, high] => i16::from_le_bytes([*low, *high]) > 0,
        [0x04, ..] => true,
        // No grade, wind or rolling resistance is how a brake without power mode is released.
        [0x11, rest @ ..] => rest.iter().any(|byte| *byte != 0),
        _ => false,
    }
}

/// What the conclusions up to a write say about it: the rule that it breaks, if it breaks one. A
/// target and a release of one and the same moment are written one after the other, the release
/// last.
fn broken(
    concluded: &[(Timestamp, Happening)],
    written: Timestamp,
    bytes: &[u8],
) -> Option<&'static str> {
    if let [0x05, low, high] = bytes
        && i16::from_le_bytes([*low, *high]) > CEILING_W
    {
        return Some("above the rider's ceiling");
    }
    if !loads(bytes) {
        return None;
    }
    let mut agreed = false;
    let mut spinning = false;
    for (at, happening) in concluded {
        match happening {
            Happening::Ended { .. } if *at < written => return Some("loaded after the end"),
            Happening::Release { .. } if *at < written => agreed = false,
            Happening::Consent { .. } => agreed = true,
            Happening::Calibration {
                procedure, state, ..
            } if procedure == "spin-down" => match state.as_str() {
                "begun" => spinning = true,
                "succeeded" | "failed" | "broken off" => spinning = false,
                _ => {}
            },
            _ => {}
        }
    }
    if spinning {
        return Some("loaded during a spin-down");
    }
    (!agreed).then_some("loaded without consent")
}

fn cases() -> ProptestConfig {
    let usual = ProptestConfig::default();
    ProptestConfig {
        failure_persistence: None,
        cases: if std::env::var_os("PROPTEST_CASES").is_some() {
            usual.cases
        } else {
            64
        },
        ..usual
    }
}

proptest! {
    #![proptest_config(cases())]

    #[test]
    fn nobody_is_loaded_who_did_not_agree_and_a_replay_concludes_the_same(
        steps in vec(0..STEPS.len(), 1..6),
        moods in any::<u64>(),
        events in vec((20_u16..2500, any::<u8>(), any::<u8>(), any::<u8>()), 0..150),
    ) {
        let mut ride = Ride::new(&steps, moods & 0x1111_3111_2111_1111);
        for event in events {
            ride.happen(event);
        }
        ride.command(Command::Stop);
        ride.pass(Span::from_secs(70));
        for (at, known, bytes) in &ride.loads {
            let rule = broken(&ride.concluded[..*known], *at, bytes);
            prop_assert_eq!(rule, None, "at {}: {:02x?}", at, bytes);
        }
        prop_assert!(ride.bench.end_reason().is_some(), "the session does not end");

        let mut again = Bench::new(plan(&steps));
        let mut concluded = Vec::new();
        let mut drain = |bench: &mut Bench| {
            while let Some(output) = bench.poll_output() {
                if let Output::Event { at, happening } = output {
                    concluded.push((at, happening));
                }
            }
        };
        for (at, input) in &ride.inputs {
            again.handle(*at, input.clone());
            drain(&mut again);
        }
        again.handle(ride.now, Input::Tick);
        drain(&mut again);
        prop_assert_eq!(concluded, ride.concluded);
    }
}
