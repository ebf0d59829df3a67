//! What kind of comparison several sessions make: repeats, before and after a change, several
//! units, or different devices. Told from what the sessions say; the person may say otherwise.

use super::calibrated;
use super::sides::{Sameness, Side, each, sessions};

/// A kind of comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The same unit, firmware and calibration throughout.
    Repeats,
    /// The same unit; its firmware or its calibration changed.
    BeforeAfter,
    /// Several units of one model.
    Units,
    /// Devices of different makers or models.
    Devices,
    /// The sessions do not say enough.
    NotKnown,
}

impl Kind {
    /// The word of the JSON document and of the command line.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Repeats => "repeats",
            Self::BeforeAfter => "before-after",
            Self::Units => "units",
            Self::Devices => "devices",
            Self::NotKnown => "not-known",
        }
    }

    /// The kind in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Repeats => "repeats of one unit",
            Self::BeforeAfter => "one unit before and after a change",
            Self::Units => "several units of one model",
            Self::Devices => "different devices",
            Self::NotKnown => "sessions that do not say enough to tell what they are to each other",
        }
    }
}

/// The kind of a comparison and what it rests on.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Recognised {
    /// The kind in force: what was asked for, else what was told.
    pub kind: Kind,
    /// The kind that the sessions tell.
    pub told: Kind,
    /// What it rests on, in sentences.
    pub sentences: Vec<String>,
    /// For each session the number of its group, from 0: its state before or after, its unit, its
    /// device. All in one group for repeats.
    pub groups: Vec<usize>,
    /// What each group is, in words.
    pub group_names: Vec<String>,
}

