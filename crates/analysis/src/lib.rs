//! Pure functions from recorded streams to differences, examinations, uncertainty and verdict.
//!
//! One code serves the live screen and the findings afterwards: [`watch`] judges while the rider
//! pedals, [`assess`] computes everything once the ride is over, and both call the same windows,
//! the same differences and the same uncertainty.
//!
//! What is absent, on purpose: clocks, files, radios, random numbers without a seed, and any value
//! that is not a finite number. What cannot be computed is said in words ([`outcome::NotTested`]).

pub mod align;
mod anomalies;
pub mod assess;
pub mod before;
pub mod budget;
pub mod cell;
pub mod claim;
mod compared;
pub mod comparing;
pub mod dropout;
pub mod evidence;
pub mod examinations;
pub mod findings;
pub mod gate;
pub mod grid;
pub mod limit;
pub mod needs;
pub mod outcome;
mod overall;
mod pairing;
pub mod plan;
mod plots;
pub mod risk;
pub mod sequential;
pub mod settings;
pub mod stats;
pub mod verdict;
pub mod watch;
