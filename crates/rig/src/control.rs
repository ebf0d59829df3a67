//! The trainer's end of the fitness machine control point: who has control, what a request does,
//! what is answered. Bytes and rules after the Fitness Machine Service 1.0, section 4.16.
//!
//! What is absent: the brake itself. A request that changes the load says so in its [`Outcome`].

use crate::load::{Load, Slope};
use crate::spec::TargetSpec;
use sensor::Anomaly;
use sensor::fitness_machine::ResistanceWidth;
use sensor::fitness_machine::control::{
    Request, Response, ResultCode, SpinDownCommand, SpinDownSpeeds, StopOrPause, op_code,
};
use sensor::fitness_machine::simulation::SimulationParameters;
use sensor::fitness_machine::status::Status;
use sensor::fitness_machine::training_status::TrainingState;
use units::{AttError, Span, Timestamp};

/// ATT errors used here.
pub(crate) mod att {
    pub(crate) const WRITE_NOT_PERMITTED: u8 = 0x03;
    pub(crate) const ATTRIBUTE_NOT_FOUND: u8 = 0x0A;
    pub(crate) const INVALID_LENGTH: u8 = 0x0D;
    pub(crate) const CCCD_NOT_SET: u8 = 0xFD;
    pub(crate) const IN_PROGRESS: u8 = 0xFE;
}

/// Longest value that fits a write at the smallest ATT_MTU.
pub(crate) const MOST_BYTES: usize = 20;

/// What the trainer can do.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Abilities {
    /// Highest resistance level.
    pub(crate) resistance_most: f64,
    /// Lowest and highest target power, W.
    pub(crate) power_range_w: (i16, i16),
    /// Spin-down speeds, low and high, km/h.
    pub(crate) spin_down_kmh: Option<(f64, f64)>,
    /// From a write to its indication.
    pub(crate) answer_after: Span,
    /// Targets it does not know.
    pub(crate) lacks: Vec<TargetSpec>,
}

/// What came of a write that was accepted.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Outcome {
    /// The indication to send.
    pub(crate) answer: Vec<u8>,
    /// When to send it.
    pub(crate) answer_at: Timestamp,
    /// The machine status to notify.
    pub(crate) status: Option<Status>,
    /// The training status to notify.
    pub(crate) training: Option<TrainingState>,
    /// The load from now on, if it changes.
    pub(crate) load: Option<Load>,
}

/// What a request did.
#[derive(Clone, Debug, Default)]
struct Done {
    spin_down: Option<SpinDownSpeeds>,
    status: Option<Status>,
    training: Option<TrainingState>,
    load: Option<Load>,
}

/// Where a spin-down stands.
#[derive(Clone, Copy, Debug, PartialEq)]
enum SpinDown {
    None,
    /// Waiting for the rider to go faster than the high speed.
    Accelerating,
    /// The rider was told to stop pedalling; waiting for the low speed.
    Coasting {
        pedalled_s: f64,
    },
}

/// The end of a spin-down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SpinDownEvent {
    /// Fast enough: tell the rider to stop pedalling.
    StopPedalling,
    /// Came down undisturbed.
    Success,
    /// The rider went on pedalling.
    Error,
}

/// The state of the control point.
#[derive(Clone, Debug)]
pub(crate) struct ControlPoint {
    abilities: Abilities,
    controlled: bool,
    running: bool,
    pending_until: Option<Timestamp>,
    spin_down: SpinDown,
}

/// Longest pedalling that a spin-down forgives, s.
const SPIN_DOWN_GRACE_S: f64 = 3.0;

impl ControlPoint {
    pub(crate) fn new(abilities: Abilities) -> Self {
        Self {
            abilities,
            controlled: false,
            running: false,
            pending_until: None,
            spin_down: SpinDown::None,
        }
    }

    /// The link is gone, and control and any procedure with it.
    pub(crate) fn link_lost(&mut self) {
        self.controlled = false;
        self.pending_until = None;
        self.spin_down = SpinDown::None;
    }

    /// Another controller takes control and releases the brake. What is pending is still answered.
    /// Whether control was ours before does not matter: everybody is told.
    pub(crate) fn taken_over(&mut self) -> Status {
        self.controlled = false;
        self.running = false;
        self.spin_down = SpinDown::None;
        Status::ControlPermissionLost
    }

