//! What the runner does in the situations a tester meets, one after the other.

#![allow(clippy::unwrap_used, reason = "test helpers are tests as well")]

mod common;

use common::Transcript;
use common::audit::audit;
use protocol::{
    Answer, Command, DecisionState, EarlyEnd, EndReason, Fault, GateState, Input, Instrument, Lost,
    Output, Quantity, ReadinessRule, Reading, ReleaseReason, Runner, RunnerConfig, Script, StepEnd,
    Target,
};
use units::{MetresPerSecond, RevPerMin, Span, Timestamp, Watts};

/// What the instruments report in one second: cadence, power, speed.
type Report = (f64, f64, f64);

/// An even rider.
const EVEN: Report = (90.0, 200.0, 8.0);

fn script(steps: &str) -> Script {
    let text = format!("Script(title: \"t\", steps: [{steps}])");
    Script::from_ron("t", &text).unwrap_or_else(|errors| panic!("{errors}"))
}

fn accepted() -> RunnerConfig {
    RunnerConfig {
        readiness: ReadinessRule::AlreadyAccepted,
        ..RunnerConfig::default()
    }
}

/// Rides for `seconds` with one report each second and events at their seconds, checks the
/// standing rules, and gives everything that was said.
fn ride(
    steps: &str,
    config: &RunnerConfig,
    seconds: i64,
    report: impl Fn(i64, &Runner) -> Report,
    events: &[(i64, Input)],
) -> Transcript {
    let mut runner = Runner::new(script(steps).plan().clone(), config.clone());
    let mut transcript = Transcript::new();
    runner.handle(Timestamp::ZERO, Input::Start);
    for second in 0..=seconds {
        let now = Timestamp::from_millis(second * 1000 + 10);
        let (cadence, power, speed) = report(second, &runner);
        let quantities = [
            Quantity::Cadence(RevPerMin(cadence)),
            Quantity::Power(Watts(power)),
            Quantity::Speed(MetresPerSecond(speed)),
        ];
        for quantity in quantities {
            let reading = Reading {
                instrument: Instrument::UnderTest,
                quantity,
            };
            runner.handle(now, Input::Reading(reading));
        }
        for (_, input) in events.iter().filter(|(at, _)| *at == second) {
            runner.handle(now, input.clone());
        }
        transcript.extend(std::iter::from_fn(|| runner.poll_output()));
    }
    // A run that is not over leaves no reason to complain about its end.
    if let Err(broken) = audit(&transcript, runner.plan(), runner.config()) {
        panic!("{broken}");
    }
    transcript
}

/// Every power target with its second.
fn powers(transcript: &Transcript) -> Vec<(i64, f64)> {
    let power = |(at, output): &(Timestamp, Output)| match output {
        Output::SetTarget(Target::Power(power)) => {
            Some((at.as_nanos().div_euclid(1_000_000_000), power.get()))
        }
        _ => None,
    };
    transcript.iter().filter_map(power).collect()
}

fn ends(transcript: &Transcript) -> Vec<(usize, u32, StepEnd)> {
    let end = |(_, output): &(Timestamp, Output)| match output {
        Output::StepEnded {
            index,
            attempt,
            why,
        } => Some((*index, *attempt, why.clone())),
        _ => None,
    };
    transcript.iter().filter_map(end).collect()
}

fn has(transcript: &Transcript, wanted: &Output) -> bool {
    transcript.iter().any(|(_, output)| output == wanted)
}

fn command(command: Command) -> Input {
    Input::Command(command)
}

const HOLD: &str = "Hold(power_w: 200, seconds: 100, settle_seconds: 10)";

