//! Why a second cannot count on its own: not judged, settling, or without load or values.

use crate::evidence::Feeds;
use crate::grid::{Script, Second};
use crate::settings::{DropOutSettings, GateSettings};
use std::borrow::Cow;

/// Covered share of a second below which the second is missing.
const SECOND_COVERED: f64 = 0.5;

#[derive(Clone, Debug, PartialEq)]
pub(super) enum Barred {
    NotJudged,
    Settling(u32),
    Because(Cow<'static, str>),
}

/// Why a second cannot count on its own, if so.
pub(super) fn bar(
    second: &Second,
    gate: &GateSettings,
    dropout: &DropOutSettings,
) -> Option<Barred> {
    let because = |reason: &'static str| Some(Barred::Because(Cow::Borrowed(reason)));
    if second.script == Script::Ridden {
        let Some(step) = second.step else {
            return Some(Barred::NotJudged);
        };
        if !is_judged(step.feeds) {
            return Some(Barred::NotJudged);
        }
        if step.settling_s > 0 {
            return Some(Barred::Settling(step.settling_s));
        }
    }
    if let Some(reason) = &second.invalid {
        return Some(Barred::Because(Cow::Owned(reason.to_string())));
    }
    let Some(reference) = second
        .reference
        .filter(|held| held.covered >= SECOND_COVERED)
    else {
        return because("no value from the reference");
    };
    let Some(under_test) = second
        .under_test
        .filter(|held| held.covered >= SECOND_COVERED)
    else {
        return because("no value from the device under test");
    };
    let nobody_pedals = second
        .cadence_rpm
        .is_some_and(|rpm| rpm < dropout.pedalling_above_rpm);
    if reference.low <= gate.reference_zero_below_w {
        return because(if nobody_pedals {
            "nobody pedals"
        } else {
            "the reference reads zero"
        });
    }
    if under_test.low <= 0.0 {
        return because(if nobody_pedals {
            "nobody pedals"
        } else {
            "drop-out: the device reads zero while the reference shows work"
        });
    }
    None
}

/// Whether steps of this kind are judged by steady windows.
pub fn is_judged(feeds: Feeds) -> bool {
    matches!(
        feeds,
        Feeds::Steady | Feeds::Cadence | Feeds::FlywheelSpeed | Feeds::Drift
    )
}
