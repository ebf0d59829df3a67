//! Fitness Machine Status (2ADA): what happened at the machine.
//!
//! Source: Fitness Machine Service 1.0.1, table 4.26. From the simulation parameters on, the op
//! codes are one higher than those of the control point.

use super::ResistanceWidth;
use super::control::StopOrPause;
use super::control::scale::{
    CADENCE_STEPS_PER_RPM, CIRCUMFERENCE_STEPS_PER_MM, INCLINATION_STEPS_PER_PCT, RESISTANCE_STEPS,
    SPEED_STEPS_PER_KMH, read_times, write_times,
};
use super::simulation::SimulationParameters;
use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::FITNESS_MACHINE_STATUS;
use crate::wire::{Reader, Writer};

/// One status notification.
#[derive(Clone, Debug, PartialEq)]
pub enum Status {
    /// The machine was reset.
    Reset,
    /// The user stopped or paused the training.
    StoppedOrPaused(StopOrPause),
    /// The safety key stopped the training.
    StoppedBySafetyKey,
    /// The user started the training or went on with it.
    StartedOrResumed,
    /// There is a new target speed.
    TargetSpeedChanged {
        /// Target in km/h, resolution 0.01.
        speed_kmh: f64,
    },
    /// There is a new target inclination.
    TargetInclinationChanged {
        /// Target in percent, resolution 0.1, positive uphill.
        inclination_pct: f64,
    },
    /// There is a new target resistance level.
    TargetResistanceChanged {
        /// Target without unit, resolution 0.1.
        level: f64,
        /// Two octets by the letter of the standard.
        width: ResistanceWidth,
    },
    /// There is a new target power.
    TargetPowerChanged {
        /// Target in watts.
        power_w: i16,
    },
    /// There is a new target heart rate.
    TargetHeartRateChanged {
        /// Target in beats per minute.
        heart_rate_bpm: u8,
    },
    /// There is a new energy to be expended.
    TargetedEnergyChanged {
        /// Target in kilocalories.
        energy_kcal: u16,
    },
    /// There is a new number of steps to be made.
    TargetedStepsChanged {
        /// Number of steps.
        steps: u16,
    },
    /// There is a new number of strides to be made.
    TargetedStridesChanged {
        /// Number of strides.
        strides: u16,
    },
    /// There is a new distance to be covered.
    TargetedDistanceChanged {
        /// Target in metres; 24 bits.
        distance_m: u32,
    },
    /// There is a new length of the training.
    TargetedTimeChanged {
        /// Target in seconds.
        time_s: u16,
    },
    /// There are new times for two heart rate zones.
    TimeInTwoZonesChanged {
        /// Seconds in each zone.
        times_s: [u16; 2],
    },
    /// There are new times for three heart rate zones.
    TimeInThreeZonesChanged {
        /// Seconds in each zone.
        times_s: [u16; 3],
    },
    /// There are new times for five heart rate zones.
    TimeInFiveZonesChanged {
        /// Seconds in each zone.
        times_s: [u16; 5],
    },
    /// There is a new simulated road.
    SimulationChanged(SimulationParameters),
    /// There is a new wheel circumference.
    WheelCircumferenceChanged {
        /// Circumference in millimetres, resolution 0.1.
        circumference_mm: f64,
    },
    /// Something about a spin-down.
    SpinDown(SpinDownStatus),
    /// There is a new target cadence.
    TargetedCadenceChanged {
        /// Target in rpm, resolution 0.5.
        cadence_rpm: f64,
    },
    /// The client lost the control of the machine.
    ControlPermissionLost,
}

/// How far a spin-down is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpinDownStatus {
    /// The machine wishes one.
    Requested,
    /// It succeeded.
    Success,
    /// It failed.
    Error,
    /// The rider is to stop pedalling.
    StopPedaling,
    /// A number without meaning.
    Reserved(u8),
}