#[test]
fn nothing_is_loaded_before_readiness_is_accepted() {
    let config = RunnerConfig::default();
    let acknowledged = [
        (3, command(Command::Acknowledge)),
        (4, command(Command::Resume)),
    ];
    let waiting = ride(HOLD, &config, 60, |_, _| EVEN, &acknowledged);
    assert!(powers(&waiting).is_empty());

    let accepted = [(20, command(Command::AcceptReadiness))];
    let riding = ride(HOLD, &config, 60, |_, _| EVEN, &accepted);
    assert!(has(
        &riding,
        &Output::Consent {
            to: Answer::Readiness
        }
    ));
    assert_eq!(powers(&riding), [(20, 50.0), (21, 150.0), (22, 200.0)]);

    let nobody = ride(HOLD, &config, 2000, |_, _| EVEN, &[]);
    assert!(has(
        &nobody,
        &Output::Finished {
            why: EndReason::NobodyAnswered
        }
    ));
}

#[test]
fn a_pause_releases_and_a_resume_comes_back_slowly_from_low() {
    let events = [
        (40, command(Command::Pause)),
        (60, command(Command::Resume)),
    ];
    let said = ride(HOLD, &accepted(), 140, |_, _| EVEN, &events);
    assert!(has(
        &said,
        &Output::Release {
            reason: ReleaseReason::Paused
        }
    ));
    let after: Vec<(i64, f64)> = powers(&said)
        .into_iter()
        .filter(|(at, _)| *at >= 40)
        .collect();
    assert_eq!(after[0], (60, 50.0));
    assert_eq!(*after.last().unwrap(), (72, 200.0));
    assert!(
        after.windows(2).all(|pair| pair[1].1 - pair[0].1 <= 13.0),
        "{after:?}"
    );
    // Twenty seconds of pause are not ridden time: the step ends at 120 s and, disturbed, is
    // ridden once more.
    let end = said
        .iter()
        .find(|(_, output)| matches!(output, Output::StepEnded { .. }))
        .unwrap();
    assert_eq!(end.0, Timestamp::from_secs(120));
    assert!(
        matches!(&ends(&said)[0].2, StepEnd::GateFailed { because } if because.contains("paused"))
    );
}

#[test]
fn a_stall_halves_the_target_and_brings_it_back_over_ten_seconds_or_more() {
    let tired = |second: i64, _: &Runner| match second {
        30..=36 => (50.0, 150.0, 5.0),
        _ => EVEN,
    };
    let said = ride(HOLD, &accepted(), 240, tired, &[]);
    let powers = powers(&said);
    let eased = powers
        .iter()
        .position(|(_, power)| *power == 100.0)
        .unwrap();
    assert!(powers[eased].0 <= 32, "{powers:?}");
    let back = powers[eased..]
        .iter()
        .find(|(_, power)| *power == 200.0)
        .unwrap();
    assert!(back.0 - 38 >= 10 && back.0 - 38 <= 15, "{powers:?}");
    let because = "the cadence fell under load and the target was eased".to_owned();
    assert!(has(
        &said,
        &Output::InvalidFrom {
            because: because.clone()
        }
    ));
    assert!(has(&said, &Output::ValidAgain));
    assert_eq!(
        ends(&said),
        [
            (0, 1, StepEnd::GateFailed { because }),
            (0, 2, StepEnd::Complete)
        ]
    );
}

#[test]
fn a_fast_fall_eases_before_the_floor_is_reached() {
    let falling = |second: i64, _: &Runner| match second {
        30 => (80.0, 200.0, 7.0),
        31 => (72.0, 200.0, 6.0),
        32.. => (64.0, 200.0, 6.0),
        _ => EVEN,
    };
    let said = ride(HOLD, &accepted(), 40, falling, &[]);
    let (at, power) = *powers(&said).iter().find(|(at, _)| *at >= 30).unwrap();
    assert_eq!((at, power), (31, 100.0));
}

#[test]
fn a_slower_cadence_on_purpose_is_no_stall() {
    let steps = "CadenceLadder(power_w: 200, cadences_rpm: [100, 60], seconds: 60)";
    let follows = |second: i64, _: &Runner| match second {
        0..=60 => (100.0, 200.0, 8.0),
        61 => (85.0, 200.0, 7.0),
        62 => (70.0, 200.0, 6.0),
        _ => (58.0, 200.0, 5.0),
    };
    let said = ride(steps, &accepted(), 119, follows, &[]);
    assert!(
        powers(&said)
            .iter()
            .all(|(at, power)| *at < 3 || *power == 200.0)
    );
}

