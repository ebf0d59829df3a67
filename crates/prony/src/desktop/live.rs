//! A session running behind the window.

use crate::clock::{Pace, SessionClock};
use crate::engine::{Engine, Viewer};
use crate::recording::Recording;
use crate::setup;
use crate::simulated::Simulated;
use crate::{choice, places};
use analysis::settings::Settings;
use anyhow::{Context as _, Result};
use bench::{Bench, Command, Model};
use crossbeam_channel::{Receiver, Sender, bounded};
use rig::Rig;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// Commands that may wait for the engine, which looks many times a second.
const WAITING_COMMANDS: usize = 64;

/// A running session as the window sees it.
pub struct Live {
    /// Taken away to tell the engine that nobody gives commands any more.
    commands: Option<Sender<Command>>,
    latest: Arc<Mutex<Option<Model>>>,
    ended: Receiver<Result<PathBuf>>,
    /// The file being written.
    pub path: PathBuf,
}

impl Live {
    /// Starts a session on a simulated bench, on a thread of its own.
    ///
    /// # Errors
    /// If script or rig cannot be used, or the session file cannot be made.
    pub fn start(script: &str, rig: &str, pace: desk::Pace, screen: egui::Context) -> Result<Self> {
        let (rig_plan, rig_text) = choice::rig(rig)?;
        let script = choice::script(Some(script), None)?;
        let rig_machine = Rig::new(rig_plan.clone(), seed());
        let setup = setup::on_rig(
            &script,
            &rig_plan,
            &rig_text,
            &rig_machine,
            Settings::default(),
        )?;
        let path = places::new_session_file(script.name(), rig)?;
        let recording = Recording::start(&path, &setup.about, &setup.sources)?;
        recording.event(setup.rules_row());

        let (commands, inbox) = bounded(WAITING_COMMANDS);
        let (tell_end, ended) = bounded(1);
        let latest = Arc::new(Mutex::new(None));
        let pace = Pace::Times(f64::from(pace.factor()));
        // The first question is already answered: whoever pressed the button wants to begin.
        commands
            .send(Command::Start)
            .context("a new channel takes a command")?;
        std::thread::Builder::new()
            .name("session".to_owned())
            .spawn({
                let latest = Arc::clone(&latest);
                let path = path.clone();
                move || {
                    let bench = Bench::new(setup.plan);
                    let engine = Engine::new(
                        Simulated::new(rig_machine),
                        bench,
                        Some(recording),
                        SessionClock::start(pace),
                        inbox,
                    );
                    let mut viewer = Viewer(|model| {
                        *latest.lock().unwrap_or_else(PoisonError::into_inner) = Some(model);
                        screen.request_repaint();
                    });
                    let outcome = engine.run(&mut viewer).map(|_| path);
                    // Nobody listens any more if the window was closed; the file is complete anyway.
                    let _ = tell_end.send(outcome);
                    screen.request_repaint();
                }
            })?;
        Ok(Self {
            commands: Some(commands),
            latest,
            ended,
            path,
        })
    }

    /// Hands a command to the engine. A full queue means the engine is not taking any; a release
    /// that does not fit is still carried out, because dropping the queue ends the session.
    pub fn command(&self, command: Command) {
        if let Some(commands) = &self.commands {
            let _ = commands.try_send(command);
        }
    }

    /// The newest snapshot since the last call.
    pub fn snapshot(&self) -> Option<Model> {
        self.latest
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    /// How the session ended, once it has.
    pub fn outcome(&self) -> Option<Result<PathBuf>> {
        self.ended.try_recv().ok()
    }

    /// Ends the session and waits until brake and file are in order.
    pub fn end(&mut self) -> Result<PathBuf> {
        self.command(Command::Stop);
        self.commands = None;
        self.ended.recv().unwrap_or_else(|_| Ok(self.path.clone()))
    }
}

impl Drop for Live {
    /// However the window goes away, a panic included, the session ends in order first.
    fn drop(&mut self) {
        if self.commands.is_some() {
            let _ = self.end();
        }
    }
}

/// Another ride every time, as with a person.
fn seed() -> u64 {
    crate::clock::wall_now().timestamp_micros().unsigned_abs()
}
