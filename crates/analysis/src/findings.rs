//! Everything computed after a ride, in the shape of the JSON document of the design's section 5.
//!
//! Percentages are of the reference, seconds are of the session's clock. What was not tested is in
//! `not_tested` with its reason and nowhere else.

use crate::evidence::{Feeds, Place, Role};
use crate::examinations::{DropOut, Examinations, SteadyWindow};
use crate::outcome::{Estimate, NotTested, Plot};
use crate::verdict::Verdict;
use units::Timestamp;

/// The findings of one session.
#[derive(Clone, Debug)]
pub struct Findings {
    /// Length of the recording, s.
    pub duration_s: f64,
    /// The streams, in the order of the evidence.
    pub sources: Vec<SourceFinding>,
    /// Name of the stream that was judged, if there was one.
    pub under_test: Option<String>,
    /// Name of the primary reference, if there was one.
    pub reference: Option<String>,
    /// Lag of each further stream against the primary reference.
    pub alignment: Vec<Alignment>,
    /// Windows that passed the gate, in order of time.
    pub windows: Vec<WindowFinding>,
    /// The same windows in the shape that the examinations take.
    pub steady: Vec<SteadyWindow>,
    /// Cells, both treatments where there are two.
    pub cells: Vec<Cell>,
    /// The judgement over all cells.
    pub overall: Overall,
    /// The examinations.
    pub examinations: Examinations,
    /// Drop-outs of the device under test, in order of time.
    pub dropouts: Vec<DropOut>,
    /// The uncertainty budget of the cell that decides.
    pub budget: Vec<BudgetTerm>,
    /// The claims of the sheet.
    pub claims: Vec<ClaimFinding>,
    /// Spans that did not count, each with its reason.
    pub exclusions: Vec<Exclusion>,
    /// Things that are not as they should be, in words.
    pub anomalies: Vec<String>,
    /// What was not tested and why.
    pub not_tested: Vec<NotTested>,
    /// Seconds of both instruments on one clock, for plots.
    pub traces: PairedTraces,
    /// Plots of the comparison as a whole; the examinations hold their own.
    pub plots: Vec<Plot>,
    /// The rule in one sentence, as it was fixed before the ride.
    pub rule: String,
}

/// One stream as it was received.
#[derive(Clone, Debug, PartialEq)]
pub struct SourceFinding {
    /// Name.
    pub name: String,
    /// What it is for.
    pub role: Role,
    /// Where it measures.
    pub place: Place,
    /// Packets of the main characteristic.
    pub packets: usize,
    /// Share of the recording that is covered by values of power, %.
    pub coverage_pct: f64,
    /// Values of power per second while it was reporting; `None` with fewer than two.
    pub rate_hz: Option<f64>,
}

/// Lag of one stream against the primary reference. A positive lag: the stream is late.
#[derive(Clone, Debug, PartialEq)]
pub struct Alignment {
    /// Name of the stream.
    pub source: String,
    /// Lag in the middle of the recording, s; zero where it could not be found.
    pub lag_s: f64,
    /// Its standard uncertainty, s.
    pub lag_u_s: f64,
    /// How much earlier the samples were moved, s. Values are held from one sample to the next, so
    /// that a stream of slower reports would stay behind by half the difference of the intervals if
    /// only its lag were taken out; this includes that half.
    pub shift_s: f64,
    /// Drift of the stream's clock, parts per million, where three segments or more agree on one.
    pub drift_ppm: Option<Estimate>,
    /// Moment at which `lag_s` holds when there is a drift.
    pub pivot: Timestamp,
    /// Whether the drift was applied as well: it is when its 95 % interval excludes zero.
    pub drift_applied: DriftApplied,
    /// Lag from power alone, s.
    pub from_power: Option<Estimate>,
    /// Lag from cadence alone, s.
    pub from_cadence: Option<Estimate>,
    /// Lags of the segments that were used.
    pub segments: Vec<LagSegment>,
    /// Stretches of a recording that came with a clock of its own, in order: more than one where that
    /// clock jumped. Empty for streams that were received on one clock. Where there are any, the
    /// samples of the evidence lie on the clock of the reference already.
    pub stretches: Vec<Stretch>,
    /// Why the lag could not be found, if so; the stream is then left where it was.
    pub refused: Option<NotTested>,
}