impl SpinDownStatus {
    fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(match reader.u8()? {
            1 => Self::Requested,
            2 => Self::Success,
            3 => Self::Error,
            4 => Self::StopPedaling,
            other => {
                let field = "spin down status";
                reader.note(Anomaly::ReservedValue {
                    field,
                    value: other.into(),
                });
                Self::Reserved(other)
            }
        })
    }

    fn number(self) -> u8 {
        match self {
            Self::Requested => 1,
            Self::Success => 2,
            Self::Error => 3,
            Self::StopPedaling => 4,
            Self::Reserved(number) => number,
        }
    }
}

impl Status {
    /// The op code, the first byte.
    pub fn op_code(&self) -> u8 {
        match self {
            Self::Reset => 0x01,
            Self::StoppedOrPaused(_) => 0x02,
            Self::StoppedBySafetyKey => 0x03,
            Self::StartedOrResumed => 0x04,
            Self::TargetSpeedChanged { .. } => 0x05,
            Self::TargetInclinationChanged { .. } => 0x06,
            Self::TargetResistanceChanged { .. } => 0x07,
            Self::TargetPowerChanged { .. } => 0x08,
            Self::TargetHeartRateChanged { .. } => 0x09,
            Self::TargetedEnergyChanged { .. } => 0x0A,
            Self::TargetedStepsChanged { .. } => 0x0B,
            Self::TargetedStridesChanged { .. } => 0x0C,
            Self::TargetedDistanceChanged { .. } => 0x0D,
            Self::TargetedTimeChanged { .. } => 0x0E,
            Self::TimeInTwoZonesChanged { .. } => 0x0F,
            Self::TimeInThreeZonesChanged { .. } => 0x10,
            Self::TimeInFiveZonesChanged { .. } => 0x11,
            Self::SimulationChanged(_) => 0x12,
            Self::WheelCircumferenceChanged { .. } => 0x13,
            Self::SpinDown(_) => 0x14,
            Self::TargetedCadenceChanged { .. } => 0x15,
            Self::ControlPermissionLost => 0xFF,
        }
    }

