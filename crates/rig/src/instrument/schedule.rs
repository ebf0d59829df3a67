//! A characteristic that is notified at intervals.

use units::{Characteristic, Span, Timestamp};

/// A characteristic that is notified at intervals.
#[derive(Clone, Debug)]
pub(super) struct Schedule {
    pub(super) characteristic: Characteristic,
    pub(super) interval: Span,
    pub(super) next: Timestamp,
    pub(super) before: Option<Timestamp>,
    /// What was sent last, which a frozen instrument repeats.
    pub(super) last: Vec<Vec<u8>>,
}

impl Schedule {
    /// Whether a report is due at `now`: the time since the one before it, s.
    pub(super) fn due(&mut self, now: Timestamp) -> Option<f64> {
        if now < self.next {
            return None;
        }
        let since = self.before.map_or(self.interval, |before| now - before);
        self.before = Some(now);
        self.next += self.interval;
        Some(since.as_secs_f64())
    }

    /// Leaves out the reports that nobody could have received before `now`.
    pub(super) fn skip_to(&mut self, now: Timestamp) {
        if self.next < now {
            let missed = (now - self.next).as_nanos() / self.interval.as_nanos().max(1) + 1;
            self.next += self.interval * missed;
        }
    }
}
