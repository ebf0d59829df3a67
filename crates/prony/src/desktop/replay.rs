//! A recorded session played again through the bench, for the eye only.
//!
//! The same bench that rode takes the recorded packets and commands; what it wants written is
//! dropped. There is no instrument and no recorder here, so a replay can neither load a brake nor
//! touch a file.

use crate::clock::instant_now;
use crate::setup;
use anyhow::{Context, Result};
use bench::{Bench, BenchPlan, Happening, Input, Model};
use crossbeam_channel::{Receiver, RecvTimeoutError, Sender, bounded};
use desk::{Motion, ReplayWish};
use session::{Archive, Entry};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use units::{Span, Timestamp};

/// Wishes that may wait: a hand that drags makes one in every frame.
const WAITING_WISHES: usize = 256;

/// How often the picture moves.
const FRAME: Duration = Duration::from_millis(33);

/// Entries that are taken between two looks at the wishes, so that a long jump can be changed.
const BITE: usize = 20_000;

/// What the window is shown of a replay.
#[derive(Clone)]
pub struct Shown {
    /// The bench at the moment that is shown.
    pub model: Model,
    /// The moment.
    pub at: Timestamp,
    /// Length of the recording.
    pub length: Span,
    /// Seconds of the recording in a second.
    pub pace: u32,
    /// Whether it moves.
    pub motion: Motion,
}

/// A running replay as the window sees it. Dropping it ends it.
pub struct Replaying {
    /// Name of the session for people.
    pub label: String,
    wishes: Sender<ReplayWish>,
    latest: Arc<Mutex<Option<Shown>>>,
    failed: Receiver<anyhow::Error>,
}

impl Replaying {
    /// Begins to play a session file, at its beginning and in its own time.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn start(path: PathBuf, label: String, screen: egui::Context) -> Result<Self> {
        let (wishes, inbox) = bounded(WAITING_WISHES);
        let (tell, failed) = bounded(1);
        let latest = Arc::new(Mutex::new(None));
        std::thread::Builder::new()
            .name("replay".to_owned())
            .spawn({
                let latest = Arc::clone(&latest);
                move || {
                    let show = |shown: Shown| {
                        *latest.lock().unwrap_or_else(PoisonError::into_inner) = Some(shown);
                        screen.request_repaint();
                    };
                    match Player::open(&path) {
                        Ok(mut player) => player.run(&inbox, show),
                        // Nobody listens any more if the window was closed.
                        Err(error) => drop(tell.send(error)),
                    }
                    screen.request_repaint();
                }
            })?;
        Ok(Self {
            label,
            wishes,
            latest,
            failed,
        })
    }

    /// Hands on a wish.
    pub fn wish(&self, wish: ReplayWish) {
        // A thread that has ended has said why; where so many wait, the next one counts as well.
        let _ = self.wishes.try_send(wish);
    }

    /// The newest picture since the last call.
    pub fn shown(&self) -> Option<Shown> {
        self.latest
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .take()
    }

    /// Why it could not be played, if it could not.
    pub fn failure(&self) -> Option<anyhow::Error> {
        self.failed.try_recv().ok()
    }
}

/// The recording and where it stands.
struct Player {
    plan: BenchPlan,
    inputs: Vec<(Timestamp, Input)>,
    length: Span,
    bench: Bench,
    next: usize,
    at: Timestamp,
    pace: u32,
    motion: Motion,
}

impl Player {
    fn open(path: &Path) -> Result<Self> {
        let archive = Archive::open(path)?;
        let plan = setup::from_archive(&archive)
            .with_context(|| format!("cannot replay {}", path.display()))?;
        let inputs: Vec<_> = archive.entries()?.into_iter().filter_map(input).collect();
        let length = inputs
            .iter()
            .map(|(at, _)| *at)
            .max()
            .map_or(Span::ZERO, |end| end - Timestamp::ZERO);
        Ok(Self {
            bench: Bench::new(plan.clone()),
            plan,
            inputs,
            length,
            next: 0,
            at: Timestamp::ZERO,
            pace: 1,
            motion: Motion::Playing,
        })
    }

