//! What was recorded: the session itself, every sample, every event.

use super::table::{Rows, SCHEMA, Table};
use crate::facts::SessionFacts;
use analysis::evidence::{Evidence, Role};
use analysis::findings::Findings;
use session::{EventRow, Identity};

/// What the tables need of a session besides its findings.
#[derive(Clone, Copy)]
pub struct Recorded<'a> {
    /// What the session says about itself.
    pub facts: &'a SessionFacts,
    /// Every sample.
    pub evidence: &'a Evidence,
    /// Every event, in recorded order.
    pub events: &'a [EventRow],
    /// The file it lies in.
    pub origin: &'a Origin,
}

/// What is known of a session's file.
#[derive(Clone, Debug, Default)]
pub struct Origin {
    /// Its name, without the folder.
    pub name: String,
    /// Version of its format.
    pub format: i64,
    /// SHA-256 of its first block, which no two sessions have in common.
    pub opening_sha256: Option<String>,
    /// SHA-256 of its last block, which changes when a note is added.
    pub head_sha256: Option<String>,
    /// Whether it was recorded elsewhere and imported.
    pub is_import: bool,
}

/// The session in one row: what it is, what was tested against what, and what came of it.
pub fn sessions<'a>(recorded: &'a Recorded<'a>, findings: &'a Findings) -> Table<'a> {
    let (facts, origin) = (recorded.facts, recorded.origin);
    let about = &facts.about;
    let overall = &findings.overall;
    let device = Instrument::of(facts, findings.under_test.as_deref());
    let reference = Instrument::of(facts, findings.reference.as_deref());
    let second = findings
        .sources
        .iter()
        .find(|source| source.role == Role::SecondReference)
        .map(|source| source.name.as_str());
    Rows::of("sessions", [()])
        .text("id", |()| about.session.as_str())
        .moment("started", |()| about.started)
        .time("duration_s", |()| findings.duration_s)
        .text("file", |()| origin.name.as_str())
        .maybe_text("script", |()| Some(about.script.as_ref()?.name.as_str()))
        .maybe_text("claims", |()| Some(about.claims.as_ref()?.name.as_str()))
        .flag("simulated", |()| facts.is_simulated())
        .flag("imported", |()| origin.is_import)
        .maybe_text("sealed", |()| facts.sealed.as_deref())
        .maybe_text("device", move |()| device.name)
        .maybe_text("device_maker", move |()| device.identity?.maker.as_deref())
        .maybe_text("device_model", move |()| device.identity?.model.as_deref())
        .maybe_text("device_serial", move |()| {
            device.identity?.serial.as_deref()
        })
        .maybe_text("device_firmware", move |()| {
            device.identity?.firmware.as_deref()
        })
        .maybe_text("reference", move |()| reference.name)
        .maybe_text("reference_serial", move |()| {
            reference.identity?.serial.as_deref()
        })
        .maybe_text("reference_firmware", move |()| {
            reference.identity?.firmware.as_deref()
        })
        .maybe_text("second_reference", move |()| second)
        .maybe_text("bike", |()| about.bike.as_deref())
        .maybe_text("environment", |()| about.environment.as_deref())
        .maybe_text("rider", |()| about.rider.as_deref())
        .text("treatment", |()| overall.treatment.name())
        .text("verdict", |()| overall.verdict.words())
        .maybe_real("tolerance_pct", |()| overall.tolerance_pct)
        .maybe_real("bias_pct", |()| Some(overall.bias_pct?.value))
        .maybe_real("bias_u_pct", |()| Some(overall.bias_pct?.u))
        .maybe_real("p_conform", |()| overall.p_conform)
        .count("cells_judged", |()| overall.cells_judged)
        .text("sentence", |()| overall.sentence.as_str())
        .text("program", |()| about.program.as_str())
        .whole("format", |()| origin.format)
        .maybe_text("opening_sha256", |()| origin.opening_sha256.as_deref())
        .maybe_text("head_sha256", |()| origin.head_sha256.as_deref())
        .whole("schema", |()| SCHEMA)
        .table()
}

/// An instrument of the comparison: its stream's name and what it says about itself.
#[derive(Clone, Copy)]
struct Instrument<'a> {
    name: Option<&'a str>,
    identity: Option<&'a Identity>,
}

impl<'a> Instrument<'a> {
    fn of(facts: &'a SessionFacts, stream: Option<&'a str>) -> Self {
        Self {
            name: stream,
            identity: stream
                .and_then(|name| facts.source_of(name))
                .map(|source| &source.identity),
        }
    }
}

/// Every sample of every stream as it was received, on the session's clock (that of the primary
/// reference in an imported session), in the order of the streams.
pub fn raw(evidence: &Evidence) -> Table<'_> {
    let samples = evidence.streams.iter().flat_map(|stream| {
        let quantities = [
            ("power_w", &stream.power_w),
            ("cadence_rpm", &stream.cadence_rpm),
            ("speed_kmh", &stream.speed_kmh),
        ];
        quantities.into_iter().flat_map(move |(quantity, series)| {
            series
                .iter()
                .map(move |(at, value)| (stream.name.as_str(), quantity, at, value))
        })
    });
    Rows::of("raw", samples)
        .text("source", |(name, ..)| name)
        .text("quantity", |(_, quantity, ..)| quantity)
        .time("time_s", |(_, _, at, _)| at.as_secs_f64())
        .real("value", |(.., value)| value)
        .table()
}

/// What happened during the session, as the caller read it from the file. `body` is JSON.
pub fn events(events: &[EventRow]) -> Table<'_> {
    Rows::of("events", events)
        .time("time_s", |event| event.at.as_secs_f64())
        .text("kind", |event| event.kind.as_str())
        .maybe_text("body", |event| {
            (!event.body.is_null()).then(|| event.body.to_string())
        })
        .table()
}
