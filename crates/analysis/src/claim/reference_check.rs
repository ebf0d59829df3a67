//! A static weight check of a reference, written on the claim sheet: it takes the place of the
//! reference's own published accuracy in the budget.

use super::error::ClaimError;
use crate::examinations::static_check::{
    Direction, Side, StaticCheck, StaticFindings, StaticReading, normal_gravity, static_check,
};
use crate::outcome::{Estimate, Outcome};
use crate::settings::SlopeKnowledge;
use serde::{Deserialize, Serialize};

/// Uncertainty of normal gravity as the local one, m/s²: height and geology, up to some 1 500 m.
const LOCAL_GRAVITY_U: f64 = 0.003;

/// Length of what weights are hung from, a crank or an arm made for it: shortest and longest, mm.
pub const ARM_MM: [f64; 2] = [50.0, 1000.0];

/// A static check of one of the references.
#[derive(Clone, Debug, PartialEq)]
pub struct ReferenceCheck {
    /// Which reference.
    pub of: Checked,
    /// What was hung and shown.
    pub check: StaticCheck,
    /// Weights, place and tester.
    pub source: String,
}

/// Which reference was checked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Checked {
    /// The primary one.
    Reference,
    /// The second one.
    #[serde(alias = "second_reference")]
    SecondReference,
}

impl ReferenceCheck {
    /// What the check shows.
    ///
    /// # Errors
    /// [`NotTested`](crate::outcome::NotTested) with what to hang.
    pub fn findings(&self) -> Outcome<StaticFindings> {
        static_check(&self.check)
    }

    /// What the budget may take from it: the uncertainty of the slope, and the deviation of the
    /// slope from one beside it, because nothing is corrected.
    ///
    /// # Errors
    /// [`NotTested`](crate::outcome::NotTested) with what to hang.
    pub fn knowledge(&self) -> Outcome<SlopeKnowledge> {
        let found = self.findings()?;
        let slope = found.result.slope;
        let off = (slope.value - 1.0) / 3f64.sqrt();
        let result = SlopeKnowledge::Calibrated {
            u_pct: 100.0 * slope.u.hypot(off),
            dof: slope.dof,
            source: format!(
                "static check of {}: slope {:.4} ± {:.4}, not corrected; due again on {}; {}",
                day_words(self.check.day),
                slope.value,
                slope.u,
                day_words(found.result.due_day),
                self.source
            ),
        };
        Ok(crate::outcome::Tested {
            result,
            sentence: found.sentence,
            plots: found.plots,
        })
    }

    /// The check as an entry of `static_checks` on a claim sheet.
    pub fn written(&self) -> String {
        let file = ReferenceCheckFile::from_check(self);
        ron::ser::to_string_pretty(&file, ron::ser::PrettyConfig::default()).unwrap_or_default()
    }

    /// Whether the check has lapsed by a day, days since 1970-01-01.
    pub fn has_lapsed_by(&self, day: i64) -> bool {
        day > self.check.day.saturating_add(self.check.valid_days)
    }
}

/// A day as year, month and day of the month (Gregorian calendar, ISO 8601 order).
pub fn day_words(day: i64) -> String {
    let (year, month, day) = civil(day);
    format!("{year:04}-{month:02}-{day:02}")
}

/// Days since 1970-01-01 of a date; `None` if there is no such date.
pub fn day_of(year: i64, month: u32, day: u32) -> Option<i64> {
    if !(1..=12).contains(&month) || !(1..=31).contains(&day) || !(1900..=2999).contains(&year) {
        return None;
    }
    // Years begin in March, so that the leap day comes last; 400 years have 146 097 days.
    let (y, m) = if month > 2 {
        (year, i64::from(month) - 3)
    } else {
        (year - 1, i64::from(month) + 9)
    };
    let of_year = (153 * m + 2) / 5 + i64::from(day) - 1;
    let era = y.div_euclid(400);
    let in_era = y.rem_euclid(400);
    let found = era * 146_097 + in_era * 365 + in_era / 4 - in_era / 100 + of_year - 719_468;
    (civil(found) == (year, month, day)).then_some(found)
}

fn civil(day: i64) -> (i64, u32, u32) {
    let day = day.clamp(-1_000_000, 1_000_000) + 719_468;
    let era = day.div_euclid(146_097);
    let of_era = day.rem_euclid(146_097);
    let year = (of_era - of_era / 1460 + of_era / 36_524 - of_era / 146_096) / 365;
    let of_year = of_era - (365 * year + year / 4 - year / 100);
    let m = (5 * of_year + 2) / 153;
    let day_of_month = of_year - (153 * m + 2) / 5 + 1;
    let month = if m < 10 { m + 3 } else { m - 9 };
    let year = year + 400 * era + i64::from(month <= 2);
    (year, month as u32, day_of_month as u32)
}

