//! What a client asks of a fitness machine.

use super::op_code;
use super::scale::{
    CADENCE_STEPS_PER_RPM, CIRCUMFERENCE_STEPS_PER_MM, INCLINATION_STEPS_PER_PCT, RESISTANCE_STEPS,
    SPEED_STEPS_PER_KMH, read_times, write_times,
};
use crate::anomaly::{Anomaly, DecodeError, Decoded};
use crate::assigned::FITNESS_MACHINE_CONTROL_POINT;
use crate::fitness_machine::ResistanceWidth;
use crate::fitness_machine::simulation::SimulationParameters;
use crate::wire::{Reader, Writer};

/// A request written to the control point.
#[derive(Clone, Debug, PartialEq)]
pub enum Request {
    /// Ask for control, which every other request needs.
    RequestControl,
    /// Put everything to its default; ends the control.
    Reset,
    /// Set the target speed.
    SetTargetSpeed {
        /// Target in km/h, resolution 0.01.
        speed_kmh: f64,
    },
    /// Set the target inclination.
    SetTargetInclination {
        /// Target in percent, resolution 0.1, positive uphill.
        inclination_pct: f64,
    },
    /// Set the target resistance level.
    SetTargetResistance {
        /// Target without unit, resolution 0.1.
        level: f64,
        /// One octet by the letter of the standard, which ends at 25.5.
        width: ResistanceWidth,
    },
    /// Set the target power.
    SetTargetPower {
        /// Target in watts.
        power_w: i16,
    },
    /// Set the target heart rate.
    SetTargetHeartRate {
        /// Target in beats per minute.
        heart_rate_bpm: u8,
    },
    /// Start the training or go on after a pause.
    StartOrResume,
    /// Stop or pause the training.
    StopOrPause(StopOrPause),
    /// Set the energy to be expended.
    SetTargetedEnergy {
        /// Target in kilocalories.
        energy_kcal: u16,
    },
    /// Set the number of steps to be made.
    SetTargetedSteps {
        /// Number of steps.
        steps: u16,
    },
    /// Set the number of strides to be made.
    SetTargetedStrides {
        /// Number of strides.
        strides: u16,
    },
    /// Set the distance to be covered.
    SetTargetedDistance {
        /// Target in metres; 24 bits.
        distance_m: u32,
    },
    /// Set the length of the training.
    SetTargetedTime {
        /// Target in seconds.
        time_s: u16,
    },
    /// Set the time to be spent in each of two heart rate zones.
    SetTimeInTwoZones {
        /// Seconds in each zone.
        times_s: [u16; 2],
    },
    /// Set the time to be spent in each of three heart rate zones.
    SetTimeInThreeZones {
        /// Seconds in each zone.
        times_s: [u16; 3],
    },
    /// Set the time to be spent in each of five heart rate zones.
    SetTimeInFiveZones {
        /// Seconds in each zone.
        times_s: [u16; 5],
    },
    /// Simulate a road.
    SetSimulation(SimulationParameters),
    /// Set the circumference of the wheel.
    SetWheelCircumference {
        /// Circumference in millimetres, resolution 0.1.
        circumference_mm: f64,
    },
    /// Start a spin-down, or ignore the wish for one.
    SpinDown(SpinDownCommand),
    /// Set the target cadence.
    SetTargetedCadence {
        /// Target in rpm, resolution 0.5.
        cadence_rpm: f64,
    },
}

/// Which of the two ways to interrupt a training.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StopOrPause {
    /// Stop.
    Stop,
    /// Pause.
    Pause,
    /// A number without meaning; a server answers it with an invalid parameter.
    Reserved(u8),
}

impl StopOrPause {
    pub(crate) fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(match reader.u8()? {
            1 => Self::Stop,
            2 => Self::Pause,
            other => {
                let field = "stop or pause";
                reader.note(Anomaly::ReservedValue {
                    field,
                    value: other.into(),
                });
                Self::Reserved(other)
            }
        })
    }

    pub(crate) fn number(self) -> u8 {
        match self {
            Self::Stop => 1,
            Self::Pause => 2,
            Self::Reserved(number) => number,
        }
    }
}

/// What to do about a spin-down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SpinDownCommand {
    /// Start it.
    Start,
    /// Ignore the machine's wish for one.
    Ignore,
    /// A number without meaning; a server answers it with an invalid parameter.
    Reserved(u8),
}

