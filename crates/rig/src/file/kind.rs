//! What each kind of instrument can be: trainer, meter, cadence sensor, strap.

use super::error::RigError;
use super::judge::Judge;
use crate::spec::{CadenceSpec, MeterSpec, StrapSpec, TrainerSpec};

impl Judge<'_> {
    pub(super) fn trainer(
        &self,
        at: &impl Fn(&str) -> String,
        trainer: &TrainerSpec,
    ) -> Result<(), RigError> {
        self.report_ms(at, trainer.report_ms)?;
        for &after_s in &trainer.taken_over {
            self.not_negative(&at("taken_over"), after_s)?;
        }
        if let Some(report_ms) = trainer.power_service_ms {
            self.within(
                &at("power_service_ms"),
                f64::from(report_ms),
                20.0,
                60_000.0,
                "20 to 60000 ms",
            )?;
        }
        self.within(
            &at("inertia_share"),
            trainer.inertia_share,
            -1.0,
            2.0,
            "-1 to 2",
        )?;
        self.within(&at("echo_share"), trainer.echo_share, 0.0, 1.0, "0 to 1")?;
        if let Some((low_kmh, high_kmh)) = trainer.spin_down_kmh {
            self.within(&at("spin_down_kmh.0"), low_kmh, 1.0, 80.0, "1 to 80 km/h")?;
            self.within(
                &at("spin_down_kmh.1"),
                high_kmh,
                low_kmh,
                80.0,
                "above the low speed",
            )?;
        }
        self.within(
            &at("answer_ms"),
            f64::from(trainer.answer_ms),
            0.0,
            60_000.0,
            "0 to 60000 ms",
        )
    }

    pub(super) fn cadence(
        &self,
        at: &impl Fn(&str) -> String,
        sensor: &CadenceSpec,
    ) -> Result<(), RigError> {
        self.report_ms(at, sensor.report_ms)?;
        let wheel_mm = sensor.wheel_mm.unwrap_or(2100.0);
        self.within(&at("wheel_mm"), wheel_mm, 500.0, 3000.0, "500 to 3000 mm")
    }

    pub(super) fn strap(
        &self,
        at: &impl Fn(&str) -> String,
        strap: &StrapSpec,
    ) -> Result<(), RigError> {
        self.report_ms(at, strap.report_ms)?;
        self.within(&at("rest_bpm"), strap.rest_bpm, 30.0, 120.0, "30 to 120")?;
        let (rest_bpm, most_bpm) = (strap.rest_bpm, strap.most_bpm);
        self.within(
            &at("most_bpm"),
            most_bpm,
            rest_bpm,
            240.0,
            "rest_bpm to 240",
        )?;
        self.above_zero(&at("half_at_w"), strap.half_at_w)?;
        self.above_zero(&at("tau_s"), strap.tau_s)
    }

    fn report_ms(&self, at: &impl Fn(&str) -> String, report_ms: u32) -> Result<(), RigError> {
        self.within(
            &at("report_ms"),
            f64::from(report_ms),
            20.0,
            60_000.0,
            "20 to 60000 ms",
        )
    }

    pub(super) fn meter(
        &self,
        at: &impl Fn(&str) -> String,
        meter: &MeterSpec,
    ) -> Result<(), RigError> {
        self.report_ms(at, meter.report_ms)?;
        self.within(
            &at("location"),
            f64::from(meter.location),
            0.0,
            16.0,
            "0 to 16",
        )?;
        self.within(&at("crank_mm"), meter.crank_mm, 50.0, 300.0, "50 to 300 mm")?;
        self.within(&at("zero_nm"), meter.zero_nm, -50.0, 50.0, "-50 to 50 N·m")?;
        let per_hour = meter.zero_nm_per_hour;
        self.within(
            &at("zero_nm_per_hour"),
            per_hour,
            -20.0,
            20.0,
            "-20 to 20 N·m",
        )?;
        if let Some(one_sided) = meter.one_sided {
            self.within(
                &at("one_sided.left_pct"),
                one_sided.left_pct,
                1.0,
                99.0,
                "1 to 99 %",
            )?;
            self.within(
                &at("one_sided.per_100_w"),
                one_sided.per_100_w,
                -10.0,
                10.0,
                "-10 to 10",
            )?;
            self.within(
                &at("one_sided.wander_pct"),
                one_sided.wander_pct,
                0.0,
                10.0,
                "0 to 10",
            )?;
        }
        if let Some((after_s, sd_nm)) = meter.auto_zero {
            self.above_zero(&at("auto_zero.0"), after_s)?;
            self.not_negative(&at("auto_zero.1"), sd_nm)?;
        }
        Ok(())
    }
}
