//! What a plan adds up to, and what happens to it on a device with less range.

#![allow(clippy::unwrap_used, reason = "test helpers are tests as well")]

use protocol::{DeviceRange, Feeds, Interval, Plan, Script, Target};
use units::{Span, Watts};

fn plan(steps: &str) -> Plan {
    let text = format!("Script(title: \"t\", steps: [{steps}])");
    let script = Script::from_ron("t", &text).unwrap_or_else(|errors| panic!("{errors}"));
    script.plan().clone()
}

/// By hand: 200 W for 100 s are 20 kJ; a ramp from 100 to 300 W over 100 s has the same mean and
/// is above 200 W for its second half; nobody asks for anything during the rest.
#[test]
fn totals_are_those_computed_by_hand() {
    let plan = plan(
        "Hold(power_w: 200, seconds: 100), Ramp(from_w: 100, to_w: 300, seconds: 100), \
         Rest(seconds: 50)",
    );
    assert_eq!(plan.total(), Span::from_secs(250));
    assert!((plan.energy().get() - 40_000.0).abs() < 1e-9);
    assert_eq!(plan.time_above(Watts(200.0)), Span::from_secs(50));
    assert_eq!(plan.time_above(Watts(199.0)), Span::from_secs_f64(150.5));
    assert_eq!(plan.highest_power(), Some(Watts(300.0)));
    assert_eq!(plan.starts_at(2), Span::from_secs(200));
    let corners: Vec<(f64, Option<f64>)> = plan
        .curve()
        .iter()
        .map(|point| (point.at.as_secs_f64(), point.power.map(Watts::get)))
        .collect();
    assert_eq!(
        corners,
        [
            (0.0, Some(200.0)),
            (100.0, Some(200.0)),
            (100.0, Some(100.0)),
            (200.0, Some(300.0)),
            (200.0, None),
            (250.0, None),
        ]
    );
}

#[test]
fn composite_steps_unfold_in_order() {
    let powers = |steps: &str| -> Vec<f64> {
        plan(steps)
            .steps
            .iter()
            .filter_map(|step| step.constant_power().map(Watts::get))
            .collect()
    };
    assert_eq!(
        powers("Staircase(from_w: 100, to_w: 300, levels: 3, order: UpDown, seconds: 60)"),
        [100.0, 200.0, 300.0, 200.0, 100.0]
    );
    assert_eq!(
        powers("Staircase(from_w: 300, to_w: 100, levels: 3, seconds: 60)"),
        [300.0, 200.0, 100.0]
    );
    assert_eq!(
        powers("Alternate(levels_w: [150, 250, 200], seconds: 20, times: 2)"),
        [150.0, 250.0, 200.0, 150.0, 250.0, 200.0]
    );
    assert_eq!(
        powers("Repeat(times: 2, steps: [Hold(power_w: 1, seconds: 60), Rest(seconds: 9)])"),
        [1.0, 1.0]
    );
    let indices: Vec<usize> = plan("Repeat(times: 3, steps: [Rest(seconds: 9)])")
        .steps
        .iter()
        .map(|step| step.index)
        .collect();
    assert_eq!(indices, [0, 1, 2]);
}

/// The same seed gives the same order on every machine and in every version: a record that names
/// script and seed names the order as well.
#[test]
fn a_shuffle_is_drawn_once_from_its_seed() {
    let shuffled = |seed: u32| {
        let holds: Vec<String> = (1..=6)
            .map(|n| format!("Hold(power_w: {n}00, seconds: 60)"))
            .collect();
        plan(&format!(
            "Shuffle(seed: {seed}, steps: [{}])",
            holds.join(", ")
        ))
    };
    let order = |plan: &Plan| -> Vec<f64> {
        plan.steps
            .iter()
            .filter_map(|step| step.constant_power().map(Watts::get))
            .collect()
    };
    let first = shuffled(1821);
    assert_eq!(first.seeds, [1821]);
    assert_eq!(order(&first), order(&shuffled(1821)));
    assert_eq!(order(&first), PINNED);
    assert_ne!(order(&first), order(&shuffled(1822)));
    let mut sorted = order(&first);
    sorted.sort_by(f64::total_cmp);
    assert_eq!(sorted, [100.0, 200.0, 300.0, 400.0, 500.0, 600.0]);
}

/// The order that seed 1821 gave when the shuffle was written; it must never change.
const PINNED: [f64; 6] = [200.0, 400.0, 500.0, 600.0, 100.0, 300.0];