    /// Reads a notification. A resistance level of one octet instead of two is taken with a note;
    /// so are octets after the spin-down status, of which the standard's appendix speaks.
    ///
    /// # Errors
    /// [`DecodeError::UnknownOpCode`] or [`DecodeError::TooShort`].
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(FITNESS_MACHINE_STATUS, bytes);
        let status = match reader.u8()? {
            0x01 => Self::Reset,
            0x02 => Self::StoppedOrPaused(StopOrPause::read(&mut reader)?),
            0x03 => Self::StoppedBySafetyKey,
            0x04 => Self::StartedOrResumed,
            0x05 => Self::TargetSpeedChanged {
                speed_kmh: reader.scaled_u16(SPEED_STEPS_PER_KMH)?,
            },
            0x06 => Self::TargetInclinationChanged {
                inclination_pct: reader.scaled_i16(INCLINATION_STEPS_PER_PCT)?,
            },
            0x07 if reader.remaining() == 1 => {
                reader.note(Anomaly::ResistanceInOneOctet);
                Self::TargetResistanceChanged {
                    level: reader.scaled_u8(RESISTANCE_STEPS)?,
                    width: ResistanceWidth::OneOctet,
                }
            }
            0x07 => Self::TargetResistanceChanged {
                level: reader.scaled_i16(RESISTANCE_STEPS)?,
                width: ResistanceWidth::TwoOctets,
            },
            0x08 => Self::TargetPowerChanged {
                power_w: reader.i16()?,
            },
            0x09 => Self::TargetHeartRateChanged {
                heart_rate_bpm: reader.u8()?,
            },
            0x0A => Self::TargetedEnergyChanged {
                energy_kcal: reader.u16()?,
            },
            0x0B => Self::TargetedStepsChanged {
                steps: reader.u16()?,
            },
            0x0C => Self::TargetedStridesChanged {
                strides: reader.u16()?,
            },
            0x0D => Self::TargetedDistanceChanged {
                distance_m: reader.u24()?,
            },
            0x0E => Self::TargetedTimeChanged {
                time_s: reader.u16()?,
            },
            0x0F => Self::TimeInTwoZonesChanged {
                times_s: read_times(&mut reader)?,
            },
            0x10 => Self::TimeInThreeZonesChanged {
                times_s: read_times(&mut reader)?,
            },
            0x11 => Self::TimeInFiveZonesChanged {
                times_s: read_times(&mut reader)?,
            },
            0x12 => Self::SimulationChanged(SimulationParameters::read(&mut reader)?),
            0x13 => Self::WheelCircumferenceChanged {
                circumference_mm: reader.scaled_u16(CIRCUMFERENCE_STEPS_PER_MM)?,
            },
            0x14 => Self::SpinDown(SpinDownStatus::read(&mut reader)?),
            0x15 => Self::TargetedCadenceChanged {
                cadence_rpm: reader.scaled_u16(CADENCE_STEPS_PER_RPM)?,
            },
            0xFF => Self::ControlPermissionLost,
            other => return Err(reader.unknown_op_code(other)),
        };
        Ok(reader.finish(status))
    }

    /// Writes the notification.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.u8(self.op_code());
        match *self {
            Self::Reset
            | Self::StoppedBySafetyKey
            | Self::StartedOrResumed
            | Self::ControlPermissionLost => {}
            Self::StoppedOrPaused(which) => {
                writer.u8(which.number());
            }
            Self::TargetSpeedChanged { speed_kmh } => {
                writer.scaled_u16(speed_kmh, SPEED_STEPS_PER_KMH);
            }
            Self::TargetInclinationChanged { inclination_pct } => {
                writer.scaled_i16(inclination_pct, INCLINATION_STEPS_PER_PCT);
            }
            Self::TargetResistanceChanged {
                level,
                width: ResistanceWidth::OneOctet,
            } => {
                writer.scaled_u8(level, RESISTANCE_STEPS);
            }
            Self::TargetResistanceChanged {
                level,
                width: ResistanceWidth::TwoOctets,
            } => {
                writer.scaled_i16(level, RESISTANCE_STEPS);
            }
            Self::TargetPowerChanged { power_w } => {
                writer.i16(power_w);
            }
            Self::TargetHeartRateChanged { heart_rate_bpm } => {
                writer.u8(heart_rate_bpm);
            }
            Self::TargetedEnergyChanged {
                energy_kcal: number,
            }
            | Self::TargetedStepsChanged { steps: number }
            | Self::TargetedStridesChanged { strides: number }
            | Self::TargetedTimeChanged { time_s: number } => {
                writer.u16(number);
            }
            Self::TargetedDistanceChanged { distance_m } => {
                writer.u24(distance_m);
            }
            Self::TimeInTwoZonesChanged { times_s } => write_times(&mut writer, &times_s),
            Self::TimeInThreeZonesChanged { times_s } => write_times(&mut writer, &times_s),
            Self::TimeInFiveZonesChanged { times_s } => write_times(&mut writer, &times_s),
            Self::SimulationChanged(parameters) => parameters.write(&mut writer),
            Self::WheelCircumferenceChanged { circumference_mm } => {
                writer.scaled_u16(circumference_mm, CIRCUMFERENCE_STEPS_PER_MM);
            }
            Self::SpinDown(status) => {
                writer.u8(status.number());
            }
            Self::TargetedCadenceChanged { cadence_rpm } => {
                writer.scaled_u16(cadence_rpm, CADENCE_STEPS_PER_RPM);
            }
        }
        writer.finish()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Appendix A.3.1 of the service adds a time to a spin-down that succeeded.
    #[test]
    fn octets_after_a_spin_down_are_accepted() {
        let decoded = Status::decode(&[0x14, 0x02, 0x10, 0x27]).unwrap();
        assert_eq!(decoded.value, Status::SpinDown(SpinDownStatus::Success));
        assert_eq!(
            decoded.anomalies,
            [Anomaly::SurplusOctets {
                expected: 2,
                got: 4
            }]
        );
    }

    #[test]
    fn a_resistance_level_is_read_in_both_widths() {
        for (bytes, width) in [
            (&[0x07, 0x32, 0x00][..], ResistanceWidth::TwoOctets),
            (&[0x07, 0x32], ResistanceWidth::OneOctet),
        ] {
            let status = Status::decode(bytes).unwrap().value;
            assert_eq!(
                status,
                Status::TargetResistanceChanged { level: 5.0, width }
            );
            assert_eq!(status.encode(), bytes);
        }
    }
}
