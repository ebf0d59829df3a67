//! A sensor of the speed and cadence service at the crank, and at the wheel if it counts that too.
//!
//! What is absent: a control point. The service allows one; this sensor has none.

use crate::spec::CadenceSpec;
use crate::step::StepView;
use sensor::cycling_power::measurement::CrankRevolutions;
use sensor::speed_cadence::{SlowWheelRevolutions, SpeedCadenceMeasurement};
use std::f64::consts::TAU;

/// Event-time ticks per second, for crank and wheel alike (Cycling Speed and Cadence Service).
const TICKS_PER_S: f64 = 1024.0;

/// A counter of full turns with the moment of the last one.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Turns {
    begun_rev: f64,
    revolutions: u32,
    event_ticks: u16,
}

impl Turns {
    /// Turns on by `turn_rev` in the step of `step_s` that ends at `ends_s` on the sensor's clock.
    fn turn(&mut self, turn_rev: f64, step_s: f64, ends_s: f64) {
        self.begun_rev += turn_rev;
        while self.begun_rev >= 1.0 && turn_rev > 0.0 {
            self.begun_rev -= 1.0;
            let event_s = ends_s - self.begun_rev / turn_rev * step_s;
            self.event_ticks = ((event_s * TICKS_PER_S).floor() as i64).rem_euclid(65_536) as u16;
            self.revolutions = self.revolutions.wrapping_add(1);
        }
    }
}

/// A cadence sensor.
#[derive(Clone, Debug)]
pub(crate) struct CadenceSensor {
    spec: CadenceSpec,
    clock: f64,
    /// When it was last switched on, s.
    since_s: f64,
    crank: Turns,
    wheel: Turns,
}

impl CadenceSensor {
    pub(crate) fn new(spec: CadenceSpec, clock_ppm: f64) -> Self {
        Self {
            spec,
            clock: 1.0 + clock_ppm * 1e-6,
            since_s: 0.0,
            crank: Turns::default(),
            wheel: Turns::default(),
        }
    }

    /// Takes in one step.
    pub(crate) fn absorb(&mut self, step: &StepView) {
        let ends_s = (step.ends.as_secs_f64() - self.since_s) * self.clock;
        let crank_rev = step.flow.crank_rad_per_s * step.step_s / TAU;
        self.crank.turn(crank_rev, step.step_s, ends_s);
        if let Some(wheel_mm) = self.spec.wheel_mm {
            let wheel_rev = step.speed_kmh / 3.6 * step.step_s / (wheel_mm / 1000.0);
            self.wheel.turn(wheel_rev, step.step_s, ends_s);
        }
    }

    /// It was switched off and on: counters and clock begin at zero.
    pub(crate) fn restart(&mut self, now_s: f64) {
        self.since_s = now_s;
        self.crank = Turns::default();
        self.wheel = Turns::default();
    }

    /// One measurement, encoded.
    pub(crate) fn record(&self) -> Vec<u8> {
        SpeedCadenceMeasurement {
            wheel: self.spec.wheel_mm.map(|_| SlowWheelRevolutions {
                revolutions: self.wheel.revolutions,
                event_time_1024: self.wheel.event_ticks,
            }),
            crank: Some(CrankRevolutions {
                revolutions: self.crank.revolutions as u16,
                event_time_1024: self.crank.event_ticks,
            }),
        }
        .encode()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Flow;
    use units::Timestamp;

    fn ride(sensor: &mut CadenceSensor, from_s: i64, seconds: i64) {
        for step in from_s * 50..(from_s + seconds) * 50 {
            let flow = Flow {
                crank_rad_per_s: 93.0 * TAU / 60.0,
                ..Flow::default()
            };
            sensor.absorb(&StepView {
                ends: Timestamp::from_millis(20 * (step + 1)),
                step_s: 0.02,
                flow,
                speed_kmh: 30.0,
            });
        }
    }

    fn decoded(sensor: &CadenceSensor) -> (SlowWheelRevolutions, CrankRevolutions) {
        let record = SpeedCadenceMeasurement::decode(&sensor.record()).unwrap();
        (record.value.wheel.unwrap(), record.value.crank.unwrap())
    }

    /// Cadence is 60·Δrev·1024/Δt and speed Δrev·circumference·1024/Δt (Cycling Speed and Cadence
    /// Service; both clocks tick at 1/1024 s).
    #[test]
    fn counters_give_cadence_and_speed_back() {
        let spec = CadenceSpec {
            wheel_mm: Some(2100.0),
            ..CadenceSpec::default()
        };
        let mut sensor = CadenceSensor::new(spec, 0.0);
        ride(&mut sensor, 0, 10);
        let (wheel_a, crank_a) = decoded(&sensor);
        ride(&mut sensor, 10, 20);
        let (wheel_b, crank_b) = decoded(&sensor);
        let rpm = 60.0 * 1024.0 * f64::from(crank_b.revolutions - crank_a.revolutions)
            / f64::from(
                crank_b
                    .event_time_1024
                    .wrapping_sub(crank_a.event_time_1024),
            );
        assert!((rpm - 93.0).abs() < 0.02, "{rpm}");
        let kmh = 3.6 * 2.1 * 1024.0 * f64::from(wheel_b.revolutions - wheel_a.revolutions)
            / f64::from(
                wheel_b
                    .event_time_1024
                    .wrapping_sub(wheel_a.event_time_1024),
            );
        assert!((kmh - 30.0).abs() < 0.02, "{kmh}");
    }

    #[test]
    fn a_restart_counts_from_zero_again() {
        let mut sensor = CadenceSensor::new(CadenceSpec::default(), 0.0);
        ride(&mut sensor, 0, 40);
        sensor.restart(40.0);
        ride(&mut sensor, 40, 2);
        let record = SpeedCadenceMeasurement::decode(&sensor.record()).unwrap();
        let crank = record.value.crank.unwrap();
        // 93 rpm for 2 s are 3.1 turns, the third ended after 1.935 s = 1981 ticks.
        assert_eq!(crank.revolutions, 3);
        assert!((1975..=1990).contains(&crank.event_time_1024), "{crank:?}");
    }
}
