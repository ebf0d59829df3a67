//! The plot of a response: median and scatter of the repeats.

use super::ensemble::{Ensemble, mean_size};
use crate::examinations::targets::TargetChange;
use crate::examinations::words;
use crate::outcome::{Ink, Layer, Plot};
use crate::stats::order::quantile_of_sorted;

pub(super) fn plot_of(group: &[TargetChange], reference: &Ensemble, device: &Ensemble) -> Plot {
    // Per moment the 10, 50 and 90 % of the repeats.
    let curves = |ensemble: &Ensemble| -> [Vec<[f64; 2]>; 3] {
        let mut found: [Vec<[f64; 2]>; 3] = Default::default();
        let mut column = Vec::with_capacity(ensemble.rows.len());
        for (i, t) in ensemble.t.iter().enumerate() {
            column.clear();
            column.extend(ensemble.rows.iter().map(|row| row[i]));
            column.sort_by(f64::total_cmp);
            for (curve, p) in found.iter_mut().zip([0.1, 0.5, 0.9]) {
                curve.extend(quantile_of_sorted(&column, p).map(|y| [*t, 100.0 * y]));
            }
        }
        found
    };
    let [low, middle, high] = curves(reference);
    let [_, device_middle, _] = curves(device);
    let layers = vec![
        words::band(Ink::Tolerance, "±5 % of the change", 95.0, 105.0),
        words::level(Ink::Target, "new target reached", 100.0),
        Layer::Line {
            ink: Ink::Reference,
            label: "reference, 10 and 90 % of repeats".into(),
            runs: vec![low, high],
        },
        words::line(Ink::Reference, "reference, median", middle),
        words::line(Ink::UnderTest, "device's own word, median", device_middle),
    ];
    words::plot(
        "step-response",
        &format!(
            "Response to a change of {} W",
            words::signed(mean_size(group), 0)
        ),
        ["time since the command, s", "share of the change, %"],
        layers,
        format!(
            "{} repeats at random phase; both delays as received",
            reference.rows.len()
        ),
    )
}
