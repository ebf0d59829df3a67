//! The rules no run may break, checked on what a run said.

use super::Transcript;
use protocol::{Answer, Output, Plan, ReadinessRule, RunnerConfig, SlopeLoad, Target};
use units::{Span, Timestamp};

/// Checks a whole transcript; the error says which rule was broken and when.
pub fn audit(transcript: &Transcript, plan: &Plan, config: &RunnerConfig) -> Result<(), String> {
    let mut audit = Audit {
        plan,
        config,
        ..Audit::new(plan, config)
    };
    for (at, output) in transcript {
        audit
            .hear(*at, output)
            .map_err(|rule| format!("at {at}: {rule} ({output:?})"))?;
    }
    Ok(())
}

struct Audit<'a> {
    plan: &'a Plan,
    config: &'a RunnerConfig,
    last_at: Timestamp,
    /// Whether somebody agreed to load since the last release.
    agreed: bool,
    finished: bool,
    released: bool,
    step: Option<(usize, u32)>,
    last_end: Option<Timestamp>,
    invalid: bool,
    prompted: bool,
    sent: Option<Target>,
    last_rise: Option<Timestamp>,
}

impl<'a> Audit<'a> {
    fn new(plan: &'a Plan, config: &'a RunnerConfig) -> Self {
        Self {
            plan,
            config,
            last_at: Timestamp::from_nanos(i64::MIN),
            agreed: config.readiness == ReadinessRule::AlreadyAccepted,
            finished: false,
            released: true,
            step: None,
            last_end: None,
            invalid: false,
            prompted: false,
            sent: None,
            last_rise: None,
        }
    }

    fn hear(&mut self, at: Timestamp, output: &Output) -> Result<(), &'static str> {
        let rule = |kept: bool, name: &'static str| if kept { Ok(()) } else { Err(name) };
        rule(at >= self.last_at, "time goes back")?;
        rule(!self.finished, "something comes after the end")?;
        self.last_at = at;
        match output {
            Output::SetTarget(target) => {
                rule(self.agreed, "a target without consent")?;
                rule(self.step.is_some(), "a target outside every step")?;
                self.released = false;
                self.target(at, *target)?;
            }
            Output::Release { .. } => {
                self.agreed = false;
                self.released = true;
                self.sent = None;
            }
            Output::Consent { to } => {
                rule(self.prompted, "consent to nothing")?;
                if matches!(to, Answer::Readiness | Answer::Resume | Answer::CoolDown) {
                    self.agreed = true;
                }
            }
            Output::StepBegan { index, attempt } => {
                rule(self.step.is_none(), "two steps at once")?;
                rule(*index < self.plan.steps.len(), "a step beyond the plan")?;
                if let Some(end) = self.last_end {
                    // An offered cool-down begins when it is accepted, not when the plan ends.
                    let offered = *index + 1 == self.plan.steps.len();
                    rule(end == at || offered, "a moment between steps")?;
                }
                self.step = Some((*index, *attempt));
            }
            Output::StepEnded { index, attempt, .. } => {
                rule(
                    self.step == Some((*index, *attempt)),
                    "another step ends than began",
                )?;
                self.step = None;
                self.last_end = Some(at);
            }
            Output::InvalidFrom { .. } => {
                rule(!self.invalid, "invalid twice")?;
                self.invalid = true;
            }
            Output::ValidAgain => {
                rule(self.invalid, "valid again without having been invalid")?;
                self.invalid = false;
            }
            Output::Prompt { .. } => self.prompted = true,
            Output::PromptCleared => {
                rule(self.prompted, "no prompt to clear")?;
                self.prompted = false;
            }
            Output::Finished { .. } => {
                rule(self.released, "loaded at the end")?;
                rule(self.step.is_none(), "a step outlives the run")?;
                rule(!self.invalid, "an invalid span outlives the run")?;
                rule(!self.prompted, "a prompt outlives the run")?;
                self.finished = true;
            }
            Output::Cue(_) | Output::Marker { .. } | Output::StartProcedure(_) => {}
        }
        Ok(())
    }

    fn target(&mut self, at: Timestamp, target: Target) -> Result<(), &'static str> {
        let range = &self.config.range;
        let fits = match target {
            Target::Power(power) => {
                power <= self.config.rider_ceiling
                    && range.power_w.is_some_and(|range| power.get() <= range.max)
            }
            Target::Resistance(level) => range.resistance.is_some_and(|range| range.holds(level)),
            Target::Slope(SlopeLoad { grade_pct, .. }) => {
                range.grade_pct.is_some_and(|range| range.holds(grade_pct))
            }
            Target::Free => true,
        };
        if !fits {
            return Err("above the ceiling or outside the range");
        }
        if let Target::Power(power) = target {
            let floor = range.power_w.map_or(0.0, |range| range.min);
            let low_w = self.config.low_load.get().max(floor);
            match self.sent {
                Some(Target::Power(before)) if power > before => {
                    if power.get() - before.get() > self.config.rise_w_per_s + 1e-9 {
                        return Err("a rise steeper than the limit");
                    }
                    if self
                        .last_rise
                        .is_some_and(|rise| at - rise < Span::from_secs(1))
                    {
                        return Err("two rises within a second");
                    }
                    self.last_rise = Some(at);
                }
                Some(Target::Power(_)) => {}
                _ if power.get() > low_w => return Err("power mode begins above low load"),
                _ => self.last_rise = Some(at),
            }
        }
        self.sent = Some(target);
        Ok(())
    }
}
