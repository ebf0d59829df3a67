//! A bench of real instruments as a RON file: which device has which role.
//!
//! ```ron
//! Bench(
//!     name: "Workshop, left stand",
//!     rider_ceiling_w: 300,
//!     instruments: [
//!         (device: "hci0/dev_C0_FF_EE_00_00_01", name: "Trainer", role: UnderTest, place: Hub),
//!         (device: "hci0/dev_C0_FF_EE_00_00_02", name: "Crank meter", role: Reference, place: Crank),
//!     ],
//! )
//! ```
//!
//! `prony devices --bench FILE` writes one from what is in range, with roles to be put right by hand.
//! Device names belong to one machine.

use analysis::before::CalibrationRecord;
use analysis::evidence::Place;
use anyhow::{Context, Result, bail};
use bench::SourcePlan;
use bench::model::InstrumentRole;
use serde::{Deserialize, Serialize};
use std::path::Path;
use units::SourceId;

/// A bench of real instruments.
#[derive(Clone, Debug, PartialEq)]
pub struct BenchFile {
    /// Name for people.
    pub name: String,
    /// No target power above this, W, if it says so.
    pub rider_ceiling_w: Option<f64>,
    /// The instruments: system name of the device, and the role.
    pub instruments: Vec<(String, SourcePlan)>,
}

#[derive(Deserialize, Serialize)]
#[serde(rename = "Bench", deny_unknown_fields)]
struct File {
    name: String,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    rider_ceiling_w: Option<f64>,
    instruments: Vec<Instrument>,
}

#[derive(Deserialize, Serialize)]
#[serde(deny_unknown_fields)]
struct Instrument {
    device: String,
    name: String,
    role: Role,
    #[serde(default)]
    place: Where,
}

#[derive(Clone, Copy, Deserialize, Serialize, PartialEq)]
enum Role {
    UnderTest,
    Reference,
    SecondReference,
    Witness,
}

#[derive(Clone, Copy, Default, Deserialize, Serialize)]
enum Where {
    Pedals,
    Crank,
    OneSide,
    Hub,
    #[default]
    Unknown,
}

/// Reads a bench file.
///
/// # Errors
/// With file, line and column where it is not a bench; in words where roles or names clash.
pub fn read(path: &Path) -> Result<BenchFile> {
    let text = std::fs::read_to_string(path)
        .with_context(|| format!("cannot read the bench {}", path.display()))?;
    parse(&text, path)
}

/// Reads the text of a bench file; `path` stands for it in messages.
///
/// # Errors
/// As [`read`].
pub fn parse(text: &str, path: &Path) -> Result<BenchFile> {
    let options =
        ron::Options::default().with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME);
    let file: File = options.from_str(text).map_err(|error| {
        anyhow::anyhow!("{}:{}: {}", path.display(), error.span.start, error.code)
    })?;
    check(file).with_context(|| path.display().to_string())
}

/// A bench as the text that [`read`] reads.
pub fn to_ron(bench: &BenchFile) -> String {
    let file = File {
        name: bench.name.clone(),
        rider_ceiling_w: bench.rider_ceiling_w,
        instruments: bench
            .instruments
            .iter()
            .map(|(device, plan)| Instrument {
                device: device.clone(),
                name: plan.name.clone(),
                role: match plan.role {
                    InstrumentRole::UnderTest => Role::UnderTest,
                    InstrumentRole::PrimaryReference => Role::Reference,
                    InstrumentRole::SecondReference => Role::SecondReference,
                    InstrumentRole::Witness => Role::Witness,
                },
                place: match plan.place {
                    Place::Pedals => Where::Pedals,
                    Place::Crank => Where::Crank,
                    Place::OneSide => Where::OneSide,
                    Place::Hub => Where::Hub,
                    _ => Where::Unknown,
                },
            })
            .collect(),
    };
    let look = ron::ser::PrettyConfig::default().struct_names(true);
    ron::ser::to_string_pretty(&file, look).unwrap_or_default()
}

fn check(file: File) -> Result<BenchFile> {
    let count = |role| {
        file.instruments
            .iter()
            .filter(|one| one.role == role)
            .count()
    };
    if count(Role::UnderTest) != 1 {
        bail!(
            "a bench has exactly one instrument with `role: UnderTest`, this one has {}",
            count(Role::UnderTest)
        );
    }
    if count(Role::Reference) != 1 {
        bail!(
            "a bench has exactly one instrument with `role: Reference`, this one has {}",
            count(Role::Reference)
        );
    }
    for (index, one) in file.instruments.iter().enumerate() {
        let earlier = &file.instruments[..index];
        if earlier.iter().any(|other| other.name == one.name) {
            bail!(
                "two instruments are called {:?}; give each a name of its own",
                one.name
            );
        }
        if earlier.iter().any(|other| other.device == one.device) {
            bail!(
                "device {:?} is listed twice; one device is one instrument, both of its services are recorded",
                one.device
            );
        }
    }
    Ok(BenchFile {
        name: file.name,
        rider_ceiling_w: file.rider_ceiling_w,
        instruments: file
            .instruments
            .into_iter()
            .enumerate()
            .map(|(index, one)| {
                let plan = SourcePlan {
                    id: SourceId(index as u16 + 1),
                    name: one.name,
                    role: match one.role {
                        Role::UnderTest => InstrumentRole::UnderTest,
                        Role::Reference => InstrumentRole::PrimaryReference,
                        Role::SecondReference => InstrumentRole::SecondReference,
                        Role::Witness => InstrumentRole::Witness,
                    },
                    place: match one.place {
                        Where::Pedals => Place::Pedals,
                        Where::Crank => Place::Crank,
                        Where::OneSide => Place::OneSide,
                        Where::Hub => Place::Hub,
                        Where::Unknown => Place::Unknown,
                    },
                    main: None,
                    calibration: CalibrationRecord::default(),
                };
                (one.device, plan)
            })
            .collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn from(text: &str) -> Result<BenchFile> {
        let folder = tempfile::tempdir()?;
        let path = folder.path().join("bench.ron");
        std::fs::write(&path, text)?;
        read(&path)
    }

    #[test]
    fn a_bench_reads_and_a_wrong_one_says_what_is_wrong() {
        let good = r#"Bench(name: "left stand", rider_ceiling_w: Some(300), instruments: [
            (device: "a", name: "Trainer", role: UnderTest, place: Hub),
            (device: "b", name: "Crank", role: Reference, place: Crank)])"#;
        let bench = from(good).unwrap();
        assert_eq!(bench.instruments.len(), 2);
        assert_eq!(bench.rider_ceiling_w, Some(300.0));
        let plain = from(&good.replace("Some(300)", "300")).unwrap();
        assert_eq!(plain, bench);
        assert_eq!(bench.instruments[1].1.place, Place::Crank);
        assert_eq!(
            from(&to_ron(&bench)).unwrap(),
            bench,
            "what is written reads back"
        );
        for (wrong, words) in [
            (
                good.replace("role: Reference", "role: Witness"),
                "exactly one instrument with `role: Reference`",
            ),
            (
                good.replace("device: \"b\"", "device: \"a\""),
                "listed twice",
            ),
            (
                good.replace("\"Crank\"", "\"Trainer\""),
                "two instruments are called",
            ),
            (good.replace("place: Hub", "plaice: Hub"), "plaice"),
        ] {
            let error = format!("{:#}", from(&wrong).unwrap_err());
            assert!(error.contains(words), "{error}");
            assert!(error.contains("bench.ron"), "{error}");
        }
    }
}
