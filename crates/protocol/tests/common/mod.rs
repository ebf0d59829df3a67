//! A rider of a few lines and a driver, shared by the tests.

#![allow(dead_code, reason = "each test file uses a part of it")]

pub mod audit;

use protocol::{
    Answer, Command, Cue, Input, Instrument, Output, Pedalling, Procedure, Quantity, Reading,
    Runner, Target,
};
use units::{MetresPerSecond, RevPerMin, Span, Timestamp, Watts};

/// Everything a run said, with its moments.
pub type Transcript = Vec<(Timestamp, Output)>;

/// A rider who does as the cue says, at once, on a device that does as it is told.
pub struct Rider {
    pub cue: Option<Cue>,
    pub target: Target,
    pub cadence_rpm: f64,
    pub speed_m_per_s: f64,
    /// From when on the rider no longer pedals, whatever the cue says.
    pub stops_at: Option<Timestamp>,
    /// From when on the legs turn without driving anything.
    pub chain_drops_at: Option<Timestamp>,
    prompted_at: Option<(Timestamp, Answer)>,
    procedure: Option<(Timestamp, Procedure)>,
}

impl Rider {
    pub fn new() -> Self {
        Self {
            cue: None,
            target: Target::Free,
            cadence_rpm: 0.0,
            speed_m_per_s: 0.0,
            stops_at: None,
            chain_drops_at: None,
            prompted_at: None,
            procedure: None,
        }
    }

    pub fn hear(&mut self, at: Timestamp, output: &Output) {
        match output {
            Output::SetTarget(target) => self.target = *target,
            Output::Release { .. } => self.target = Target::Free,
            Output::Cue(cue) => self.cue = Some(cue.clone()),
            Output::Prompt { answer, .. } => self.prompted_at = Some((at, *answer)),
            Output::PromptCleared => self.prompted_at = None,
            Output::StartProcedure(procedure) => self.procedure = Some((at, *procedure)),
            _ => {}
        }
    }

    /// One second of riding: what the instruments report.
    pub fn ride(&mut self, now: Timestamp) -> Vec<Input> {
        let waits = |seconds: i64| {
            self.prompted_at
                .is_some_and(|(at, _)| now - at < Span::from_secs(seconds))
        };
        let stands_for_prompt = matches!(self.prompted_at, Some((_, Answer::Pedal))) && waits(6);
        let stopped = self.stops_at.is_some_and(|at| now >= at);
        let cue = self.cue.as_ref();
        let pedalling = cue.map_or(Pedalling::Evenly, |cue| cue.pedalling);
        let asked = cue.and_then(|cue| cue.cadence).map_or(85.0, RevPerMin::get);
        let must_stop =
            pedalling == Pedalling::Stop && !matches!(self.prompted_at, Some((_, Answer::Pedal)));
        self.cadence_rpm = match pedalling {
            _ if stopped || stands_for_prompt || must_stop => 0.0,
            Pedalling::AllOut | Pedalling::AllOutFromStandstill => 120.0,
            _ => asked,
        };
        let off = self.chain_drops_at.is_some_and(|at| now >= at);
        let development_m = cue
            .and_then(|cue| cue.gear)
            .map_or(5.0, |gear| gear.development_m);
        let driven = self.cadence_rpm / 60.0 * development_m;
        let wished = cue
            .and_then(|cue| cue.speed)
            .map_or(driven, MetresPerSecond::get);
        let goal = if self.cadence_rpm > 0.0 && !off {
            driven.max(wished)
        } else {
            0.0
        };
        self.speed_m_per_s = if goal > 0.0 {
            goal
        } else {
            (self.speed_m_per_s - 1.5).max(0.0)
        };
        let works = self.cadence_rpm > 0.0 && !off;
        let power_w = match self.target {
            _ if !works => 0.0,
            Target::Power(power) => power.get(),
            Target::Free => 30.0,
            _ => match pedalling {
                Pedalling::AllOut | Pedalling::AllOutFromStandstill => 700.0,
                _ => cue.and_then(|cue| cue.effort).map_or(150.0, Watts::get),
            },
        };
        let reading = |instrument, quantity| {
            Input::Reading(Reading {
                instrument,
                quantity,
            })
        };
        let mut inputs = Vec::new();
        for instrument in [Instrument::UnderTest, Instrument::Reference] {
            inputs.push(reading(instrument, Quantity::Power(Watts(power_w))));
            inputs.push(reading(
                instrument,
                Quantity::Cadence(RevPerMin(self.cadence_rpm)),
            ));
        }
        let speed = Quantity::Speed(MetresPerSecond(self.speed_m_per_s));
        inputs.push(reading(Instrument::UnderTest, speed));
        match self.prompted_at {
            Some((at, Answer::Readiness)) if now > at => {
                inputs.push(Input::Command(Command::AcceptReadiness));
            }
            Some((at, Answer::Acknowledge | Answer::CoolDown)) if now > at => {
                inputs.push(Input::Command(Command::Acknowledge));
            }
            _ => {}
        }
        if let Some((at, procedure)) = self.procedure
            && now - at >= Span::from_secs(10)
        {
            self.procedure = None;
            inputs.push(Input::ProcedureEnded {
                procedure,
                outcome: Ok(()),
            });
        }
        inputs
    }
}

/// Drains the runner into transcript and rider.
pub fn drain(runner: &mut Runner, rider: &mut Rider, transcript: &mut Transcript) {
    while let Some((at, output)) = runner.poll_output() {
        rider.hear(at, &output);
        transcript.push((at, output));
    }
}

/// Rides until the end, one reading a second, at most `hours`.
pub fn ride_out(runner: &mut Runner, rider: &mut Rider, hours: i64) -> Transcript {
    let mut transcript = Transcript::new();
    let start = Timestamp::from_secs(5);
    runner.handle(start, Input::Start);
    drain(runner, rider, &mut transcript);
    for tick in 1..=hours * 3600 {
        if runner.is_finished() {
            break;
        }
        let now = start + Span::from_millis(tick * 1000 + 137);
        for input in rider.ride(now) {
            runner.handle(now, input);
        }
        drain(runner, rider, &mut transcript);
    }
    transcript
}
