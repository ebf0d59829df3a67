//! The one door to the clock.
//!
//! Everything else in the program is told what time it is. A session has one monotonic clock that
//! begins at zero, and one wall-clock anchor written into the file at that moment.

use std::time::Duration;
use units::{Span, Timestamp};

/// How fast session time passes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Pace {
    /// As fast as the machine can: time jumps from one event to the next. Only for simulation.
    Virtual,
    /// `1.0` is real time; larger factors are for simulation and replay.
    Times(f64),
}

/// The clock of one session.
#[derive(Debug)]
pub struct SessionClock {
    pace: Pace,
    started: std::time::Instant,
    virtual_now: Timestamp,
}

impl SessionClock {
    /// Starts a clock at zero.
    pub fn start(pace: Pace) -> Self {
        Self { pace, started: instant_now(), virtual_now: Timestamp::ZERO }
    }

    /// The present moment of the session.
    pub fn now(&self) -> Timestamp {
        match self.pace {
            Pace::Virtual => self.virtual_now,
            Pace::Times(factor) => {
                Timestamp::from_secs_f64(self.started.elapsed().as_secs_f64() * factor)
            }
        }
    }

    /// How long to wait in real time until `moment`; nothing on the virtual clock, which jumps.
    pub fn wait_for(&mut self, moment: Timestamp) -> Duration {
        match self.pace {
            Pace::Virtual => {
                self.virtual_now = self.virtual_now.max(moment);
                Duration::ZERO
            }
            Pace::Times(factor) => {
                let ahead = (moment - self.now()).max(Span::ZERO).as_secs_f64() / factor;
                Duration::from_secs_f64(ahead.min(3600.0))
            }
        }
    }

    /// Whether a second of the session is a second of the world.
    pub fn pace_is_real(&self) -> bool {
        self.pace == Pace::Times(1.0)
    }

    /// Whether time jumps.
    pub fn is_virtual(&self) -> bool {
        self.pace == Pace::Virtual
    }
}

/// The monotonic clock of the machine.
#[expect(clippy::disallowed_methods, reason = "this is the door to the monotonic clock")]
pub fn instant_now() -> std::time::Instant {
    std::time::Instant::now()
}

/// The wall clock of the machine, with its offset from universal time.
#[expect(clippy::disallowed_methods, reason = "this is the door to the wall clock")]
pub fn wall_now() -> chrono::DateTime<chrono::FixedOffset> {
    chrono::Local::now().fixed_offset()
}
