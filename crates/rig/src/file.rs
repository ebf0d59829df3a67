//! The rig file: a RON text that describes a simulated bench, and the plan it becomes once it has
//! been judged. A [`RigPlan`] that exists can be run.

use crate::spec::{
    BrakeSpec, CadenceSpec, DrivetrainSpec, InstrumentSpec, KindSpec, MeterSpec, RiderSpec,
    RoleSpec, SignalSpec, Smoothing, StrapSpec, TrainerSpec,
};
use serde::{Deserialize, Serialize};

/// A rig file as it is written.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RigFile {
    /// One line for people.
    pub title: String,
    /// The scenario in words; says that it is invented.
    pub about: String,
    /// What is wrong with the instruments, in words and numbers.
    pub injected: String,
    /// The rider.
    #[serde(default)]
    pub rider: RiderSpec,
    /// Development of the gear at the beginning, metres per crank revolution.
    pub development_m: f64,
    /// Loss between crank and hub.
    #[serde(default)]
    pub drivetrain: DrivetrainSpec,
    /// The machine that brakes.
    #[serde(default)]
    pub brake: BrakeSpec,
    /// The instruments, the device under test first.
    pub instruments: Vec<InstrumentSpec>,
}

/// A rig file that was found runnable.
#[derive(Clone, Debug, PartialEq)]
pub struct RigPlan(RigFile);

/// Why a rig file cannot be run.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum RigError {
    /// The text is not a rig file.
    #[error("{name}, line {line}, column {column}: {reason}; compare with a built-in rig")]
    Syntax {
        /// Name of the file.
        name: String,
        /// Line, from 1.
        line: usize,
        /// Column, from 1.
        column: usize,
        /// What the reader said.
        reason: String,
    },
    /// A value cannot be.
    #[error("{name}: {field} is {value}, but must be {must}")]
    Value {
        /// Name of the file.
        name: String,
        /// Which field of which part.
        field: String,
        /// What it is.
        value: String,
        /// What it must be.
        must: &'static str,
    },
    /// No built-in rig has this name.
    #[error("there is no built-in rig {name:?}; there are {known}")]
    Unknown {
        /// The name asked for.
        name: String,
        /// The names there are.
        known: String,
    },
}

impl RigFile {
    /// Reads a rig file; `name` is for messages.
    ///
    /// # Errors
    /// [`RigError::Syntax`] with line and column.
    pub fn parse(text: &str, name: &str) -> Result<Self, RigError> {
        let options = ron::Options::default()
            .with_default_extension(ron::extensions::Extensions::IMPLICIT_SOME)
            .with_default_extension(ron::extensions::Extensions::UNWRAP_VARIANT_NEWTYPES);
        options.from_str(text).map_err(|error| RigError::Syntax {
            name: name.to_owned(),
            line: error.span.start.line,
            column: error.span.start.col,
            reason: error.code.to_string(),
        })
    }

    /// Judges the file; `name` is for messages.
    ///
    /// # Errors
    /// [`RigError::Value`] for the first value that cannot be.
    pub fn check(self, name: &str) -> Result<RigPlan, RigError> {
        let judge = Judge { name };
        let rider = &self.rider;
        judge.within("development_m", self.development_m, 1.0, 12.0, "1 to 12 m")?;
        judge.within(
            "rider.preferred_rpm",
            rider.preferred_rpm,
            30.0,
            130.0,
            "30 to 130 rpm",
        )?;
        judge.within(
            "rider.cadence_sd_rpm",
            rider.cadence_sd_rpm,
            0.0,
            20.0,
            "0 to 20 rpm",
        )?;
        judge.above_zero("rider.cadence_memory_s", rider.cadence_memory_s)?;
        judge.within(
            "rider.torque_sd_pct",
            rider.torque_sd_pct,
            0.0,
            50.0,
            "0 to 50 %",
        )?;
        judge.above_zero("rider.strength_nm", rider.strength_nm)?;
        judge.above_zero("rider.burst_nm", rider.burst_nm)?;
        judge.above_zero("rider.burst_end_rpm", rider.burst_end_rpm)?;
        judge.above_zero("rider.tires_after_kj", rider.tires_after_kj)?;
        judge.not_negative("rider.stands_per_hour", rider.stands_per_hour)?;
        judge.ordered("rider.reaction_s", rider.reaction_s)?;
        judge.within(
            "drivetrain.constant_w",
            self.drivetrain.constant_w,
            0.0,
            50.0,
            "0 to 50 W",
        )?;
        judge.within(
            "drivetrain.fraction_pct",
            self.drivetrain.fraction_pct,
            0.0,
            50.0,
            "0 to 50 %",
        )?;
        judge.brake(&self.brake)?;
        if self.instruments.is_empty() {
            return Err(judge.no("instruments", "empty", "at least one instrument"));
        }
        for (index, instrument) in self.instruments.iter().enumerate() {
            judge.instrument(index, instrument)?;
        }
        let trainers = |i: &&InstrumentSpec| matches!(i.kind, KindSpec::Trainer(_));
        let count = self.instruments.iter().filter(trainers).count();
        if count > 1 {
            return Err(judge.no(
                "instruments",
                &format!("{count} trainers"),
                "at most one trainer",
            ));
        }
        let under_test = |i: &&InstrumentSpec| i.role == RoleSpec::UnderTest;
        let count = self.instruments.iter().filter(under_test).count();
        if count != 1 {
            let found = format!("{count} under_test");
            return Err(judge.no("instruments", &found, "exactly one instrument under test"));
        }
        Ok(RigPlan(self))
    }
}

