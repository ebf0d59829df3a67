//! What is believed of the trainer: whether it is loaded, whether it is ours to control, and which
//! loads may still be answered.

use super::Controller;
use super::patience::RETRY_AFTER;
use super::pending::{Overtaken, Pending, is_load};
use crate::control::demand::Demand;
use crate::control::event::ControlEvent;
use units::Span;

impl Controller {
    pub(super) fn confirm(&mut self, demand: Option<Demand>, after: Span) {
        let Some(demand) = demand else { return };
        self.confirmed = Some(demand);
        self.confirmed_at = self.now;
        self.maybe_loaded = demand != Demand::Release;
        self.back_off = RETRY_AFTER;
        self.tries = 0;
        self.event(ControlEvent::Confirmed { demand, after });
    }

    pub(super) fn suspect_load(&mut self) {
        self.maybe_loaded = true;
        if self.confirmed == Some(Demand::Release) {
            self.confirmed = None;
        }
    }

    pub(super) fn forget_control(&mut self) {
        self.has_control = false;
        self.started = false;
        self.silent_asks = 0;
    }

    /// Forgets the wish for a load. What remains to be said is a release, if one may be needed or
    /// was wanted already.
    pub(super) fn forget_load(&mut self) {
        let releasing = self.wanted == Some(Demand::Release) && self.confirmed != self.wanted;
        self.wanted = (self.maybe_loaded || releasing).then_some(Demand::Release);
        self.confirmed = None;
        self.refused = false;
        self.tries = 0;
        self.back_off = RETRY_AFTER;
        self.not_before = self.now;
    }

    pub(super) fn remember_overtaken(&mut self, pending: &Pending) {
        if is_load(pending.demand) {
            self.overtaken.push(Overtaken {
                op: pending.request.op_code(),
                written: pending.written,
            });
        }
    }
}
