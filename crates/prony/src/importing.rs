//! Imported sessions: recordings made elsewhere, read again from the originals in the session file
//! each time, and placed on the clock of the primary reference.
//!
//! What the file says about an import are two kinds of event: [`IMPORTED`], one for each recording,
//! and [`NUDGED`], a shift that a person made by hand. Nothing that was decoded or placed is stored.
//! Recordings that are not plainly of one ride are refused (`together`); what a person gives their
//! word for instead is stored with the import and said in every finding.

mod bringing;
mod nudging;
mod together;

use analysis::align::{Placement, Recorded, place};
use analysis::evidence::{Arrival, Evidence, InvalidSpan, Role, Stream};
use analysis::findings::Findings;
use analysis::settings::Settings;
use anyhow::{Context, Result, bail};
use bench::model::InstrumentRole;
use bench::plan::place_from_name;
pub use bringing::{NotBrought, Original, Told, bring_in, read_as};
pub use nudging::{Moved, NotMovable, nudge};
use report::SessionFacts;
use session::import::{self, Columns, Recording};
use session::{Archive, SourceInfo};
pub use together::GivenWord;
use units::{Span, Timestamp};

/// Kind of the event of one imported recording: `{"source", "file", "sha256", "format", "columns",
/// "given_word"}`.
pub const IMPORTED: &str = "imported";
/// Kind of the event of a shift by hand: `{"source", "later_s"}`.
pub const NUDGED: &str = "nudged";

/// Where the recordings of an imported session lie.
pub struct Imported {
    /// Name of each stream but the primary reference, and its place on the reference's clock.
    pub placements: Vec<(String, Placement)>,
    /// What is imperfect about the originals, in words.
    pub imperfect: Vec<String>,
    /// What has to be said about the placing: jumps, doubts, what was moved by hand.
    pub remarks: Vec<String>,
}

/// An imported session, read and placed.
pub struct Placed {
    /// What it says about itself.
    pub facts: SessionFacts,
    /// What was recorded, on the clock of the reference.
    pub evidence: Evidence,
    /// What it is judged by, as fixed when it was imported.
    pub settings: Settings,
    /// Where its recordings lie.
    pub imported: Imported,
}

/// One recording with its role.
pub struct Part {
    /// The instrument.
    pub source: SourceInfo,
    /// What it recorded.
    pub recording: Recording,
    /// By how much it was moved by hand.
    pub nudge: Span,
    /// What a person gives their word for although the recordings do not show it.
    pub given_word: GivenWord,
}

impl Imported {
    /// The findings of recordings that lie on one clock.
    pub fn findings(&self, evidence: &Evidence, settings: &Settings) -> Findings {
        let alignment = self
            .placements
            .iter()
            .map(|(name, placement)| placement.alignment(name))
            .collect();
        let mut findings = analysis::assess::assess_placed(evidence, settings, alignment);
        let said = self.imperfect.iter().chain(&self.remarks);
        findings.anomalies.splice(0..0, said.cloned());
        findings
    }

    /// The check of the placement, one line for each recording.
    pub fn check(&self) -> Vec<String> {
        self.placements
            .iter()
            .map(|(name, placement)| {
                let drift = placement.drift_ppm.map_or(String::new(), |drift| {
                    format!(", drift {:+.1} ± {:.1} ppm", drift.value, 2.0 * drift.u)
                });
                let lags: Vec<String> = placement
                    .pieces
                    .iter()
                    .map(|piece| format!("{:+.2} ± {:.2} s", piece.lag_s, 2.0 * piece.lag_u_s))
                    .collect();
                format!(
                    "{name}: clock ahead by {}{drift}; likeness {:.2}, next best place {:.2}",
                    lags.join(", then "),
                    placement.correlation,
                    placement.rival
                )
            })
            .collect()
    }
}

/// Whether a session was imported.
///
/// # Errors
/// If the file cannot be read.
pub fn is_import(archive: &Archive) -> Result<bool> {
    Ok(!archive.events_of(&[IMPORTED])?.is_empty())
}

