//! From nothing to the services of the device: a new connection with the system where the old one is
//! suspect, a burst of scanning where air time allows, the device, its services.

use super::{Link, Phase, What};
use crate::news::LinkState;

impl Link {
    pub(super) fn begin(&mut self) {
        let words = match self.failures {
            0 => "looking for the device".to_owned(),
            n => format!("attempt {}", n.saturating_add(1)),
        };
        self.set(LinkState::Connecting, &words);
        if std::mem::take(&mut self.renew_first) {
            self.phase = Phase::Renewing;
            self.call(What::Renew, self.patience.call);
        } else if self.failures >= 2 && self.may_burst() {
            self.burst();
        } else {
            self.find(false);
        }
    }

    /// A scan takes air time from the links that are up: twice at first, then with every third
    /// attempt.
    pub(super) const fn may_burst(&self) -> bool {
        self.failures < 2 || (self.failures - 2).is_multiple_of(3)
    }

    pub(super) fn burst(&mut self) {
        self.phase = Phase::Bursting;
        self.call(What::Burst, self.patience.burst + self.patience.call);
    }

    pub(super) fn find(&mut self, burst_done: bool) {
        self.phase = Phase::Finding { burst_done };
        self.call(What::Find, self.patience.call);
    }

    pub(super) fn discover(&mut self, round: u32) {
        self.phase = Phase::Discovering { round };
        self.call(What::Discover, self.patience.discover);
    }
}
