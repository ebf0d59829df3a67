//! Degenerate input: whatever comes, the answer is finite numbers or *not tested* with a reason,
//! and never a panic.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod common;

use analysis::assess::assess;
use analysis::evidence::{
    Arrival, Command, Evidence, Feeds, InvalidSpan, Load, Place, Role, StepSpan, ZeroOffset,
};
use analysis::examinations::{
    agreement, anchors, apportioning, assurance, best_means, bursts, coast_down, consistency,
    disturbance, drop_out_rates, echo, energy, hysteresis, inertia, level, radio, response, slope,
    smoothing, stability, virtual_speed, warm_up,
};
use analysis::findings::Findings;
use analysis::outcome::{Layer, Plot};
use analysis::settings::Settings;
use analysis::verdict::Verdict;
use common::{evidence, hold, stream};
use proptest::prelude::*;
use units::{Series, Span, Timestamp};

fn numbers(plot: &Plot) -> Vec<f64> {
    plot.layers
        .iter()
        .flat_map(|layer| match layer {
            Layer::Line { runs, .. } => runs.iter().flatten().flatten().copied().collect(),
            Layer::Points { points, .. } => points.iter().flatten().copied().collect(),
            Layer::Intervals { intervals, .. } => intervals.iter().flatten().copied().collect(),
            Layer::Band { low, high, .. } => vec![*low, *high],
            Layer::Level { at, .. } => vec![*at],
            Layer::Span { from, to, .. } => vec![*from, *to],
        })
        .collect()
}

fn all_finite(findings: &Findings) {
    for cell in &findings.cells {
        for value in [
            cell.level_w,
            cell.reference_w,
            cell.under_test_w,
            cell.bias_w,
            cell.bias_pct,
            cell.u_a_pct,
            cell.u_pct,
            cell.dof,
            cell.k,
            cell.expanded_pct,
            cell.n_eff,
            cell.lag1,
            cell.tolerance_pct,
            cell.p_conform,
            cell.capability,
            cell.reject_beyond_pct,
        ] {
            assert!(value.is_finite(), "{cell:?}");
        }
        assert!((0.0..=1.0).contains(&cell.p_conform));
    }
    for window in &findings.windows {
        assert!(window.difference_pct.is_finite() && window.expanded_pct.is_finite());
    }
    for found in &findings.alignment {
        assert!(found.lag_s.is_finite() && found.lag_u_s.is_finite());
    }
    for source in &findings.sources {
        assert!(source.coverage_pct.is_finite());
        assert!(source.rate_hz.is_none_or(f64::is_finite));
    }
    assert!(findings.plots.iter().flat_map(numbers).all(f64::is_finite));
    for reason in &findings.not_tested {
        assert!(!reason.reason.is_empty());
    }
}

fn pair(device: Series, reference: Series, end_s: f64) -> Evidence {
    let mut under_test = stream("trainer", Role::UnderTest, Place::Hub);
    let mut primary = stream("pedals", Role::PrimaryReference, Place::Pedals);
    under_test.power_w = device;
    primary.power_w = reference;
    let mut evidence = evidence(vec![under_test, primary], end_s);
    evidence.steps = vec![hold(0, 0.0, end_s, 200.0)];
    evidence
}

fn flat(from: i32, to: i32, value: f64) -> Series {
    Series::from_pairs(
        (from..to).map(|s| (f64::from(s), value)),
        Series::DEFAULT_HOLD,
    )
    .unwrap()
}

