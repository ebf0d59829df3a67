//! Every ready script loads, is sane, and is ridden to its end by a rider who does as told.

#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "test helpers are tests as well"
)]

mod common;

use common::{Rider, ride_out};
use protocol::{
    DeviceRange, EndReason, Output, Runner, RunnerConfig, StepEnd, ready_script, ready_scripts,
};
use units::{Span, Watts};

#[test]
fn every_ready_script_is_ridden_to_its_end() {
    for ready in ready_scripts() {
        let script = ready.load().unwrap_or_else(|errors| panic!("{errors}"));
        let plan = script.plan().clone();
        let planned = plan.total();
        let mut runner = Runner::new(plan, RunnerConfig::default());
        let mut rider = Rider::new();
        let transcript = ride_out(&mut runner, &mut rider, 6);
        let last = transcript.last().unwrap();
        assert_eq!(
            last.1,
            Output::Finished {
                why: EndReason::Complete
            },
            "{}",
            ready.name
        );

        let begun = transcript
            .iter()
            .filter(|(_, output)| matches!(output, Output::StepBegan { .. }))
            .count();
        assert_eq!(begun, runner.plan().steps.len(), "{}", ready.name);
        for (at, output) in &transcript {
            if let Output::StepEnded { index, why, .. } = output {
                assert_eq!(
                    *why,
                    StepEnd::Complete,
                    "{} step {index} at {at}",
                    ready.name
                );
            }
            assert!(
                !matches!(output, Output::InvalidFrom { .. }),
                "{} at {at}",
                ready.name
            );
        }
        // Open steps end sooner or later than expected, but not by much for an obedient rider.
        let took = last.0 - transcript[0].0;
        let apart = (took - planned).abs();
        assert!(
            apart < Span::from_secs(60) + planned / 8,
            "{}: took {took}, planned {planned}",
            ready.name
        );
    }
}

#[test]
fn every_ready_script_says_what_it_is_for_and_asks_for_sane_efforts() {
    for ready in ready_scripts() {
        let script = ready.load().unwrap();
        assert!(script.decides().len() > 40, "{}", ready.name);
        assert!(!script.needs().is_empty(), "{}", ready.name);
        let ceiling = script.ceiling().expect(ready.name);
        assert!(ceiling <= Watts(400.0), "{}", ready.name);
        let range = DeviceRange::WIDE.with_ceiling(ceiling);
        assert_eq!(
            script.plan().check_against(&range),
            vec![],
            "{}",
            ready.name
        );
        println!(
            "{:<24} {:>9}  {:>6.0} kJ  {:>7} above 250 W  {:>3} steps",
            ready.name,
            script.plan().total().to_string(),
            script.plan().energy().get() / 1000.0,
            script.plan().time_above(Watts(250.0)).to_string(),
            script.plan().steps.len(),
        );
    }
}

#[test]
fn a_mistyped_name_gets_a_suggestion() {
    let error = ready_script("level-swep").unwrap_err().to_string();
    assert!(error.contains("did you mean `level-sweep`?"), "{error}");
}
