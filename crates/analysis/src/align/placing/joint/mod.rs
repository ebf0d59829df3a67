//! The exact place: one lag for every stretch and one drift of the clock for all, by least squares
//! over the whole recording at once.
//!
//! Every half minute says by how much it wants to be moved ([`told`]); one step of least squares
//! moves stretches and clock accordingly, and says how sure they are then ([`step`]). A few steps,
//! each from the place the last one led to, come to rest.

mod step;
mod told;

use super::placed::{Joint, Placed};
use super::sides::Sides;
use super::track::Stretch;
use crate::findings::LagQuantity;
use step::step;
use told::{Told, tell};

/// Smoothing that is tried, times over: against an instrument that smooths, more of it is better.
const SMOOTHINGS: [usize; 3] = [1, 4, 16];
/// Rounds of improvement; the first already comes within milliseconds.
const ROUNDS: usize = 8;

/// The best fit of one or two quantities to the stretches. `None` where a stretch has no changes
/// that tell its lag.
pub(super) fn fit(sides: &[(LagQuantity, &Sides)], stretches: &[Stretch]) -> Option<Joint> {
    SMOOTHINGS
        .iter()
        .filter_map(|times| {
            let smoothed: Vec<(LagQuantity, Sides)> = sides
                .iter()
                .map(|(quantity, sides)| (*quantity, sides.smoothed(*times)))
                .collect();
            fit_smoothed(&smoothed, stretches)
        })
        .min_by(|a, b| a.badness().total_cmp(&b.badness()))
}

fn fit_smoothed(sides: &[(LagQuantity, Sides)], stretches: &[Stretch]) -> Option<Joint> {
    let mut joint = Joint {
        stretches: stretches
            .iter()
            .map(|stretch| Placed {
                middle_s: 0.0,
                lag_s: stretch.lag_s,
                u_s: f64::INFINITY,
            })
            .collect(),
        drift: 0.0,
        drift_u: f64::INFINITY,
        dof: 0.0,
        segments: Vec::new(),
    };
    for _ in 0..ROUNDS {
        let told: Vec<Told> = sides
            .iter()
            .flat_map(|(quantity, sides)| tell(*quantity, sides, stretches, &joint))
            .collect();
        let next = step(&told, &joint)?;
        let moved = next
            .stretches
            .iter()
            .enumerate()
            .map(|(stretch, placed)| (placed.lag_s - joint.lag_s(stretch, placed.middle_s)).abs())
            .fold((next.drift - joint.drift).abs() * 1000.0, f64::max);
        joint = next;
        if moved < 1e-4 {
            break;
        }
    }
    Some(joint)
}