/// A stretch of a recording between two jumps of its recorder's clock, on the clock of the reference.
/// Between two stretches may lie a span that belongs to neither: the jump is somewhere in it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stretch {
    /// Its beginning; `None` for that of the recording.
    pub from: Option<Timestamp>,
    /// Its end; `None` for that of the recording.
    pub to: Option<Timestamp>,
    /// By how much the recorder's clock was ahead in the middle of it, s.
    pub lag_s: f64,
    /// Its standard uncertainty, s.
    pub lag_u_s: f64,
}

/// Whether a drift was applied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DriftApplied {
    /// Yes: its 95 % interval (Student's t) excludes zero.
    Yes,
    /// No: none was found, or its interval holds zero.
    No,
}

/// The lag of one segment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LagSegment {
    /// Where in the segment the changes lie that told the lag, on average, s.
    pub middle_s: f64,
    /// Lag, s.
    pub lag_s: f64,
    /// Standard uncertainty, s.
    pub u_s: f64,
    /// From which quantity.
    pub quantity: LagQuantity,
}

/// From which quantity a lag was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LagQuantity {
    /// Power.
    Power,
    /// Cadence.
    Cadence,
}

/// How device and reference are compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Treatment {
    /// As both indicate; includes the loss of the drivetrain where it lies between them.
    AsIndicated,
    /// The reference reduced by the assumed loss between crank and hub.
    HubReferred,
}

impl Treatment {
    /// The word of the JSON document.
    pub const fn name(self) -> &'static str {
        match self {
            Self::AsIndicated => "as_indicated",
            Self::HubReferred => "hub_referred",
        }
    }

    /// The treatment in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::AsIndicated => "as indicated",
            Self::HubReferred => "referred to the hub",
        }
    }
}

/// One steady window.
#[derive(Clone, Debug, PartialEq)]
pub struct WindowFinding {
    /// Beginning, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Index into the evidence's steps.
    pub step: Option<usize>,
    /// Index into [`Findings::cells`] of its cell in the deciding treatment.
    pub cell: Option<usize>,
    /// Level, W: the target, or the measured level of the cell.
    pub level_w: f64,
    /// Mean of the reference, W, as indicated.
    pub reference_w: f64,
    /// Mean of the device, W.
    pub under_test_w: f64,
    /// Mean cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Mean flywheel speed, km/h.
    pub speed_kmh: Option<f64>,
    /// Difference in the deciding treatment, %.
    pub difference_pct: f64,
    /// Standard uncertainty of the mean of this window from its scatter, %.
    pub u_a_pct: f64,
    /// Combined standard uncertainty, %.
    pub u_pct: f64,
    /// Expanded uncertainty, %.
    pub expanded_pct: f64,
    /// Half-width of the claimed tolerance, %.
    pub tolerance_pct: f64,
}

