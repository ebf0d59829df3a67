//! Switching on what is wanted, one after the other, until the link is live.

use super::{Link, Output, Phase, Reply, What};
use crate::fault::HostFault;
use crate::news::{LinkState, TroubleKind};
use units::{Span, Timestamp};

const SUBSCRIBE_TRIES: u32 = 3;
pub(super) const SUBSCRIBE_PAUSE: Span = Span::from_millis(300);

impl Link {
    /// One after the other (B9).
    pub(super) fn subscribe_next(&mut self, tries: u32, now: Timestamp) {
        match self.to_subscribe.front() {
            Some(wanted) => {
                let what = What::Subscribe(wanted.characteristic);
                self.phase = Phase::Subscribing { tries };
                self.call(what, self.patience.call);
            }
            None => {
                self.phase = Phase::Live;
                self.failures = 0;
                self.deep_failures = 0;
                self.doubtful_answers = 0;
                self.set(LinkState::Live, "subscribed");
                self.look_at_ages(now);
            }
        }
    }

    pub(super) fn subscribed(
        &mut self,
        tries: u32,
        result: Result<Reply, HostFault>,
        now: Timestamp,
    ) {
        let Some(wanted) = self.to_subscribe.front().copied() else {
            return;
        };
        match result {
            Ok(_) => self.watch.subscribed(wanted, now),
            Err(fault) if fault.ends_link() => {
                self.fail(&fault, now);
                return;
            }
            Err(fault) if fault != HostFault::NotPaired && tries + 1 < SUBSCRIBE_TRIES => {
                self.phase = Phase::Pausing {
                    tries: tries + 1,
                    until: now + SUBSCRIBE_PAUSE,
                };
                return;
            }
            Err(fault) => {
                let words = format!("{} cannot be switched on: {fault}", wanted.characteristic);
                let kind = match fault {
                    HostFault::NotPaired => TroubleKind::NotPaired,
                    _ => TroubleKind::Missing,
                };
                self.out
                    .push_back(Output::Trouble(kind, words, fault.remedy()));
            }
        }
        self.to_subscribe.pop_front();
        self.subscribe_next(0, now);
    }
}
