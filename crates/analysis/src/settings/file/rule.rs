//! The decision rule of the file: when something is shown, and when a hold may end early.

use crate::sequential::{Boundary, EarlyEnd};
use crate::stats::normal::Coverage;
use crate::verdict::DecisionRule;
use serde::{Deserialize, Serialize};

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Boundary", rename_all = "kebab-case")]
enum BoundaryFile {
    Pocock,
    OBrienFleming,
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "EarlyEnd", deny_unknown_fields)]
pub(super) struct EarlyEndFile {
    boundary: BoundaryFile,
    windows: usize,
}

impl EarlyEndFile {
    pub(super) const fn of(early: EarlyEnd) -> Self {
        Self {
            boundary: match early.boundary {
                Boundary::Pocock => BoundaryFile::Pocock,
                Boundary::OBrienFleming => BoundaryFile::OBrienFleming,
            },
            windows: early.windows,
        }
    }

    pub(super) const fn into_domain(self) -> EarlyEnd {
        EarlyEnd {
            boundary: match self.boundary {
                BoundaryFile::Pocock => Boundary::Pocock,
                BoundaryFile::OBrienFleming => Boundary::OBrienFleming,
            },
            windows: self.windows,
        }
    }
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Coverage", rename_all = "kebab-case")]
enum CoverageFile {
    KTwo,
    StudentT,
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "Decision", deny_unknown_fields, default)]
pub(super) struct DecisionFile {
    shown_at: f64,
    coverage: CoverageFile,
    min_windows: usize,
}

impl Default for DecisionFile {
    fn default() -> Self {
        Self::from_domain(&DecisionRule::default())
    }
}

impl DecisionFile {
    pub(super) fn from_domain(rule: &DecisionRule) -> Self {
        Self {
            shown_at: rule.shown_at,
            coverage: match rule.coverage {
                Coverage::KTwo => CoverageFile::KTwo,
                Coverage::StudentT => CoverageFile::StudentT,
            },
            min_windows: rule.min_windows,
        }
    }

    pub(super) fn into_domain(self) -> DecisionRule {
        DecisionRule {
            shown_at: self.shown_at,
            coverage: match self.coverage {
                CoverageFile::KTwo => Coverage::KTwo,
                CoverageFile::StudentT => Coverage::StudentT,
            },
            min_windows: self.min_windows,
        }
    }
}
