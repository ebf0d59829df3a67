//! Sessions compared: opened, verified, judged and put side by side, for the command line and for
//! the window.

use crate::places;
use crate::reopening::{Reopened, reopen};
use analysis::before::CalibrationRecord;
use analysis::comparing::{
    Along, Calibration, Comparison, Instrument, Kind, SESSIONS, Script, Side, compare,
};
use analysis::findings::Findings;
use analysis::settings::Settings;
use anyhow::{Context as _, Result, bail};
use bench::Happening;
use report::{Compared, ComparedSession, Seal};
use session::{Archive, EntryRef, SealState, SourceInfo};
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

/// Sessions that were compared, with everything that a report of it is written from.
pub struct Compilation {
    /// The sessions, the one that the others are compared with first.
    pub members: Vec<Member>,
    /// What was found.
    pub comparison: Comparison,
    /// Name of the settings that all were judged by, if they were given after the rides.
    pub judged_by: Option<String>,
}

/// One session of a comparison.
pub struct Member {
    /// The file.
    pub path: PathBuf,
    /// Name of the file without folder.
    pub file: String,
    /// The session.
    pub reopened: Reopened,
    /// What was judged.
    pub findings: Findings,
    /// What it was judged by.
    pub settings: Settings,
    /// What its seals say.
    pub seal: Seal,
    /// Calibrations of the device that succeeded.
    calibrations: Vec<Calibration>,
}

/// Compares session files with the first of them. All are judged by `settings` if they are given,
/// else each by what was fixed before it; `asked` overrules the kind that the sessions tell.
///
/// `done` is told how many were judged and says whether to go on.
///
/// # Errors
/// If there are fewer than two or more than twelve, one is there twice, or one of them cannot be
/// read or holds nothing that was judged; the message names it.
pub fn compile(
    paths: &[PathBuf],
    settings: Option<(&str, &Settings)>,
    asked: Option<Kind>,
    mut done: impl FnMut(usize) -> bool,
) -> Result<Compilation> {
    let [fewest, most] = SESSIONS;
    if !(fewest..=most).contains(&paths.len()) {
        bail!(
            "{} were given; {fewest} to {most} sessions can be compared",
            match paths.len() {
                1 => "1 session".to_owned(),
                count => format!("{count} sessions"),
            }
        );
    }
    let mut members: Vec<Member> = Vec::with_capacity(paths.len());
    for path in paths {
        if !done(members.len()) {
            bail!("the comparison was given up");
        }
        let member = member(path, settings.map(|(_, settings)| settings))
            .with_context(|| format!("cannot compare {}", path.display()))?;
        refuse_twice(&members, &member)?;
        members.push(member);
    }
    let sides: Vec<Side<'_>> = members.iter().map(Member::side).collect();
    let comparison = compare(&sides, asked).map_err(|not| anyhow::anyhow!("{}", not.reason))?;
    done(paths.len());
    Ok(Compilation {
        members,
        comparison,
        judged_by: settings.map(|(name, _)| name.to_owned()),
    })
}

impl Compilation {
    /// Hands the comparison to what writes a document of it.
    pub fn written<T>(&self, along: Along, write: impl FnOnce(&Compared<'_>) -> T) -> T {
        let sides: Vec<Side<'_>> = self.members.iter().map(Member::side).collect();
        let sessions = self
            .members
            .iter()
            .zip(&sides)
            .map(|(member, side)| ComparedSession {
                file: &member.file,
                facts: &member.reopened.facts,
                side,
                seal: &member.seal,
            })
            .collect();
        write(&Compared {
            sessions,
            comparison: &self.comparison,
            along,
            judged_by: self.judged_by.as_deref(),
        })
    }
}

impl Member {
    /// What a comparison is told of the session.
    pub fn side(&self) -> Side<'_> {
        let about = &self.reopened.facts.about;
        let instrument = |name: &Option<String>| {
            let name = name.clone().unwrap_or_default();
            let mut sources = self.reopened.facts.sources.iter();
            // A stream of an instrument with several services has its service behind its name.
            let found = sources
                .find(|info| info.name == name || name.starts_with(&format!("{} · ", info.name)));
            found.map_or_else(
                || Instrument {
                    name: name.clone(),
                    ..Instrument::default()
                },
                told,
            )
        };
        Side {
            device: instrument(&self.findings.under_test),
            reference: instrument(&self.findings.reference),
            calibrations: self.calibrations.clone(),
            script: about.script.as_ref().map(|script| Script {
                name: script.name.clone(),
                sha256: script.sha256(),
            }),
            bike: about.bike.clone(),
            started_s: about.started.map(|started| started.timestamp()),
            steps: &self.reopened.evidence.steps,
            findings: &self.findings,
            settings: &self.settings,
        }
    }
}

