//! How often a verdict is wrong: thousands of sessions with a known true error, judged by the same
//! assessment as a real one.
//!
//! The sessions are made at the level of the instruments' words, not ridden on the rig: a rider who
//! varies, two instruments with noise that remembers, and, drawn anew for every session, each
//! quantity that the budget calls unknown, from the distribution that the budget states. What is
//! tested is the chain from recorded seconds to the verdict; the rig's bytes, links and brakes are
//! the other part of the self-test.

use analysis::assess::assess;
use analysis::evidence::{Arrival, Command, Evidence, Feeds, Load, Place, Role, StepSpan, Stream};
use analysis::findings::Treatment;
use analysis::settings::{Settings, SlopeKnowledge};
use analysis::stats::intervals::share_interval;
use analysis::verdict::Verdict;
use serde_json::{Value, json};
use std::sync::atomic::{AtomicU32, AtomicUsize, Ordering};
use units::{Span, Timestamp};

/// Levels of every session, W, ridden up and then down.
const LEVELS_W: [f64; 5] = [100.0, 150.0, 200.0, 250.0, 300.0];
/// Length of a step and of its settling, s.
const STEP_S: i64 = 150;
const SETTLE_S: i64 = 30;
/// Cadence throughout, rpm.
const CADENCE_RPM: f64 = 90.0;
/// Largest share of false statements, and the shares between which a 95 % interval may cover.
const LARGEST_FALSE: f64 = 0.05;
const COVERS: [f64; 2] = [0.93, 0.97];

/// What is true of the device in a condition.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Truth {
    /// The same error at every level, in tolerances.
    Everywhere(f64),
    /// This error at the lowest level, in tolerances, and none elsewhere.
    AtTheLowest(f64),
}

impl Truth {
    /// True error at a level, %.
    fn error_pct(self, level: usize, tolerance_pct: f64) -> f64 {
        match self {
            Self::Everywhere(share) => share * tolerance_pct,
            Self::AtTheLowest(share) if level == 0 => share * tolerance_pct,
            Self::AtTheLowest(_) => 0.0,
        }
    }

    /// The largest error of any level, in tolerances.
    fn largest(self) -> f64 {
        match self {
            Self::Everywhere(share) | Self::AtTheLowest(share) => share.abs(),
        }
    }
}

/// The conditions, from right everywhere to far beyond; those at the limit are the hard ones.
const CONDITIONS: [(&str, Truth); 6] = [
    ("right everywhere", Truth::Everywhere(0.0)),
    ("at the upper limit everywhere", Truth::Everywhere(1.0)),
    ("at the lower limit everywhere", Truth::Everywhere(-1.0)),
    ("at the upper limit at one level", Truth::AtTheLowest(1.0)),
    ("half as far again everywhere", Truth::Everywhere(1.5)),
    ("twice the limit everywhere", Truth::Everywhere(2.0)),
];

/// What is known of the reference.
const BENCHES: [&str; 2] = ["published ±1 %", "calibrated, u 0.25 %"];

/// How often something was said, of how many.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Count {
    /// How often.
    pub hits: u64,
    /// Of how many.
    pub of: u64,
}

impl Count {
    fn note(&mut self, hit: bool) {
        self.hits += u64::from(hit);
        self.of += 1;
    }

    /// The share, 0 to 1; zero of nothing.
    pub fn share(self) -> f64 {
        if self.of == 0 {
            0.0
        } else {
            self.hits as f64 / self.of as f64
        }
    }

    /// Exact 95 % interval of the share (binomial).
    pub fn interval(self) -> [f64; 2] {
        share_interval(self.hits, self.of)
    }

    fn document(self) -> Value {
        json!({ "hits": self.hits, "of": self.of, "share": self.share(), "interval": self.interval() })
    }
}

/// One condition on one bench.
#[derive(Clone, Debug, PartialEq)]
pub struct Rate {
    /// What is true, in words.
    pub condition: &'static str,
    /// What is known of the reference, in words.
    pub bench: &'static str,
    /// The largest true error, in tolerances.
    pub error: f64,
    /// Sessions in which the device was shown within, as a whole.
    pub shown_within: Count,
    /// Sessions in which it was shown beyond, as a whole.
    pub shown_beyond: Count,
    /// Cells whose true error lies in their 95 % interval.
    pub covered: Count,
}

impl Rate {
    /// The false statements: *within* of a device at or beyond the limit, *beyond* of one at or
    /// within it. At the limit either is false.
    pub fn false_statements(&self) -> Vec<(&'static str, Count)> {
        let mut found = Vec::new();
        if self.error >= 1.0 {
            found.push(("shown within", self.shown_within));
        }
        if self.error <= 1.0 {
            found.push(("shown beyond", self.shown_beyond));
        }
        found
    }

