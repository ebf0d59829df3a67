//! How long the radio waits for what.

use units::Span;

/// Time limits of every step. The usual ones are for real air; tests shorten them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Patience {
    /// For a link to be set up.
    pub connect: Span,
    /// For the services to be read.
    pub discover: Span,
    /// For a subscription, a read or a write.
    pub call: Span,
    /// For a question that the system can answer by itself.
    pub ask: Span,
    /// Before the second attempt; doubled for each further one.
    pub back_off_first: Span,
    /// The longest wait between two attempts.
    pub back_off_most: Span,
    /// Before the services are read again when something is missing.
    pub settle: Span,
    /// Of a steady characteristic's silence, before it is subscribed to again.
    pub resubscribe_after: Span,
    /// Of a steady characteristic's silence, before the link is set up anew.
    pub reconnect_after: Span,
    /// Of everything's silence, before the system is asked whether the link is still up.
    pub doubt_after: Span,
    /// Between two such questions.
    pub doubt_every: Span,
    /// Of one burst of scanning.
    pub burst: Span,
    /// Between two looks at the system's Bluetooth service.
    pub health_every: Span,
    /// For pending writes to end when a device is detached.
    pub last_writes: Span,
}

impl Patience {
    /// The limits for real devices (trouble list B1, B3, A8, B10).
    pub const USUAL: Self = Self {
        connect: Span::from_secs(20),
        discover: Span::from_secs(20),
        call: Span::from_secs(10),
        ask: Span::from_secs(3),
        back_off_first: Span::from_millis(500),
        back_off_most: Span::from_secs(5),
        settle: Span::from_millis(500),
        resubscribe_after: Span::from_secs(5),
        reconnect_after: Span::from_secs(10),
        doubt_after: Span::from_millis(2500),
        doubt_every: Span::from_secs(2),
        burst: Span::from_secs(4),
        health_every: Span::from_secs(3),
        last_writes: Span::from_secs(3),
    };

    /// The wait after `failures` attempts in a row have failed.
    pub(crate) fn back_off(&self, failures: u32) -> Span {
        let doubled = self.back_off_first * (1 << failures.saturating_sub(1).min(16));
        doubled.min(self.back_off_most)
    }
}

impl Default for Patience {
    fn default() -> Self {
        Self::USUAL
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_from_half_a_second_to_five() {
        let waits: Vec<_> = (1..=6)
            .map(|n| Patience::USUAL.back_off(n).as_nanos() / 1_000_000)
            .collect();
        assert_eq!(waits, [500, 1000, 2000, 4000, 5000, 5000]);
        assert_eq!(Patience::USUAL.back_off(u32::MAX), Span::from_secs(5));
    }
}
