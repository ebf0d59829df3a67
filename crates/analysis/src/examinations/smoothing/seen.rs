//! What both streams show beside the kernel: repeated values and the liveliness of changes.

use crate::examinations::bins::{Bin, Paired};
use crate::examinations::integral::secs;
use crate::examinations::prepared::Prepared;
use units::Series;

/// What was seen of both streams beside the kernel; device first.
pub(super) struct Seen {
    pub(super) intervals_s: [f64; 2],
    pub(super) repeated: [f64; 2],
    pub(super) variance_ratio: Option<f64>,
    pub(super) samples: usize,
    pub(super) transitions: usize,
}

/// Share of values that repeat the value before.
pub(super) fn share_repeated(series: &Series) -> f64 {
    let pairs = series.len().saturating_sub(1);
    if pairs == 0 {
        return 0.0;
    }
    let same = series.values().windows(2).filter(|w| w[0] == w[1]).count();
    same as f64 / pairs as f64
}

/// Variance of the change from second to second while steady, device over reference.
pub(super) fn variance_ratio(given: &Prepared<'_>, paired: &Paired) -> Option<f64> {
    let (mut device, mut reference, mut n) = (0.0, 0.0, 0);
    for window in given.windows.iter().take(40) {
        let bins = paired.bins(secs(window.from), secs(window.to), 1.0);
        for pair in bins.windows(2) {
            let change = |f: fn(&Bin) -> f64| (f(&pair[1]) - f(&pair[0])).powi(2);
            device += change(|bin| bin.under_test_w);
            reference += change(|bin| bin.reference_w);
            n += 1;
        }
    }
    (n >= 30 && reference > 0.0).then(|| device / reference)
}
