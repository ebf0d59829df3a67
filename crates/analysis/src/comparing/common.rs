//! What of two sessions' uncertainty is provably the same thing: the slope of one and the same
//! reference, the loss of one and the same drivetrain. What cannot be proved is not taken as common,
//! and the reason is kept in words.

use super::sides::{Instrument, Sameness, Side, compare_said};
use crate::budget;

/// A term of the uncertainty that two sessions have in common.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Common {
    /// Name of the term, as in the budget.
    pub term: &'static str,
    /// Why it is the same thing in both, and what has to be assumed.
    pub because: String,
}

/// What two sessions have in common, and what not.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Shared {
    /// Terms that are common.
    pub(super) common: Vec<Common>,
    /// Why others that could be are not, in words.
    pub(super) own: Vec<String>,
}

/// What a later session has in common with the first.
pub(super) fn shared_with(first: &Side<'_>, other: &Side<'_>) -> Shared {
    let mut shared = Shared::default();
    match reference(first, other) {
        Ok(common) => shared.common.push(common),
        Err(why) => shared.own.push(why),
    }
    match drivetrain(first, other) {
        Ok(common) => shared.common.push(common),
        Err(why) => shared.own.push(why),
    }
    shared
}

/// The slope of the reference is common if it is provably the same instrument, known in the same
/// way, and did not change its firmware.
fn reference(first: &Side<'_>, other: &Side<'_>) -> Result<Common, String> {
    let (a, b) = (&first.reference, &other.reference);
    let own = |why: &str| Err(format!("the slope of the reference: {why}"));
    match a.is_unit(b) {
        Sameness::Different => return own("they were judged by different references"),
        Sameness::NotKnown => {
            return own(
                "whether both were judged by the same reference is not known, for want of a \
                 serial number with maker or model",
            );
        }
        Sameness::Same => {}
    }
    if a.runs_firmware_of(b) == Sameness::Different {
        return own("the firmware of the reference changed");
    }
    if first.settings.reference.slope != other.settings.reference.slope {
        return own("it is known in another way in each (another certificate or figure)");
    }
    Ok(Common {
        term: budget::SLOPE,
        because: format!(
            "both were judged by {}; assumed: it held its slope{}",
            named(a),
            in_between(first, other)
        ),
    })
}

/// The loss between crank and hub is common if both name the same bike and assume the same loss.
fn drivetrain(first: &Side<'_>, other: &Side<'_>) -> Result<Common, String> {
    let own = |why: &str| Err(format!("the loss of the drivetrain: {why}"));
    match compare_said(first.bike.as_ref(), other.bike.as_ref()) {
        Sameness::Different => return own("they were ridden on different bikes"),
        Sameness::NotKnown => return own("the bike is not named in both"),
        Sameness::Same => {}
    }
    if first.settings.drivetrain != other.settings.drivetrain {
        return own("another one is assumed in each");
    }
    Ok(Common {
        term: budget::DRIVETRAIN,
        because: format!(
            "both were ridden on “{}”; assumed: its drivetrain lost the same share in both",
            first.bike.as_deref().unwrap_or_default().trim()
        ),
    })
}

fn named(instrument: &Instrument) -> String {
    format!("{} serial {}", instrument.name, instrument.serial_words())
}

/// ` over the 41 days between them`, if both know when they were ridden.
fn in_between(first: &Side<'_>, other: &Side<'_>) -> String {
    let Some((a, b)) = first.started_s.zip(other.started_s) else {
        return String::new();
    };
    let days = (b - a).unsigned_abs() as f64 / 86_400.0;
    match days {
        days if days < 1.0 => " (they were ridden within one day)".to_owned(),
        days => format!(" over the {days:.0} days between them"),
    }
}

#[cfg(test)]
mod tests {
    use super::super::samples::{Sample, sides};
    use super::*;

    #[test]
    fn only_what_is_provably_the_same_is_common() {
        let terms = |other: Sample| -> Vec<&'static str> {
            let both = sides(&[Sample::default(), other]);
            let shared = shared_with(&both[0], &both[1]);
            assert_eq!(shared.common.len() + shared.own.len(), 2);
            shared.common.iter().map(|one| one.term).collect()
        };
        let same = Sample::default();
        assert_eq!(terms(same.clone()), [budget::SLOPE, budget::DRIVETRAIN]);
        let other_meter = Sample {
            reference_serial: Some("R9"),
            ..same.clone()
        };
        assert_eq!(terms(other_meter), [budget::DRIVETRAIN]);
        let unknown_meter = Sample {
            reference_serial: None,
            bike: None,
            ..same.clone()
        };
        assert!(terms(unknown_meter).is_empty());
        let certified = Sample {
            certified: true,
            ..same
        };
        assert_eq!(terms(certified), [budget::DRIVETRAIN]);
    }
}
