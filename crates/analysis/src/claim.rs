//! Published claims as measurable statements.
//!
//! A claim such as "±2 %" is incomplete: where it holds, over which range, after what preparation
//! and what it covers must be said, and what the maker left silent is the tester's interpretation
//! and is printed as such. A claim sheet is a RON file that is hashed before the first sample.
//!
//! Only the claim of power accuracy is judged here so far; the enum grows with the sheet.

use crate::verdict::Tolerance;
use serde::{Deserialize, Serialize};

/// One claim of a sheet.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Claim {
    /// Steady power is accurate.
    PowerAccuracy(PowerClaim),
}

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

/// What a claim covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Covers {
    /// The mean at each level; the worst cell decides.
    EachLevel,
    /// Every steady window; the worst window decides.
    EveryWindow,
    /// One mean over everything that was ridden.
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

/// Reads a claim sheet.
///
/// # Errors
/// [`ClaimError`] with line, column and remedy.
pub fn read_claims(text: &str) -> Result<Vec<Claim>, ClaimError> {
    let sheet: SheetFile = ron::from_str(text).map_err(|error| ClaimError::NotASheet {
        line: error.span.start.line,
        column: error.span.start.col,
        words: error.code.to_string(),
    })?;
    sheet
        .claims
        .into_iter()
        .map(ClaimFile::into_claim)
        .collect()
}

/// Writes a claim sheet as [`read_claims`] reads it.
pub fn write_claims(claims: &[Claim]) -> String {
    let sheet = SheetFile {
        claims: claims.iter().map(ClaimFile::from_claim).collect(),
    };
    ron::ser::to_string_pretty(&sheet, ron::ser::PrettyConfig::default()).unwrap_or_default()
}

/// Why a claim sheet could not be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum ClaimError {
    /// The text is not a claim sheet.
    #[error("claim sheet, line {line}, column {column}: {words}")]
    NotASheet {
        /// Line, counted from 1.
        line: usize,
        /// Column, counted from 1.
        column: usize,
        /// What is wrong.
        words: String,
    },
    /// A number makes no sense.
    #[error("claim {name:?}: {words}")]
    BadNumber {
        /// Name of the claim.
        name: String,
        /// What is wrong and what is expected.
        words: String,
    },
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "ClaimSheet", deny_unknown_fields)]
struct SheetFile {
    claims: Vec<ClaimFile>,
}

#[derive(Serialize, Deserialize)]
enum ClaimFile {
    PowerAccuracy(PowerClaimFile),
}

/// Shared with the settings file, which may hold a claim of its own.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename = "PowerClaim", deny_unknown_fields)]
pub(crate) struct PowerClaimFile {
    name: String,
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

impl ClaimFile {
    fn into_claim(self) -> Result<Claim, ClaimError> {
        match self {
            Self::PowerAccuracy(file) => file.into_claim().map(Claim::PowerAccuracy),
        }
    }

    fn from_claim(claim: &Claim) -> Self {
        match claim {
            Claim::PowerAccuracy(claim) => Self::PowerAccuracy(PowerClaimFile::from_claim(claim)),
        }
    }
}

impl PowerClaimFile {
    pub(crate) fn into_claim(self) -> Result<PowerClaim, ClaimError> {
        let bad = |words: &str| ClaimError::BadNumber {
            name: self.name.clone(),
            words: words.into(),
        };
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_survives_writing_and_reading() {
        let claim = PowerClaim {
            range_w: Some([50.0, 1000.0]),
            tolerance: Tolerance::LargerOf {
                pct: 2.0,
                watts: 3.0,
            },
            conditions: vec!["after 10 minutes of riding".into()],
            ..PowerClaim::assumed()
        };
        let claims = vec![Claim::PowerAccuracy(claim)];
        assert_eq!(read_claims(&write_claims(&claims)).unwrap(), claims);
    }

    #[test]
    fn a_short_sheet_fills_what_the_maker_left_silent() {
        let text =
            r#"(claims: [PowerAccuracy((name: "power", tolerance: PercentOfReading(1.5)))])"#;
        let Claim::PowerAccuracy(claim) = read_claims(text).unwrap().remove(0);
        assert_eq!(claim.location, ClaimLocation::Silent);
        assert_eq!(claim.covers, Covers::EachLevel);
        assert!(claim.applies_at(5.0));
    }

    #[test]
    fn a_wrong_sheet_names_the_place_or_the_claim() {
        let Err(ClaimError::NotASheet { line, .. }) = read_claims("(\nclaims: [Pow]\n)") else {
            panic!("an unknown claim was accepted")
        };
        assert_eq!(line, 2);
        let text = r#"(claims: [PowerAccuracy((name: "power", tolerance: Watts(-1.0)))])"#;
        assert!(matches!(
            read_claims(text),
            Err(ClaimError::BadNumber { .. })
        ));
    }
}
