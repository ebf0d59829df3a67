//! Long lines with no more points than a picture can show.
//!
//! Every column of pixels keeps the first, the smallest, the largest and the last value in it, in
//! their order, so that no peak and no drop-out is lost and the line enters and leaves each column
//! where the data do.

/// The points of a run that are drawn when the picture is `columns` wide from `low` to `high`.
/// The run must be in order of x; otherwise, and when it is short, it is returned as it is.
pub(crate) fn thin(run: &[[f64; 2]], [low, high]: [f64; 2], columns: usize) -> Vec<[f64; 2]> {
    let ordered = run.windows(2).all(|pair| pair[0][0] <= pair[1][0]);
    if run.len() <= 4 * columns.max(1) || !ordered || high <= low {
        return run.to_vec();
    }
    let column = |x: f64| ((x - low) / (high - low) * columns as f64).floor() as i64;
    let mut kept = Vec::with_capacity(4 * columns);
    let mut from = 0;
    while from < run.len() {
        let now = column(run[from][0]);
        let length = run[from..]
            .iter()
            .take_while(|point| column(point[0]) == now)
            .count();
        let here = &run[from..from + length.max(1)];
        let by_height = |a: &(usize, &[f64; 2]), b: &(usize, &[f64; 2])| a.1[1].total_cmp(&b.1[1]);
        let at = |found: Option<(usize, &[f64; 2])>| found.map_or(0, |(index, _)| index);
        let mut indices = [
            0,
            at(here.iter().enumerate().min_by(by_height)),
            at(here.iter().enumerate().max_by(by_height)),
            here.len() - 1,
        ];
        indices.sort_unstable();
        let mut last = None;
        for index in indices {
            if last != Some(index) {
                kept.push(here[index]);
            }
            last = Some(index);
        }
        from += here.len();
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_single_peak_and_a_single_hole_survive() {
        let mut run: Vec<[f64; 2]> = (0..100_000).map(|i| [f64::from(i), 200.0]).collect();
        run[54_321][1] = 900.0;
        run[77_777][1] = 0.0;
        let kept = thin(&run, [0.0, 100_000.0], 500);
        assert!(kept.len() <= 2000);
        assert!(kept.contains(&[54_321.0, 900.0]) && kept.contains(&[77_777.0, 0.0]));
        assert_eq!((kept[0], kept[kept.len() - 1]), (run[0], run[99_999]));
    }

    #[test]
    fn what_is_short_or_not_in_order_stays_as_it_is() {
        let short = vec![[0.0, 1.0], [1.0, 2.0]];
        assert_eq!(thin(&short, [0.0, 1.0], 100), short);
        let loops: Vec<[f64; 2]> = (0..999).map(|i| [f64::from(i % 7), 0.0]).collect();
        assert_eq!(thin(&loops, [0.0, 6.0], 10).len(), 999);
    }
}
