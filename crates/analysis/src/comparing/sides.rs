//! What a comparison is told of each session, and when two instruments are the same one.
//!
//! An identity that an instrument did not give is unknown. Unknown is never taken as equal: a
//! comparison then says what is not known instead of guessing.

use crate::evidence::StepSpan;
use crate::findings::Findings;
use crate::settings::Settings;

/// One session with all that a comparison needs of it.
#[derive(Clone, Debug)]
pub struct Side<'a> {
    /// The device that was tested.
    pub device: Instrument,
    /// The instrument it was judged against.
    pub reference: Instrument,
    /// Calibrations of the device that succeeded, as this session recorded them: those set before
    /// it on the same bench, and those of the ride, in order of time.
    pub calibrations: Vec<Calibration>,
    /// The script that was ridden; `None` for a recording without one.
    pub script: Option<Script>,
    /// Bike, gears and chain in the tester's words.
    pub bike: Option<String>,
    /// Wall clock at the beginning, seconds since 1970-01-01 UTC.
    pub started_s: Option<i64>,
    /// The steps as they were ridden.
    pub steps: &'a [StepSpan],
    /// What was judged.
    pub findings: &'a Findings,
    /// What it was judged by.
    pub settings: &'a Settings,
}

/// A script by its text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Script {
    /// What it is called.
    pub name: String,
    /// SHA-256 of its text.
    pub sha256: String,
}

/// A calibration that the device carried out before or during a session.
#[derive(Clone, Debug, PartialEq)]
pub struct Calibration {
    /// When, s from the beginning of the session; negative before it.
    pub at_s: f64,
    /// Which one, in words: `spin-down`.
    pub procedure: String,
}

/// What an instrument says about itself, as far as it does.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Instrument {
    /// What it is called on the bench.
    pub name: String,
    /// Who made it.
    pub maker: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Firmware.
    pub firmware: Option<String>,
}

/// Whether two things are the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sameness {
    /// They are.
    Same,
    /// They are not.
    Different,
    /// It is not known.
    NotKnown,
}

impl Sameness {
    /// All of several: one difference makes all different, else one unknown makes all unknown.
    pub(super) fn all(several: impl IntoIterator<Item = Self>) -> Self {
        let mut all = Self::Same;
        for one in several {
            match one {
                Self::Different => return Self::Different,
                Self::NotKnown => all = Self::NotKnown,
                Self::Same => {}
            }
        }
        all
    }
}

/// A word that says something, without the spaces around it.
fn said(word: Option<&String>) -> Option<&str> {
    word.map(|word| word.trim()).filter(|word| !word.is_empty())
}

/// Compares what two say, where both say something.
pub(super) fn compare_said(a: Option<&String>, b: Option<&String>) -> Sameness {
    match (said(a), said(b)) {
        (Some(a), Some(b)) if a == b => Sameness::Same,
        (Some(_), Some(_)) => Sameness::Different,
        _ => Sameness::NotKnown,
    }
}

impl Instrument {
    /// Whether both are of one maker and model.
    pub fn is_model_of(&self, other: &Self) -> Sameness {
        let maker = compare_said(self.maker.as_ref(), other.maker.as_ref());
        let model = compare_said(self.model.as_ref(), other.model.as_ref());
        match (maker, model) {
            (Sameness::Different, _) | (_, Sameness::Different) => Sameness::Different,
            (_, Sameness::Same) => Sameness::Same,
            _ => Sameness::NotKnown,
        }
    }

    /// Whether both are one and the same unit. A serial number alone proves nothing: it must come
    /// with a maker or a model that agree.
    pub fn is_unit(&self, other: &Self) -> Sameness {
        let maker = compare_said(self.maker.as_ref(), other.maker.as_ref());
        let model = compare_said(self.model.as_ref(), other.model.as_ref());
        let serial = compare_said(self.serial.as_ref(), other.serial.as_ref());
        if [maker, model, serial].contains(&Sameness::Different) {
            Sameness::Different
        } else if serial == Sameness::Same && [maker, model].contains(&Sameness::Same) {
            Sameness::Same
        } else {
            Sameness::NotKnown
        }
    }

    /// Whether both run the same firmware.
    pub fn runs_firmware_of(&self, other: &Self) -> Sameness {
        compare_said(self.firmware.as_ref(), other.firmware.as_ref())
    }

    /// The serial number in words.
    pub(super) fn serial_words(&self) -> &str {
        said(self.serial.as_ref()).unwrap_or("not known")
    }

