//! `prony run`: ride a script and record the session.

use super::Failure;
use crate::bench_file;
use crate::cli::{RunArguments, say, tell};
use crate::clock::{Pace, SessionClock};
use crate::engine::{Audience, Engine};
use crate::linked::Linked;
use crate::recording::Recording;
use crate::setup::{self, Setup};
use crate::simulated::Simulated;
use crate::standing_in::StandIn;
use crate::terminal::Terminal;
use crate::{choice, equipment, places};
use analysis::settings::Settings;
use anyhow::{Context, Result};
use bench::{Bench, Command};
use crossbeam_channel::bounded;
use indicatif::{ProgressBar, ProgressStyle};
use radio::Anchor;
use rig::Rig;
use session::Document;
use std::path::Path;
use std::sync::Arc;
use units::Timestamp;

/// Commands that may wait; a person types slowly.
const WAITING_COMMANDS: usize = 16;

/// Rides and records, then says where the session is.
pub fn run(arguments: &RunArguments) -> Result<(), Failure> {
    match (&arguments.rig, &arguments.bench) {
        (Some(rig), _) => on_rig(arguments, rig),
        (None, Some(bench)) => on_bench(arguments, bench),
        (None, None) => Err(Failure::unusable(anyhow::anyhow!(
            "name a --rig or a --bench"
        ))),
    }
}

/// With real instruments and a person at the terminal.
fn on_bench(arguments: &RunArguments, bench: &Path) -> Result<(), Failure> {
    let bench = bench_file::read(bench).map_err(Failure::unusable)?;
    let script = choice::script(arguments.script.as_deref(), None).map_err(Failure::unusable)?;
    let (settings, claims) = asked(arguments).map_err(Failure::unusable)?;
    let anchor = Anchor::now(Timestamp::ZERO);
    let pace = equipment::pace();
    let clock = SessionClock::start_beside_equipment(pace);
    tell(format_args!(
        "linking {} instruments of {:?} …",
        bench.instruments.len(),
        bench.name
    ));
    let linked = Linked::connect(&bench, anchor, |words| tell(words))?;
    let setup = setup::on_bench(&script, &bench, settings, |source| {
        linked.capabilities(source)
    });
    let setup = as_asked(setup, arguments, claims)?;
    let out = match &arguments.out {
        Some(out) => out.clone(),
        None => places::new_session_file(script.name(), "bench")?,
    };
    let recording = Recording::start(&out, &setup.about, &setup.sources)?;
    recording.event(setup.rules_row());
    let (stop, commands) = bounded(WAITING_COMMANDS);
    ctrlc::set_handler(move || {
        // A full queue already holds a stop.
        let _ = stop.try_send(Command::Stop);
    })
    .context("cannot listen for Ctrl-C")?;
    let mut terminal = Terminal::listen()?;
    let engine = Engine::new(
        linked,
        Bench::new(setup.plan),
        Some(recording),
        clock,
        commands,
    );
    let (bench, _) = engine.run(&mut terminal)?;
    said(&out, &bench);
    Ok(())
}

/// The settings with the claim sheet in force, and the sheet's text.
fn asked(arguments: &RunArguments) -> Result<(Settings, Option<Document>)> {
    let settings = choice::settings(arguments.settings.as_deref())?;
    choice::claims(arguments.claims.as_deref(), settings)
}

/// The set-up with what was asked for on the command line. Steps beyond the device or the rider are
/// named, and capped only where somebody said so.
fn as_asked(
    mut setup: Setup,
    arguments: &RunArguments,
    claims: Option<Document>,
) -> Result<Setup, Failure> {
    setup.about.claims = claims.or(setup.about.claims);
    if !setup.beyond.is_empty() {
        let steps: Vec<String> = setup.beyond.iter().map(ToString::to_string).collect();
        let steps = steps.join("\n  ");
        if !arguments.cap {
            return Err(Failure::unusable(anyhow::anyhow!(
                "the script asks for more than the device or the rider offers; `--cap` brings it \
                 into the limits:\n  {steps}"
            )));
        }
        tell(format_args!("capped:\n  {steps}"));
    }
    Ok(match arguments.decided_holds {
        Some(holds) => setup.with_decided_holds(holds.into()),
        None => setup,
    })
}

