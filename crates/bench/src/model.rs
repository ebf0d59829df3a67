//! The read-only view of a running session: everything the screen may know, and nothing else.
//!
//! A model is a snapshot. It is cheap to clone, holds no truth of its own, and no value in it is
//! ever not-a-number: what is missing is `None`, what is old has an age.

use crate::trace::Trace;
use serde::{Deserialize, Serialize};
use std::sync::Arc;
use units::{SourceId, Span, Timestamp};

/// A snapshot of the bench at one moment.
#[derive(Clone, Debug)]
pub struct Model {
    /// The moment of the snapshot.
    pub now: Timestamp,
    /// Where the session stands.
    pub phase: Phase,
    /// Whether the instruments are simulated; the screen always says so.
    pub simulated: bool,
    /// The script being ridden.
    pub script: Arc<ScriptView>,
    /// The step being ridden.
    pub step: Option<StepView>,
    /// What the rider is asked to do, in large letters.
    pub prompt: Option<PromptView>,
    /// The instruments in the order: device under test, references, others.
    pub instruments: Vec<InstrumentView>,
    /// The commanded power, W; empty where the load was not a power.
    pub target_w: Trace,
    /// Device against reference.
    pub comparison: ComparisonView,
    /// Windows out of tolerance and drop-outs, in the order raised.
    pub flags: Arc<Vec<FlagView>>,
    /// The brake: what it was told and what it answered.
    pub brake: BrakeView,
    /// Things the operator should know, newest last.
    pub notices: Arc<Vec<NoticeView>>,
}

/// Where a session stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Phase {
    /// Instruments are linked; the cautions have not been accepted yet.
    Cautions,
    /// Everything is ready; nothing is loaded.
    Ready,
    /// The script is being ridden.
    Riding,
    /// The load is off until the rider resumes.
    Paused {
        /// Why, in words.
        reason: String,
    },
    /// The session is over; the load is off.
    Ended {
        /// Why, in words.
        reason: String,
    },
}

/// The script as a list for people.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ScriptView {
    /// Short name, as on the command line.
    pub name: String,
    /// Title in words.
    pub title: String,
    /// The planned steps, flattened, in order.
    pub steps: Vec<PlannedStepView>,
    /// Planned length, open ends not counted.
    pub total: Span,
    /// The steps that ask for what the device does not offer, or for more than the rider's ceiling.
    pub beyond: Vec<BeyondView>,
}

/// A step that asks for what the device does not offer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BeyondView {
    /// Index into [`ScriptView::steps`].
    pub index: usize,
    /// What it asks for, what the limit is and what to do, in words.
    pub words: String,
    /// Whether it has to be brought into the range before the script can begin; otherwise it is
    /// capped as it is ridden, or left out where the device does not offer its mode.
    pub to_be_capped: bool,
}

/// One planned step.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedStepView {
    /// What to do, in words.
    pub title: String,
    /// Planned beginning from the start of the script.
    pub begins: Span,
    /// Planned length; `None` for an open end.
    pub length: Option<Span>,
    /// Power asked for at the beginning and the end, W, if the step asks for a power.
    pub target_w: Option<[f64; 2]>,
}

/// The step being ridden.
#[derive(Clone, Debug, PartialEq)]
pub struct StepView {
    /// Index into [`ScriptView::steps`].
    pub index: usize,
    /// First attempt is 1.
    pub attempt: u32,
    /// Title in words.
    pub title: String,
    /// Time since it began.
    pub elapsed: Span,
    /// Time left; `None` for an open end.
    pub remaining: Option<Span>,
    /// Power asked for now, W.
    pub target_w: Option<f64>,
    /// Cadence asked for, rpm.
    pub cadence_rpm: Option<f64>,
    /// The step after it, in words.
    pub next: Option<String>,
    /// Whether the present moment counts, in words: settling, steady, not steady because …
    pub gate: GateView,
}

/// Whether the present moment counts for the comparison.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GateView {
    /// The step is not judged.
    NotJudged,
    /// The first part of a hold, discarded.
    Settling {
        /// How long still.
        remaining: Span,
    },
    /// It counts.
    Steady,
    /// It does not count, because …
    NotSteady {
        /// Reason in words.
        reason: String,
    },
}

