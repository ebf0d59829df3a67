//! Random scripts, random riders, random faults: the rules hold, the run ends, replay repeats it.
//!
//! `PROPTEST_CASES=100000` in release mode takes the long look; the default is a quick one.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "test helpers are tests as well"
)]

mod common;

use common::Transcript;
use common::audit::audit;
use proptest::collection::vec;
use proptest::prelude::*;
use protocol::{
    Answer, Command, DecisionState, DeviceRange, EarlyEnd, Fault, GateState, Input, Instrument,
    Interval, Lost, Output, Procedure, Quantity, Reading, Runner, RunnerConfig, Script, StallGuard,
    ZeroOf,
};
use units::{MetresPerSecond, RevPerMin, Span, Timestamp, Watts};

/// One random step, as a script spells it.
fn step() -> impl Strategy<Value = String> {
    let watts = 0..1500_u32;
    let seconds = 1..90_u32;
    prop_oneof![
        4 => (watts.clone(), 2..90_u32, 40..130_u32).prop_map(|(w, s, rpm)| format!(
            "Hold(power_w: {w}, seconds: {s}, settle_seconds: {}, cadence_rpm: {rpm})", s / 2)),
        2 => (watts.clone(), watts.clone(), seconds.clone()).prop_map(|(a, b, s)| format!(
            "Ramp(from_w: {a}, to_w: {b}, seconds: {s})")),
        2 => (watts.clone(), watts.clone(), 1..4_u32, seconds.clone()).prop_map(|(a, b, n, s)| {
            format!("Alternate(levels_w: [{a}, {b}], seconds: {s}.5, times: {n})")
        }),
        1 => (watts.clone(), watts.clone(), 2..5_u32, 2..60_u32).prop_map(|(a, b, n, s)| format!(
            "Staircase(from_w: {a}, to_w: {b}, levels: {n}, order: UpDown, seconds: {s}, \
             settle_seconds: 1)")),
        1 => (watts.clone(), 2..60_u32).prop_map(|(w, s)| format!(
            "FlywheelLadder(power_w: {w}, speeds_kmh: [15, 30], seconds: {s}, settle_seconds: 1, \
             change_limit_seconds: 20)")),
        1 => (watts.clone(), 2..60_u32).prop_map(|(w, s)| format!(
            "CadenceLadder(power_w: {w}, cadences_rpm: [60, 95], seconds: {s}, \
             settle_seconds: 1)")),
        1 => (0..100_u32, 2..20_u32, any::<bool>()).prop_map(|(level, s, standing)| format!(
            "Burst(brake: Resistance({level}), seconds: {s}, times: 2, rest_seconds: 30, \
             start: {})", if standing { "Standing" } else { "Rolling" })),
        1 => (-25..30_i32, -25..30_i32, 2..60_u32).prop_map(|(a, b, s)| format!(
            "SlopeProgram(points: [(0, {a}), ({s}, {b})], shape: Linear)")),
        1 => (-25..30_i32, 10..500_u32).prop_map(|(a, m)| format!(
            "SlopeProgram(by: Distance, points: [(0, {a}), ({m}, 1)], limit_seconds: 60)")),
        1 => (-25..30_i32, 2..60_u32).prop_map(|(a, s)| format!(
            "SlopeSteps(grades_pct: [{a}, 2], seconds: {s}, settle_seconds: 1)")),
        1 => (0..100_u32, 2..60_u32).prop_map(|(level, s)| format!(
            "Resistance(level: {level}, seconds: {s}, settle_seconds: 1)")),
        1 => Just("CoastDown(from_kmh: 30, limit_seconds: 40)".to_owned()),
        1 => Just("SpinDown(limit_seconds: 30)".to_owned()),
        1 => Just("ZeroOffset(of: All, limit_seconds: 30)".to_owned()),
        1 => seconds.clone().prop_map(|s| format!("FreeRide(seconds: {s}, brake: Slope(2))")),
        1 => Just("FreeRide(seconds: 15)".to_owned()),
        1 => seconds.clone().prop_map(|s| format!("Rest(seconds: {s}, power_w: 70)")),
        1 => any::<bool>().prop_map(|pedal| format!(
            "Prompt(text: \"x\", limit_seconds: 40, answer: {})",
            if pedal { "Pedal" } else { "Acknowledge" })),
        1 => (watts, any::<bool>()).prop_map(|(w, steady)| format!(
            "HoldUntil(power_w: {w}, until: {}, steady_seconds: 10, at_least_seconds: 10, \
             limit_seconds: 60, settle_seconds: 5)", if steady { "Steady" } else { "Decided" })),
        1 => seconds.prop_map(|s| format!("CoolDown(seconds: {s})")),
    ]
}