/// Tells the kind; `asked` overrules.
pub(super) fn recognise(sides: &[Side<'_>], asked: Option<Kind>) -> Recognised {
    let (told, mut sentences) = tell(sides);
    let kind = asked.unwrap_or(told);
    if let Some(asked) = asked.filter(|asked| *asked != told) {
        sentences.push(format!(
            "Taken as {} because that was asked for; told from the sessions they are {}.",
            asked.words(),
            told.words()
        ));
    }
    let (groups, group_names) = groups(sides, kind);
    sentences.extend(calibrated::midway(sides));
    Recognised {
        kind,
        told,
        sentences,
        groups,
        group_names,
    }
}

fn tell(sides: &[Side<'_>]) -> (Kind, Vec<String>) {
    let first = &sides[0].device;
    let later = |of: &dyn Fn(&Side<'_>) -> Sameness, wanted: Sameness| -> Vec<usize> {
        let others = sides.iter().enumerate().skip(1);
        others
            .filter(|(_, side)| of(side) == wanted)
            .map(|(index, _)| index)
            .collect()
    };
    let model = |side: &Side<'_>| first.is_model_of(&side.device);
    let other_models = later(&model, Sameness::Different);
    if !other_models.is_empty() {
        let models = each(sides.iter().map(model_words));
        return (
            Kind::Devices,
            vec![format!("Different devices were tested: {models}.")],
        );
    }
    let silent: Vec<usize> = sides
        .iter()
        .enumerate()
        .filter(|(_, side)| side.device.is_unit(&side.device) == Sameness::NotKnown)
        .map(|(index, _)| index)
        .collect();
    if !silent.is_empty() {
        return (
            Kind::NotKnown,
            vec![format!(
                "Whether they tested one unit is not known: the device of {} told no serial \
                 number with its maker or model. If you know it, \
             say it: in the row of words in the window, with `--as` on the command line.",
                sessions(&silent)
            )],
        );
    }
    let unit = |side: &Side<'_>| first.is_unit(&side.device);
    let other_units = later(&unit, Sameness::Different);
    if !other_units.is_empty() {
        let serials = each(
            sides
                .iter()
                .map(|side| side.device.serial_words().to_owned()),
        );
        return (
            Kind::Units,
            vec![format!(
                "Several units of {}: serial {serials}.",
                model_words(&sides[0])
            )],
        );
    }
    let doubtful = later(&unit, Sameness::NotKnown);
    if !doubtful.is_empty() {
        return (
            Kind::NotKnown,
            vec![format!(
                "Whether they tested one unit is not known: {} and session 1 tell the same serial \
                 number, but not the same of maker and model. If you know it, \
             say it: in the row of words in the window, with `--as` on the command line.",
                sessions(&doubtful)
            )],
        );
    }
    one_unit(sides)
}

/// Repeats, or before and after, of one unit.
fn one_unit(sides: &[Side<'_>]) -> (Kind, Vec<String>) {
    let first = &sides[0].device;
    let unit = format!(
        "One unit, {} serial {}",
        model_words(&sides[0]),
        first.serial_words()
    );
    let firmware = Sameness::all(sides[1..].iter().map(|s| first.runs_firmware_of(&s.device)));
    let states = calibrated::states(sides);
    let is_calibrated = states.iter().any(|state| *state != states[0]);
    let mut changed = Vec::new();
    if firmware == Sameness::Different {
        let firmwares = each(
            sides
                .iter()
                .map(|side| side.device.firmware_words().to_owned()),
        );
        changed.push(format!("its firmware changed ({firmwares})"));
    }
    if is_calibrated {
        changed.push("it was calibrated between them".to_owned());
    }
    let mut sentences = Vec::new();
    let kind = if !changed.is_empty() {
        sentences.push(format!("{unit}, before and after: {}.", changed.join("; ")));
        Kind::BeforeAfter
    } else if firmware == Sameness::NotKnown {
        sentences.push(format!(
            "{unit}, but its firmware is not known in every session: whether they are repeats or \
             something changed cannot be told. If you know it, \
             say it: in the row of words in the window, with `--as` on the command line."
        ));
        Kind::NotKnown
    } else {
        sentences.push(format!(
            "Repeats: {}, firmware {} throughout.",
            lower_first(&unit),
            first.firmware_words()
        ));
        Kind::Repeats
    };
    sentences.push(calibrated::words(sides));
    (kind, sentences)
}

/// Which sessions belong together under a kind.
fn groups(sides: &[Side<'_>], kind: Kind) -> (Vec<usize>, Vec<String>) {
    let states = calibrated::states(sides);
    let alike = |a: usize, b: usize| {
        let (one, other) = (&sides[a].device, &sides[b].device);
        match kind {
            Kind::Repeats => true,
            Kind::BeforeAfter => {
                one.runs_firmware_of(other) == Sameness::Same && states[a] == states[b]
            }
            Kind::Units => one.is_unit(other) == Sameness::Same,
            Kind::Devices => one.is_model_of(other) == Sameness::Same,
            Kind::NotKnown => false,
        }
    };
    let mut firsts: Vec<usize> = Vec::new();
    let groups = (0..sides.len())
        .map(|index| {
            firsts
                .iter()
                .position(|first| alike(*first, index))
                .unwrap_or_else(|| {
                    firsts.push(index);
                    firsts.len() - 1
                })
        })
        .collect();
    let name = |index: &usize| {
        let side = &sides[*index];
        match kind {
            Kind::Repeats => "all sessions".to_owned(),
            Kind::BeforeAfter => format!("firmware {}", side.device.firmware_words()),
            Kind::Units => format!("serial {}", side.device.serial_words()),
            Kind::Devices => model_words(side),
            Kind::NotKnown => sessions(&[*index]),
        }
    };
    (groups, firsts.iter().map(name).collect())
}

fn model_words(side: &Side<'_>) -> String {
    match &side.device.model {
        Some(model) if !model.trim().is_empty() => model.trim().to_owned(),
        _ => side.device.name.clone(),
    }
}

fn lower_first(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_lowercase().chain(letters).collect()
    })
}

#[cfg(test)]
mod tests {
    use super::super::samples::{Sample, sides};
    use super::*;

    fn told(samples: &[Sample]) -> Recognised {
        recognise(&sides(samples), None)
    }

    #[test]
    fn the_kind_is_told_from_what_the_devices_say() {
        let unit = Sample::default();
        let updated = Sample {
            firmware: Some("2.0"),
            ..unit.clone()
        };
        let sister = Sample {
            serial: Some("B2"),
            ..unit.clone()
        };
        let stranger = Sample {
            model: "Other",
            ..unit.clone()
        };
        let silent = Sample {
            serial: None,
            ..unit.clone()
        };
        let mute = Sample {
            firmware: None,
            ..unit.clone()
        };
        for (samples, kind, groups) in [
            (vec![unit.clone(), unit.clone()], Kind::Repeats, vec![0, 0]),
            (
                vec![unit.clone(), updated, unit.clone()],
                Kind::BeforeAfter,
                vec![0, 1, 0],
            ),
            (
                vec![unit.clone(), sister.clone(), sister],
                Kind::Units,
                vec![0, 1, 1],
            ),
            (vec![unit.clone(), stranger], Kind::Devices, vec![0, 1]),
            (vec![unit.clone(), silent], Kind::NotKnown, vec![0, 1]),
            (vec![unit.clone(), mute], Kind::NotKnown, vec![0, 1]),
        ] {
            let found = told(&samples);
            assert_eq!(found.kind, kind, "{:?}", found.sentences);
            assert_eq!(found.groups, groups, "{:?}", found.sentences);
            assert!(!found.sentences.is_empty());
        }
    }

    #[test]
    fn a_calibration_between_two_sessions_makes_them_before_and_after() {
        let before = Sample::default();
        let after = Sample {
            calibrated_s: Some(5.0),
            ..Sample::default()
        };
        let found = told(&[before, after.clone()]);
        assert_eq!(found.kind, Kind::BeforeAfter);
        assert_eq!(found.groups, [0, 1]);
        assert!(found.sentences[0].contains("calibrated between them"));
        // Each session beginning with one is what a script asks for.
        let routine = told(&[after.clone(), after.clone()]);
        assert_eq!(routine.kind, Kind::Repeats);
        assert!(routine.sentences[1].contains("at the beginning of each"));
        // One that lies before both stands in the record of both, and is one.
        let kept = |calibrated_s| Sample {
            calibrated_s: Some(calibrated_s),
            ..Sample::default()
        };
        let found = told(&[kept(-100.0), kept(-100.0 - 86_400.0)]);
        assert_eq!(found.kind, Kind::Repeats, "{:?}", found.sentences);
        let words = found.sentences.join(" ");
        assert!(
            words.contains("spin-down 100 s before session 1."),
            "{words}"
        );
        // In the middle of the judged windows it is neither.
        let midway = Sample {
            calibrated_s: Some(60.0),
            ..Sample::default()
        };
        let found = told(&[after, midway]);
        assert!(found.sentences.iter().any(|s| s.contains("both states")));
    }

    #[test]
    fn the_person_overrules_and_that_is_said() {
        let silent = Sample {
            serial: None,
            ..Sample::default()
        };
        let found = recognise(&sides(&[silent.clone(), silent]), Some(Kind::Repeats));
        assert_eq!((found.kind, found.told), (Kind::Repeats, Kind::NotKnown));
        assert_eq!(found.groups, [0, 0]);
        assert!(found.sentences.iter().any(|s| s.contains("asked for")));
    }
}
