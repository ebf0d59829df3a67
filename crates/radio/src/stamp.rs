//! The only place of this crate that reads a clock.
//!
//! Packets carry the monotonic clock, mapped onto the session's by an anchor that the program
//! gives at the start. The wall clock is read only to notice that the monotonic one stood still
//! while the machine slept, or that somebody set the wall clock.

use std::time::{Duration, Instant, SystemTime};
use units::{Span, Timestamp};

/// One moment on the machine's monotonic clock and the same moment on the session's clock.
#[derive(Clone, Copy, Debug)]
pub struct Anchor {
    /// The moment on the monotonic clock.
    pub instant: Instant,
    /// The same moment on the session's clock.
    pub at: Timestamp,
}

impl Anchor {
    /// An anchor that calls this moment `at`.
    pub fn now(at: Timestamp) -> Self {
        Self {
            instant: read(),
            at,
        }
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "radio::stamp is the crate's only clock door"
)]
fn read() -> Instant {
    // Through tokio, so that a paused test clock moves stamps and timers together.
    tokio::time::Instant::now().into_std()
}

#[expect(
    clippy::disallowed_methods,
    reason = "compared with the monotonic clock, never stored"
)]
fn read_wall() -> SystemTime {
    SystemTime::now()
}

/// Reads the session's clock.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stamp {
    anchor: Anchor,
}

impl Stamp {
    pub(crate) const fn new(anchor: Anchor) -> Self {
        Self { anchor }
    }

    /// Now, on the session's clock.
    pub(crate) fn now(&self) -> Timestamp {
        let now = read();
        let nanos = match now.checked_duration_since(self.anchor.instant) {
            Some(after) => signed(after),
            None => -signed(self.anchor.instant.saturating_duration_since(now)),
        };
        self.anchor.at + Span::from_nanos(nanos)
    }

    /// Returns when the session's clock shows `at`; never, without a moment.
    pub(crate) async fn sleep_until(&self, at: Option<Timestamp>) {
        match at {
            Some(at) => tokio::time::sleep(length(at - self.now())).await,
            None => std::future::pending().await,
        }
    }
}

/// A span as the standard library counts it; nothing for a span that is over.
pub(crate) fn length(span: Span) -> Duration {
    Duration::from_nanos(u64::try_from(span.as_nanos()).unwrap_or(0))
}

fn signed(duration: Duration) -> i64 {
    i64::try_from(duration.as_nanos()).unwrap_or(i64::MAX)
}

/// Notices that wall clock and monotonic clock have moved apart.
#[derive(Debug)]
pub(crate) struct ClockWatch {
    wall: SystemTime,
    monotonic: Instant,
}

impl ClockWatch {
    pub(crate) fn new() -> Self {
        Self {
            wall: read_wall(),
            monotonic: read(),
        }
    }

    /// How much further than the monotonic clock the wall clock went since the last call, if that
    /// is more than a second: the machine slept, or the wall clock was set.
    pub(crate) fn jump(&mut self) -> Option<Span> {
        let (wall, monotonic) = (read_wall(), read());
        let wall_nanos = match wall.duration_since(self.wall) {
            Ok(after) => signed(after),
            Err(before) => -signed(before.duration()),
        };
        let apart = wall_nanos - signed(monotonic.saturating_duration_since(self.monotonic));
        *self = Self { wall, monotonic };
        let apart = Span::from_nanos(apart);
        (apart.abs() > Span::from_secs(1)).then_some(apart)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test(start_paused = true)]
    async fn the_anchor_maps_the_monotonic_clock_onto_the_sessions() {
        let stamp = Stamp::new(Anchor::now(Timestamp::from_secs(100)));
        assert_eq!(stamp.now(), Timestamp::from_secs(100));
        stamp
            .sleep_until(Some(Timestamp::from_millis(101_500)))
            .await;
        let late = stamp.now() - Timestamp::from_millis(101_500);
        assert!(
            !late.is_negative() && late < Span::from_millis(5),
            "{late:?}"
        );
    }

    #[test]
    fn two_clocks_that_run_alike_make_no_jump() {
        assert_eq!(ClockWatch::new().jump(), None);
    }
}