fn script() -> impl Strategy<Value = Script> {
    (vec(step(), 1..7), any::<bool>()).prop_map(|(steps, shuffled)| {
        let steps = steps.join(",\n");
        let steps = if shuffled {
            format!("Shuffle(seed: 7, steps: [{steps}])")
        } else {
            steps
        };
        let text = format!("Script(title: \"random\", steps: [\n{steps}\n])");
        Script::from_ron("random", &text).unwrap_or_else(|errors| panic!("{errors}\n{text}"))
    })
}

fn config() -> impl Strategy<Value = RunnerConfig> {
    let interval = |min: std::ops::Range<f64>, width: std::ops::Range<f64>| {
        proptest::option::weighted(
            0.9,
            (min, width).prop_map(|(min, width)| Interval {
                min,
                max: min + width,
            }),
        )
    };
    let range = (
        interval(0.0..60.0, 50.0..2000.0),
        interval(0.0..10.0, 1.0..100.0),
        interval(-10.0..1.0, 1.0..20.0),
    );
    (50.0..1000.0, range, 10.0..200.0, any::<bool>(), 20..60_i64).prop_map(
        |(ceiling, (power_w, resistance, grade_pct), rise, early, answer)| RunnerConfig {
            rider_ceiling: Watts(ceiling),
            range: DeviceRange {
                power_w,
                resistance,
                grade_pct,
            },
            rise_w_per_s: rise,
            early_end: if early {
                EarlyEnd::WhenDecided
            } else {
                EarlyEnd::Off
            },
            stall: StallGuard::default(),
            answer_limit: Span::from_secs(answer),
            ..RunnerConfig::default()
        },
    )
}

fn quantity() -> impl Strategy<Value = Quantity> {
    prop_oneof![
        4 => prop_oneof![Just(0.0), 20.0..60.0, 60.0..120.0]
            .prop_map(|rpm| Quantity::Cadence(RevPerMin(rpm))),
        2 => prop_oneof![Just(0.0), 0.0..900.0].prop_map(|w| Quantity::Power(Watts(w))),
        2 => prop_oneof![Just(0.0), 0.0..15.0]
            .prop_map(|speed| Quantity::Speed(MetresPerSecond(speed))),
        1 => Just(Quantity::Power(Watts(f64::NAN))),
    ]
}

fn input() -> impl Strategy<Value = Input> {
    let lost = prop_oneof![Just(Lost::Reference), Just(Lost::Control), Just(Lost::Link)];
    prop_oneof![
        40 => (any::<bool>(), quantity()).prop_map(|(reference, quantity)| {
            let instrument =
                if reference { Instrument::Reference } else { Instrument::UnderTest };
            Input::Reading(Reading { instrument, quantity })
        }),
        6 => prop_oneof![
            Just(GateState::Settling),
            Just(GateState::Steady),
            Just(GateState::NotSteady { because: "cadence".into() }),
        ].prop_map(Input::Gate),
        3 => any::<bool>().prop_map(|yes| {
            Input::Decision(if yes { DecisionState::Decided } else { DecisionState::Open })
        }),
        6 => Just(Input::Command(Command::AcceptReadiness)),
        6 => Just(Input::Command(Command::Acknowledge)),
        8 => Just(Input::Command(Command::Resume)),
        2 => Just(Input::Command(Command::Pause)),
        2 => Just(Input::Command(Command::Skip)),
        2 => Just(Input::Command(Command::Repeat)),
        1 => (0..100_i64).prop_map(|s| Input::Command(Command::Extend(Span::from_secs(s)))),
        1 => Just(Input::Command(Command::Mark("here".into()))),
        1 => Just(Input::Start),
        2 => lost.clone().prop_map(|lost| Input::Fault(Fault::Lost(lost))),
        4 => lost.prop_map(Input::Back),
        1 => Just(Input::Fault(Fault::Refused("no".into()))),
        1 => Just(Input::Fault(Fault::BenchStalled)),
        1 => any::<bool>().prop_map(|good| Input::ProcedureEnded {
            procedure: if good {
                Procedure::SpinDown
            } else {
                Procedure::ZeroOffset(ZeroOf::All)
            },
            outcome: if good { Ok(()) } else { Err("failed".into()) },
        }),
    ]
}

/// A ride: how long after the one before, and what. Rarely the run is stopped from outside.
fn ride() -> impl Strategy<Value = Vec<(i64, Input)>> {
    let millis = prop_oneof![6 => 50..1100_i64, 2 => 1000..6000_i64, 1 => 6000..40_000_i64];
    let end = prop_oneof![
        3 => Just(None),
        1 => Just(Some(Input::Command(Command::Stop))),
        1 => Just(Some(Input::Fault(Fault::RecordingFailed("disk full".into())))),
    ];
    (vec((millis, input()), 0..120), end).prop_map(|(mut ride, end)| {
        ride.insert(0, (0, Input::Start));
        ride.insert(1, (500, Input::Command(Command::AcceptReadiness)));
        ride.extend(end.map(|input| (700, input)));
        ride
    })
}