#[test]
fn nothing_to_judge_is_not_tested_with_a_reason() {
    let cases = [
        ("nothing at all", Evidence::default()),
        ("no samples", pair(Series::new(), Series::new(), 300.0)),
        (
            "one sample",
            pair(flat(5, 6, 200.0), flat(0, 300, 200.0), 300.0),
        ),
        (
            "no overlap",
            pair(flat(0, 100, 200.0), flat(200, 300, 200.0), 300.0),
        ),
        (
            "device at zero",
            pair(flat(0, 300, 0.0), flat(0, 300, 200.0), 300.0),
        ),
        (
            "reference at zero",
            pair(flat(0, 300, 200.0), flat(0, 300, 0.0), 300.0),
        ),
        (
            "both at zero",
            pair(flat(0, 300, 0.0), flat(0, 300, 0.0), 300.0),
        ),
        (
            "negative power",
            pair(flat(0, 300, -50.0), flat(0, 300, -50.0), 300.0),
        ),
        ("all gaps", pair(sparse(), sparse(), 300.0)),
    ];
    for (name, evidence) in cases {
        let findings = assess(&evidence, &Settings::default());
        all_finite(&findings);
        assert_eq!(findings.overall.verdict, Verdict::NotTested, "{name}");
        assert!(findings.overall.worst_cell.is_none(), "{name}");
        assert!(!findings.not_tested.is_empty(), "{name}");
        assert_eq!(findings.claims[0].verdict, Verdict::NotTested, "{name}");
    }
}

fn sparse() -> Series {
    Series::from_pairs(
        (0..30).map(|s| (f64::from(s) * 10.0, 200.0)),
        Series::DEFAULT_HOLD,
    )
    .unwrap()
}

/// Two constants: no scatter, no lag, yet a difference, and the budget still has its other terms.
#[test]
fn constants_are_judged_by_the_rest_of_the_budget() {
    let findings = assess(
        &pair(flat(0, 300, 210.0), flat(0, 300, 200.0), 300.0),
        &Settings::default(),
    );
    all_finite(&findings);
    let cell = &findings.cells[0];
    assert_eq!(cell.u_a_pct, 0.0);
    assert!(cell.u_pct > 0.5);
    assert!(findings.alignment[0].refused.is_some());
    assert_eq!(findings.overall.verdict, Verdict::ShownBeyond);
}

fn any_series() -> impl Strategy<Value = Series> {
    let value = prop_oneof![
        4 => 100.0f64..400.0,
        1 => Just(0.0),
        1 => -50.0f64..2000.0,
        1 => Just(200.0),
        1 => prop_oneof![Just(1e12), Just(-1e12), Just(1e-12)],
    ];
    let step = prop_oneof![4 => 0.2f64..1.2, 1 => 0.001f64..0.01, 1 => 3.0f64..40.0];
    (
        0.0f64..30.0,
        proptest::collection::vec((step, value), 0..120),
    )
        .prop_map(|(start, pairs)| {
            let mut secs = start - 5.0;
            let mut series = Series::new();
            for (step, value) in pairs {
                secs += step;
                series.push(Timestamp::from_secs_f64(secs), value).unwrap();
            }
            series
        })
}

