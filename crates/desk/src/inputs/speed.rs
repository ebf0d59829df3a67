//! Speed as the person prefers to read it: the one place where it is converted and written.
//!
//! Everything inside the program is in km/h. What others have put into words – a sentence of the
//! analysis, a prompt of the script, the axis of a plot – is retold here in the unit in use. Words
//! that a person typed, and texts of files, are shown as they are and never pass through here.

use analysis::outcome::{Layer, Plot};
use std::borrow::Cow;

/// How flywheel speed is shown.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SpeedUnit {
    /// Kilometres in an hour.
    #[default]
    KmH,
    /// Miles in an hour.
    Mph,
}

/// Kilometres in an international mile (1.609344 exactly: NIST SP 811, appendix B.8).
const KM_PER_MILE: f64 = 1.609_344;

/// How others write the unit.
const WRITTEN: &str = "km/h";

impl SpeedUnit {
    /// Its name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::KmH => WRITTEN,
            Self::Mph => "mph",
        }
    }

    /// A speed in this unit.
    pub fn from_kmh(self, kmh: f64) -> f64 {
        match self {
            Self::KmH => kmh,
            Self::Mph => kmh / KM_PER_MILE,
        }
    }

    /// A speed in words: number and unit.
    pub fn words(self, kmh: f64, decimals: usize) -> String {
        let value = crate::parts::words::decimals(self.from_kmh(kmh), decimals);
        format!("{value}\u{a0}{}", self.name())
    }

    /// A text of others with every speed in it in this unit. A whole number gets one decimal, so
    /// that nothing is lost.
    pub fn told(self, text: &str) -> Cow<'_, str> {
        if self == Self::KmH || !text.contains(WRITTEN) {
            return Cow::Borrowed(text);
        }
        let mut told = String::with_capacity(text.len());
        let mut rest = text;
        while let Some(at) = rest.find(WRITTEN) {
            let before = &rest[..at];
            let mut from = 0;
            for number in numbers_at_the_end(before) {
                told.push_str(&before[from..number[0]]);
                told.push_str(&self.converted(&before[number[0]..number[1]]));
                from = number[1];
            }
            told.push_str(&before[from..]);
            told.push_str(self.name());
            rest = &rest[at + WRITTEN.len()..];
        }
        told.push_str(rest);
        Cow::Owned(told)
    }

    fn converted(self, number: &str) -> String {
        let decimals = number.split_once('.').map_or(1, |(_, after)| after.len());
        match number.parse::<f64>() {
            Ok(kmh) => format!("{:.decimals$}", self.from_kmh(kmh)),
            Err(_) => number.to_owned(),
        }
    }

    /// A plot with its speeds in this unit: axes, values and words.
    pub fn plotted(self, plot: &Plot) -> Cow<'_, Plot> {
        if self == Self::KmH || !says_speed(plot) {
            return Cow::Borrowed(plot);
        }
        let factor = |axis: &str| match is_axis_of_speed(axis) {
            true => self.from_kmh(1.0),
            false => 1.0,
        };
        let (x, y) = (factor(&plot.x), factor(&plot.y));
        let layers = plot.layers.iter();
        Cow::Owned(Plot {
            name: plot.name,
            title: self.told(&plot.title).into_owned(),
            x: self.told(&plot.x).into_owned(),
            y: self.told(&plot.y).into_owned(),
            layers: layers.map(|layer| self.layer(layer, [x, y])).collect(),
            caption: self.told(&plot.caption).into_owned(),
        })
    }

    fn layer(self, layer: &Layer, [x, y]: [f64; 2]) -> Layer {
        let mut layer = layer.clone();
        let scale = |point: &mut [f64; 2]| *point = [point[0] * x, point[1] * y];
        let label = match &mut layer {
            Layer::Line { label, runs, .. } => {
                runs.iter_mut().flatten().for_each(scale);
                label
            }
            Layer::Points { label, points, .. } => {
                points.iter_mut().for_each(scale);
                label
            }
            Layer::Intervals {
                label, intervals, ..
            } => {
                for [at, values @ ..] in intervals {
                    *at *= x;
                    values.iter_mut().for_each(|value| *value *= y);
                }
                label
            }
            Layer::Band {
                label, low, high, ..
            } => {
                (*low, *high) = (*low * y, *high * y);
                label
            }
            Layer::Level { label, at, .. } => {
                *at *= y;
                label
            }
            Layer::Span {
                label, from, to, ..
            } => {
                (*from, *to) = (*from * x, *to * x);
                label
            }
        };
        *label = self.told(label).into_owned();
        layer
    }

    /// The unit that the desk is drawn in at present.
    pub fn current(ctx: &egui::Context) -> Self {
        ctx.data(|data| data.get_temp(egui::Id::NULL.with("speed unit")))
            .unwrap_or_default()
    }

    /// Makes it the unit that the desk is drawn in.
    pub(crate) fn use_in(self, ctx: &egui::Context) {
        ctx.data_mut(|data| data.insert_temp(egui::Id::NULL.with("speed unit"), self));
    }
}

/// A text of others with its speeds in the unit in use.
pub(crate) fn told<'a>(ui: &egui::Ui, text: &'a str) -> Cow<'a, str> {
    SpeedUnit::current(ui.ctx()).told(text)
}