impl SpinDownCommand {
    fn read(reader: &mut Reader<'_>) -> Result<Self, DecodeError> {
        Ok(match reader.u8()? {
            1 => Self::Start,
            2 => Self::Ignore,
            other => {
                let field = "spin down control";
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
            Self::Start => 1,
            Self::Ignore => 2,
            Self::Reserved(number) => number,
        }
    }
}

impl Request {
    /// The op code, the first byte.
    pub fn op_code(&self) -> u8 {
        match self {
            Self::RequestControl => op_code::REQUEST_CONTROL,
            Self::Reset => op_code::RESET,
            Self::SetTargetSpeed { .. } => op_code::SET_TARGET_SPEED,
            Self::SetTargetInclination { .. } => op_code::SET_TARGET_INCLINATION,
            Self::SetTargetResistance { .. } => op_code::SET_TARGET_RESISTANCE,
            Self::SetTargetPower { .. } => op_code::SET_TARGET_POWER,
            Self::SetTargetHeartRate { .. } => op_code::SET_TARGET_HEART_RATE,
            Self::StartOrResume => op_code::START_OR_RESUME,
            Self::StopOrPause(_) => op_code::STOP_OR_PAUSE,
            Self::SetTargetedEnergy { .. } => op_code::SET_TARGETED_ENERGY,
            Self::SetTargetedSteps { .. } => op_code::SET_TARGETED_STEPS,
            Self::SetTargetedStrides { .. } => op_code::SET_TARGETED_STRIDES,
            Self::SetTargetedDistance { .. } => op_code::SET_TARGETED_DISTANCE,
            Self::SetTargetedTime { .. } => op_code::SET_TARGETED_TIME,
            Self::SetTimeInTwoZones { .. } => op_code::SET_TIME_IN_TWO_ZONES,
            Self::SetTimeInThreeZones { .. } => op_code::SET_TIME_IN_THREE_ZONES,
            Self::SetTimeInFiveZones { .. } => op_code::SET_TIME_IN_FIVE_ZONES,
            Self::SetSimulation(_) => op_code::SET_SIMULATION,
            Self::SetWheelCircumference { .. } => op_code::SET_WHEEL_CIRCUMFERENCE,
            Self::SpinDown(_) => op_code::SPIN_DOWN,
            Self::SetTargetedCadence { .. } => op_code::SET_TARGETED_CADENCE,
        }
    }

    /// Reads what a client wrote. A server answers [`DecodeError::UnknownOpCode`] with "op code
    /// not supported" and [`DecodeError::TooShort`] with "invalid parameter".
    ///
    /// # Errors
    /// [`DecodeError`] as above; an empty value is too short.
    pub fn decode(bytes: &[u8]) -> Result<Decoded<Self>, DecodeError> {
        let mut reader = Reader::new(FITNESS_MACHINE_CONTROL_POINT, bytes);
        let request = match reader.u8()? {
            op_code::REQUEST_CONTROL => Self::RequestControl,
            op_code::RESET => Self::Reset,
            op_code::SET_TARGET_SPEED => Self::SetTargetSpeed {
                speed_kmh: reader.scaled_u16(SPEED_STEPS_PER_KMH)?,
            },
            op_code::SET_TARGET_INCLINATION => Self::SetTargetInclination {
                inclination_pct: reader.scaled_i16(INCLINATION_STEPS_PER_PCT)?,
            },
            op_code::SET_TARGET_RESISTANCE if reader.remaining() == 2 => {
                reader.note(Anomaly::ResistanceInTwoOctets);
                Self::SetTargetResistance {
                    level: reader.scaled_i16(RESISTANCE_STEPS)?,
                    width: ResistanceWidth::TwoOctets,
                }
            }
            op_code::SET_TARGET_RESISTANCE => Self::SetTargetResistance {
                level: reader.scaled_u8(RESISTANCE_STEPS)?,
                width: ResistanceWidth::OneOctet,
            },
            op_code::SET_TARGET_POWER => Self::SetTargetPower {
                power_w: reader.i16()?,
            },
            op_code::SET_TARGET_HEART_RATE => Self::SetTargetHeartRate {
                heart_rate_bpm: reader.u8()?,
            },
            op_code::START_OR_RESUME => Self::StartOrResume,
            op_code::STOP_OR_PAUSE => Self::StopOrPause(StopOrPause::read(&mut reader)?),
            op_code::SET_TARGETED_ENERGY => Self::SetTargetedEnergy {
                energy_kcal: reader.u16()?,
            },
            op_code::SET_TARGETED_STEPS => Self::SetTargetedSteps {
                steps: reader.u16()?,
            },
            op_code::SET_TARGETED_STRIDES => Self::SetTargetedStrides {
                strides: reader.u16()?,
            },
            op_code::SET_TARGETED_DISTANCE => Self::SetTargetedDistance {
                distance_m: reader.u24()?,
            },
            op_code::SET_TARGETED_TIME => Self::SetTargetedTime {
                time_s: reader.u16()?,
            },
            op_code::SET_TIME_IN_TWO_ZONES => Self::SetTimeInTwoZones {
                times_s: read_times(&mut reader)?,
            },
            op_code::SET_TIME_IN_THREE_ZONES => Self::SetTimeInThreeZones {
                times_s: read_times(&mut reader)?,
            },
            op_code::SET_TIME_IN_FIVE_ZONES => Self::SetTimeInFiveZones {
                times_s: read_times(&mut reader)?,
            },
            op_code::SET_SIMULATION => {
                Self::SetSimulation(SimulationParameters::read(&mut reader)?)
            }
            op_code::SET_WHEEL_CIRCUMFERENCE => Self::SetWheelCircumference {
                circumference_mm: reader.scaled_u16(CIRCUMFERENCE_STEPS_PER_MM)?,
            },
            op_code::SPIN_DOWN => Self::SpinDown(SpinDownCommand::read(&mut reader)?),
            op_code::SET_TARGETED_CADENCE => Self::SetTargetedCadence {
                cadence_rpm: reader.scaled_u16(CADENCE_STEPS_PER_RPM)?,
            },
            other => return Err(reader.unknown_op_code(other)),
        };
        Ok(reader.finish(request))
    }

    /// Writes the request.
    pub fn encode(&self) -> Vec<u8> {
        let mut writer = Writer::new();
        writer.u8(self.op_code());
        match *self {
            Self::RequestControl | Self::Reset | Self::StartOrResume => {}
            Self::SetTargetSpeed { speed_kmh } => {
                writer.scaled_u16(speed_kmh, SPEED_STEPS_PER_KMH);
            }
            Self::SetTargetInclination { inclination_pct } => {
                writer.scaled_i16(inclination_pct, INCLINATION_STEPS_PER_PCT);
            }
            Self::SetTargetResistance {
                level,
                width: ResistanceWidth::OneOctet,
            } => {
                writer.scaled_u8(level, RESISTANCE_STEPS);
            }
            Self::SetTargetResistance {
                level,
                width: ResistanceWidth::TwoOctets,
            } => {
                writer.scaled_i16(level, RESISTANCE_STEPS);
            }
            Self::SetTargetPower { power_w } => {
                writer.i16(power_w);
            }
            Self::SetTargetHeartRate { heart_rate_bpm } => {
                writer.u8(heart_rate_bpm);
            }
            Self::StopOrPause(which) => {
                writer.u8(which.number());
            }
            Self::SetTargetedEnergy {
                energy_kcal: number,
            }
            | Self::SetTargetedSteps { steps: number }
            | Self::SetTargetedStrides { strides: number }
            | Self::SetTargetedTime { time_s: number } => {
                writer.u16(number);
            }
            Self::SetTargetedDistance { distance_m } => {
                writer.u24(distance_m);
            }
            Self::SetTimeInTwoZones { times_s } => write_times(&mut writer, &times_s),
            Self::SetTimeInThreeZones { times_s } => write_times(&mut writer, &times_s),
            Self::SetTimeInFiveZones { times_s } => write_times(&mut writer, &times_s),
            Self::SetSimulation(parameters) => parameters.write(&mut writer),
            Self::SetWheelCircumference { circumference_mm } => {
                writer.scaled_u16(circumference_mm, CIRCUMFERENCE_STEPS_PER_MM);
            }
            Self::SpinDown(command) => {
                writer.u8(command.number());
            }
            Self::SetTargetedCadence { cadence_rpm } => {
                writer.scaled_u16(cadence_rpm, CADENCE_STEPS_PER_RPM);
            }
        }
        writer.finish()
    }
}