impl RigPlan {
    /// Reads and judges a rig file; `name` is for messages.
    ///
    /// # Errors
    /// [`RigError`], naming file, place and remedy.
    pub fn parse(text: &str, name: &str) -> Result<Self, RigError> {
        RigFile::parse(text, name)?.check(name)
    }

    /// The file behind the plan.
    pub fn file(&self) -> &RigFile {
        &self.0
    }

    /// One line for people.
    pub fn title(&self) -> &str {
        &self.0.title
    }
}

/// Judges values under the name of one file.
struct Judge<'a> {
    name: &'a str,
}

impl Judge<'_> {
    fn no(&self, field: &str, value: &str, must: &'static str) -> RigError {
        RigError::Value {
            name: self.name.to_owned(),
            field: field.to_owned(),
            value: value.to_owned(),
            must,
        }
    }

    fn within(
        &self,
        field: &str,
        value: f64,
        low: f64,
        high: f64,
        must: &'static str,
    ) -> Result<(), RigError> {
        if (low..=high).contains(&value) {
            Ok(())
        } else {
            Err(self.no(field, &value.to_string(), must))
        }
    }

    fn above_zero(&self, field: &str, value: f64) -> Result<(), RigError> {
        self.within(field, value, 1e-9, 1e9, "above zero")
    }

    fn not_negative(&self, field: &str, value: f64) -> Result<(), RigError> {
        self.within(field, value, 0.0, 1e9, "zero or more")
    }

    fn ordered(&self, field: &str, (low, high): (f64, f64)) -> Result<(), RigError> {
        self.not_negative(field, low)?;
        self.within(field, high, low, 1e9, "a pair, the smaller first")
    }

    fn brake(&self, brake: &BrakeSpec) -> Result<(), RigError> {
        self.within(
            "brake.equivalent_mass_kg",
            brake.equivalent_mass_kg,
            1.0,
            200.0,
            "1 to 200 kg",
        )?;
        for (field, value) in [
            ("brake.rise_w_per_s", brake.rise_w_per_s),
            ("brake.fall_w_per_s", brake.fall_w_per_s),
            ("brake.listen_s", brake.listen_s),
            ("brake.actuator_s", brake.actuator_s),
            ("brake.ceiling_n", brake.ceiling_n),
            ("brake.ceiling_n_per_mps", brake.ceiling_n_per_mps),
            ("brake.full_resistance_n", brake.full_resistance_n),
            ("brake.resistance_most", brake.resistance_most),
            ("brake.simulated_mass_kg", brake.simulated_mass_kg),
            ("brake.warm_up_tau_s", brake.warm_up_tau_s),
        ] {
            self.above_zero(field, value)?;
        }
        for (field, value) in [
            ("brake.dead_time_s", brake.dead_time_s),
            ("brake.loop_per_s", brake.loop_per_s),
            ("brake.power_from_mps", brake.power_from_mps),
            ("brake.floor_n", brake.floor_n),
            ("brake.floor_n_per_mps2", brake.floor_n_per_mps2),
            ("brake.grade_most_pct", brake.grade_most_pct),
            ("brake.grade_share", brake.grade_share),
        ] {
            self.not_negative(field, value)?;
        }
        let (least_w, most_w) = brake.power_range_w;
        if least_w >= most_w {
            let value = format!("({least_w}, {most_w})");
            return Err(self.no("brake.power_range_w", &value, "a pair, the smaller first"));
        }
        Ok(())
    }

    fn instrument(&self, index: usize, spec: &InstrumentSpec) -> Result<(), RigError> {
        let at = |field: &str| format!("instruments[{index}].{field}");
        if spec.name.trim().is_empty() {
            return Err(self.no(&at("name"), "empty", "a name"));
        }
        self.signal(&at, &spec.signal)?;
        match &spec.kind {
            KindSpec::Trainer(trainer) => self.trainer(&at, trainer)?,
            KindSpec::Meter(meter) => self.meter(&at, meter)?,
            KindSpec::Cadence(sensor) => self.cadence(&at, sensor)?,
            KindSpec::HeartRate(strap) => self.strap(&at, strap)?,
        }
        let measures_power = matches!(spec.kind, KindSpec::Trainer(_) | KindSpec::Meter(_));
        if !measures_power && spec.role != RoleSpec::Witness {
            return Err(self.no(&at("role"), "a judge", "witness: it measures no power"));
        }
        for upset in &spec.upsets.planned {
            self.not_negative(&at("upsets.planned.after_ridden_s"), upset.after_ridden_s)?;
            self.within(
                &at("upsets.planned.seconds"),
                upset.seconds,
                0.02,
                3600.0,
                "0.02 to 3600 s",
            )?;
        }
        if let Some(chance) = spec.upsets.by_chance {
            self.within(
                &at("upsets.by_chance.per_hour"),
                chance.per_hour,
                0.0,
                600.0,
                "0 to 600",
            )?;
            self.ordered(&at("upsets.by_chance.seconds"), chance.seconds)?;
        }
        let link = &spec.link;
        for (field, pct) in [
            ("link.lost_pct", link.lost_pct),
            ("link.twice_pct", link.twice_pct),
            ("link.late_pct", link.late_pct),
        ] {
            self.within(&at(field), pct, 0.0, 100.0, "0 to 100 %")?;
        }
        self.within(
            &at("link.delay_ms"),
            link.delay_ms,
            0.0,
            5000.0,
            "0 to 5000 ms",
        )?;
        self.within(
            &at("link.jitter_ms"),
            link.jitter_ms,
            0.0,
            1000.0,
            "0 to 1000 ms",
        )?;
        self.within(
            &at("link.clock_ppm"),
            link.clock_ppm,
            -10_000.0,
            10_000.0,
            "-10000 to 10000",
        )?;
        self.not_negative(&at("link.lost_links_per_hour"), link.lost_links_per_hour)?;
        if let Some(phase) = link.phase {
            self.within(&at("link.phase"), phase, 0.0, 1.0, "0 to 1")?;
        }
        let spans = link.lost_links.iter().chain(&link.silences);
        for &(after_s, seconds) in spans.chain(&link.restarts) {
            self.not_negative(&at("link: seconds after connection"), after_s)?;
            self.not_negative(&at("link: length in seconds"), seconds)?;
        }
        Ok(())
    }

    fn signal(&self, at: &impl Fn(&str) -> String, signal: &SignalSpec) -> Result<(), RigError> {
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

    fn trainer(&self, at: &impl Fn(&str) -> String, trainer: &TrainerSpec) -> Result<(), RigError> {
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

    fn cadence(&self, at: &impl Fn(&str) -> String, sensor: &CadenceSpec) -> Result<(), RigError> {
        self.report_ms(at, sensor.report_ms)?;
        let wheel_mm = sensor.wheel_mm.unwrap_or(2100.0);
        self.within(&at("wheel_mm"), wheel_mm, 500.0, 3000.0, "500 to 3000 mm")
    }

    fn strap(&self, at: &impl Fn(&str) -> String, strap: &StrapSpec) -> Result<(), RigError> {
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

    fn meter(&self, at: &impl Fn(&str) -> String, meter: &MeterSpec) -> Result<(), RigError> {
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
