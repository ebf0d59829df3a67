//! Synthetic recorders: what the legs did is known, because it was made here, and so is what each
//! recorder's clock said about it. For the tests of placing and for the study of it.
//!
//! *Truth.* A value belongs to the moment whose power it shows: the moment at which it was
//! reported, less the reporter's constant delay and half its smoothing window. Nobody can tell such
//! a delay from a clock that is set differently, so it is part of the lag; and so is the mean by
//! which a recorder shortens its time stamps. What is left, moment by moment, is the error.

#![allow(dead_code, missing_docs, reason = "each user takes its own part")]

use super::common::Noise;
use analysis::align::{Piece, Placement, Recorded, place};
use analysis::outcome::NotTested;
use analysis::settings::AlignSettings;
use units::{Series, Timestamp};

/// Ticks of the legs in a second.
const TICKS: usize = 20;

/// What somebody rides.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Riding {
    /// Levels of one to five minutes between 120 and 320 W.
    Steps,
    /// One level for the whole time, with a rider's small variation.
    Steady,
    /// Easy, with a sprint of ten seconds every few minutes.
    Sprints,
    /// Easy, wandering, with coasting.
    Easy,
}

impl Riding {
    pub const ALL: [Self; 4] = [Self::Steps, Self::Steady, Self::Sprints, Self::Easy];
}

/// The plan that is ridden: effort over time, W, without a person in it.
pub struct Course {
    watts: Vec<f64>,
    riding: Riding,
}

impl Course {
    pub fn new(riding: Riding, seed: u64, seconds: usize) -> Self {
        let mut noise = Noise::new(seed);
        let mut watts = Vec::with_capacity(TICKS * seconds);
        let (mut level, mut until) = (180.0, 0);
        let mut sprinting = false;
        while watts.len() < TICKS * seconds {
            if watts.len() >= until {
                let seconds = match riding {
                    Riding::Steps => {
                        level = 120.0 + 200.0 * noise.uniform();
                        60.0 + 240.0 * noise.uniform()
                    }
                    Riding::Steady => {
                        level = 210.0;
                        1e6
                    }
                    Riding::Sprints => {
                        sprinting = !sprinting;
                        if sprinting {
                            level = 500.0 + 400.0 * noise.uniform();
                            10.0
                        } else {
                            level = 140.0;
                            180.0 + 200.0 * noise.uniform()
                        }
                    }
                    Riding::Easy => {
                        level = 90.0 + 70.0 * noise.uniform();
                        if noise.uniform() < 0.3 {
                            level = 0.0;
                        }
                        if level == 0.0 {
                            5.0 + 15.0 * noise.uniform()
                        } else {
                            20.0 + 100.0 * noise.uniform()
                        }
                    }
                };
                until = watts.len() + (seconds * TICKS as f64) as usize;
            }
            watts.push(level);
        }
        Self { watts, riding }
    }
}

/// What the legs did: the course with a person in it.
pub struct Legs {
    power_w: Vec<f64>,
    cadence_rpm: Vec<f64>,
}

impl Legs {
    /// One person's ride of a course.
    pub fn ride(course: &Course, seed: u64) -> Self {
        let mut noise = Noise::new(seed ^ 0x00C0_FFEE);
        let tick = 1.0 / TICKS as f64;
        // Scatter of a person: a part over ten seconds, a part over two, both in proportion.
        let (slow_sd, quick_sd) = match course.riding {
            Riding::Steady => (0.012, 0.012),
            _ => (0.035, 0.025),
        };
        let reach = 0.8 + 0.6 * noise.uniform();
        let rpm_mean = 82.0 + 12.0 * noise.uniform();
        let (mut held, mut slow, mut quick, mut spin) = (150.0, 0.0, 0.0, 0.0);
        let (mut power_w, mut cadence_rpm) = (Vec::new(), Vec::new());
        for &level in &course.watts {
            let wander = |state: &mut f64, tau_s: f64, normal: f64| {
                *state += -*state * tick / tau_s + (2.0 * tick / tau_s).sqrt() * normal;
            };
            wander(&mut slow, 10.0, noise.normal());
            wander(&mut quick, 2.0, noise.normal());
            wander(&mut spin, 8.0, noise.normal());
            // Nobody's legs change level within an instant.
            held += (level - held) * tick / (1.5 * reach);
            let coasts = level == 0.0 && held < 20.0;
            power_w.push(if coasts {
                0.0
            } else {
                held * (1.0 + slow_sd * slow + quick_sd * quick)
            });
            cadence_rpm.push(if coasts { 0.0 } else { rpm_mean + 1.6 * spin });
        }
        Self {
            power_w,
            cadence_rpm,
        }
    }

