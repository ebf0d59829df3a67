//! How often a verdict is wrong, in a small run: what is said is consistent with what is stated, and
//! errors that matter are noticed. The large run is `prony selftest --rates 2000`.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

use prony::selftest::rates::{document, rates, sessions_in_all};

#[test]
fn verdicts_are_as_seldom_wrong_as_stated() {
    let sessions = 40;
    let found = rates(sessions, |_| {});
    assert_eq!(sessions_in_all(sessions), 12 * sessions);
    assert_eq!(found.len(), 12);
    for rate in &found {
        assert!(rate.passes(), "{rate:?}");
        assert_eq!(rate.covered.of, 5 * u64::from(sessions), "{rate:?}");
    }
    let of = |bench: &str, condition: &str| {
        let mut all = found.iter();
        all.find(|rate| rate.bench.contains(bench) && rate.condition == condition)
            .unwrap()
    };
    // With a calibrated reference a right device can be shown right, and a gross error wrong; with
    // a published ±1 % the gross error still.
    let right = of("calibrated", "right everywhere");
    assert!(right.shown_within.share() > 0.3, "{right:?}");
    for bench in ["calibrated", "published"] {
        let wrong = of(bench, "twice the limit everywhere");
        assert!(wrong.shown_beyond.share() > 0.5, "{wrong:?}");
    }
    // Chance is repeatable, however many processors share the work.
    assert_eq!(rates(5, |_| {}), rates(5, |_| {}));
    assert_eq!(document(&found)["conditions"].as_array().unwrap().len(), 12);
}
