//! A rider in trouble is brought to low load within the stated time, in every ready script.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "test helpers are tests as well"
)]

mod common;

use common::{Rider, Transcript, drain};
use protocol::{
    Command, Fault, Input, Load, Lost, Output, Plan, PlannedStep, Runner, RunnerConfig, StepKind,
    Target, ready_scripts,
};
use units::{Span, Timestamp, Watts};

/// Low load: what nobody has to be relieved of.
const LOW: Watts = Watts(100.0);
/// Stated times from the event to low load, at one reading a second.
const STOPPED_IN_POWER_MODE: Span = Span::from_secs(5);
const STOPPED_ON_A_SLOPE: Span = Span::from_secs(13);
const CHAIN_DROPPED: Span = Span::from_secs(7);

/// The steps worth breaking off: the hardest of each kind that holds a load on a pedalling rider.
fn hard_steps(plan: &Plan) -> Vec<&PlannedStep> {
    let mut hardest: Vec<&PlannedStep> = Vec::new();
    for step in &plan.steps {
        let heavy = step
            .planned_power()
            .is_some_and(|(from, to)| from.max(to) > LOW);
        let loaded = match step.load {
            Load::Power { .. } => heavy,
            Load::Slope { .. } | Load::Resistance(_) => true,
            Load::Free => false,
        };
        if !loaded
            || step.kind.allows_standing_still()
            || step.length.expected() < Span::from_secs(20)
        {
            continue;
        }
        match hardest.iter_mut().find(|other| other.kind == step.kind) {
            Some(other) if highest(other) < highest(step) => *other = step,
            Some(_) => {}
            None => hardest.push(step),
        }
    }
    hardest
}

fn highest(step: &PlannedStep) -> f64 {
    step.planned_power()
        .map_or(0.0, |(from, to)| from.max(to).get())
}

/// Rides to the middle of a step, lets something happen there, and rides on for half a minute.
fn break_off(
    plan: &Plan,
    index: usize,
    happen: impl Fn(&mut Rider, Timestamp) -> Option<Input>,
) -> (Timestamp, Transcript) {
    let mut runner = Runner::new(plan.clone(), RunnerConfig::default());
    let mut rider = Rider::new();
    let mut transcript = Transcript::new();
    let start = Timestamp::from_secs(5);
    runner.handle(start, Input::Start);
    let mut event = None;
    for tick in 1..20_000 {
        drain(&mut runner, &mut rider, &mut transcript);
        let now = start + Span::from_millis(tick * 1000 + 137);
        let status = runner.status();
        let half = plan.steps[index].length.expected() / 2;
        if event.is_none() && status.step == Some(index) && status.elapsed >= half {
            event = Some(now);
            if let Some(input) = happen(&mut rider, now) {
                runner.handle(now, input);
            }
        }
        if event.is_some_and(|at| now - at > Span::from_secs(30)) {
            break;
        }
        for input in rider.ride(now) {
            runner.handle(now, input);
        }
    }
    drain(&mut runner, &mut rider, &mut transcript);
    (event.expect("the step is reached"), transcript)
}

/// How long after the event the load was low and stayed low.
fn time_to_low(event: Timestamp, transcript: &Transcript) -> Option<Span> {
    let mut low_since = None;
    for (at, output) in transcript {
        let low = match output {
            Output::Release { .. } => true,
            Output::SetTarget(Target::Power(power)) => *power <= LOW,
            Output::SetTarget(Target::Free) => true,
            Output::SetTarget(_) => false,
            _ => continue,
        };
        match (low, low_since) {
            (true, None) => low_since = Some(*at),
            (true, Some(_)) => {}
            (false, _) => low_since = None,
        }
    }
    low_since.map(|at| (at - event).max(Span::ZERO))
}

fn check(
    name: &str,
    allowed: impl Fn(StepKind) -> Span,
    happen: fn(&mut Rider, Timestamp) -> Option<Input>,
) {
    let mut slowest = [Span::ZERO; 2];
    for ready in ready_scripts() {
        let script = ready.load().unwrap();
        for step in hard_steps(script.plan()) {
            let (event, transcript) = break_off(script.plan(), step.index, happen);
            let took = time_to_low(event, &transcript);
            let within = took.is_some_and(|took| took <= allowed(step.kind));
            assert!(
                within,
                "{name} in {} step {}: {took:?}",
                ready.name, step.index
            );
            let resumed = transcript.iter().any(|(at, output)| {
                *at > event + allowed(step.kind) && matches!(output, Output::SetTarget(_))
            });
            assert!(
                !resumed,
                "{name} in {} step {}: load came back",
                ready.name, step.index
            );
            let mode = usize::from(on_a_slope(step.kind));
            slowest[mode] = slowest[mode].max(took.unwrap());
        }
    }
    let [power, slope] = slowest;
    println!("{name}: low load after at most {power} in power mode, {slope} on a slope");
}

fn on_a_slope(kind: StepKind) -> bool {
    matches!(kind, StepKind::Slope | StepKind::Resistance)
}

#[test]
fn a_rider_who_stops_is_relieved() {
    let allowed = |kind| {
        if on_a_slope(kind) {
            STOPPED_ON_A_SLOPE
        } else {
            STOPPED_IN_POWER_MODE
        }
    };
    check("rider stops", allowed, |rider, now| {
        rider.stops_at = Some(now);
        None
    });
}

#[test]
fn a_dropped_chain_is_noticed_in_power_mode() {
    let mut slowest = Span::ZERO;
    for ready in ready_scripts() {
        let script = ready.load().unwrap();
        for step in hard_steps(script.plan()) {
            if on_a_slope(step.kind) {
                continue; // Nothing pulls on the rider there: without the chain there is no load.
            }
            let (event, transcript) = break_off(script.plan(), step.index, |rider, now| {
                rider.chain_drops_at = Some(now);
                None
            });
            let took = time_to_low(event, &transcript);
            let within = took.is_some_and(|took| took <= CHAIN_DROPPED);
            assert!(
                within,
                "chain in {} step {}: {took:?}",
                ready.name, step.index
            );
            slowest = slowest.max(took.unwrap());
        }
    }
    println!("chain drops: low load after at most {slowest}");
}

#[test]
fn everything_lost_releases_at_once() {
    for lost in [Lost::Link, Lost::Control, Lost::Reference] {
        let script = protocol::ready_script("level-sweep")
            .unwrap()
            .load()
            .unwrap();
        for step in hard_steps(script.plan()) {
            let (event, transcript) = break_off(script.plan(), step.index, |_, _| {
                Some(Input::Fault(Fault::Lost(lost)))
            });
            assert_eq!(time_to_low(event, &transcript), Some(Span::ZERO), "{lost}");
        }
    }
    check(
        "link lost",
        |_| Span::ZERO,
        |_, _| Some(Input::Fault(Fault::Lost(Lost::Link))),
    );
    check(
        "stop",
        |_| Span::ZERO,
        |_, _| Some(Input::Command(Command::Stop)),
    );
    check(
        "disk full",
        |_| Span::ZERO,
        |_, _| Some(Input::Fault(Fault::RecordingFailed("disk full".into()))),
    );
}
