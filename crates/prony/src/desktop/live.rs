//! A session running behind the window.

use super::logbook::Logbook;
use super::scanner::Scanner;
use crate::bench_file::BenchFile;
use crate::clock::{Pace, SessionClock};
use crate::engine::{Engine, Viewer};
use crate::instruments::Instruments;
use crate::linked::Linked;
use crate::places;
use crate::recording::{Recording, Watch};
use crate::setup::{self, Setup};
use crate::simulated::Simulated;
use anyhow::{Context as _, Result};
use bench::{Bench, Command, Model};
use crossbeam_channel::{Receiver, Sender, bounded};
use protocol::Script;
use radio::Anchor;
use rig::{Rig, RigPlan};
use session::Document;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use units::Timestamp;

/// Commands that may wait for the engine, which looks many times a second.
const WAITING_COMMANDS: usize = 64;

/// What a session is fixed to besides its instruments.
pub struct Terms {
    /// The script.
    pub script: Script,
    /// What verdicts depend on, claims included.
    pub settings: analysis::settings::Settings,
    /// The claim sheet behind the claims, if one was chosen.
    pub sheet: Option<Document>,
    /// No target above this, W.
    pub ceiling_w: f64,
}

impl Terms {
    /// The script stays as it is written: what the device does not offer is shown before the ride,
    /// and brought into its limits only when somebody says so.
    fn fix(&self, setup: Setup) -> Setup {
        let setup = setup.under(&self.script, self.ceiling_w);
        let mut setup = setup.uncapped(&self.script);
        setup.about.claims.clone_from(&self.sheet);
        setup
    }
}

/// A running session as the window sees it.
pub struct Live {
    /// Taken away to tell the engine that nobody gives commands any more.
    commands: Option<Sender<Command>>,
    board: Arc<Board>,
    /// The file, or nothing if the session was given up before there was one.
    ended: Receiver<Result<Option<PathBuf>>>,
}

/// What the session's thread shows.
#[derive(Default)]
struct Board {
    model: Mutex<Option<Model>>,
    /// What is going on before the instruments are linked.
    linking: Mutex<Option<String>>,
    given_up: AtomicBool,
    /// The file, and how the writing of it goes.
    record: OnceLock<(String, Watch)>,
}

impl Board {
    fn note_record(&self, path: &Path, recording: &Recording) {
        let name = path.file_name().unwrap_or_default();
        // There is one recording for each session; a second one would be a second session.
        let _ = self
            .record
            .set((name.to_string_lossy().into_owned(), recording.watch()));
    }
}

impl Live {
    /// Starts a session on a simulated bench, on a thread of its own.
    ///
    /// # Errors
    /// If the script cannot be ridden on the rig, or the session file cannot be made.
    pub fn on_rig(
        terms: Terms,
        name: &str,
        (rig_plan, rig_text): (RigPlan, String),
        pace: desk::Pace,
        screen: egui::Context,
    ) -> Result<Self> {
        let machine = Rig::new(rig_plan.clone(), seed());
        let setup = setup::on_rig(
            &terms.script,
            &rig_plan,
            &rig_text,
            &machine,
            terms.settings.clone(),
        )?;
        let setup = terms.fix(setup);
        let path = places::new_session_file(terms.script.name(), name)?;
        let recording = Recording::start(&path, &setup.about, &setup.sources)?;
        let clock = SessionClock::start(Pace::Times(f64::from(pace.factor())));
        Self::spawn(screen, move |board, inbox, screen| {
            board.note_record(&path, &recording);
            ride(
                Simulated::new(machine),
                setup,
                recording,
                clock,
                inbox,
                board,
                screen,
            )?;
            Ok(Some(path))
        })
    }

