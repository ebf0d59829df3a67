//! The change along the chosen curve from beginning to end, with the uncertainty of its time
//! constant.

use super::curves::{Fits, Shape, whiten};
use crate::outcome::Estimate;
use crate::stats::least_squares::{LeastSquares, least_squares};

/// Change of the fitted curve from the beginning to the end of the observation.
pub(super) fn change(
    fits: &Fits,
    t: &[f64],
    shape: Shape,
    end_min: f64,
) -> (Estimate, Option<Estimate>) {
    if let (Shape::Saturating, Some((tau, fit))) = (shape, &fits.saturating) {
        let size = fit.coefficients[1];
        let decay = (-end_min / tau).exp();
        let dof = (fits.n - 3.0).max(1.0);
        // The time constant is a parameter like the others: its column is the derivative.
        let joint = joint_inverse(fits, t, *tau, size);
        let variance = fit.rss / dof;
        let along = [0.0, 1.0 - decay, -size * end_min / (tau * tau) * decay];
        let (u, u_tau) = match joint {
            Some(joint) => (
                (variance * joint.inverse_along(&along)).max(0.0).sqrt(),
                (variance * joint.inverse[2][2]).sqrt(),
            ),
            None => (fit.sd(1), *tau),
        };
        let tau = Estimate {
            value: 60.0 * tau,
            u: 60.0 * u_tau,
            dof,
        };
        return (
            Estimate {
                value: size * (1.0 - decay),
                u,
                dof,
            },
            Some(tau),
        );
    }
    let dof = (fits.n - 2.0).max(1.0);
    let slope = fits.linear.coefficients[1];
    (
        Estimate {
            value: slope * end_min,
            u: fits.linear.sd(1) * end_min,
            dof,
        },
        None,
    )
}

fn joint_inverse(fits: &Fits, t: &[f64], tau: f64, size: f64) -> Option<LeastSquares> {
    let ones = vec![1.0; t.len()];
    let rise: Vec<f64> = t.iter().map(|t| 1.0 - (-t / tau).exp()).collect();
    let derivative: Vec<f64> = t
        .iter()
        .map(|t| -size * t / (tau * tau) * (-t / tau).exp())
        .collect();
    let phi = fits.autocorrelation;
    let columns = [ones, rise, derivative].map(|column| whiten(&column, phi));
    least_squares(&columns, &vec![0.0; t.len()], None)
}