fn says_speed(plot: &Plot) -> bool {
    let labels = plot.layers.iter().map(|layer| match layer {
        Layer::Line { label, .. }
        | Layer::Points { label, .. }
        | Layer::Intervals { label, .. }
        | Layer::Band { label, .. }
        | Layer::Level { label, .. }
        | Layer::Span { label, .. } => label,
    });
    let words = [&plot.title, &plot.x, &plot.y, &plot.caption];
    let mut all = words.into_iter().chain(labels);
    all.any(|words| words.contains(WRITTEN))
}

/// Whether the values along an axis are speeds, and not something per so many km/h.
fn is_axis_of_speed(axis: &str) -> bool {
    let bare = axis.trim_end().strip_suffix(WRITTEN);
    bare.is_some_and(|before| numbers_at_the_end(before).is_empty())
}

/// Where the numbers are that a unit behind the text belongs to, in the order of the text: one, a
/// range, or a list that ends with "and".
fn numbers_at_the_end(text: &str) -> Vec<[usize; 2]> {
    let mut found = Vec::new();
    let mut end = text.trim_end_matches([' ', '\u{a0}']).len();
    let mut in_list = false;
    while let Some(start) = number_before(&text[..end]) {
        found.push([start, end]);
        let before = &text[..start];
        let joined = [" and ", " or ", " to ", "–", ", "]
            .into_iter()
            .find(|joint| before.ends_with(joint));
        match joined {
            // Without an "and" behind it, a comma parts one condition from the next.
            Some(", ") if !in_list => break,
            Some(joint) => {
                in_list |= matches!(joint, " and " | " or ");
                end = start - joint.len();
            }
            None => break,
        }
    }
    found.reverse();
    found
}

/// Where the number begins that a text ends with.
fn number_before(text: &str) -> Option<usize> {
    let digits = text.trim_end_matches(|c: char| c.is_ascii_digit() || c == '.');
    let is_number = text[digits.len()..].parse::<f64>().is_ok();
    let stands_alone = !digits.ends_with(|c: char| c.is_alphanumeric());
    (is_number && stands_alone).then_some(digits.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::outcome::Ink;

    /// NIST SP 811 (2008), appendix B.8: one mile is 1.609344 km.
    #[test]
    fn a_mile_is_the_international_one() {
        assert!((SpeedUnit::Mph.from_kmh(160.9344) - 100.0).abs() < 1e-12);
        assert_eq!(SpeedUnit::KmH.from_kmh(35.0), 35.0);
        assert_eq!(SpeedUnit::Mph.words(160.9344, 1), "100.0\u{a0}mph");
        assert_eq!(SpeedUnit::KmH.words(33.26, 0), "33\u{a0}km/h");
    }

    /// Each number by hand: 35 / 1.609344 = 21.75, 10 → 6.21, 15 → 9.32, 22 → 13.67, 30 → 18.64,
    /// 5.5 → 3.42.
    #[test]
    fn every_speed_of_a_text_is_retold() {
        for (text, told) in [
            ("200 W, 90 rpm, 35 km/h", "200 W, 90 rpm, 21.7 mph"),
            ("from 35 to 10 km/h", "from 21.7 to 6.2 mph"),
            (
                "about 15, 22 and 30 km/h at 90",
                "about 9.3, 13.7 and 18.6 mph at 90",
            ),
            ("in percent per 10 km/h.", "in percent per 6.2 mph."),
            (
                "up above 35.0\u{a0}km/h; down to 5.5\u{a0}km/h",
                "up above 21.7\u{a0}mph; down to 3.4\u{a0}mph",
            ),
            ("speed, km/h", "speed, mph"),
            ("no speed 12", "no speed 12"),
        ] {
            assert_eq!(SpeedUnit::Mph.told(text), told);
            assert_eq!(SpeedUnit::KmH.told(text), text);
        }
    }

    #[test]
    fn a_plot_over_speed_is_scaled_and_one_per_speed_is_not() {
        let plot = |x: &str| Plot {
            name: "a",
            title: "At 16 km/h".into(),
            x: x.into(),
            y: "error, %".into(),
            layers: vec![Layer::Points {
                ink: Ink::UnderTest,
                label: "means".into(),
                points: vec![[16.09344, 1.5]],
            }],
            caption: String::new(),
        };
        let point = |plot: &Plot| match &plot.layers[0] {
            Layer::Points { points, .. } => points[0],
            other => panic!("{other:?}"),
        };
        let over = plot("flywheel speed, km/h");
        let told = SpeedUnit::Mph.plotted(&over);
        assert_eq!(
            (told.x.as_str(), told.title.as_str()),
            ("flywheel speed, mph", "At 9.9 mph")
        );
        let [x, y] = point(&told);
        assert!((x - 10.0).abs() < 1e-12 && y == 1.5);
        let per = plot("% per 10 km/h");
        assert_eq!(point(&SpeedUnit::Mph.plotted(&per)), [16.09344, 1.5]);
        assert_eq!(SpeedUnit::Mph.plotted(&per).x, "% per 6.2 mph");
        assert!(matches!(SpeedUnit::KmH.plotted(&over), Cow::Borrowed(_)));
    }
}
