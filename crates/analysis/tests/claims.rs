//! The claim sheet: reading and writing, wrong sheets with place and remedy, and a verdict on
//! every kind of claim from a session with known truth or from measurements by hand.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod common;

use analysis::assess::assess;
use analysis::claim::{
    Claim, ClaimLocation, ClaimSheet, Covers, PowerClaim, read_claims, read_measurements,
    read_sheet, write_claims, write_sheet,
};
use analysis::evidence::{Arrival, Command, Evidence, Feeds, Load, Place, Role, StepSpan};
use analysis::examinations::WindFactor;
use analysis::examinations::road::Road;
use analysis::findings::ClaimFinding;
use analysis::settings::{Settings, SlopeKnowledge};
use analysis::verdict::{Tolerance, Verdict};
use common::{Holds, Noise, evidence, stream};
use units::{Span, Timestamp};

/// An invented trainer's claims.
const SHEET: &str = r#"(
    claims: [
        LargestPower((
            name: "largest power", text: "absorbs 230 W and more", source: "leaflet, p. 2",
            limit: AtLeast(230.0), over_s: 10,
        )),
        LargestPower((name: "sprint power", limit: AtLeast(1800.0))),
        LargestSlope((name: "largest slope", limit: AtLeast(16.0))),
        FieldsSent((name: "fields", fields: [power])),
        FieldsSent((name: "cadence too", fields: [power, cadence])),
        FieldsSent((name: "heart", fields: [power, other("heart rate")])),
        UpdateRate((name: "rate", limit: Between(0.9, 1.1))),
        UpdateRate((name: "fast rate", limit: AtLeast(4.0))),
        EquivalentMass((name: "inertia", limit: AtLeast(20.0))),
        Noise((name: "noise", limit: AtMost(69.5), distance_m: 1.0)),
        Mass((name: "mass", limit: Nominal(15.9, 0.3), conditions: ["without cassette"])),
        Dimension((name: "height", limit: AtMost(480.0))),
        Document((name: "declaration of conformity")),
        Document((name: "radio listing")),
        PowerAccuracy((name: "power", tolerance: PercentOfReading(2.0), text: "±2 %")),
    ],
)"#;

const MEASURED: &str = r#"(
    measurements: [
        // Energy mean 70 dB over a background of 63 dB: 69.03 dB.
        Noise((
            claim: "noise", running_db: [70.0, 70.0, 70.0], background_db: [63.0, 63.0, 63.0],
            distance_m: 1.0, u_meter_db: 0.2, source: "class 2 meter, 3 May",
        )),
        Value((claim: "mass", value: 16.4, uncertainty: HalfWidth(0.1), source: "scale, 3 May")),
        Value((claim: "height", value: 479.8, uncertainty: Expanded(1.0, 2.0), source: "tape")),
        Checked((claim: "declaration of conformity", found: confirmed, source: "leaflet, p. 9")),
        Checked((claim: "radio listing", found: refuted, source: "number on the label, 4 May")),
    ],
)"#;

fn judged(sheet: &str, measured: Option<&str>) -> Vec<ClaimFinding> {
    let mut settings = Settings::default();
    settings.reference.slope = SlopeKnowledge::Calibrated {
        u_pct: 0.25,
        dof: f64::MAX,
        source: "static check".into(),
    };
    settings.claims = read_claims(sheet).unwrap();
    if let Some(text) = measured {
        settings.measurements = read_measurements(text, &settings.claims).unwrap();
    }
    let holds = Holds {
        levels_w: vec![200.0, 250.0],
        length_s: 211.0,
        gain: 1.0,
        offset_w: 0.0,
        sd_w: 3.0,
        phi: 0.5,
    };
    assess(&holds.evidence(&mut Noise::new(11)), &settings).claims
}

fn of<'a>(claims: &'a [ClaimFinding], name: &str) -> &'a ClaimFinding {
    claims.iter().find(|claim| claim.name == name).unwrap()
}

