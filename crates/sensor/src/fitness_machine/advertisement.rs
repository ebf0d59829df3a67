//! The service data that a fitness machine advertises: whether it is free and what it is.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::FITNESS_MACHINE_FEATURE;
use crate::bits::bit_set;
use crate::wire::{Reader, Writer};

const AVAILABLE: u8 = 1 << 0;

bit_set! {
    /// The kinds of machine that one device is.
    MachineKinds(u16),
    /// A kind of machine.
    MachineKind {
        Treadmill = 0, "treadmill";
        CrossTrainer = 1, "cross trainer";
        StepClimber = 2, "step climber";
        StairClimber = 3, "stair climber";
        Rower = 4, "rower";
        IndoorBike = 5, "indoor bike";
    }
}

/// Service data of the Fitness Machine Service, after the service's number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FitnessMachineAdvertisement {
    /// What it is.
    pub kinds: MachineKinds,
    /// Whether somebody may use it now.
    pub availability: Availability,
}

/// Whether a machine may be used.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Availability {
    /// It may not.
    #[default]
    NotAvailable,
    /// It may.
    Available,
}

impl FitnessMachineAdvertisement {
    /// Reads the 3 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`]; as an advertisement is no characteristic, the error names the
    /// feature of the same service.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(FITNESS_MACHINE_FEATURE, bytes);
        reader.require(3)?;
        let flags = reader.u8()?;
        reader.note_reserved(flags.into(), AVAILABLE.into());
        let kinds = MachineKinds(reader.u16()?);
        if kinds.0 & !MachineKinds::KNOWN != 0 {
            reader.note(Anomaly::ReservedValue {
                field: "machine type",
                value: kinds.0.into(),
            });
        }
        let availability = if flags & AVAILABLE != 0 {
            Availability::Available
        } else {
            Availability::NotAvailable
        };
        Ok(reader.finish(Self {
            kinds,
            availability,
        }))
    }

    /// Writes the 3 bytes.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer
            .u8(match self.availability {
                Availability::NotAvailable => 0,
                Availability::Available => AVAILABLE,
            })
            .u16(self.kinds.0);
        writer.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Flags and type from Fitness Machine Service 1.0.1, section 3.1: an indoor bike, available.
    #[test]
    fn an_indoor_bike_that_is_free() {
        let decoded = FitnessMachineAdvertisement::decode(&[0x01, 0x20, 0x00]).unwrap();
        assert_eq!(decoded.value.availability, Availability::Available);
        assert_eq!(
            decoded.value.kinds.iter().collect::<Vec<_>>(),
            [MachineKind::IndoorBike]
        );
        assert_eq!(decoded.value.encode(), [0x01, 0x20, 0x00]);
    }
}
