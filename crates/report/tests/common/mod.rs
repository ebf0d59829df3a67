//! A session made of numbers: an invented trainer and two invented power meters, an hour of a
//! script, and everything that goes wrong on a bench.
#![allow(dead_code)]

pub mod page;

use analysis::assess::assess;
use analysis::evidence::{
    Arrival, Command, Evidence, Feeds, InvalidSpan, Load, Place, Role, StepSpan, Stream, ZeroOffset,
};
use analysis::findings::Findings;
use analysis::settings::Settings;
use report::SessionFacts;
use report::tables::{Origin, Recorded};
use session::{About, Document, EventRow, Identity, SourceInfo};
use units::{SourceId, Span, Timestamp};

/// SplitMix64, after Steele, Lea and Flood 2014; good enough to shake test data.
struct Noise(u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let (a, b) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// How the device differs from the truth at the hub.
#[derive(Clone, Copy, Debug)]
pub struct Device {
    /// Error of its scale, %.
    pub scale_pct: f64,
    /// Error of its zero, W.
    pub offset_w: f64,
    /// How late it is, s.
    pub lag_s: f64,
}

impl Default for Device {
    fn default() -> Self {
        Self {
            scale_pct: 1.2,
            offset_w: 1.5,
            lag_s: 1.4,
        }
    }
}

/// Names of the instruments.
#[derive(Clone, Copy, Debug)]
pub struct Names<'a> {
    pub device: &'a str,
    pub reference: &'a str,
    pub second: &'a str,
}

impl Default for Names<'_> {
    fn default() -> Self {
        Self {
            device: "Trainer K",
            reference: "Pedals A",
            second: "Crank B",
        }
    }
}

/// Target, cadence, speed and length of every step: a sweep up and down, cadences, speeds, steps.
fn script() -> Vec<(Feeds, f64, f64, f64, f64)> {
    let mut steps = vec![(Feeds::Nothing, 140.0, 90.0, 33.0, 240.0)];
    for level in [
        100.0, 150.0, 200.0, 250.0, 300.0, 250.0, 200.0, 150.0, 100.0,
    ] {
        steps.push((Feeds::Steady, level, 90.0, 33.0, 170.0));
    }
    for cadence in [65.0, 80.0, 105.0] {
        steps.push((Feeds::Cadence, 200.0, cadence, 33.0, 140.0));
    }
    for speed in [22.0, 44.0] {
        steps.push((Feeds::FlywheelSpeed, 200.0, 90.0, speed, 140.0));
    }
    for repeat in 0..6 {
        let level = if repeat % 2 == 0 { 150.0 } else { 250.0 };
        steps.push((Feeds::Response, level, 90.0, 33.0, 40.0));
    }
    steps.push((Feeds::Steady, 200.0, 90.0, 33.0, 170.0));
    steps.push((Feeds::Nothing, 100.0, 80.0, 30.0, 180.0));
    steps
}

/// What was recorded.
pub fn evidence(device: Device, names: Names<'_>) -> Evidence {
    let mut noise = Noise(7);
    let mut under_test = Stream::new(names.device, Role::UnderTest, Place::Hub);
    let mut reference = Stream::new(names.reference, Role::PrimaryReference, Place::Pedals);
    let mut second = Stream::new(names.second, Role::SecondReference, Place::Crank);
    let mut evidence = Evidence::default();

    let steps = script();
    let mut from = 0.0;
    for (index, (feeds, target, cadence, _, length)) in steps.iter().enumerate() {
        evidence.steps.push(StepSpan {
            index,
            attempt: 1,
            title: format!("{target} W"),
            feeds: *feeds,
            from: secs(from),
            to: secs(from + length),
            settle: Span::from_secs(if *feeds == Feeds::Response { 5 } else { 20 }),
            target_w: Some(*target),
            cadence_rpm: Some(*cadence),
            gear: None,
        });
        evidence.commands.push(Command {
            at: secs(from),
            confirmed_at: Some(secs(from + 0.12)),
            load: Load::PowerW(*target),
        });
        from += length;
    }
    let end = from;
    let rider = |t: f64| {
        let mut at = 0.0;
        let mut last = steps[0];
        for step in &steps {
            if t < at + step.4 {
                let since = t - at;
                let held = 1.0 - (-(since - 0.6).max(0.0) / 1.1).exp();
                return (
                    last.1 + (step.1 - last.1) * held,
                    last.2 + (step.2 - last.2) * held,
                    last.3 + (step.3 - last.3) * held,
                );
            }
            at += step.4;
            last = *step;
        }
        (last.1, last.2, last.3)
    };
    let mut slow = 0.0;
    for second_index in 0..end as usize {
        let t = second_index as f64;
        slow = 0.7 * slow + 2.2 * noise.normal();
        let (power, cadence, speed) = rider(t);
        let crank = power / 0.976 + slow;
        let (hub, _, _) = rider(t - device.lag_s);
        let shown =
            hub * (1.0 + device.scale_pct / 100.0) + device.offset_w + slow + 1.5 * noise.normal();
        let jitter = 0.02 * noise.uniform();
        push(
            &mut reference,
            t + jitter,
            (crank + 1.2 * noise.normal()).round(),
            cadence,
            None,
        );
        push(
            &mut second,
            t + 0.3,
            (1.004 * crank + 1.6 * noise.normal()).round(),
            cadence,
            None,
        );
        let lost = (900.0..909.0).contains(&t) || (1500.0..1504.0).contains(&t);
        let zero = (1210.0..1215.0).contains(&t);
        if !lost {
            let shown = if zero { 0.0 } else { shown.round() };
            push(&mut under_test, t + 0.5, shown, cadence, Some(speed));
        }
    }
    for (at, torque_nm) in [(1.0, 0.02), (end - 2.0, 0.09)] {
        reference.zero_offsets.push(ZeroOffset {
            at: secs(at),
            torque_nm,
        });
    }
    evidence.invalid.push(InvalidSpan {
        from: secs(1000.0),
        to: secs(1030.0),
        reason: "paused by the operator".into(),
    });
    evidence.end = secs(end);
    evidence.streams = vec![under_test, reference, second];
    evidence
}