/// Opens an imported session: reads its originals and places them.
///
/// # Errors
/// If an original cannot be read, or the recordings are not of one ride.
pub fn reopen(archive: &Archive) -> Result<Placed> {
    let events = archive.events_of(&[IMPORTED, NUDGED])?;
    let about = archive.about()?;
    let sources = archive.sources()?;
    let mut parts = Vec::new();
    for event in events.iter().filter(|event| event.kind == IMPORTED) {
        let field = |key: &str| event.body.get(key).and_then(|value| value.as_str());
        let id = event.body.get("source").and_then(serde_json::Value::as_u64);
        let source = sources
            .iter()
            .find(|source| Some(u64::from(source.id.0)) == id)
            .context("an import names a source that the session does not have; verify the file")?;
        let file = field("file").context("an import names no file; verify the session")?;
        let bytes = archive
            .file(file)?
            .with_context(|| format!("the session does not hold {file:?}; verify it"))?;
        let columns = field("columns").map(Columns::parse).transpose()?;
        let nudge: f64 = events
            .iter()
            .filter(|event| {
                let of = event.body.get("source").and_then(serde_json::Value::as_u64);
                event.kind == NUDGED && of == id
            })
            .filter_map(|event| event.body.get("later_s")?.as_f64())
            .sum();
        parts.push(Part {
            source: source.clone(),
            recording: import::read(&bytes, file, columns.as_ref())?,
            nudge: Span::from_secs_f64(nudge),
            given_word: GivenWord::of_event(&event.body),
        });
    }
    let settings = match &about.decision_rule {
        Some(rule) => Settings::from_ron(&rule.text).context("the decision rule of the session")?,
        None => Settings::default(),
    };
    let (evidence, imported) = join(&parts, &settings)?;
    let sealed = if archive.is_closed()? {
        "closed"
    } else {
        "import was interrupted"
    };
    Ok(Placed {
        facts: SessionFacts {
            about,
            sources,
            sealed: Some(sealed.to_owned()),
            seal_sha256: archive.end_sha256()?,
        },
        evidence,
        settings,
        imported,
    })
}

/// Places recordings on the clock of the primary reference.
///
/// # Errors
/// If there is no primary reference, or a recording cannot be placed surely.
pub fn join(parts: &[Part], settings: &Settings) -> Result<(Evidence, Imported)> {
    let role_of = |part: &Part| {
        InstrumentRole::from_name(&part.source.role)
            .unwrap_or(InstrumentRole::Witness)
            .for_analysis()
    };
    let Some(reference) = parts
        .iter()
        .find(|part| role_of(part) == Role::PrimaryReference)
    else {
        bail!("no recording has the role of the reference; import one with --reference");
    };
    let recorded = |part: &Recording| -> (units::Series, units::Series) {
        (part.power_w.clone(), part.cadence_rpm.clone())
    };
    let (power_w, cadence_rpm) = recorded(&reference.recording);
    let end = Timestamp::ZERO + reference.recording.length() + Span::from_secs(1);
    let mut evidence = Evidence {
        end,
        ..Evidence::default()
    };
    let mut imported = Imported {
        placements: Vec::new(),
        imperfect: Vec::new(),
        remarks: Vec::new(),
    };
    for part in parts {
        let name = &part.source.name;
        let said = part.recording.remarks.iter();
        imported
            .imperfect
            .extend(said.map(|words| format!("{name}: {words}")));
        let mut placement = if std::ptr::eq(part, reference) {
            Placement::none()
        } else {
            place(
                name,
                Recorded {
                    power_w: &power_w,
                    cadence_rpm: &cadence_rpm,
                },
                Recorded {
                    power_w: &part.recording.power_w,
                    cadence_rpm: &part.recording.cadence_rpm,
                },
                &settings.align,
            )
            .map_err(|refused| anyhow::anyhow!("{}", refused.reason))?
        };
        if !std::ptr::eq(part, reference) {
            let pair = [&part.recording, &reference.recording];
            let said = together::check(name, pair, &placement, part.given_word)?;
            imported.remarks.extend(said);
        }
        if part.nudge != Span::ZERO {
            placement.nudge(part.nudge);
            let by_s = part.nudge.as_secs_f64();
            imported
                .remarks
                .push(format!("{name}: moved by hand, later by {by_s:+.3} s"));
        }
        for jump in placement.jumps() {
            let by_s = jump.by_s;
            let reason = format!("the clock of {name} jumped by {by_s:+.1} s about here");
            imported.remarks.push(format!("{reason}, at {}", jump.at));
            evidence.invalid.push(InvalidSpan {
                from: jump.from,
                to: jump.to,
                reason,
            });
        }
        let on = |at: Timestamp| placement.on_reference_clock(at);
        evidence.streams.push(Stream {
            name: name.clone(),
            role: role_of(part),
            place: place_from_name(&part.source.place),
            power_w: placement.series(&part.recording.power_w),
            cadence_rpm: placement.series(&part.recording.cadence_rpm),
            speed_kmh: placement.series(&part.recording.speed_kmh),
            arrivals: part
                .recording
                .records
                .iter()
                .map(|at| Arrival {
                    at: on(*at),
                    epoch: 0,
                })
                .collect(),
            zero_offsets: Vec::new(),
        });
        if !std::ptr::eq(part, reference) {
            imported.placements.push((name.clone(), placement));
        }
    }
    Ok((evidence, imported))
}
