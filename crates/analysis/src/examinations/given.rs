//! What every examination is given: the streams on one clock, the windows that passed the gate,
//! and the few facts about the bench that are not in the streams.
//!
//! Aligning, gating and the classification of drop-outs are the work of other modules; their
//! results arrive here as arguments.

use crate::evidence::{Evidence, Feeds, Place, Role, StepSpan, Stream};
use crate::outcome::{Estimate, NotTested};
use units::Timestamp;

/// The arguments common to all examinations.
#[derive(Clone, Copy, Debug)]
pub struct Given<'a> {
    /// Streams already moved on the clock of the primary reference, steps, commands.
    pub evidence: &'a Evidence,
    /// The streams as they arrived, before any of them was moved, in the same order.
    pub received: &'a [Stream],
    /// Windows of device against primary reference that passed the gate, in order of time.
    pub windows: &'a [SteadyWindow],
    /// Classified drop-outs of the device under test, in order of time.
    pub dropouts: &'a [DropOut],
    /// Facts about each stream, in the order of [`Evidence::streams`]; may be shorter.
    pub facts: &'a [StreamFacts],
    /// Facts about the bench.
    pub bench: BenchFacts,
}

/// Means over one gated window, paired: device and primary reference over the same seconds.
#[derive(Clone, Debug, PartialEq)]
pub struct SteadyWindow {
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// Index into [`Evidence::steps`] of the step the window lies in, if there is a script.
    pub step: Option<usize>,
    /// The level the window belongs to, W: the target, or the level of the plateau.
    pub level_w: f64,
    /// Mean power of the primary reference, W, as indicated.
    pub reference_w: f64,
    /// Mean power of the device under test, W.
    pub under_test_w: f64,
    /// Mean cadence, rpm.
    pub cadence_rpm: Option<f64>,
    /// Mean flywheel speed, km/h.
    pub speed_kmh: Option<f64>,
    /// Gear, if the script asked for one.
    pub gear: Option<f64>,
    /// Standard uncertainty of the mean difference from its own scatter, % of the reference as
    /// indicated.
    pub u_pct: f64,
}

impl SteadyWindow {
    /// Indicated difference, % of reference.
    pub fn error_pct(&self) -> f64 {
        100.0 * (self.under_test_w / self.reference_w - 1.0)
    }

    /// Middle of the window, seconds since the session began.
    pub fn middle_s(&self) -> f64 {
        0.5 * (self.from.as_secs_f64() + self.to.as_secs_f64())
    }
}

/// One classified drop-out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropOut {
    /// What happened.
    pub kind: DropOutKind,
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// Work of the reference that the device did not show, kJ.
    pub lost_kj: f64,
}

/// What a drop-out is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum DropOutKind {
    /// Packets are missing.
    MissingPackets,
    /// The device shows zero while the reference shows work.
    ZeroUnderLoad,
    /// The same value again and again while the reference moves.
    Frozen,
    /// Nobody pedals: a true zero, listed but no fault.
    Coasting,
    /// The link was lost and came back.
    Reconnection,
}

impl DropOutKind {
    /// All kinds, in the order of the findings.
    pub const ALL: [Self; 5] = [
        Self::MissingPackets,
        Self::ZeroUnderLoad,
        Self::Frozen,
        Self::Coasting,
        Self::Reconnection,
    ];

    /// The kind in words.
    pub fn words(self) -> &'static str {
        match self {
            Self::MissingPackets => "missing packets",
            Self::ZeroUnderLoad => "zero under load",
            Self::Frozen => "frozen value",
            Self::Coasting => "coasting",
            Self::Reconnection => "reconnection",
        }
    }
}

/// Facts about one stream that are not in it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct StreamFacts {
    /// Lag against the primary reference that was removed when the stream was moved, s.
    pub removed_lag_s: f64,
    /// How much earlier the samples of the stream were moved, s: the lag, and what holding its
    /// values for longer than the reference's adds ([`crate::findings::Alignment::shift_s`]).
    pub removed_shift_s: f64,
    /// Standard uncertainty of that lag, s.
    pub removed_lag_u_s: f64,
    /// Expanded uncertainty (95 %) of the instrument's calibration, % of reading, if known.
    pub expanded_pct: Option<f64>,
}

/// Facts about the bench that are not in the streams.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BenchFacts {
    /// Efficiency between the reference and the device, with its standard uncertainty; exactly
    /// one where both measure on the same side of the drivetrain.
    pub efficiency: Estimate,
    /// The claimed tolerance, if there is one.
    pub tolerance: Option<Tolerance>,
    /// Moment of inertia of the flywheel at its own axis and its speed, if stated.
    pub flywheel: Option<Flywheel>,
    /// Factor with which the device is meant to apply the commanded wind coefficient.
    pub wind_factor: Option<WindFactor>,
}

