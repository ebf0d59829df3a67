//! Sessions ridden inside the test on simulated benches that differ in one known thing, with the
//! rig's hidden truth beside what was found.

use analysis::evidence::Evidence;
use analysis::findings::Findings;
use analysis::outcome::Estimate;
use analysis::settings::Settings;
use analysis::stats::normal::student_t_quantile;
use bench::Bench;
use crossbeam_channel::bounded;
use prony::clock::{Pace, SessionClock};
use prony::engine::Engine;
use prony::simulated::Simulated;
use prony::standing_in::StandIn;
use protocol::Script;
use rig::spec::{InstrumentSpec, KindSpec, TrainerSpec};
use rig::{Rig, RigFile};
use units::{Series, SourceId, Span, Timestamp};

/// A ridden session.
pub struct Ride {
    /// What was found.
    pub findings: Findings,
    /// What was recorded.
    pub evidence: Evidence,
    /// The rig, which knows the truth.
    pub rig: Rig,
    /// The instrument under test.
    pub under_test: SourceId,
    /// The primary reference.
    pub reference: SourceId,
}

/// The honest rig as a file to change.
///
/// # Panics
/// If the built-in rig does not load.
pub fn honest() -> RigFile {
    built_in("honest")
}

/// A built-in rig as a file to change.
///
/// # Panics
/// If there is none of this name.
pub fn built_in(name: &str) -> RigFile {
    let text = rig::built_in_text(name).expect("a built-in rig");
    RigFile::parse(text, name).expect("it loads")
}

/// A bench without any systematic fault: every scale is right, nothing is lost between crank and
/// hub, nobody stands up. Noise, delays and clocks are those of the honest rig.
pub fn clean() -> RigFile {
    let mut file = honest();
    file.drivetrain.constant_w = 0.0;
    file.drivetrain.fraction_pct = 0.0;
    file.rider.stands_per_hour = 0.0;
    for instrument in &mut file.instruments {
        instrument.signal.gain_pct = 0.0;
    }
    file
}

/// The device under test of a rig file.
pub fn device(file: &mut RigFile) -> &mut InstrumentSpec {
    &mut file.instruments[0]
}

/// What is special to its trainer.
///
/// # Panics
/// If the device is no trainer.
pub fn trainer(file: &mut RigFile) -> &mut TrainerSpec {
    match &mut file.instruments[0].kind {
        KindSpec::Trainer(trainer) => trainer,
        other => panic!("the first instrument is no trainer but {other:?}"),
    }
}

/// Rides a script on a rig, on the virtual clock and without a file. The settings are the usual
/// ones; of a bench without a drivetrain's loss they know that there is none.
///
/// # Panics
/// If script or rig do not load, or the script is not ridden to its end.
pub fn ride(script: &str, file: RigFile, seed: u64) -> Ride {
    let mut settings = Settings::default();
    if file.drivetrain.constant_w == 0.0 && file.drivetrain.fraction_pct == 0.0 {
        // Where nothing is lost, nothing is assumed to be.
        settings.drivetrain.efficiency = 1.0;
        settings.drivetrain.constant_loss_w = 0.0;
        settings.drivetrain.proportional_loss = 0.0;
    }
    ride_with(script, file, seed, settings)
}

/// The same with settings of one's own.
///
/// # Panics
/// As [`ride`].
pub fn ride_with(script: &str, file: RigFile, seed: u64, settings: Settings) -> Ride {
    let script = Script::from_ron("script of the test", script).expect("the script loads");
    let plan = file.check("rig of the test").expect("the rig can be");
    let machine = Rig::new(plan.clone(), seed);
    let setup = prony::setup::on_rig(&script, &plan, "", &machine, settings).expect("a set-up");
    let (_ask, commands) = bounded(1);
    let engine = Engine::new(
        Simulated::new(machine),
        Bench::new(setup.plan),
        None,
        SessionClock::start(Pace::Virtual),
        commands,
    );
    let (bench, simulated) = engine
        .run(&mut StandIn::default())
        .expect("without a file nothing can fail");
    assert_eq!(bench.end_reason(), Some("complete"));
    let rig = simulated.into_rig();
    let of_role = |role: &str| {
        let sources = rig.sources();
        let found = sources.iter().find(|source| source.role == role);
        found.expect("the rig has this role").id
    };
    Ride {
        findings: bench.findings(),
        evidence: bench.evidence(bench.now()),
        under_test: of_role("under-test"),
        reference: of_role("reference"),
        rig,
    }
}

