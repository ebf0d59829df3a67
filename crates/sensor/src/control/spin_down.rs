//! The spin-down procedure of a fitness machine, from the client's side.
//!
//! Start is written; the trainer answers with two speeds; the rider accelerates above the higher
//! one; the trainer says *stop pedalling*; it coasts down and reports success or failure. The
//! standard gives the coasting no time limit, so there is one of our own; the answer to the start
//! has the thirty seconds of every procedure.
//!
//! The control point carries one procedure at a time: begin only with control and while the
//! [`Controller`](super::Controller) is idle.

use crate::assigned;
use crate::fitness_machine::control::{Request, Response, ResultCode, SpinDownCommand, op_code};
use crate::fitness_machine::status::{SpinDownStatus, Status};
use units::{AttError, Packet, Span, Timestamp};

/// Our own limit for the whole procedure; the standard has none (bluetooth.md §8.2).
pub const LIMIT: Span = Span::from_secs(300);

/// Procedure time-out of the standard for the answer to the start.
pub const ANSWER_WITHIN: Span = Span::from_secs(30);

/// What happened.
#[derive(Clone, Debug, PartialEq)]
pub enum SpinDownEvent {
    /// The trainer named its speeds: ride above the higher one, then stop pedalling.
    Speeds {
        /// End of the measured coasting, km/h.
        low_kmh: Option<f64>,
        /// Beginning of the measured coasting, km/h.
        high_kmh: Option<f64>,
    },
    /// The trainer says: stop pedalling.
    StopPedalling,
    /// It worked.
    Succeeded,
    /// It did not.
    Failed {
        /// Why, in words.
        reason: String,
    },
}

/// One run of the procedure.
#[derive(Debug)]
pub struct SpinDown {
    began: Timestamp,
    /// The trainer answered, or shows by its status that it took the start.
    answered: bool,
    over: bool,
}

impl SpinDown {
    /// Begins at `now`; the bytes are to be written to the control point.
    pub fn start(now: Timestamp) -> (Self, Vec<u8>) {
        let request = Request::SpinDown(SpinDownCommand::Start);
        let begun = Self {
            began: now,
            answered: false,
            over: false,
        };
        (begun, request.encode())
    }