    /// Takes a write.
    ///
    /// # Errors
    /// The ATT error with which the write itself is refused; nothing has begun then.
    pub(crate) fn write(&mut self, now: Timestamp, bytes: &[u8]) -> Result<Outcome, AttError> {
        if self.pending_until.is_some_and(|until| now < until) {
            return Err(AttError::Code(att::IN_PROGRESS));
        }
        let Some(&op) = bytes.first() else {
            return Err(AttError::Code(att::INVALID_LENGTH));
        };
        if bytes.len() > MOST_BYTES {
            return Err(AttError::Code(att::INVALID_LENGTH));
        }
        let (done, result) = match self.perform(op, bytes) {
            Ok(done) => (done, ResultCode::Success),
            Err(result) => (Done::default(), result),
        };
        let answer_at = now + self.abilities.answer_after;
        self.pending_until = Some(answer_at);
        let response = Response {
            request_op: op,
            result,
            spin_down: done.spin_down,
        };
        Ok(Outcome {
            answer: response.encode(),
            answer_at,
            status: done.status,
            training: done.training,
            load: done.load,
        })
    }

    fn perform(&mut self, op: u8, bytes: &[u8]) -> Result<Done, ResultCode> {
        let can = |target| !self.abilities.lacks.contains(&target);
        let supported = match op {
            op_code::REQUEST_CONTROL
            | op_code::RESET
            | op_code::START_OR_RESUME
            | op_code::STOP_OR_PAUSE => true,
            op_code::SET_TARGET_RESISTANCE => can(TargetSpec::Resistance),
            op_code::SET_TARGET_POWER => can(TargetSpec::Power),
            op_code::SET_SIMULATION => can(TargetSpec::Simulation),
            op_code::SPIN_DOWN => self.abilities.spin_down_kmh.is_some(),
            _ => false,
        };
        if !supported {
            return Err(ResultCode::OpCodeNotSupported);
        }
        if !self.controlled && op != op_code::REQUEST_CONTROL {
            return Err(ResultCode::ControlNotPermitted);
        }
        match understand(bytes)? {
            Request::RequestControl => {
                self.controlled = true;
                Ok(Done::default())
            }
            Request::Reset => Ok(self.reset()),
            Request::SetTargetResistance { level, width } => self.set_resistance(level, width),
            Request::SetTargetPower { power_w } => self.set_power(power_w),
            Request::StartOrResume => self.start(),
            Request::StopOrPause(how) => self.stop(how),
            Request::SetSimulation(road) => Ok(self.set_simulation(road)),
            Request::SpinDown(command) => self.set_spin_down(command),
            _ => Err(ResultCode::OpCodeNotSupported),
        }
    }

    fn reset(&mut self) -> Done {
        self.controlled = false;
        self.running = false;
        self.spin_down = SpinDown::None;
        Done {
            status: Some(Status::Reset),
            training: Some(TrainingState::Idle),
            load: Some(Load::Released),
            ..Done::default()
        }
    }

    /// By the letter of the standard a level has one octet; two are the wrong length.
    fn set_resistance(&mut self, level: f64, width: ResistanceWidth) -> Result<Done, ResultCode> {
        let in_range = (0.0..=self.abilities.resistance_most).contains(&level);
        if width != ResistanceWidth::OneOctet || !in_range {
            return Err(ResultCode::InvalidParameter);
        }
        let width = ResistanceWidth::TwoOctets;
        let status = Status::TargetResistanceChanged { level, width };
        Ok(self.load_set(Load::Level(level), TrainingState::Manual, status))
    }

    fn set_power(&mut self, power_w: i16) -> Result<Done, ResultCode> {
        let (least_w, most_w) = self.abilities.power_range_w;
        if !(least_w..=most_w).contains(&power_w) {
            return Err(ResultCode::InvalidParameter);
        }
        let status = Status::TargetPowerChanged { power_w };
        let load = Load::Power(f64::from(power_w));
        Ok(self.load_set(load, TrainingState::WattControl, status))
    }

    fn set_simulation(&mut self, road: SimulationParameters) -> Done {
        let slope = Slope {
            head_wind_mps: road.wind_speed_m_per_s,
            grade_pct: road.grade_pct,
            rolling: road.rolling_coefficient,
            air_kg_per_m: road.wind_coefficient_kg_per_m,
        };
        self.load_set(
            Load::Slope(slope),
            TrainingState::Manual,
            Status::SimulationChanged(road),
        )
    }

