//! A power meter at the crank or the pedals: power, crank revolutions and their event time, and
//! the control point with its offset compensation.

use crate::control::{MOST_BYTES, att};
use crate::noise::{Dice, Wander};
use crate::signal::{Signal, Turning};
use crate::spec::{MeterFields, MeterSpec, OneSidedSpec, PlaceSpec};
use crate::step::StepView;
use sensor::cycling_power::control::{
    ContentMask, MaskableContent, Offset, Request, Response, ResponseParameter, ResultCode, op_code,
};
use sensor::{Anomaly, DecodeError};
use std::f64::consts::TAU;
use std::ops::RangeInclusive;
use units::{AttError, Span, Timestamp};

/// Event-time ticks per second.
const TICKS_PER_S: f64 = 1024.0;
/// Steps of the accumulated torque and of the offset per N·m.
const TORQUE_STEPS_PER_NM: f64 = 32.0;
/// Crank speed below which the meter takes the crank for still, rad/s.
const STILL_RAD_PER_S: f64 = 0.2;
/// How long an offset compensation takes.
const COMPENSATION_TAKES: Span = Span::from_millis(2000);
/// How well an offset compensation finds the zero, N·m.
const COMPENSATION_SD_NM: f64 = 0.01;
/// Crank arms that can be set, mm.
const CRANK_LENGTHS_MM: RangeInclusive<f64> = 50.0..=300.0;
/// What it answers when asked how often it samples, Hz.
const SAMPLING_RATE_HZ: u8 = 200;
/// Correlation time of a leg's share, s.
const BALANCE_MEMORY_S: f64 = 120.0;

/// A power meter.
#[derive(Clone, Debug)]
pub(crate) struct Meter {
    spec: MeterSpec,
    place: PlaceSpec,
    pub(crate) signal: Signal,
    dice: Dice,
    balance: Wander,
    left_pct: f64,
    clock: f64,
    /// When it was last switched on, s.
    since_s: f64,
    turned_rev: f64,
    revolutions: u16,
    event_ticks: u16,
    rev_work_j: f64,
    torque_steps: f64,
    /// What the sensor gives unloaded, and what the meter takes for it, N·m.
    raw_zero_nm: f64,
    taken_zero_nm: f64,
    still_s: f64,
    zeroed_at_rest: bool,
    mask: ContentMask,
    crank_mm: f64,
    compensating: Option<(Timestamp, bool)>,
    pending_until: Option<Timestamp>,
}

/// What a meter sends as one measurement, besides power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct MeterRecord {
    pub(crate) left_pct: Option<f64>,
    pub(crate) torque_steps: Option<u16>,
    pub(crate) crank: Option<(u16, u16)>,
}

impl Meter {
    pub(crate) fn new(
        spec: MeterSpec,
        place: PlaceSpec,
        signal: Signal,
        clock_ppm: f64,
        mut dice: Dice,
    ) -> Self {
        let raw_zero_nm = dice.between(-12.0, 12.0);
        Self {
            place,
            signal,
            balance: Wander::new(BALANCE_MEMORY_S),
            left_pct: 50.0,
            clock: 1.0 + clock_ppm * 1e-6,
            since_s: 0.0,
            turned_rev: 0.0,
            // A meter has been ridden before; its counters do not begin at zero.
            revolutions: dice.between(0.0, 65_536.0) as u16,
            event_ticks: 0,
            rev_work_j: 0.0,
            torque_steps: dice.between(0.0, 65_536.0).floor(),
            raw_zero_nm,
            taken_zero_nm: raw_zero_nm - spec.zero_nm,
            still_s: 0.0,
            zeroed_at_rest: false,
            mask: ContentMask::default(),
            crank_mm: spec.crank_mm,
            compensating: None,
            pending_until: None,
            spec,
            dice,
        }
    }

    /// The link is gone; content mask and procedure end with it.
    pub(crate) fn link_lost(&mut self) {
        self.mask = ContentMask::default();
        self.compensating = None;
        self.pending_until = None;
    }

    /// It was switched off and on: counters and clock begin at zero.
    pub(crate) fn restart(&mut self, now_s: f64) {
        self.since_s = now_s;
        self.turned_rev = 0.0;
        self.revolutions = 0;
        self.event_ticks = 0;
        self.rev_work_j = 0.0;
        self.torque_steps = 0.0;
    }

