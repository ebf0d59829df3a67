//! Numbers of a step response: rise, settling, overshoot, dead time.
//!
//! Definitions as in the function `step_info` of the Python package control 0.10: rise from 10 % to
//! 90 % of the change by first crossing; settling at the last moment outside a band about the
//! final value; overshoot and undershoot in % of the change. Crossings are interpolated.

/// Fractions of the two-point fit: for a first-order lag with delay they lie one third and one
/// time constant after the dead time, 1 − e^(−1/3) and 1 − e^(−1).
const THIRD: f64 = 0.283_468_689_426_210_7;
const ONE: f64 = 0.632_120_558_828_557_7;

/// A response, scaled so that the change goes from zero to one.
#[derive(Clone, Copy, Debug)]
pub struct StepResponse<'a> {
    /// Times, ascending, from the moment of the command.
    pub t: &'a [f64],
    /// Values.
    pub y: &'a [f64],
}

impl StepResponse<'_> {
    /// The moment at which the rise passes a level. Below one half it is the last passage before
    /// one half is first reached, from there on the first passage: noise before the rise and
    /// after it then does not count as the rise.
    pub fn crossing(&self, level: f64) -> Option<f64> {
        let reached = self.y.iter().position(|y| *y >= level.max(0.5))?;
        if level >= 0.5 {
            return Some(self.between(reached.checked_sub(1), reached, level));
        }
        let below = self.y[..reached].iter().rposition(|y| *y < level);
        let above = below.map_or(0, |below| below + 1);
        Some(self.between(below, above, level))
    }

    /// Time from 10 % to 90 %.
    pub fn rise(&self) -> Option<f64> {
        Some(self.crossing(0.9)? - self.crossing(0.1)?)
    }

    /// Moment after which the response stays within ±`band` about one. `None` if it ends outside.
    pub fn settling(&self, band: f64) -> Option<f64> {
        let outside = |y: &f64| (y - 1.0).abs() > band;
        if self.y.last().is_none_or(outside) {
            return None;
        }
        let Some(last) = self.y.iter().rposition(outside) else {
            return self.t.first().copied();
        };
        let level = if self.y[last] > 1.0 {
            1.0 + band
        } else {
            1.0 - band
        };
        Some(self.between(Some(last), last + 1, level))
    }

    /// Largest excess over one, as a share of the change; zero if there is none.
    pub fn overshoot(&self) -> f64 {
        self.y.iter().copied().fold(1.0, f64::max) - 1.0
    }

    /// Largest departure to the wrong side, as a share of the change.
    pub fn undershoot(&self) -> f64 {
        -self.y.iter().copied().fold(0.0, f64::min)
    }

    /// Moment and height of the highest point.
    pub fn peak(&self) -> Option<(f64, f64)> {
        self.t
            .iter()
            .copied()
            .zip(self.y.iter().copied())
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }

    /// Dead time and time constant of a first-order lag with delay through two points. The dead
    /// time is kept between zero and the first crossing of 10 %, because a response with
    /// overshoot would otherwise begin before its cause.
    pub fn dead_time_and_lag(&self) -> Option<(f64, f64)> {
        let (early, late) = (self.crossing(THIRD)?, self.crossing(ONE)?);
        let lag = 1.5 * (late - early);
        let dead = (late - lag).clamp(0.0, self.crossing(0.1)?.max(0.0));
        Some((dead, lag))
    }

    /// Integral of (response − 1) over the time given: the shortfall in units of change · s.
    pub fn shortfall(&self) -> f64 {
        self.t
            .windows(2)
            .zip(self.y.windows(2))
            .map(|(t, y)| (t[1] - t[0]) * (0.5 * (y[0] + y[1]) - 1.0))
            .sum()
    }

    fn between(&self, before: Option<usize>, after: usize, level: f64) -> f64 {
        let Some(before) = before else {
            return self.t[after];
        };
        let (y0, y1) = (self.y[before], self.y[after]);
        if y1 == y0 {
            return self.t[after];
        }
        let share = ((level - y0) / (y1 - y0)).clamp(0.0, 1.0);
        self.t[before] + share * (self.t[after] - self.t[before])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(step: f64, end: f64) -> Vec<f64> {
        (0..=(end / step) as usize)
            .map(|i| i as f64 * step)
            .collect()
    }

    fn close(found: f64, expected: f64, tolerance: f64) {
        assert!(
            (found - expected).abs() <= tolerance,
            "{found} is not {expected}"
        );
    }

    /// First order, analytic: ln 9, ln 50, ln 20 time constants.
    #[test]
    fn first_order() {
        let t = grid(1e-3, 12.0);
        let y: Vec<f64> = t.iter().map(|t| 1.0 - (-t).exp()).collect();
        let r = StepResponse { t: &t, y: &y };
        close(r.rise().unwrap(), 2.1972245773, 1e-6);
        close(r.settling(0.02).unwrap(), 3.9120230054, 1e-5);
        close(r.settling(0.05).unwrap(), 2.9957322736, 1e-5);
        assert_eq!(r.overshoot(), 0.0);
        close(r.shortfall(), -1.0, 1e-4);
    }

    /// The two-point rule is exact for a first-order lag with delay.
    #[test]
    fn delay_and_lag_are_separated() {
        let t = grid(1e-3, 20.0);
        let y: Vec<f64> = t
            .iter()
            .map(|t| {
                if *t < 0.7 {
                    0.0
                } else {
                    1.0 - (-(t - 0.7) / 1.9).exp()
                }
            })
            .collect();
        let (dead, lag) = StepResponse { t: &t, y: &y }.dead_time_and_lag().unwrap();
        close(dead, 0.7, 1e-5);
        close(lag, 1.9, 1e-5);
    }

    /// Second order, analytic: overshoot exp(−πζ/√(1−ζ²)), peak at π/√(1−ζ²), exact settling.
    #[test]
    fn second_order() {
        for (zeta, overshoot_pct, settling) in [
            (0.2, 52.66206, None),
            (0.3, 37.23261, None),
            (0.4, 25.38267, None),
            (0.5, 16.30335, Some(8.076349)),
            (0.6, 9.478022, None),
            (0.7, 4.598791, Some(5.978792)),
            (0.8, 1.516462, Some(3.755841)),
        ] {
            let w = f64::sqrt(1.0 - zeta * zeta);
            let t = grid(1e-3, 40.0);
            let y: Vec<f64> = t
                .iter()
                .map(|t| 1.0 - (-zeta * t).exp() * ((w * t).cos() + zeta / w * (w * t).sin()))
                .collect();
            let r = StepResponse { t: &t, y: &y };
            close(100.0 * r.overshoot(), overshoot_pct, 1e-4);
            close(r.peak().unwrap().0, std::f64::consts::PI / w, 1e-3);
            if let Some(settling) = settling {
                close(r.settling(0.02).unwrap(), settling, 1e-5);
            }
        }
    }

    /// Examples of the documentation of `step_info` (control 0.10.2, BSD-3), with the exact
    /// values, since the printed ones are limited by their grid: (1−s)/(s²+s+1).
    #[test]
    fn wrong_way_first() {
        let t = grid(1e-3, 30.0);
        let w = f64::sqrt(0.75);
        let y: Vec<f64> = t
            .iter()
            .map(|t| 1.0 - (-0.5 * t).exp() * ((w * t).cos() + 1.5 / w * (w * t).sin()))
            .collect();
        let r = StepResponse { t: &t, y: &y };
        close(r.rise().unwrap(), 1.26611, 1e-5);
        close(r.settling(0.02).unwrap(), 8.99301, 1e-5);
        close(100.0 * r.overshoot(), 20.87134, 1e-4);
        close(100.0 * r.undershoot(), 28.01871, 1e-4);
        close(r.peak().unwrap().1, 1.2087134, 1e-6);
        close(r.peak().unwrap().0, 4.23220, 1e-3);
        let y: Vec<f64> = t.iter().map(|t| 1.0 - 2.0 * (-t).exp()).collect();
        let r = StepResponse { t: &t, y: &y };
        close(r.rise().unwrap(), 9f64.ln(), 1e-6);
        close(r.settling(0.02).unwrap(), 4.6051702, 1e-5);
        close(r.undershoot(), 1.0, 1e-12);
    }

    /// (s²+5s+5)/(s⁴+1.65s³+5s²+6.5s+2), final value 2.5, integrated here by Runge and Kutta.
    #[test]
    fn fourth_order() {
        let derivative = |x: [f64; 4]| {
            [
                x[1],
                x[2],
                x[3],
                1.0 - 2.0 * x[0] - 6.5 * x[1] - 5.0 * x[2] - 1.65 * x[3],
            ]
        };
        let t = grid(2e-3, 80.0);
        let mut x = [0.0; 4];
        let mut y = Vec::with_capacity(t.len());
        for _ in &t {
            y.push((5.0 * x[0] + 5.0 * x[1] + x[2]) / 2.5);
            let step = |k: [f64; 4], by: f64| std::array::from_fn(|i| x[i] + by * k[i]);
            let k1 = derivative(x);
            let k2 = derivative(step(k1, 1e-3));
            let k3 = derivative(step(k2, 1e-3));
            let k4 = derivative(step(k3, 2e-3));
            x = std::array::from_fn(|i| {
                x[i] + 2e-3 / 6.0 * (k1[i] + 2.0 * k2[i] + 2.0 * k3[i] + k4[i])
            });
        }
        let r = StepResponse { t: &t, y: &y };
        close(r.rise().unwrap(), 3.8434, 1e-4);
        close(r.settling(0.02).unwrap(), 27.9802, 2e-4);
        close(100.0 * r.overshoot(), 7.512989, 1e-5);
        close(2.5 * r.peak().unwrap().1, 2.6878247, 1e-6);
        close(r.peak().unwrap().0, 8.0840, 2e-3);
    }

    #[test]
    fn a_response_that_never_arrives() {
        let r = StepResponse {
            t: &[0.0, 1.0],
            y: &[0.0, 0.5],
        };
        assert_eq!(
            (r.rise(), r.settling(0.05), r.dead_time_and_lag()),
            (None, None, None)
        );
        let empty = StepResponse { t: &[], y: &[] };
        assert_eq!((empty.settling(0.05), empty.overshoot()), (None, 0.0));
    }
}
