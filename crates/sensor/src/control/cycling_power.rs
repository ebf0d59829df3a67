//! One procedure at a time with the control point of a power meter: zero offset, crank length.
//!
//! Offset compensation may take many of the thirty seconds that the standard allows, so no shorter
//! limit is used. The unit of the offset is force or torque, as a feature bit says.

use crate::assigned;
use crate::cycling_power::control::{OffsetUnit, Request, Response, ResponseParameter, ResultCode};
use units::{AttError, Packet, Span, Timestamp};

/// Procedure time-out of the standard, counted from the write.
pub const PROCEDURE_TIMEOUT: Span = Span::from_secs(30);

/// What can be asked of a power meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PowerMeterProcedure {
    /// Find the zero: nobody on the bicycle, cranks as the maker says.
    ZeroOffset,
    /// Read the crank length it computes with.
    ReadCrankLength,
    /// Write the crank length it is to compute with, mm.
    WriteCrankLength {
        /// Length, mm; the wire has steps of half a millimetre.
        length_mm: f64,
    },
}

/// What came of it.
#[derive(Clone, Debug, PartialEq)]
pub enum PowerMeterEvent {
    /// The zero was found. The value is absent if the meter does not tell it.
    ZeroOffset {
        /// The offset in `unit`.
        value: Option<f64>,
        /// Force or torque.
        unit: OffsetUnit,
    },
    /// The crank length it computes with, mm.
    CrankLength {
        /// Length, mm; absent if it was only written.
        length_mm: Option<f64>,
    },
    /// It did not work.
    Failed {
        /// Why, in words.
        reason: String,
    },
}

/// One running procedure.
#[derive(Debug)]
pub struct PowerMeterTransaction {
    procedure: PowerMeterProcedure,
    unit: OffsetUnit,
    written: Timestamp,
    over: bool,
}

impl PowerMeterTransaction {
    /// Begins at `now`; the bytes are to be written to the control point, with response. `unit` is
    /// what the meter's features say about its offset.
    pub fn start(
        now: Timestamp,
        procedure: PowerMeterProcedure,
        unit: OffsetUnit,
    ) -> (Self, Vec<u8>) {
        let bytes = request(procedure).encode();
        (
            Self {
                procedure,
                unit,
                written: now,
                over: false,
            },
            bytes,
        )
    }

    /// What was asked.
    pub fn procedure(&self) -> PowerMeterProcedure {
        self.procedure
    }

    /// Whether it is over, one way or the other.
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// When the time-out falls due.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        (!self.over).then(|| self.written + PROCEDURE_TIMEOUT)
    }

    /// Fires the time-out.
    pub fn handle_time(&mut self, now: Timestamp) -> Option<PowerMeterEvent> {
        (!self.over && now - self.written >= PROCEDURE_TIMEOUT).then(|| {
            self.fail("no answer within 30 s; the link has to be made anew before the next try")
        })
    }

    /// Takes the acknowledgement of the write.
    pub fn handle_write_result(
        &mut self,
        result: &Result<(), AttError>,
    ) -> Option<PowerMeterEvent> {
        match result {
            Err(error) if !self.over => {
                Some(self.fail(&format!("the request could not be written: {error}")))
            }
            _ => None,
        }
    }

    /// Takes a packet; what does not answer the request is ignored.
    pub fn handle_packet(&mut self, packet: &Packet) -> Option<PowerMeterEvent> {
        if self.over || packet.characteristic != assigned::CYCLING_POWER_CONTROL_POINT {
            return None;
        }
        let response = Response::decode(&packet.bytes).ok()?.value;
        if response.request_op != request(self.procedure).op_code() {
            return None;
        }
        if response.result != ResultCode::Success {
            return Some(self.fail(&format!("the meter answers: {}", response.result)));
        }
        self.over = true;
        Some(match (self.procedure, response.parameter) {
            (PowerMeterProcedure::ZeroOffset, ResponseParameter::Offset(offset)) => {
                PowerMeterEvent::ZeroOffset {
                    value: offset.value(self.unit),
                    unit: self.unit,
                }
            }
            (PowerMeterProcedure::ZeroOffset, _) => PowerMeterEvent::ZeroOffset {
                value: None,
                unit: self.unit,
            },
            (
                _,
                ResponseParameter::CrankLength {
                    crank_length_mm: length_mm,
                },
            ) => PowerMeterEvent::CrankLength {
                length_mm: Some(length_mm),
            },
            _ => PowerMeterEvent::CrankLength { length_mm: None },
        })
    }

    fn fail(&mut self, reason: &str) -> PowerMeterEvent {
        self.over = true;
        PowerMeterEvent::Failed {
            reason: reason.to_owned(),
        }
    }
}

fn request(procedure: PowerMeterProcedure) -> Request {
    match procedure {
        PowerMeterProcedure::ZeroOffset => Request::StartOffsetCompensation,
        PowerMeterProcedure::ReadCrankLength => Request::RequestCrankLength,
        PowerMeterProcedure::WriteCrankLength { length_mm } => Request::SetCrankLength {
            crank_length_mm: length_mm,
        },
    }
}
