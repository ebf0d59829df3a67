//! Steps of the control point's numbers.

/// A crank length comes in half millimetres.
pub(super) const CRANK_LENGTH_STEPS_PER_MM: f64 = 2.0;
