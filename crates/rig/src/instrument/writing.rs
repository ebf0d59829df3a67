//! What a write does to an instrument, or why it is refused.

use super::{Indications, Instrument, Kind};
use crate::control::att;
use crate::identity;
use crate::load::Load;
use crate::spec::BrakeSpec;
use sensor::assigned;
use sensor::fitness_machine::training_status::TrainingStatus;
use units::{AttError, Characteristic, Timestamp};

/// What an accepted write means for the rest of the rig.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Consequence {
    /// The load from now on, if it changes.
    pub(crate) load: Option<Load>,
}

impl Instrument {
    /// Takes a write.
    ///
    /// # Errors
    /// The ATT error with which the device refuses it.
    pub(crate) fn write(
        &mut self,
        now: Timestamp,
        characteristic: Characteristic,
        bytes: &[u8],
        brake: &BrakeSpec,
    ) -> Result<Consequence, AttError> {
        if !self.link.is_up() {
            return Err(AttError::NotConnected);
        }
        let offered = identity::characteristics(&self.spec, brake);
        if !offered.contains(&characteristic) {
            return Err(AttError::Code(att::ATTRIBUTE_NOT_FOUND));
        }
        let control_point = match &self.kind {
            Kind::Trainer(_) => Some(assigned::FITNESS_MACHINE_CONTROL_POINT),
            Kind::Meter(_) => Some(assigned::CYCLING_POWER_CONTROL_POINT),
            Kind::Cadence(_) | Kind::HeartRate(_) => None,
        };
        if Some(characteristic) != control_point {
            return Err(AttError::Code(att::WRITE_NOT_PERMITTED));
        }
        if self.indications == Indications::Off {
            return Err(AttError::Code(att::CCCD_NOT_SET));
        }
        match &mut self.kind {
            Kind::Trainer(trainer) => {
                let outcome = trainer.control.write(now, bytes)?;
                let at = outcome.answer_at;
                self.outbox
                    .push((at, assigned::FITNESS_MACHINE_CONTROL_POINT, outcome.answer));
                if let Some(status) = outcome.status {
                    self.outbox
                        .push((at, assigned::FITNESS_MACHINE_STATUS, status.encode()));
                }
                if let Some(training) = outcome.training {
                    self.outbox.push((
                        at,
                        assigned::TRAINING_STATUS,
                        TrainingStatus::new(training).encode(),
                    ));
                }
                Ok(Consequence { load: outcome.load })
            }
            Kind::Meter(meter) => {
                if let Some((at, answer)) = meter.write(now, bytes)? {
                    self.outbox
                        .push((at, assigned::CYCLING_POWER_CONTROL_POINT, answer));
                }
                Ok(Consequence::default())
            }
            // They have no control point, so nothing gets here.
            Kind::Cadence(_) | Kind::HeartRate(_) => Ok(Consequence::default()),
        }
    }
}