/// How often a driver calls in between.
#[derive(Clone, Copy)]
enum Driver {
    /// Only with inputs.
    Lazy,
    /// At every deadline, and at odd moments as well.
    Eager,
}

/// Rides, then lets time run until the end; gives what was said and how many deadlines it took.
fn run(script: &Script, config: &RunnerConfig, ride: &[(i64, Input)], driver: Driver) -> Ran {
    let mut runner = Runner::new(script.plan().clone(), config.clone());
    let mut transcript = Transcript::new();
    let mut drain = |runner: &mut Runner| {
        while let Some(said) = runner.poll_output() {
            transcript.push(said);
        }
    };
    let mut now = Timestamp::from_secs(100);
    for (millis, input) in ride {
        let next = now + Span::from_millis(*millis);
        if matches!(driver, Driver::Eager) {
            while let Some(deadline) = runner.poll_timeout().filter(|at| *at <= next) {
                let odd = Timestamp::from_nanos(
                    now.as_nanos() + (deadline.as_nanos() - now.as_nanos()) / 3,
                );
                runner.handle(odd, Input::Tick);
                drain(&mut runner);
                runner.handle(deadline, Input::Tick);
                drain(&mut runner);
                now = deadline;
            }
        }
        now = next;
        runner.handle(now, input.clone());
        drain(&mut runner);
    }
    let mut deadlines = 0;
    while let Some(deadline) = runner.poll_timeout() {
        assert!(deadline > now || matches!(driver, Driver::Lazy));
        now = deadline;
        runner.handle(deadline, Input::Tick);
        drain(&mut runner);
        deadlines += 1;
        assert!(deadlines < 50_000, "the run does not end");
    }
    let started = !transcript.is_empty();
    assert_eq!(runner.is_finished(), started);
    let plan = runner.plan().clone();
    Ran {
        transcript,
        plan,
        config: runner.config().clone(),
    }
}

/// Every reading between the beginning of the first step and the end of the run lies in exactly one
/// step, except while a cool-down is offered, when there is none.
fn every_sample_has_one_step(ran: &Ran, ride: &[(i64, Input)]) -> Result<(), String> {
    let mut steps = Vec::new();
    let mut offered: Option<(Timestamp, Timestamp)> = None;
    let mut end = None;
    for (at, output) in &ran.transcript {
        match output {
            Output::StepBegan { .. } => {
                steps.push((*at, Timestamp::MAX));
                if let Some(offered) = &mut offered {
                    offered.1 = *at;
                }
            }
            Output::StepEnded { .. } => {
                let last = steps.last_mut().ok_or("a step ends that never began")?;
                last.1 = *at;
            }
            Output::Prompt {
                answer: Answer::CoolDown,
                ..
            } => offered = Some((*at, Timestamp::MAX)),
            Output::Finished { .. } => end = Some(*at),
            _ => {}
        }
    }
    let (Some((begin, _)), Some(end)) = (steps.first().copied(), end) else {
        return Ok(());
    };
    let mut now = Timestamp::from_secs(100);
    for (millis, input) in ride {
        now += Span::from_millis(*millis);
        if !matches!(input, Input::Reading(_)) || now < begin || now >= end {
            continue;
        }
        let holding = steps
            .iter()
            .filter(|(from, to)| (*from..*to).contains(&now))
            .count();
        let waits = offered.is_some_and(|(from, to)| (from..to).contains(&now));
        if holding != 1 && !(waits && holding == 0) {
            return Err(format!("the reading at {now} lies in {holding} steps"));
        }
    }
    Ok(())
}

struct Ran {
    transcript: Transcript,
    plan: protocol::Plan,
    config: RunnerConfig,
}

/// The cases of the environment or the usual number; a failure is printed, not stored beside the
/// sources.
fn cases() -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(cases())]

    #[test]
    fn the_rules_hold_and_replay_repeats_the_run(
        script in script(),
        config in config(),
        ride in ride(),
    ) {
        let lazy = run(&script, &config, &ride, Driver::Lazy);
        if let Err(broken) = audit(&lazy.transcript, &lazy.plan, &lazy.config) {
            prop_assert!(false, "{broken}");
        }
        if let Err(broken) = every_sample_has_one_step(&lazy, &ride) {
            prop_assert!(false, "{broken}");
        }
        let again = run(&script, &config, &ride, Driver::Lazy);
        prop_assert_eq!(&lazy.transcript, &again.transcript);
        let eager = run(&script, &config, &ride, Driver::Eager);
        prop_assert_eq!(&lazy.transcript, &eager.transcript);
    }
}
