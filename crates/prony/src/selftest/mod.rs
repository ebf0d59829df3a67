//! Sessions whose truth is known: what was injected must be found within its stated uncertainty.
//!
//! The rig knows what it did; the findings must say so, and claim nothing where there is nothing.
//! Every session is ridden through the same engine, bench and analysis as a real one, on the
//! virtual clock and without a file.

mod checks;
mod ledger;
pub mod rates;

pub use ledger::{Check, Ledger};

use crate::clock::{Pace, SessionClock};
use crate::engine::Engine;
use crate::setup;
use crate::simulated::Simulated;
use crate::standing_in::StandIn;
use analysis::findings::Findings;
use analysis::settings::Settings;
use anyhow::Result;
use bench::Bench;
use crossbeam_channel::bounded;
use protocol::Script;
use rig::Rig;
use units::SourceId;

/// The script that self-tests ride: levels up and down, with anchors.
const SCRIPT: &str = "level-sweep";

/// The rigs that are ridden in turn: a trainer with faults, and one without.
const RIGS: [&str; 2] = ["workshop", "honest"];

/// One rehearsed session with its hidden truth.
pub struct Rehearsed {
    /// Which rig.
    pub rig_name: &'static str,
    /// Which seed.
    pub seed: u64,
    /// The rig, which knows the truth.
    pub rig: Rig,
    /// Which of its instruments is under test.
    pub under_test: SourceId,
    /// Which of its instruments is the primary reference.
    pub reference: SourceId,
    /// What was found.
    pub findings: Findings,
}

/// Rehearses `sessions` sessions and holds the findings against the truth; `progress` is told how
/// many are done.
///
/// # Errors
/// If a session cannot be set up; that is a fault of the program, not of its findings.
pub fn selftest(sessions: u32, mut progress: impl FnMut(u32)) -> Result<Ledger> {
    let script = protocol::ready_script(SCRIPT)?.load()?;
    let mut ledger = Ledger::default();
    for session in 0..sessions {
        let rig_name = RIGS[session as usize % RIGS.len()];
        let rehearsed = rehearse(&script, rig_name, u64::from(session) + 1)?;
        checks::check(&rehearsed, &mut ledger);
        progress(session + 1);
    }
    Ok(ledger)
}

fn rehearse(script: &Script, rig_name: &'static str, seed: u64) -> Result<Rehearsed> {
    let plan = rig::built_in(rig_name)?;
    let rig = Rig::new(plan.clone(), seed);
    let setup = setup::on_rig(script, &plan, "", &rig, Settings::default())?;
    let (_ask, commands) = bounded(1);
    let engine = Engine::new(
        Simulated::new(rig),
        Bench::new(setup.plan),
        None,
        SessionClock::start(Pace::Virtual),
        commands,
    );
    let (bench, simulated) = engine.run(&mut StandIn::default())?;
    let rig = simulated.into_rig();
    let by_role = |role: &str| {
        rig.sources()
            .iter()
            .find(|source| source.role == role)
            .map_or(SourceId(0), |s| s.id)
    };
    let (under_test, reference) = (by_role("under-test"), by_role("reference"));
    let findings = bench.findings();
    Ok(Rehearsed {
        rig_name,
        seed,
        under_test,
        reference,
        rig,
        findings,
    })
}