#[test]
fn an_unsteady_window_is_repeated_once_and_every_attempt_is_kept() {
    let unsteady = GateState::NotSteady {
        because: "cadence varies by 5 %".into(),
    };
    let events = [
        (15, Input::Gate(unsteady.clone())),
        (115, Input::Gate(unsteady)),
    ];
    let said = ride(HOLD, &accepted(), 210, |_, _| EVEN, &events);
    let failed = StepEnd::GateFailed {
        because: "cadence varies by 5 %".into(),
    };
    assert_eq!(ends(&said), [(0, 1, failed.clone()), (0, 2, failed)]);
    assert!(has(
        &said,
        &Output::Finished {
            why: EndReason::Complete
        }
    ));
}

#[test]
fn a_decided_hold_ends_early_only_where_that_is_switched_on() {
    let decided = [(20, Input::Decision(DecisionState::Decided))];
    let formal = ride(HOLD, &accepted(), 110, |_, _| EVEN, &decided);
    assert_eq!(ends(&formal), [(0, 1, StepEnd::Complete)]);

    let quick = RunnerConfig {
        early_end: EarlyEnd::WhenDecided,
        ..accepted()
    };
    let said = ride(HOLD, &quick, 110, |_, _| EVEN, &decided);
    assert_eq!(ends(&said), [(0, 1, StepEnd::Decided)]);
    let (at, _) = said
        .iter()
        .find(|(_, out)| matches!(out, Output::StepEnded { .. }))
        .unwrap();
    assert_eq!(
        *at,
        Timestamp::from_secs(40),
        "ten seconds settle, thirty are ridden"
    );
}

#[test]
fn hold_until_ends_when_steady_or_at_its_limit() {
    let steps = "HoldUntil(power_w: 150, until: Steady, steady_seconds: 20, settle_seconds: 10, \
                 limit_seconds: 90)";
    let steady = [(30, Input::Gate(GateState::Steady))];
    let said = ride(steps, &accepted(), 100, |_, _| EVEN, &steady);
    assert_eq!(ends(&said), [(0, 1, StepEnd::Complete)]);
    assert_eq!(said.last().unwrap().0, Timestamp::from_millis(50_010));
    let never = ride(steps, &accepted(), 100, |_, _| EVEN, &[]);
    assert_eq!(ends(&never), [(0, 1, StepEnd::LimitReached)]);
}

#[test]
fn a_prompt_goes_on_when_pedalling_resumes() {
    let steps =
        "Rest(seconds: 5), Prompt(text: \"look at the chain\"), Hold(power_w: 100, seconds: 40)";
    let stops = |second: i64, _: &Runner| match second {
        20..=30 => (0.0, 0.0, 3.0),
        _ => EVEN,
    };
    let said = ride(steps, &accepted(), 50, stops, &[]);
    assert_eq!(
        ends(&said),
        [(0, 1, StepEnd::Complete), (1, 1, StepEnd::Complete)]
    );
    let began = said
        .iter()
        .find(|(_, out)| matches!(out, Output::StepBegan { index: 2, .. }));
    assert_eq!(began.unwrap().0, Timestamp::from_millis(34_010));
}

#[test]
fn a_gear_that_is_not_seen_is_asked_for_twice_and_its_rung_left_out() {
    let steps = "FlywheelLadder(power_w: 200, cadence_rpm: 90, gears: [\"39x17\", \"50x13\"], \
                 seconds: 40, settle_seconds: 10, change_limit_seconds: 30)";
    // 39×17 on 2.096 m at 90 rpm rolls 4.81 m per turn, 7.2 m/s; the second gear never comes.
    let said = ride(steps, &accepted(), 300, |_, _| (90.0, 200.0, 7.2), &[]);
    assert_eq!(
        ends(&said),
        [
            (0, 1, StepEnd::Complete),
            (1, 1, StepEnd::Complete),
            (2, 1, StepEnd::NotReached),
            (2, 2, StepEnd::NotReached),
            (3, 1, StepEnd::NotPossible),
        ]
    );
}

