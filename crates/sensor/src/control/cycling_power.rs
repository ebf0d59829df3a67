//! One procedure at a time with the control point of a power meter: zero offset, crank length.
//!
//! Offset compensation may take many of the thirty seconds that the standard allows, so no shorter
//! limit is used. The unit of the offset is force or torque, as a feature bit says.

use crate::DecodeError;
use crate::assigned;
use crate::cycling_power::control::{
    OffsetUnit, Request, Response, ResponseParameter, ResultCode, op_code,
};
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
        /// Length, mm; the wire has steps of half a millimetre. The caller sees to it that it is
        /// the length of a crank: what does not fit saturates.
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
                Some(self.fail(&super::event::could_not_be_written("the request", error)))
            }
            _ => None,
        }
    }

    /// Takes the news that the link is gone, which ends every procedure.
    pub fn handle_link_lost(&mut self) -> Option<PowerMeterEvent> {
        (!self.over).then(|| self.fail("the link to the power meter was lost"))
    }

    /// Takes a packet; what does not answer the request is ignored.
    pub fn handle_packet(&mut self, packet: &Packet) -> Option<PowerMeterEvent> {
        if self.over || packet.characteristic != assigned::CYCLING_POWER_CONTROL_POINT {
            return None;
        }
        let op = request(self.procedure).op_code();
        let response = match Response::decode(&packet.bytes) {
            Ok(decoded) => decoded.value,
            // The meter did answer this request, only too shortly to be read.
            Err(error) if packet.bytes.starts_with(&[op_code::RESPONSE, op]) => {
                return Some(self.unreadable(&packet.bytes, error));
            }
            Err(_) => return None,
        };
        if response.request_op != op {
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

    /// A success whose value is missing is a success all the same; some meters leave it out.
    fn unreadable(&mut self, bytes: &[u8], error: DecodeError) -> PowerMeterEvent {
        let success = bytes.get(2) == Some(&ResultCode::Success.number());
        if success && self.procedure == PowerMeterProcedure::ZeroOffset {
            self.over = true;
            return PowerMeterEvent::ZeroOffset {
                value: None,
                unit: self.unit,
            };
        }
        self.fail(&format!("the answer of the meter cannot be read: {error}"))
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

#[cfg(test)]
mod tests {
    use super::*;
    use units::SourceId;

    fn begun(procedure: PowerMeterProcedure, unit: OffsetUnit) -> PowerMeterTransaction {
        PowerMeterTransaction::start(Timestamp::ZERO, procedure, unit).0
    }

    fn zero_offset() -> PowerMeterTransaction {
        begun(PowerMeterProcedure::ZeroOffset, OffsetUnit::Newtons)
    }

    fn says(run: &mut PowerMeterTransaction, bytes: &[u8]) -> Option<PowerMeterEvent> {
        run.handle_packet(&Packet {
            at: Timestamp::ZERO,
            source: SourceId(1),
            epoch: 1,
            characteristic: assigned::CYCLING_POWER_CONTROL_POINT,
            bytes: bytes.to_vec(),
        })
    }

    fn failed(reason: &str) -> Option<PowerMeterEvent> {
        Some(PowerMeterEvent::Failed {
            reason: reason.to_owned(),
        })
    }

    /// Bytes C3 and C4 of the shared vectors: 52 N or 1.625 N·m by feature bit 16, and 0xFFFF for
    /// not available (GATT Specification Supplement). A missing value counts as not told.
    #[test]
    fn a_zero_offset_has_the_unit_of_the_feature_bit() {
        for (bytes, unit, value) in [
            (
                &[0x20, 0x0C, 1, 0x34, 0][..],
                OffsetUnit::Newtons,
                Some(52.0),
            ),
            (
                &[0x20, 0x0C, 1, 0x34, 0],
                OffsetUnit::NewtonMetres,
                Some(1.625),
            ),
            (&[0x20, 0x0C, 1, 0xFF, 0xFF], OffsetUnit::Newtons, None),
            (&[0x20, 0x0C, 1], OffsetUnit::Newtons, None),
        ] {
            let mut run = begun(PowerMeterProcedure::ZeroOffset, unit);
            let event = PowerMeterEvent::ZeroOffset { value, unit };
            assert_eq!(says(&mut run, bytes), Some(event));
            assert!(run.is_over());
            assert_eq!(says(&mut run, bytes), None);
        }
    }

    /// Bytes C1 and C2 of the shared vectors.
    #[test]
    fn a_crank_length_is_read_and_written_in_half_millimetres() {
        let write = PowerMeterProcedure::WriteCrankLength { length_mm: 175.0 };
        let (mut run, bytes) =
            PowerMeterTransaction::start(Timestamp::ZERO, write, OffsetUnit::Newtons);
        assert_eq!(bytes, [0x04, 0x5E, 0x01]);
        let length_mm = None;
        assert_eq!(
            says(&mut run, &[0x20, 4, 1]),
            Some(PowerMeterEvent::CrankLength { length_mm })
        );
        let mut run = begun(PowerMeterProcedure::ReadCrankLength, OffsetUnit::Newtons);
        let length_mm = Some(172.5);
        assert_eq!(
            says(&mut run, &[0x20, 5, 1, 0x59, 1]),
            Some(PowerMeterEvent::CrankLength { length_mm })
        );
    }

    #[test]
    fn every_way_to_fail_is_told_in_words() {
        let refused = failed("the meter answers: operation failed");
        assert_eq!(says(&mut zero_offset(), &[0x20, 0x0C, 4]), refused);
        assert_eq!(
            zero_offset().handle_link_lost(),
            failed("the link to the power meter was lost")
        );
        let error = zero_offset().handle_write_result(&Err(AttError::Code(0xFD)));
        let words = "the request could not be written: attribute error 0xFD; its indications are \
                     not switched on; subscribe to the control point again";
        assert_eq!(error, failed(words));
        let mut run = begun(PowerMeterProcedure::ReadCrankLength, OffsetUnit::Newtons);
        assert_eq!(
            says(&mut run, &[0x20, 5, 1, 0x59]),
            failed(
                "the answer of the meter cannot be read: Cycling Power Control Point (2A66) needs \
                 5 bytes but has 4"
            )
        );
    }

    /// Offset compensation may use all of the thirty seconds.
    #[test]
    fn the_time_out_falls_due_at_thirty_seconds_and_other_answers_do_not_matter() {
        let mut run = zero_offset();
        for bytes in [
            &[0x20, 0x05, 0x01, 0x59, 0x01][..],
            &[0x20],
            &[],
            &[0x10, 0x0C, 0x01],
        ] {
            assert_eq!(says(&mut run, bytes), None);
        }
        assert_eq!(run.poll_timeout(), Some(Timestamp::from_secs(30)));
        assert_eq!(run.handle_time(Timestamp::from_millis(29_999)), None);
        assert!(run.handle_time(Timestamp::from_secs(30)).is_some());
        assert_eq!(run.poll_timeout(), None);
    }
}
