//! The bench as the screen may see it.

pub(crate) mod script;

use crate::machine::Bench;
use crate::model::{BrakeView, GateView, InstrumentRole, Model, Phase, PromptView, StepView};
use crate::plan::Origin;
use protocol::{GateState, Target};
pub use script::script_view;
use std::sync::Arc;
use units::{RevPerMin, Span};

impl Bench {
    /// A snapshot for the screen; cheap, because curves are shared.
    pub fn model(&self) -> Model {
        let control = self.controller.state();
        Model {
            now: self.now,
            phase: self.phase(),
            simulated: self.plan.origin == Origin::Simulated,
            script: Arc::clone(&self.script),
            step: self.step_view(),
            prompt: self.prompt(),
            instruments: self
                .instruments
                .iter()
                .map(|one| one.view(self.now))
                .collect(),
            target_w: self.target_w.clone(),
            comparison: self.judge.view(),
            flags: Arc::clone(&self.flags),
            brake: BrakeView {
                confirmed: control.confirmed,
                released: control.released,
                answer: if control.needs_new_link {
                    "no answer for 30 s; it takes no load until its link is made anew".to_owned()
                } else {
                    self.brake.answer.clone()
                },
                told: self.brake.told.clone(),
            },
            notices: Arc::clone(&self.notices),
        }
    }

    fn phase(&self) -> Phase {
        if let Some(reason) = &self.ended {
            return Phase::Ended {
                reason: reason.clone(),
            };
        }
        let status = self.runner.status();
        match status.phase {
            protocol::Phase::NotStarted => Phase::Ready,
            protocol::Phase::Readiness => Phase::Cautions,
            protocol::Phase::Riding | protocol::Phase::CoolDownOffered => Phase::Riding,
            protocol::Phase::Paused(reason) => Phase::Paused {
                reason: reason.to_string(),
            },
            protocol::Phase::Finished => Phase::Ended {
                reason: status
                    .ended
                    .map_or_else(String::new, |reason| reason.to_string()),
            },
        }
    }

    fn step_view(&self) -> Option<StepView> {
        let status = self.runner.status();
        let index = status.step?;
        let steps = &self.runner.plan().steps;
        let planned = steps.get(index)?;
        let judged = planned.feeds.wants_steady() || planned.feeds == protocol::Feeds::Drift;
        Some(StepView {
            index,
            attempt: status.attempt,
            title: planned.title.clone(),
            elapsed: status.elapsed,
            remaining: status.remaining,
            target_w: match status.target {
                Some(Target::Power(power)) => Some(power.get()),
                _ => None,
            },
            cadence_rpm: planned.cadence().map(RevPerMin::get),
            next: status
                .next
                .and_then(|next| steps.get(next))
                .map(|next| next.title.clone()),
            gate: match (judged, status.invalid, status.gate) {
                (false, _, _) => GateView::NotJudged,
                (true, Some(reason), _) => GateView::NotSteady { reason },
                (true, None, _) if status.elapsed < planned.settle => GateView::Settling {
                    remaining: planned.settle - status.elapsed,
                },
                (true, None, GateState::Settling) => GateView::Settling {
                    remaining: Span::ZERO,
                },
                (true, None, GateState::Steady) => GateView::Steady,
                (true, None, GateState::NotSteady { because }) => {
                    GateView::NotSteady { reason: because }
                }
            },
        })
    }

    fn prompt(&self) -> Option<PromptView> {
        let status = self.runner.status();
        if let (None, Some(words)) = (&status.prompt, &self.procedures.words) {
            return Some(PromptView {
                text: words.clone(),
                waits: false,
            });
        }
        match (status.prompt, status.cue) {
            (Some(prompt), _) => Some(PromptView {
                text: prompt.text,
                waits: true,
            }),
            (None, Some(cue)) if !cue.text.is_empty() => Some(PromptView {
                text: cue.text,
                waits: false,
            }),
            _ => None,
        }
    }

    /// The title of the step being ridden.
    pub fn step_title(&self) -> Option<&str> {
        self.record.open_step().map(|step| step.title.as_str())
    }

    /// The name of the device under test, if there is one.
    pub fn under_test_name(&self) -> Option<&str> {
        let index = self.position(InstrumentRole::UnderTest)?;
        Some(&self.instruments[index].plan().name)
    }
}
