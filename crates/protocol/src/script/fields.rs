//! Turning raw values into numbers, words and names, and collecting what is wrong with them.
//!
//! A field that cannot be used is reported and replaced by something harmless, so that reading can
//! go on to the next mistake; a script with any problem is refused as a whole.

use super::limits::{self, Bound};
use super::place::{Lines, Place};
use super::problem::{Problem, remedy};
use super::raw::Raw;
use super::syntax::BrakeFile;
use crate::feeds::Feeds;
use crate::load::{Brake, GearCue, SlopeLoad};
use ron::Error as RonError;
use ron::extensions::Extensions;
use serde::Deserialize;
use units::{RevPerMin, Span, Watts};

/// Reads one script: its places, its problems so far and the script's own defaults.
pub(super) struct Reader<'a> {
    pub(super) lines: Lines<'a>,
    pub(super) problems: Vec<Problem>,
    pub(super) seeds: Vec<u64>,
    pub(super) cadence: RevPerMin,
    pub(super) rollout_m: f64,
    pub(super) crr: f64,
    pub(super) cw_kg_per_m: f64,
    pub(super) ceiling_w: Option<f64>,
}

impl<'a> Reader<'a> {
    /// A reader with the usual defaults: 90 rpm, a 2.096 m rollout (a common road wheel, as the
    /// gear table of the project's practice notes assumes), Crr 0.004 and Cw 0.51 kg/m (the
    /// values used as the example in the fitness machine service's simulation parameters).
    pub(super) fn new(text: &'a str) -> Self {
        Self {
            lines: Lines::new(text),
            problems: Vec::new(),
            seeds: Vec::new(),
            cadence: RevPerMin(90.0),
            rollout_m: 2.096,
            crr: 0.004,
            cw_kg_per_m: 0.51,
            ceiling_w: None,
        }
    }

    pub(super) fn place(&self, part: &str) -> Place {
        self.lines.place(self.lines.offset_of(part))
    }

    pub(super) fn report(&mut self, part: &str, what: String) {
        self.problems.push(Problem {
            place: self.place(part),
            what,
        });
    }

    /// Reads a part of the document into a shape; reports and gives `None` if it does not fit.
    pub(super) fn parse<T: Deserialize<'a>>(&mut self, part: &'a str) -> Option<T> {
        let options =
            ron::Options::default().with_default_extension(Extensions::UNWRAP_VARIANT_NEWTYPES);
        match options.from_str(part) {
            Ok(value) => Some(value),
            Err(error) => {
                let at = match error.code {
                    // The reader stands behind the name it does not know; the mistake is its start.
                    RonError::NoSuchEnumVariant { .. }
                    | RonError::NoSuchStructField { .. }
                    | RonError::DuplicateStructField { .. } => &error.span.start,
                    _ => &error.span.end,
                };
                let offset = self.lines.offset_inside(part, at.line, at.col);
                let place = self.lines.place(offset);
                self.problems.push(Problem {
                    place,
                    what: explain(&error.code),
                });
                None
            }
        }
    }
}

/// What the document reader found, in our words and with a remedy where one is known.
fn explain(code: &RonError) -> String {
    match code {
        RonError::NoSuchEnumVariant {
            expected, found, ..
        } => {
            format!("`{found}` is not known here; {}", remedy(found, expected))
        }
        RonError::NoSuchStructField {
            expected,
            found,
            outer,
        } => {
            let owner = outer.as_deref().unwrap_or("this step");
            format!(
                "`{owner}` has no field `{found}`; {}",
                remedy(found, expected)
            )
        }
        RonError::DuplicateStructField { field, .. } => {
            format!("`{field}` is given twice; remove one")
        }
        RonError::Eof => "the text ends too early; a closing bracket is missing".to_owned(),
        RonError::ExpectedComma => {
            "a comma, a colon or a closing bracket is missing before this place".to_owned()
        }
        RonError::ExpectedArray => "a list in `[` `]` is expected here".to_owned(),
        RonError::ExpectedArrayEnd => {
            "the list does not end here; a comma or a closing `]` is missing".to_owned()
        }
        RonError::ExpectedStructLikeEnd => {
            "the brackets do not close here; a comma or a closing `)` is missing".to_owned()
        }
        RonError::ExpectedMapColon => "a colon is missing between field and value".to_owned(),
        RonError::ExpectedStringEnd => "the text's closing quotation mark is missing".to_owned(),
        RonError::TrailingCharacters => {
            "there is more text after the end of the script; remove it".to_owned()
        }
        RonError::ExpectedDifferentStructName { expected, found } => {
            format!("a script begins with `{expected}(`, not with `{found}`")
        }
        RonError::ExpectedNamedStructLike(name) => format!("a script begins with `{name}(`"),
        RonError::ExceededRecursionLimit => {
            "brackets are nested too deeply; the limit is 128".to_owned()
        }
        RonError::ExpectedRawValue => "there is no value that can be read here".to_owned(),
        other => {
            let words = other.to_string();
            let mut letters = words.chars();
            letters.next().map_or_else(String::new, |first| {
                format!("{}{}", first.to_lowercase(), letters.as_str())
            })
        }
    }
}

