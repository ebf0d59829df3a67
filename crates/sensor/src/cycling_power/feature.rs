//! Cycling Power Feature (2A65): what a power meter can do.

use super::control::OffsetUnit;
use crate::anomaly::{DecodeError, Decoded};
use crate::assigned::CYCLING_POWER_FEATURE;
use crate::bits::bit_set;
use crate::wire::{Reader, Writer};

const DISTRIBUTED_SHIFT: u32 = 20;
const DISTRIBUTED_MASK: u32 = 0b11;

bit_set! {
    /// What a power meter can do. Bits 20 and 21 are a number of their own, see
    /// [`CyclingPowerFeature::distributed`].
    CyclingPowerFeature(u32),
    /// One thing a power meter may be able to do.
    PowerFeature {
        Balance = 0, "pedal power balance";
        AccumulatedTorque = 1, "accumulated torque";
        WheelRevolutions = 2, "wheel revolution data";
        CrankRevolutions = 3, "crank revolution data";
        ExtremeMagnitudes = 4, "extreme magnitudes";
        ExtremeAngles = 5, "extreme angles";
        DeadSpotAngles = 6, "top and bottom dead spot angles";
        AccumulatedEnergy = 7, "accumulated energy";
        OffsetIndicator = 8, "offset compensation indicator";
        OffsetCompensation = 9, "offset compensation";
        ContentMasking = 10, "measurement content masking";
        MultipleLocations = 11, "multiple sensor locations";
        CrankLength = 12, "crank length adjustment";
        ChainLength = 13, "chain length adjustment";
        ChainWeight = 14, "chain weight adjustment";
        SpanLength = 15, "span length adjustment";
        TorqueContext = 16, "measures torque, not force";
        MeasurementDirection = 17, "instantaneous measurement direction";
        CalibrationDate = 18, "factory calibration date";
        EnhancedOffsetCompensation = 19, "enhanced offset compensation";
    }
}

/// Whether two such sensors may be used together, one per leg.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DistributedSystem {
    /// Not said; so with every sensor of version 1.0.
    Unspecified,
    /// Not for use in a distributed system.
    NotSupported,
    /// Usable in a distributed system.
    Supported,
    /// A number without meaning.
    Reserved,
}

impl CyclingPowerFeature {
    /// Reads the 4 bytes.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(CYCLING_POWER_FEATURE, bytes);
        let feature = Self(reader.u32()?);
        reader.note_reserved(
            feature.0,
            Self::KNOWN | DISTRIBUTED_MASK << DISTRIBUTED_SHIFT,
        );
        Ok(reader.finish(feature))
    }

    /// Writes the 4 bytes.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.u32(self.0);
        writer.finish()
    }

    /// Whether the sensor may be one of two.
    pub fn distributed(self) -> DistributedSystem {
        match self.0 >> DISTRIBUTED_SHIFT & DISTRIBUTED_MASK {
            0 => DistributedSystem::Unspecified,
            1 => DistributedSystem::NotSupported,
            2 => DistributedSystem::Supported,
            _ => DistributedSystem::Reserved,
        }
    }

    /// The unit in which this sensor tells its zero offset.
    pub fn offset_unit(self) -> OffsetUnit {
        if self.contains(PowerFeature::TorqueContext) {
            OffsetUnit::NewtonMetres
        } else {
            OffsetUnit::Newtons
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Bits 20 and 21 are one number; a sensor of version 1.0 leaves them zero.
    #[test]
    fn the_distributed_system_is_a_number_of_two_bits() {
        for (bits, meaning) in [
            (0x00_0000, DistributedSystem::Unspecified),
            (0x10_0000, DistributedSystem::NotSupported),
            (0x20_0000, DistributedSystem::Supported),
            (0x30_0000, DistributedSystem::Reserved),
        ] {
            assert_eq!(CyclingPowerFeature(bits).distributed(), meaning);
        }
    }

    #[test]
    fn the_context_bit_decides_the_unit_of_the_offset() {
        assert_eq!(CyclingPowerFeature(0).offset_unit(), OffsetUnit::Newtons);
        let torque = CyclingPowerFeature::of(&[PowerFeature::TorqueContext]);
        assert_eq!(torque, CyclingPowerFeature(0x1_0000));
        assert_eq!(torque.offset_unit(), OffsetUnit::NewtonMetres);
    }
}
