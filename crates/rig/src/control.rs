//! The trainer's end of the fitness machine control point: who has control, what a request does,
//! what is answered. Bytes and rules after the Fitness Machine Service 1.0, section 4.16.
//!
//! What is absent: the brake itself. A request that changes the load says so in its [`Outcome`].

use crate::load::{Load, Slope};
use units::{AttError, Span, Timestamp};

/// Op codes of the control point.
mod op {
    pub(super) const REQUEST_CONTROL: u8 = 0x00;
    pub(super) const RESET: u8 = 0x01;
    pub(super) const RESISTANCE: u8 = 0x04;
    pub(super) const POWER: u8 = 0x05;
    pub(super) const START: u8 = 0x07;
    pub(super) const STOP: u8 = 0x08;
    pub(super) const SIMULATION: u8 = 0x11;
    pub(super) const SPIN_DOWN: u8 = 0x13;
    pub(super) const RESPONSE: u8 = 0x80;
}

/// Result codes of the control point.
mod result {
    pub(super) const SUCCESS: u8 = 0x01;
    pub(super) const NOT_SUPPORTED: u8 = 0x02;
    pub(super) const INVALID: u8 = 0x03;
    pub(super) const FAILED: u8 = 0x04;
    pub(super) const NOT_PERMITTED: u8 = 0x05;
}

/// Status op codes.
pub(crate) mod status {
    pub(crate) const RESET: u8 = 0x01;
    pub(crate) const STOPPED: u8 = 0x02;
    pub(crate) const STARTED: u8 = 0x04;
    pub(crate) const RESISTANCE: u8 = 0x07;
    pub(crate) const POWER: u8 = 0x08;
    pub(crate) const SIMULATION: u8 = 0x12;
    pub(crate) const SPIN_DOWN: u8 = 0x14;
    /// Values of the spin-down status.
    pub(crate) const SPIN_DOWN_SUCCESS: u8 = 0x02;
    pub(crate) const SPIN_DOWN_ERROR: u8 = 0x03;
    pub(crate) const SPIN_DOWN_STOP_PEDALLING: u8 = 0x04;
}

/// Training status values.
pub(crate) mod training {
    pub(crate) const IDLE: u8 = 0x01;
    pub(crate) const POWER_CONTROL: u8 = 0x0C;
    pub(crate) const MANUAL: u8 = 0x0D;
}

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
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Abilities {
    /// Highest resistance level.
    pub(crate) resistance_most: f64,
    /// Lowest and highest target power, W.
    pub(crate) power_range_w: (i16, i16),
    /// Spin-down speeds, low and high, km/h.
    pub(crate) spin_down_kmh: Option<(f64, f64)>,
    /// From a write to its indication.
    pub(crate) answer_after: Span,
}

/// What came of a write that was accepted.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Outcome {
    /// The indication to send.
    pub(crate) answer: Vec<u8>,
    /// When to send it.
    pub(crate) answer_at: Timestamp,
    /// The machine status to notify.
    pub(crate) status: Option<Vec<u8>>,
    /// The training status to notify.
    pub(crate) training: Option<u8>,
    /// The load from now on, if it changes.
    pub(crate) load: Option<Load>,
}

/// What a request did, before it is wrapped for sending.
struct Done {
    result: u8,
    parameter: Vec<u8>,
    status: Option<Vec<u8>>,
    training: Option<u8>,
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

    /// Takes a write.
    ///
    /// # Errors
    /// The ATT error with which the write itself is refused; nothing has begun then.
    pub(crate) fn write(&mut self, now: Timestamp, bytes: &[u8]) -> Result<Outcome, AttError> {
        if self.pending_until.is_some_and(|until| now < until) {
            return Err(AttError::Code(att::IN_PROGRESS));
        }
        let Some((&op, parameter)) = bytes.split_first() else {
            return Err(AttError::Code(att::INVALID_LENGTH));
        };
        if bytes.len() > MOST_BYTES {
            return Err(AttError::Code(att::INVALID_LENGTH));
        }
        let done = self.perform(op, parameter);
        let answer_at = now + self.abilities.answer_after;
        self.pending_until = Some(answer_at);
        let mut answer = vec![op::RESPONSE, op, done.result];
        answer.extend(done.parameter);
        Ok(Outcome {
            answer,
            answer_at,
            status: done.status,
            training: done.training,
            load: done.load,
        })
    }

    fn perform(&mut self, op: u8, parameter: &[u8]) -> Done {
        let supported = matches!(
            op,
            op::REQUEST_CONTROL
                | op::RESET
                | op::RESISTANCE
                | op::POWER
                | op::START
                | op::STOP
                | op::SIMULATION
        ) || (op == op::SPIN_DOWN && self.abilities.spin_down_kmh.is_some());
        if !supported {
            return Done::bare(result::NOT_SUPPORTED);
        }
        if op == op::REQUEST_CONTROL {
            if !parameter.is_empty() {
                return Done::bare(result::INVALID);
            }
            self.controlled = true;
            return Done::bare(result::SUCCESS);
        }
        if !self.controlled {
            return Done::bare(result::NOT_PERMITTED);
        }
        match op {
            op::RESET => self.reset(parameter),
            op::RESISTANCE => self.set_resistance(parameter),
            op::POWER => self.set_power(parameter),
            op::START => self.start(parameter),
            op::STOP => self.stop(parameter),
            op::SIMULATION => self.set_simulation(parameter),
            _ => self.set_spin_down(parameter),
        }
    }

