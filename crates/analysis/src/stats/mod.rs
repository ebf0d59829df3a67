//! Statistics that know nothing of cycling, each checked against published values.

pub mod anova;
pub mod autocorrelation;
pub mod common_factor;
pub mod descriptive;
pub mod hat;
pub mod intervals;
pub mod least_squares;
pub mod limits;
pub mod linear;
pub mod normal;
pub mod order;
pub mod periodogram;
pub mod search;
pub mod step_shape;
pub mod trend;
pub mod two_samples;
pub mod two_way;
pub mod york;
