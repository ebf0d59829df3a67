//! What the signal of an instrument can be.

use super::error::RigError;
use super::judge::Judge;
use crate::spec::{SignalSpec, Smoothing};

impl Judge<'_> {
    pub(super) fn signal(
        &self,
        at: &impl Fn(&str) -> String,
        signal: &SignalSpec,
    ) -> Result<(), RigError> {
        self.within(
            &at("signal.gain_pct"),
            signal.gain_pct,
            -50.0,
            100.0,
            "-50 to 100 %",
        )?;
        self.within(
            &at("signal.offset_w"),
            signal.offset_w,
            -500.0,
            500.0,
            "-500 to 500 W",
        )?;
        let speed_pct = signal.speed_pct_per_10_kmh;
        self.within(
            &at("signal.speed_pct_per_10_kmh"),
            speed_pct,
            -8.0,
            8.0,
            "-8 to 8 %",
        )?;
        self.within(
            &at("signal.pivot_kmh"),
            signal.pivot_kmh,
            0.0,
            80.0,
            "0 to 80 km/h",
        )?;
        for (field, value) in [
            (
                "signal.cadence_pct_per_10_rpm",
                signal.cadence_pct_per_10_rpm,
            ),
            ("signal.hysteresis_pct", signal.hysteresis_pct),
        ] {
            self.within(&at(field), value, -8.0, 8.0, "-8 to 8 %")?;
        }
        self.within(
            &at("signal.drift_pct"),
            signal.drift_pct,
            -10.0,
            10.0,
            "-10 to 10 %",
        )?;
        self.above_zero(&at("signal.drift_tau_s"), signal.drift_tau_s)?;
        self.within(
            &at("signal.noise_pct"),
            signal.noise_pct,
            0.0,
            30.0,
            "0 to 30 %",
        )?;
        self.within(
            &at("signal.noise_w"),
            signal.noise_w,
            0.0,
            100.0,
            "0 to 100 W",
        )?;
        self.within(
            &at("signal.wander_pct"),
            signal.wander_pct,
            0.0,
            30.0,
            "0 to 30 %",
        )?;
        self.above_zero(&at("signal.wander_memory_s"), signal.wander_memory_s)?;
        let (Smoothing::Mean(smoothing_s) | Smoothing::FirstOrder(smoothing_s)) = signal.smoothing;
        self.within(
            &at("signal.smoothing"),
            smoothing_s,
            0.02,
            60.0,
            "0.02 to 60 s",
        )?;
        self.within(
            &at("signal.delay_s"),
            signal.delay_s,
            0.0,
            30.0,
            "0 to 30 s",
        )?;
        self.within(
            &at("signal.step_w"),
            signal.step_w,
            0.001,
            100.0,
            "0.001 to 100 W",
        )
    }
}