/// The session is 7 minutes at 200 and 250 W, one packet a second, no cadence from the device.
#[test]
fn each_claim_gets_its_verdict() {
    let claims = judged(SHEET, Some(MEASURED));
    for claim in &claims {
        println!(
            "{}: {} {:?} ± {:?} {} – {}",
            claim.name,
            claim.verdict.words(),
            claim.measured,
            claim.expanded,
            claim.unit,
            claim.remark
        );
    }
    assert_eq!(claims.len(), 15);
    assert_eq!(
        claims[0].name, "power",
        "power comes first, for the summary"
    );
    for (name, verdict) in [
        ("power", Verdict::ShownWithin),
        ("largest power", Verdict::ShownWithin),
        ("sprint power", Verdict::NotTested),
        ("largest slope", Verdict::NotTested),
        ("fields", Verdict::ShownWithin),
        ("cadence too", Verdict::LikelyBeyond),
        ("heart", Verdict::NotTested),
        ("rate", Verdict::ShownWithin),
        ("fast rate", Verdict::ShownBeyond),
        ("inertia", Verdict::NotTested),
        ("noise", Verdict::ShownWithin),
        ("mass", Verdict::ShownBeyond),
        ("height", Verdict::LikelyWithin),
        ("declaration of conformity", Verdict::ShownWithin),
        ("radio listing", Verdict::ShownBeyond),
    ] {
        assert_eq!(of(&claims, name).verdict, verdict, "{name}");
    }
    // 70 dB over 63 dB is 69.0335 dB, the exact value behind the −1 dB of sound-level-meter
    // manuals; computed for the project's check list.
    assert!((of(&claims, "noise").measured.unwrap() - 69.0335).abs() < 5e-5);
    let most = of(&claims, "largest power");
    assert!((245.0..275.0).contains(&most.measured.unwrap()), "{most:?}");
    assert_eq!(
        (most.limit.as_str(), most.unit),
        ("at least 230 W over 10 s", "W")
    );
    assert!(most.rule.contains("leaflet, p. 2") && most.text.contains("230 W"));
    assert!(
        of(&claims, "sprint power")
            .remark
            .contains("not tested above 2")
    );
    assert!(of(&claims, "mass").rule.contains("without cassette"));
}

/// What was not measured is not tested, and the remark says what to do.
#[test]
fn nothing_measured_is_said_with_a_remedy() {
    let claims = judged(SHEET, None);
    for (name, remedy) in [
        ("noise", "sound level meter"),
        ("mass", "weigh the device"),
        ("height", "measure the length"),
        ("radio listing", "look the document"),
        ("largest slope", "slope steps"),
        ("inertia", "accelerations"),
        ("heart", "look it up by hand"),
    ] {
        let claim = of(&claims, name);
        assert_eq!(
            (claim.verdict, claim.measured),
            (Verdict::NotTested, None),
            "{name}"
        );
        assert!(claim.remark.contains(remedy), "{}", claim.remark);
    }
}

/// A microphone that hears mostly the room gives an upper bound: it can show a level to be kept,
/// never to be missed.
#[test]
fn a_loud_room_speaks_for_a_claim_but_not_against_it() {
    let at_most = |limit: &str| {
        format!(
            r#"(claims: [Noise((name: "n", limit: AtMost({limit}), distance_m: 1.0))],
            measurements: [Noise((claim: "n", running_db: [55.0, 55.0], background_db: [52.0, 52.0],
            distance_m: 1.0, u_meter_db: 0.3, source: "meter"))])"#
        )
    };
    for (limit, verdict) in [("57.0", Verdict::ShownWithin), ("45.0", Verdict::NotTested)] {
        let sheet = read_sheet(&at_most(limit)).unwrap();
        let settings = Settings {
            claims: sheet.claims,
            measurements: sheet.measurements,
            ..Settings::default()
        };
        let claims = assess(&evidence(Vec::new(), 10.0), &settings).claims;
        assert_eq!(of(&claims, "n").verdict, verdict, "{limit}: {claims:?}");
        // Without a claim of power the tester's own limit stands first.
        assert_eq!(claims[0].verdict, Verdict::NotTested);
        assert_eq!(claims[0].limit, "±2 %");
    }
}

#[test]
fn a_sheet_survives_writing_and_reading() {
    let claims = read_claims(SHEET).unwrap();
    assert_eq!(read_claims(&write_claims(&claims)).unwrap(), claims);
    let measurements = read_measurements(MEASURED, &claims).unwrap();
    let sheet = ClaimSheet {
        claims,
        measurements,
        static_checks: read_sheet(CHECKED).unwrap().static_checks,
    };
    assert_eq!(sheet.static_checks.len(), 1);
    let again = read_sheet(&write_sheet(&sheet)).unwrap();
    assert_eq!(again.claims, sheet.claims);
    assert_eq!(again.measurements, sheet.measurements);
    let slope = |sheet: &ClaimSheet| {
        let found = sheet.static_checks[0].findings().unwrap().result;
        (found.slope.value, found.slope.u, found.due_day)
    };
    assert!((slope(&again).0 - slope(&sheet).0).abs() < 1e-12);
    assert!((slope(&again).1 - slope(&sheet).1).abs() < 1e-12);
    assert_eq!(slope(&again).2, slope(&sheet).2);
    let settings = Settings {
        claims: sheet.claims,
        ..Settings::default()
    };
    assert_eq!(Settings::from_ron(&settings.to_ron()).unwrap(), settings);
}

