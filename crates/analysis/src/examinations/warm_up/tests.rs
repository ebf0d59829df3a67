use super::super::synthetic::{Noise, Session};
use super::*;
use crate::stats::intervals::excludes;

/// An hour at 220 W; the rider's variation is common, the paired noise coloured.
fn hour(seed: u64, drift_pct: impl Fn(f64) -> f64) -> Session {
    let mut noise = Noise::new(seed);
    let mut coloured = 0.0;
    let mut session = Session::pair(
        3600,
        |t| {
            let truth = 220.0 + 8.0 * noise.normal();
            coloured = 0.5 * coloured + 3.0 * noise.normal();
            (
                truth,
                truth * (1.0 + drift_pct(t / 60.0) / 100.0) + coloured,
            )
        },
        Session::usual_motion,
    );
    session.step(Feeds::Drift, 0.0, 3600.0, 220.0);
    session
}

#[test]
fn a_saturating_drift_is_found() {
    let mut covered = 0;
    for seed in 0..40 {
        let session = hour(seed, |t| 1.0 - 2.0 * (1.0 - (-t / 9.0).exp()));
        let found = warm_up(&session.given()).unwrap().result;
        assert!(found.claimed, "seed {seed}: {found:?}");
        let truth = -2.0 * (1.0 - (-60.0f64 / 9.0).exp());
        covered += usize::from(!excludes(found.interval_pct, truth));
        assert_eq!(found.shape, Shape::Saturating);
    }
    assert!(covered >= 34, "{covered} of 40 intervals hold the truth");
}

#[test]
fn a_linear_drift_is_found() {
    let mut covered = 0;
    for seed in 200..240 {
        let session = hour(seed, |t| 0.02 * t);
        let found = warm_up(&session.given()).unwrap().result;
        assert!(found.claimed);
        covered += usize::from(!excludes(found.interval_pct, 1.2));
        assert_eq!(found.checkpoints.len(), 4);
    }
    assert!(covered >= 34, "{covered} of 40 intervals hold the truth");
}

#[test]
fn no_drift_is_not_claimed() {
    let claims = (100..160)
        .filter(|&seed| {
            warm_up(&hour(seed, |_| 1.5).given())
                .unwrap()
                .result
                .claimed
        })
        .count();
    assert!(claims <= 6, "{claims} false claims of 60");
}

/// 0.5 N·m are 4.7 W at 90 rpm (practice text, computed there).
#[test]
fn a_moved_zero_is_in_the_uncertainty() {
    let mut session = hour(7, |_| 0.0);
    for (secs, torque_nm) in [(0.0, 0.0), (3600.0, 0.5)] {
        session.evidence.streams[1]
            .zero_offsets
            .push(crate::evidence::ZeroOffset {
                at: super::super::synthetic::at(secs),
                torque_nm,
            });
    }
    let found = warm_up(&session.given()).unwrap().result;
    assert!(
        (found.u_zero_pct - 0.5 * 4.712 / 220.0 * 100.0).abs() < 0.01,
        "{found:?}"
    );
    assert!(found.change_pct.u >= found.u_zero_pct);
}

#[test]
fn degenerate_rides_are_not_tested() {
    assert!(warm_up(&Session::empty().given()).is_err());
    let mut short = Session::pair(300, |_| (200.0, 201.0), Session::usual_motion);
    short.step(Feeds::Drift, 0.0, 300.0, 200.0);
    assert!(
        warm_up(&short.given())
            .unwrap_err()
            .reason
            .contains("minutes")
    );
    let mut flat = Session::pair(3600, |_| (200.0, 201.0), Session::usual_motion);
    flat.step(Feeds::Drift, 0.0, 3600.0, 200.0);
    assert!(warm_up(&flat.given()).is_err());
    let mut negative = Session::pair(3600, |_| (-5.0, 0.0), Session::usual_motion);
    negative.step(Feeds::Drift, 0.0, 3600.0, 200.0);
    assert!(warm_up(&negative.given()).is_err());
}
