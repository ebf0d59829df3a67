//! By how much held values are late although the reports agree.

use crate::examinations::usual_interval_s;
use units::Series;

/// By how much the held power of a stream is later than that of the reference although their
/// reports agree: half the difference of their usual intervals, s.
pub(super) fn held_difference_s(reference: &Series, stream: &Series) -> f64 {
    match (usual_interval_s(stream), usual_interval_s(reference)) {
        (Some(own_s), Some(reference_s)) => {
            let half_s = 0.5 * (own_s - reference_s);
            // Equal rates need no move, and then every mean is exactly that of the series.
            if half_s.abs() < 0.02 { 0.0 } else { half_s }
        }
        _ => 0.0,
    }
}