/// A static check on a sheet: five masses up and down on a 172.5 mm arm at 51.5° of latitude, the
/// meter showing 0.4 % too much. 20 kg are 33.85 N·m there (mass times normal gravity times arm).
const CHECKED: &str = r#"(
    claims: [],
    static_checks: [(
        of: reference, day: (2026, 3, 5), valid_days: 182, source: "weights of class M1, workshop",
        u_mass_pct: 0.05, u_arm_mm: 0.3, level_deg: 1.0, gravity: AtLatitude(51.5), arm_mm: 172.5,
        readings: [
            (left, up, 5.0, 8.50), (left, up, 10.0, 16.99), (left, up, 15.0, 25.49),
            (left, up, 20.0, 33.99), (left, down, 10.0, 17.00), (right, up, 5.0, 8.50),
            (right, up, 10.0, 16.99), (right, up, 20.0, 33.98), (right, down, 10.0, 16.99),
        ],
    )],
)"#;

#[test]
fn a_static_check_takes_the_place_of_the_published_accuracy() {
    let sheet = read_sheet(CHECKED).unwrap();
    let found = sheet.static_checks[0].findings().unwrap().result;
    assert!((found.slope.value - 1.004).abs() < 2e-4, "{found:?}");
    let settings = sheet.in_force(&Settings::default()).unwrap();
    let SlopeKnowledge::Calibrated { u_pct, source, .. } = &settings.reference.slope else {
        panic!("{:?}", settings.reference.slope);
    };
    // Arm 0.3 of 172.5 mm is 0.174 %, the deviation of 0.4 % that is not corrected adds 0.231 %.
    assert!((0.28..0.34).contains(u_pct), "{u_pct}");
    assert!(
        source.contains("2026-03-05") && source.contains("2026-09-03"),
        "{source}"
    );
    assert!(sheet.static_checks[0].has_lapsed_by(20_700));
    assert!(!sheet.static_checks[0].has_lapsed_by(20_520));
    for (wrong, right, what) in [
        ("(2026, 2, 30)", "(2026, 3, 5)", "no such day"),
        ("arm_mm: 17.25", "arm_mm: 172.5", "arm"),
        ("AtLatitude(151.5)", "AtLatitude(51.5)", "gravity"),
    ] {
        let error = read_sheet(&CHECKED.replace(right, wrong)).unwrap_err();
        assert!(error.to_string().contains(what), "{wrong}: {error}");
    }
}

/// Sheets as they were before there was anything but power accuracy.
#[test]
fn old_sheets_are_read() {
    let short = r#"(claims: [PowerAccuracy((name: "power", tolerance: PercentOfReading(1.5)))])"#;
    let Claim::PowerAccuracy(claim) = read_claims(short).unwrap().remove(0) else {
        panic!("another kind")
    };
    assert_eq!(claim.location, ClaimLocation::Silent);
    assert_eq!(claim.covers, Covers::EachLevel);
    assert!(claim.applies_at(5.0));
    let claims = vec![Claim::PowerAccuracy(PowerClaim {
        range_w: Some([50.0, 1000.0]),
        tolerance: Tolerance::LargerOf {
            pct: 2.0,
            watts: 3.0,
        },
        conditions: vec!["after 10 minutes of riding".into()],
        ..PowerClaim::assumed()
    })];
    let text = write_claims(&claims);
    assert!(!text.contains("measurements"), "{text}");
    assert_eq!(read_claims(&text).unwrap(), claims);
}

