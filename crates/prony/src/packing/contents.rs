//! What a pack of a session holds: the session, what a person gave, and what follows from both. It
//! is made anew when a pack is checked, so that nothing in it has to be believed.

use super::given::{Given, added_name, photo_name};
use super::manifest::{AboutSession, MANIFEST, Manifest, PROGRAM, SUMS, sums};
use super::member::{FINDINGS, GIVEN_CLAIMS, GIVEN_IMPRINT, GIVEN_MEASUREMENTS, Member, SESSION};
use crate::choice;
use crate::exporting::Opened;
use crate::reporting;
use anyhow::{Context, Result, anyhow, bail, ensure};
use chrono::{DateTime, FixedOffset, TimeDelta};
use report::tables::{self, Table};
use session::{SealState, VerifyReport};
use std::path::Path;

/// A table of more than this stays out, bytes: it is in the session, and `prony export` makes it.
const LARGE_TABLE: usize = 32 << 20;

/// A pack before it is an archive.
pub(super) struct Contents {
    /// Every member in the order of the archive.
    pub members: Vec<Member>,
    /// What was found when the session was verified.
    pub verified: VerifyReport,
    /// Wall clock when the session began.
    pub started: Option<DateTime<FixedOffset>>,
}

impl Contents {
    /// `copy` is a copy of the session that nobody changes meanwhile, `bytes` its content, and
    /// `file` what the original is called.
    ///
    /// # Errors
    /// If the session is not whole and sealed, cannot be judged, or what was given does not fit.
    pub fn of(copy: &Path, bytes: Vec<u8>, file: &str, given: &Given) -> Result<Self> {
        let verified = sealed(copy, file)?;
        let opened = Opened::at(copy, file)?;
        let about = &opened.reopened.facts.about;
        let mut settings = opened.reopened.settings.clone();
        if let Some(text) = &given.claims {
            (settings, _) =
                choice::claims_in(text, "claims.ron", settings).context("the claim sheet given")?;
        }
        if let Some(text) = &given.measurements {
            choice::measurements_in(text, &mut settings).context("the measurements given")?;
        }
        let findings = opened.reopened.findings(&settings);
        let recorded = opened.recorded();

        let mut members = Members::default();
        members.put(
            "README.txt",
            "how to check this pack",
            readme(&opened, &verified),
        );
        members.put(
            SESSION,
            "the session as it was recorded, byte for byte",
            bytes,
        );
        let fixed = [
            (
                "script.ron",
                "the script that was ridden, fixed before the first sample",
                &about.script,
            ),
            (
                "claims.ron",
                "the claim sheet, fixed before the first sample",
                &about.claims,
            ),
            (
                "decision-rule.ron",
                "the settings of the judgement, fixed before the first sample",
                &about.decision_rule,
            ),
        ];
        for (name, what, document) in fixed {
            members.maybe(name, what, document.as_ref().map(|document| &document.text));
        }
        members.maybe(
            GIVEN_CLAIMS,
            "a claim sheet given after the ride, by which the findings here are judged",
            given.claims.as_ref(),
        );
        members.maybe(
            GIVEN_MEASUREMENTS,
            "what was measured by hand for the claims",
            given.measurements.as_ref(),
        );
        if let Some(given) = &given.imprint {
            members.put(
                GIVEN_IMPRINT,
                "what the tester states in the report",
                given.text.as_str(),
            );
            for (name, content) in &given.photos {
                members.put(
                    photo_name(name)?,
                    "a photograph of the report",
                    content.clone(),
                );
            }
        }
        let imprint = given.imprint.as_ref().map(|given| given.imprint.clone());
        let document = report::document(&opened.reopened.facts, &findings);
        members.put(
            FINDINGS,
            "the findings, for other programs",
            serde_json::to_string_pretty(&document)? + "\n",
        );
        members.put(
            "report.html",
            "the report, for people",
            reporting::report(
                copy,
                &opened.reopened.facts,
                &findings,
                &imprint.unwrap_or_default(),
            )?,
        );
        let mut left_out = Vec::new();
        for table in tables::all(&recorded, &findings) {
            let name = table_name(&table);
            let text = report::csv(&table);
            if text.len() > LARGE_TABLE {
                left_out.push(name);
            } else {
                members.put(name, "a table of the session", text);
            }
        }
        members.put(
            "seal_check.py",
            "recomputes the seals of the session with nothing but Python",
            session::SEAL_CHECK,
        );
        for (name, content) in &given.added {
            members.put(
                added_name(name)?,
                "added by the person who packed",
                content.clone(),
            );
        }
        let mut members = members.0;
        for (index, member) in members.iter().enumerate() {
            ensure!(
                members[..index]
                    .iter()
                    .all(|other| other.name != member.name),
                "there are two files to be packed as {}; give them different names",
                member.name
            );
        }
        let session = about_session(&opened, &verified, file);
        let manifest = Manifest::of(session, left_out, &members).to_json()?;
        members.insert(1, Member::new(MANIFEST, "", manifest));
        let listed = members
            .iter()
            .map(|member| (member.name.as_str(), member.bytes.as_slice()));
        let sums = sums(listed);
        members.insert(2, Member::new(SUMS, "", sums));
        Ok(Self {
            members,
            verified,
            started: about.started,
        })
    }
}