fn said(out: &Path, bench: &Bench) {
    say(format_args!(
        "{}: {} recorded, {}",
        out.display(),
        bench.now(),
        bench.end_reason().unwrap_or("interrupted"),
    ));
}

/// With the simulated bench and nobody at the screen.
fn on_rig(arguments: &RunArguments, rig: &str) -> Result<(), Failure> {
    let (rig_plan, rig_text) = choice::rig(rig).map_err(Failure::unusable)?;
    let ride = arguments
        .ride
        .as_deref()
        .map(choice::ride)
        .transpose()
        .map_err(Failure::unusable)?;
    let script =
        choice::script(arguments.script.as_deref(), ride.as_deref()).map_err(Failure::unusable)?;
    let (settings, claims) = asked(arguments).map_err(Failure::unusable)?;
    let mut machine = Rig::new(rig_plan.clone(), arguments.seed);
    let setup = setup::on_rig(&script, &rig_plan, &rig_text, &machine, settings)?;
    let mut setup = as_asked(setup, arguments, claims)?;
    if let Some(ride) = &ride {
        setup = setup.without_repeats();
        machine.reproduce(Timestamp::ZERO, Arc::clone(ride));
    }
    let out = match &arguments.out {
        Some(out) => out.clone(),
        None => places::new_session_file(script.name(), rig)?,
    };
    let pace = if arguments.fast {
        Pace::Virtual
    } else {
        Pace::Times(1.0)
    };
    let bench = ride_and_record(setup, Simulated::new(machine), pace, &out)?;
    said(&out, &bench);
    Ok(())
}

/// Rides one session to its end with nobody at the screen.
fn ride_and_record(setup: Setup, simulated: Simulated, pace: Pace, out: &Path) -> Result<Bench> {
    let recording = Recording::start(out, &setup.about, &setup.sources)?;
    recording.event(setup.rules_row());
    let (stop, commands) = bounded(WAITING_COMMANDS);
    ctrlc::set_handler(move || {
        // A full queue already holds a stop.
        let _ = stop.try_send(Command::Stop);
    })
    .context("cannot listen for Ctrl-C")?;
    tell("simulated rider: the cautions are accepted in its name, no person is loaded");
    let bench = Bench::new(setup.plan);
    let mut rehearsal = Rehearsal::new(&bench);
    let engine = Engine::new(
        simulated,
        bench,
        Some(recording),
        SessionClock::start(pace),
        commands,
    );
    let (bench, _) = engine.run(&mut rehearsal)?;
    rehearsal.bar.finish_and_clear();
    Ok(bench)
}

/// Shows how far the ride is, and answers in place of a person.
struct Rehearsal {
    bar: ProgressBar,
    stand_in: StandIn,
}

impl Rehearsal {
    /// A progress bar on stderr; hidden where there is no terminal.
    fn new(bench: &Bench) -> Self {
        let total = bench.plan().script.total().as_secs_f64() as u64;
        let bar = ProgressBar::new(total);
        if let Ok(style) = ProgressStyle::with_template("{bar:30} {msg}") {
            bar.set_style(style);
        }
        Self {
            bar,
            stand_in: StandIn::default(),
        }
    }
}

impl Audience for Rehearsal {
    fn show(&mut self, bench: &Bench) {
        self.bar.set_position(bench.now().as_secs_f64() as u64);
        self.bar.set_message(format!(
            "{}  {}",
            bench.now(),
            bench.step_title().unwrap_or("")
        ));
    }

    fn answer(&mut self, bench: &Bench) -> Option<Command> {
        self.stand_in.answer(bench)
    }
}
