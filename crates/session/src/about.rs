//! What a session says about itself, fixed before the first sample.

use crate::chain;
use crate::schema::FORMAT_VERSION;
use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// What a session says about itself. Everything that is not known is `None`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct About {
    /// Name of the session that no other session has: hexadecimal digits, chosen by the caller.
    pub session: String,
    /// Name and version of the program that recorded it.
    pub program: String,
    /// What the wall clock said when the session's own clock stood at zero.
    pub started: Option<DateTime<FixedOffset>>,
    /// The planned steps.
    pub script: Option<Document>,
    /// The published claims as measurable statements.
    pub claims: Option<Document>,
    /// How a verdict will be reached.
    pub decision_rule: Option<Document>,
    /// Bike, gears, chain, tyre.
    pub bike: Option<String>,
    /// Room, temperature, fan, mounting.
    pub environment: Option<String>,
    /// An alias, never a name.
    pub rider: Option<String>,
    /// Mass of the rider in kilograms.
    pub rider_mass_kg: Option<f64>,
    /// Anything else worth knowing.
    pub note: Option<String>,
    /// The simulated bench, whole, if the session is a simulation. `None` means real instruments.
    pub rig: Option<String>,
}

/// A text that counts as evidence, with the name it went by.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Document {
    /// What the text is called.
    pub name: String,
    /// The text, whole.
    pub text: String,
}

impl About {
    /// Whether the session says that no real instruments were there.
    pub fn is_simulated(&self) -> bool {
        self.rig.is_some()
    }

    /// The rows of the table `about`, in the order they are written.
    pub(crate) fn to_rows(&self) -> Vec<(String, String)> {
        let mut rows = Vec::new();
        let mut put = |key: &str, value: Option<String>| {
            if let Some(value) = value {
                rows.push((key.to_owned(), value));
            }
        };
        put("format", Some(FORMAT_VERSION.to_string()));
        put("session", Some(self.session.clone()));
        put("program", Some(self.program.clone()));
        put("started", self.started.map(|started| started.to_rfc3339()));
        put(
            "simulated",
            Some(if self.is_simulated() { "yes" } else { "no" }.to_owned()),
        );
        put("rig", self.rig.clone());
        let documents = [
            ("script", &self.script),
            ("claims", &self.claims),
            ("decision_rule", &self.decision_rule),
        ];
        for (key, document) in documents {
            if let Some(document) = document {
                put(&format!("{key}_name"), Some(document.name.clone()));
                put(key, Some(document.text.clone()));
                put(&format!("{key}_sha256"), Some(document.sha256()));
            }
        }
        put("bike", self.bike.clone());
        put("environment", self.environment.clone());
        put("rider", self.rider.clone());
        put(
            "rider_mass_kg",
            self.rider_mass_kg.map(|mass| mass.to_string()),
        );
        put("note", self.note.clone());
        rows
    }

    /// From the rows of the table. Keys this version does not know are passed over.
    ///
    /// # Errors
    /// The key that is missing or does not read, and what is wrong with it.
    pub(crate) fn from_rows(
        mut rows: BTreeMap<String, String>,
    ) -> std::result::Result<Self, (&'static str, String)> {
        let mut must = |key| {
            rows.remove(key)
                .ok_or((key, "there is no such row".to_owned()))
        };
        let session = must("session")?;
        let program = must("program")?;
        let started = match rows.remove("started") {
            None => None,
            Some(text) => Some(
                DateTime::parse_from_rfc3339(&text)
                    .map_err(|e| ("started", format!("{text:?} is not a date with time: {e}")))?,
            ),
        };
        let rider_mass_kg = match rows.remove("rider_mass_kg") {
            None => None,
            Some(text) => Some(
                text.parse()
                    .map_err(|e| ("rider_mass_kg", format!("{text:?} is not a number: {e}")))?,
            ),
        };
        let mut document = |text: &str, name: &str| {
            let text = rows.remove(text)?;
            Some(Document {
                name: rows.remove(name).unwrap_or_default(),
                text,
            })
        };
        Ok(Self {
            session,
            program,
            started,
            script: document("script", "script_name"),
            claims: document("claims", "claims_name"),
            decision_rule: document("decision_rule", "decision_rule_name"),
            bike: rows.remove("bike"),
            environment: rows.remove("environment"),
            rider: rows.remove("rider"),
            rider_mass_kg,
            note: rows.remove("note"),
            rig: rows.remove("rig"),
        })
    }
}

impl Document {
    /// A document from its name and text.
    pub fn new(name: impl Into<String>, text: impl Into<String>) -> Self {
        Self {
            name: name.into(),
            text: text.into(),
        }
    }

    /// SHA-256 of the text, as hexadecimal digits.
    pub fn sha256(&self) -> String {
        chain::sha256_hex(self.text.as_bytes())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// FIPS 180-4, the one-block example message "abc" of the published example values.
    #[test]
    fn the_digest_is_sha_256() {
        assert_eq!(
            Document::new("", "abc").sha256(),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }

    #[test]
    fn a_row_that_does_not_read_is_named() {
        let rows = |pairs: &[(&str, &str)]| {
            pairs
                .iter()
                .map(|&(k, v)| (k.to_owned(), v.to_owned()))
                .collect()
        };
        assert_eq!(About::from_rows(rows(&[])).unwrap_err().0, "session");
        let start = [("session", "1"), ("program", "p"), ("started", "yesterday")];
        assert_eq!(About::from_rows(rows(&start)).unwrap_err().0, "started");
    }
}
