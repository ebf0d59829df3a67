//! Comparison of sessions: before and after, unit and unit, or a whole row of devices.

mod before_after;
mod order;
mod ranking;
#[cfg(test)]
mod tests;

pub use before_after::{BeforeAfter, Conclusion, before_after};
pub use order::{RankedPair, Ranking};
pub use ranking::{ranking, ranking_by};

/// Name of the examination.
pub const NAME: &str = "comparison";
