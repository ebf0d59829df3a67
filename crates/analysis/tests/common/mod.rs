//! A seeded noise and a simple ride for the tests of this crate: truth that is known because it
//! was made here, without the rig.

#![allow(dead_code, missing_docs, reason = "each test binary uses its own part")]

use analysis::evidence::{Arrival, Evidence, Feeds, Place, Role, StepSpan, Stream};
use units::{Span, Timestamp};

/// Repeatable noise: a linear congruential generator (Knuth's MMIX constants) and Box–Muller.
pub struct Noise(u64);

impl Noise {
    pub fn new(seed: u64) -> Self {
        let mut noise = Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5DEE_CE66);
        for _ in 0..10 {
            noise.uniform();
        }
        noise
    }

    /// Between 0 and 1.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        let mixed = (self.0 ^ (self.0 >> 33)).wrapping_mul(0xFF51_AFD7_ED55_8CCD);
        ((mixed ^ (mixed >> 33)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Standard normal.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().max(1e-300).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}

/// What really happened, every 0.05 s.
pub struct Ride {
    pub power_w: Vec<f64>,
    pub cadence_rpm: Vec<f64>,
}

pub const TICK_S: f64 = 0.05;

/// Levels of two to four minutes with a human's variation in power and cadence.
pub fn ride(length_s: f64, noise: &mut Noise) -> Ride {
    let levels = [120.0, 180.0, 240.0, 150.0, 210.0, 100.0, 260.0, 200.0];
    let ticks = (length_s / TICK_S) as usize;
    let (mut power_w, mut cadence_rpm) = (Vec::new(), Vec::new());
    let (mut held, mut wander, mut spin) = (120.0, 0.0, 0.0);
    for tick in 0..ticks {
        let level = levels[(tick as f64 * TICK_S / 150.0) as usize % levels.len()];
        held += (level - held) * TICK_S / 1.5;
        // Variation over a few seconds, as people have.
        wander += -wander * TICK_S / 4.0 + 0.03 * (2.0 * TICK_S / 4.0_f64).sqrt() * noise.normal();
        spin += -spin * TICK_S / 6.0 + 0.015 * (2.0 * TICK_S / 6.0_f64).sqrt() * noise.normal();
        power_w.push(held * (1.0 + wander));
        cadence_rpm.push(90.0 * (1.0 + spin));
    }
    Ride {
        power_w,
        cadence_rpm,
    }
}

impl Ride {
    fn at(values: &[f64], t: f64) -> Option<f64> {
        let place = t / TICK_S;
        (place >= 0.0)
            .then(|| values.get(place as usize).copied())
            .flatten()
    }

    /// What an instrument reports: late by `lag_s + drift · t`, with gain and relative noise.
    #[expect(
        clippy::too_many_arguments,
        reason = "a test's recipe reads best in one line"
    )]
    pub fn record(
        &self,
        mut stream: Stream,
        rate_hz: f64,
        lag_s: f64,
        drift: f64,
        gain: f64,
        relative_noise: f64,
        noise: &mut Noise,
    ) -> Stream {
        let length_s = self.power_w.len() as f64 * TICK_S;
        let count = (length_s * rate_hz) as usize;
        for i in 0..count {
            let true_s = i as f64 / rate_hz;
            let stamped = (true_s + lag_s) / (1.0 - drift);
            let at = Timestamp::from_secs_f64(stamped);
            let (Some(power_w), Some(rpm)) = (
                Self::at(&self.power_w, true_s),
                Self::at(&self.cadence_rpm, true_s),
            ) else {
                continue;
            };
            let shown = power_w * gain * (1.0 + relative_noise * noise.normal());
            stream.power_w.push(at, shown.round()).unwrap();
            stream
                .cadence_rpm
                .push(at, rpm + 0.3 * noise.normal())
                .unwrap();
            stream.arrivals.push(Arrival { at, epoch: 1 });
        }
        stream
    }
}

pub fn stream(name: &str, role: Role, place: Place) -> Stream {
    Stream::new(name, role, place)
}

pub fn evidence(streams: Vec<Stream>, end_s: f64) -> Evidence {
    Evidence {
        streams,
        end: Timestamp::from_secs_f64(end_s),
        ..Evidence::default()
    }
}

/// A hold at a target, 30 s of settling.
pub fn hold(visit: usize, from_s: f64, length_s: f64, target_w: f64) -> StepSpan {
    StepSpan {
        index: visit,
        attempt: 1,
        title: format!("{target_w} W"),
        feeds: Feeds::Steady,
        from: Timestamp::from_secs_f64(from_s),
        to: Timestamp::from_secs_f64(from_s + length_s),
        settle: Span::from_secs(30),
        target_w: Some(target_w),
        cadence_rpm: Some(90.0),
        gear: None,
    }
}

/// Holds in a row, device and reference once a second on one clock. The reference shows the truth
/// with the rider's variation; the device shows gain · truth + offset with autocorrelated noise of
/// its own, `sd_w` and `phi` per second.
pub struct Holds {
    pub levels_w: Vec<f64>,
    pub length_s: f64,
    pub gain: f64,
    pub offset_w: f64,
    pub sd_w: f64,
    pub phi: f64,
}

impl Holds {
    pub fn evidence(&self, noise: &mut Noise) -> Evidence {
        let mut device = stream("trainer", Role::UnderTest, Place::Crank);
        let mut reference = stream("pedals", Role::PrimaryReference, Place::Pedals);
        let (mut own, mut wander) = (0.0, 0.0);
        let innovation = (1.0 - self.phi * self.phi).sqrt();
        let mut steps = Vec::new();
        let mut second = 0;
        for (visit, level_w) in self.levels_w.iter().enumerate() {
            steps.push(hold(visit, f64::from(second), self.length_s, *level_w));
            for _ in 0..self.length_s as i32 {
                let at = Timestamp::from_secs(i64::from(second));
                wander = 0.8 * wander + 0.012 * noise.normal();
                own = self.phi * own + innovation * noise.normal();
                let truth_w = level_w * (1.0 + wander);
                let shown_w = self.gain * truth_w + self.offset_w + self.sd_w * own;
                reference.power_w.push(at, truth_w).unwrap();
                device.power_w.push(at, shown_w).unwrap();
                let rpm = 90.0 + 0.5 * noise.normal();
                reference.cadence_rpm.push(at, rpm).unwrap();
                device.arrivals.push(Arrival { at, epoch: 1 });
                reference.arrivals.push(Arrival { at, epoch: 1 });
                second += 1;
            }
        }
        let mut evidence = evidence(vec![device, reference], f64::from(second));
        evidence.steps = steps;
        evidence
    }
}
