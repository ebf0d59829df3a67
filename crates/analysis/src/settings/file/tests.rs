use super::*;
use crate::claim::{Claim, PowerClaim};
use crate::sequential::{Boundary, EarlyEnd};
use crate::settings::SlopeKnowledge;

#[test]
fn settings_survive_writing_and_reading() {
    let mut settings = Settings::default();
    settings
        .claims
        .push(Claim::PowerAccuracy(PowerClaim::assumed()));
    settings.reference.slope = SlopeKnowledge::Calibrated {
        u_pct: 0.25,
        dof: f64::MAX,
        source: "own static check".into(),
    };
    assert!(!settings.to_ron().contains("early_end"), "off by default");
    assert_eq!(Settings::from_ron(&settings.to_ron()).unwrap(), settings);
    settings.early_end = Some(EarlyEnd {
        boundary: Boundary::OBrienFleming,
        windows: 6,
    });
    assert_eq!(Settings::from_ron(&settings.to_ron()).unwrap(), settings);
}

#[test]
fn what_is_left_out_has_its_default() {
    assert_eq!(Settings::from_ron("()").unwrap(), Settings::default());
    let short = Settings::from_ron("(gate: (window_s: 60))").unwrap();
    assert_eq!(short.gate.window_s, 60);
    assert_eq!(short.gate.shortest_s, 15);
}

#[test]
fn wrong_settings_say_where() {
    for (text, part) in [
        ("(\n gait: ())", "line 2"),
        ("(decision: (shown_at: 0.2))", "decision.shown_at"),
        ("(drivetrain: (efficiency: 97.5))", "drivetrain.efficiency"),
        ("(gate: (window_s: 1))", "gate.window_s"),
        ("(align: (near_s: 0.0))", "align"),
        (
            "(early_end: Some((boundary: pocock, windows: 2)))",
            "early_end.windows",
        ),
    ] {
        let error = Settings::from_ron(text).unwrap_err().to_string();
        assert!(error.contains(part), "{error}");
    }
}
