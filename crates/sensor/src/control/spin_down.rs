//! The spin-down procedure of a fitness machine, from the client's side.
//!
//! Start is written; the trainer answers with two speeds; the rider accelerates above the higher
//! one; the trainer says *stop pedalling*; it coasts down and reports success or failure. The
//! standard gives the coasting no time limit, so there is one of our own.

use crate::assigned;
use crate::fitness_machine::control::{Request, Response, ResultCode, SpinDownCommand, op_code};
use crate::fitness_machine::status::{SpinDownStatus, Status};
use units::{Packet, Span, Timestamp};

/// Our own limit for the whole procedure; the standard has none (bluetooth.md §8.2).
pub const LIMIT: Span = Span::from_secs(300);

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
    over: bool,
}

impl SpinDown {
    /// Begins at `now`; the bytes are to be written to the control point.
    pub fn start(now: Timestamp) -> (Self, Vec<u8>) {
        let request = Request::SpinDown(SpinDownCommand::Start);
        (
            Self {
                began: now,
                over: false,
            },
            request.encode(),
        )
    }

    /// Whether it is over, one way or the other.
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// When the limit falls due.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        (!self.over).then(|| self.began + LIMIT)
    }

    /// Fires the limit.
    pub fn handle_time(&mut self, now: Timestamp) -> Option<SpinDownEvent> {
        (!self.over && now - self.began >= LIMIT).then(|| {
            self.fail("nothing came of it within five minutes; release the load and try again")
        })
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
                        let speeds = response.spin_down;
                        SpinDownEvent::Speeds {
                            low_kmh: speeds.map(|speeds| speeds.low_kmh),
                            high_kmh: speeds.map(|speeds| speeds.high_kmh),
                        }
                    }
                    result => self.fail(&format!("the trainer refused: {result}")),
                })
            }
            assigned::FITNESS_MACHINE_STATUS => match Status::decode(&packet.bytes).ok()?.value {
                Status::SpinDown(SpinDownStatus::StopPedaling) => {
                    Some(SpinDownEvent::StopPedalling)
                }
                Status::SpinDown(SpinDownStatus::Success) => {
                    self.over = true;
                    Some(SpinDownEvent::Succeeded)
                }
                Status::SpinDown(SpinDownStatus::Error) => {
                    Some(self.fail("the trainer reports an error"))
                }
                _ => None,
            },
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
