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