    /// Takes in one step. Gives the new error of the zero, N·m, if the meter has just zeroed
    /// itself.
    pub(crate) fn absorb(&mut self, step: &StepView) -> Option<f64> {
        let crank = step.flow.crank_rad_per_s;
        let still = crank < STILL_RAD_PER_S;
        let true_w = match self.place {
            PlaceSpec::Hub => step.flow.hub_w(),
            PlaceSpec::Crank | PlaceSpec::Pedals | PlaceSpec::OneSide | PlaceSpec::Body => {
                step.flow.crank_w
            }
        };
        let wander = self.balance.step(step.step_s, &mut self.dice);
        let share = match self.spec.one_sided {
            Some(OneSidedSpec {
                left_pct,
                per_100_w,
                wander_pct,
            }) => {
                self.left_pct =
                    left_pct + per_100_w * (true_w - 200.0) / 100.0 + wander_pct * wander;
                2.0 * self.left_pct / 100.0
            }
            None => {
                self.left_pct = 50.0 + 0.6 * wander;
                1.0
            }
        };
        self.raw_zero_nm += self.spec.zero_nm_per_hour * step.step_s / 3600.0;
        let zero_nm = self.raw_zero_nm - self.taken_zero_nm;
        let turning = if still { Turning::No } else { Turning::Yes };
        let ideal_w = self.signal.absorb(
            step.step_s,
            true_w * share,
            zero_nm * crank,
            step.speed_kmh,
            turning,
        );
        self.count(step, ideal_w);
        if let Some((_, was_still)) = &mut self.compensating {
            *was_still &= still;
        }
        self.rest(step.step_s, still)
    }

    /// Counts revolutions and the torque of each.
    fn count(&mut self, step: &StepView, ideal_w: f64) {
        let turn_rev = step.flow.crank_rad_per_s * step.step_s / TAU;
        self.turned_rev += turn_rev;
        self.rev_work_j += ideal_w * step.step_s;
        if self.turned_rev >= 1.0 && turn_rev > 0.0 {
            self.turned_rev -= 1.0;
            let ago_s = self.turned_rev / turn_rev * step.step_s;
            let event_s = (step.ends.as_secs_f64() - ago_s - self.since_s) * self.clock;
            self.event_ticks = ((event_s * TICKS_PER_S).floor() as i64).rem_euclid(65_536) as u16;
            self.revolutions = self.revolutions.wrapping_add(1);
            self.torque_steps += self.rev_work_j / TAU * TORQUE_STEPS_PER_NM;
            self.rev_work_j = 0.0;
        }
    }

    /// Zeroes itself after a while at rest, if it is that kind of meter.
    fn rest(&mut self, step_s: f64, still: bool) -> Option<f64> {
        if !still {
            self.still_s = 0.0;
            self.zeroed_at_rest = false;
            return None;
        }
        self.still_s += step_s;
        let (after_s, sd_nm) = self.spec.auto_zero?;
        if self.zeroed_at_rest || self.still_s < after_s {
            return None;
        }
        self.zeroed_at_rest = true;
        self.taken_zero_nm = self.raw_zero_nm + sd_nm * self.dice.normal();
        Some(self.raw_zero_nm - self.taken_zero_nm)
    }

    /// What one measurement carries besides power.
    pub(crate) fn record(&self) -> MeterRecord {
        let shows = |content| !self.mask.contains(content);
        let fields = self.spec.fields;
        let torque =
            fields == MeterFields::CrankAndTorque && shows(MaskableContent::AccumulatedTorque);
        let balance = fields == MeterFields::CrankAndBalance && shows(MaskableContent::Balance);
        let crank = shows(MaskableContent::CrankRevolutions);
        MeterRecord {
            left_pct: balance.then_some(self.left_pct),
            torque_steps: torque
                .then(|| (self.torque_steps.round() as i64).rem_euclid(65_536) as u16),
            crank: crank.then_some((self.revolutions, self.event_ticks)),
        }
    }

