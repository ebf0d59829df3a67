//! The one voice that talks to a trainer's control point.
//!
//! The newest demand wins; one procedure runs at a time; control is requested first and again
//! whenever it was lost. Three rules are about safety and stand above everything else:
//!
//! - *Release overtakes.* A release does not wait behind another demand, nor long behind a
//!   procedure that is not answered, and is repeated until it is confirmed.
//! - *Nothing comes back by itself.* When a link or the control comes back, the only thing written
//!   is a release, until somebody asks for a load again.
//! - *A demand made without a link is not kept.* Whoever wants it must want it again.

use crate::assigned;
use crate::fitness_machine::control::{Request, Response, ResultCode, op_code};
use crate::fitness_machine::simulation::SimulationParameters;
use crate::fitness_machine::width::ResistanceWidth;
use crate::fitness_machine::status::Status;
use std::collections::VecDeque;
use std::fmt;
use units::{AttError, Packet, Span, Timestamp, Watts};

/// Without an indication for this long, a demand counts as unconfirmed.
pub const UNCONFIRMED_AFTER: Span = Span::from_secs(3);
/// Procedure time-out of the standard (30 s from the write), after which only a new link helps.
pub const PROCEDURE_TIMEOUT: Span = Span::from_secs(30);
/// A release waits no longer than this for the procedure before it.
pub const RELEASE_WAITS: Span = Span::from_millis(250);
/// Wait before a write that was turned away is tried again.
pub const RETRY_AFTER: Span = Span::from_millis(300);
/// Longest wait between two tries of a release.
pub const LONGEST_BACK_OFF: Span = Span::from_secs(2);
/// Wait before control is requested again after it was refused.
pub const ASK_AGAIN_AFTER: Span = Span::from_secs(2);

/// What the brake is asked to do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Demand {
    /// Hold this power.
    Power(Watts),
    /// A resistance level, in the unit of the control point (unitless).
    ResistanceLevel(f64),
    /// Simulate a slope.
    Slope {
        /// Grade, %.
        grade_pct: f64,
        /// Head wind, m/s.
        wind_m_per_s: f64,
        /// Coefficient of rolling resistance.
        crr: f64,
        /// Wind resistance coefficient, kg/m.
        cw_kg_per_m: f64,
    },
    /// No load.
    Release,
}

impl fmt::Display for Demand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Power(power) => write!(f, "{power:.0}"),
            Self::ResistanceLevel(level) => write!(f, "resistance {level:.1}"),
            Self::Slope { grade_pct, .. } => write!(f, "slope {grade_pct:.2}\u{a0}%"),
            Self::Release => f.write_str("release"),
        }
    }
}

/// How this trainer is unloaded, chosen from what it says it can do.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ControlMode {
    /// By target power, down to the lowest power it accepts, W.
    Power {
        /// Lowest target power, W.
        lowest_w: i16,
    },
    /// By resistance level, down to the lowest it accepts.
    Resistance {
        /// Lowest level.
        lowest: f64,
    },
    /// By slope: level, without rolling or wind resistance.
    Slope,
}

/// Whether there is a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Link {
    /// There is.
    Up,
    /// There is none.
    Down,
}

/// What the controller wants done or has to tell.
#[derive(Clone, Debug, PartialEq)]
pub enum ControlOutput {
    /// Write these bytes to the control point, with response.
    Write(Vec<u8>),
    /// Something happened.
    Event(ControlEvent),
}

/// What the conversation came to.
#[derive(Clone, Debug, PartialEq)]
pub enum ControlEvent {
    /// The trainer gave control.
    Granted,
    /// The trainer confirmed a demand.
    Confirmed {
        /// Which.
        demand: Demand,
        /// Time from the write to the confirmation.
        after: Span,
    },
    /// No answer for three seconds; measured power will have to tell.
    Unconfirmed {
        /// Which demand.
        demand: Option<Demand>,
    },
    /// No answer for thirty seconds: by the standard this link is of no more use for control.
    TimedOut,
    /// The trainer refused.
    Refused {
        /// What was asked.
        asked: String,
        /// What it answered.
        answer: String,
    },
    /// A write did not get through.
    WriteFailed {
        /// What was asked.
        asked: String,
        /// What went wrong.
        error: AttError,
    },
    /// Control was lost, and why.
    Lost {
        /// Why.
        reason: &'static str,
    },
    /// The demand was not kept because there is no link.
    NotKept {
        /// Which.
        demand: Demand,
    },
}