    /// Whether it is over, one way or the other.
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// When the next limit falls due.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        let limit = if self.answered { LIMIT } else { ANSWER_WITHIN };
        (!self.over).then(|| self.began + limit)
    }

    /// Fires the limit.
    pub fn handle_time(&mut self, now: Timestamp) -> Option<SpinDownEvent> {
        self.poll_timeout().filter(|due| *due <= now)?;
        Some(if self.answered {
            self.fail("nothing came of it within five minutes; release the load and try again")
        } else {
            self.fail("no answer within 30 s; the link has to be made anew before the next try")
        })
    }

    /// Takes the acknowledgement of the write.
    pub fn handle_write_result(&mut self, result: &Result<(), AttError>) -> Option<SpinDownEvent> {
        match result {
            // An answer may be read before the acknowledgement, and then counts.
            Err(error) if !self.over && !self.answered => {
                Some(self.fail(&super::event::could_not_be_written("the start", error)))
            }
            _ => None,
        }
    }

    /// Takes the news that the link is gone.
    pub fn handle_link_lost(&mut self) -> Option<SpinDownEvent> {
        (!self.over).then(|| self.fail("the link to the trainer was lost"))
    }

    /// Takes a packet; what does not belong to the procedure is ignored.
    pub fn handle_packet(&mut self, packet: &Packet) -> Option<SpinDownEvent> {
        if self.over {
            return None;
        }
        match packet.characteristic {
            assigned::FITNESS_MACHINE_CONTROL_POINT => {
                let response = Response::decode(&packet.bytes).ok()?.value;
                if response.request_op != op_code::SPIN_DOWN {
                    return None;
                }
                Some(match response.result {
                    ResultCode::Success => {
                        self.answered = true;
                        let speeds = response.spin_down;
                        SpinDownEvent::Speeds {
                            low_kmh: speeds.map(|speeds| speeds.low_kmh),
                            high_kmh: speeds.map(|speeds| speeds.high_kmh),
                        }
                    }
                    result => self.fail(&format!("the trainer refused: {result}")),
                })
            }
            assigned::FITNESS_MACHINE_STATUS => {
                self.handle_status(&Status::decode(&packet.bytes).ok()?.value)
            }
            _ => None,
        }
    }

    fn handle_status(&mut self, status: &Status) -> Option<SpinDownEvent> {
        match status {
            Status::SpinDown(SpinDownStatus::StopPedaling) => {
                self.answered = true;
                Some(SpinDownEvent::StopPedalling)
            }
            Status::SpinDown(SpinDownStatus::Success) => {
                self.over = true;
                Some(SpinDownEvent::Succeeded)
            }
            Status::SpinDown(SpinDownStatus::Error) => {
                Some(self.fail("the trainer reports an error"))
            }
            Status::ControlPermissionLost => Some(self.fail("the trainer took control back")),
            _ => None,
        }
    }

    fn fail(&mut self, reason: &str) -> SpinDownEvent {
        self.over = true;
        SpinDownEvent::Failed {
            reason: reason.to_owned(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use units::{Characteristic, SourceId};

    const POINT: Characteristic = assigned::FITNESS_MACHINE_CONTROL_POINT;
    const STATUS: Characteristic = assigned::FITNESS_MACHINE_STATUS;

    fn packet(characteristic: Characteristic, bytes: &[u8]) -> Packet {
        Packet {
            at: Timestamp::ZERO,
            source: SourceId(1),
            epoch: 1,
            characteristic,
            bytes: bytes.to_vec(),
        }
    }

    fn begun() -> SpinDown {
        let (run, bytes) = SpinDown::start(Timestamp::ZERO);
        assert_eq!(bytes, [0x13, 0x01]);
        run
    }

    fn failed(reason: &str) -> Option<SpinDownEvent> {
        Some(SpinDownEvent::Failed {
            reason: reason.to_owned(),
        })
    }

    /// Bytes T9, T10, Z3 and Z4 of the shared vectors; the order is that of appendix A.3 of the
    /// Fitness Machine Service 1.0.1, with the surplus octets of its A.3.1.
    #[test]
    fn the_whole_procedure() {
        let mut run = begun();
        let mut says =
            |characteristic, bytes: &[u8]| run.handle_packet(&packet(characteristic, bytes));
        assert_eq!(says(STATUS, &[0x14, 0x01]), None);
        assert_eq!(says(POINT, &[0x80, 0x05, 0x01]), None);
        let speeds = SpinDownEvent::Speeds {
            low_kmh: Some(20.0),
            high_kmh: Some(40.0),
        };
        assert_eq!(
            says(POINT, &[0x80, 0x13, 1, 0xD0, 0x07, 0xA0, 0x0F]),
            Some(speeds)
        );
        assert_eq!(
            says(STATUS, &[0x14, 0x04]),
            Some(SpinDownEvent::StopPedalling)
        );
        assert_eq!(
            says(STATUS, &[0x14, 0x02, 0x10, 0x27]),
            Some(SpinDownEvent::Succeeded)
        );
        assert_eq!(says(STATUS, &[0x14, 0x03]), None);
        assert!(run.is_over() && run.poll_timeout().is_none());
    }

    #[test]
    fn every_way_to_fail_is_told_in_words() {
        let from =
            |characteristic, bytes: &[u8]| begun().handle_packet(&packet(characteristic, bytes));
        let refused = failed("the trainer refused: operation failed");
        assert_eq!(from(POINT, &[0x80, 0x13, 0x04]), refused);
        assert_eq!(
            from(STATUS, &[0x14, 0x03]),
            failed("the trainer reports an error")
        );
        assert_eq!(
            from(STATUS, &[0xFF]),
            failed("the trainer took control back")
        );
        assert_eq!(
            begun().handle_link_lost(),
            failed("the link to the trainer was lost")
        );
        assert_eq!(
            begun().handle_write_result(&Err(AttError::Code(0xFE))),
            failed(
                "the start could not be written: attribute error 0xFE; it is still busy with the \
                 procedure before"
            )
        );
        assert_eq!(begun().handle_write_result(&Ok(())), None);
        assert_eq!(from(POINT, &[0x80, 0x13]), None);
    }

    #[test]
    fn the_limits_fall_due_at_their_own_moments() {
        let mut run = begun();
        assert_eq!(run.poll_timeout(), Some(Timestamp::from_secs(30)));
        assert_eq!(run.handle_time(Timestamp::from_millis(29_999)), None);
        let words = "no answer within 30 s; the link has to be made anew before the next try";
        assert_eq!(run.handle_time(Timestamp::from_secs(30)), failed(words));
        let mut run = begun();
        // Without speeds, as in appendix A.3.3.
        assert!(
            run.handle_packet(&packet(POINT, &[0x80, 0x13, 0x01]))
                .is_some()
        );
        assert_eq!(run.poll_timeout(), Some(Timestamp::from_secs(300)));
        assert_eq!(run.handle_time(Timestamp::from_secs(299)), None);
        assert!(run.handle_time(Timestamp::from_secs(300)).is_some());
        assert_eq!(run.handle_time(Timestamp::from_secs(301)), None);
    }
}
