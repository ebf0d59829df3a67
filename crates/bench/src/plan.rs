//! What a session is set up from: the instruments with their roles, the script and the settings.

use crate::model::InstrumentRole;
use analysis::before::CalibrationRecord;
use analysis::evidence::{Place, Role};
use analysis::settings::Settings;
use protocol::{Plan, RunnerConfig};
use units::{Characteristic, SourceId};

/// Everything a bench needs before the first packet.
#[derive(Clone, Debug)]
pub struct BenchPlan {
    /// The instruments.
    pub sources: Vec<SourcePlan>,
    /// The script, flattened.
    pub script: Plan,
    /// What the runner may do to the rider.
    pub runner: RunnerConfig,
    /// What the judgement depends on, fixed before the ride.
    pub settings: Settings,
    /// Where the instruments come from.
    pub origin: Origin,
}

/// Where the instruments come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Origin {
    /// Real instruments.
    Real,
    /// The simulated bench.
    Simulated,
}

/// One instrument and its role.
#[derive(Clone, Debug, PartialEq)]
pub struct SourcePlan {
    /// Which source its packets carry.
    pub id: SourceId,
    /// Name for people, unique in the session.
    pub name: String,
    /// What it is for.
    pub role: InstrumentRole,
    /// Where it measures.
    pub place: Place,
    /// Which characteristic is its word for power; chosen by what it offers if not said.
    pub main: Option<Characteristic>,
    /// What was done to it before the session.
    pub calibration: CalibrationRecord,
}

impl InstrumentRole {
    /// The role as the session file and the command line spell it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::UnderTest => "under-test",
            Self::PrimaryReference => "reference",
            Self::SecondReference => "second-reference",
            Self::Witness => "witness",
        }
    }

    /// The role a recorded name stands for.
    pub fn from_name(name: &str) -> Option<Self> {
        [
            Self::UnderTest,
            Self::PrimaryReference,
            Self::SecondReference,
            Self::Witness,
        ]
        .into_iter()
        .find(|role| role.name() == name)
    }

    /// The same role in the words of the analysis.
    pub const fn for_analysis(self) -> Role {
        match self {
            Self::UnderTest => Role::UnderTest,
            Self::PrimaryReference => Role::PrimaryReference,
            Self::SecondReference => Role::SecondReference,
            Self::Witness => Role::Witness,
        }
    }
}

/// The place as the session file spells it.
pub const fn place_name(place: Place) -> &'static str {
    match place {
        Place::Pedals => "pedals",
        Place::Crank => "crank",
        Place::OneSide => "one-side",
        Place::Hub => "hub",
        Place::Unknown => "unknown",
    }
}

/// The place a recorded name stands for; anything else is unknown.
pub fn place_from_name(name: &str) -> Place {
    [Place::Pedals, Place::Crank, Place::OneSide, Place::Hub]
        .into_iter()
        .find(|place| place_name(*place) == name)
        .unwrap_or(Place::Unknown)
}
