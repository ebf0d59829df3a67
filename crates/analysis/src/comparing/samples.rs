//! Sessions for the tests of this folder: identities and cells as they are asked for.

use super::sides::{Calibration, Instrument, Script, Side};
use crate::assess::assess;
use crate::budget::{DRIVETRAIN, REPEAT, SCATTER, SLOPE};
use crate::evidence::{Evidence, Feeds, StepSpan};
use crate::findings::{BudgetTerm, Cell, PairedTraces, Treatment, WindowFinding};
use crate::settings::{Settings, SlopeKnowledge};
use crate::verdict::Verdict;
use units::{Span, Timestamp};

/// One session.
#[derive(Clone, Debug)]
pub(super) struct Sample {
    pub(super) model: &'static str,
    pub(super) serial: Option<&'static str>,
    pub(super) firmware: Option<&'static str>,
    pub(super) calibrated_s: Option<f64>,
    pub(super) reference_serial: Option<&'static str>,
    pub(super) certified: bool,
    pub(super) bike: Option<&'static str>,
    pub(super) script: Option<&'static str>,
    /// Level, W, and error, %.
    pub(super) cells: Vec<(f64, f64)>,
    /// Title, target, beginning and length, s.
    pub(super) steps: Vec<(&'static str, f64, i64, i64)>,
    pub(super) traces: PairedTraces,
}

impl Default for Sample {
    fn default() -> Self {
        Self {
            model: "Model",
            serial: Some("A1"),
            firmware: Some("1.0"),
            calibrated_s: None,
            reference_serial: Some("R1"),
            certified: false,
            bike: Some("the test bike"),
            script: Some("levels"),
            cells: vec![(100.0, 1.0), (200.0, 1.2), (300.0, 1.4)],
            steps: Vec::new(),
            traces: PairedTraces::default(),
        }
    }
}

/// Own uncertainty of a sample's cell (scatter and repeat), %, and what is common (slope, loss).
pub(super) const OWN_PCT: [f64; 2] = [0.1, 0.2];
pub(super) const COMMON_PCT: [f64; 2] = [0.6, 0.5];

/// A cell with this error and the uncertainties above.
pub(super) fn cell(level_w: f64, bias_pct: f64) -> Cell {
    let term = |name: &str, u_pct: f64, dof: f64| BudgetTerm {
        term: name.into(),
        u_pct,
        dof,
        source: "sample".into(),
    };
    let budget = vec![
        term(SLOPE, COMMON_PCT[0], f64::MAX),
        term(DRIVETRAIN, COMMON_PCT[1], f64::MAX),
        term(SCATTER, OWN_PCT[0], 60.0),
        term(REPEAT, OWN_PCT[1], f64::MAX),
    ];
    let u_pct = budget.iter().map(|t| t.u_pct * t.u_pct).sum::<f64>().sqrt();
    Cell {
        treatment: Treatment::HubReferred,
        feeds: Some(Feeds::Steady),
        level_w,
        cadence_rpm: Some(90.0),
        speed_kmh: Some(33.0),
        windows: 5,
        visits: 1,
        seconds: 150.0,
        reference_w: level_w,
        under_test_w: level_w * (1.0 + bias_pct / 100.0),
        bias_w: level_w * bias_pct / 100.0,
        bias_pct,
        u_a_pct: OWN_PCT[0],
        u_pct,
        dof: f64::MAX,
        k: 2.0,
        expanded_pct: 2.0 * u_pct,
        n_eff: 60.0,
        lag1: 0.3,
        tolerance_pct: 2.0,
        p_conform: 0.9,
        capability: 1.2,
        accept_within_pct: Some(0.6),
        reject_beyond_pct: 3.4,
        verdict: Verdict::LikelyWithin,
        remark: None,
        budget,
    }
}

/// The sessions. What they borrow lives as long as the test.
pub(super) fn sides(samples: &[Sample]) -> Vec<Side<'static>> {
    samples
        .iter()
        .enumerate()
        .map(|(i, s)| side(i, s))
        .collect()
}

fn side(index: usize, sample: &Sample) -> Side<'static> {
    let mut settings = Settings::default();
    if sample.certified {
        settings.reference.slope = SlopeKnowledge::Calibrated {
            u_pct: 0.25,
            dof: 10.0,
            source: "certificate".into(),
        };
    }
    let mut findings = assess(&Evidence::default(), &settings);
    findings.duration_s = 600.0;
    findings.overall.treatment = Treatment::HubReferred;
    findings.cells = sample.cells.iter().map(|(w, pct)| cell(*w, *pct)).collect();
    findings.windows = vec![window(20.0, 50.0), window(90.0, 120.0)];
    findings.traces = sample.traces.clone();
    let known = |word: Option<&str>| word.map(str::to_owned);
    let script = sample.script.map(|name| Script {
        name: name.into(),
        sha256: format!("digest of {name}"),
    });
    let steps = sample
        .steps
        .iter()
        .enumerate()
        .map(step)
        .collect::<Vec<_>>();
    Side {
        device: Instrument {
            name: "device".into(),
            maker: Some("Maker".into()),
            model: Some(sample.model.into()),
            serial: known(sample.serial),
            firmware: known(sample.firmware),
        },
        reference: Instrument {
            name: "meter".into(),
            maker: Some("Other maker".into()),
            model: Some("Meter".into()),
            serial: known(sample.reference_serial),
            firmware: Some("3".into()),
        },
        calibrations: sample
            .calibrated_s
            .map(|at_s| Calibration {
                at_s,
                procedure: "spin-down".into(),
            })
            .into_iter()
            .collect(),
        script,
        bike: known(sample.bike),
        started_s: Some(1_700_000_000 + 86_400 * index as i64),
        steps: Box::leak(steps.into_boxed_slice()),
        findings: Box::leak(Box::new(findings)),
        settings: Box::leak(Box::new(settings)),
    }
}

fn window(from_s: f64, to_s: f64) -> WindowFinding {
    WindowFinding {
        from_s,
        to_s,
        step: None,
        cell: Some(0),
        level_w: 200.0,
        reference_w: 200.0,
        under_test_w: 202.0,
        cadence_rpm: None,
        speed_kmh: None,
        difference_pct: 1.0,
        u_a_pct: 0.1,
        u_pct: 0.9,
        expanded_pct: 1.8,
        tolerance_pct: 2.0,
    }
}

fn step((index, (title, target_w, from_s, seconds)): (usize, &(&str, f64, i64, i64))) -> StepSpan {
    StepSpan {
        index,
        attempt: 1,
        title: (*title).into(),
        feeds: Feeds::Steady,
        from: Timestamp::from_secs(*from_s),
        to: Timestamp::from_secs(from_s + seconds),
        settle: Span::ZERO,
        target_w: Some(*target_w),
        cadence_rpm: None,
        gear: None,
    }
}
