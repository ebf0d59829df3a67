//! What is wanted of the trainer: a release or a load, until it is refused or given up.

use super::Controller;
use super::patience::{LONGEST_BACK_OFF, MOST_TRIES, RETRY_AFTER};
use super::pending::is_load;
use crate::control::demand::{Demand, request};
use crate::control::event::ControlEvent;
use units::Span;

impl Controller {
    pub(super) fn want_release(&mut self) {
        let repeated = self.wanted == Some(Demand::Release) && !self.refused;
        self.wanted = Some(Demand::Release);
        self.refused = false;
        self.back_off = RETRY_AFTER;
        if repeated {
            // Pressed again while it is being tried: sooner, but no faster than a first retry.
            self.not_before = self.not_before.min(self.last_written + RETRY_AFTER);
        } else {
            self.not_before = self.now;
            self.tries = 0;
        }
    }

    pub(super) fn want_load(&mut self, demand: Demand) {
        if self.wanted != Some(demand) || self.refused {
            self.tries = 0;
            self.back_off = RETRY_AFTER;
        }
        self.wanted = Some(demand);
        self.refused = false;
        if self.needs_new_link {
            let answer = "it has not answered for 30 s; the link has to be made anew first";
            self.refuse_wanted(answer.to_owned());
        } else if let Err(answer) = request(demand, self.mode, self.release_way) {
            self.refuse_wanted(answer);
        }
    }

    pub(super) fn refuse_wanted(&mut self, answer: String) {
        self.refused = true;
        if let Some(wanted) = self.wanted {
            let asked = wanted.to_string();
            self.event(ControlEvent::Refused { asked, answer });
        }
    }

    /// After something went wrong: not at once again, and each time a little later. A load is
    /// given up after a few tries, so that it is not applied when nobody expects it any more.
    pub(super) fn try_later(&mut self, after: Span, why: &str) {
        self.not_before = self.now + after;
        self.back_off = (self.back_off * 2).min(LONGEST_BACK_OFF);
        if is_load(self.wanted) && !self.refused && self.tries >= MOST_TRIES {
            self.refuse_wanted(format!("given up after {MOST_TRIES} tries: {why}"));
        }
    }
}