#[test]
fn without_a_speed_a_gear_cannot_be_checked_and_the_record_says_so() {
    let steps = "FlywheelLadder(power_w: 200, speeds_kmh: [20, 30], seconds: 40)";
    let mut runner = Runner::new(script(steps).plan().clone(), accepted());
    runner.handle(Timestamp::ZERO, Input::Start);
    runner.handle(Timestamp::from_secs(31), Input::Tick);
    let said: Transcript = std::iter::from_fn(|| runner.poll_output()).collect();
    assert_eq!(ends(&said), [(0, 1, StepEnd::NotChecked)]);
}

#[test]
fn what_is_lost_releases_and_only_a_resume_after_its_return_loads_again() {
    let events = [
        (40, Input::Fault(Fault::Lost(Lost::Reference))),
        (50, command(Command::Resume)),
        (60, Input::Back(Lost::Reference)),
        (80, command(Command::Resume)),
    ];
    let said = ride(HOLD, &accepted(), 100, |_, _| EVEN, &events);
    assert!(has(
        &said,
        &Output::Release {
            reason: ReleaseReason::Lost(Lost::Reference)
        }
    ));
    let loaded: Vec<i64> = powers(&said)
        .into_iter()
        .map(|(at, _)| at)
        .filter(|at| *at >= 40)
        .collect();
    assert_eq!(loaded[0], 80);
}

#[test]
fn a_stop_releases_at_its_own_moment_and_ends_the_run() {
    let stop = [(40, command(Command::Stop))];
    let said = ride(HOLD, &accepted(), 60, |_, _| EVEN, &stop);
    let at = Timestamp::from_millis(40_010);
    let release = Output::Release {
        reason: ReleaseReason::Stopped,
    };
    assert!(said.contains(&(at, release)));
    let finished = Output::Finished {
        why: EndReason::Stopped,
    };
    assert_eq!(said.last(), Some(&(at, finished)));
}

#[test]
fn a_full_disk_ends_the_run() {
    let full = [(40, Input::Fault(Fault::RecordingFailed("disk full".into())))];
    let said = ride(HOLD, &accepted(), 60, |_, _| EVEN, &full);
    assert_eq!(
        said.last().unwrap().1,
        Output::Finished {
            why: EndReason::RecordingFailed
        }
    );
    assert_eq!(said.last().unwrap().0, Timestamp::from_millis(40_010));
}

#[test]
fn a_cool_down_is_offered_after_hard_steps_and_can_be_declined() {
    let hard = "Hold(power_w: 300, seconds: 40)";
    let offered = Answer::CoolDown;
    let yes = [(50, command(Command::Acknowledge))];
    let said = ride(hard, &accepted(), 400, |_, _| EVEN, &yes);
    assert_eq!(
        ends(&said),
        [(0, 1, StepEnd::Complete), (1, 1, StepEnd::Complete)]
    );
    assert!(has(&said, &Output::Consent { to: offered }));

    let declined = ride(
        hard,
        &accepted(),
        50,
        |_, _| EVEN,
        &[(45, command(Command::Skip))],
    );
    assert_eq!(
        declined.last().unwrap().1,
        Output::Finished {
            why: EndReason::Complete
        }
    );
    let unanswered = ride(hard, &accepted(), 120, |_, _| EVEN, &[]);
    assert_eq!(unanswered.last().unwrap().0, Timestamp::from_secs(100));

    let with_its_own = format!("{hard}, CoolDown(seconds: 200)");
    let own = ride(&with_its_own, &accepted(), 260, |_, _| EVEN, &[]);
    assert!(
        !own.iter()
            .any(|(_, out)| matches!(out, Output::Prompt { .. }))
    );
}

