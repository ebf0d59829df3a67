//! Several instruments against each other, and whether the reference can be relied on.

use crate::levels::{CLEAN, SWEEP};
use acceptance::rides::{Ride, built_in, clean, holds, honest, interval, ride, ride_with, trainer};
use analysis::examinations::assurance::ConcernKind;
use analysis::settings::Settings;
use analysis::verdict::Verdict;
use rig::RigFile;
use rig::spec::{KindSpec, MeterSpec, SteeredBy};
use std::sync::LazyLock;

fn meter(file: &mut RigFile, index: usize) -> &mut MeterSpec {
    match &mut file.instruments[index].kind {
        KindSpec::Meter(meter) => meter,
        other => panic!("a meter was expected, not {other:?}"),
    }
}

const PEDALS_PCT: f64 = 4.0;

/// The second reference reads too much and scatters.
static AT_ODDS: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    file.instruments[2].signal.gain_pct = PEDALS_PCT;
    file.instruments[2].signal.wander_pct = 4.0;
    ride(SWEEP, file, 104)
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

const ZEROED: &str = r#"Script(
    title: "zero before and after", cadence_rpm: 90,
    steps: [
        ZeroOffset(of: References),
        Ramp(from_w: 100, to_w: 150, seconds: 60, feeds: Warmup),
        Staircase(from_w: 150, to_w: 250, levels: 3, seconds: 150, order: Up),
        CoolDown(seconds: 60),
        ZeroOffset(title: "zero after the ride", of: References),
    ],
)"#;

#[test]
fn a_zero_that_moved_is_carried_into_the_budget() {
    let mut file = clean();
    meter(&mut file, 1).zero_nm_per_hour = 4.0;
    let moved = ride(ZEROED, file, 34);
    let steady = ride(ZEROED, clean(), 35);
    for (what, ride, nm_per_hour) in [("steady", &steady, 0.0), ("moved", &moved, 4.0)] {
        let found = &ride.findings.examinations.assurance;
        let found = &found.as_ref().unwrap().result;
        let name = ride.findings.reference.as_deref().unwrap();
        let zero = found.zeros.iter().find(|it| it.source == name).unwrap();
        let stream = ride
            .evidence
            .streams
            .iter()
            .find(|it| it.name == name)
            .unwrap();
        let [first, .., last] = stream.zero_offsets.as_slice() else {
            panic!("{what}: {:?}", stream.zero_offsets);
        };
        let truth = nm_per_hour * (last.at - first.at).as_secs_f64() / 3600.0;
        // Compensations scatter and the answer is in steps of 1/32 N·m.
        assert!(
            (zero.change_nm - truth).abs() < 0.15,
            "{what}: {zero:?}, truly {truth} N·m"
        );
        let cell = &ride.findings.cells[0];
        let term = cell
            .budget
            .iter()
            .find(|it| it.term == "reference zero")
            .unwrap();
        assert!(term.source.contains("before to after"), "{}", term.source);
        let asked = concerns(ride);
        let said = asked
            .iter()
            .any(|(kind, _)| *kind == ConcernKind::ZeroMoved);
        assert_eq!(said, truth > 0.45, "{what}: {asked:?}, {truth} N·m");
    }
    let unread = concerns(&CLEAN);
    assert!(
        unread
            .iter()
            .any(|(kind, _)| *kind == ConcernKind::ZeroNotChecked)
    );
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
