//! How a procedure ends: it failed, it is over, or it is broken off; and how the step that asked for
//! it hears of the end.

use super::telling::News;
use crate::machine::Bench;
use crate::procedures::{AskedBy, Running, Which};
use protocol::{Input, Phase};
use sensor::fitness_machine::control::Request;
use units::Timestamp;

impl Bench {
    /// Ends what runs, without telling the runner, which ended it or will begin it anew.
    pub(crate) fn break_off(&mut self, at: Timestamp, which: Which, why: &str) {
        self.procedures.asked = None;
        for one in std::mem::take(&mut self.procedures.running) {
            if which == Which::OfStep && one.asked_by != AskedBy::Script {
                self.procedures.running.push(one);
                continue;
            }
            let words = format!("broken off: {why}");
            self.tell_of_at(
                at,
                one.source,
                &News::plain(one.called(), "broken off", words),
            );
            if one.has_begun_spin_down() {
                self.write_to_trainer(one.source, &Request::Reset);
            }
            self.procedure_is_over();
        }
    }

    pub(super) fn procedure_failed(&mut self, one: &Running, reason: String) {
        let called = one.called();
        self.tell_of(one.source, &News::plain(called, "failed", reason.clone()));
        if one.asked_by == AskedBy::Script {
            let name = self.name_of(one.source).unwrap_or_default();
            self.failed_for_script(format!("{name}: {reason}"));
        }
        self.procedure_is_over();
    }

    pub(super) fn failed_for_script(&mut self, words: String) {
        if let Some(asked) = &mut self.procedures.asked {
            asked.failures.push(words);
        }
    }

    pub(super) fn procedure_is_over(&mut self) {
        self.procedures.ended = Some(self.now);
        self.procedures.words = None;
    }

    /// Tells the runner that what the step waits for is over. A paused run is not told: it begins
    /// the procedure anew when it is resumed.
    pub(super) fn tell_runner(&mut self) {
        let open = |one: &Running| one.asked_by == AskedBy::Script;
        if self.procedures.running.iter().any(open) {
            return;
        }
        let Some(asked) = self.procedures.asked.take() else {
            return;
        };
        if self.runner.status().phase != Phase::Riding {
            return;
        }
        let outcome = if asked.failures.is_empty() {
            Ok(())
        } else {
            Err(asked.failures.join("; "))
        };
        let procedure = asked.procedure;
        self.runner
            .handle(self.now, Input::ProcedureEnded { procedure, outcome });
    }

    /// Since when silence of an instrument counts: cranks that stood still on purpose are none.
    pub(crate) fn silent_since(&self, last_packet: Timestamp) -> Timestamp {
        self.procedures
            .ended
            .map_or(last_packet, |ended| ended.max(last_packet))
    }
}
