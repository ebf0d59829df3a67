//! Cells: one level × cadence × flywheel-speed condition, gathered from its windows.
//!
//! The script says which windows belong together where it gave a target, a cadence or a gear;
//! where it did not, measured values do. A cell keeps the paired seconds of its windows in
//! unbroken runs, because their scatter and its autocorrelation are the type A uncertainty.
//!
//! The difference is the ratio of sums, Σ device / Σ reference − 1, and its scatter that of the
//! residuals device − ratio · reference: what the rider varies cancels even if the device is
//! several percent off.

mod cells;
mod condition;
mod data;
mod judge;
mod measured;
mod scatter;

pub use cells::{Cells, Repeatability};
pub use data::CellData;
pub use judge::Judge;