    /// The firmware in words.
    pub(super) fn firmware_words(&self) -> &str {
        said(self.firmware.as_ref()).unwrap_or("not known")
    }
}

impl Side<'_> {
    /// When the last judged window ended, s; the end of the recording without one.
    pub(super) fn judged_until_s(&self) -> f64 {
        let ends = self.findings.windows.iter().map(|window| window.to_s);
        ends.reduce(f64::max).unwrap_or(self.findings.duration_s)
    }

    /// When the first judged window began, s; 0 without one.
    pub(super) fn judged_from_s(&self) -> f64 {
        let begins = self.findings.windows.iter().map(|window| window.from_s);
        begins.reduce(f64::min).unwrap_or(0.0)
    }
}

/// `session 2`, `sessions 2 and 3`, `sessions 1 and 3 to 6`; indices count from 0 and rise.
pub(super) fn sessions(indices: &[usize]) -> String {
    let parts: Vec<String> = indices
        .chunk_by(|a, b| a + 1 == *b)
        .flat_map(|run| match run {
            [first, .., last] if run.len() > 2 => vec![format!("{} to {}", first + 1, last + 1)],
            few => few.iter().map(|index| (index + 1).to_string()).collect(),
        })
        .collect();
    let word = if indices.len() == 1 {
        "session"
    } else {
        "sessions"
    };
    format!("{word} {}", listed(&parts))
}

/// What each session says, those that say the same together: `2.3 in session 1 and 2.4 in sessions
/// 2 to 4`.
pub(super) fn each(said: impl Iterator<Item = String>) -> String {
    let mut groups: Vec<(String, Vec<usize>)> = Vec::new();
    for (index, words) in said.enumerate() {
        match groups.iter_mut().find(|(known, _)| *known == words) {
            Some((_, of)) => of.push(index),
            None => groups.push((words, vec![index])),
        }
    }
    let parts: Vec<String> = groups
        .iter()
        .map(|(words, of)| format!("{words} in {}", sessions(of)))
        .collect();
    listed(&parts)
}

/// `a`, `a and b`, `a, b and c`.
pub(super) fn listed<S: AsRef<str>>(words: &[S]) -> String {
    let words: Vec<&str> = words.iter().map(AsRef::as_ref).collect();
    match words.as_slice() {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [rest @ .., last] => format!("{} and {last}", rest.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn unit(maker: &str, model: &str, serial: &str) -> Instrument {
        let known = |word: &str| (!word.is_empty()).then(|| word.to_owned());
        Instrument {
            maker: known(maker),
            model: known(model),
            serial: known(serial),
            ..Instrument::default()
        }
    }

    #[test]
    fn a_unit_is_the_same_only_where_that_is_said() {
        for (a, b, expected) in [
            (("M", "A", "1"), ("M", "A", "1"), Sameness::Same),
            (("", "A", "1"), ("M", "A", "1 "), Sameness::Same),
            (("M", "A", "1"), ("M", "A", "2"), Sameness::Different),
            (("M", "A", "1"), ("M", "B", "1"), Sameness::Different),
            (("M", "A", ""), ("M", "A", "1"), Sameness::NotKnown),
            (("", "", "1"), ("", "", "1"), Sameness::NotKnown),
            (("", "", ""), ("", "", ""), Sameness::NotKnown),
            (("M", "A", " "), ("M", "A", " "), Sameness::NotKnown),
        ] {
            let found = unit(a.0, a.1, a.2).is_unit(&unit(b.0, b.1, b.2));
            assert_eq!(found, expected, "{a:?} {b:?}");
        }
        let model = |a: &str, b: &str| unit("M", a, "").is_model_of(&unit("M", b, ""));
        assert_eq!(model("A", "A"), Sameness::Same);
        assert_eq!(model("A", "B"), Sameness::Different);
        assert_eq!(model("A", ""), Sameness::NotKnown);
    }

    #[test]
    fn lists_in_words() {
        assert_eq!(sessions(&[1]), "session 2");
        assert_eq!(sessions(&[0, 2, 3]), "sessions 1, 3 and 4");
        assert_eq!(sessions(&[0, 2, 3, 4, 9]), "sessions 1, 3 to 5 and 10");
        let said = ["a", "b", "b", "a"].map(str::to_owned).into_iter();
        assert_eq!(
            each(said),
            "a in sessions 1 and 4 and b in sessions 2 and 3"
        );
        assert_eq!(listed(&["a", "b"]), "a and b");
    }
}