/// What an instrument told about itself.
fn told(info: &SourceInfo) -> Instrument {
    let identity = &info.identity;
    Instrument {
        name: info.name.clone(),
        maker: identity.maker.clone(),
        model: identity.model.clone(),
        serial: identity.serial.clone(),
        firmware: identity.firmware.clone(),
    }
}

fn member(path: &Path, settings: Option<&Settings>) -> Result<Member> {
    let reopened = reopen(path)?;
    let settings = settings.unwrap_or(&reopened.settings).clone();
    let findings = reopened.findings(&settings);
    if findings.cells.is_empty() {
        let refused = findings
            .not_tested
            .iter()
            .find(|not| not.examination == "comparison");
        let why = refused.map_or_else(
            || "no load was held steady for long enough".to_owned(),
            |not| not.reason.clone(),
        );
        bail!(
            "it holds no condition that could be judged: {why}; leave it out, or see what `prony assess` says of it"
        );
    }
    let verified = session::verify(path)?;
    let calibrations = calibrations(path, &reopened)?;
    Ok(Member {
        path: path.to_owned(),
        file: places::file_name(path),
        findings,
        settings,
        seal: Seal {
            is_broken: verified.state == SealState::Broken,
            state: verified.state.to_string(),
            head_sha256: verified.head_sha256,
        },
        calibrations,
        reopened,
    })
}

/// The same file twice, or a copy of it, would be a comparison of a ride with itself.
fn refuse_twice(members: &[Member], new: &Member) -> Result<()> {
    let id = |member: &Member| member.reopened.facts.about.session.clone();
    for member in members {
        if member.path == new.path || same_file(&member.path, &new.path) {
            bail!(
                "{} was given twice; name each session once",
                new.path.display()
            );
        }
        if !id(new).is_empty() && id(member) == id(new) {
            bail!(
                "{} and {} hold the same session, {}; a ride cannot be compared with itself",
                member.path.display(),
                new.path.display(),
                id(new)
            );
        }
    }
    Ok(())
}

fn same_file(a: &Path, b: &Path) -> bool {
    let whole = |path: &Path| std::fs::canonicalize(path).ok();
    whole(a).is_some_and(|a| whole(b) == Some(a))
}

/// The calibrations of the device under test that succeeded before the session, as far as it keeps
/// them, and during it.
fn calibrations(path: &Path, reopened: &Reopened) -> Result<Vec<Calibration>> {
    let info = reopened
        .facts
        .sources
        .iter()
        .find(|info| info.role == "under-test");
    let device = info.map(|info| info.id);
    let before: CalibrationRecord = info
        .and_then(|info| serde_json::from_value(info.calibration.clone()).ok())
        .unwrap_or_default();
    let mut found: Vec<Calibration> = before
        .before_session
        .into_iter()
        .filter(|one| one.succeeded)
        .map(|one| Calibration {
            at_s: -one.seconds_before,
            procedure: one.procedure,
        })
        .collect();
    Archive::open(path)?.for_each_entry(|entry| {
        if let EntryRef::Event(event) = entry
            && event.kind == "calibration"
            && let Ok(row) = event.to_event()
            && let Ok(Happening::Calibration {
                source,
                procedure,
                state,
                ..
            }) = Happening::from_row(&row.kind, &row.body)
            && state == "succeeded"
            && device.is_some_and(|device| device.0 == source)
        {
            found.push(Calibration {
                at_s: row.at.as_secs_f64(),
                procedure,
            });
        }
        ControlFlow::Continue(())
    })?;
    Ok(found)
}
