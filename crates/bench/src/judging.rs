//! Between the bench and its judgement: the completed seconds in, flags and what the runner has to
//! know out.

use crate::happening::Happening;
use crate::instrument::Instrument;
use crate::judge::flag_view;
use crate::machine::Bench;
use crate::model::InstrumentRole;
use analysis::grid::Pair;
use analysis::watch::GateState;
use protocol::{DecisionState, Input};
use std::sync::Arc;
use units::Timestamp;

impl Bench {
    /// Judges every second that is over by now, and tells the runner what came of it.
    pub(crate) fn judge_completed_seconds(&mut self) {
        while Timestamp::from_secs(self.judge.next_s + 1) <= self.now {
            self.judge_second();
            self.judge.next_s += 1;
        }
    }

    fn judge_second(&mut self) {
        let instruments = &self.instruments;
        let stream = |role| {
            instruments
                .iter()
                .find(|one| one.plan().role == role)
                .and_then(Instrument::main_stream)
        };
        let (Some(under_test), Some(reference)) = (
            stream(InstrumentRole::UnderTest),
            stream(InstrumentRole::PrimaryReference),
        ) else {
            return;
        };
        let pair = Pair {
            under_test,
            reference,
        };
        let step = self.record.open_step().zip(self.record.visit());
        let raised = self.judge.judge(pair, step, self.record.is_invalid_now());
        let at = self.now;
        for flag in &raised {
            let view = flag_view(flag);
            self.event(
                at,
                Happening::Flag {
                    from_ns: view.from.as_nanos(),
                    to_ns: view.to.as_nanos(),
                    severity: view.severity,
                    words: view.words,
                },
            );
        }
        if let Some(flags) = self.judge.changed_flags() {
            self.flags = Arc::new(flags);
        }
        let gate = match self.judge.watch.gate() {
            GateState::NotJudged | GateState::Settling { .. } => protocol::GateState::Settling,
            GateState::Steady { .. } => protocol::GateState::Steady,
            GateState::NotSteady { reason } => protocol::GateState::NotSteady {
                because: reason.into_owned(),
            },
        };
        self.runner.handle(at, Input::Gate(gate));
        if let Some(look) = self.judge.look.take() {
            self.event(
                at,
                Happening::Decision {
                    condition: look.condition,
                    words: look.words,
                    decided: look.decided,
                },
            );
        }
        let decision = if self.judge.is_decided(self.record.visit()) {
            DecisionState::Decided
        } else {
            DecisionState::Open
        };
        self.runner.handle(at, Input::Decision(decision));
    }
}
