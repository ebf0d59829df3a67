use super::super::synthetic::{Noise, Session, TestWindow, at};
use super::*;
use crate::evidence::{Feeds, ZeroOffset};
use units::Series;

fn ride(seed: u64) -> Session {
    let mut noise = Noise::new(seed);
    let mut session = Session::pair(
        1200,
        |_| {
            let truth = 200.0 + 8.0 * noise.normal();
            (
                (truth + 3.0 * noise.normal()).round(),
                (0.98 * truth + 3.0 * noise.normal()).round(),
            )
        },
        Session::usual_motion,
    );
    zero(&mut session, &[(0.0, 0.0), (1190.0, 0.1)]);
    session
}

fn zero(session: &mut Session, readings: &[(f64, f64)]) {
    session.evidence.streams[1].zero_offsets = readings
        .iter()
        .map(|(t, torque_nm)| ZeroOffset {
            at: at(*t),
            torque_nm: *torque_nm,
        })
        .collect();
}

fn kinds(session: &Session) -> Vec<ConcernKind> {
    assurance(&session.given())
        .unwrap()
        .result
        .concerns
        .iter()
        .map(|c| c.kind)
        .collect()
}

#[test]
fn a_sound_reference_raises_no_concern() {
    for seed in 0..10 {
        assert_eq!(kinds(&ride(seed)), vec![]);
    }
}

/// 0.5 N·m at 90 rpm are 4.7 W (practice text, computed there).
#[test]
fn zeros_are_watched() {
    let mut session = ride(1);
    zero(&mut session, &[(0.0, 0.0), (1190.0, 0.5)]);
    let found = assurance(&session.given()).unwrap().result;
    assert_eq!(found.concerns[0].kind, ConcernKind::ZeroMoved);
    assert!((found.zeros[0].change_w - 4.71).abs() < 0.01);
    assert!((found.zeros[0].u_pct - 0.5 * 4.71 / 2.0).abs() < 0.02);
    zero(&mut session, &[]);
    assert_eq!(kinds(&session), vec![ConcernKind::ZeroNotChecked]);
    zero(&mut session, &[(0.0, 0.0), (600.0, 0.25), (1190.0, 0.25)]);
    assert_eq!(kinds(&session), vec![ConcernKind::AutomaticZero]);
}

#[test]
fn one_side_blocks_a_primary_reference() {
    let mut session = ride(1);
    session.evidence.streams[1].place = Place::OneSide;
    let found = assurance(&session.given()).unwrap();
    assert!(found.result.concerns[0].blocks);
    assert!(found.sentence.starts_with("No verdict"));
}

#[test]
fn a_copied_reference_is_circular() {
    let mut session = ride(2);
    let copied = session.evidence.streams[1].power_w.clone();
    session.evidence.streams[0].power_w = copied
        .map_time(|t| t + units::Span::from_millis(700))
        .unwrap();
    assert_eq!(kinds(&session), vec![ConcernKind::Circular]);
}

fn levels(reference_pct: f64, device_pct: f64) -> Session {
    let mut session = ride(3);
    for (i, level_w) in [100.0, 200.0, 300.0].into_iter().enumerate() {
        let step = session.step(
            Feeds::Steady,
            300.0 * i as f64,
            300.0 * (i + 1) as f64,
            level_w,
        );
        for window in 0..5 {
            session.window(TestWindow {
                from_s: 300.0 * i as f64 + 30.0 * f64::from(window),
                step,
                level_w,
                reference_w: level_w * (1.0 + reference_pct / 100.0),
                under_test_w: level_w * (1.0 + device_pct / 100.0),
                cadence_rpm: 90.0,
                speed_kmh: 33.0,
                u_pct: 0.3,
            });
        }
    }
    session
}

#[test]
fn a_steered_device_is_circular_and_a_regulated_one_is_not() {
    assert_eq!(kinds(&levels(0.1, 2.5)), vec![ConcernKind::Circular]);
    assert_eq!(kinds(&levels(-2.5, 0.1)), vec![]);
    assert_eq!(kinds(&levels(0.1, 0.1)), vec![]);
}

#[test]
fn a_jump_after_coasting_is_noticed() {
    let mut session = ride(4);
    let series = Series::from_pairs(
        (0..1200).map(|t| {
            let coasting = (600..606).contains(&t);
            (
                f64::from(t),
                if coasting {
                    0.0
                } else {
                    200.0 + f64::from(t % 7)
                },
            )
        }),
        Series::DEFAULT_HOLD,
    )
    .unwrap();
    session.evidence.streams[1].power_w = series;
    let step = session.step(Feeds::Steady, 0.0, 1200.0, 0.0);
    let mut noise = Noise::new(9);
    for window in 0..36 {
        let t = 30.0 * f64::from(window);
        let jump = if t > 606.0 { 6.0 } else { 0.0 };
        session.window(TestWindow {
            from_s: t,
            step,
            level_w: 200.0,
            reference_w: 200.0,
            under_test_w: 200.0 + jump + noise.normal(),
            cadence_rpm: 90.0,
            speed_kmh: 33.0,
            u_pct: 0.3,
        });
    }
    assert_eq!(kinds(&session), vec![ConcernKind::AutomaticZero]);
    assert!(assurance(&Session::empty().given()).is_err());
}