    fn run(&mut self, inbox: &Receiver<ReplayWish>, show: impl Fn(Shown)) {
        loop {
            let begun = instant_now();
            let wish = match self.motion {
                Motion::Playing => inbox.recv_timeout(FRAME),
                Motion::Paused => inbox.recv().map_err(|_| RecvTimeoutError::Disconnected),
            };
            let mut close = false;
            match wish {
                Ok(wish) => {
                    close |= self.obey(wish);
                    // While a hand drags, only the last place counts.
                    for wish in inbox.try_iter() {
                        close |= self.obey(wish);
                    }
                }
                Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => return,
            }
            if close {
                return;
            }
            if self.motion == Motion::Playing {
                let passed = begun.elapsed().as_secs_f64() * f64::from(self.pace);
                self.at = (self.at + Span::from_secs_f64(passed)).min(self.end());
            }
            while self.take_bite() && inbox.is_empty() {}
            if self.at >= self.end() {
                self.motion = Motion::Paused;
            }
            show(Shown {
                model: self.bench.model(),
                at: self.at,
                length: self.length,
                pace: self.pace,
                motion: self.motion,
            });
        }
    }

    fn end(&self) -> Timestamp {
        Timestamp::ZERO + self.length
    }

    /// Does what is wished and says whether the replay is to end.
    fn obey(&mut self, wish: ReplayWish) -> bool {
        match wish {
            ReplayWish::Play => {
                if self.at >= self.end() {
                    self.go(Timestamp::ZERO);
                }
                self.motion = Motion::Playing;
            }
            ReplayWish::Pause => self.motion = Motion::Paused,
            ReplayWish::Pace(pace) => self.pace = pace.max(1),
            ReplayWish::Seek(to) => self.go(to.clamp(Timestamp::ZERO, self.end())),
            ReplayWish::Close => return true,
        }
        false
    }

    fn go(&mut self, to: Timestamp) {
        if to < self.bench.now() {
            self.bench = Bench::new(self.plan.clone());
            self.next = 0;
        }
        self.at = to;
    }

    /// Takes what was recorded up to the moment that is shown, or a part of it; says whether
    /// there is more.
    fn take_bite(&mut self) -> bool {
        for _ in 0..BITE {
            match self.inputs.get(self.next) {
                Some((at, input)) if *at <= self.at => {
                    self.bench.handle(*at, input.clone());
                    self.next += 1;
                    while self.bench.poll_output().is_some() {}
                }
                _ => {
                    self.bench
                        .handle(self.at.max(self.bench.now()), Input::Tick);
                    while self.bench.poll_output().is_some() {}
                    return false;
                }
            }
        }
        true
    }
}

/// What the bench was given at a moment. What it concluded itself it concludes again.
fn input(entry: Entry) -> Option<(Timestamp, Input)> {
    match entry {
        Entry::Packet(packet) => Some((packet.at, Input::Packet(packet))),
        Entry::Event(row) => {
            let happening = Happening::from_row(&row.kind, &row.body).ok()?;
            Some((row.at, Input::from_happening(&happening)?))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use bench::model::Phase;

    fn demo() -> Player {
        let file = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/../../demo-sessions/first-look-honest.prony"
        );
        Player::open(Path::new(file)).unwrap()
    }

    #[test]
    fn seeking_leads_to_the_same_picture_from_either_side() {
        let mut player = demo();
        let middle = Timestamp::ZERO + player.length / 2;
        let look = |player: &mut Player, to: Timestamp| {
            player.go(to);
            while player.take_bite() {}
            let model = player.bench.model();
            let power: Vec<_> = model.instruments.iter().map(|one| one.power_w).collect();
            (model.now, model.step.map(|step| step.title), power)
        };
        let from_the_left = look(&mut player, middle);
        let end = player.end();
        look(&mut player, end);
        assert!(matches!(player.bench.model().phase, Phase::Ended { .. }));
        let from_the_right = look(&mut player, middle);
        assert_eq!(from_the_left, from_the_right);
        assert_eq!(from_the_left.0, middle);
    }

    #[test]
    fn wishes_are_obeyed() {
        let mut player = demo();
        assert!(!player.obey(ReplayWish::Pace(60)));
        assert_eq!(player.pace, 60);
        player.obey(ReplayWish::Pause);
        assert_eq!(player.motion, Motion::Paused);
        player.obey(ReplayWish::Seek(Timestamp::MAX));
        assert_eq!(player.at, player.end());
        player.obey(ReplayWish::Play);
        assert_eq!(player.at, Timestamp::ZERO, "from the end it begins again");
        assert!(player.obey(ReplayWish::Close));
    }
}
