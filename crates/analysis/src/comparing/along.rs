//! The seconds of several sessions on one axis: by the steps of the script, or by the session's
//! clock.

use super::sides::{Side, sessions};
use crate::evidence::StepSpan;
use crate::outcome::NotTested;

/// How sessions are laid over each other.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Along {
    /// The beginnings of each step together.
    #[default]
    Step,
    /// The beginnings of the recordings together.
    Clock,
}

impl Along {
    /// The word of the JSON document and of the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Step => "step",
            Self::Clock => "clock",
        }
    }

    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Step => "each step’s beginnings put together",
            Self::Clock => "the beginnings of the recordings put together",
        }
    }
}

/// One second of a session on the common axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Second {
    /// Where on the axis, s.
    pub(super) at_s: i64,
    /// When, on the session's own clock, s.
    pub(super) clock_s: i64,
    /// Device, W.
    pub(super) under_test_w: Option<f64>,
    /// Reference as indicated, W.
    pub(super) reference_w: Option<f64>,
}

/// A step on the common axis.
#[derive(Clone, Debug, PartialEq)]
pub struct LaidStep {
    /// Its title.
    pub title: String,
    /// Power asked for, W.
    pub target_w: Option<f64>,
    /// Where it begins on the axis, s.
    pub at_s: f64,
    /// The longest that it was ridden in any session, s.
    pub longest_s: f64,
    /// When it began in each session, s of that session's clock; `None` where it was not ridden.
    pub began_s: Vec<Option<f64>>,
}

