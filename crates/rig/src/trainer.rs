//! A trainer: what its own instrument says of the power, cadence and speed, and its control point.

use crate::control::ControlPoint;
use crate::load::Load;
use crate::noise::Dice;
use crate::signal::{History, Signal, Turning};
use crate::spec::TrainerSpec;
use crate::step::StepView;
use std::f64::consts::TAU;

/// Averaging of the cadence it shows, s.
const CADENCE_WINDOW_S: f64 = 1.0;
/// Error of the cadence it shows, standard deviation, rpm: it has no sensor at the crank.
const CADENCE_SD_RPM: f64 = 0.3;

/// A trainer.
#[derive(Clone, Debug)]
pub(crate) struct Trainer {
    spec: TrainerSpec,
    pub(crate) signal: Signal,
    pub(crate) control: ControlPoint,
    dice: Dice,
    crank_rev: History,
    speed_kmh: f64,
    /// The value shown last and how old it is, s.
    shown: Option<(f64, f64)>,
}

/// What a trainer reports at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct TrainerRecord {
    pub(crate) power_w: f64,
    pub(crate) cadence_rpm: f64,
    pub(crate) speed_kmh: f64,
}

impl Trainer {
    pub(crate) fn new(
        spec: TrainerSpec,
        signal: Signal,
        control: ControlPoint,
        step_s: f64,
        dice: Dice,
    ) -> Self {
        Self {
            spec,
            signal,
            control,
            dice,
            crank_rev: History::new(CADENCE_WINDOW_S, step_s),
            speed_kmh: 0.0,
            shown: None,
        }
    }

    pub(crate) fn spec(&self) -> &TrainerSpec {
        &self.spec
    }

    /// Takes in one step.
    pub(crate) fn absorb(&mut self, step: &StepView) {
        let flow = &step.flow;
        let seen_w = flow.brake_w + self.spec.inertia_share * flow.kinetic_w;
        let turning = if step.speed_kmh > 1.0 {
            Turning::Yes
        } else {
            Turning::No
        };
        self.signal.turns(flow.crank_rad_per_s * 60.0 / TAU);
        self.signal
            .absorb(step.step_s, seen_w, 0.0, step.speed_kmh, turning);
        self.crank_rev.add(flow.crank_rad_per_s / TAU);
        self.speed_kmh = step.speed_kmh;
    }

    /// The next report, `since_s` after the one before it, under this load.
    pub(crate) fn record(&mut self, since_s: f64, load: Load) -> TrainerRecord {
        let renew_s = f64::from(self.spec.renew_ms.unwrap_or(0)) / 1000.0;
        let measured_w = match self.shown {
            Some((shown_w, age_s)) if age_s + since_s < renew_s - 1e-3 => {
                self.shown = Some((shown_w, age_s + since_s));
                shown_w
            }
            _ => {
                let fresh_w = self.signal.report(self.signal.averaged_w(), since_s);
                self.shown = Some((fresh_w, 0.0));
                fresh_w
            }
        };
        let echo = self.spec.echo_share;
        let power_w = match load {
            Load::Power(target_w) if echo > 0.0 && self.speed_kmh > 1.0 => {
                (1.0 - echo) * measured_w + echo * target_w
            }
            _ => measured_w,
        };
        let mean_rpm = 60.0 * self.crank_rev.mean(CADENCE_WINDOW_S, 0.0);
        let stray_rpm = CADENCE_SD_RPM * self.dice.normal();
        TrainerRecord {
            power_w,
            cadence_rpm: if mean_rpm > 20.0 {
                mean_rpm + stray_rpm
            } else {
                0.0
            },
            speed_kmh: self.speed_kmh,
        }
    }
}