#[test]
fn what_a_device_cannot_do_is_named_and_capped() {
    let plan = plan(
        "Hold(power_w: 200, seconds: 60), Hold(title: \"high\", power_w: 450, seconds: 60), \
         Ramp(from_w: 10, to_w: 300, seconds: 60), \
         SlopeSteps(title: \"wall\", grades_pct: [18], seconds: 60), \
         Burst(brake: Resistance(40), seconds: 8, times: 1)",
    );
    let range = DeviceRange {
        power_w: Interval::new(25.0, 400.0),
        resistance: None,
        grade_pct: Interval::new(-5.0, 12.0),
    };
    let beyond: Vec<String> = plan
        .check_against(&range)
        .iter()
        .map(|step| step.to_string())
        .collect();
    assert_eq!(beyond.len(), 5, "{beyond:#?}");
    assert!(beyond[0].contains("step 2 (high) asks for 450\u{a0}W, but the limit is 400\u{a0}W"));
    assert!(
        beyond[1].contains("step 3") && beyond[1].contains("25\u{a0}W"),
        "{}",
        beyond[1]
    );
    assert!(beyond[2].contains("step 4 (wall") && beyond[2].contains("12.00\u{a0}%"));
    assert!(beyond[3].contains("does not offer this mode"));

    let capped = plan.capped(&range);
    assert_eq!(capped.steps[1].constant_power(), Some(Watts(400.0)));
    let left: Vec<usize> = capped
        .check_against(&range)
        .iter()
        .map(|step| step.index)
        .collect();
    assert_eq!(left, [4, 5], "a mode that is not offered cannot be capped");
    assert_eq!(
        range.with_ceiling(Watts(300.0)).power_w,
        Interval::new(25.0, 300.0)
    );
}

#[test]
fn a_slope_program_follows_time_evenly_or_in_steps() {
    let grade = |shape: &str, seconds: f64| {
        let text =
            format!("SlopeProgram(shape: {shape}, points: [(0, 1.0), (10, 3.0), (20, 3.0)])");
        match plan(&text).steps[0].target_at(Span::from_secs_f64(seconds), 0.0) {
            Target::Slope(slope) => slope.grade_pct,
            other => panic!("{other}"),
        }
    };
    for (shape, seconds, expected) in [
        ("Stepped", 0.0, 1.0),
        ("Stepped", 9.9, 1.0),
        ("Stepped", 10.0, 3.0),
        ("Stepped", 99.0, 3.0),
        ("Linear", 0.0, 1.0),
        ("Linear", 2.5, 1.5),
        ("Linear", 15.0, 3.0),
    ] {
        assert_eq!(grade(shape, seconds), expected, "{shape} at {seconds}");
    }
}

#[test]
fn what_a_step_feeds_has_a_name_that_reads_back() {
    for feeds in Feeds::ALL {
        assert_eq!(Feeds::from_name(feeds.name()), Some(feeds));
    }
    assert_eq!(Feeds::from_name("Tea"), None);
}

/// A step of plain fields is read without RON's own reader; a comment in it makes RON read it. Both
/// ways mean the same.
#[test]
fn a_plain_step_means_what_ron_says_it_means() {
    for step in [
        "Hold(title: \"plain, with a comma\", power_w: 200, seconds: 61.5, feeds: Steady)",
        "Hold(power_w: 2e2, seconds: 60,)",
        "Ramp( from_w : 100,\n  to_w: 150 , seconds: 90, gear: \"39x17\")",
        "Staircase(from_w: 300, to_w: 100, levels: 3, order: Down, seconds: 60)",
        "HoldUntil(power_w: 200, until: Decided, limit_seconds: 300)",
        "CoolDown()",
        "Rest(seconds: +10, power_w: 70)",
        "Prompt(text: \"a \\\"quoted\\\" word\", answer: Acknowledge)",
        "Alternate(levels_w: [150, 250], seconds: 20, times: 2)",
    ] {
        let by_ron = step.replacen('(', "( /* read by RON */ ", 1);
        let steps = |text: &str| -> Vec<_> {
            let placeless = |step: &protocol::PlannedStep| protocol::PlannedStep {
                place: protocol::Place::START,
                ..step.clone()
            };
            plan(text).steps.iter().map(placeless).collect()
        };
        assert_eq!(steps(step), steps(&by_ron), "{step}");
    }
}
