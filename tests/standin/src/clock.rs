//! The only place of the test equipment that reads a clock.

use std::time::{Duration, Instant};
use units::{Span, Timestamp};

#[derive(Clone, Copy, Debug)]
pub(crate) struct Clock(Instant);

impl Clock {
    pub(crate) fn start() -> Self {
        Self(read())
    }

    /// Time since the stand-in was started.
    pub(crate) fn now(&self) -> Timestamp {
        let nanos = read().saturating_duration_since(self.0).as_nanos();
        Timestamp::from_nanos(i64::try_from(nanos).unwrap_or(i64::MAX))
    }
}

#[expect(
    clippy::disallowed_methods,
    reason = "the test equipment's only clock door"
)]
fn read() -> Instant {
    Instant::now()
}

/// A span as the standard library counts it; nothing for a span that is over.
pub(crate) fn length(span: Span) -> Duration {
    Duration::from_nanos(u64::try_from(span.as_nanos()).unwrap_or(0))
}
