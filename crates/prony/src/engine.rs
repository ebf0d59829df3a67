//! The loop that joins instruments, bench and recording.
//!
//! One order of things holds for every packet: first to the recorder, then to the bench. One order
//! holds for every way out: release, then everything else. The engine runs on a thread of its own;
//! a screen or a terminal gives it commands and looks at snapshots.

use crate::clock::{SessionClock, Waiting};
use crate::instruments::{Instruments, News};
use crate::recording::Recording;
use crate::reins::Reins;
use anyhow::Result;
use bench::model::InstrumentRole;
use bench::{Bench, Command, Happening, Input, Model, Output};
use crossbeam_channel::{Receiver, RecvTimeoutError};
use session::EventRow;
use std::time::Duration;
use units::{Span, Timestamp};

/// A snapshot is published at most this often, in session time at real pace.
const PUBLISH_EVERY: Duration = Duration::from_millis(33);

/// The engine looks at the recorder and at commands at least this often.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// Longest wait for the brake to confirm its release after the end.
const FAREWELL: Span = Span::from_secs(5);

/// A gap in the engine's own running longer than this means that targets would arrive bunched.
const STALLED_AFTER: Span = Span::from_secs(2);

/// What becomes of snapshots.
pub trait Audience {
    /// A new snapshot is due: look at the bench, cheaply.
    fn show(&mut self, bench: &Bench);

    /// Answers a prompt in place of a person, if this audience does that.
    fn answer(&mut self, _bench: &Bench) -> Option<Command> {
        None
    }
}

/// One running session.
pub struct Engine<I: Instruments> {
    instruments: Reins<I>,
    bench: Bench,
    recording: Option<Recording>,
    clock: SessionClock,
    commands: Receiver<Command>,
    recording_failed: bool,
    last_look: Timestamp,
}

impl<I: Instruments> Engine<I> {
    /// An engine about to run. `recording` is absent only in replays, which record nothing.
    pub fn new(
        instruments: I,
        bench: Bench,
        recording: Option<Recording>,
        clock: SessionClock,
        commands: Receiver<Command>,
    ) -> Self {
        let brake = bench
            .plan()
            .sources
            .iter()
            .find(|source| source.role == InstrumentRole::UnderTest)
            .map(|source| source.id);
        Self {
            instruments: Reins::take(instruments, brake),
            bench,
            recording,
            clock,
            commands,
            recording_failed: false,
            last_look: Timestamp::ZERO,
        }
    }

    /// Runs to the end of the session, seals the file and gives back the bench with everything it
    /// learned, and the instruments.
    ///
    /// # Errors
    /// If the recording failed; the brake is released before this returns.
    pub fn run(mut self, audience: &mut dyn Audience) -> Result<(Bench, I)> {
        let mut published = crate::clock::instant_now();
        let mut farewell = None;
        loop {
            let waiting = if self.bench.awaiting().is_some() {
                Waiting::Yes
            } else {
                Waiting::No
            };
            self.clock.wait_for_a_person(waiting);
            let command = self.wait();
            let now = self.clock.now().max(self.bench.now());
            self.notice_stall(now);
            if let Some(command) = command {
                self.hand_in(now, Input::Command(command));
            }
            while let Some(news) = self.instruments.poll(now) {
                self.take(news);
            }
            self.hand_in(now, Input::Tick);
            for words in self.instruments.troubles() {
                self.hand_in(now, Input::Trouble { words });
            }
            if let Some(command) = audience.answer(&self.bench) {
                self.hand_in(now, Input::Command(command));
            }
            self.check_recording(now);
            if published.elapsed() >= PUBLISH_EVERY {
                published = crate::clock::instant_now();
                audience.show(&self.bench);
            }
            if self.bench.end_reason().is_some() {
                let until = *farewell.get_or_insert(now + FAREWELL);
                if self.bench.is_over() || now >= until {
                    break;
                }
            }
        }
        audience.show(&self.bench);
        if let Some(recording) = self.recording.take() {
            recording.finish()?;
        }
        Ok((self.bench, self.instruments.hand_on()))
    }

    /// Waits for a command, or until something is due.
    fn wait(&mut self) -> Option<Command> {
        let due = [self.instruments.due(), self.bench.poll_timeout()]
            .into_iter()
            .flatten()
            .min();
        let wait = match due {
            Some(due) => self.clock.wait_for(due),
            None => LOOK_EVERY,
        };
        if self.clock.is_virtual() {
            return self.commands.try_recv().ok();
        }
        match self.instruments.wait(&self.commands, wait.min(LOOK_EVERY)) {
            Ok(command) => Some(command),
            Err(RecvTimeoutError::Timeout) => None,
            // Whoever gave commands is gone: a closed window must not leave the brake loaded.
            Err(RecvTimeoutError::Disconnected) => {
                (self.bench.end_reason().is_none()).then_some(Command::Stop)
            }
        }
    }

    fn take(&mut self, news: News) {
        let at = news.at().max(self.bench.now());
        match news {
            News::Packet(mut packet) => {
                packet.at = at;
                if let Some(recording) = &self.recording {
                    recording.packet(packet.clone());
                }
                self.bench.handle(at, Input::Packet(packet));
                self.drain(at);
            }
            News::Link {
                source,
                up,
                epoch,
                words,
                ..
            } => {
                self.hand_in(
                    at,
                    Input::Link {
                        source,
                        up,
                        epoch,
                        words,
                    },
                );
            }
            News::WriteReply { write, result, .. } => self.hand_in(
                at,
                Input::WriteReply {
                    source: write.source,
                    characteristic: write.characteristic,
                    result,
                },
            ),
        }
    }

    /// Records an input, hands it to the bench and does what the bench then wants.
    fn hand_in(&mut self, at: Timestamp, input: Input) {
        if let Some(happening) = input.to_happening() {
            self.record(at, &happening);
        }
        self.bench.handle(at, input);
        self.drain(at);
    }

    fn drain(&mut self, now: Timestamp) {
        while let Some(output) = self.bench.poll_output() {
            match output {
                Output::Write(write) => self.instruments.write(now, write),
                Output::Event { at, happening } => self.record(at, &happening),
                Output::Cue(cue) => self.instruments.cue(now, &cue),
            }
        }
    }

    fn record(&self, at: Timestamp, happening: &Happening) {
        if let Some(recording) = &self.recording {
            let (kind, body) = happening.to_row();
            recording.event(EventRow { at, kind, body });
        }
    }

    fn check_recording(&mut self, now: Timestamp) {
        let failure = self
            .recording
            .as_ref()
            .and_then(Recording::failure)
            .map(str::to_owned);
        if let Some(words) = failure
            && !self.recording_failed
        {
            self.recording_failed = true;
            self.hand_in(now, Input::RecordingFailed { words });
        }
    }

    /// If the program itself did not get to run, the bench is told before late deadlines fire.
    fn notice_stall(&mut self, now: Timestamp) {
        let stalled = !self.clock.is_virtual()
            && self.clock.pace_is_real()
            && now - self.last_look > STALLED_AFTER
            && self.last_look > Timestamp::ZERO;
        self.last_look = now;
        if stalled {
            self.hand_in(self.bench.now(), Input::Stalled);
        }
    }
}

/// An audience that looks at models.
pub struct Viewer<F: FnMut(Model)>(pub F);

impl<F: FnMut(Model)> Audience for Viewer<F> {
    fn show(&mut self, bench: &Bench) {
        (self.0)(bench.model());
    }
}
