//! Judges single values under the name of one file.

use super::error::RigError;

/// Judges values under the name of one file.
pub(super) struct Judge<'a> {
    pub(super) name: &'a str,
}

impl Judge<'_> {
    pub(super) fn no(&self, field: &str, value: &str, must: &'static str) -> RigError {
        RigError::Value {
            name: self.name.to_owned(),
            field: field.to_owned(),
            value: value.to_owned(),
            must,
        }
    }

    pub(super) fn within(
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

    pub(super) fn above_zero(&self, field: &str, value: f64) -> Result<(), RigError> {
        self.within(field, value, 1e-9, 1e9, "above zero")
    }

    pub(super) fn not_negative(&self, field: &str, value: f64) -> Result<(), RigError> {
        self.within(field, value, 0.0, 1e9, "zero or more")
    }

    pub(super) fn ordered(&self, field: &str, (low, high): (f64, f64)) -> Result<(), RigError> {
        self.not_negative(field, low)?;
        self.within(field, high, low, 1e9, "a pair, the smaller first")
    }
}
