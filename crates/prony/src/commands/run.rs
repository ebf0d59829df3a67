//! `prony run`: ride a script and record the session.

use super::Failure;
use crate::cli::{RunArguments, say, tell};
use crate::clock::{Pace, SessionClock};
use crate::engine::{Audience, Engine};
use crate::recording::Recording;
use crate::setup::{self, Setup};
use crate::simulated::Simulated;
use crate::{choice, places};
use anyhow::{Context, Result};
use bench::{Awaiting, Bench, Command};
use crossbeam_channel::bounded;
use indicatif::{ProgressBar, ProgressStyle};
use rig::Rig;
use std::path::Path;
use std::sync::Arc;
use units::Timestamp;

/// Commands that may wait; a person types slowly.
const WAITING_COMMANDS: usize = 16;

/// Rides and records, then says where the session is.
pub fn run(arguments: &RunArguments) -> Result<(), Failure> {
    let (rig_plan, rig_text) = choice::rig(&arguments.rig).map_err(Failure::unusable)?;
    let ride = arguments.ride.as_deref().map(choice::ride).transpose().map_err(Failure::unusable)?;
    let script = choice::script(arguments.script.as_deref(), ride.as_deref())
        .map_err(Failure::unusable)?;
    let settings =
        choice::settings(arguments.settings.as_deref()).map_err(Failure::unusable)?;
    let mut rig = Rig::new(rig_plan.clone(), arguments.seed);
    let setup = setup::on_rig(&script, &rig_plan, &rig_text, &rig, settings)?;
    if let Some(ride) = &ride {
        rig.reproduce(Timestamp::ZERO, Arc::clone(ride));
    }
    let out = match &arguments.out {
        Some(out) => out.clone(),
        None => places::new_session_file(script.name(), &arguments.rig)?,
    };
    let pace = if arguments.fast { Pace::Virtual } else { Pace::Times(1.0) };
    let bench = ride_and_record(setup, Simulated::new(rig), pace, &out)?;
    say(format_args!(
        "{}: {} recorded, {}",
        out.display(),
        bench.now(),
        bench.end_reason().unwrap_or("interrupted"),
    ));
    Ok(())
}

/// Rides one session to its end with nobody at the screen.
fn ride_and_record(setup: Setup, simulated: Simulated, pace: Pace, out: &Path) -> Result<Bench> {
    let recording = Recording::start(out, &setup.about, &setup.sources)?;
    recording.event(setup.rules_row());
    let (ask, commands) = bounded(WAITING_COMMANDS);
    let stop = ask.clone();
    ctrlc::set_handler(move || {
        // A full queue already holds a stop.
        let _ = stop.try_send(Command::Stop);
    })
    .context("cannot listen for Ctrl-C")?;
    tell("simulated rider: the cautions are accepted in its name, no person is loaded");
    let bench = Bench::new(setup.plan);
    let mut rehearsal = Rehearsal::new(&bench);
    let engine = Engine::new(simulated, bench, Some(recording), SessionClock::start(pace), commands);
    let bench = engine.run(&mut rehearsal)?;
    rehearsal.bar.finish_and_clear();
    Ok(bench)
}

/// Answers in place of a person, and shows how far the ride is.
pub struct Rehearsal {
    bar: ProgressBar,
    answered: Option<(Awaiting, Timestamp)>,
}

impl Rehearsal {
    /// A progress bar on stderr; hidden where there is no terminal.
    pub fn new(bench: &Bench) -> Self {
        let total = bench.plan().script.total().as_secs_f64() as u64;
        let bar = ProgressBar::new(total);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {msg}") {
            bar.set_style(style);
        }
        Self { bar, answered: None }
    }
}

impl Audience for Rehearsal {
    fn show(&mut self, bench: &Bench) {
        self.bar.set_position(bench.now().as_secs_f64() as u64);
        self.bar.set_message(format!("{}  {}", bench.now(), bench.step_title().unwrap_or("")));
    }

    fn answer(&mut self, bench: &Bench) -> Option<Command> {
        let awaiting = bench.awaiting()?;
        // Once per question: an answer that changes nothing must not be repeated for ever.
        if self.answered.is_some_and(|(question, at)| question == awaiting && at == bench.now()) {
            return None;
        }
        self.answered = Some((awaiting, bench.now()));
        Some(match awaiting {
            Awaiting::Start => Command::Start,
            Awaiting::Cautions => Command::AcceptCautions,
            Awaiting::Acknowledgement | Awaiting::CoolDown => Command::Acknowledge,
            Awaiting::Resume => Command::Resume,
        })
    }
}