    /// Starts a session on real instruments. They are linked on the session's own thread, which
    /// may take a minute; the radio of the Bench is let go first, because it can be held only once.
    /// What was done to the instruments before goes into the session.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn on_bench(
        terms: Terms,
        mut bench: BenchFile,
        (before, logbook): (Option<Scanner>, Logbook),
        screen: egui::Context,
    ) -> Result<Self> {
        Self::spawn(screen, move |board, inbox, screen| {
            let say = |words: String| {
                *board.linking.lock().unwrap_or_else(PoisonError::into_inner) = Some(words);
                screen.request_repaint();
            };
            say(format!(
                "Linking {} instruments of {}",
                bench.instruments.len(),
                bench.name
            ));
            drop(before);
            let anchor = Anchor::now(Timestamp::ZERO);
            let clock = SessionClock::start(Pace::Times(1.0));
            let linked = Linked::connect(&bench, anchor, |words| say(words.to_owned()))?;
            if board.given_up.load(Ordering::SeqCst) {
                return Ok(None);
            }
            logbook.write_into(&mut bench, anchor.instant);
            let setup = setup::on_bench(&terms.script, &bench, terms.settings.clone(), |source| {
                linked.capabilities(source)
            });
            let setup = terms.fix(setup);
            let path = places::new_session_file(terms.script.name(), &bench.name)?;
            let recording = Recording::start(&path, &setup.about, &setup.sources)?;
            *board.linking.lock().unwrap_or_else(PoisonError::into_inner) = None;
            board.note_record(&path, &recording);
            ride(linked, setup, recording, clock, inbox, board, screen)?;
            logbook.note_session(&bench, &path, anchor.instant)?;
            Ok(Some(path))
        })
    }

    fn spawn(
        screen: egui::Context,
        work: impl FnOnce(&Board, Receiver<Command>, &egui::Context) -> Result<Option<PathBuf>>
        + Send
        + 'static,
    ) -> Result<Self> {
        let (commands, inbox) = bounded(WAITING_COMMANDS);
        let (tell_end, ended) = bounded(1);
        let board = Arc::new(Board::default());
        // The first question is already answered: whoever pressed the button wants to begin.
        commands
            .send(Command::Start)
            .context("a new channel takes a command")?;
        std::thread::Builder::new()
            .name("session".to_owned())
            .spawn({
                let board = Arc::clone(&board);
                move || {
                    // Nobody listens any more if the window was closed; the file is complete anyway.
                    let _ = tell_end.send(work(&board, inbox, &screen));
                    screen.request_repaint();
                }
            })?;
        Ok(Self {
            commands: Some(commands),
            board,
            ended,
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
        self.board
            .model
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    /// How well the session is being recorded, once it is.
    pub fn recording(&self) -> Option<desk::RecordingView<'_>> {
        let (file, watch) = self.board.record.get()?;
        Some(desk::RecordingView {
            file,
            waiting: watch.waiting(),
            failure: watch.failure(),
        })
    }

    /// What is going on before the instruments are linked, in words.
    pub fn linking(&self) -> Option<String> {
        self.board
            .linking
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }

    /// Gives up linking. The thread ends by itself when the radio has answered.
    pub fn give_up(mut self) {
        self.board.given_up.store(true, Ordering::SeqCst);
        self.commands = None;
    }

    /// How the session ended, once it has.
    pub fn outcome(&self) -> Option<Result<Option<PathBuf>>> {
        self.ended.try_recv().ok()
    }

    /// Ends the session and waits until brake and file are in order.
    pub fn end(&mut self) -> Result<Option<PathBuf>> {
        self.command(Command::Stop);
        self.board.given_up.store(true, Ordering::SeqCst);
        self.commands = None;
        self.ended.recv().unwrap_or(Ok(None))
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

fn ride(
    instruments: impl Instruments,
    setup: Setup,
    recording: Recording,
    clock: SessionClock,
    inbox: Receiver<Command>,
    board: &Board,
    screen: &egui::Context,
) -> Result<()> {
    recording.event(setup.rules_row());
    let bench = Bench::new(setup.plan);
    let engine = Engine::new(instruments, bench, Some(recording), clock, inbox);
    let mut viewer = Viewer(|model| {
        *board.model.lock().unwrap_or_else(PoisonError::into_inner) = Some(model);
        screen.request_repaint();
    });
    engine.run(&mut viewer).map(drop)
}

/// Another ride every time, as with a person.
fn seed() -> u64 {
    crate::clock::wall_now().timestamp_micros().unsigned_abs()
}
