//! Invented instruments in range, and how one of them behaved under audit.

use super::LONG;
use analysis::evidence::Place;
use bench::model::InstrumentRole;
use desk::{AuditLine, AuditView, DeviceCard, LinkWord};

/// Instruments in range, two of them with a role.
pub fn devices() -> Vec<DeviceCard> {
    let device = |id: &str, name: &str, services: &[&str]| DeviceCard {
        id: id.into(),
        name: name.into(),
        services: services.iter().map(|service| (*service).into()).collect(),
        signal_dbm: Some(-61),
        age_s: Some(0),
        ..DeviceCard::default()
    };
    let trainer = DeviceCard {
        role: Some(InstrumentRole::UnderTest),
        place: Some(Place::Hub),
        link: LinkWord::Live,
        identity: "Invented maker, model 7, firmware 1.4.2".into(),
        features: vec![
            "target power".into(),
            "indoor bike simulation".into(),
            "spin-down".into(),
            "flywheel speed".into(),
        ],
        battery_pct: Some(12),
        power_w: Some(203.0),
        cadence_rpm: Some(89.0),
        speed_kmh: Some(34.0),
        warnings: vec![
            "Its battery is at 12 %: change it before a long script.".into(),
            "It is also heard under a second address. Let go of it in other programs.".into(),
        ],
        offers_zero: true,
        offers_spin_down: true,
        procedure: "Spin-down: ride above 35.0 km/h, then stop pedalling.".into(),
        ..device(
            "C4:11:0A:7B:2E:90",
            "Trainer 7",
            &["fitness machine", "cycling power", "speed and cadence"],
        )
    };
    let pedals = DeviceCard {
        role: Some(InstrumentRole::PrimaryReference),
        place: Some(Place::Pedals),
        link: LinkWord::Making,
        ..device("D0:22:19:00:5A:01", "Pedals A", &["cycling power"])
    };
    let strange = DeviceCard {
        link: LinkWord::Lost,
        age_s: Some(48),
        signal_dbm: None,
        ..device("E1:08:33:41:00:02", LONG, &["cycling power"])
    };
    vec![
        trainer,
        pedals,
        strange,
        device("F2:08:33:41:00:03", "Crank B", &["cycling power"]),
    ]
}

/// An audit with every outcome in it.
pub fn audit() -> AuditView {
    let line = |title: &str, clause: &str, outcome: &str, words: &str| AuditLine {
        title: title.into(),
        clause: clause.into(),
        outcome: outcome.into(),
        words: words.into(),
        is_broken: outcome == "broken",
    };
    AuditView {
        device: "Trainer 7".into(),
        identity: "Invented maker, model 7, firmware 1.4.2".into(),
        rules: vec![
            line(
                "answers a request for control within the time of the standard",
                "4.16.2.1",
                "broken",
                "no answer within 30 s; the request was written at 0:12 and again at 0:43",
            ),
            line(
                "speed is sent with the resolution of the standard",
                "4.9.1",
                "kept",
                "256 records, 33.9 km/h to 34.2 km/h",
            ),
            line("announces a change of its state", "4.17", "kept", ""),
            line(
                "releases the load after a reset",
                "4.16.2.2",
                "not observable",
                "nothing was loaded while it was listened to",
            ),
        ],
        sentence: "2 rules kept, 1 broken, 1 not observable.".into(),
    }
}
