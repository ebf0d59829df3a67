//! The stretch of time that is looked at, and how finely.

use units::Timestamp;

/// The stretch of time that is looked at, and how finely.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Left edge.
    pub from: Timestamp,
    /// Right edge.
    pub to: Timestamp,
    /// The present moment: nothing is held beyond it.
    pub now: Timestamp,
    /// Width in physical pixels.
    pub pixels: usize,
}

impl View {
    /// Width of one pixel column in nanoseconds, at least one.
    pub(super) fn column_ns(&self) -> i64 {
        let pixels = i64::try_from(self.pixels.max(1)).unwrap_or(i64::MAX);
        ((self.to - self.from).as_nanos() / pixels).max(1)
    }

    pub(super) fn is_empty(&self) -> bool {
        self.to <= self.from
    }
}
