//! The rig file: a RON text that describes a simulated bench, and the plan it becomes once it has
//! been judged. A [`RigPlan`] that exists can be run.

mod brake;
mod error;
mod instrument;
mod judge;
mod kind;
mod signal;

use crate::spec::{BrakeSpec, DrivetrainSpec, InstrumentSpec, KindSpec, RiderSpec, RoleSpec};
pub use error::RigError;
use judge::Judge;
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
