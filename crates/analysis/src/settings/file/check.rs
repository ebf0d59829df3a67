//! Numbers that make sense: bounds of what a settings file may say.

use super::error::SettingsError;
use crate::settings::Settings;

pub(super) fn check(settings: &Settings) -> Result<(), SettingsError> {
    let bad = |field, words| Err(SettingsError::BadNumber { field, words });
    if !(settings.decision.shown_at > 0.5 && settings.decision.shown_at < 1.0) {
        return bad(
            "decision.shown_at",
            "a probability above 0.5 and below 1 is expected",
        );
    }
    if settings
        .early_end
        .is_some_and(|early| early.windows < settings.decision.min_windows)
    {
        return bad(
            "early_end.windows",
            "at least as many windows as the rule needs are expected",
        );
    }
    if !(settings.drivetrain.efficiency > 0.5 && settings.drivetrain.efficiency <= 1.0) {
        return bad(
            "drivetrain.efficiency",
            "a share above 0.5 and up to 1 is expected",
        );
    }
    if !(settings.drivetrain.constant_loss_w >= 0.0
        && settings.drivetrain.proportional_loss >= 0.0
        && settings.drivetrain.proportional_loss < 0.5)
    {
        return bad(
            "drivetrain",
            "losses are not negative and below half of the power",
        );
    }
    let half_widths = [
        &settings.drivetrain.efficiency_half_width,
        &settings.drivetrain.constant_half_width_w,
        &settings.reference.zero_change_nm,
        &settings.reference.temperature_pct,
        &settings.reference.uniform_cadence_pct,
        &settings.reference.one_side_pct,
        &settings.reference.repeat_pct,
    ];
    let slopes = [
        settings.reference.slope.u_pct(),
        settings.second_reference.slope.u_pct(),
    ];
    let finite = half_widths
        .iter()
        .all(|half_width| half_width.value.is_finite() && half_width.value >= 0.0)
        && slopes.iter().all(|u_pct| u_pct.is_finite());
    if !finite {
        return bad(
            "reference",
            "half-widths and uncertainties are finite and not negative",
        );
    }
    let gate = &settings.gate;
    if gate.window_s < 5 || gate.shortest_s < 3 || gate.shortest_s > gate.window_s {
        return bad(
            "gate.window_s",
            "at least 5 s, and the shortest window from 3 s up to it",
        );
    }
    let align = &settings.align;
    let within = |value: f64, low: f64, high: f64| value >= low && value <= high;
    if !(within(align.near_s, 1.0, 3600.0)
        && within(align.far_s, align.near_s, 7200.0)
        && within(align.segment_s, 30.0, 7200.0))
    {
        return bad(
            "align",
            "1 s ≤ near_s ≤ far_s ≤ 7200 s and 30 s ≤ segment_s are expected",
        );
    }
    Ok(())
}
