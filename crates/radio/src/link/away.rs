//! Away from a link: an attempt that failed, a link that is given up or went down, and the rest until
//! the next attempt.

use super::{Link, Output, Phase, What};
use crate::fault::HostFault;
use crate::news::LinkState;
use units::{Span, Timestamp};

impl Link {
    /// Whether the system believes, as far as we know, that there is a link.
    pub(crate) const fn is_linked(&self) -> bool {
        matches!(
            self.phase,
            Phase::Discovering { .. }
                | Phase::Settling { .. }
                | Phase::Subscribing { .. }
                | Phase::Pausing { .. }
                | Phase::Live
        )
    }

    /// An attempt failed. The link, or half a link, may be up: it is taken down (B1, B2).
    pub(super) fn fail(&mut self, fault: &HostFault, now: Timestamp) {
        let half_up = self.is_linked() || self.phase == Phase::Connecting;
        self.failures = self.failures.saturating_add(1);
        if self.is_linked() {
            self.deep_failures += 1;
        }
        // Two failures with the link up, or six without, and the connection with the system's
        // service itself is suspect (B8, F3).
        self.renew_first = self.deep_failures >= 2 || self.failures.is_multiple_of(6);
        if self.deep_failures >= 2 {
            self.deep_failures = 0;
        }
        if self.failures == 3 {
            self.out.push_back(Output::Trouble(
                fault.kind(),
                format!("no link after {} attempts: {fault}", self.failures),
                match fault {
                    HostFault::TimedOut | HostFault::Other(_) | HostFault::NotConnected => {
                        HostFault::NotFound.remedy()
                    }
                    other => other.remedy(),
                },
            ));
        }
        let pause = self.patience.back_off(self.failures);
        let words = format!("{fault}; next attempt in {:.1} s", pause.as_secs_f64());
        self.drop_link(&words);
        if half_up {
            self.phase = Phase::Closing { then: Some(pause) };
            self.call(What::Disconnect, self.patience.call);
        } else {
            self.rest(now, pause);
        }
    }

    /// The link is given up although the system may hold it: it is taken down first.
    pub(super) fn lose_linked(&mut self, words: &str) {
        self.drop_link(words);
        self.phase = Phase::Closing {
            then: Some(self.patience.back_off_first),
        };
        self.call(What::Disconnect, self.patience.call);
    }

    pub(super) fn drop_link(&mut self, words: &str) {
        self.abandon();
        self.watch.clear();
        self.to_resubscribe.clear();
        self.out.push_back(Output::CloseDrain);
        self.set(LinkState::Lost, words);
    }

    pub(super) fn rest(&mut self, now: Timestamp, pause: Span) {
        let until = self.adapter_ready.then(|| now + pause);
        self.phase = Phase::Resting { until };
    }

    pub(super) fn finish(&mut self) {
        self.phase = Phase::Idle;
        self.set(LinkState::Idle, "detached");
        self.out.push_back(Output::Finished);
    }
}