fn push(stream: &mut Stream, t: f64, power: f64, cadence: f64, speed: Option<f64>) {
    let at = secs(t);
    stream.power_w.push(at, power).expect("times increase");
    stream
        .cadence_rpm
        .push(at, cadence)
        .expect("times increase");
    if let Some(speed) = speed {
        stream.speed_kmh.push(at, speed).expect("times increase");
    }
    stream.arrivals.push(Arrival { at, epoch: 1 });
}

fn secs(seconds: f64) -> Timestamp {
    Timestamp::from_secs_f64(seconds)
}

/// A session with all that its tables are made of.
pub struct Session {
    facts: SessionFacts,
    evidence: Evidence,
    events: Vec<EventRow>,
    origin: Origin,
}

impl Default for Session {
    fn default() -> Self {
        let event = |at: f64, kind: &str, body| EventRow {
            at: secs(at),
            kind: kind.into(),
            body,
        };
        Self {
            facts: facts(Names::default()),
            evidence: evidence(Device::default(), Names::default()),
            events: vec![
                event(0.25, "step-began", serde_json::json!({ "index": 0 })),
                event(12.5, "mark", serde_json::Value::Null),
                event(13.0, "mark", serde_json::json!({ "words": "a,\"b\"\n" })),
            ],
            origin: Origin {
                name: "sweep.prony".into(),
                format: 1,
                opening_sha256: Some("0a".repeat(32)),
                head_sha256: Some("1b".repeat(32)),
                is_import: false,
            },
        }
    }
}

impl Session {
    pub fn recorded(&self) -> Recorded<'_> {
        Recorded {
            facts: &self.facts,
            evidence: &self.evidence,
            events: &self.events,
            origin: &self.origin,
        }
    }
}

/// The findings of the session.
pub fn findings(device: Device, names: Names<'_>) -> Findings {
    assess(&evidence(device, names), &Settings::default())
}

/// The findings of a session in which nothing was received.
pub fn nothing() -> Findings {
    assess(&Evidence::default(), &Settings::default())
}

/// What the session says about itself.
pub fn facts(names: Names<'_>) -> SessionFacts {
    let source = |id, name: &str, role: &str, place: &str, serial: &str| SourceInfo {
        id: SourceId(id),
        name: name.into(),
        role: role.into(),
        place: place.into(),
        identity: Identity {
            maker: Some("Workshop".into()),
            model: Some(format!("{name}, model 1")),
            serial: Some(serial.into()),
            firmware: Some("1.4.2".into()),
            hardware: None,
            software: None,
        },
        calibration: if role == "reference" {
            serde_json::json!({ "slope": { "date": "2025-03-02", "u_pct": 0.25 }, "zero": "before each ride" })
        } else {
            serde_json::Value::Null
        },
        simulated: false,
    };
    SessionFacts {
        about: About {
            session: "7f3a9c0d51e24b88".into(),
            program: "prony 0.1.0".into(),
            started: chrono_date(),
            script: Some(Document::new(
                "level-sweep",
                "(title: \"Level sweep\", steps: [])",
            )),
            claims: Some(Document::new("claims", "(claims: [])")),
            decision_rule: Some(Document::new("rule", "(shown_at: 0.95)")),
            bike: Some("steel road bike, 50/34, 11–28, chain cleaned and waxed, 50 × 17".into()),
            environment: Some("workshop, 21.5 °C, fan on, trainer on a mat".into()),
            rider: Some("rider 1".into()),
            rider_mass_kg: Some(72.5),
            note: None,
            rig: None,
        },
        sources: vec![
            source(1, names.device, "under test", "hub", "K-00172"),
            source(2, names.reference, "reference", "pedals", "A-5531"),
            source(3, names.second, "second reference", "crank", "B-0042"),
        ],
        sealed: Some("sealed".into()),
        seal_sha256: None,
    }
}

/// A date without a dependency on the library of dates: by way of the session's own reader.
fn chrono_date<T: serde::de::DeserializeOwned>() -> Option<T> {
    serde_json::from_value(serde_json::json!("2025-06-14T09:30:00+02:00")).ok()
}
