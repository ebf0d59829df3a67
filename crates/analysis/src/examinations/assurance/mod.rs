//! Assurance of the reference: its zero, its sides, and its independence of the device.

mod circular;
mod concern;
#[cfg(test)]
mod tests;
mod zero;

use super::bins::Paired;
use super::given::Source;
use super::integral::secs;
use super::prepared::Prepared;
use super::words;
use crate::evidence::{Place, Role};
use crate::outcome::{Ink, Outcome, Tested};
use circular::{copies, steered};
use concern::concern;
pub use concern::{Concern, ConcernKind};
pub use zero::ZeroChange;
use zero::{automatic_zero, zero_change};

/// Name of the examination.
pub const NAME: &str = "assurance of the reference";

/// What is known about the reference itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Assurance {
    /// Zero before and after, per stream that has both.
    pub zeros: Vec<ZeroChange>,
    /// Everything that blocks or weakens a verdict.
    pub concerns: Vec<Concern>,
}

/// Largest change of zero that needs no word, N·m.
const ZERO_GATE_NM: f64 = 0.3;

/// Examines the reference itself: its zero, its sides, and its independence of the device.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) where there is no reference.
pub fn assurance(given: &Prepared<'_>) -> Outcome<Assurance> {
    let reference = given.reference(NAME)?;
    let references: Vec<Source<'_>> = [Role::PrimaryReference, Role::SecondReference]
        .into_iter()
        .flat_map(|role| given.sources(role).collect::<Vec<_>>())
        .collect();
    let mut concerns = Vec::new();
    let mut zeros = Vec::new();
    for source in &references {
        match zero_change(given, source) {
            Some(change) => {
                if change.change_nm.abs() > ZERO_GATE_NM {
                    concerns.push(concern(
                        ConcernKind::ZeroMoved,
                        format!(
                            "the zero of {} moved by {} N·m ({} W)",
                            change.source,
                            words::signed(change.change_nm, 2),
                            words::signed(change.change_w, 1)
                        ),
                    ));
                }
                zeros.push(change);
            }
            None => concerns.push(concern(
                ConcernKind::ZeroNotChecked,
                format!(
                    "the zero of {} was not read before and after the ride",
                    source.stream.name
                ),
            )),
        }
        if source.stream.place == Place::OneSide {
            concerns.push(Concern {
                kind: ConcernKind::OneSided,
                blocks: source.stream.role == Role::PrimaryReference,
                words: format!(
                    "{} measures one side and doubles it; the rider's asymmetry counts twice and \
                     cannot be told from an error of the device",
                    source.stream.name
                ),
            });
        }
        concerns.extend(automatic_zero(given, source));
    }
    if let Ok(under_test) = given.under_test(NAME) {
        if let Ok(paired) = Paired::new(given, NAME) {
            concerns.extend(copies(&paired, &under_test, &reference));
        }
        concerns.extend(steered(given));
    }
    let blocking = concerns.iter().filter(|concern| concern.blocks).count();
    let sentence = if concerns.is_empty() {
        "Nothing speaks against the reference.".to_owned()
    } else {
        let list: Vec<&str> = concerns
            .iter()
            .map(|concern| concern.words.as_str())
            .collect();
        let start = if blocking > 0 {
            "No verdict may rest on this reference: "
        } else {
            ""
        };
        let mut sentence = format!("{start}{}.", list.join("; "));
        if start.is_empty()
            && let Some(first) = sentence.get(..1).map(str::to_uppercase)
        {
            sentence.replace_range(..1, &first);
        }
        sentence
    };
    let readings: Vec<[f64; 2]> = reference
        .stream
        .zero_offsets
        .iter()
        .map(|zero| [secs(zero.at) / 60.0, zero.torque_nm])
        .collect();
    let plots = if readings.is_empty() {
        Vec::new()
    } else {
        vec![words::plot(
            "reference-zero",
            "Zero of the reference",
            ["time, minutes", "zero, N·m"],
            vec![words::points(Ink::Reference, "readings", readings)],
            format!("gate ±{ZERO_GATE_NM} N·m between the first and the last"),
        )]
    };
    Ok(Tested {
        result: Assurance { zeros, concerns },
        sentence,
        plots,
    })
}