    /// A new load starts the session if it was stopped and ends a spin-down.
    fn load_set(&mut self, load: Load, training: TrainingState, status: Status) -> Done {
        self.running = true;
        self.spin_down = SpinDown::None;
        Done {
            status: Some(status),
            training: Some(training),
            load: Some(load),
            ..Done::default()
        }
    }

    /// Starting does not bring an earlier load back; the client sends it again.
    fn start(&mut self) -> Result<Done, ResultCode> {
        if self.running {
            return Err(ResultCode::OperationFailed);
        }
        self.running = true;
        Ok(Done {
            status: Some(Status::StartedOrResumed),
            ..Done::default()
        })
    }

    fn stop(&mut self, how: StopOrPause) -> Result<Done, ResultCode> {
        let training = match how {
            StopOrPause::Stop => Some(TrainingState::Idle),
            StopOrPause::Pause => None,
            StopOrPause::Reserved(_) => return Err(ResultCode::InvalidParameter),
        };
        if !self.running {
            return Err(ResultCode::OperationFailed);
        }
        self.running = false;
        self.spin_down = SpinDown::None;
        let status = Some(Status::StoppedOrPaused(how));
        Ok(Done {
            status,
            training,
            load: Some(Load::Released),
            ..Done::default()
        })
    }

    fn set_spin_down(&mut self, command: SpinDownCommand) -> Result<Done, ResultCode> {
        let Some((low_kmh, high_kmh)) = self.abilities.spin_down_kmh else {
            return Err(ResultCode::OpCodeNotSupported);
        };
        match command {
            SpinDownCommand::Start => {
                self.spin_down = SpinDown::Accelerating;
                let spin_down = Some(SpinDownSpeeds { low_kmh, high_kmh });
                Ok(Done {
                    spin_down,
                    load: Some(Load::Released),
                    ..Done::default()
                })
            }
            SpinDownCommand::Ignore => {
                self.spin_down = SpinDown::None;
                Ok(Done::default())
            }
            SpinDownCommand::Reserved(_) => Err(ResultCode::InvalidParameter),
        }
    }

    /// Follows a spin-down by the flywheel's speed.
    pub(crate) fn step(
        &mut self,
        step_s: f64,
        speed_kmh: f64,
        crank_w: f64,
    ) -> Option<SpinDownEvent> {
        let (low_kmh, high_kmh) = self.abilities.spin_down_kmh?;
        match self.spin_down {
            SpinDown::None => None,
            SpinDown::Accelerating if speed_kmh > high_kmh => {
                self.spin_down = SpinDown::Coasting { pedalled_s: 0.0 };
                Some(SpinDownEvent::StopPedalling)
            }
            SpinDown::Accelerating => None,
            SpinDown::Coasting { pedalled_s } if speed_kmh <= low_kmh => {
                self.spin_down = SpinDown::None;
                Some(if pedalled_s <= SPIN_DOWN_GRACE_S {
                    SpinDownEvent::Success
                } else {
                    SpinDownEvent::Error
                })
            }
            SpinDown::Coasting { pedalled_s } => {
                let more_s = if crank_w > 1.0 { step_s } else { 0.0 };
                self.spin_down = SpinDown::Coasting {
                    pedalled_s: pedalled_s + more_s,
                };
                None
            }
        }
    }
}