    /// What an instrument shows that repeats the target instead of measuring.
    pub fn target(course: &Course) -> Self {
        Self {
            power_w: course.watts.clone(),
            cadence_rpm: vec![0.0; course.watts.len()],
        }
    }

    /// Mean over the last `window_s` before a true moment, or the value there.
    fn mean(values: &[f64], true_s: f64, window_s: f64) -> Option<f64> {
        let count = ((TICKS as f64 * window_s).round() as usize).max(1);
        let sum: f64 = (0..count)
            .map(|back| Self::value(values, true_s - back as f64 / TICKS as f64))
            .sum::<Option<f64>>()?;
        Some(sum / count as f64)
    }

    /// Value at a true moment, on the straight line between ticks.
    fn value(values: &[f64], true_s: f64) -> Option<f64> {
        let place = TICKS as f64 * true_s;
        let tick = usize::try_from(place.floor() as i64).ok()?;
        let part = place - place.floor();
        Some((1.0 - part) * values.get(tick)? + part * values.get(tick + 1)?)
    }
}

/// How a recorder writes its clock down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stamps {
    /// To the nanosecond.
    Exact,
    /// In whole seconds, the rest cut off.
    WholeSeconds,
}

/// A pause of a recorder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pause {
    pub from_s: f64,
    pub to_s: f64,
    /// Whether its clock goes on meanwhile.
    pub is_counted: bool,
}

/// A recorder with an instrument.
#[derive(Clone, Debug, PartialEq)]
pub struct Recorder {
    /// What its clock says at the true moment zero, s.
    pub offset_s: f64,
    pub drift_ppm: f64,
    /// Between records, on its own clock, s.
    pub interval_s: f64,
    /// The first record comes so much after the beginning, s.
    pub phase_s: f64,
    pub stamps: Stamps,
    pub pauses: Vec<Pause>,
    /// Share of records that are lost.
    pub lost: f64,
    /// The instrument reports late by so much, s.
    pub delay_s: f64,
    /// The instrument's value is the mean of so many seconds.
    pub smoothing_s: f64,
    pub gain: f64,
    /// Scatter of the instrument, W.
    pub noise_w: f64,
    pub has_cadence: bool,
}

impl Recorder {
    /// Four times a second on the true clock.
    pub fn reference() -> Self {
        Self {
            offset_s: 0.0,
            drift_ppm: 0.0,
            interval_s: 0.25,
            phase_s: 0.0,
            stamps: Stamps::Exact,
            pauses: Vec::new(),
            lost: 0.0,
            delay_s: 0.0,
            smoothing_s: 0.0,
            gain: 1.0,
            noise_w: 2.5,
            has_cadence: true,
        }
    }

    /// Once a second, set wrongly, with a clock that runs differently.
    pub fn device() -> Self {
        Self {
            offset_s: -417.3,
            drift_ppm: 35.0,
            interval_s: 1.0,
            gain: 1.03,
            ..Self::reference()
        }
    }

    /// What its clock says at a true moment.
    fn clock(&self, true_s: f64) -> f64 {
        let skipped: f64 = self
            .pauses
            .iter()
            .filter(|pause| !pause.is_counted && true_s >= pause.to_s)
            .map(|pause| pause.to_s - pause.from_s)
            .sum();
        self.offset_s + (true_s - skipped) * (1.0 + self.drift_ppm * 1e-6)
    }

