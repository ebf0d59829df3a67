//! What an answer of the trainer means: the acknowledgement of a write, or the result of a procedure.
//!
//! Answers carry no number, only the op code they answer. A release that overtook a load of the
//! same op code is therefore believed to be confirmed only by an answer that cannot be the load's.

use super::Controller;
use super::patience::{ASK_AGAIN_AFTER, RETRY_AFTER};
use super::pending::{Pending, words};
use crate::control::demand::Demand;
use crate::control::event::ControlEvent;
use crate::fitness_machine::control::{Request, Response, ResultCode};
use units::AttError;

impl Controller {
    pub(super) fn write_failed(&mut self, pending: &Pending, error: &AttError) {
        // A write answered by an error has begun nothing; by the standard it is simply gone.
        // Which error it was is not known on every system, so all are treated alike: wait, ask
        // for control again, try once more, then report.
        self.tries += 1;
        self.has_control = false;
        let report_at = if pending.for_release { 1 } else { 2 };
        if self.tries == report_at {
            self.event(ControlEvent::WriteFailed {
                asked: words(pending),
                error: error.clone(),
            });
        }
        self.try_later(self.back_off, &error.to_string());
    }

    pub(super) fn handle_response(&mut self, response: &Response) {
        let op = response.request_op;
        let success = response.result == ResultCode::Success;
        let awaited = self
            .pending
            .as_ref()
            .filter(|pending| pending.request.op_code() == op);
        let awaits_release = awaited.is_some_and(|pending| pending.demand == Some(Demand::Release));
        if let Some(index) = self.overtaken.iter().position(|one| one.op == op)
            && (awaited.is_none() || awaits_release)
        {
            self.overtaken.remove(index);
            self.back_off = RETRY_AFTER;
            self.last_answered = self.now;
            if let Some(pending) = &mut self.pending {
                pending.silent_since = self.now;
            }
            if success {
                self.suspect_load();
            }
            return;
        }
        let Some(pending) = self
            .pending
            .take_if(|pending| pending.request.op_code() == op)
        else {
            return;
        };
        self.last_answered = self.now;
        self.overtaken.retain(|one| one.op != op);
        // The attribute protocol takes one request after the other, so what was written before
        // this has been acknowledged, whether or not anybody said so.
        self.unacknowledged
            .retain(|&sequence| sequence >= pending.sequence);
        self.take_result(pending, response.result);
    }

    fn take_result(&mut self, pending: Pending, result: ResultCode) {
        let after = self.now - pending.written;
        match (result, &pending.request) {
            (ResultCode::Success, Request::RequestControl) => {
                self.has_control = true;
                self.silent_asks = 0;
                self.event(ControlEvent::Granted);
            }
            // Some trainers do not know the request and are controlled without.
            (ResultCode::OpCodeNotSupported, Request::RequestControl) => {
                self.has_control = true;
                self.silent_asks = 0;
            }
            (result, Request::RequestControl) => {
                self.silent_asks = 0;
                self.tries += 1;
                if self.tries == 1 {
                    self.tell_refusal(&pending, result);
                }
                self.try_later(ASK_AGAIN_AFTER, &format!("request control: {result}"));
            }
            (ResultCode::ControlNotPermitted, _) => {
                self.forget_control();
                self.tries += 1;
                self.try_later(self.back_off, &result.to_string());
            }
            // Start while started is answered "operation failed", which is no failure of ours;
            // and a trainer without start and resume is driven without.
            (_, Request::StartOrResume) => self.started = true,
            (ResultCode::Success, Request::Reset) => {
                self.forget_control();
                self.confirm(pending.demand, after);
            }
            (ResultCode::Success, _) => {
                self.has_control = true;
                self.confirm(pending.demand, after);
            }
            (result, _) if pending.demand == Some(Demand::Release) => {
                self.tries += 1;
                if self.tries == 1 {
                    self.tell_refusal(&pending, result);
                }
                self.release_way = self.release_way.other();
                self.try_later(self.back_off, &result.to_string());
            }
            (result, _) => {
                self.tell_refusal(&pending, result);
                self.refused |= pending.demand == self.wanted;
            }
        }
    }

    fn tell_refusal(&mut self, pending: &Pending, result: ResultCode) {
        self.event(ControlEvent::Refused {
            asked: words(pending),
            answer: result.to_string(),
        });
    }
}
