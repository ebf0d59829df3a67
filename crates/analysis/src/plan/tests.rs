use super::*;
use crate::evidence::Place;
use crate::settings::{Drivetrain, HalfWidth, ReferenceAccuracy, SlopeKnowledge};
use crate::stats::normal::Coverage;

fn hub_by_crank() -> Instruments {
    Instruments {
        under_test: Place::Hub,
        reference: Place::Crank,
        zero_change_nm: Some(0.0),
    }
}

fn bare(slope_half: f64, efficiency_half: f64, repeat: f64) -> Settings {
    let nothing = || HalfWidth::new(0.0, "test");
    let mut settings = Settings {
        drivetrain: Drivetrain {
            efficiency: 0.975,
            efficiency_half_width: HalfWidth::new(efficiency_half, "test"),
            constant_loss_w: 0.0,
            proportional_loss: 0.0,
            constant_half_width_w: nothing(),
        },
        reference: ReferenceAccuracy {
            slope: SlopeKnowledge::Claimed(HalfWidth::new(slope_half, "test")),
            zero_change_nm: nothing(),
            temperature_pct: nothing(),
            uniform_cadence_pct: nothing(),
            one_side_pct: nothing(),
            repeat_pct: HalfWidth::new(repeat * 3f64.sqrt(), "test"),
        },
        ..Settings::default()
    };
    settings.decision.coverage = Coverage::KTwo;
    settings
}

/// All benches of the practice text, section 2.4, recomputed there: u, U, T/U, the errors
/// that can be shown within and beyond ±2 %, and the strict limits T − U and T + U. Its zero
/// term is put into the repeat term here, the scatter is chosen to give its type A, and the
/// efficiency is one so that nothing is divided by it. Bench D is the mean of two references;
/// bench F has a reference of U 0.3 % and no drivetrain.
#[test]
fn benches_of_the_practice_text() {
    let claimed = |half: f64| SlopeKnowledge::Claimed(HalfWidth::new(half, "test"));
    let calibrated = |u_pct: f64| SlopeKnowledge::Calibrated {
        u_pct,
        dof: f64::MAX,
        source: "test".into(),
    };
    let two = 1.0 / 6f64.sqrt();
    #[rustfmt::skip]
    let benches = [
        ("A", claimed(1.0), 0.010, [0.2, 0.2, 0.3], [0.91, 1.83, 1.1], Some([0.46, 0.17]), [3.50, 3.83]),
        ("B", claimed(1.0), 0.005, [0.1, 0.15, 0.2], [0.70, 1.40, 1.4], Some([0.85, 0.60]), [3.15, 3.40]),
        ("C", calibrated(0.25), 0.005, [0.1, 0.1, 0.2], [0.45, 0.91, 2.2], Some([1.25, 1.09]), [2.75, 2.91]),
        ("D", calibrated(two), 0.005, [0.1, 0.1, 0.2], [0.56, 1.11, 1.8], Some([1.08, 0.89]), [2.92, 3.11]),
        ("E", claimed(1.5), 0.010, [0.2, 0.2, 0.3], [1.12, 2.24, 0.9], None, [3.84, 4.24]),
        ("F", calibrated(0.15), 0.0, [0.0, 0.1, 0.111], [0.21, 0.42, 4.7], Some([1.65, 1.58]), [2.35, 2.42]),
    ];
    for (name, slope, efficiency_half, [zero, scatter, repeat], u, within, beyond) in benches {
        let intent = Intent {
            levels_w: vec![300.0],
            seconds: 100,
            repeats: 1,
            noise_pct: scatter * 10.0,
            noise_correlation: 0.0,
            ..Intent::default()
        };
        let mut settings = bare(1.0, efficiency_half, zero.hypot(repeat));
        settings.drivetrain.efficiency = 1.0;
        settings.reference.slope = slope;
        let found = foresee(&settings, &hub_by_crank(), &intent).unwrap();
        let level = &found.levels[0];
        let near = |value: f64, expected: f64, digit: f64| {
            assert!(
                (value - expected).abs() <= 0.6 * digit,
                "{name}: {value} {expected}"
            );
        };
        near(level.u_pct, u[0], 0.01);
        near(level.expanded_pct, u[1], 0.02);
        near(level.tolerance_pct / level.expanded_pct, u[2], 0.1);
        assert_eq!(level.shown_within_pct.is_some(), within.is_some(), "{name}");
        if let (Some(found), Some([shown, strict])) = (level.shown_within_pct, within) {
            near(found, shown, 0.02);
            near(level.tolerance_pct - level.expanded_pct, strict, 0.02);
        }
        near(level.shown_beyond_pct, beyond[0], 0.02);
        near(level.tolerance_pct + level.expanded_pct, beyond[1], 0.02);
        assert_eq!(found.capable, within.is_some());
        // What the text says to invest in first: the slope of the reference, then the rest.
        let first = match name {
            "C" | "F" => None,
            _ => Some("reference slope"),
        };
        if let Some(first) = first.filter(|_| name != "A") {
            assert_eq!(found.reduce_first.unwrap().0, first, "{name}");
        }
    }
}

