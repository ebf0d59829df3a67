//! Consecutive paired means of device and reference over short spans.
//!
//! A bin counts only where both instruments cover it, nobody declared it invalid, and no drop-out
//! touches it: the zeros of a drop-out are never averaged in.

use super::given::DropOutKind;
use super::integral::{Integral, secs};
use super::prepared::Prepared;
use crate::outcome::NotTested;

/// Share of a bin that must be covered by both instruments.
const LEAST_COVERED: f64 = 0.8;

/// Device and reference as running integrals.
#[derive(Clone, Debug)]
pub(super) struct Paired<'p> {
    pub(super) reference: &'p Integral,
    pub(super) under_test: &'p Integral,
    /// Spans in seconds that no bin may touch, in order of their beginning.
    blocked: Vec<[f64; 2]>,
}

/// One paired mean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Bin {
    pub(super) from_s: f64,
    pub(super) to_s: f64,
    pub(super) reference_w: f64,
    pub(super) under_test_w: f64,
}

impl Bin {
    pub(super) fn middle_s(&self) -> f64 {
        0.5 * (self.from_s + self.to_s)
    }

    pub(super) fn error_pct(&self) -> f64 {
        100.0 * (self.under_test_w / self.reference_w - 1.0)
    }
}

impl<'p> Paired<'p> {
    pub(super) fn new(
        given: &'p Prepared<'_>,
        examination: &'static str,
    ) -> Result<Self, NotTested> {
        let under_test = given.under_test(examination)?;
        let reference = given.reference(examination)?;
        let faults = given
            .dropouts
            .iter()
            .filter(|dropout| dropout.kind != DropOutKind::Coasting)
            .map(|dropout| [secs(dropout.from), secs(dropout.to)]);
        let invalid = given
            .evidence
            .invalid
            .iter()
            .map(|span| [secs(span.from), secs(span.to)]);
        let mut blocked: Vec<[f64; 2]> = faults.chain(invalid).collect();
        blocked.sort_by(|a, b| a[0].total_cmp(&b[0]));
        Ok(Self {
            reference: given.power(reference.index),
            under_test: given.power(under_test.index),
            blocked,
        })
    }

    /// Whether a span may be used at all.
    pub(super) fn is_free(&self, from_s: f64, to_s: f64) -> bool {
        !self
            .blocked
            .iter()
            .any(|span| span[0] < to_s && from_s < span[1])
    }

    /// One bin, if it counts.
    pub(super) fn bin(&self, from_s: f64, to_s: f64) -> Option<Bin> {
        if !self.is_free(from_s, to_s) {
            return None;
        }
        Some(Bin {
            from_s,
            to_s,
            reference_w: self.reference.mean(from_s, to_s, LEAST_COVERED)?,
            under_test_w: self.under_test.mean(from_s, to_s, LEAST_COVERED)?,
        })
    }

    /// All bins of one length in a span that count.
    pub(super) fn bins(&self, from_s: f64, to_s: f64, length_s: f64) -> Vec<Bin> {
        let count = ((to_s - from_s) / length_s + 1e-9).floor().max(0.0) as usize;
        (0..count)
            .filter_map(|i| {
                let begin = from_s + i as f64 * length_s;
                self.bin(begin, begin + length_s)
            })
            .collect()
    }

    /// The span that both instruments cover.
    pub(super) fn common_extent(&self) -> Option<[f64; 2]> {
        let (a, b) = (self.reference.extent()?, self.under_test.extent()?);
        let (from, to) = (a[0].max(b[0]), a[1].min(b[1]));
        (to > from).then_some([from, to])
    }
}
