//! When a commit is due. Pure: the time is an argument.

use units::{Span, Timestamp};

/// Holds back commits so that rows share one, but never for longer than a set time.
///
/// Tell it of every row; commit when [`CommitTimer::is_due`] says so, or sleep until
/// [`CommitTimer::deadline`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CommitTimer {
    longest_wait: Span,
    deadline: Option<Timestamp>,
}

impl CommitTimer {
    /// The longest that a row waits for its commit, from the project's design.
    pub const LONGEST_WAIT: Span = Span::from_millis(250);

    /// With the usual longest wait.
    pub fn new() -> Self {
        Self::with_wait(Self::LONGEST_WAIT)
    }

    /// With another longest wait.
    pub fn with_wait(longest_wait: Span) -> Self {
        Self {
            longest_wait,
            deadline: None,
        }
    }

    /// A row was appended at `now`. Only the first since the last commit starts the clock.
    pub fn appended(&mut self, now: Timestamp) {
        self.deadline.get_or_insert(now + self.longest_wait);
    }

    /// When the next commit must be done; `None` if nothing waits for one.
    pub fn deadline(&self) -> Option<Timestamp> {
        self.deadline
    }

    /// Whether the next commit must be done at `now`.
    pub fn is_due(&self, now: Timestamp) -> bool {
        self.deadline.is_some_and(|deadline| now >= deadline)
    }

    /// Everything so far is committed.
    pub fn committed(&mut self) {
        self.deadline = None;
    }
}

impl Default for CommitTimer {
    fn default() -> Self {
        Self::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_first_row_sets_the_deadline_and_a_commit_clears_it() {
        let mut timer = CommitTimer::new();
        assert!(!timer.is_due(Timestamp::MAX));
        timer.appended(Timestamp::from_millis(1000));
        timer.appended(Timestamp::from_millis(1200));
        assert_eq!(timer.deadline(), Some(Timestamp::from_millis(1250)));
        assert!(!timer.is_due(Timestamp::from_millis(1249)));
        assert!(timer.is_due(Timestamp::from_millis(1250)));
        timer.committed();
        assert_eq!(timer.deadline(), None);
    }
}