fn any_step() -> impl Strategy<Value = StepSpan> {
    let feeds = prop_oneof![
        3 => Just(Feeds::Steady),
        1 => Just(Feeds::Drift),
        1 => Just(Feeds::Response),
        1 => Just(Feeds::Nothing),
    ];
    let target = proptest::option::of(50.0f64..400.0);
    (feeds, -5.0f64..100.0, -5.0f64..120.0, 0.0f64..20.0, target).prop_map(
        |(feeds, from, length, settle, target_w)| StepSpan {
            index: 0,
            attempt: 1,
            title: "any".into(),
            feeds,
            from: Timestamp::from_secs_f64(from),
            to: Timestamp::from_secs_f64(from + length),
            settle: Span::from_secs_f64(settle),
            target_w,
            cadence_rpm: None,
            gear: None,
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]
    #[test]
    fn anything_gives_finite_findings(
        series in proptest::collection::vec(any_series(), 6),
        mut steps in proptest::collection::vec(any_step(), 0..4),
        end in -10.0f64..200.0,
        zero in -5.0f64..5.0,
        odd in proptest::option::of(0.0f64..100.0),
    ) {
        let mut streams = Vec::new();
        for (place, series) in series.chunks(3).enumerate() {
            let (role, name) = if place == 0 {
                (Role::UnderTest, "a")
            } else {
                (Role::PrimaryReference, "b")
            };
            let mut stream = stream(name, role, if place == 0 { Place::Hub } else { Place::OneSide });
            stream.power_w = series[0].clone();
            stream.cadence_rpm = series[1].clone();
            stream.speed_kmh = series[2].clone();
            for s in [0, 100] {
                stream.zero_offsets.push(ZeroOffset {
                    at: Timestamp::from_secs(s),
                    torque_nm: zero * s as f64,
                });
            }
            streams.push(stream);
        }
        steps.sort_by_key(|step| step.from);
        let mut evidence = evidence(streams, end);
        evidence.steps = steps;
        if let Some(from) = odd {
            evidence.invalid.push(InvalidSpan {
                from: Timestamp::from_secs_f64(from),
                to: Timestamp::from_secs_f64(from - 10.0),
                reason: "backwards".into(),
            });
        }
        all_finite(&assess(&evidence, &Settings::default()));
    }
}

/// Every examination of one session, by name.
const EXAMINATIONS: [&str; 24] = [
    level::NAME,
    hysteresis::NAME,
    anchors::NAME,
    "dependence on cadence",
    "dependence on flywheel speed",
    warm_up::NAME,
    response::NAME,
    stability::NAME,
    disturbance::NAME,
    smoothing::NAME,
    echo::NAME,
    bursts::NAME,
    drop_out_rates::NAME,
    radio::NAME,
    slope::NAME,
    virtual_speed::NAME,
    coast_down::NAME,
    inertia::NAME,
    agreement::NAME,
    energy::NAME,
    best_means::NAME,
    consistency::NAME,
    apportioning::NAME,
    assurance::NAME,
];

/// A session of ten steps, one for each thing that can be ridden for, in which three instruments
/// say what `word` gives at each second: device, reference, second reference; nothing where `None`.
fn of_everything(seconds: i64, word: impl Fn(i64) -> Option<[f64; 3]>) -> Evidence {
    let feeds = [
        Feeds::Steady,
        Feeds::Response,
        Feeds::Drift,
        Feeds::Burst,
        Feeds::Slope,
        Feeds::DropOut,
        Feeds::Cadence,
        Feeds::FlywheelSpeed,
        Feeds::CoastDown,
        Feeds::Nothing,
    ];
    let mut streams = vec![
        stream("trainer", Role::UnderTest, Place::Hub),
        stream("crank", Role::PrimaryReference, Place::Crank),
        stream("pedals", Role::SecondReference, Place::Pedals),
    ];
    for second in 0..seconds {
        let Some(words) = word(second) else { continue };
        let at = Timestamp::from_secs(second);
        for (stream, watts) in streams.iter_mut().zip(words) {
            stream.power_w.push(at, watts).unwrap();
            stream.cadence_rpm.push(at, 90.0).unwrap();
            stream.arrivals.push(Arrival { at, epoch: 0 });
        }
        streams[0].speed_kmh.push(at, 30.0).unwrap();
    }
    let mut evidence = evidence(streams, seconds as f64);
    let length = seconds / feeds.len() as i64;
    for (index, feeds) in feeds.into_iter().enumerate() {
        let from = index as i64 * length;
        let target_w = 100.0 + 50.0 * (index % 3) as f64;
        evidence.steps.push(StepSpan {
            feeds,
            ..hold(index, from as f64, length as f64, target_w)
        });
        let load = if feeds == Feeds::Slope {
            Load::Slope {
                grade_pct: 3.0,
                wind_m_per_s: 0.0,
                crr: 0.004,
                cw_kg_per_m: 0.4,
            }
        } else {
            Load::PowerW(target_w)
        };
        evidence.commands.push(Command {
            at: Timestamp::from_secs(from),
            confirmed_at: None,
            load,
        });
    }
    evidence
}

/// The same with everything that has an order in the opposite one.
fn reversed(mut evidence: Evidence) -> Evidence {
    evidence.steps.reverse();
    evidence.commands.reverse();
    for step in &mut evidence.steps {
        std::mem::swap(&mut step.from, &mut step.to);
    }
    for stream in &mut evidence.streams {
        stream.arrivals.reverse();
        // A series takes no sample that is older than its last: of a clock that runs backwards
        // the first remains.
        let mut kept = Series::new();
        for index in (0..stream.power_w.len()).rev() {
            let (at, value) = (
                stream.power_w.times()[index],
                stream.power_w.values()[index],
            );
            let taken = kept.push(at, value).is_ok();
            assert_eq!(taken, kept.len() == 1 && kept.times()[0] == at);
        }
        stream.power_w = kept;
    }
    evidence
}

/// What may be said of each broken session; everything else must be *not tested* with a reason.
/// Radio needs nothing but arrivals, assurance says what is missing, drop-outs and work are
/// themselves what is wrong, and a constant is a measurement like any other.
#[test]
fn every_examination_answers_broken_sessions_with_a_reason() {
    let word = |watts: f64| Some([watts; 3]);
    let cases: [(&str, Evidence, &[&str]); 8] = [
        (
            "one sample",
            of_everything(600, |second| word(200.0).filter(|_| second == 5)),
            &[assurance::NAME, drop_out_rates::NAME],
        ),
        (
            "no overlap",
            {
                let mut evidence = of_everything(600, |_| word(200.0));
                let late = &mut evidence.streams[0];
                late.power_w = late.power_w.shifted(Span::from_secs(5000));
                late.speed_kmh = Series::new();
                late.cadence_rpm = Series::new();
                evidence
            },
            &[
                assurance::NAME,
                drop_out_rates::NAME,
                radio::NAME,
                consistency::NAME,
            ],
        ),
        (
            "constant",
            of_everything(600, |_| word(200.0)),
            &[
                assurance::NAME,
                drop_out_rates::NAME,
                radio::NAME,
                stability::NAME,
                virtual_speed::NAME,
                agreement::NAME,
                energy::NAME,
                best_means::NAME,
                consistency::NAME,
            ],
        ),
        (
            "all gaps",
            of_everything(3600, |second| word(200.0).filter(|_| second % 20 == 0)),
            // Within the 2.5 s that a value is held both are there, long enough for the shortest.
            &[
                assurance::NAME,
                drop_out_rates::NAME,
                radio::NAME,
                best_means::NAME,
            ],
        ),
        (
            "reversed clocks",
            reversed(of_everything(600, |second| {
                word(150.0 + (second % 50) as f64)
            })),
            &[assurance::NAME, drop_out_rates::NAME],
        ),
        (
            "24 h",
            of_everything(86_400, |_| word(200.0)),
            &[
                assurance::NAME,
                drop_out_rates::NAME,
                radio::NAME,
                stability::NAME,
                virtual_speed::NAME,
                agreement::NAME,
                energy::NAME,
                best_means::NAME,
                anchors::NAME,
                consistency::NAME,
            ],
        ),
        (
            "negative power",
            of_everything(600, |_| word(-50.0)),
            &[assurance::NAME, drop_out_rates::NAME, radio::NAME],
        ),
        (
            "1-s zeros",
            of_everything(600, |second| {
                let zero = if second % 5 == 0 { 0.0 } else { 200.0 };
                Some([zero, 200.0, 200.0])
            }),
            &[
                assurance::NAME,
                drop_out_rates::NAME,
                radio::NAME,
                energy::NAME,
                best_means::NAME,
                stability::NAME,
            ],
        ),
    ];
    let mut wrong = Vec::new();
    for (name, evidence, may_answer) in cases {
        let findings = assess(&evidence, &Settings::default());
        all_finite(&findings);
        let not_tested = findings.examinations.not_tested();
        for examination in EXAMINATIONS {
            let reason = not_tested.iter().find(|not| not.examination == examination);
            match reason {
                Some(not) => assert!(not.reason.len() > 20, "{name}: {examination}: {not}"),
                None if may_answer.contains(&examination) => {}
                None => wrong.push(format!("{name}: {examination}")),
            }
        }
        for not in &not_tested {
            assert!(
                EXAMINATIONS.contains(&not.examination),
                "{}",
                not.examination
            );
        }
    }
    assert!(wrong.is_empty(), "claim to have been tested: {wrong:?}");
}
