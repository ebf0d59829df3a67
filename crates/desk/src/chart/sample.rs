//! Short traces and views for the tests of the charts.

use crate::chart::view::View;
use bench::trace::Trace;
use units::{Span, Timestamp};

/// How long a value of a sample is held.
const HOLD: Span = Span::from_millis(2500);

/// A trace of values at moments in milliseconds.
pub fn trace(points: impl IntoIterator<Item = (i64, f64)>) -> Trace {
    let mut trace = Trace::new(HOLD);
    for (millis, value) in points {
        trace.push(Timestamp::from_millis(millis), value);
    }
    trace
}

/// A view between two moments in seconds, the later of them the present.
pub fn view(from_s: i64, to_s: i64, pixels: usize) -> View {
    let to = Timestamp::from_secs(to_s);
    View {
        from: Timestamp::from_secs(from_s),
        to,
        now: to,
        pixels,
    }
}