/// What the rider is asked to do.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PromptView {
    /// The words.
    pub text: String,
    /// Whether the script waits until the rider acknowledges.
    pub waits: bool,
}

/// One instrument.
#[derive(Clone, Debug)]
pub struct InstrumentView {
    /// Which source it is.
    pub source: SourceId,
    /// Name for people.
    pub name: String,
    /// What it is for.
    pub role: InstrumentRole,
    /// Where it measures, in words.
    pub place: String,
    /// Link and data health.
    pub health: Health,
    /// Latest power, W, with its age; `None` if there is none or it is too old to mean anything.
    pub power_w: Option<Reading>,
    /// Latest cadence, rpm.
    pub cadence_rpm: Option<Reading>,
    /// Latest flywheel speed, km/h.
    pub speed_kmh: Option<Reading>,
    /// Power over time, W.
    pub power: Trace,
    /// Cadence over time, rpm.
    pub cadence: Trace,
    /// Flywheel speed over time, km/h.
    pub speed: Trace,
    /// Packets received.
    pub packets: u64,
    /// Packets of the main characteristic per second over the last half minute.
    pub rate_hz: Option<f64>,
    /// Maker, model and firmware, in words, as far as known.
    pub identity: String,
}

/// What an instrument is for, in the order in which instruments are listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum InstrumentRole {
    /// The device whose claims are tested.
    UnderTest,
    /// What it is judged against.
    PrimaryReference,
    /// A further trusted instrument.
    SecondReference,
    /// Recorded only.
    Witness,
}

/// A value and how old it is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// The value.
    pub value: f64,
    /// Time since it was reported.
    pub age: Span,
}

/// Health of an instrument.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Health {
    /// Reports as it should.
    Good,
    /// Linked, but silent for this long.
    Silent(Span),
    /// Not linked.
    Lost,
    /// Has not reported yet.
    Waiting,
}

/// Device against reference.
#[derive(Clone, Debug)]
pub struct ComparisonView {
    /// How the two are compared, in words: "as indicated" or "referred to the hub, efficiency …".
    pub treatment: String,
    /// Difference of 30-s means, % of reference, at the end of each window.
    pub difference_pct: Trace,
    /// Expanded uncertainty (95 %) of each of those, %.
    pub expanded_pct: Trace,
    /// The claimed tolerance as a function of power is a band; this is its half-width now, %.
    pub tolerance_pct: Option<f64>,
    /// The latest difference and its expanded uncertainty, %.
    pub now: Option<[f64; 2]>,
    /// The cell being ridden, judged so far, in words, for example "likely within, needs about 2 more minutes".
    pub cell: Option<CellView>,
}

/// The running judgement of the cell being ridden.
#[derive(Clone, Debug, PartialEq)]
pub struct CellView {
    /// Which cell, in words: "200 W, 90 rpm".
    pub title: String,
    /// Steady seconds so far.
    pub seconds: f64,
    /// Mean difference so far, %.
    pub bias_pct: f64,
    /// Its expanded uncertainty, %.
    pub expanded_pct: f64,
    /// The verdict so far, in the words of the design.
    pub verdict: String,
    /// What is still needed, in words, if more riding can help.
    pub needs: Option<String>,
}

/// A flag raised while riding.
#[derive(Clone, Debug, PartialEq)]
pub struct FlagView {
    /// Beginning of the window.
    pub from: Timestamp,
    /// End of the window so far.
    pub to: Timestamp,
    /// How severe.
    pub severity: Severity,
    /// What was seen, in words with numbers and units.
    pub words: String,
}

/// How severe a flag is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// Outside the tolerance, but the uncertainty overlaps the limit.
    LikelyBeyond,
    /// Beyond the tolerance by more than the uncertainty.
    ShownBeyond,
    /// Data are missing, frozen or zero.
    DropOut,
}

/// The brake as the bench sees it.
#[derive(Clone, Debug, PartialEq)]
pub struct BrakeView {
    /// What it was last told, in words: "200 W", "released".
    pub told: String,
    /// What it answered, in words.
    pub answer: String,
    /// Whether the last command was confirmed.
    pub confirmed: bool,
    /// Whether the load is off as far as the bench knows.
    pub released: bool,
}

/// Something the operator should know.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoticeView {
    /// When.
    pub at: Timestamp,
    /// The words.
    pub words: String,
}
