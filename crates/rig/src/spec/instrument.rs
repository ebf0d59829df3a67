//! What every instrument has, and which kinds there are.

use super::cadence::CadenceSpec;
use super::identity::IdentitySpec;
use super::link::LinkSpec;
use super::meter::MeterSpec;
use super::signal::SignalSpec;
use super::strap::StrapSpec;
use super::trainer::TrainerSpec;
use super::upsets::UpsetsSpec;
use serde::{Deserialize, Serialize};

/// One instrument with a radio.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct InstrumentSpec {
    /// Name for people.
    pub name: String,
    /// What it is for.
    pub role: RoleSpec,
    /// Where it measures.
    pub place: PlaceSpec,
    /// What kind it is.
    pub kind: KindSpec,
    /// How its word differs from the truth.
    #[serde(default)]
    pub signal: SignalSpec,
    /// Where it fails altogether.
    #[serde(default)]
    pub upsets: UpsetsSpec,
    /// How its packets travel.
    #[serde(default)]
    pub link: LinkSpec,
    /// Who it says it is.
    pub identity: IdentitySpec,
}

/// What an instrument is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum RoleSpec {
    /// The device whose claims are tested.
    UnderTest,
    /// What it is judged against.
    Reference,
    /// A further trusted instrument.
    SecondReference,
    /// Recorded only.
    Witness,
}

/// Where an instrument measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PlaceSpec {
    /// Behind the chain.
    Hub,
    /// Crank, spider or chain ring, both legs.
    Crank,
    /// Pedals, both legs.
    Pedals,
    /// One leg, doubled.
    OneSide,
    /// The rider's body.
    Body,
}

/// The kind of an instrument.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum KindSpec {
    /// A trainer: reports indoor bike data and controls the brake.
    Trainer(TrainerSpec),
    /// A power meter.
    Meter(MeterSpec),
    /// A cadence sensor at the crank, with or without a sensor at the wheel.
    Cadence(CadenceSpec),
    /// A heart-rate strap.
    HeartRate(StrapSpec),
}