    /// Takes a write to the control point; gives the answer and its moment, unless the answer
    /// waits for an offset compensation.
    ///
    /// # Errors
    /// The ATT error with which the write itself is refused.
    pub(crate) fn write(
        &mut self,
        now: Timestamp,
        bytes: &[u8],
    ) -> Result<Option<(Timestamp, Vec<u8>)>, AttError> {
        if self.compensating.is_some() || self.pending_until.is_some_and(|until| now < until) {
            return Err(AttError::Code(att::IN_PROGRESS));
        }
        let Some(&op) = bytes.first() else {
            return Err(AttError::Code(att::INVALID_LENGTH));
        };
        if bytes.len() > MOST_BYTES {
            return Err(AttError::Code(att::INVALID_LENGTH));
        }
        let mut response = Response::new(op, ResultCode::Success);
        match understand(bytes) {
            Ok(Request::StartOffsetCompensation) => {
                self.compensating = Some((now + COMPENSATION_TAKES, true));
                return Ok(None);
            }
            Ok(Request::RequestCrankLength) => {
                let crank_length_mm = self.crank_mm;
                response.parameter = ResponseParameter::CrankLength { crank_length_mm };
            }
            Ok(Request::SetCrankLength { crank_length_mm }) => {
                if CRANK_LENGTHS_MM.contains(&crank_length_mm) {
                    self.crank_mm = crank_length_mm;
                } else {
                    response.result = ResultCode::InvalidParameter;
                }
            }
            Ok(Request::MaskContent(mask)) => self.mask = mask,
            Ok(Request::RequestSamplingRate) => {
                let sampling_rate_hz = SAMPLING_RATE_HZ;
                response.parameter = ResponseParameter::SamplingRate { sampling_rate_hz };
            }
            Ok(_) => response.result = ResultCode::OpCodeNotSupported,
            Err(result) => response.result = result,
        }
        let answer_at = now + Span::from_millis(30);
        self.pending_until = Some(answer_at);
        Ok(Some((answer_at, response.encode())))
    }

    /// When a running offset compensation ends.
    pub(crate) fn compensation_due(&self) -> Option<Timestamp> {
        self.compensating.map(|(due, _)| due)
    }

    /// The answer to an offset compensation that has come to its end, and the new error of the
    /// zero, N·m, if it succeeded. It fails while the crank turns.
    pub(crate) fn compensated(&mut self, now: Timestamp) -> Option<(Vec<u8>, Option<f64>)> {
        let (due, still) = self.compensating?;
        if now < due {
            return None;
        }
        self.compensating = None;
        let op = op_code::START_OFFSET_COMPENSATION;
        if !still {
            return Some((
                Response::new(op, ResultCode::OperationFailed).encode(),
                None,
            ));
        }
        self.taken_zero_nm = self.raw_zero_nm + COMPENSATION_SD_NM * self.dice.normal();
        let steps = (self.taken_zero_nm * TORQUE_STEPS_PER_NM).round() as i16;
        let parameter = ResponseParameter::Offset(Offset { raw: Some(steps) });
        let answer = Response {
            request_op: op,
            result: ResultCode::Success,
            parameter,
        };
        Some((answer.encode(), Some(self.raw_zero_nm - self.taken_zero_nm)))
    }
}

