//! The instruments as they show themselves before they are connected.

use crate::identity;
use crate::instrument::Instrument;
use crate::spec::{BrakeSpec, RoleSpec};
use units::{Characteristic, SourceId};

/// One instrument as it shows itself before it is connected.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RigSource {
    /// Which source it is.
    pub id: SourceId,
    /// Name for people.
    pub name: String,
    /// What it is for: `under-test`, `reference`, `second-reference` or `witness`.
    pub role: &'static str,
    /// Where it measures: `hub`, `crank`, `pedals`, `one-side` or `body`.
    pub place: &'static str,
    /// Assigned numbers of the services it offers.
    pub services: Vec<u16>,
    /// The characteristics it offers.
    pub characteristics: Vec<Characteristic>,
}

impl RigSource {
    /// How an instrument shows itself on a bench with this brake.
    pub(super) fn of(instrument: &Instrument, brake: &BrakeSpec) -> Self {
        Self {
            id: instrument.id,
            name: instrument.spec.name.clone(),
            role: match instrument.spec.role {
                RoleSpec::UnderTest => "under-test",
                RoleSpec::Reference => "reference",
                RoleSpec::SecondReference => "second-reference",
                RoleSpec::Witness => "witness",
            },
            place: identity::place_word(instrument.spec.place),
            services: identity::services(&instrument.spec),
            characteristics: identity::characteristics(&instrument.spec, brake),
        }
    }
}
