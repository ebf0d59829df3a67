//! The claim that steady power is accurate.
//!
//! Where it holds, over which range, after what preparation and what it covers must be said; what
//! the maker left silent is the tester's interpretation and is printed as such.

use super::error::ClaimError;
use crate::verdict::Tolerance;
use serde::{Deserialize, Serialize};

/// The claim that steady power is accurate.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerClaim {
    /// Short name, for a heading.
    pub name: String,
    /// The maker's words, verbatim; empty if there is no published claim behind it.
    pub text: String,
    /// Where the words were read: document, page, date.
    pub source: String,
    /// The tolerance.
    pub tolerance: Tolerance,
    /// Lowest and highest power for which it is claimed, W; `None` where the maker is silent.
    pub range_w: Option<[f64; 2]>,
    /// Where on the drivetrain the claimed power is.
    pub location: ClaimLocation,
    /// Preconditions in the maker's or the tester's words.
    pub conditions: Vec<String>,
    /// What the claim covers.
    pub covers: Covers,
}

/// Where on the drivetrain the claimed power is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClaimLocation {
    /// At the hub or the brake, behind the drivetrain.
    Hub,
    /// At the pedals or the crank, before the drivetrain.
    Crank,
    /// The maker does not say.
    Silent,
}

/// What a claim covers. In a sheet with underscores: RON takes no hyphens in a name.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Covers {
    /// The mean at each level; the worst cell decides.
    #[serde(alias = "each_level")]
    EachLevel,
    /// Every steady window; the worst window decides.
    #[serde(alias = "every_window")]
    EveryWindow,
    /// One mean over everything that was ridden.
    #[serde(alias = "overall_mean")]
    OverallMean,
}

impl Covers {
    /// The choice in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::EachLevel => "the mean at each level (worst cell decides)",
            Self::EveryWindow => "every steady window (worst window decides)",
            Self::OverallMean => "the mean over everything that was ridden",
        }
    }
}

impl PowerClaim {
    /// What is judged where no claim sheet was given: ±2 %, and a text that says so.
    pub fn assumed() -> Self {
        Self {
            name: "power accuracy".into(),
            text: String::new(),
            source: "no claim sheet was given; ±2 % is the tester's choice".into(),
            tolerance: Tolerance::PercentOfReading(2.0),
            range_w: None,
            location: ClaimLocation::Silent,
            conditions: Vec::new(),
            covers: Covers::EachLevel,
        }
    }

    /// Whether a level lies in the claimed range. Where the maker is silent, every level does.
    pub fn applies_at(&self, level_w: f64) -> bool {
        self.range_w
            .is_none_or(|[low, high]| (low..=high).contains(&level_w))
    }
}

/// Shared with the settings file, which may hold a claim of its own.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename = "PowerClaim", deny_unknown_fields)]
pub(crate) struct PowerClaimFile {
    pub(super) name: String,
    #[serde(default)]
    text: String,
    #[serde(default)]
    source: String,
    tolerance: ToleranceFile,
    #[serde(default)]
    range_w: Option<[f64; 2]>,
    #[serde(default = "silent")]
    location: ClaimLocation,
    #[serde(default)]
    conditions: Vec<String>,
    #[serde(default = "each_level")]
    covers: Covers,
}

#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename = "Tolerance")]
enum ToleranceFile {
    PercentOfReading(f64),
    Watts(f64),
    LargerOf { pct: f64, watts: f64 },
}

fn silent() -> ClaimLocation {
    ClaimLocation::Silent
}

fn each_level() -> Covers {
    Covers::EachLevel
}

impl PowerClaimFile {
    pub(crate) fn into_claim(self) -> Result<PowerClaim, ClaimError> {
        let bad = |words: &str| ClaimError::bad(&self.name, words);
        let tolerance = match self.tolerance {
            ToleranceFile::PercentOfReading(pct) => Tolerance::PercentOfReading(pct),
            ToleranceFile::Watts(watts) => Tolerance::Watts(watts),
            ToleranceFile::LargerOf { pct, watts } => Tolerance::LargerOf { pct, watts },
        };
        let positive = |value: f64| value.is_finite() && value > 0.0;
        let usable = match tolerance {
            Tolerance::PercentOfReading(value) | Tolerance::Watts(value) => positive(value),
            Tolerance::LargerOf { pct, watts } => positive(pct) && positive(watts),
        };
        if !usable {
            return Err(bad("a tolerance is a half-width above zero"));
        }
        if self
            .range_w
            .is_some_and(|[low, high]| !(low.is_finite() && high > low))
        {
            return Err(bad("a range goes from a lower to a higher power in watts"));
        }
        Ok(PowerClaim {
            name: self.name,
            text: self.text,
            source: self.source,
            tolerance,
            range_w: self.range_w,
            location: self.location,
            conditions: self.conditions,
            covers: self.covers,
        })
    }

    pub(crate) fn from_claim(claim: &PowerClaim) -> Self {
        Self {
            name: claim.name.clone(),
            text: claim.text.clone(),
            source: claim.source.clone(),
            tolerance: match claim.tolerance {
                Tolerance::PercentOfReading(pct) => ToleranceFile::PercentOfReading(pct),
                Tolerance::Watts(watts) => ToleranceFile::Watts(watts),
                Tolerance::LargerOf { pct, watts } => ToleranceFile::LargerOf { pct, watts },
            },
            range_w: claim.range_w,
            location: claim.location,
            conditions: claim.conditions.clone(),
            covers: claim.covers,
        }
    }
}