    /// Records legs between two true moments.
    pub fn record(&self, legs: &Legs, from_s: f64, to_s: f64, seed: u64) -> Record {
        let mut noise = Noise::new(seed ^ 0xBEEF);
        let mut record = Record {
            power_w: Series::new(),
            cadence_rpm: Series::new(),
            belongs_s: Vec::new(),
            clock_s: Vec::new(),
            cut_s: 0.0,
            hidden: self
                .pauses
                .iter()
                .filter(|pause| !pause.is_counted)
                .map(|pause| (pause.from_s, pause.to_s))
                .collect(),
        };
        let mut cut = Vec::new();
        let mut at = from_s + self.phase_s;
        while at < to_s {
            let paused = (self.pauses.iter()).any(|pause| (pause.from_s..pause.to_s).contains(&at));
            let is_lost = noise.uniform() < self.lost;
            let (own, of) = (self.clock(at), at - self.delay_s);
            let (watts, rpm) = (
                Legs::mean(&legs.power_w, of, self.smoothing_s),
                Legs::mean(&legs.cadence_rpm, of, self.smoothing_s),
            );
            at += self.interval_s / (1.0 + self.drift_ppm * 1e-6);
            let (false, false, Some(watts), Some(rpm)) = (paused, is_lost, watts, rpm) else {
                continue;
            };
            let stamp = match self.stamps {
                Stamps::Exact => own,
                Stamps::WholeSeconds => own.floor(),
            };
            let watts = (self.gain * watts + self.noise_w * noise.normal()).round();
            let at = Timestamp::from_secs_f64(stamp);
            if record.power_w.push(at, watts.max(0.0)).is_err() {
                continue;
            }
            if self.has_cadence {
                let rpm = (rpm + 0.5 * noise.normal()).round().max(0.0);
                record.cadence_rpm.push(at, rpm).expect("as the power");
            }
            cut.push(own - stamp);
            record.clock_s.push(own);
            // The mean is taken over ticks, the newest of which is now.
            let window_s = (self.smoothing_s - 1.0 / TICKS as f64).max(0.0);
            record.belongs_s.push(of - 0.5 * window_s);
        }
        record.cut_s = cut.iter().sum::<f64>() / cut.len().max(1) as f64;
        record
    }
}

/// A recording with its truth.
pub struct Record {
    pub power_w: Series,
    pub cadence_rpm: Series,
    /// The moment to which each sample belongs, s.
    pub belongs_s: Vec<f64>,
    /// What the recorder's clock said at each sample before it was written down, s.
    pub clock_s: Vec<f64>,
    /// What was cut off a stamp on average, s.
    pub cut_s: f64,
    /// Pauses that the recorder's clock did not count.
    pub hidden: Vec<(f64, f64)>,
}

impl Record {
    /// A recording of power whose truth nobody asks for.
    pub fn of(power_w: Series) -> Self {
        Self {
            power_w,
            cadence_rpm: Series::new(),
            belongs_s: Vec::new(),
            clock_s: Vec::new(),
            cut_s: 0.0,
            hidden: Vec::new(),
        }
    }

    pub fn recorded(&self) -> Recorded<'_> {
        Recorded {
            power_w: &self.power_w,
            cadence_rpm: &self.cadence_rpm,
        }
    }

    /// Where the recorder's clock was placed less where it belongs, at every sample that may be
    /// judged by what the placement says of jumps: clock, truth and error, s. How a single stamp was cut is no error of the placing.
    pub fn errors(&self, placement: &Placement, reference: &Self) -> Vec<(Timestamp, f64, f64)> {
        self.clock_s
            .iter()
            .zip(&self.belongs_s)
            .filter(|(clock_s, _)| {
                let own = Timestamp::from_secs_f64(**clock_s);
                let unsure = |piece: &Piece| piece.unsure.0 <= own && own < piece.unsure.1;
                !placement.pieces.iter().any(unsure)
            })
            .map(|(clock_s, belongs_s)| {
                let own = Timestamp::from_secs_f64(clock_s - self.cut_s);
                let placed_s = placement.on_reference_clock(own).as_secs_f64();
                (own, *belongs_s, placed_s + reference.cut_s - belongs_s)
            })
            .collect()
    }
}

/// Places a record on the clock of another.
pub fn placed(reference: &Record, stream: &Record) -> Result<Placement, NotTested> {
    place(
        "device",
        reference.recorded(),
        stream.recorded(),
        &AlignSettings::default(),
    )
}