    fn reset(&mut self, parameter: &[u8]) -> Done {
        if !parameter.is_empty() {
            return Done::bare(result::INVALID);
        }
        self.controlled = false;
        self.running = false;
        self.spin_down = SpinDown::None;
        Done {
            status: Some(vec![status::RESET]),
            training: Some(training::IDLE),
            load: Some(Load::Released),
            ..Done::bare(result::SUCCESS)
        }
    }

    fn set_resistance(&mut self, parameter: &[u8]) -> Done {
        let &[tenths] = parameter else {
            return Done::bare(result::INVALID);
        };
        let level = f64::from(tenths) / 10.0;
        if level > self.abilities.resistance_most {
            return Done::bare(result::INVALID);
        }
        self.load_set(
            Load::Level(level),
            training::MANUAL,
            vec![status::RESISTANCE, tenths, 0],
        )
    }

    fn set_power(&mut self, parameter: &[u8]) -> Done {
        let &[low, high] = parameter else {
            return Done::bare(result::INVALID);
        };
        let power_w = i16::from_le_bytes([low, high]);
        let (least_w, most_w) = self.abilities.power_range_w;
        if !(least_w..=most_w).contains(&power_w) {
            return Done::bare(result::INVALID);
        }
        self.load_set(
            Load::Power(f64::from(power_w)),
            training::POWER_CONTROL,
            vec![status::POWER, low, high],
        )
    }

    fn set_simulation(&mut self, parameter: &[u8]) -> Done {
        let &[w0, w1, g0, g1, crr, cw] = parameter else {
            return Done::bare(result::INVALID);
        };
        let slope = Slope {
            head_wind_mps: f64::from(i16::from_le_bytes([w0, w1])) / 1000.0,
            grade_pct: f64::from(i16::from_le_bytes([g0, g1])) / 100.0,
            rolling: f64::from(crr) / 10_000.0,
            air_kg_per_m: f64::from(cw) / 100.0,
        };
        let mut status = vec![status::SIMULATION];
        status.extend_from_slice(parameter);
        self.load_set(Load::Slope(slope), training::MANUAL, status)
    }

    /// A new load starts the session if it was stopped and ends a spin-down.
    fn load_set(&mut self, load: Load, training: u8, status: Vec<u8>) -> Done {
        self.running = true;
        self.spin_down = SpinDown::None;
        Done {
            status: Some(status),
            training: Some(training),
            load: Some(load),
            ..Done::bare(result::SUCCESS)
        }
    }

    /// Starting does not bring an earlier load back; the client sends it again.
    fn start(&mut self, parameter: &[u8]) -> Done {
        if !parameter.is_empty() {
            return Done::bare(result::INVALID);
        }
        if self.running {
            return Done::bare(result::FAILED);
        }
        self.running = true;
        Done {
            status: Some(vec![status::STARTED]),
            ..Done::bare(result::SUCCESS)
        }
    }

    fn stop(&mut self, parameter: &[u8]) -> Done {
        let &[how @ (1 | 2)] = parameter else {
            return Done::bare(result::INVALID);
        };
        if !self.running {
            return Done::bare(result::FAILED);
        }
        self.running = false;
        self.spin_down = SpinDown::None;
        Done {
            status: Some(vec![status::STOPPED, how]),
            training: (how == 1).then_some(training::IDLE),
            load: Some(Load::Released),
            ..Done::bare(result::SUCCESS)
        }
    }

    fn set_spin_down(&mut self, parameter: &[u8]) -> Done {
        let Some((low_kmh, high_kmh)) = self.abilities.spin_down_kmh else {
            return Done::bare(result::NOT_SUPPORTED);
        };
        match parameter {
            [1] => {
                self.spin_down = SpinDown::Accelerating;
                let hundredths = |kmh: f64| ((kmh * 100.0).round() as u16).to_le_bytes();
                Done {
                    parameter: [hundredths(low_kmh), hundredths(high_kmh)].concat(),
                    load: Some(Load::Released),
                    ..Done::bare(result::SUCCESS)
                }
            }
            [2] => {
                self.spin_down = SpinDown::None;
                Done::bare(result::SUCCESS)
            }
            _ => Done::bare(result::INVALID),
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

impl Done {
    fn bare(result: u8) -> Self {
        Self {
            result,
            parameter: Vec::new(),
            status: None,
            training: None,
            load: None,
        }
    }
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
        assert_eq!(taken.status, Some(vec![0x08, 0xC8, 0x00]));
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
