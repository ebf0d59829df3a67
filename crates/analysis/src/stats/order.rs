//! Order statistics: quantiles and the median.

/// Quantile of unsorted values by linear interpolation between order statistics (type 7 of
/// Hyndman and Fan, the default of R and numpy). `None` for no values.
pub fn quantile(values: &[f64], p: f64) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    quantile_of_sorted(&sorted, p)
}

/// The same for values already in ascending order.
pub fn quantile_of_sorted(sorted: &[f64], p: f64) -> Option<f64> {
    let last = sorted.len().checked_sub(1)?;
    let place = p.clamp(0.0, 1.0) * last as f64;
    let below = place.floor() as usize;
    let above = (below + 1).min(last);
    Some(sorted[below] + (place - below as f64) * (sorted[above] - sorted[below]))
}

/// The middle of unsorted values. `None` for no values.
pub fn median(values: &[f64]) -> Option<f64> {
    quantile(values, 0.5)
}

/// Whether a value is above a limit; not-a-number never is.
pub fn exceeds(value: f64, limit: f64) -> bool {
    value > limit
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `quantile(1:10, c(.25, .9))` of R gives 3.25 and 9.1 (from the definition of type 7).
    #[test]
    fn type_seven() {
        let values: Vec<f64> = (1..=10).rev().map(f64::from).collect();
        assert_eq!(quantile(&values, 0.25), Some(3.25));
        assert!((quantile(&values, 0.9).unwrap() - 9.1).abs() < 1e-12);
        assert_eq!(median(&values), Some(5.5));
        assert_eq!(median(&[]), None);
    }
}
