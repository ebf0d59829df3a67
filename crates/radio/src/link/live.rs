//! While the link is live: what to do about the age of its values, and what answers say of it.

use super::{Link, Output, Phase, Reply, What};
use crate::fault::HostFault;
use crate::news::TroubleKind;
use crate::watch::Advice;
use units::Timestamp;

impl Link {
    pub(super) fn look_at_ages(&mut self, now: Timestamp) {
        while let Some(advice) = self.watch.advise(now) {
            match advice {
                Advice::Reconnect(characteristic, age) => {
                    let quiet = self.watch.quiet_link();
                    self.renew_first = quiet >= 2;
                    self.said_silent &= quiet >= 2;
                    if quiet >= 2 && !std::mem::replace(&mut self.said_silent, true) {
                        self.out.push_back(Output::Trouble(
                            TroubleKind::Silent,
                            "the device lets us link and then sends nothing".to_owned(),
                            "turn the cranks, check its battery, and end other programs that \
                             may hold it",
                        ));
                    }
                    let words = format!("{characteristic} silent for {:.1} s", age.as_secs_f64());
                    self.lose_linked(&words);
                    return;
                }
                Advice::NeverSpeaks(characteristic) => {
                    self.out.push_back(Output::Trouble(
                        TroubleKind::Silent,
                        format!("{characteristic} is offered and switched on, but sends nothing"),
                        "nothing to do; the device's other values are recorded",
                    ));
                }
                Advice::Resubscribe(characteristic) => {
                    self.to_resubscribe.push_back(characteristic);
                }
                Advice::Ask if self.calling.is_none() => {
                    self.call(What::Ask, self.patience.ask);
                }
                Advice::Ask => {}
            }
        }
        self.resubscribe_next();
    }

    fn resubscribe_next(&mut self) {
        if self.calling.is_none()
            && let Some(characteristic) = self.to_resubscribe.pop_front()
        {
            self.call(What::Resubscribe(characteristic), self.patience.call);
        }
    }

    pub(super) fn live_answer(
        &mut self,
        what: What,
        result: Result<Reply, HostFault>,
        now: Timestamp,
    ) {
        match (what, result) {
            (What::Ask, Ok(Reply::Linked(false))) => {
                self.drop_link("the system says that the link is down");
                self.rest(now, self.patience.back_off_first);
            }
            (What::Ask, Ok(_)) => self.doubtful_answers = 0,
            (What::Ask, Err(fault)) => {
                self.doubtful_answers += 1;
                if self.doubtful_answers >= 2 {
                    self.lose_linked(&format!("the system does not answer: {fault}"));
                }
            }
            (_, Err(fault)) if fault.ends_link() => {
                self.lose_linked(&format!("subscribing again failed: {fault}"));
            }
            _ => {}
        }
        if self.phase == Phase::Live {
            self.resubscribe_next();
        }
    }
}