    /// Whether false statements are as rare, and intervals as good, as is stated; allowing for
    /// chance by the ends of the intervals.
    pub fn passes(&self) -> bool {
        let rare = |count: Count| count.interval()[0] <= LARGEST_FALSE;
        let [low, high] = self.covered_interval();
        self.false_statements()
            .iter()
            .all(|(_, count)| rare(*count))
            && high >= COVERS[0]
            && low <= COVERS[1]
    }

    /// Interval of the coverage. Cells of a session share most of their error, so that the sessions
    /// count and not the cells.
    fn covered_interval(&self) -> [f64; 2] {
        let sessions = self.shown_within.of;
        share_interval(
            (self.covered.share() * sessions as f64).round() as u64,
            sessions,
        )
    }
}

/// All conditions on both benches with `sessions` sessions each, on all processors; `progress` is
/// told how many sessions are done. What comes out depends on the number of sessions alone.
pub fn rates(sessions: u32, progress: impl Fn(u32) + Sync) -> Vec<Rate> {
    let jobs: Vec<(&str, &str, Truth)> = BENCHES
        .into_iter()
        .flat_map(|bench| CONDITIONS.map(|(condition, truth)| (bench, condition, truth)))
        .collect();
    let (next, done) = (AtomicUsize::new(0), AtomicU32::new(0));
    let work = || {
        let mut found = Vec::new();
        loop {
            let job = next.fetch_add(1, Ordering::Relaxed);
            let Some(&(bench, condition, truth)) = jobs.get(job) else {
                return found;
            };
            let settings = settings(bench);
            let mut rate = Rate {
                condition,
                bench,
                error: truth.largest(),
                shown_within: Count::default(),
                shown_beyond: Count::default(),
                covered: Count::default(),
            };
            for session in 0..sessions {
                let seed = (u64::from(session) << 8) + job as u64;
                judge(&settings, truth, &mut Dice::new(seed), &mut rate);
                progress(done.fetch_add(1, Ordering::Relaxed) + 1);
            }
            found.push((job, rate));
        }
    };
    let mut found: Vec<(usize, Rate)> = std::thread::scope(|scope| {
        let workers: Vec<_> = (0..std::thread::available_parallelism().map_or(1, usize::from))
            .map(|_| scope.spawn(work))
            .collect();
        workers
            .into_iter()
            .flat_map(|worker| match worker.join() {
                Ok(found) => found,
                Err(panic) => std::panic::resume_unwind(panic),
            })
            .collect()
    });
    found.sort_by_key(|(job, _)| *job);
    found.into_iter().map(|(_, rate)| rate).collect()
}

/// How many sessions [`rates`] makes of so many per condition.
pub fn sessions_in_all(sessions: u32) -> u32 {
    sessions * (CONDITIONS.len() * BENCHES.len()) as u32
}

/// The document of the rates.
pub fn document(rates: &[Rate]) -> Value {
    json!({
        "passed": rates.iter().all(Rate::passes),
        "conditions": rates.iter().map(|rate| json!({
            "condition": rate.condition,
            "bench": rate.bench,
            "largest_error_in_tolerances": rate.error,
            "shown_within": rate.shown_within.document(),
            "shown_beyond": rate.shown_beyond.document(),
            "cells_covered": rate.covered.document(),
            "passed": rate.passes(),
        })).collect::<Vec<_>>(),
    })
}

fn settings(bench: &str) -> Settings {
    let mut settings = Settings::default();
    if bench == BENCHES[1] {
        settings.reference.slope = SlopeKnowledge::Calibrated {
            u_pct: 0.25,
            dof: f64::MAX,
            source: "static check of the simulated reference".to_owned(),
        };
    }
    settings
}

/// Makes one session, judges it and notes what was said.
fn judge(settings: &Settings, truth: Truth, dice: &mut Dice, rate: &mut Rate) {
    let findings = assess(&session(settings, truth, dice), settings);
    rate.shown_within
        .note(findings.overall.verdict == Verdict::ShownWithin);
    rate.shown_beyond
        .note(findings.overall.verdict == Verdict::ShownBeyond);
    let tolerance = settings.power_claim().tolerance;
    for cell in &findings.cells {
        let level = LEVELS_W
            .iter()
            .position(|it| (it - cell.level_w).abs() < 1.0);
        let (Some(level), Treatment::HubReferred) = (level, cell.treatment) else {
            continue;
        };
        let tolerance_pct = tolerance.half_width_pct(cell.reference_w).unwrap_or(0.0);
        let error = truth.error_pct(level, tolerance_pct);
        rate.covered
            .note((cell.bias_pct - error).abs() <= cell.expanded_pct);
    }
}