impl fmt::Display for ControlEvent {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Granted => f.write_str("control granted"),
            Self::Confirmed { demand, after } => {
                write!(f, "{demand} confirmed after {:.0} ms", after.as_secs_f64() * 1e3)
            }
            Self::Unconfirmed { demand: Some(demand) } => {
                write!(f, "{demand} not confirmed within 3 s; watch the measured power")
            }
            Self::Unconfirmed { demand: None } => f.write_str("no answer within 3 s"),
            Self::TimedOut => f.write_str("no answer within 30 s; the link has to be made anew"),
            Self::Refused { asked, answer } => write!(f, "{asked} refused: {answer}"),
            Self::WriteFailed { asked, error } => write!(f, "{asked} could not be written: {error}"),
            Self::Lost { reason } => write!(f, "control lost: {reason}"),
            Self::NotKept { demand } => write!(f, "{demand} not kept: there is no link"),
        }
    }
}

/// A summary for the screen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControlState {
    /// The newest demand.
    pub told: Option<Demand>,
    /// Whether the trainer confirmed it.
    pub confirmed: bool,
    /// Whether the brake is released as far as can be known.
    pub released: bool,
    /// Whether the trainer gave us control.
    pub has_control: bool,
    /// Whether only a new link can help.
    pub needs_new_link: bool,
}

#[derive(Debug)]
struct Pending {
    request: Request,
    demand: Option<Demand>,
    written: Timestamp,
    unconfirmed_told: bool,
}

/// The conversation with one trainer.
#[derive(Debug)]
pub struct Controller {
    mode: ControlMode,
    link: Link,
    has_control: bool,
    started: bool,
    /// A load was confirmed or may have been applied since the last confirmed release.
    maybe_loaded: bool,
    wanted: Option<Demand>,
    confirmed: Option<Demand>,
    refused: Option<Demand>,
    pending: Option<Pending>,
    not_before: Timestamp,
    back_off: Span,
    write_failures: u32,
    needs_new_link: bool,
    outputs: VecDeque<ControlOutput>,
}

impl Controller {
    /// A controller for a trainer that is linked and idle.
    pub fn new(mode: ControlMode) -> Self {
        Self {
            mode,
            link: Link::Up,
            has_control: false,
            started: false,
            maybe_loaded: false,
            wanted: None,
            confirmed: None,
            refused: None,
            pending: None,
            not_before: Timestamp::from_nanos(i64::MIN),
            back_off: RETRY_AFTER,
            write_failures: 0,
            needs_new_link: false,
            outputs: VecDeque::new(),
        }
    }

    /// Changes how the trainer is unloaded, once its features are known.
    pub fn set_mode(&mut self, mode: ControlMode) {
        self.mode = mode;
    }

    /// Asks for a load. The newest demand wins; without a link only a release is remembered.
    pub fn want(&mut self, now: Timestamp, demand: Demand) {
        self.handle_time(now);
        if self.link == Link::Down && demand != Demand::Release {
            self.event(ControlEvent::NotKept { demand });
            return;
        }
        if self.refused != Some(demand) {
            self.refused = None;
        }
        self.wanted = Some(demand);
        if demand == Demand::Release {
            self.not_before = now;
            self.back_off = RETRY_AFTER;
        }
        self.advance(now);
    }

    /// Takes the acknowledgement of the last write.
    pub fn handle_write_result(&mut self, now: Timestamp, result: &Result<(), AttError>) {
        self.handle_time(now);
        if let Err(error) = result
            && let Some(pending) = self.pending.take()
        {
            // A write answered by an error has begun nothing; by the standard it is simply gone.
            // Which error it was is not known on every system, so all are treated alike: wait,
            // ask for control again, try once more, then report.
            self.write_failures += 1;
            if self.write_failures > 1 || pending.demand == Some(Demand::Release) {
                self.event(ControlEvent::WriteFailed {
                    asked: words(&pending),
                    error: error.clone(),
                });
            }
            self.wait(now);
        }
        self.advance(now);
    }

    /// Takes a packet; everything but control-point indications and status is ignored.
    pub fn handle_packet(&mut self, packet: &Packet) {
        let now = packet.at;
        self.handle_time(now);
        match packet.characteristic {
            assigned::FITNESS_MACHINE_CONTROL_POINT => {
                if let Ok(decoded) = Response::decode(&packet.bytes) {
                    self.handle_response(now, &decoded.value);
                }
            }
            assigned::FITNESS_MACHINE_STATUS => {
                if let Ok(decoded) = Status::decode(&packet.bytes) {
                    self.handle_status(now, &decoded.value);
                }
            }
            _ => return,
        }
        self.advance(now);
    }

