//! Slow oscillation in noise that is not white: the highest peak of a periodogram over the
//! spectrum of a first-order autoregression, judged by Fisher's test.

use super::order::exceeds;
use std::f64::consts::TAU;

/// The highest peak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Frequency in cycles per sample.
    pub frequency: f64,
    /// Amplitude of the sine, same unit as the values.
    pub amplitude: f64,
    /// Chance of a share this high among as many ordinates of noise (Fisher 1929).
    pub p: f64,
}

/// Looks for a peak between two frequencies (cycles per sample) after a straight line has been
/// taken out. `None` with fewer than 16 values, fewer than five frequencies, or no variation.
pub fn highest_peak(values: &[f64], low: f64, high: f64) -> Option<Peak> {
    let n = values.len();
    if n < 16 || values.iter().any(|x| !x.is_finite()) {
        return None;
    }
    let flat = without_line(values);
    let power: f64 = flat.iter().map(|x| x * x).sum();
    if !exceeds(power, 1e-18) {
        return None;
    }
    let phi = flat.windows(2).map(|w| w[0] * w[1]).sum::<f64>() / power;
    let phi = phi.clamp(-0.95, 0.95);
    let mut total = 0.0;
    let mut count = 0;
    let mut best: Option<(f64, f64, f64)> = None;
    let last = (n - 1) / 2;
    for k in 1..=last {
        let frequency = k as f64 / n as f64;
        if frequency < low || frequency > high {
            continue;
        }
        let ordinate = power_at(&flat, frequency);
        let background = 1.0 / (1.0 + phi * phi - 2.0 * phi * (TAU * frequency).cos());
        let whitened = ordinate / background;
        total += whitened;
        count += 1;
        if best.is_none_or(|(highest, _, _)| whitened > highest) {
            best = Some((whitened, frequency, ordinate));
        }
    }
    let (highest, frequency, ordinate) = best?;
    if count < 5 || !exceeds(total, 0.0) {
        return None;
    }
    Some(Peak {
        frequency,
        amplitude: 2.0 * ordinate.sqrt() / n as f64,
        p: fisher_p(highest / total, count),
    })
}

/// Amplitude of the sine of one frequency in values from which a straight line was taken out.
pub fn amplitude_at(values: &[f64], frequency: f64) -> f64 {
    if values.len() < 3 {
        return 0.0;
    }
    2.0 * power_at(&without_line(values), frequency).sqrt() / values.len() as f64
}

/// Squared modulus of the Fourier sum at a frequency, by Goertzel's recursion.
fn power_at(values: &[f64], frequency: f64) -> f64 {
    let coefficient = 2.0 * (TAU * frequency).cos();
    let (mut s1, mut s2) = (0.0, 0.0);
    for x in values {
        (s1, s2) = (x + coefficient * s1 - s2, s1);
    }
    (s1 * s1 + s2 * s2 - coefficient * s1 * s2).max(0.0)
}

/// Chance that the largest of `m` shares is above `g`: Σ (−1)^(j−1) C(m, j) (1 − j·g)^(m−1).
/// The first term is an upper bound and enough where it is small; the sum is used elsewhere.
fn fisher_p(g: f64, m: usize) -> f64 {
    let first = m as f64 * (1.0 - g).max(0.0).powi(m as i32 - 1);
    if first < 0.05 {
        return first;
    }
    let mut sum = 0.0;
    let mut binomial = 1.0;
    for j in 1..=m {
        binomial *= (m - j + 1) as f64 / j as f64;
        let rest = 1.0 - j as f64 * g;
        if rest <= 0.0 {
            break;
        }
        let term = binomial * rest.powi(m as i32 - 1);
        sum += if j % 2 == 1 { term } else { -term };
    }
    sum.clamp(0.0, 1.0)
}

/// Values minus their least-squares line.
fn without_line(values: &[f64]) -> Vec<f64> {
    let n = values.len() as f64;
    let middle = 0.5 * (n - 1.0);
    let mean = values.iter().sum::<f64>() / n;
    let spread = n * (n * n - 1.0) / 12.0;
    let slope = values
        .iter()
        .enumerate()
        .map(|(i, x)| (i as f64 - middle) * (x - mean))
        .sum::<f64>()
        / spread;
    values
        .iter()
        .enumerate()
        .map(|(i, x)| x - mean - slope * (i as f64 - middle))
        .collect()
}

impl Peak {
    /// Period in samples.
    pub fn period(&self) -> f64 {
        1.0 / self.frequency
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_is_found_with_its_amplitude() {
        let values: Vec<f64> = (0..200)
            .map(|i| 250.0 + 0.01 * f64::from(i) + 6.0 * (TAU * f64::from(i) / 20.0).sin())
            .collect();
        let peak = highest_peak(&values, 0.01, 0.3).unwrap();
        assert!((peak.period() - 20.0).abs() < 1e-9);
        assert!((peak.amplitude - 6.0).abs() < 0.05, "{}", peak.amplitude);
        assert!(peak.p < 1e-6);
    }

    /// Fisher's critical shares at 5 %: 0.68377 for 5 ordinates, 0.44495 for 10 (tables, from
    /// memory; the formula proves itself at m = 2, where the chance is 2(1 − g)).
    #[test]
    fn fishers_shares() {
        assert!((fisher_p(0.68377, 5) - 0.05).abs() < 2e-5);
        assert!((fisher_p(0.44495, 10) - 0.05).abs() < 2e-5);
        assert!((fisher_p(0.75, 2) - 0.5).abs() < 1e-12);
    }

    #[test]
    fn nothing_in_nothing() {
        assert!(highest_peak(&[5.0; 100], 0.0, 0.5).is_none());
        assert!(highest_peak(&[5.0; 3], 0.0, 0.5).is_none());
    }
}
