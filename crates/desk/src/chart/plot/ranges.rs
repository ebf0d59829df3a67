//! How far the axes of a plot reach.

use analysis::outcome::{Layer, Plot};

/// What must fit, with a little room; zero is shown where it is not far away.
pub(super) fn ranges(plot: &Plot) -> Option<[[f64; 2]; 2]> {
    let mut x = Reach::default();
    let mut y = Reach::default();
    for layer in &plot.layers {
        match layer {
            Layer::Line { runs, .. } => runs.iter().flatten().for_each(|point| {
                x.add(point[0]);
                y.add(point[1]);
            }),
            Layer::Points { points, .. } => points.iter().for_each(|point| {
                x.add(point[0]);
                y.add(point[1]);
            }),
            Layer::Intervals { intervals, .. } => intervals.iter().for_each(|interval| {
                x.add(interval[0]);
                y.add(interval[1]);
                y.add(interval[3]);
            }),
            Layer::Band { low, high, .. } => {
                y.add(*low);
                y.add(*high);
            }
            Layer::Level { at, .. } => y.add(*at),
            Layer::Span { from, to, .. } => {
                x.add(*from);
                x.add(*to);
            }
        }
    }
    let x = x.padded(0.02)?;
    let [low, high] = y.padded(0.08)?;
    let reach = high - low;
    let low = if low > 0.0 && low < 0.5 * reach {
        0.0
    } else {
        low
    };
    let high = if high < 0.0 && -high < 0.5 * reach {
        0.0
    } else {
        high
    };
    Some([x, [low, high]])
}

#[derive(Default)]
struct Reach(Option<[f64; 2]>);

impl Reach {
    fn add(&mut self, value: f64) {
        if value.is_finite() {
            self.0 = Some(
                self.0
                    .map_or([value; 2], |[l, h]| [l.min(value), h.max(value)]),
            );
        }
    }

    fn padded(&self, share: f64) -> Option<[f64; 2]> {
        let [low, high] = self.0?;
        let room = if high > low {
            share * (high - low)
        } else {
            0.5 * low.abs().max(1.0)
        };
        Some([low - room, high + room])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::outcome::Ink;

    #[test]
    fn an_empty_plot_has_no_range_and_a_single_point_has_one() {
        let mut plot = Plot {
            name: "a",
            title: String::new(),
            x: String::new(),
            y: String::new(),
            layers: Vec::new(),
            caption: String::new(),
        };
        assert_eq!(ranges(&plot), None);
        let points = vec![[2.0, 200.0]];
        plot.layers.push(Layer::Points {
            ink: Ink::Fit,
            label: String::new(),
            points,
        });
        let [x, y] = ranges(&plot).unwrap();
        assert!(x[0] < 2.0 && x[1] > 2.0 && y[0] < 200.0 && y[1] > 200.0);
    }
}