#[test]
fn skip_repeat_extend_and_mark_do_what_they_say() {
    let steps = format!("{HOLD}, {HOLD}");
    let events = [
        (10, command(Command::Mark("window opened".into()))),
        (30, command(Command::Repeat)),
        (40, command(Command::Skip)),
        (50, command(Command::Extend(Span::from_secs(60)))),
    ];
    let said = ride(&steps, &accepted(), 220, |_, _| EVEN, &events);
    assert!(has(
        &said,
        &Output::Marker {
            text: "window opened".into()
        }
    ));
    assert_eq!(
        ends(&said),
        [
            (0, 1, StepEnd::Repeated),
            (0, 2, StepEnd::Skipped),
            (1, 1, StepEnd::Complete)
        ]
    );
    // Begun at 40 s, one hundred seconds long, sixty more.
    assert_eq!(said.last().unwrap().0, Timestamp::from_millis(200_010));
}

#[test]
fn a_rest_that_does_not_calm_down_pauses_before_the_next_burst() {
    let steps = "Burst(brake: Slope(2), seconds: 8, times: 2, rest_seconds: 30, rest_w: 80)";
    let never_rests = |_: i64, _: &Runner| (90.0, 180.0, 8.0);
    let said = ride(steps, &accepted(), 500, never_rests, &[]);
    assert!(has(
        &said,
        &Output::Release {
            reason: ReleaseReason::NotRested
        }
    ));
    assert!(!has(
        &said,
        &Output::StepBegan {
            index: 4,
            attempt: 1
        }
    ));
}

#[test]
fn a_burst_never_asks_for_power_while_it_lasts() {
    let steps = "Burst(brake: Resistance(40), start: Standing, seconds: 8, times: 2)";
    let obedient = |_: i64, runner: &Runner| match runner.status().cue.map(|cue| cue.pedalling) {
        Some(protocol::Pedalling::Stop) => (0.0, 0.0, 0.0),
        _ => (90.0, 80.0, 8.0),
    };
    let said = ride(steps, &accepted(), 500, obedient, &[]);
    let mut step = 0;
    for (_, output) in &said {
        match output {
            Output::StepBegan { index, .. } => step = *index,
            Output::SetTarget(Target::Power(_)) => assert_eq!(step % 3, 2, "only while resting"),
            _ => {}
        }
    }
    assert!(has(&said, &Output::SetTarget(Target::Resistance(40.0))));
    assert_eq!(
        ends(&said)
            .iter()
            .filter(|end| end.2 == StepEnd::Complete)
            .count(),
        6
    );
}

#[test]
fn a_refused_target_and_a_held_up_program_release() {
    for (fault, reason) in [
        (
            Fault::Refused("out of range".into()),
            ReleaseReason::Refused("out of range".into()),
        ),
        (Fault::BenchStalled, ReleaseReason::BenchStalled),
    ] {
        let said = ride(
            HOLD,
            &accepted(),
            60,
            |_, _| EVEN,
            &[(40, Input::Fault(fault))],
        );
        assert!(has(&said, &Output::Release { reason }));
        assert!(powers(&said).iter().all(|(at, _)| *at < 40));
    }
}

#[test]
fn the_status_says_what_a_screen_needs() {
    let steps = format!("{HOLD}, Rest(seconds: 30)");
    let mut runner = Runner::new(script(&steps).plan().clone(), accepted());
    runner.handle(Timestamp::ZERO, Input::Start);
    runner.handle(Timestamp::from_secs(25), Input::Tick);
    let status = runner.status();
    assert_eq!(
        (status.step, status.attempt, status.next),
        (Some(0), 1, Some(1))
    );
    assert_eq!(status.elapsed, Span::from_secs(25));
    assert_eq!(status.remaining, Some(Span::from_secs(75)));
    assert_eq!(status.target, Some(Target::Power(Watts(200.0))));
    assert_eq!(status.cue.unwrap().cadence, Some(RevPerMin(90.0)));
}