/// A request this meter might carry out; its parameter must have exactly the length it should.
fn understand(bytes: &[u8]) -> Result<Request, ResultCode> {
    let decoded = Request::decode(bytes).map_err(|error| match error {
        DecodeError::UnknownOpCode { .. } => ResultCode::OpCodeNotSupported,
        DecodeError::TooShort { .. } => ResultCode::InvalidParameter,
    })?;
    let surplus = |anomaly: &Anomaly| matches!(anomaly, Anomaly::SurplusOctets { .. });
    if decoded.anomalies.iter().any(surplus) {
        return Err(ResultCode::InvalidParameter);
    }
    Ok(decoded.value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Flow;
    use crate::spec::SignalSpec;

    fn meter(spec: MeterSpec) -> Meter {
        let quiet = SignalSpec {
            noise_pct: 0.0,
            noise_w: 0.0,
            ..SignalSpec::default()
        };
        let signal = Signal::new(quiet, Dice::new(1, 2), 0.02);
        Meter::new(spec, PlaceSpec::Crank, signal, 0.0, Dice::new(1, 1))
    }

    fn ride(meter: &mut Meter, from_s: i64, seconds: i64, crank_w: f64, rpm: f64) {
        for step in from_s * 50..(from_s + seconds) * 50 {
            let flow = Flow {
                crank_w,
                crank_rad_per_s: rpm * TAU / 60.0,
                ..Flow::default()
            };
            let ends = Timestamp::from_millis(20 * (step + 1));
            meter.absorb(&StepView {
                ends,
                step_s: 0.02,
                flow,
                speed_kmh: 25.0,
            });
        }
    }

    /// 60·Δrev·1024/Δt is the cadence; Δtorque/32/Δrev·2π·cadence/60 the power
    /// (Cycling Power Service, measurement characteristic).
    #[test]
    fn counters_give_cadence_and_power_back() {
        let spec = MeterSpec {
            fields: MeterFields::CrankAndTorque,
            ..MeterSpec::default()
        };
        let mut meter = meter(spec);
        ride(&mut meter, 0, 10, 250.0, 93.0);
        let first = meter.record();
        ride(&mut meter, 10, 20, 250.0, 93.0);
        let second = meter.record();
        let ((rev_a, ticks_a), (rev_b, ticks_b)) = (first.crank.unwrap(), second.crank.unwrap());
        let revolutions = f64::from(rev_b.wrapping_sub(rev_a));
        let ticks = f64::from(ticks_b.wrapping_sub(ticks_a));
        let rpm = 60.0 * revolutions * 1024.0 / ticks;
        assert!((rpm - 93.0).abs() < 0.02, "{rpm}");
        let steps = second
            .torque_steps
            .unwrap()
            .wrapping_sub(first.torque_steps.unwrap());
        let power_w = f64::from(steps) / 32.0 / revolutions * TAU * rpm / 60.0;
        assert!((power_w - 250.0).abs() < 0.2, "{power_w}");
    }

    /// By hand: 1.5 N·m at 93 rpm are 14.608 W too much.
    #[test]
    fn an_offset_compensation_at_rest_removes_a_wrong_zero() {
        let mut meter = meter(MeterSpec {
            zero_nm: 1.5,
            ..MeterSpec::default()
        });
        ride(&mut meter, 0, 5, 200.0, 93.0);
        assert!((meter.signal.averaged_w() - 214.608).abs() < 0.01);
        let begins = Timestamp::from_secs(8);
        ride(&mut meter, 5, 3, 0.0, 0.0);
        assert_eq!(meter.write(begins, &[0x0C]), Ok(None));
        assert_eq!(meter.write(begins, &[0x05]), Err(AttError::Code(0xFE)));
        ride(&mut meter, 8, 2, 0.0, 0.0);
        let (answer, zero_nm) = meter.compensated(Timestamp::from_secs(10)).unwrap();
        assert_eq!((&answer[..3], answer.len()), (&[0x20, 0x0C, 0x01][..], 5));
        assert!(zero_nm.unwrap().abs() < 0.05);
        ride(&mut meter, 10, 5, 200.0, 93.0);
        assert!((meter.signal.averaged_w() - 200.0).abs() < 0.5);
    }

    #[test]
    fn an_offset_compensation_while_pedalling_fails() {
        let mut meter = meter(MeterSpec::default());
        meter.write(Timestamp::ZERO, &[0x0C]).unwrap();
        ride(&mut meter, 0, 2, 200.0, 93.0);
        let (answer, zero_nm) = meter.compensated(Timestamp::from_secs(2)).unwrap();
        assert_eq!((answer, zero_nm), (vec![0x20, 0x0C, 0x04], None));
    }

    /// Responses after the Cycling Power Service: `20 op value [parameter]`; 172.5 mm are 345
    /// half millimetres.
    #[test]
    fn the_control_point_answers_by_the_rules() {
        let mut meter = meter(MeterSpec::default());
        let conduct: [(&[u8], &[u8]); 7] = [
            (&[0x05], &[0x20, 0x05, 0x01, 0x59, 0x01]),
            (&[0x04, 0x5E, 0x01], &[0x20, 0x04, 0x01]),
            (&[0x05], &[0x20, 0x05, 0x01, 0x5E, 0x01]),
            (&[0x04, 0x01], &[0x20, 0x04, 0x03]),
            (&[0x03], &[0x20, 0x03, 0x02]),
            (&[0x0D, 0x08, 0x00], &[0x20, 0x0D, 0x01]),
            (&[0x20, 0x0C, 0x01], &[0x20, 0x20, 0x02]),
        ];
        for (second, (request, answer)) in conduct.into_iter().enumerate() {
            let now = Timestamp::from_secs(second as i64);
            let (at, bytes) = meter.write(now, request).unwrap().unwrap();
            assert_eq!(
                (at - now, bytes.as_slice()),
                (Span::from_millis(30), answer)
            );
        }
        assert_eq!(meter.record().crank, None);
        meter.link_lost();
        assert!(meter.record().crank.is_some());
        assert_eq!(
            meter.write(Timestamp::from_secs(20), &[]),
            Err(AttError::Code(0x0D))
        );
    }
}
