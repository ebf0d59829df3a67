//! Where an instrument fails altogether, at planned moments or by chance.

use serde::{Deserialize, Serialize};

/// Where an instrument fails altogether.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct UpsetsSpec {
    /// Failures at planned moments.
    pub planned: Vec<PlannedUpset>,
    /// Failures by chance.
    pub by_chance: Option<ChanceUpset>,
}

/// A failure at a planned moment.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedUpset {
    /// What fails.
    pub kind: UpsetKind,
    /// After so many seconds of pedalling against load, so that it never falls into a pause.
    pub after_ridden_s: f64,
    /// For how long, s.
    pub seconds: f64,
}

/// Failures by chance, while pedalling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChanceUpset {
    /// What fails.
    pub kind: UpsetKind,
    /// How often, on average.
    pub per_hour: f64,
    /// Shortest and longest, s.
    pub seconds: (f64, f64),
}

/// How an instrument fails.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum UpsetKind {
    /// It reports zero while the rider works.
    Zero,
    /// It repeats its last record, counters included.
    Frozen,
    /// It sends nothing.
    Silent,
}