/// One session: both instruments once a second, every unknown drawn from what the budget states.
fn session(settings: &Settings, truth: Truth, dice: &mut Dice) -> Evidence {
    let known = &settings.reference;
    let slope_pct = match &known.slope {
        SlopeKnowledge::Claimed(half_width) => dice.within(half_width.value),
        SlopeKnowledge::Calibrated { u_pct, .. } => u_pct * dice.normal(),
    };
    let scale = 1.0
        + (slope_pct
            + dice.within(known.temperature_pct.value)
            + dice.within(known.uniform_cadence_pct.value))
            / 100.0;
    let omega = CADENCE_RPM * std::f64::consts::TAU / 60.0;
    let zero_w = dice.within(known.zero_change_nm.value) * omega;
    let drivetrain = &settings.drivetrain;
    let efficiency_off = dice.within(drivetrain.efficiency_half_width.value);
    let constant_off_w = dice.within(drivetrain.constant_half_width_w.value);
    let hub_w = |crank_w: f64| {
        let constant_w = if drivetrain.is_low_power(crank_w) {
            constant_off_w
        } else {
            0.0
        };
        crank_w * (drivetrain.share_at_hub(crank_w) + efficiency_off) - constant_w
    };
    let tolerance = settings.power_claim().tolerance;

    let mut device = Stream::new("device", Role::UnderTest, Place::Hub);
    let mut reference = Stream::new("reference", Role::PrimaryReference, Place::Crank);
    let (mut steps, mut commands) = (Vec::new(), Vec::new());
    let (mut rider, mut felt, mut shown) = (0.0, 0.0, 0.0);
    let order = (0..LEVELS_W.len()).chain((0..LEVELS_W.len()).rev());
    for (index, level) in order.enumerate() {
        let target_w = LEVELS_W[level];
        let from = index as i64 * STEP_S;
        let repeat = 1.0 + dice.within(known.repeat_pct.value) / 100.0;
        let tolerance_pct = tolerance.half_width_pct(target_w).unwrap_or(0.0);
        let gain = (1.0 + truth.error_pct(level, tolerance_pct) / 100.0) * repeat;
        for second in from..from + STEP_S {
            // The rider varies over some seconds; so does the noise of either instrument.
            rider = 0.8 * rider + 0.6 * 0.03 * dice.normal();
            felt = 0.4 * felt + 0.917 * 0.012 * dice.normal();
            shown = 0.4 * shown + 0.917 * 0.008 * dice.normal();
            let crank_w = target_w * (1.0 + rider);
            let reference_w = (crank_w * scale + zero_w) * (1.0 + felt);
            let device_w = hub_w(crank_w) * gain * (1.0 + shown);
            push(&mut reference, second, reference_w, CADENCE_RPM);
            push(&mut device, second, device_w, CADENCE_RPM);
        }
        steps.push(StepSpan {
            index,
            attempt: 1,
            title: format!("{target_w} W"),
            feeds: Feeds::Steady,
            from: Timestamp::from_secs(from),
            to: Timestamp::from_secs(from + STEP_S),
            settle: Span::from_secs(SETTLE_S),
            target_w: Some(target_w),
            cadence_rpm: Some(CADENCE_RPM),
            gear: None,
        });
        commands.push(Command {
            at: Timestamp::from_secs(from),
            confirmed_at: None,
            load: Load::PowerW(target_w),
        });
    }
    Evidence {
        streams: vec![device, reference],
        end: Timestamp::from_secs(steps.len() as i64 * STEP_S),
        steps,
        commands,
        invalid: Vec::new(),
    }
}

fn push(stream: &mut Stream, second: i64, power_w: f64, cadence_rpm: f64) {
    let at = Timestamp::from_secs(second);
    // Seconds follow one another and noise is finite, so nothing is refused.
    let kept = stream.power_w.push(at, power_w.round()).is_ok()
        && stream.cadence_rpm.push(at, cadence_rpm).is_ok();
    debug_assert!(kept);
    stream.arrivals.push(Arrival { at, epoch: 0 });
}

/// Repeatable chance: SplitMix64 (Steele, Lea and Flood 2014) and Box and Muller's transformation.
struct Dice(u64);

impl Dice {
    fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0xA24B_AED4_963E_E407))
    }

    /// Between 0 and 1.
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Rectangular between the half-width below and above zero.
    fn within(&mut self, half_width: f64) -> f64 {
        half_width * (2.0 * self.uniform() - 1.0)
    }

    /// Standard normal.
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.uniform()).cos()
    }
}
