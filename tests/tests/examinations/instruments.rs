//! Several instruments against each other, and whether the reference can be relied on.

use crate::levels::{CLEAN, SWEEP};
use acceptance::rides::{Ride, built_in, clean, holds, honest, interval, ride, ride_with, trainer};
use analysis::examinations::assurance::ConcernKind;
use analysis::settings::Settings;
use analysis::verdict::Verdict;
use rig::spec::SteeredBy;
use std::sync::LazyLock;

const PEDALS_PCT: f64 = 4.0;

/// The second reference reads too much and scatters.
static AT_ODDS: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    file.instruments[2].signal.gain_pct = PEDALS_PCT;
    file.instruments[2].signal.wander_pct = 4.0;
    ride(SWEEP, file, 31)
});

#[test]
fn references_that_disagree_take_the_verdict_away() {
    for (what, ride, size_pct) in [("clean", &*CLEAN, 0.0), ("at odds", &*AT_ODDS, PEDALS_PCT)] {
        let found = &ride.findings.examinations.consistency;
        let found = &found.as_ref().unwrap().result;
        let pair = found.pairs.iter().find(|it| it.both_references).unwrap();
        holds(
            &format!("{what}: second reference against the first, %"),
            interval(&pair.difference_pct),
            size_pct,
        );
        let disagree = size_pct > 0.0;
        assert_eq!(found.references_disagree, disagree, "{what}: {pair:?}");
        assert_eq!(pair.e_n.unwrap() > 1.0, disagree, "{what}: {pair:?}");
        let overall = &ride.findings.overall;
        assert_eq!(!overall.blocked_by.is_empty(), disagree, "{what}");
        if disagree {
            assert_eq!(overall.verdict, Verdict::BenchNotCapable);
            assert!(
                overall.sentence.contains("references disagree"),
                "{}",
                overall.sentence
            );
            assert_eq!(ride.findings.claims[0].verdict, Verdict::BenchNotCapable);
            let shown = [Verdict::ShownWithin, Verdict::ShownBeyond];
            let cells = ride.findings.cells.iter();
            assert!(cells.clone().all(|cell| !shown.contains(&cell.verdict)));
        }
    }
}

#[test]
fn the_one_that_stands_alone_is_named() {
    let clean = &CLEAN.findings.examinations.apportioning;
    let clean = &clean.as_ref().unwrap().result;
    assert_eq!(clean.alone_in_bias, None, "{clean:?}");
    assert_eq!(clean.alone_in_noise, None, "{clean:?}");
    let odd = &AT_ODDS.findings.examinations.apportioning;
    let odd = &odd.as_ref().unwrap().result;
    let name = |index: Option<usize>| index.map(|it| odd.sources[it].source.as_str());
    assert_eq!(name(odd.alone_in_bias), Some("Tansy pedals"), "{odd:?}");
    assert_eq!(name(odd.alone_in_noise), Some("Tansy pedals"), "{odd:?}");
    let pedals = &odd.sources[odd.alone_in_bias.unwrap()];
    holds("its bias, %", interval(&pedals.bias_pct), PEDALS_PCT);
    // 4 % with a memory of 3 s over 10 s: sd · sqrt(2 τ/T · (1 − τ/T · (1 − e^(−T/τ)))) of the
    // mean of an exponentially correlated process.
    let (memory_s, mean_s) = (3.0f64, 10.0f64);
    let ratio = memory_s / mean_s;
    let share = (2.0 * ratio * (1.0 - ratio * (1.0 - (-1.0 / ratio).exp()))).sqrt();
    // Windows in the middle of the levels, weighted alike: the mean square of the power.
    let windows = &AT_ODDS.findings.windows;
    let square = windows.iter().map(|it| it.reference_w.powi(2)).sum::<f64>();
    let noise_w = 0.04 * share * (square / windows.len() as f64).sqrt();
    assert!(
        (pedals.noise_interval_w[0]..=1.1 * pedals.noise_interval_w[1]).contains(&noise_w),
        "{noise_w} W, found {pedals:?}"
    );
}

fn concerns(ride: &Ride) -> Vec<(ConcernKind, bool)> {
    let found = &ride.findings.examinations.assurance;
    let list = found.as_ref().unwrap().result.concerns.iter();
    list.map(|it| (it.kind, it.blocks)).collect()
}

/// One side doubled, and a trainer that is steered by the reference, both forbid a verdict; neither
/// is said of a bench where it is not so.
#[test]
fn one_side_and_a_circle_forbid_a_verdict() {
    let mut steered = honest();
    trainer(&mut steered).steered_by = SteeredBy::FirstMeter;
    let steered = ride(SWEEP, steered, 32);
    let one_sided = ride(SWEEP, built_in("one-sided"), 33);
    for (what, ride, kind) in [
        ("steered", &steered, ConcernKind::Circular),
        ("one-sided", &one_sided, ConcernKind::OneSided),
    ] {
        assert!(
            concerns(ride).contains(&(kind, true)),
            "{what}: {:?}",
            concerns(ride)
        );
        let overall = &ride.findings.overall;
        assert_eq!(overall.verdict, Verdict::BenchNotCapable, "{what}");
        assert!(!overall.blocked_by.is_empty(), "{what}");
        let clean = concerns(&CLEAN);
        assert!(clean.iter().all(|(it, _)| *it != kind), "{clean:?}");
    }
}

/// A slope of the reference that was calibrated narrows the budget by what was assumed of it.
#[test]
fn a_calibrated_reference_narrows_the_verdict() {
    let mut settings = Settings::default();
    settings.reference.slope = analysis::settings::SlopeKnowledge::Calibrated {
        u_pct: 0.25,
        dof: 20.0,
        source: "own static check".into(),
    };
    let calibrated = ride_with(SWEEP, honest(), 36, settings);
    let claimed = ride(SWEEP, honest(), 36);
    let u = |ride: &Ride| ride.findings.cells[0].u_pct;
    let removed = (u(&claimed).powi(2) - u(&calibrated).powi(2)).sqrt();
    let expected = (1.0f64 / 3.0 - 0.25f64.powi(2)).sqrt();
    assert!((removed - expected).abs() < 1e-9, "{removed} {expected}");
}