#[derive(Serialize, Deserialize)]
#[serde(rename = "StaticCheck", deny_unknown_fields)]
pub(super) struct ReferenceCheckFile {
    of: Checked,
    day: (i64, u32, u32),
    valid_days: i64,
    u_mass_pct: f64,
    u_arm_mm: f64,
    level_deg: f64,
    gravity: GravityFile,
    arm_mm: f64,
    readings: Vec<ReadingFile>,
    source: String,
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Gravity")]
enum GravityFile {
    /// Known, m/s², with its standard uncertainty.
    Known(f64, f64),
    /// Normal gravity at this latitude, degrees.
    AtLatitude(f64),
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Reading")]
struct ReadingFile(SideFile, DirectionFile, f64, f64);

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Side", rename_all = "kebab-case")]
enum SideFile {
    Left,
    Right,
}

#[derive(Clone, Copy, Serialize, Deserialize)]
#[serde(rename = "Direction", rename_all = "kebab-case")]
enum DirectionFile {
    Up,
    Down,
}

impl ReferenceCheckFile {
    pub(super) fn into_check(self) -> Result<ReferenceCheck, ClaimError> {
        let name = match self.of {
            Checked::Reference => "static check of the reference",
            Checked::SecondReference => "static check of the second reference",
        };
        let bad = |words: &str| Err(ClaimError::bad(name, words));
        let (year, month, day) = self.day;
        let Some(day) = day_of(year, month, day) else {
            return bad("there is no such day; write (year, month, day)");
        };
        if self.source.trim().is_empty() {
            return bad("name weights, place and tester as the source");
        }
        let sizes = [self.u_mass_pct, self.u_arm_mm, self.level_deg];
        if sizes.iter().any(|size| !(0.0..=50.0).contains(size)) || self.valid_days <= 0 {
            return bad("uncertainties are not negative, and the check is valid for some days");
        }
        let [shortest, longest] = ARM_MM;
        if !(shortest..=longest).contains(&self.arm_mm) {
            return bad("the arm is 50 to 1000 mm long");
        }
        let gravity_m_per_s2 = match self.gravity {
            GravityFile::Known(value, u) if (9.7..9.9).contains(&value) && u >= 0.0 => Estimate {
                value,
                u,
                dof: f64::MAX,
            },
            GravityFile::AtLatitude(degrees) if degrees.abs() <= 90.0 => Estimate {
                value: normal_gravity(degrees),
                u: LOCAL_GRAVITY_U,
                dof: f64::MAX,
            },
            _ => return bad("gravity is about 9.8 m/s², or a latitude of up to 90 degrees"),
        };
        let readings = self
            .readings
            .iter()
            .map(
                |ReadingFile(side, direction, mass_kg, shown_nm)| StaticReading {
                    side: match side {
                        SideFile::Left => Side::Left,
                        SideFile::Right => Side::Right,
                    },
                    mass_kg: *mass_kg,
                    arm_m: self.arm_mm / 1000.0,
                    shown_nm: *shown_nm,
                    direction: match direction {
                        DirectionFile::Up => Direction::Adding,
                        DirectionFile::Down => Direction::TakingOff,
                    },
                },
            )
            .collect();
        let found = ReferenceCheck {
            of: self.of,
            check: StaticCheck {
                readings,
                u_mass_rel: self.u_mass_pct / 100.0,
                u_arm_m: self.u_arm_mm / 1000.0,
                level_deg: self.level_deg,
                gravity_m_per_s2,
                day,
                valid_days: self.valid_days,
            },
            source: self.source,
        };
        match found.findings() {
            Ok(_) => Ok(found),
            Err(not) => bad(&not.reason),
        }
    }

    pub(super) fn from_check(found: &ReferenceCheck) -> Self {
        let check = &found.check;
        let gravity = check.gravity_m_per_s2;
        Self {
            of: found.of,
            day: civil(check.day),
            valid_days: check.valid_days,
            u_mass_pct: 100.0 * check.u_mass_rel,
            u_arm_mm: 1000.0 * check.u_arm_m,
            level_deg: check.level_deg,
            gravity: GravityFile::Known(gravity.value, gravity.u),
            arm_mm: 1000.0 * check.readings.first().map_or(0.0, |reading| reading.arm_m),
            readings: check
                .readings
                .iter()
                .map(|reading| {
                    let side = match reading.side {
                        Side::Left => SideFile::Left,
                        Side::Right => SideFile::Right,
                    };
                    let direction = match reading.direction {
                        Direction::Adding => DirectionFile::Up,
                        Direction::TakingOff => DirectionFile::Down,
                    };
                    ReadingFile(side, direction, reading.mass_kg, reading.shown_nm)
                })
                .collect(),
            source: found.source.clone(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Days of the proleptic Gregorian calendar; the first two by definition of the Unix epoch
    /// and of the year 2000, the others counted by hand from them.
    #[test]
    fn days_and_dates() {
        for (date, day) in [
            ((1970, 1, 1), 0),
            ((2000, 1, 1), 10_957),
            ((2000, 2, 29), 11_016),
            ((2000, 3, 1), 11_017),
            ((1969, 12, 31), -1),
        ] {
            assert_eq!(day_of(date.0, date.1, date.2), Some(day));
            assert_eq!(civil(day), date);
        }
        assert_eq!(day_of(2023, 2, 29), None);
        assert_eq!(day_of(2023, 13, 1), None);
        assert_eq!(day_words(11_016), "2000-02-29");
    }
}
