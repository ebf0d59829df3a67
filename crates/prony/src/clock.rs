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

/// Whether the session waits for a person.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Waiting {
    /// It does.
    Yes,
    /// It goes on by itself.
    No,
}

/// The clock of one session.
#[derive(Debug)]
pub struct SessionClock {
    pace: Pace,
    /// The pace while nobody is waited for.
    usual: Pace,
    /// Whether waiting for a person slows it down.
    patient: bool,
    /// When the present pace began, on both clocks.
    since: std::time::Instant,
    since_at: Timestamp,
}

impl SessionClock {
    /// Starts a clock at zero.
    pub fn start(pace: Pace) -> Self {
        Self {
            pace,
            usual: pace,
            patient: true,
            since: instant_now(),
            since_at: Timestamp::ZERO,
        }
    }

    /// Starts a clock at zero that keeps the pace of test equipment behind a real radio, whoever is
    /// waited for; see [`crate::equipment`].
    pub fn start_beside_equipment(pace: f64) -> Self {
        Self {
            patient: false,
            ..Self::start(Pace::Times(pace))
        }
    }

    /// The present moment of the session.
    pub fn now(&self) -> Timestamp {
        match self.pace {
            Pace::Virtual => self.since_at,
            Pace::Times(factor) => {
                self.since_at + Span::from_secs_f64(self.since.elapsed().as_secs_f64() * factor)
            }
        }
    }

    /// How long to wait in real time until `moment`; nothing on the virtual clock, which jumps.
    pub fn wait_for(&mut self, moment: Timestamp) -> Duration {
        match self.pace {
            Pace::Virtual => {
                self.since_at = self.since_at.max(moment);
                Duration::ZERO
            }
            Pace::Times(factor) => {
                let ahead = (moment - self.now()).max(Span::ZERO).as_secs_f64() / factor;
                Duration::from_secs_f64(ahead.min(3600.0))
            }
        }
    }

    /// While a person is waited for, simulated time passes as the clock does: nobody reads cautions
    /// sixty times faster. On the virtual clock nobody is waited for.
    pub fn wait_for_a_person(&mut self, waiting: Waiting) {
        let pace = match (self.usual, waiting) {
            (Pace::Times(_), Waiting::Yes) if self.patient => Pace::Times(1.0),
            (usual, _) => usual,
        };
        if pace != self.pace {
            self.since_at = self.now();
            self.since = instant_now();
            self.pace = pace;
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
#[expect(
    clippy::disallowed_methods,
    reason = "this is the door to the monotonic clock"
)]
pub fn instant_now() -> std::time::Instant {
    std::time::Instant::now()
}

/// The wall clock of the machine, with its offset from universal time.
#[expect(
    clippy::disallowed_methods,
    reason = "this is the door to the wall clock"
)]
pub fn wall_now() -> chrono::DateTime<chrono::FixedOffset> {
    chrono::Local::now().fixed_offset()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_virtual_clock_jumps_and_never_goes_back() {
        let mut clock = SessionClock::start(Pace::Virtual);
        assert_eq!(clock.wait_for(Timestamp::from_secs(10)), Duration::ZERO);
        clock.wait_for(Timestamp::from_secs(5));
        clock.wait_for_a_person(Waiting::Yes);
        assert_eq!(clock.now(), Timestamp::from_secs(10));
    }

    #[test]
    fn a_change_of_pace_keeps_the_moment() {
        let mut clock = SessionClock::start(Pace::Times(1000.0));
        let before = clock.now();
        clock.wait_for_a_person(Waiting::Yes);
        let between = clock.now();
        clock.wait_for_a_person(Waiting::No);
        assert!(before <= between && between <= clock.now());
    }
}