/// A wrong sheet names the place and what helps.
#[test]
fn wrong_sheets_say_where_and_what_to_do() {
    let sheets = [
        ("(\nclaims: [Pow]\n)", "line 2", "known: PowerAccuracy"),
        (
            "(\nclaims: [\nLargestPowr((name: \"a\", limit: AtLeast(1.0)))])",
            "line 3",
            "did you mean `LargestPower`?",
        ),
        ("(claim: [])", "line 1", "did you mean `claims`?"),
        (
            "(claims: [\n Mass((name: \"mass\"))])",
            "line 2",
            "the field `limit` is missing",
        ),
        (
            "(claims: [\n Mass((name: \"mass\", limit: AtLeast(\"x\")))])",
            "line 2",
            "",
        ),
        (
            "(claims: [\n\n  Mass((name: \"mass\", limit: AtMost(-1.0)))])",
            "line 3, column 15",
            "above zero",
        ),
        (
            "(claims: [Mass((name: \"mass\", limit: Between(3.0, 2.0)))])",
            "line 1",
            "from a lower to a higher",
        ),
        (
            "(claims: [Mass((name: \"mass\", limit: Nominal(3.0, 0.0)))])",
            "line 1",
            "a deviation is above zero",
        ),
        (
            "(claims: [\nDocument((name: \"a\")),\nDocument((name: \"a\"))])",
            "line 3, column 17",
            "twice",
        ),
        (
            "(claims: [Document((name: \" \"))])",
            "line 1",
            "needs a name",
        ),
        (
            "(claims: [FieldsSent((name: \"f\", fields: []))])",
            "line 1",
            "at least one field",
        ),
        (
            "(claims: [FieldsSent((name: \"f\", fields: [cadense]))])",
            "line 1",
            "did you mean `cadence`?",
        ),
        (
            "(claims: [Noise((name: \"n\", limit: AtMost(60.0), distance_m: 0.0))])",
            "line 1",
            "distance above zero",
        ),
        (
            "(claims: [LargestPower((name: \"p\", limit: AtLeast(9.0), over_s: 0.2))])",
            "line 1",
            "from 1 to 3600 s",
        ),
        (
            "(claims: [PowerAccuracy((name: \"power\", tolerance: Watts(-1.0)))])",
            "line 1",
            "half-width above zero",
        ),
        (
            "(claims: [Document((name: \"paper\"))], measurements: [\n\
             Checked((claim: \"papers\", found: confirmed, source: \"x\"))])",
            "line 2",
            "did you mean \"paper\"?",
        ),
        (
            "(claims: [Document((name: \"paper\"))], measurements: [\n\
             Checked((claim: \"paper\", found: confirmed, source: \"\"))])",
            "line 2",
            "needs its source",
        ),
        (
            "(claims: [Document((name: \"paper\"))], measurements: [\n\
             Checked((claim: \"paper\", found: confirmed, source: \"x\")),\n\
             Checked((claim: \"paper\", found: refuted, source: \"y\"))])",
            "line 3",
            "measured twice",
        ),
        (
            "(claims: [Mass((name: \"m\", limit: AtMost(9.0)))], measurements: [\n\
             Value((claim: \"m\", value: 8.0, uncertainty: Standard(0.0), source: \"x\"))])",
            "line 2",
            "uncertainty above zero",
        ),
    ];
    for (text, place, remedy) in sheets {
        let error = read_sheet(text).unwrap_err().to_string();
        println!("{error}");
        assert!(error.contains(place), "{text}\n{error}");
        assert!(error.contains(remedy), "{text}\n{error}");
    }
}

/// Device and reference once a second, at the same place: `at(t)` gives the power of the
/// reference and of the device in W and the speed in m/s.
fn recorded(length_s: i64, mut at: impl FnMut(f64) -> [f64; 3]) -> Evidence {
    let mut device = stream("trainer", Role::UnderTest, Place::Hub);
    let mut reference = stream("hub", Role::PrimaryReference, Place::Hub);
    for second in 0..length_s {
        let [reference_w, device_w, speed] = at(second as f64);
        let now = Timestamp::from_secs(second);
        reference.power_w.push(now, reference_w).unwrap();
        device.power_w.push(now, device_w).unwrap();
        device.speed_kmh.push(now, 3.6 * speed).unwrap();
        for stream in [&mut device, &mut reference] {
            stream.cadence_rpm.push(now, 10.0 * speed).unwrap();
            stream.arrivals.push(Arrival { at: now, epoch: 1 });
        }
    }
    evidence(vec![device, reference], length_s as f64)
}