/// What verification says of a session that is whole.
fn sealed(copy: &Path, file: &str) -> Result<VerifyReport> {
    let verified = session::verify(copy)?;
    match (&verified.state, verified.faults.first()) {
        (SealState::Sealed, _) => Ok(verified),
        (SealState::UnsealedTail { .. }, _) => bail!(
            "the recording of {file} was never closed, so that its end is not sealed; close it with \
             `prony shelf --session FILE --recover`, then pack it. Nothing was changed"
        ),
        (SealState::Broken, fault) => {
            let fault = fault.map(ToString::to_string).unwrap_or_default();
            Err(anyhow!(
                "{file} is not what was recorded ({fault}); pack a copy that `prony verify` finds whole"
            ))
        }
    }
}

fn about_session(opened: &Opened, verified: &VerifyReport, file: &str) -> AboutSession {
    let facts = &opened.reopened.facts;
    let started = facts.about.started;
    let until = started.and_then(|started| {
        let nanos = opened.last?.as_nanos();
        started.checked_add_signed(TimeDelta::nanoseconds(nanos))
    });
    AboutSession {
        id: facts.about.session.clone(),
        file: file.to_owned(),
        started: started.map(|at| at.to_rfc3339()),
        until: until.map(|at| at.to_rfc3339()),
        recorded_by: facts.about.program.clone(),
        simulated: facts.is_simulated(),
        blocks: verified.blocks,
        packets: verified.packets,
        events: verified.events,
        last_seal: verified.head_sha256.clone(),
    }
}

fn table_name(table: &Table<'_>) -> String {
    format!("tables/{}.csv", table.name)
}

#[derive(Default)]
struct Members(Vec<Member>);

impl Members {
    fn put(&mut self, name: impl Into<String>, what: &'static str, bytes: impl Into<Vec<u8>>) {
        self.0.push(Member::new(name, what, bytes));
    }

    fn maybe(&mut self, name: &str, what: &'static str, text: Option<&String>) {
        if let Some(text) = text {
            self.put(name, what, text.as_str());
        }
    }
}

/// What the pack is and how to check it, for people who do not have this program.
fn readme(opened: &Opened, verified: &VerifyReport) -> String {
    let about = &opened.reopened.facts.about;
    let simulated = if opened.reopened.facts.is_simulated() {
        "\nThis session is a simulation. No real instrument stands behind it.\n"
    } else {
        ""
    };
    format!(
        include_str!("README.txt"),
        session = about.session,
        started = about
            .started
            .map_or_else(|| "at an unknown time".to_owned(), |at| at.to_rfc3339()),
        recorded_by = about.program,
        packed_by = PROGRAM,
        simulated = simulated,
        blocks = verified.blocks,
        last_seal = verified.head_sha256.as_deref().unwrap_or("–"),
    )
}
