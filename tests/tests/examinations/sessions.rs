//! Several sessions: before and after a change, repeats, units, and what may be ranked.

use acceptance::rides::{clean, device, holds, ride};
use analysis::examinations::comparison::{Conclusion, before_after};
use analysis::examinations::repeatability::repeatability;

const SHORT: &str = r#"Script(
    title: "two levels", cadence_rpm: 90,
    steps: [
        Ramp(from_w: 100, to_w: 150, seconds: 40, feeds: Warmup),
        Hold(power_w: 150, seconds: 160),
        Hold(power_w: 230, seconds: 160),
        CoolDown(seconds: 60),
    ],
)"#;

/// Mean difference as indicated, %, of sessions that differ in chance only.
fn sessions(gain_pct: f64, seeds: std::ops::Range<u64>) -> Vec<f64> {
    seeds
        .map(|seed| {
            let mut file = clean();
            device(&mut file).signal.gain_pct = gain_pct;
            let findings = ride(SHORT, file, seed).findings;
            let cells = findings.cells.iter();
            let values: Vec<f64> = cells
                .filter(|cell| cell.treatment.name() == "as_indicated")
                .map(|cell| cell.bias_pct)
                .collect();
            values.iter().sum::<f64>() / values.len() as f64
        })
        .collect()
}

#[test]
fn a_change_between_sessions_is_told_from_chance() {
    let before = sessions(0.0, 51..54);
    let after = sessions(1.5, 54..57);
    let again = sessions(0.0, 57..60);
    let changed = before_after(&before, &after, Some(0.5), "%")
        .unwrap()
        .result;
    holds("change, %", changed.interval, 1.5);
    assert_eq!(changed.conclusion, Conclusion::Different, "{changed:?}");
    let same = before_after(&before, &again, Some(0.5), "%")
        .unwrap()
        .result;
    holds("no change, %", same.interval, 0.0);
    assert_eq!(same.conclusion, Conclusion::Equivalent, "{same:?}");

    // Three units that differ: their scatter is between groups, the repeats' within.
    let units = [before.clone(), after.clone(), again.clone()];
    let differ = repeatability(&units, "%").unwrap().result;
    assert!(differ.p < 0.01, "{differ:?}");
    assert!(differ.s_l > 0.5 && differ.s_l < 1.5, "{differ:?}");
    let alike = repeatability(&[before, again], "%").unwrap().result;
    assert!(alike.p > 0.01 && alike.s_l < 0.3, "{alike:?}");
    holds("repeatability, %", differ.s_r_interval, alike.s_r);
}
