//! What the trainer says of its own accord: that it took control or load away, or which target it
//! has now, which stands for an answer that never comes.

use super::Controller;
use super::patience::{ECHO_WITHIN, LONGEST_BACK_OFF};
use super::pending::{Pending, is_echo, is_load};
use crate::control::demand::{ControlMode, Demand, LIGHT_LOAD_W};
use crate::control::event::ControlEvent;
use crate::fitness_machine::control::StopOrPause;
use crate::fitness_machine::status::Status;

impl Controller {
    pub(super) fn handle_status(&mut self, status: &Status) {
        match status {
            Status::ControlPermissionLost => {
                self.forget_control();
                self.lose("the trainer took it back");
            }
            Status::StoppedBySafetyKey => self.lose("the safety key was pulled"),
            Status::StoppedOrPaused(StopOrPause::Stop) => self.lose("stopped at the trainer"),
            // Some trainers pause by themselves whenever nobody pedals (common practice).
            Status::StoppedOrPaused(_) => self.started = false,
            Status::Reset if is_load(self.wanted) => {
                self.forget_control();
                self.lose("the trainer was reset");
            }
            _ => self.take_echo(status),
        }
    }

    /// The load is gone, or no longer ours: what is under way is forgotten, and nothing but a
    /// release follows.
    fn lose(&mut self, reason: &'static str) {
        self.started = false;
        if let Some(pending) = self.pending.take() {
            self.remember_overtaken(&pending);
        }
        self.forget_load();
        self.event(ControlEvent::Lost { reason });
    }

    /// A careless trainer changes its load but never answers: its own word will do, once there
    /// was time enough for an answer.
    fn take_echo(&mut self, status: &Status) {
        let now = self.now;
        let echoes = |pending: &Pending| is_echo(status, &pending.request);
        if let Some(pending) = self.pending.as_mut().filter(|pending| echoes(pending)) {
            pending.echoed = Some(now);
            if pending.tell_at.is_none() {
                self.confirm_echo();
            }
            return;
        }
        let settled = now - self.confirmed_at > ECHO_WITHIN;
        if self.confirmed == Some(Demand::Release) && settled && self.is_load_by_status(status) {
            // Loaded by somebody else while we hold control and want it released.
            self.not_before = self.not_before.max(self.last_written + LONGEST_BACK_OFF);
            self.suspect_load();
        }
    }

    fn is_load_by_status(&self, status: &Status) -> bool {
        match (status, self.mode) {
            (Status::TargetPowerChanged { power_w }, _) => *power_w > LIGHT_LOAD_W,
            (
                Status::TargetResistanceChanged { level, .. },
                ControlMode::Resistance { lowest, .. },
            ) => *level > lowest,
            (Status::SimulationChanged(road), _) => road.grade_pct > 0.0,
            _ => false,
        }
    }

    /// Takes the trainer's own word for the answer that did not come. Gives whether there was one.
    pub(super) fn confirm_echo(&mut self) -> bool {
        let Some(pending) = self.pending.take_if(|pending| pending.echoed.is_some()) else {
            return false;
        };
        let echoed = pending.echoed.unwrap_or(pending.written);
        self.confirm(pending.demand, echoed - pending.written);
        true
    }
}
