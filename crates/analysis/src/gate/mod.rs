//! The gate: which seconds count for the steady comparison, and why the others do not.
//!
//! The gate is fed one second at a time and answers with windows and exclusions, so that the live
//! screen and the findings afterwards run the very same code. With a script the steps say what is
//! held; for a step without a constant target, and without a script, plateaus of the reference are
//! looked for. Nothing is removed by hand and nothing in silence.

mod barred;
mod gated;
mod steady;
mod window;

use crate::grid::Second;
use crate::settings::{DropOutSettings, GateSettings, Settings};
pub use barred::is_judged;
use barred::{Barred, bar};
pub use gated::Gated;
use gated::exclude;
pub(crate) use gated::is_same_reason;
use std::borrow::Cow;
use steady::{Mode, check, mode};
pub use window::Window;
pub(crate) use window::window_so_far;
use window::{mean_reference, window_of};

/// By how much a window that failed is moved on before it is tried again, s.
const SLIDE_S: usize = 5;
/// Seconds after which the state of the running window is looked at while it still fills.
const LOOK_AFTER_S: usize = 10;

/// Whether the present moment counts.
#[derive(Clone, Debug, PartialEq)]
pub enum GateState {
    /// The step is not judged.
    NotJudged,
    /// The first part of a hold, discarded.
    Settling {
        /// Seconds that remain.
        remaining_s: u32,
    },
    /// It counts; a window has been filling for so many seconds.
    Steady {
        /// Seconds in the running window.
        seconds: usize,
    },
    /// It does not count, because …
    NotSteady {
        /// Reason in words.
        reason: Cow<'static, str>,
    },
}

/// The gate.
#[derive(Clone, Debug)]
pub struct Gate {
    settings: GateSettings,
    dropout: DropOutSettings,
    buffer: Vec<Second>,
    /// The last second was barred, so says the reason.
    barred: Option<Barred>,
    plateau: Plateau,
}

/// The plateau that is being ridden where no target is held.
#[derive(Clone, Debug, Default)]
struct Plateau {
    /// Running number; visits without a script are numbered by it.
    number: usize,
    /// Level of the reference once the plateau has begun, W.
    level_w: Option<f64>,
}

impl Gate {
    /// A gate with the settings in force.
    pub fn new(settings: &Settings) -> Self {
        Self {
            settings: settings.gate.clone(),
            dropout: settings.dropout.clone(),
            buffer: Vec::with_capacity(settings.gate.window_s as usize + 1),
            barred: Some(Barred::NotJudged),
            plateau: Plateau::default(),
        }
    }

    /// Takes the next second. Seconds come in order; a jump closes the running window.
    pub fn push(&mut self, second: Second, out: &mut Vec<Gated>) {
        if self
            .buffer
            .last()
            .is_some_and(|last| !continues(last, &second))
        {
            self.close(out);
        }
        if let Some(barred) = bar(&second, &self.settings, &self.dropout) {
            self.close(out);
            let reason = match &barred {
                Barred::NotJudged => None,
                Barred::Settling(_) => Some(Cow::Borrowed(
                    "settling: the first part of a hold is discarded",
                )),
                Barred::Because(reason) => Some(reason.clone()),
            };
            if let Some(reason) = reason {
                exclude(out, second.index, second.index + 1, reason);
            }
            if !matches!(barred, Barred::Settling(_)) {
                self.plateau.level_w = None;
            }
            self.barred = Some(barred);
            return;
        }
        self.barred = None;
        self.buffer.push(second);
        while self.buffer.len() >= self.settings.window_s as usize {
            self.try_window(out);
        }
    }

    /// The recording is over: the running window counts if it is long enough.
    pub fn finish(&mut self, out: &mut Vec<Gated>) {
        self.close(out);
        self.barred = Some(Barred::NotJudged);
    }

    /// Whether the last second counts.
    pub fn state(&self) -> GateState {
        match &self.barred {
            Some(Barred::NotJudged) => GateState::NotJudged,
            Some(Barred::Settling(remaining_s)) => GateState::Settling {
                remaining_s: *remaining_s,
            },
            Some(Barred::Because(reason)) => GateState::NotSteady {
                reason: reason.clone(),
            },
            None => {
                let recent = &self.buffer[self.buffer.len().saturating_sub(LOOK_AFTER_S)..];
                if recent.len() >= LOOK_AFTER_S
                    && let Err(reason) = check(&self.settings, recent)
                {
                    return GateState::NotSteady { reason };
                }
                GateState::Steady {
                    seconds: self.buffer.len(),
                }
            }
        }
    }

    /// The seconds of the running window so far.
    pub fn running(&self) -> &[Second] {
        &self.buffer
    }

    /// Takes a full window, or moves on if it is not steady.
    fn try_window(&mut self, out: &mut Vec<Gated>) {
        let length = self.settings.window_s as usize;
        match check(&self.settings, &self.buffer[..length]) {
            Ok(()) if self.begins_plateau(length) => {
                let settle = (self.settings.settle_s as usize).clamp(1, length);
                self.plateau.number += 1;
                self.plateau.level_w = Some(mean_reference(&self.buffer[..length]));
                self.drop_front(
                    settle,
                    Cow::Borrowed("settling: the beginning of a plateau is discarded"),
                    out,
                );
            }
            Ok(()) => self.take_front(length, out),
            Err(reason) => self.drop_front(SLIDE_S.min(length), reason, out),
        }
    }

    /// Whether a steady window would be the first one of its plateau.
    fn begins_plateau(&self, length: usize) -> bool {
        if mode(&self.buffer[0]) == Mode::Hold {
            return false;
        }
        let level_w = mean_reference(&self.buffer[..length]);
        self.plateau.level_w.is_none_or(|known| {
            100.0 * (level_w / known - 1.0).abs() > self.settings.plateau_change_pct
        })
    }

    /// The run of seconds ended: a rest that is long enough and steady counts as well.
    fn close(&mut self, out: &mut Vec<Gated>) {
        let length = self.buffer.len();
        if length == 0 {
            return;
        }
        let shortest = self.settings.shortest_s as usize;
        if length < shortest {
            self.drop_front(
                length,
                Cow::Borrowed("the rest of the hold is shorter than a window"),
                out,
            );
        } else {
            match check(&self.settings, &self.buffer) {
                Ok(()) if self.begins_plateau(length) => self.drop_front(
                    length,
                    Cow::Borrowed("the plateau is shorter than settling and a window"),
                    out,
                ),
                Ok(()) => self.take_front(length, out),
                Err(reason) => self.drop_front(length, reason, out),
            }
        }
    }

    fn take_front(&mut self, length: usize, out: &mut Vec<Gated>) {
        let seconds = &self.buffer[..length];
        let visit = match (mode(&seconds[0]), seconds[0].step) {
            (Mode::Hold, Some(step)) => step.visit,
            _ => self.plateau.number,
        };
        out.push(Gated::Window(window_of(seconds, visit, &self.settings)));
        self.buffer.drain(..length);
    }

    fn drop_front(&mut self, length: usize, reason: Cow<'static, str>, out: &mut Vec<Gated>) {
        let from_s = self.buffer[0].index;
        exclude(out, from_s, from_s + length as i64, reason);
        self.buffer.drain(..length);
    }
}

/// Whether a second belongs to the run of the one before it.
fn continues(last: &Second, next: &Second) -> bool {
    let visit = |second: &Second| second.step.map(|step| step.visit);
    next.index == last.index + 1
        && visit(last) == visit(next)
        && (mode(next) == Mode::Plateau || last.target_w == next.target_w)
}
