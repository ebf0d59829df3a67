//! Uncertainty and decision against the published examples. The source stands beside each number.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

use analysis::budget::combine;
use analysis::risk::Rule;
use analysis::stats::descriptive::describe;
use analysis::stats::normal::{Coverage, student_t_quantile};
use analysis::verdict::{DecisionRule, Tolerance, Verdict, conformance_probability};

fn close(a: f64, b: f64, absolute: f64, what: &str) {
    assert!((a - b).abs() <= absolute, "{what}: {a} is not {b}");
}

/// JCGM 100:2008 (GUM), 4.4.3, table 1: twenty temperatures; mean 100.145, s 1.489, s of the mean
/// 0.333.
#[test]
fn gum_4_4_3() {
    let values = [
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
        100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ];
    let found = describe(&values).unwrap();
    close(found.mean, 100.145, 5e-4, "mean");
    close(found.sd, 1.489, 5e-4, "s");
    close(found.sd / 20f64.sqrt(), 0.333, 5e-4, "s of the mean");
}

/// GUM, G.4.1 note: relative standard uncertainties 0.25, 0.57, 0.82 % with 9, 4, 14 degrees of
/// freedom: u 1.03 %, effective degrees of freedom 19.0, t 2.09, U 2.2 %.
#[test]
fn gum_g_4_1() {
    let combined = combine([(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)].into_iter());
    close(combined.u, 1.03, 5e-3, "u");
    close(combined.dof, 19.0, 0.05, "degrees of freedom");
    let k = Coverage::StudentT.factor(combined.dof);
    close(k, 2.09, 5e-3, "t");
    close(k * combined.u, 2.2, 0.05, "U");
}

/// GUM, H.1, end-gauge: d from 5.8 (18+6=24), 3.9 (5), 6.7 (8) nm gives u 9.7 nm and 25.6 degrees
/// of freedom (from rounded terms); with 25 (18), 2.9 (50), 16.6 nm (2) u is 32 nm (u² 1002 nm²)
/// with 16.7 degrees of freedom, k 2.92 for 99 % and U 93 nm.
#[test]
fn gum_h_1() {
    let difference = combine([(5.8, 24.0), (3.9, 5.0), (6.7, 8.0)].into_iter());
    close(difference.u, 9.7, 0.05, "u(d)");
    close(difference.dof, 25.6, 0.2, "degrees of freedom of d");
    let terms = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)];
    let length = combine(terms.into_iter());
    close(length.u, 32.0, 0.5, "u");
    close(length.dof, 16.7, 0.1, "degrees of freedom");
    // The GUM truncates the degrees of freedom to 16 before it looks up the factor.
    let k = student_t_quantile(0.995, length.dof.floor());
    close(k, 2.92, 5e-3, "k for 99 %");
    close(k * 32.0, 93.0, 0.6, "U for 99 %");
}

/// JCGM 106:2012, 9.5.4, ball bearings: a gamma prior (shape 4, scale 1/4), upper limit 2,
/// measuring uncertainty 0.25: 4.2 % do not conform; consumer's risk 0.80 % with acceptance at
/// the limit and 0.1 % with acceptance at 1.672 (guard band 0.328). More digits as quoted by a
/// public worked example: 0.0423801, 0.0080191, 1.6718288.
#[test]
fn jcgm_106_9_5_4() {
    // Density of gamma(4, 1/4) up to its constant.
    let prior = |y: f64| y.powi(3) * (-4.0 * y).exp();
    let rule = |acceptance| Rule {
        tolerance: [f64::NEG_INFINITY, 2.0],
        acceptance: [f64::NEG_INFINITY, acceptance],
        u: 0.25,
    };
    let simple = rule(2.0).risk(prior, [0.0, 15.0]);
    close(
        simple.nonconforming,
        0.042_380_1,
        5e-8,
        "share that does not conform",
    );
    close(
        simple.accepted_wrongly,
        0.008_019_1,
        5e-8,
        "consumer's risk",
    );
    let guarded = rule(1.671_828_8).risk(prior, [0.0, 15.0]);
    close(
        guarded.accepted_wrongly,
        0.001,
        1e-9,
        "consumer's risk with a guard band",
    );
    // Computed outside the project by the same integral: producer's risk 0.0174446, 0.0754939.
    close(
        simple.rejected_wrongly,
        0.017_444_57,
        5e-8,
        "producer's risk",
    );
    close(
        guarded.rejected_wrongly,
        0.075_493_88,
        5e-8,
        "producer's risk with a guard band",
    );
}

/// Name, budget, U, T/U, accepted up to, rejected from.
type Bench<'a> = (&'a str, &'a [f64], f64, f64, Option<f64>, f64);