impl Default for BenchFacts {
    fn default() -> Self {
        Self {
            efficiency: Estimate {
                value: 1.0,
                u: 0.0,
                dof: f64::MAX,
            },
            tolerance: None,
            flywheel: None,
            wind_factor: None,
        }
    }
}

/// A claimed tolerance: half-width is the larger of a share of the reading and a fixed power.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// Share of the reading, %.
    pub pct: f64,
    /// Fixed part, W.
    pub floor_w: f64,
}

impl Tolerance {
    /// Half-width at a power, W.
    pub fn half_width_w(self, power_w: f64) -> f64 {
        (self.pct / 100.0 * power_w.abs()).max(self.floor_w)
    }

    /// Half-width at a power, % of that power; `None` where the power is not above zero.
    pub fn half_width_pct(self, power_w: f64) -> Option<f64> {
        (power_w > 0.0).then(|| 100.0 * self.half_width_w(power_w) / power_w)
    }
}

/// A stated flywheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flywheel {
    /// Moment of inertia, kg·m².
    pub inertia_kg_m2: f64,
    /// Revolutions of the flywheel per metre of road.
    pub revolutions_per_metre: f64,
}

/// Two readings of a wind coefficient in kg/m: with and without the half of the drag equation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WindFactor {
    /// Force is the coefficient times the square of the air speed.
    Whole,
    /// Force is half of that: the coefficient is area × drag coefficient × density.
    Half,
}

impl WindFactor {
    /// The factor as a number.
    pub fn value(self) -> f64 {
        match self {
            Self::Whole => 1.0,
            Self::Half => 0.5,
        }
    }
}

/// A stream with its place in the evidence and its facts.
#[derive(Clone, Copy, Debug)]
pub struct Source<'a> {
    /// Index into [`Evidence::streams`].
    pub index: usize,
    /// The stream.
    pub stream: &'a Stream,
    /// Its facts.
    pub facts: StreamFacts,
}

impl<'a> Given<'a> {
    /// All streams of a role that have any power, in order.
    pub fn sources(&self, role: Role) -> impl Iterator<Item = Source<'a>> + '_ {
        self.all_sources()
            .filter(move |source| source.stream.role == role && !source.stream.power_w.is_empty())
    }

    /// All streams, in order.
    pub fn all_sources(&self) -> impl Iterator<Item = Source<'a>> + '_ {
        self.evidence
            .streams
            .iter()
            .enumerate()
            .map(|(index, stream)| Source {
                index,
                stream,
                facts: self.facts.get(index).copied().unwrap_or_default(),
            })
    }

    /// The device under test: its first stream that has power.
    ///
    /// # Errors
    /// [`NotTested`] if there is none.
    pub fn under_test(&self, examination: &'static str) -> Result<Source<'a>, NotTested> {
        self.sources(Role::UnderTest)
            .next()
            .ok_or_else(|| NotTested {
                examination,
                reason: "no power was received from the device under test; check its link and role"
                    .into(),
            })
    }

    /// The primary reference.
    ///
    /// # Errors
    /// [`NotTested`] if there is none.
    pub fn reference(&self, examination: &'static str) -> Result<Source<'a>, NotTested> {
        self.sources(Role::PrimaryReference)
            .next()
            .ok_or_else(|| NotTested {
                examination,
                reason:
                    "no power was received from a primary reference; give one instrument that role"
                        .into(),
            })
    }

    /// The efficiency to apply to the reference before it is compared with the device at the hub.
    /// Exactly one unless the device alone sits behind the drivetrain.
    pub fn efficiency_between(&self, reference: Place, device: Place) -> Estimate {
        if device.is_behind_drivetrain() && !reference.is_behind_drivetrain() {
            self.bench.efficiency
        } else {
            Estimate {
                value: 1.0,
                u: 0.0,
                dof: f64::MAX,
            }
        }
    }

    /// Whether any part of a span may not be judged.
    pub fn is_invalid(&self, from: Timestamp, to: Timestamp) -> bool {
        self.evidence
            .invalid
            .iter()
            .any(|span| span.from < to && from < span.to)
    }

    /// The steps that feed an examination, with their index.
    pub fn steps(&self, feeds: Feeds) -> impl Iterator<Item = (usize, &'a StepSpan)> + '_ {
        self.evidence
            .steps
            .iter()
            .enumerate()
            .filter(move |(_, step)| step.feeds == feeds)
    }

    /// What the step a window lies in was ridden for, if there is a script.
    pub fn feeds_of(&self, window: &SteadyWindow) -> Option<Feeds> {
        Some(self.evidence.steps.get(window.step?)?.feeds)
    }
}
