//! From a curve and its half width to the band that is drawn, by the same rule as the curve: point
//! by point, or column by column where many values share a pixel.

use super::columns::{Column, columns};
use super::values::count_between;
use super::view::View;
use bench::trace::Trace;

/// An unbroken band: seconds since the session began, lower edge, upper edge.
pub type BandRun = Vec<[f64; 3]>;

/// The band `centre ± half` in `view`. Both curves have their values at the same moments; a moment
/// that only one of them has is left out. Where many values share a pixel column, the column gets
/// the widest edges of all of them.
pub fn band(centre: &Trace, half: &Trace, view: &View) -> Vec<BandRun> {
    if view.is_empty() {
        Vec::new()
    } else if count_between(centre, view.from, view.to) > view.pixels {
        band_of_columns(
            &columns(centre, view),
            &columns(half, view),
            view.column_ns(),
        )
    } else {
        band_of_points(centre, half, view)
    }
}

fn band_of_points(centre: &Trace, half: &Trace, view: &View) -> Vec<BandRun> {
    let mut halves = half.between(view.from, view.to).peekable();
    let mut out = vec![Vec::new()];
    for point in centre.between(view.from, view.to) {
        while halves.next_if(|half| half.at < point.at).is_some() {}
        let Some(half) = halves.next_if(|half| half.at == point.at) else {
            continue;
        };
        if point.after_gap {
            out.push(Vec::new());
        }
        let size = half.value.abs();
        if let Some(run) = out.last_mut() {
            run.push([
                point.at.as_secs_f64(),
                point.value - size,
                point.value + size,
            ]);
        }
    }
    out.retain(|run| !run.is_empty());
    out
}

fn band_of_columns(centres: &[Column<'_>], halves: &[Column<'_>], width_ns: i64) -> Vec<BandRun> {
    let mut halves = halves.iter().peekable();
    let mut out = vec![Vec::new()];
    for centre in centres {
        while halves.next_if(|half| half.index < centre.index).is_some() {}
        let here = halves.clone().take_while(|half| half.index == centre.index);
        let size = here
            .map(|half| half.low.abs().max(half.high.abs()))
            .reduce(f64::max);
        let Some(size) = size else { continue };
        if centre.after_gap {
            out.push(Vec::new());
        }
        if let Some(run) = out.last_mut() {
            run.push([
                centre.middle_s(width_ns),
                centre.low - size,
                centre.high + size,
            ]);
        }
    }
    out.retain(|run: &BandRun| !run.is_empty());
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chart::sample::{trace, view};

    #[test]
    fn a_band_is_split_at_gaps_and_merged_within_a_pixel() {
        let centre = trace([(0, 1.0), (1000, 2.0), (9000, 3.0), (10_000, 4.0)]);
        let half = trace([(0, 0.5), (1000, 0.5), (9000, 1.0)]);
        assert_eq!(
            band(&centre, &half, &view(0, 20, 500)),
            vec![
                vec![[0.0, 0.5, 1.5], [1.0, 1.5, 2.5]],
                vec![[9.0, 2.0, 4.0]]
            ]
        );
        assert_eq!(
            band(&centre, &half, &view(0, 20, 2)),
            vec![vec![[5.0, 0.0, 3.0]], vec![[5.0, 2.0, 4.0]]]
        );
    }
}
