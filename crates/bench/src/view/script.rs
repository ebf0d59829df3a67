//! A script as a list for people, with what lies beyond the bench that rides it.

use crate::model::{BeyondView, PlannedStepView, ScriptView};
use crate::plan::BenchPlan;
use protocol::{Length, Plan};
use units::{Span, Watts};

/// A plan as a list for people.
pub fn script_view(plan: &Plan) -> ScriptView {
    let mut begins = Span::ZERO;
    ScriptView {
        name: plan.name.clone(),
        title: plan.title.clone(),
        steps: plan
            .steps
            .iter()
            .map(|step| PlannedStepView {
                title: step.title.clone(),
                begins: {
                    let begins_here = begins;
                    begins += step.length.expected();
                    begins_here
                },
                length: match step.length {
                    Length::Fixed(length) => Some(length),
                    _ => None,
                },
                target_w: step
                    .planned_power()
                    .map(|(from, to): (Watts, Watts)| [from.get(), to.get()]),
            })
            .collect(),
        total: plan.total(),
        beyond: Vec::new(),
    }
}

/// The script of a bench, with what lies beyond its device and its rider.
pub(crate) fn script_on(plan: &BenchPlan) -> ScriptView {
    let range = plan.runner.range.with_ceiling(plan.runner.rider_ceiling);
    let beyond_device = steps_to_cap(plan);
    ScriptView {
        beyond: plan
            .script
            .check_against(&range)
            .into_iter()
            .map(|beyond| BeyondView {
                index: beyond.index,
                to_be_capped: beyond_device.contains(&beyond.index),
                words: beyond.to_string(),
            })
            .collect(),
        ..script_view(&plan.script)
    }
}

/// The steps that the device could ride if they were brought into its range.
pub(crate) fn steps_to_cap(plan: &BenchPlan) -> Vec<usize> {
    plan.script
        .check_against(&plan.runner.range)
        .into_iter()
        .filter(|beyond| beyond.nearest.is_some())
        .map(|beyond| beyond.index)
        .collect()
}