    /// Takes the news that the link went down or came up.
    pub fn handle_link(&mut self, now: Timestamp, link: Link) {
        self.handle_time(now);
        let was = std::mem::replace(&mut self.link, link);
        self.has_control = false;
        self.started = false;
        self.pending = None;
        self.confirmed = None;
        self.refused = None;
        self.needs_new_link = false;
        match link {
            Link::Down => {
                self.wanted = None;
                if was == Link::Up {
                    self.event(ControlEvent::Lost { reason: "the link is down" });
                }
            }
            Link::Up => {
                self.not_before = now;
                self.back_off = RETRY_AFTER;
                self.wanted = self.maybe_loaded.then_some(Demand::Release);
            }
        }
        self.advance(now);
    }

    /// Fires what has fallen due.
    pub fn handle_time(&mut self, now: Timestamp) {
        if let Some(pending) = &mut self.pending {
            if now - pending.written >= PROCEDURE_TIMEOUT {
                self.pending = None;
                self.needs_new_link = true;
                self.event(ControlEvent::TimedOut);
            } else if now - pending.written >= UNCONFIRMED_AFTER && !pending.unconfirmed_told {
                pending.unconfirmed_told = true;
                let demand = pending.demand;
                self.event(ControlEvent::Unconfirmed { demand });
            }
        }
        self.advance(now);
    }