/// One level × cadence × flywheel-speed condition in one treatment.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    /// How device and reference are compared.
    pub treatment: Treatment,
    /// What the steps of the cell were ridden for; `None` without a script.
    pub feeds: Option<Feeds>,
    /// Level, W: the target, or the mean of the reference where no target was set.
    pub level_w: f64,
    /// Mean cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Mean flywheel speed, km/h.
    pub speed_kmh: Option<f64>,
    /// Number of steady windows.
    pub windows: usize,
    /// Number of separate visits (step attempts, or plateaus) they come from.
    pub visits: usize,
    /// Steady seconds.
    pub seconds: f64,
    /// Mean of the reference, W, in this treatment.
    pub reference_w: f64,
    /// Mean of the device, W.
    pub under_test_w: f64,
    /// Difference, W.
    pub bias_w: f64,
    /// Difference, % of the reference.
    pub bias_pct: f64,
    /// Standard uncertainty from scatter alone (type A), %.
    pub u_a_pct: f64,
    /// Combined standard uncertainty, %.
    pub u_pct: f64,
    /// Effective degrees of freedom of the combined uncertainty.
    pub dof: f64,
    /// Coverage factor.
    pub k: f64,
    /// Expanded uncertainty, %.
    pub expanded_pct: f64,
    /// Effective number of independent seconds.
    pub n_eff: f64,
    /// Lag-1 autocorrelation of the paired differences.
    pub lag1: f64,
    /// Half-width of the claimed tolerance, %.
    pub tolerance_pct: f64,
    /// Probability that the error is within the tolerance.
    pub p_conform: f64,
    /// Measurement capability index T/U.
    pub capability: f64,
    /// Largest error that would be shown within, %; `None` if the bench is not capable.
    pub accept_within_pct: Option<f64>,
    /// Smallest error that would be shown beyond, %.
    pub reject_beyond_pct: f64,
    /// Verdict.
    pub verdict: Verdict,
    /// What the verdict rests on where that needs words: why not tested, which term to reduce.
    pub remark: Option<String>,
    /// The terms of the uncertainty.
    pub budget: Vec<BudgetTerm>,
}

/// One term of an uncertainty budget.
#[derive(Clone, Debug, PartialEq)]
pub struct BudgetTerm {
    /// What it is, in words.
    pub term: String,
    /// Standard uncertainty, % of the reference.
    pub u_pct: f64,
    /// Degrees of freedom; `f64::MAX` for infinite.
    pub dof: f64,
    /// Where the number comes from.
    pub source: String,
}

/// The judgement over all cells.
#[derive(Clone, Debug, PartialEq)]
pub struct Overall {
    /// The treatment that decides, by where the claim and the instruments are.
    pub treatment: Treatment,
    /// Verdict under the deciding treatment.
    pub verdict: Verdict,
    /// Verdict in each treatment that was computed.
    pub by_treatment: Vec<(Treatment, Verdict)>,
    /// Index into [`Findings::cells`] of the cell that decides.
    pub worst_cell: Option<usize>,
    /// Conformance probability of what decides.
    pub p_conform: Option<f64>,
    /// Mean difference over all judged cells weighted by time, with its uncertainty, %.
    pub bias_pct: Option<Estimate>,
    /// Half-width of the claim at the cell that decides, %.
    pub tolerance_pct: Option<f64>,
    /// Number of cells that were judged.
    pub cells_judged: usize,
    /// Why no verdict may be given whatever the numbers say: references that disagree, a reference
    /// that steers the device. Empty where nothing stands against one.
    pub blocked_by: Vec<String>,
    /// The judgement in one sentence.
    pub sentence: String,
}

/// One claim and what was found about it.
#[derive(Clone, Debug, PartialEq)]
pub struct ClaimFinding {
    /// Name of the claim.
    pub name: String,
    /// The maker's words.
    pub text: String,
    /// The limit in words: `±2 %`.
    pub limit: String,
    /// The value that decides.
    pub measured: Option<f64>,
    /// Its expanded uncertainty.
    pub expanded: Option<f64>,
    /// Unit of both.
    pub unit: &'static str,
    /// Verdict.
    pub verdict: Verdict,
    /// The rule it was judged by, in words.
    pub rule: String,
    /// Which cell or window decides, or why it was not tested.
    pub remark: String,
}

/// A span that did not count.
#[derive(Clone, Debug, PartialEq)]
pub struct Exclusion {
    /// Beginning, s.
    pub from_s: f64,
    /// End, s.
    pub to_s: f64,
    /// Reason, in plain words.
    pub reason: String,
}

/// Both instruments second by second on the clock of the reference. All columns have one length.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PairedTraces {
    /// First second.
    pub from_s: i64,
    /// Device under test, W.
    pub under_test_w: Vec<Option<f64>>,
    /// Primary reference, W.
    pub reference_w: Vec<Option<f64>>,
    /// Cadence, rpm.
    pub cadence_rpm: Vec<Option<f64>>,
    /// Flywheel speed, km/h.
    pub speed_kmh: Vec<Option<f64>>,
}