/// The seconds of all sessions by the session's clock.
pub(super) fn by_clock(sides: &[Side<'_>]) -> Vec<Vec<Second>> {
    sides
        .iter()
        .map(|side| seconds(side, i64::MIN, i64::MAX, 0))
        .collect()
}

/// The seconds of all sessions by the steps of the script.
///
/// # Errors
/// [`NotTested`] if the sessions did not ride the same steps; the reason names the first that
/// differs.
pub(super) fn by_step(sides: &[Side<'_>]) -> Result<(Vec<Vec<Second>>, Vec<LaidStep>), NotTested> {
    let last: Vec<Vec<&StepSpan>> = sides.iter().map(|side| last_attempts(side.steps)).collect();
    same_steps(sides, &last).map_err(|reason| NotTested {
        examination: "overlay by step",
        reason,
    })?;
    let mut planned: Vec<usize> = last.iter().flatten().map(|step| step.index).collect();
    planned.sort_unstable();
    planned.dedup();
    let mut laid = Vec::with_capacity(planned.len());
    let mut all = vec![Vec::new(); sides.len()];
    let mut at_s = 0;
    for index in planned {
        let of = |side: usize| last[side].iter().find(|step| step.index == index).copied();
        let ridden: Vec<Option<&StepSpan>> = (0..sides.len()).map(of).collect();
        let mut longest_s = 0;
        for ((side, step), seconds_of) in sides.iter().zip(&ridden).zip(&mut all) {
            let Some(step) = step else { continue };
            let from_s = step.from.as_secs_f64().ceil() as i64;
            let to_s = step.to.as_secs_f64().floor() as i64;
            longest_s = longest_s.max(to_s - from_s);
            seconds_of.extend(seconds(side, from_s, to_s, at_s - from_s));
        }
        if let Some(any) = ridden.iter().flatten().next() {
            laid.push(LaidStep {
                title: any.title.clone(),
                target_w: any.target_w,
                at_s: at_s as f64,
                longest_s: longest_s as f64,
                began_s: ridden
                    .iter()
                    .map(|step| step.map(|step| step.from.as_secs_f64()))
                    .collect(),
            });
        }
        at_s += longest_s;
    }
    Ok((all, laid))
}

/// The last attempt of each step, in the order of the plan.
fn last_attempts(steps: &[StepSpan]) -> Vec<&StepSpan> {
    let mut last: Vec<&StepSpan> = Vec::new();
    for step in steps {
        match last.iter_mut().find(|known| known.index == step.index) {
            Some(known) if step.attempt >= known.attempt => *known = step,
            Some(_) => {}
            None => last.push(step),
        }
    }
    last.sort_by_key(|step| step.index);
    last
}

/// Whether all rode the same steps: scripts of one digest, or steps of the same titles and targets.
fn same_steps(sides: &[Side<'_>], ridden: &[Vec<&StepSpan>]) -> Result<(), String> {
    let stepless: Vec<usize> = (0..sides.len()).filter(|i| ridden[*i].is_empty()).collect();
    if !stepless.is_empty() {
        return Err(format!(
            "{} holds no steps of a script; lay the sessions over each other by the clock",
            sessions(&stepless)
        ));
    }
    for (index, side) in sides.iter().enumerate().skip(1) {
        let digest = |side: &Side<'_>| side.script.as_ref().map(|script| script.sha256.clone());
        if digest(side).is_some() && digest(side) == digest(&sides[0]) {
            continue;
        }
        for step in &ridden[index] {
            let first = ridden[0].iter().find(|known| known.index == step.index);
            let Some(first) = first else { continue };
            if first.title != step.title || first.target_w != step.target_w {
                return Err(format!(
                    "session {} rode another script than session 1: step {} is {} there and {} \
                     here; lay them over each other by the clock, or ride one script in both",
                    index + 1,
                    step.index + 1,
                    step_words(first),
                    step_words(step)
                ));
            }
        }
        if ridden[index].len() != ridden[0].len() {
            return Err(format!(
                "session {} rode another script than session 1: {} steps there and {} here; lay \
                 them over each other by the clock, or ride one script in both",
                index + 1,
                ridden[0].len(),
                ridden[index].len()
            ));
        }
    }
    Ok(())
}

fn step_words(step: &StepSpan) -> String {
    match step.target_w {
        Some(watts) => format!("“{}” at {watts:.0} W", step.title),
        None => format!("“{}”", step.title),
    }
}

/// The seconds of a side from `from_s` up to `to_s`, moved by `moved_s`.
fn seconds(side: &Side<'_>, from_s: i64, to_s: i64, moved_s: i64) -> Vec<Second> {
    let traces = &side.findings.traces;
    traces
        .under_test_w
        .iter()
        .zip(&traces.reference_w)
        .zip(traces.from_s..)
        .filter(|(_, at_s)| (from_s..to_s).contains(at_s))
        .map(|((under_test_w, reference_w), at_s)| Second {
            at_s: at_s + moved_s,
            clock_s: at_s,
            under_test_w: *under_test_w,
            reference_w: *reference_w,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::super::samples::{Sample, sides};
    use super::*;
    use crate::findings::PairedTraces;

    fn traces(seconds: usize) -> PairedTraces {
        let known: Vec<Option<f64>> = (0..seconds).map(|s| Some(s as f64)).collect();
        PairedTraces {
            from_s: 0,
            under_test_w: known.clone(),
            reference_w: known.clone(),
            cadence_rpm: known.clone(),
            speed_kmh: known,
        }
    }

    fn sample(steps: &[(&'static str, f64, i64, i64)]) -> Sample {
        Sample {
            steps: steps.to_vec(),
            traces: traces(200),
            ..Sample::default()
        }
    }

    #[test]
    fn the_beginnings_of_each_step_lie_together() {
        // The second rider took 20 s longer over the first step and began it 5 s later.
        let first = sample(&[("easy", 100.0, 10, 30), ("hard", 200.0, 40, 60)]);
        let other = sample(&[("easy", 100.0, 15, 50), ("hard", 200.0, 65, 60)]);
        let (all, laid) = by_step(&sides(&[first, other])).unwrap();
        assert_eq!(laid.len(), 2);
        assert_eq!((laid[0].longest_s, laid[1].at_s), (50.0, 50.0));
        assert_eq!(laid[1].began_s, [Some(40.0), Some(65.0)]);
        // The seconds hold their own session's clock as watts, so the pairing can be read off.
        let at = |session: usize, at_s: i64| {
            let found = all[session].iter().find(|second| second.at_s == at_s);
            found.and_then(|second| second.under_test_w)
        };
        assert_eq!((at(0, 0), at(1, 0)), (Some(10.0), Some(15.0)));
        assert_eq!((at(0, 29), at(0, 30)), (Some(39.0), None));
        assert_eq!((at(0, 50), at(1, 50)), (Some(40.0), Some(65.0)));
    }

    #[test]
    fn another_script_is_refused_with_the_step_that_differs() {
        let first = sample(&[("easy", 100.0, 0, 30), ("hard", 200.0, 30, 60)]);
        let mut other = sample(&[("easy", 100.0, 0, 30), ("harder", 250.0, 30, 60)]);
        other.script = Some("another");
        let refused = by_step(&sides(&[first.clone(), other.clone()])).unwrap_err();
        assert!(
            refused.reason.contains("step 2 is “hard” at 200 W"),
            "{refused}"
        );
        // The same steps under another name are the same steps.
        other.steps = first.steps.clone();
        assert!(by_step(&sides(&[first.clone(), other])).is_ok());
        let none = by_step(&sides(&[first, Sample::default()])).unwrap_err();
        assert!(none.reason.contains("session 2 holds no steps"), "{none}");
    }

    #[test]
    fn by_the_clock_every_second_is_there() {
        let all = by_clock(&sides(&[sample(&[]), sample(&[])]));
        assert_eq!(all[1].len(), 200);
        assert_eq!(all[1][7].at_s, 7);
    }
}