/// A request of a known op code; its parameter must have exactly the length it should.
fn understand(bytes: &[u8]) -> Result<Request, ResultCode> {
    let decoded = Request::decode(bytes).map_err(|_| ResultCode::InvalidParameter)?;
    let surplus = |anomaly: &Anomaly| matches!(anomaly, Anomaly::SurplusOctets { .. });
    if decoded.anomalies.iter().any(surplus) {
        return Err(ResultCode::InvalidParameter);
    }
    Ok(decoded.value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point() -> ControlPoint {
        ControlPoint::new(Abilities {
            resistance_most: 20.0,
            power_range_w: (0, 1000),
            spin_down_kmh: Some((20.0, 40.0)),
            answer_after: Span::from_millis(30),
            lacks: Vec::new(),
        })
    }

    fn hex(text: &str) -> Vec<u8> {
        text.split_whitespace()
            .map(|byte| u8::from_str_radix(byte, 16).unwrap())
            .collect()
    }

    /// Request → indication, in order, on one control point. The rules are those of the Fitness
    /// Machine Service 1.0 section 4.16 (response format, result codes 1 to 5, control first).
    #[test]
    fn the_control_point_answers_by_the_rules() {
        let conduct = [
            ("05 C8 00", "80 05 05"),    // no control yet
            ("01", "80 01 05"),          // Reset needs control, too
            ("13 01", "80 13 05"),       //
            ("02 00 00", "80 02 02"),    // target speed: not supported
            ("63", "80 63 02"),          // no such op code
            ("00 01", "80 00 03"),       // wrong length
            ("00", "80 00 01"),          //
            ("00", "80 00 01"),          // again is no mistake
            ("05 C8 00", "80 05 01"),    // 200 W
            ("05 E9 03", "80 05 03"),    // 1001 W: out of range
            ("05 CE FF", "80 05 03"),    // −50 W: out of range
            ("05 C8", "80 05 03"),       // wrong length
            ("05 C8 00 00", "80 05 03"), // wrong length
            ("04 C8", "80 04 01"),       // level 20.0
            ("04 C9", "80 04 03"),       // level 20.1: out of range
            ("04 32 00", "80 04 03"),    // wrong length
            ("07", "80 07 04"),          // started already
            ("08 03", "80 08 03"),       // neither stop nor pause
            ("08 02", "80 08 01"),       //
            ("08 01", "80 08 04"),       // stopped already
            ("07", "80 07 01"),          //
            ("11 E8 03 90 01 28 33", "80 11 01"),
            ("11 E8 03 90 01 28", "80 11 03"),
            ("13 01", "80 13 01 D0 07 A0 0F"), // 20.00 and 40.00 km/h
            ("13 02", "80 13 01"),             // refused: without speeds
            ("13 03", "80 13 03"),             //
            ("80 05 01", "80 80 02"),          // a response is no request
            ("01", "80 01 01"),                //
            ("05 C8 00", "80 05 05"),          // control ended with Reset
        ];
        let mut point = point();
        for (index, (request, answer)) in conduct.into_iter().enumerate() {
            let outcome = point
                .write(Timestamp::from_secs(index as i64), &hex(request))
                .unwrap();
            assert_eq!(outcome.answer, hex(answer), "request {request}");
        }
    }

    #[test]
    fn one_procedure_at_a_time() {
        let mut point = point();
        let first = point.write(Timestamp::ZERO, &[0x00]).unwrap();
        assert_eq!(first.answer_at, Timestamp::from_millis(30));
        let refused = point.write(Timestamp::from_millis(29), &[0x05, 0xC8, 0x00]);
        assert_eq!(refused, Err(AttError::Code(0xFE)));
        let taken = point
            .write(Timestamp::from_millis(30), &[0x05, 0xC8, 0x00])
            .unwrap();
        assert_eq!(taken.load, Some(Load::Power(200.0)));
        assert_eq!(taken.status.unwrap().encode(), [0x08, 0xC8, 0x00]);
    }

    #[test]
    fn every_way_out_releases() {
        for way_out in [&[0x01][..], &[0x08, 0x01], &[0x08, 0x02], &[0x13, 0x01]] {
            let mut point = point();
            for (at_s, bytes) in [(0, &[0x00][..]), (1, &[0x05, 0xC8, 0x00])] {
                point.write(Timestamp::from_secs(at_s), bytes).unwrap();
            }
            let outcome = point.write(Timestamp::from_secs(2), way_out).unwrap();
            assert_eq!(outcome.load, Some(Load::Released), "{way_out:02X?}");
        }
    }

    /// Appendix A.3 of the service: accelerate above the high speed, stop pedalling, coast to the
    /// low one.
    #[test]
    fn a_spin_down_goes_up_and_down() {
        for (coasting_w, end) in [(0.0, SpinDownEvent::Success), (90.0, SpinDownEvent::Error)] {
            let mut point = point();
            point.write(Timestamp::ZERO, &[0x00]).unwrap();
            point.write(Timestamp::from_secs(1), &[0x13, 0x01]).unwrap();
            let mut events = Vec::new();
            for second in 0..60 {
                let up = second < 25;
                let speed_kmh = if up {
                    2.0 * f64::from(second)
                } else {
                    90.0 - 1.8 * f64::from(second)
                };
                events.extend(point.step(1.0, speed_kmh, if up { 300.0 } else { coasting_w }));
            }
            assert_eq!(events.last(), Some(&end), "{events:?}");
            assert_eq!(events[0], SpinDownEvent::StopPedalling);
        }
    }
}