/// Standard deviations of a mean difference with 3 % per second and φ = 0.5, computed for the
/// practice text, section 3.3: all six of its lengths.
#[test]
fn scatter_falls_as_computed() {
    for (seconds, scatter, digit) in [
        (1, 3.0, 0.1),
        (10, 1.5, 0.1),
        (30, 0.93, 0.01),
        (100, 0.52, 0.01),
        (180, 0.39, 0.01),
        (300, 0.30, 0.01),
    ] {
        let intent = Intent {
            seconds,
            levels_w: vec![200.0],
            ..Intent::default()
        };
        let found = foresee(&Settings::default(), &hub_by_crank(), &intent).unwrap();
        let terms = &found.levels[0].terms;
        let type_a = terms.iter().find(|term| term.term == SCATTER).unwrap();
        assert!((type_a.u_pct - scatter).abs() <= digit / 2.0, "{type_a:?}");
    }
}

/// Before the ride and during it the same words: what a perfect device needs on a calibrated
/// bench, more the closer it is to the limit, and nothing helps too near to it.
#[test]
fn minutes_to_decide() {
    let mut settings = bare(0.25 * 3f64.sqrt(), 0.005, 0.2);
    settings.drivetrain.efficiency = 1.0;
    let mut before = 0.0;
    for expected_error_pct in [0.0, 0.8, 1.1] {
        let intent = Intent {
            levels_w: vec![150.0, 200.0],
            seconds: 60,
            expected_error_pct,
            ..Intent::default()
        };
        let found = foresee(&settings, &hub_by_crank(), &intent).unwrap();
        assert_eq!(found.decidable_levels, 2);
        assert!(found.minutes_to_decide >= before, "{expected_error_pct}");
        before = found.minutes_to_decide;
        let level = &found.levels[1];
        let Needs::Minutes(more) = level.needs else {
            panic!("{:?}", level.needs)
        };
        let after = level.decided_after_min.unwrap();
        // The live estimate lets the scatter fall with the root of time and knows no degrees
        // of freedom, so it is about right, to two windows or a third.
        assert!(
            (1.0 + more - after).abs() <= f64::max(1.0, after / 3.0),
            "{more} {after}"
        );
    }
    assert!(before > 3.0, "near the limit it takes longer: {before}");
    let intent = Intent {
        expected_error_pct: 1.9,
        ..Intent::default()
    };
    let found = foresee(&settings, &hub_by_crank(), &intent).unwrap();
    assert_eq!((found.decidable_levels, found.minutes_to_decide), (0, 0.0));
    assert!(matches!(found.levels[0].needs, Needs::CannotDecide(_)));
}

#[test]
fn a_poor_reference_cannot_decide() {
    let settings = bare(2.5, 0.010, 0.3);
    let found = foresee(&settings, &hub_by_crank(), &Intent::default()).unwrap();
    assert!(!found.capable && found.sentence.starts_with("This bench cannot"));
    assert!(found.levels.iter().all(|level| level.useful_seconds < 1200));
}

#[test]
fn nonsense_is_refused() {
    let settings = Settings::default();
    for intent in [
        Intent {
            levels_w: vec![],
            ..Intent::default()
        },
        Intent {
            seconds: 0,
            ..Intent::default()
        },
        Intent {
            noise_pct: f64::NAN,
            ..Intent::default()
        },
        Intent {
            noise_correlation: 1.0,
            ..Intent::default()
        },
        Intent {
            levels_w: vec![-100.0],
            ..Intent::default()
        },
    ] {
        assert!(
            foresee(&settings, &hub_by_crank(), &intent).is_err(),
            "{intent:?}"
        );
    }
}
