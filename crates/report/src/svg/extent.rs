//! The ranges that a plot has to show.

use super::ticks::{self, Kind};
use analysis::outcome::{Layer, Plot};

/// Both axes of a plot: ranges that end on marks, and what their numbers are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Extent {
    pub(crate) x: [f64; 2],
    pub(crate) y: [f64; 2],
    pub(crate) x_kind: Kind,
    pub(crate) y_kind: Kind,
}

/// Smallest and largest of what was put in.
#[derive(Clone, Copy, Debug, Default)]
struct Reach(Option<[f64; 2]>);

impl Reach {
    fn add(&mut self, value: f64) {
        if value.is_finite() {
            let [low, high] = self.0.unwrap_or([value, value]);
            self.0 = Some([low.min(value), high.max(value)]);
        }
    }
}

impl Extent {
    /// The extent of a plot whose axes have room for so many marks; `None` if it holds no number.
    pub(crate) fn of(plot: &Plot, [x_marks, y_marks]: [usize; 2]) -> Option<Self> {
        let (x_kind, y_kind) = (Kind::of(&plot.x), Kind::of(&plot.y));
        let positive = |kind: Kind, value: f64| kind != Kind::Logarithmic || value > 0.0;
        let (mut x, mut y, mut ends) = (Reach::default(), Reach::default(), Reach::default());
        let mut marked = false;
        for layer in &plot.layers {
            match layer {
                Layer::Line { runs, .. } => {
                    for [px, py] in runs.iter().flatten().filter(|p| positive(x_kind, p[0])) {
                        x.add(*px);
                        y.add(*py);
                    }
                }
                Layer::Points { points, .. } => {
                    marked |= !points.is_empty();
                    for [px, py] in points.iter().filter(|p| positive(x_kind, p[0])) {
                        x.add(*px);
                        y.add(*py);
                    }
                }
                Layer::Intervals { intervals, .. } => {
                    marked |= !intervals.is_empty();
                    for [px, low, middle, high] in
                        intervals.iter().filter(|i| positive(x_kind, i[0]))
                    {
                        x.add(*px);
                        y.add(*middle);
                        ends.add(*low);
                        ends.add(*high);
                    }
                }
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
        // Spans alone are drawn on a strip without a vertical axis.
        let (y, y_kind) = match y.0 {
            Some(y) => (with_ends(y, ends, y_kind), y_kind),
            None => ([0.0, 1.0], Kind::Blank),
        };
        let x = x.0?;
        Some(Self {
            x: ticks::range(roomy(x, x_kind, marked), x_marks, x_kind),
            y: ticks::range(roomy(y, y_kind, true), y_marks, y_kind),
            x_kind,
            y_kind,
        })
    }
}

/// The ends of intervals belong to the range, except that of a difference: there one condition
/// with a huge uncertainty must not make all others unreadable, and its bar leaves the plot.
fn with_ends([low, high]: [f64; 2], ends: Reach, kind: Kind) -> [f64; 2] {
    let Some([lowest, highest]) = ends.0 else {
        return [low, high];
    };
    if kind == Kind::Difference {
        let most = 2.5 * low.abs().max(high.abs());
        return [low.min(lowest.max(-most)), high.max(highest.min(most))];
    }
    [low.min(lowest), high.max(highest)]
}

/// Room beside marks, so that none stands on the edge.
fn roomy([low, high]: [f64; 2], kind: Kind, marked: bool) -> [f64; 2] {
    let room = if marked { 0.03 * (high - low) } else { 0.0 };
    match kind {
        Kind::Logarithmic if marked => [low / 1.1, high * 1.1],
        Kind::Share | Kind::Ordinal | Kind::Logarithmic | Kind::Blank => [low, high],
        Kind::FromZero if low >= 0.0 => [low, high + room],
        Kind::Time => [
            if low >= room { low - room } else { low },
            high + room / 3.0,
        ],
        _ => [
            if low >= 0.0 && low < room {
                0.0
            } else {
                low - room
            },
            high + room,
        ],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::outcome::Ink;

    fn plot(y: &str, layers: Vec<Layer>) -> Plot {
        Plot {
            name: "p",
            title: "t".into(),
            x: "level, W".into(),
            y: y.into(),
            layers,
            caption: String::new(),
        }
    }

    #[test]
    fn one_huge_uncertainty_does_not_flatten_the_rest() {
        let intervals = vec![[100.0, -60.0, -1.0, 58.0], [200.0, -1.5, 0.5, 2.5]];
        let layers = vec![Layer::Intervals {
            ink: Ink::UnderTest,
            label: "d".into(),
            intervals,
        }];
        let extent = Extent::of(&plot("device − reference, %", layers), [6, 5]).unwrap();
        assert_eq!(extent.y, [-4.0, 4.0]);
        assert!(extent.x[0] <= 100.0 && extent.x[1] >= 200.0);
    }

    #[test]
    fn nothing_finite_is_nothing_to_draw() {
        let points = vec![[f64::NAN, f64::INFINITY]];
        let layers = vec![Layer::Points {
            ink: Ink::UnderTest,
            label: "d".into(),
            points,
        }];
        assert!(Extent::of(&plot("x", layers), [6, 5]).is_none());
        assert!(Extent::of(&plot("x", Vec::new()), [6, 5]).is_none());
    }
}
