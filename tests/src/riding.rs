//! Sessions ridden inside the test itself, on the virtual clock, through the same engine as the
//! program's.

use bench::Bench;
use crossbeam_channel::bounded;
use prony::clock::{Pace, SessionClock};
use prony::engine::{Audience, Engine};
use prony::instruments::{Instruments, News};
use prony::recording::Recording;
use prony::setup::Setup;
use prony::simulated::Simulated;
use protocol::Script;
use rig::{Rig, RigPlan};
use std::path::Path;
use units::{Timestamp, Write};

/// The simulated bench, with every write noted on its way.
pub struct Noting {
    /// The bench.
    pub inner: Simulated,
    /// Every write with its moment.
    pub writes: Vec<(Timestamp, Write)>,
}

impl Instruments for Noting {
    fn due(&self) -> Option<Timestamp> {
        self.inner.due()
    }

    fn poll(&mut self, now: Timestamp) -> Option<News> {
        self.inner.poll(now)
    }

    fn write(&mut self, now: Timestamp, write: Write) {
        self.writes.push((now, write.clone()));
        self.inner.write(now, write);
    }

    fn cue(&mut self, now: Timestamp, cue: &protocol::Cue) {
        self.inner.cue(now, cue);
    }
}

/// Rides a script on a rig without a file.
///
/// # Panics
/// If the session cannot be set up or ridden.
pub fn ride(
    script: &Script,
    rig: &RigPlan,
    seed: u64,
    audience: &mut dyn Audience,
) -> (Bench, Noting) {
    let machine = Rig::new(rig.clone(), seed);
    let setup = set_up(script, rig, "", &machine);
    let instruments = Noting {
        inner: Simulated::new(machine),
        writes: Vec::new(),
    };
    let (_ask, commands) = bounded(1);
    let clock = SessionClock::start(Pace::Virtual);
    Engine::new(instruments, Bench::new(setup.plan), None, clock, commands)
        .run(audience)
        .expect("a rehearsal without a file cannot fail")
}

/// Rides a script on a rig and records the session; `change` has the last word about the set-up.
///
/// # Panics
/// If the session cannot be set up, ridden or recorded.
pub fn record(
    script: &Script,
    rig: &RigPlan,
    seed: u64,
    file: &Path,
    change: impl FnOnce(Setup) -> Setup,
    audience: &mut dyn Audience,
) {
    let machine = Rig::new(rig.clone(), seed);
    let setup = change(set_up(script, rig, "", &machine));
    record_as(setup, machine, file, Pace::Virtual, audience);
}

/// Records the ride of a session that was set up, on a clock of one's choice; the bench as it is when
/// the ride is over.
///
/// # Panics
/// If the session cannot be ridden or recorded.
pub fn record_as(
    setup: Setup,
    machine: Rig,
    file: &Path,
    pace: Pace,
    audience: &mut dyn Audience,
) -> Bench {
    let recording = Recording::start(file, &setup.about, &setup.sources).expect("a file");
    recording.event(setup.rules_row());
    let (_ask, commands) = bounded(1);
    let engine = Engine::new(
        Simulated::new(machine),
        Bench::new(setup.plan),
        Some(recording),
        SessionClock::start(pace),
        commands,
    );
    engine.run(audience).expect("a rehearsal").0
}

fn set_up(script: &Script, rig: &RigPlan, text: &str, machine: &Rig) -> Setup {
    let settings = analysis::settings::Settings::default();
    prony::setup::on_rig(script, rig, text, machine, settings).expect("a set-up")
}