/// Errors that six benches could accept or reject at ±2 %: a table that was computed outside the
/// project from the budgets beside each line (a cross-check, not a publication). Rectangular
/// half-widths enter as a/√3.
#[test]
fn what_six_benches_can_decide() {
    let third = 3f64.sqrt();
    let rule = DecisionRule {
        coverage: Coverage::KTwo,
        ..DecisionRule::default()
    };
    #[rustfmt::skip]
    let benches: [Bench; 6] = [
        ("usual", &[1.0 / third, 1.0 / third, 0.2, 0.2, 0.3], 1.83, 1.1, Some(0.46), 3.50),
        ("careful", &[1.0 / third, 0.5 / third, 0.1, 0.15, 0.2], 1.40, 1.4, Some(0.85), 3.15),
        ("static calibration", &[0.25, 0.5 / third, 0.1, 0.1, 0.2], 0.91, 2.2, Some(1.25), 2.75),
        ("two references", &[0.5f64.sqrt() / third, 0.5 / third, 0.1, 0.1, 0.2], 1.11, 1.8, Some(1.08), 2.92),
        ("±1.5 % meter", &[1.5 / third, 1.0 / third, 0.2, 0.2, 0.3], 2.24, 0.9, None, 3.84),
        ("rig", &[0.15, 0.15], 0.42, 4.7, Some(1.65), 2.35),
    ];
    for (name, terms, expanded, ratio, accept, reject) in benches {
        let u = combine(terms.iter().map(|&u| (u, f64::MAX))).u;
        let judged = rule.judge(0.0, u, f64::MAX, 2.0);
        close(judged.expanded, expanded, 0.006, name);
        close(judged.capability, ratio, 0.08, name);
        let found = rule.accept_within(u, f64::MAX, 2.0);
        assert_eq!(found.is_some(), accept.is_some(), "{name}");
        if let (Some(found), Some(accept)) = (found, accept) {
            close(found, accept, 0.006, name);
        }
        close(rule.reject_beyond(u, f64::MAX, 2.0), reject, 0.006, name);
    }
    // The same table: an error of 1.0 % has 0.86 on the usual bench and 0.99 with the static
    // calibration; 2.5 % has 0.29 and 0.14.
    for (error, u, p) in [
        (1.0, 0.914, 0.86),
        (1.0, 0.454, 0.99),
        (2.5, 0.914, 0.29),
        (2.5, 0.454, 0.14),
    ] {
        close(
            conformance_probability(error, u, 2.0, Coverage::KTwo, f64::MAX),
            p,
            0.006,
            "p",
        );
    }
}

/// The six states, either side of each limit.
#[test]
fn states_by_probability() {
    let rule = DecisionRule {
        coverage: Coverage::KTwo,
        ..DecisionRule::default()
    };
    let state = |error, u| rule.judge(error, u, f64::MAX, 2.0).verdict;
    assert_eq!(state(0.0, 0.5), Verdict::ShownWithin);
    assert_eq!(state(-1.5, 0.5), Verdict::LikelyWithin);
    assert_eq!(state(2.2, 0.5), Verdict::LikelyBeyond);
    assert_eq!(state(-3.0, 0.5), Verdict::ShownBeyond);
    assert_eq!(state(0.0, 1.5), Verdict::BenchNotCapable);
    assert_eq!(state(9.0, 1.5), Verdict::ShownBeyond);
    // Without any uncertainty only the value decides.
    assert_eq!(state(1.999, 0.0), Verdict::ShownWithin);
    assert_eq!(state(2.001, 0.0), Verdict::ShownBeyond);
    // Just inside and just outside the limits that the rule states.
    for u in [0.2, 0.5, 0.9] {
        let accept = rule.accept_within(u, f64::MAX, 2.0).unwrap();
        assert_eq!(state(accept - 1e-6, u), Verdict::ShownWithin);
        assert_eq!(state(accept + 1e-6, u), Verdict::LikelyWithin);
        let reject = rule.reject_beyond(u, f64::MAX, 2.0);
        assert_eq!(state(reject - 1e-6, u), Verdict::LikelyBeyond);
        assert_eq!(state(reject + 1e-6, u), Verdict::ShownBeyond);
    }
}

/// With few degrees of freedom the same difference is less certain.
#[test]
fn few_degrees_of_freedom_widen_the_interval() {
    let rule = DecisionRule::default();
    let few = rule.judge(1.0, 0.5, 4.0, 2.0);
    let many = rule.judge(1.0, 0.5, 1e9, 2.0);
    assert!(few.k > 2.7 && (many.k - 1.959_964).abs() < 1e-5);
    assert!(few.p_conform < many.p_conform);
    assert_eq!(many.verdict, Verdict::ShownWithin);
    assert_eq!(few.verdict, Verdict::LikelyWithin);
}

#[test]
fn three_forms_of_tolerance() {
    assert_eq!(Tolerance::PercentOfReading(2.0).half_width_w(250.0), 5.0);
    assert_eq!(Tolerance::Watts(5.0).half_width_pct(50.0), Some(10.0));
    let either = Tolerance::LargerOf {
        pct: 2.0,
        watts: 5.0,
    };
    assert_eq!(
        (either.half_width_w(100.0), either.half_width_w(400.0)),
        (5.0, 8.0)
    );
    assert_eq!(either.half_width_pct(0.0), None);
}

/// An uncertainty far larger than the tolerance makes the conformance probability of a perfect
/// device low too; that is no evidence against it. A gross error can still be shown.
#[test]
fn a_hopeless_bench_condemns_nobody() {
    let rule = DecisionRule::default();
    for (u, error, verdict) in [
        (20.0, 0.0, Verdict::BenchNotCapable),
        (20.0, 30.0, Verdict::BenchNotCapable),
        (20.0, 34.0, Verdict::ShownBeyond),
        (20.0, -34.0, Verdict::ShownBeyond),
    ] {
        let judged = rule.judge(error, u, f64::MAX, 0.5);
        assert_eq!(judged.verdict, verdict, "{error}: {judged:?}");
    }
    // 0.5 + 1.6449 · 20, the quantile from any table of the normal distribution.
    assert!((rule.reject_beyond(20.0, f64::MAX, 0.5) - 33.397).abs() < 1e-3);
}
