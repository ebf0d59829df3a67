//! Whether seconds in a row are steady: the rules that need more than one second.

use super::window::{closure_w, mean_of, mean_reference};
use crate::grid::Second;
use crate::settings::GateSettings;
use crate::stats::descriptive::describe;
use std::borrow::Cow;

/// How a run of seconds is judged.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Mode {
    /// A constant target is held.
    Hold,
    /// The level is whatever the rider makes it.
    Plateau,
}

/// The rules that need more than one second.
pub(super) fn check(gate: &GateSettings, seconds: &[Second]) -> Result<(), Cow<'static, str>> {
    let covered = |pick: fn(&Second) -> f64| {
        100.0 * seconds.iter().map(pick).sum::<f64>() / seconds.len() as f64
    };
    let coverage = [
        (
            "device under test",
            covered(|s| s.under_test.map_or(0.0, |held| held.covered)),
        ),
        (
            "reference",
            covered(|s| s.reference.map_or(0.0, |held| held.covered)),
        ),
    ];
    for (whose, pct) in coverage {
        if pct < gate.coverage_pct {
            return Err(format!(
                "packets of the {whose} cover {pct:.0} %, {:.0} % are needed",
                gate.coverage_pct
            )
            .into());
        }
    }
    if mode(&seconds[0]) == Mode::Plateau {
        check_plateau(gate, seconds)?;
    }
    let cadence: Vec<f64> = seconds
        .iter()
        .filter_map(|second| second.cadence_rpm)
        .collect();
    if let Some(found) = describe(&cadence).filter(|found| found.mean > 0.0) {
        let cv_pct = 100.0 * found.sd / found.mean;
        if cv_pct > gate.cadence_cv_pct {
            return Err(format!(
                "cadence varies by {cv_pct:.1} %, {:.1} % are allowed",
                gate.cadence_cv_pct
            )
            .into());
        }
    }
    check_gear(gate, seconds)?;
    check_closure(gate, seconds)
}

/// Speed over cadence stays: no gear was changed. Thirds are compared rather than seconds, so
/// that values in whole revolutions do not look like gear changes.
fn check_gear(gate: &GateSettings, seconds: &[Second]) -> Result<(), Cow<'static, str>> {
    let ratio = |part: &[Second]| {
        let (mut speed, mut cadence, mut n) = (0.0, 0.0, 0);
        for second in part {
            if let (Some(kmh), Some(rpm)) = (second.speed_kmh, second.cadence_rpm) {
                (speed, cadence, n) = (speed + kmh, cadence + rpm, n + 1);
            }
        }
        (n > 0 && cadence > 0.0 && speed > 0.0).then(|| speed / cadence)
    };
    let Some(whole) = ratio(seconds) else {
        return Ok(());
    };
    for part in seconds.chunks(seconds.len().div_ceil(3)) {
        let Some(ratio) = ratio(part) else { continue };
        let change_pct = 100.0 * (ratio / whole - 1.0).abs();
        if change_pct > gate.gear_ratio_pct {
            return Err(
                format!("speed over cadence changed by {change_pct:.1} %: a gear change").into(),
            );
        }
    }
    Ok(())
}

fn check_closure(gate: &GateSettings, seconds: &[Second]) -> Result<(), Cow<'static, str>> {
    let Some(closure_w) = closure_w(seconds, gate.equivalent_mass_kg) else {
        return Ok(());
    };
    let share_pct = 100.0 * closure_w.abs() / mean_reference(seconds).max(1.0);
    // Shorter looks are given the same energy, not the same power.
    let allowed_pct = gate.window_closure_pct * f64::from(gate.window_s) / seconds.len() as f64;
    if share_pct > allowed_pct.max(gate.window_closure_pct) {
        return Err(format!(
            "the flywheel took up or gave {closure_w:+.1} W, {share_pct:.1} % of the power"
        )
        .into());
    }
    Ok(())
}

fn check_plateau(gate: &GateSettings, seconds: &[Second]) -> Result<(), Cow<'static, str>> {
    let values: Vec<f64> = seconds
        .iter()
        .filter_map(|second| Some(second.reference?.value))
        .collect();
    let Some(found) = describe(&values) else {
        return Err(Cow::Borrowed("no values"));
    };
    if found.mean < gate.plateau_min_w {
        return Err(Cow::Borrowed("no load to speak of"));
    }
    let (first, second) = values.split_at(values.len() / 2);
    let change_pct = 100.0 * (mean_of(second) - mean_of(first)).abs() / found.mean;
    if change_pct > gate.plateau_change_pct {
        return Err(Cow::Borrowed("no plateau: the power changes"));
    }
    if 100.0 * found.sd / found.mean > gate.plateau_cv_pct {
        return Err(Cow::Borrowed("no plateau: the power varies too much"));
    }
    Ok(())
}

pub(super) fn mode(second: &Second) -> Mode {
    if second.step.is_some_and(|step| step.target_w.is_some()) {
        Mode::Hold
    } else {
        Mode::Plateau
    }
}
