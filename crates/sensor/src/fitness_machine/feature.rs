//! Fitness Machine Feature (2ACC): what the machine measures and what can be set.
//!
//! Source: Fitness Machine Service 1.0.1, section 4.3.

use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::FITNESS_MACHINE_FEATURE;
use crate::bits::bit_set;
use crate::wire::{Reader, Writer};

bit_set! {
    /// What the machine measures.
    MachineFeatures(u32),
    /// One thing a machine may measure.
    MachineFeature {
        AverageSpeed = 0, "average speed";
        Cadence = 1, "cadence";
        TotalDistance = 2, "total distance";
        Inclination = 3, "inclination";
        ElevationGain = 4, "elevation gain";
        Pace = 5, "pace";
        StepCount = 6, "step count";
        ResistanceLevel = 7, "resistance level";
        StrideCount = 8, "stride count";
        ExpendedEnergy = 9, "expended energy";
        HeartRate = 10, "heart rate";
        MetabolicEquivalent = 11, "metabolic equivalent";
        ElapsedTime = 12, "elapsed time";
        RemainingTime = 13, "remaining time";
        PowerMeasurement = 14, "power measurement";
        ForceOnBelt = 15, "force on belt and power output";
        UserDataRetention = 16, "user data retention";
    }
}

bit_set! {
    /// What can be set through the control point.
    TargetFeatures(u32),
    /// One thing that may be set.
    TargetFeature {
        Speed = 0, "target speed";
        Inclination = 1, "target inclination";
        ResistanceLevel = 2, "target resistance level";
        Power = 3, "target power";
        HeartRate = 4, "target heart rate";
        ExpendedEnergy = 5, "targeted expended energy";
        StepNumber = 6, "targeted number of steps";
        StrideNumber = 7, "targeted number of strides";
        Distance = 8, "targeted distance";
        TrainingTime = 9, "targeted training time";
        TimeInTwoZones = 10, "targeted time in two heart rate zones";
        TimeInThreeZones = 11, "targeted time in three heart rate zones";
        TimeInFiveZones = 12, "targeted time in five heart rate zones";
        Simulation = 13, "indoor bike simulation";
        WheelCircumference = 14, "wheel circumference";
        SpinDown = 15, "spin down control";
        Cadence = 16, "targeted cadence";
    }
}

/// The feature value: 8 bytes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct FitnessMachineFeature {
    /// What the machine measures.
    pub measures: MachineFeatures,
    /// What can be set; absent if the machine sent only the first half (then only trying tells).
    pub settable: Option<TargetFeatures>,
}

impl FitnessMachineFeature {
    /// Reads the value. The first half alone is taken with a note.
    ///
    /// # Errors
    /// [`DecodeError::TooShort`] below 4 bytes, or between 5 and 7.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(FITNESS_MACHINE_FEATURE, bytes);
        if reader.len() != 4 {
            reader.require(8)?;
        }
        let measures = MachineFeatures(reader.u32()?);
        reader.note_reserved(measures.0, MachineFeatures::KNOWN);
        let settable = if reader.remaining() == 0 {
            reader.note(Anomaly::TargetFeaturesMissing);
            None
        } else {
            let settable = TargetFeatures(reader.u32()?);
            reader.note_reserved(settable.0, TargetFeatures::KNOWN);
            Some(settable)
        };
        Ok(reader.finish(Self { measures, settable }))
    }

    /// Writes the value; 4 bytes if what can be set is absent.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.u32(self.measures.0);
        if let Some(settable) = self.settable {
            writer.u32(settable.0);
        }
        writer.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_a_feature_value_leaves_the_other_half_unknown() {
        let decoded = FitnessMachineFeature::decode(&[0x82, 0x40, 0, 0]).unwrap();
        assert_eq!(decoded.value.settable, None);
        assert!(
            decoded
                .value
                .measures
                .contains(MachineFeature::PowerMeasurement)
        );
        assert_eq!(decoded.anomalies, [Anomaly::TargetFeaturesMissing]);
        assert!(FitnessMachineFeature::decode(&[0; 6]).is_err());
    }
}