impl Ride {
    /// Mean of a true quantity over a span of the session's seconds.
    pub fn true_mean(series: &Series, from_s: f64, to_s: f64) -> f64 {
        series
            .mean_over(
                Timestamp::from_secs_f64(from_s),
                Timestamp::from_secs_f64(to_s),
            )
            .expect("the truth covers the ride")
            .value
    }

    /// Moments of all changes of the target power by this much, s.
    pub fn target_changes(&self, by_w: f64) -> Vec<f64> {
        let mut before = None;
        let mut found = Vec::new();
        for command in &self.evidence.commands {
            if let analysis::evidence::Load::PowerW(watts) = command.load {
                if before.is_some_and(|before: f64| (watts - before - by_w).abs() < 1.0) {
                    found.push(command.at.as_secs_f64());
                }
                before = Some(watts);
            }
        }
        found
    }

    /// The mean course of a true quantity around moments, each averaged over the `window_s` that
    /// end at it, every 0.2 s from 5 s before to `to_s` after.
    pub fn course(series: &Series, moments: &[f64], window_s: f64, to_s: f64) -> Vec<[f64; 2]> {
        let count = ((to_s + 5.0) / 0.2) as usize;
        (0..count)
            .map(|i| {
                let t = -5.0 + 0.2 * i as f64;
                let sum: f64 = moments
                    .iter()
                    .map(|at| Self::true_mean(series, at + t - window_s, at + t))
                    .sum();
                [t, sum / moments.len() as f64]
            })
            .collect()
    }
}

/// The first moment at which a course crosses a value for the first time after time zero.
pub fn crossing(course: &[[f64; 2]], value: f64) -> Option<f64> {
    course.windows(2).find_map(|pair| {
        let ([t, a], [u, b]) = (pair[0], pair[1]);
        let between = (a < value && b >= value) || (a > value && b <= value);
        (t >= 0.0 && between).then(|| t + (u - t) * (value - a) / (b - a))
    })
}

/// The 95 % interval of an estimate (Student's t).
pub fn interval(estimate: &Estimate) -> [f64; 2] {
    let k = student_t_quantile(0.975, estimate.dof);
    [
        estimate.value - k * estimate.u,
        estimate.value + k * estimate.u,
    ]
}

/// Demands that a 95 % interval holds the truth.
///
/// # Panics
/// If it does not.
pub fn holds(what: &str, interval: [f64; 2], truth: f64) {
    assert!(
        interval[0] <= truth && truth <= interval[1],
        "{what}: the truth {truth:.4} is not in the interval {:.4} to {:.4}",
        interval[0],
        interval[1]
    );
}

/// A span as it is used by the rig's faults, s.
pub fn seconds(span: Span) -> f64 {
    span.as_secs_f64()
}

/// What a rider's power is off its level in one second, ±8 W: no two seconds are alike, and every
/// instrument on the bicycle sees the same. Recordings without such details cannot be told from two
/// rides of one script.
pub fn unsteadiness_w(second: u32) -> f64 {
    // The mixing of SplitMix64 (Steele, Lea and Flood, OOPSLA 2014): neighbours are independent.
    let mut mixed = u64::from(second).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((mixed ^ (mixed >> 31)) >> 40) as f64 / f64::from(1_u32 << 20) - 8.0
}
