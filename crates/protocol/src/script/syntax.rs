//! The shape of the document: which steps there are and which fields they take.
//!
//! Every field is read as [`Raw`] and interpreted later, so that one bad number does not hide the
//! next and each keeps its place.

use super::raw::{Raw, RawList};
use serde::Deserialize;

/// The whole document.
#[derive(Deserialize)]
#[serde(rename = "Script", deny_unknown_fields)]
pub(super) struct ScriptFile<'a> {
    #[serde(borrow, default)]
    pub(super) title: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) decides: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) needs: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) ceiling_w: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) cadence_rpm: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) rollout_m: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) crr: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) cw_kg_per_m: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) decided_holds: Raw<'a>,
    #[serde(borrow, default)]
    pub(super) steps: RawList<'a>,
}

macro_rules! steps {
    ($($(#[$doc:meta])* $step:ident { $($field:ident),* $(,)? })*) => {
        /// One step as the script spells it.
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(super) enum StepFile<'a> {
            $($(#[$doc])* $step(#[serde(borrow)] $step<'a>),)*
        }

        $($(#[$doc])*
        #[derive(Deserialize)]
        #[serde(deny_unknown_fields)]
        pub(super) struct $step<'a> {
            $(#[serde(borrow, default)] pub(super) $field: Raw<'a>,)*
            /// Keeps the lifetime where a step has no other field.
            #[serde(skip)]
            pub(super) _place: std::marker::PhantomData<&'a str>,
        })*

        impl<'a> StepFile<'a> {
            /// Reads a step that has nothing but plain fields, which is what nearly every step of
            /// a long script looks like. `None` for anything else, and for every mistake: RON's
            /// own reader then says what is there or what is wrong.
            pub(super) fn plain(text: &'a str) -> Option<Self> {
                let (name, rest) = text.trim_end().split_once('(')?;
                let inside = rest.strip_suffix(')')?;
                match name {
                    $(stringify!($step) => {
                        let mut step = $step {
                            $($field: Raw(None),)*
                            _place: std::marker::PhantomData,
                        };
                        let mut left = inside;
                        while let Some((field, value, rest)) = plain_field(left)? {
                            left = rest;
                            let place = match field {
                                $(stringify!($field) => &mut step.$field,)*
                                _ => return None,
                            };
                            if place.0.replace(value).is_some() {
                                return None;
                            }
                        }
                        Some(Self::$step(step))
                    })*
                    _ => None,
                }
            }
        }
    };
}

steps! {
    /// A constant power.
    Hold { title, power_w, seconds, settle_seconds, cadence_rpm, gear, feeds }
    /// A power that changes evenly.
    Ramp { title, from_w, to_w, seconds, settle_seconds, cadence_rpm, gear, feeds }
    /// Levels up, down, or up and down again.
    Staircase {
        title, from_w, to_w, levels, order, seconds, settle_seconds, cadence_rpm, gear, feeds,
    }
    /// Two or more levels in turn.
    Alternate {
        title, levels_w, seconds, seconds_each, times, settle_seconds, cadence_rpm, gear, feeds,
    }
    /// One power at several flywheel speeds.
    FlywheelLadder {
        title, power_w, cadence_rpm, speeds_kmh, gears, seconds, settle_seconds, change_w,
        change_limit_seconds, feeds,
    }
    /// One power at several cadences.
    CadenceLadder { title, power_w, cadences_rpm, seconds, settle_seconds, gear, feeds }
    /// Short hard efforts with rests.
    Burst {
        title, brake, start, seconds, times, ready_seconds, rest_seconds, rest_w, effort_w, gear,
        feeds,
    }
    /// A grade along time or distance.
    SlopeProgram {
        title, by, shape, points, wind_m_per_s, crr, cw_kg_per_m, cadence_rpm, effort_w, gear,
        limit_seconds, feeds,
    }
    /// Constant grades one after the other.
    SlopeSteps {
        title, grades_pct, seconds, settle_seconds, speed_kmh, cadence_rpm, wind_m_per_s, crr,
        cw_kg_per_m, effort_w, gear, feeds,
    }
    /// A resistance level.
    Resistance {
        title, level, seconds, settle_seconds, cadence_rpm, effort_w, gear, feeds,
    }
    /// The flywheel brought to speed and left to run down.
    CoastDown { title, from_kmh, to_kmh, limit_seconds, feeds }
    /// The device's own spin-down procedure.
    SpinDown { title, limit_seconds, feeds }
    /// Zero offset of instruments.
    ZeroOffset { title, of, limit_seconds, feeds }
    /// Riding as the rider likes.
    FreeRide { title, seconds, brake, cadence_rpm, effort_w, feeds }
    /// Rest without load, or at an easy power.
    Rest { title, seconds, power_w, feeds }
    /// Words that wait for an answer.
    Prompt { title, text, answer, limit_seconds, feeds }
    /// A power held until something is known.
    HoldUntil {
        title, power_w, until, steady_seconds, at_least_seconds, limit_seconds, settle_seconds,
        cadence_rpm, gear, feeds,
    }
    /// Easy riding at the end.
    CoolDown { title, seconds, power_w, cadence_rpm, feeds }
    /// Steps several times over.
    Repeat { times, steps }
    /// Steps in an order drawn once from a seed.
    Shuffle { seed, steps }
}

/// A field, its value and what comes after them.
type Field<'a> = (&'a str, &'a str, &'a str);

/// The next field of a list of plain ones: `Some(None)` at the end, `None` where a field is not
/// plain. Plain is a number, a name, or a string without escapes.
fn plain_field(text: &str) -> Option<Option<Field<'_>>> {
    let text = text.trim_start();
    if text.is_empty() {
        return Some(None);
    }
    let (field, rest) = text.split_once(':')?;
    let rest = rest.trim_start();
    let end = match rest.strip_prefix('"') {
        Some(inside) => {
            inside
                .find(['"', '\\'])
                .filter(|at| inside[*at..].starts_with('"'))?
                + 2
        }
        None => rest
            .find(|c: char| !(c.is_ascii_alphanumeric() || matches!(c, '_' | '.' | '-' | '+')))
            .unwrap_or(rest.len()),
    };
    let (value, rest) = rest.split_at(end);
    let rest = rest.trim_start();
    let after = rest.strip_prefix(',').unwrap_or(rest);
    let ends_here = rest.is_empty() || after.len() < rest.len();
    (!value.is_empty() && ends_here).then_some(Some((field.trim_end(), value, after)))
}

/// How the brake stands while the rider decides the power.
#[derive(Deserialize)]
pub(super) enum BrakeFile<'a> {
    /// No load.
    Free,
    /// A resistance level.
    #[serde(borrow)]
    Resistance(Raw<'a>),
    /// A grade.
    Slope(Raw<'a>),
    /// Understood only to be refused with the reason.
    Power(#[expect(dead_code, reason = "refused whatever the number is")] Raw<'a>),
}