/// A device whose force stops rising at a grade, and one that follows as far as it is ridden.
#[test]
fn the_largest_slope_is_judged_by_the_force() {
    const GRADES: [f64; 7] = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0, 12.0];
    let place = |t: f64| {
        let stretch = (t / 40.0) as usize;
        (GRADES[stretch % 7], [4.0, 9.0][(stretch / 7).min(1)])
    };
    let climbed = |ceiling_pct: f64| {
        let mut noise = Noise::new(3);
        let mut evidence = recorded(560, |t| {
            let (grade_pct, speed) = place(t);
            let road = Road {
                mass_kg: 82.0,
                grade: f64::min(grade_pct, ceiling_pct) / 100.0,
                crr: 0.004,
                cw_kg_per_m: 0.4,
                wind_factor: WindFactor::Half,
                wind_m_per_s: 0.0,
            };
            let power_w = road.power_w(speed);
            [power_w * (1.0 + 0.02 * noise.normal()), power_w, speed]
        });
        evidence.steps.push(StepSpan {
            feeds: Feeds::Slope,
            settle: Span::ZERO,
            target_w: None,
            cadence_rpm: None,
            ..common::hold(0, 0.0, 560.0, 0.0)
        });
        evidence.commands = (0..14)
            .map(|stretch| Command {
                at: Timestamp::from_secs(40 * stretch),
                confirmed_at: None,
                load: Load::Slope {
                    grade_pct: place(40.0 * stretch as f64).0,
                    wind_m_per_s: 0.0,
                    crr: 0.004,
                    cw_kg_per_m: 0.4,
                },
            })
            .collect();
        evidence
    };
    let settings = Settings {
        claims: read_claims(
            r#"(claims: [
                LargestSlope((name: "gentle", limit: AtLeast(5.5))),
                LargestSlope((name: "steep", limit: AtLeast(10.0))),
                LargestSlope((name: "steeper", limit: AtLeast(16.0))),
            ])"#,
        )
        .unwrap(),
        ..Settings::default()
    };
    for (ceiling_pct, verdicts) in [
        (
            7.0,
            [
                Verdict::ShownWithin,
                Verdict::ShownBeyond,
                Verdict::ShownBeyond,
            ],
        ),
        (
            99.0,
            [
                Verdict::ShownWithin,
                Verdict::ShownWithin,
                Verdict::NotTested,
            ],
        ),
    ] {
        let claims = assess(&climbed(ceiling_pct), &settings).claims;
        for (name, verdict) in ["gentle", "steep", "steeper"].into_iter().zip(verdicts) {
            let claim = of(&claims, name);
            println!("{ceiling_pct} {name}: {claim:?}");
            assert_eq!(claim.verdict, verdict, "{ceiling_pct} {name}");
            assert!((claim.measured.unwrap() - ceiling_pct.min(12.0)).abs() < 0.6);
        }
    }
}

/// Power that the reference delivers and the device does not report, while speed rises and falls:
/// part of the mass may be in the report, so the session speaks one way only.
#[test]
fn equivalent_mass_is_a_lower_bound() {
    let mut noise = Noise::new(5);
    let (mut brake_w, mut before) = (150.0, 8.0);
    let evidence = recorded(600, |t| {
        // The rider's slow ups and downs, so that the clocks can be told apart.
        brake_w += 0.1 * (150.0 - brake_w) + 12.0 * noise.normal();
        let speed = 8.0 + 2.0 * (std::f64::consts::TAU * t / 37.0).sin();
        let stored_w = 25.0 * (speed * speed - before * before) / 2.0;
        before = speed;
        [brake_w + stored_w, brake_w, speed]
    });
    let settings = Settings {
        claims: read_claims(
            r#"(claims: [
                EquivalentMass((name: "at least 18", limit: AtLeast(18.0))),
                EquivalentMass((name: "at least 40", limit: AtLeast(40.0))),
                EquivalentMass((name: "25", limit: Nominal(25.0, 8.0))),
                EquivalentMass((name: "at most 12", limit: AtMost(12.0))),
            ])"#,
        )
        .unwrap(),
        ..Settings::default()
    };
    let claims = assess(&evidence, &settings).claims;
    for (name, verdict) in [
        ("at least 18", Verdict::ShownWithin),
        ("at least 40", Verdict::NotTested),
        ("25", Verdict::NotTested),
        ("at most 12", Verdict::ShownBeyond),
    ] {
        let claim = of(&claims, name);
        println!("{claim:?}");
        assert_eq!(claim.verdict, verdict, "{name}");
    }
}

/// A sheet cut off anywhere, or with any one character missing, is read or refused, never worse;
/// every refusal says something.
#[test]
fn damaged_sheets_are_refused() {
    let claims = read_claims(SHEET).unwrap();
    for text in [SHEET, MEASURED] {
        for (cut, letter) in text.char_indices() {
            let shorter = &text[..cut];
            let without = format!("{shorter}{}", &text[cut + letter.len_utf8()..]);
            for damaged in [shorter, &without] {
                let errors = [
                    read_sheet(damaged).err(),
                    read_measurements(damaged, &claims).err(),
                ];
                assert!(
                    errors
                        .iter()
                        .flatten()
                        .all(|error| !error.to_string().is_empty())
                );
            }
            assert!(read_sheet(shorter).is_err(), "cut at {cut}");
        }
    }
}