    /// When [`Controller::handle_time`] wants to be called next.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        if self.link == Link::Down {
            return None;
        }
        let pending = self.pending.as_ref().map(|pending| {
            if self.release_is_waiting() {
                (pending.written + RELEASE_WAITS).max(self.not_before)
            } else if pending.demand == Some(Demand::Release) {
                pending.written + self.back_off
            } else if pending.unconfirmed_told {
                pending.written + PROCEDURE_TIMEOUT
            } else {
                pending.written + UNCONFIRMED_AFTER
            }
        });
        let next = (self.pending.is_none() && self.has_something_to_say()).then_some(self.not_before);
        pending.or(next)
    }

    /// The next thing to write or tell.
    pub fn poll_output(&mut self) -> Option<ControlOutput> {
        self.outputs.pop_front()
    }

    /// A summary of where the conversation stands.
    pub fn state(&self) -> ControlState {
        ControlState {
            told: self.wanted,
            confirmed: self.wanted.is_some() && self.wanted == self.confirmed,
            released: !self.maybe_loaded,
            has_control: self.has_control,
            needs_new_link: self.needs_new_link,
        }
    }

    fn handle_response(&mut self, now: Timestamp, response: &Response) {
        let answers_pending = self
            .pending
            .as_ref()
            .is_some_and(|pending| pending.request.op_code() == response.request_op);
        if !answers_pending {
            return;
        }
        let Some(pending) = self.pending.take() else { return };
        let after = now - pending.written;
        self.write_failures = 0;
        match (response.result, &pending.request) {
            (ResultCode::Success, Request::RequestControl) => {
                self.has_control = true;
                self.event(ControlEvent::Granted);
            }
            // Start while started is answered "operation failed"; that is no failure of ours.
            (ResultCode::Success | ResultCode::OperationFailed, Request::StartOrResume) => {
                self.started = true;
            }
            (ResultCode::Success, _) => self.confirm(pending.demand, after),
            (ResultCode::ControlNotPermitted, Request::RequestControl) => {
                self.refuse(&pending, response.result);
                self.not_before = now + ASK_AGAIN_AFTER;
            }
            (ResultCode::ControlNotPermitted, _) => {
                self.has_control = false;
                self.started = false;
                self.wait(now);
            }
            (result, Request::StartOrResume) => {
                // A trainer without start and resume is driven without.
                self.started = true;
                self.refuse(&pending, result);
            }
            (result, _) => {
                self.refuse(&pending, result);
                if pending.demand == Some(Demand::Release) {
                    self.wait(now);
                } else {
                    self.refused = pending.demand;
                }
            }
        }
    }

    fn handle_status(&mut self, now: Timestamp, status: &Status) {
        match status {
            Status::ControlPermissionLost => {
                self.has_control = false;
                self.started = false;
                self.pending = None;
                self.confirmed = None;
                self.wanted = self.maybe_loaded.then_some(Demand::Release);
                self.not_before = now;
                self.event(ControlEvent::Lost { reason: "the trainer took it back" });
            }
            // A careless trainer changes its load but never answers: its own word will do.
            Status::TargetPowerChanged { power_w } => {
                let echoed = self.pending.as_ref().is_some_and(|pending| {
                    pending.unconfirmed_told
                        && matches!(pending.request, Request::SetTargetPower { power_w: asked } if asked == *power_w)
                });
                if echoed && let Some(pending) = self.pending.take() {
                    self.confirm(pending.demand, now - pending.written);
                }
            }
            _ => {}
        }
    }

    fn confirm(&mut self, demand: Option<Demand>, after: Span) {
        let Some(demand) = demand else { return };
        self.confirmed = Some(demand);
        self.maybe_loaded = demand != Demand::Release;
        self.back_off = RETRY_AFTER;
        self.event(ControlEvent::Confirmed { demand, after });
    }

    fn refuse(&mut self, pending: &Pending, result: ResultCode) {
        self.event(ControlEvent::Refused { asked: words(pending), answer: result.to_string() });
    }

    /// After something went wrong: not at once again, and each time a little later.
    fn wait(&mut self, now: Timestamp) {
        self.not_before = now + self.back_off;
        self.back_off = (self.back_off * 2).min(LONGEST_BACK_OFF);
        if self.write_failures > 1 {
            self.has_control = false;
        }
    }

    fn release_is_waiting(&self) -> bool {
        self.wanted == Some(Demand::Release)
            && self.confirmed != self.wanted
            && self.pending.as_ref().is_some_and(|pending| pending.demand != self.wanted)
    }

    fn has_something_to_say(&self) -> bool {
        self.wanted.is_some() && self.wanted != self.confirmed && self.wanted != self.refused
    }

    /// Writes the next procedure if one is due and the last one is over.
    fn advance(&mut self, now: Timestamp) {
        if self.link == Link::Down || now < self.not_before || !self.has_something_to_say() {
            return;
        }
        if let Some(pending) = &self.pending {
            let overtaken = (self.release_is_waiting() && now - pending.written >= RELEASE_WAITS)
                || (pending.unconfirmed_told && pending.demand != self.wanted);
            let repeated = pending.demand == Some(Demand::Release)
                && now - pending.written >= self.back_off;
            if !overtaken && !repeated {
                return;
            }
            if repeated {
                self.back_off = (self.back_off * 2).min(LONGEST_BACK_OFF);
            }
        }
        let Some(wanted) = self.wanted else { return };
        let (request, demand) = if !self.has_control {
            (Request::RequestControl, None)
        } else if !self.started && wanted != Demand::Release {
            (Request::StartOrResume, None)
        } else {
            (self.request(wanted), Some(wanted))
        };
        if demand.is_some_and(|demand| demand != Demand::Release) {
            self.maybe_loaded = true;
            self.confirmed = None;
        }
        self.outputs.push_back(ControlOutput::Write(request.encode()));
        self.pending = Some(Pending { request, demand, written: now, unconfirmed_told: false });
    }

    fn request(&self, demand: Demand) -> Request {
        match (demand, self.mode) {
            (Demand::Power(power), _) => {
                Request::SetTargetPower { power_w: power.get().round().clamp(-32_768.0, 32_767.0) as i16 }
            }
            (Demand::ResistanceLevel(level), _) => Request::SetTargetResistance { level, width: ResistanceWidth::OneOctet },
            (Demand::Slope { grade_pct, wind_m_per_s, crr, cw_kg_per_m }, _) => {
                Request::SetSimulation(SimulationParameters {
                    wind_speed_m_per_s: wind_m_per_s,
                    grade_pct,
                    rolling_coefficient: crr,
                    wind_coefficient_kg_per_m: cw_kg_per_m,
                })
            }
            (Demand::Release, ControlMode::Power { lowest_w }) => {
                Request::SetTargetPower { power_w: lowest_w.max(0) }
            }
            (Demand::Release, ControlMode::Resistance { lowest }) => {
                Request::SetTargetResistance { level: lowest, width: ResistanceWidth::OneOctet }
            }
            (Demand::Release, ControlMode::Slope) => {
                Request::SetSimulation(SimulationParameters::default())
            }
        }
    }

    fn event(&mut self, event: ControlEvent) {
        self.outputs.push_back(ControlOutput::Event(event));
    }
}

fn words(pending: &Pending) -> String {
    match pending.demand {
        Some(demand) => demand.to_string(),
        None => op_code::name(pending.request.op_code()).unwrap_or("request").to_owned(),
    }
}
