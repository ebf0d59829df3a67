//! Sessions made of numbers for the tests of the examinations: a reference and a device that
//! differ in exactly one known way, with seeded noise.

use super::given::{BenchFacts, DropOut, Given, SteadyWindow, StreamFacts};
use super::prepared::Prepared;
use crate::evidence::{Arrival, Command, Evidence, Feeds, Load, Place, Role, StepSpan, Stream};
use units::{Span, Timestamp};

/// SplitMix64, after Steele, Lea and Flood 2014; good enough to shake test data.
pub(crate) struct Noise(u64);

impl Noise {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed)
    }

    pub(crate) fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn normal(&mut self) -> f64 {
        let (a, b) = (1.0 - self.uniform(), self.uniform());
        (-2.0 * a.ln()).sqrt() * (std::f64::consts::TAU * b).cos()
    }
}

/// A session that owns what [`Given`] borrows.
pub(super) struct Session {
    pub(super) evidence: Evidence,
    pub(super) windows: Vec<SteadyWindow>,
    pub(super) dropouts: Vec<DropOut>,
    pub(super) facts: Vec<StreamFacts>,
    pub(super) bench: BenchFacts,
}

impl Session {
    /// No streams at all.
    pub(super) fn empty() -> Self {
        Self {
            evidence: Evidence::default(),
            windows: Vec::new(),
            dropouts: Vec::new(),
            facts: Vec::new(),
            bench: BenchFacts::default(),
        }
    }

    /// Two instruments sampled once a second over `seconds`; `power(t)` gives reference and
    /// device in W, `motion(t)` cadence in rpm and speed in km/h.
    pub(super) fn pair(
        seconds: usize,
        mut power: impl FnMut(f64) -> (f64, f64),
        mut motion: impl FnMut(f64) -> (f64, f64),
    ) -> Self {
        let mut session = Self::empty();
        let mut reference = stream("reference", Role::PrimaryReference, Place::Crank);
        let mut device = stream("device", Role::UnderTest, Place::Hub);
        for second in 0..seconds {
            let t = second as f64;
            let (r, d) = power(t);
            let (cadence, speed) = motion(t);
            push(&mut reference, t, r, cadence, None);
            push(&mut device, t, d, cadence, Some(speed));
        }
        session.evidence.end = at(seconds as f64);
        session.evidence.streams = vec![device, reference];
        session
    }

    /// The usual motion: 90 rpm and 33 km/h.
    pub(super) fn usual_motion(_t: f64) -> (f64, f64) {
        (90.0, 33.0)
    }

    pub(super) fn step(&mut self, feeds: Feeds, from: f64, to: f64, target_w: f64) -> usize {
        let index = self.evidence.steps.len();
        self.evidence.steps.push(StepSpan {
            index,
            attempt: 1,
            title: format!("{target_w} W"),
            feeds,
            from: at(from),
            to: at(to),
            settle: Span::from_secs(0),
            target_w: (target_w > 0.0).then_some(target_w),
            cadence_rpm: None,
            gear: None,
        });
        index
    }

    pub(super) fn command(&mut self, from: f64, load: Load) {
        self.evidence.commands.push(Command {
            at: at(from),
            confirmed_at: Some(at(from + 0.1)),
            load,
        });
    }

    pub(super) fn window(&mut self, window: TestWindow) {
        self.windows.push(SteadyWindow {
            from: at(window.from_s),
            to: at(window.from_s + 30.0),
            step: Some(window.step),
            level_w: window.level_w,
            reference_w: window.reference_w,
            under_test_w: window.under_test_w,
            cadence_rpm: Some(window.cadence_rpm),
            speed_kmh: Some(window.speed_kmh),
            gear: None,
            u_pct: window.u_pct,
        });
    }

    pub(super) fn given(&self) -> Prepared<'_> {
        Prepared::new(Given {
            evidence: &self.evidence,
            received: &self.evidence.streams,
            windows: &self.windows,
            dropouts: &self.dropouts,
            facts: &self.facts,
            bench: self.bench,
        })
    }
}

/// A window in short.
#[derive(Clone, Copy)]
pub(super) struct TestWindow {
    pub(super) from_s: f64,
    pub(super) step: usize,
    pub(super) level_w: f64,
    pub(super) reference_w: f64,
    pub(super) under_test_w: f64,
    pub(super) cadence_rpm: f64,
    pub(super) speed_kmh: f64,
    pub(super) u_pct: f64,
}

pub(super) fn at(secs: f64) -> Timestamp {
    Timestamp::from_secs_f64(secs)
}

pub(super) fn stream(name: &str, role: Role, place: Place) -> Stream {
    Stream::new(name, role, place)
}

pub(super) fn push(stream: &mut Stream, t: f64, power_w: f64, cadence: f64, speed: Option<f64>) {
    stream.power_w.push(at(t), power_w).unwrap();
    stream.cadence_rpm.push(at(t), cadence).unwrap();
    if let Some(speed) = speed {
        stream.speed_kmh.push(at(t), speed).unwrap();
    }
    stream.arrivals.push(Arrival {
        at: at(t),
        epoch: 0,
    });
}