/// The fields of one step, or of the script's head.
pub(super) struct Fields<'r, 'a> {
    pub(super) reader: &'r mut Reader<'a>,
    /// The step's name in messages.
    pub(super) step: &'static str,
    /// The step's text.
    pub(super) at: &'a str,
}

impl<'a> Fields<'_, 'a> {
    pub(super) fn place(&self) -> Place {
        self.reader.place(self.at)
    }

    /// Reports that a field that must be there is not.
    fn missing(&mut self, field: &str, example: &str) {
        let what = format!(
            "`{}` needs `{field}`; add for example `{field}: {example}`",
            self.step
        );
        self.reader.report(self.at, what);
    }

    /// A number that must be there.
    pub(super) fn need(&mut self, raw: Raw<'a>, field: &str, bound: &Bound) -> f64 {
        match raw.0 {
            Some(_) => self.maybe(raw, field, bound).unwrap_or(bound.min),
            None => {
                self.missing(field, &bound.example.to_string());
                bound.min
            }
        }
    }

    /// A number, or what is usual.
    pub(super) fn or(&mut self, raw: Raw<'a>, field: &str, bound: &Bound, usual: f64) -> f64 {
        self.maybe(raw, field, bound).unwrap_or(usual)
    }

    /// A number if it is there.
    pub(super) fn maybe(&mut self, raw: Raw<'a>, field: &str, bound: &Bound) -> Option<f64> {
        let part = raw.0?;
        // The plain form is by far the most frequent; RON's other forms take the longer way.
        let plain = part.parse::<f64>().ok();
        let Some(value) = plain.or_else(|| ron::from_str(part).ok()) else {
            let what = format!("`{field}` is not a number; write {}", range_words(bound));
            self.reader.report(part, what);
            return None;
        };
        if value >= bound.min && value <= bound.max {
            return Some(value);
        }
        let what = format!(
            "`{field}` of `{}` is {value}{}; {} may be {}",
            self.step,
            unit_words(bound),
            bound.what,
            range_words(bound)
        );
        self.reader.report(part, what);
        None
    }

    /// A power: within the bound and within the script's own ceiling.
    pub(super) fn power(&mut self, raw: Raw<'a>, field: &str) -> Watts {
        let value = self.need(raw, field, &limits::POWER);
        self.under_ceiling(raw, field, value);
        Watts(value)
    }

    /// Reports a power above the ceiling the script promises.
    pub(super) fn under_ceiling(&mut self, raw: Raw<'a>, field: &str, value: f64) {
        if let (Some(ceiling), Some(part)) = (self.reader.ceiling_w, raw.0)
            && value > ceiling
        {
            let what = format!(
                "`{field}` of `{}` is {value} W; the script's `ceiling_w` is {ceiling} W: lower \
                 the step or raise the ceiling",
                self.step
            );
            self.reader.report(part, what);
        }
    }

    /// A count that must be there.
    pub(super) fn count(&mut self, raw: Raw<'a>, field: &str, bound: &Bound) -> usize {
        let value = self.need(raw, field, bound);
        if value.fract() != 0.0 {
            let what = format!("`{field}` is {value}; it must be a whole number");
            self.reader.report(raw.0.unwrap_or(self.at), what);
        }
        value as usize
    }

    /// A list of numbers that must be there and hold at least `least` of them.
    pub(super) fn list(
        &mut self,
        raw: Raw<'a>,
        field: &str,
        bound: &Bound,
        least: usize,
    ) -> Vec<f64> {
        let Some(part) = raw.0 else {
            self.missing(field, "[…]");
            return Vec::new();
        };
        let items: Vec<Raw<'a>> = self.reader.parse(part).unwrap_or_default();
        let count = items.len();
        if count < least
            && !self
                .reader
                .problems
                .iter()
                .any(|p| p.place >= self.reader.place(part))
        {
            let what = format!("`{field}` holds {count} values; at least {least} are needed");
            self.reader.report(part, what);
        }
        items
            .into_iter()
            .filter_map(|item| self.maybe(item, field, bound))
            .collect()
    }

    /// Words, if they are there.
    pub(super) fn text(&mut self, raw: Raw<'a>, field: &str, longest: usize) -> Option<String> {
        let part = raw.0?;
        let text: String = self.reader.parse(part)?;
        let length = text.chars().count();
        if text.trim().is_empty() {
            self.reader.report(
                part,
                format!("`{field}` is empty; say something or leave it out"),
            );
        } else if length > longest {
            let what = format!("`{field}` has {length} characters; the limit is {longest}");
            self.reader.report(part, what);
        }
        Some(text)
    }

    /// Words that must be there.
    pub(super) fn need_text(&mut self, raw: Raw<'a>, field: &str, longest: usize) -> String {
        if raw.0.is_none() {
            self.missing(field, "\"…\"");
        }
        self.text(raw, field, longest).unwrap_or_default()
    }

    /// The step's own title; empty if it has none.
    pub(super) fn title(&mut self, raw: Raw<'a>) -> String {
        self.text(raw, "title", limits::LONGEST_TITLE)
            .unwrap_or_default()
    }

    /// One name out of a list, if it is there.
    pub(super) fn choice<T: Copy>(
        &mut self,
        raw: Raw<'a>,
        field: &str,
        known: &[(&'static str, T)],
    ) -> Option<T> {
        let part = raw.0?;
        let end = part
            .find(|c: char| !c.is_alphanumeric() && c != '_')
            .unwrap_or(part.len());
        let word = &part[..end];
        let found = known
            .iter()
            .find(|(name, _)| *name == word)
            .map(|(_, value)| *value);
        if found.is_none() {
            let names: Vec<&str> = known.iter().map(|(name, _)| *name).collect();
            let what = format!("`{field}` cannot be `{word}`; {}", remedy(word, &names));
            self.reader.report(part, what);
        }
        found
    }

    /// What the step feeds.
    pub(super) fn feeds(&mut self, raw: Raw<'a>, usual: Feeds) -> Feeds {
        let known = Feeds::ALL.map(|feeds| (feeds.name(), feeds));
        self.choice(raw, "feeds", &known).unwrap_or(usual)
    }

    /// The cadence asked for: the step's own or the script's.
    pub(super) fn cadence(&mut self, raw: Raw<'a>) -> RevPerMin {
        let usual = self.reader.cadence.get();
        RevPerMin(self.or(raw, "cadence_rpm", &limits::CADENCE, usual))
    }

    /// A gear such as `"39x17"`, if it is there.
    pub(super) fn gear(&mut self, raw: Raw<'a>, field: &str) -> Option<GearCue> {
        let part = raw.0?;
        let text: String = self.reader.parse(part)?;
        let teeth = text.split_once(['x', '×']).and_then(|(front, rear)| {
            Some((
                front.trim().parse::<u32>().ok()?,
                rear.trim().parse::<u32>().ok()?,
            ))
        });
        match teeth {
            Some((front @ 20..=70, rear @ 8..=60)) => {
                let development_m = f64::from(front) / f64::from(rear) * self.reader.rollout_m;
                Some(GearCue {
                    teeth: Some((front, rear)),
                    development_m,
                })
            }
            _ => {
                let what = format!(
                    "`{field}` {text:?} is not a gear; write front and rear teeth such as \
                     \"39x17\", 20 to 70 and 8 to 60"
                );
                self.reader.report(part, what);
                None
            }
        }
    }

    /// How the brake stands where the rider decides the power.
    pub(super) fn brake(&mut self, raw: Raw<'a>) -> Option<Brake> {
        let part = raw.0?;
        match self.reader.parse::<BrakeFile<'a>>(part)? {
            BrakeFile::Free => Some(Brake::Free),
            BrakeFile::Resistance(level) => self
                .maybe(level, "brake", &limits::RESISTANCE)
                .map(Brake::Resistance),
            BrakeFile::Slope(grade) => {
                let grade_pct = self.maybe(grade, "brake", &limits::GRADE)?;
                Some(Brake::Slope(SlopeLoad {
                    grade_pct,
                    ..self.still_air()
                }))
            }
            BrakeFile::Power(_) => {
                let what = format!(
                    "`{}` is never ridden in power mode: the brake lets go when the cadence \
                     rises; write `Resistance(40)` or `Slope(3)`",
                    self.step
                );
                self.reader.report(part, what);
                None
            }
        }
    }

    /// A level road without wind, with the script's coefficients.
    pub(super) fn still_air(&self) -> SlopeLoad {
        SlopeLoad {
            grade_pct: 0.0,
            wind_m_per_s: 0.0,
            crr: self.reader.crr,
            cw_kg_per_m: self.reader.cw_kg_per_m,
        }
    }

    /// Wind and coefficients, the step's own or the script's.
    pub(super) fn slope(&mut self, wind: Raw<'a>, crr: Raw<'a>, cw: Raw<'a>) -> SlopeLoad {
        let usual = self.still_air();
        SlopeLoad {
            grade_pct: 0.0,
            wind_m_per_s: self.or(wind, "wind_m_per_s", &limits::WIND, 0.0),
            crr: self.or(crr, "crr", &limits::CRR, usual.crr),
            cw_kg_per_m: self.or(cw, "cw_kg_per_m", &limits::CW, usual.cw_kg_per_m),
        }
    }

    /// The length of a step and its settling time, which must leave something to judge. What is
    /// judged settles for the usual time unless the step says otherwise.
    pub(super) fn length(
        &mut self,
        seconds: Raw<'a>,
        settle: Raw<'a>,
        feeds: Feeds,
    ) -> (Span, Span) {
        let before = self.reader.problems.len();
        let length = self.need(seconds, "seconds", &limits::SECONDS);
        let found_wrong = self.reader.problems.len() > before;
        let compared = if found_wrong { f64::INFINITY } else { length };
        let settle = self.settle(seconds, settle, compared, feeds);
        (Span::from_secs_f64(length), settle)
    }

    /// The settling time of a step of `length` seconds.
    pub(super) fn settle(
        &mut self,
        seconds: Raw<'a>,
        settle: Raw<'a>,
        length: f64,
        feeds: Feeds,
    ) -> Span {
        let judged = feeds.wants_steady() || feeds == Feeds::Drift;
        let usual = if judged {
            limits::USUAL_SETTLE_SECONDS
        } else {
            0.0
        };
        let value = self.or(settle, "settle_seconds", &limits::SETTLE, usual);
        if value >= length && (settle.0.is_some() || usual > 0.0) {
            let part = settle.0.or(seconds.0).unwrap_or(self.at);
            let what = format!(
                "`{}` lasts {length} s, of which {value} s settle: nothing is left to judge; \
                 lengthen `seconds` or shorten `settle_seconds`",
                self.step
            );
            self.reader.report(part, what);
        }
        Span::from_secs_f64(value)
    }
}

fn unit_words(bound: &Bound) -> String {
    if bound.unit.is_empty() {
        String::new()
    } else {
        format!(" {}", bound.unit)
    }
}

fn range_words(bound: &Bound) -> String {
    format!("{} to {}{}", bound.min, bound.max, unit_words(bound))
}
