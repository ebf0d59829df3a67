//! One plain step: what the brake does, what the rider is asked for, and what ends it.

use crate::feeds::Feeds;
use crate::load::{Cue, SlopeLoad, Target};
use crate::script::Place;
use units::{MetresPerSecond, RevPerMin, Span, Watts};

/// One step as it will be ridden.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedStep {
    /// Position in the plan, from 0.
    pub index: usize,
    /// Title in the rider's words.
    pub title: String,
    /// What sort of step it is.
    pub kind: StepKind,
    /// What the brake does.
    pub load: Load,
    /// How long it is planned to last.
    pub length: Length,
    /// What ends it.
    pub ending: Ending,
    /// Time at the beginning that is discarded while things settle.
    pub settle: Span,
    /// What it is ridden for.
    pub feeds: Feeds,
    /// What the rider is asked to do.
    pub cue: Cue,
    /// Where the script says so.
    pub place: Place,
}

/// What sort of step it is: for display, and for the few rules that depend on it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StepKind {
    /// A constant power.
    Hold,
    /// A power that changes evenly.
    Ramp,
    /// One tread of a staircase.
    Stair,
    /// One level of an alternation.
    Alternate,
    /// A prompt for a gear change that is checked by measurement; the next rung depends on it.
    GearChange,
    /// One rung of a flywheel-speed ladder.
    FlywheelRung,
    /// One rung of a cadence ladder.
    CadenceRung,
    /// Getting ready for a burst, the brake already set.
    BurstReady,
    /// A short hard effort.
    Burst,
    /// The rest after a burst.
    BurstRest,
    /// A simulated slope.
    Slope,
    /// A resistance level.
    Resistance,
    /// Bringing the flywheel to speed before it is left to run down.
    SpinUp,
    /// The flywheel running down by itself.
    CoastDown,
    /// The device's own spin-down procedure.
    SpinDown,
    /// Zero offset of one or more instruments.
    ZeroOffset,
    /// Riding as the rider likes.
    FreeRide,
    /// Rest.
    Rest,
    /// Words that wait for an answer.
    Prompt,
    /// Easy riding at the end.
    CoolDown,
}

impl StepKind {
    /// The name as it is recorded and shown.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Hold => "hold",
            Self::Ramp => "ramp",
            Self::Stair => "stair",
            Self::Alternate => "alternate",
            Self::GearChange => "gear change",
            Self::FlywheelRung => "flywheel rung",
            Self::CadenceRung => "cadence rung",
            Self::BurstReady => "burst ready",
            Self::Burst => "burst",
            Self::BurstRest => "burst rest",
            Self::Slope => "slope",
            Self::Resistance => "resistance",
            Self::SpinUp => "spin up",
            Self::CoastDown => "coast down",
            Self::SpinDown => "spin down",
            Self::ZeroOffset => "zero offset",
            Self::FreeRide => "free ride",
            Self::Rest => "rest",
            Self::Prompt => "prompt",
            Self::CoolDown => "cool down",
        }
    }

    /// Whether time without pedalling is a normal part of the step.
    pub const fn allows_standing_still(self) -> bool {
        matches!(
            self,
            Self::GearChange
                | Self::BurstReady
                | Self::Burst
                | Self::BurstRest
                | Self::SpinUp
                | Self::CoastDown
                | Self::SpinDown
                | Self::ZeroOffset
                | Self::FreeRide
                | Self::Rest
                | Self::Prompt
                | Self::CoolDown
        )
    }
}

/// What the brake does during a step.
#[derive(Clone, Debug, PartialEq)]
pub enum Load {
    /// No load.
    Free,
    /// Power changing evenly over the planned length; both ends equal for a constant.
    Power {
        /// At the beginning.
        from: Watts,
        /// At the end.
        to: Watts,
    },
    /// A resistance level.
    Resistance(f64),
    /// A slope along time or distance.
    Slope {
        /// Wind and coefficients; its grade is replaced by the points'.
        base: SlopeLoad,
        /// Along what the points lie.
        axis: ProgramAxis,
        /// How the grade runs between points.
        shape: ProgramShape,
        /// At least one point, the positions strictly rising from 0.
        points: Vec<SlopePoint>,
    },
}

/// Along what a slope program runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProgramAxis {
    /// Seconds ridden in the step.
    Seconds,
    /// Metres ridden in the step, by the measured speed.
    Metres,
}

/// How the grade runs between the points of a program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ProgramShape {
    /// Constant from each point to the next.
    Stepped,
    /// Changing evenly from each point to the next.
    Linear,
}

/// One point of a slope program.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SlopePoint {
    /// Seconds or metres from the beginning of the step.
    pub at: f64,
    /// Grade in percent.
    pub grade_pct: f64,
}

/// How long a step is planned to last. Nothing lasts for ever: an open step has a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Length {
    /// This long.
    Fixed(Span),
    /// As long as it takes.
    Open {
        /// The length used in totals.
        expected: Span,
        /// The longest it may take.
        limit: Span,
    },
}

impl Length {
    /// The length for totals and drawings.
    pub const fn expected(self) -> Span {
        match self {
            Self::Fixed(span) | Self::Open { expected: span, .. } => span,
        }
    }

    /// The longest it may take.
    pub const fn limit(self) -> Span {
        match self {
            Self::Fixed(span) | Self::Open { limit: span, .. } => span,
        }
    }
}

/// What ends a step. Whatever it is, the length's limit ends it as well.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Ending {
    /// The planned time.
    Time,
    /// Somebody acknowledges.
    Acknowledged,
    /// The rider stops pedalling, sees to it, and pedals again; or somebody acknowledges.
    PedallingResumes,
    /// The gate has been steady for this long.
    SteadyFor(Span),
    /// The question is decided, and at least this long was ridden.
    Decided {
        /// The least time.
        at_least: Span,
    },
    /// The asked development is measured.
    GearSeen {
        /// What the previous rung asked for, to compare changes where circumference is unknown.
        previous_m: Option<f64>,
    },
    /// At least this long, and power has come down to the resting level.
    Rested {
        /// The least time.
        at_least: Span,
        /// The resting level.
        resting: Watts,
    },
    /// This many metres are ridden.
    Distance {
        /// Metres.
        metres: f64,
    },
    /// The flywheel is at least this fast.
    SpeedReached(MetresPerSecond),
    /// The flywheel has run down below this speed, after at least this long.
    SpeedBelow {
        /// The speed.
        speed: MetresPerSecond,
        /// The least time.
        at_least: Span,
    },
    /// The device reports the end of its procedure.
    ProcedureDone(Procedure),
}

/// A procedure the instruments carry out themselves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Procedure {
    /// Spin-down of the device under test.
    SpinDown,
    /// Zero offset.
    ZeroOffset(ZeroOf),
}

/// Whose zero offset.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ZeroOf {
    /// The device under test.
    UnderTest,
    /// Every reference.
    References,
    /// All instruments.
    All,
}

impl PlannedStep {
    /// What the brake should do after `ridden` of this step and `metres` of road.
    pub fn target_at(&self, ridden: Span, metres: f64) -> Target {
        match &self.load {
            Load::Free => Target::Free,
            Load::Power { from, to } => {
                let whole = self.length.expected().as_secs_f64();
                let share = if whole > 0.0 {
                    (ridden.as_secs_f64() / whole).clamp(0.0, 1.0)
                } else {
                    1.0
                };
                Target::Power(*from + (*to - *from) * share)
            }
            Load::Resistance(level) => Target::Resistance(*level),
            Load::Slope {
                base,
                axis,
                shape,
                points,
            } => {
                let along = match axis {
                    ProgramAxis::Seconds => ridden.as_secs_f64(),
                    ProgramAxis::Metres => metres,
                };
                Target::Slope(SlopeLoad {
                    grade_pct: grade_at(points, *shape, along),
                    ..*base
                })
            }
        }
    }

    /// Whether the target changes during the step.
    pub fn target_varies(&self) -> bool {
        match &self.load {
            Load::Free | Load::Resistance(_) => false,
            Load::Power { from, to } => from != to,
            Load::Slope { points, .. } => points.len() > 1,
        }
    }

    /// The constant power asked for, if the step asks for one.
    pub fn constant_power(&self) -> Option<Watts> {
        match self.load {
            Load::Power { from, to } if from == to => Some(from),
            _ => None,
        }
    }

    /// The power at the step's beginning and end, of brake or rider, where one is asked for.
    pub fn planned_power(&self) -> Option<(Watts, Watts)> {
        match self.load {
            Load::Power { from, to } => Some((from, to)),
            _ => self.cue.effort.map(|effort| (effort, effort)),
        }
    }

    /// The cadence cue.
    pub fn cadence(&self) -> Option<RevPerMin> {
        self.cue.cadence
    }
}

/// The grade of a program at a position; the first point's before it, the last point's after it.
fn grade_at(points: &[SlopePoint], shape: ProgramShape, along: f64) -> f64 {
    let after = points.partition_point(|point| point.at <= along);
    let Some(here) = points.get(after.saturating_sub(1)) else {
        return 0.0;
    };
    match (shape, points.get(after)) {
        (ProgramShape::Linear, Some(next)) if next.at > here.at && along > here.at => {
            let share = (along - here.at) / (next.at - here.at);
            here.grade_pct + (next.grade_pct - here.grade_pct) * share
        }
        _ => here.grade_pct,
    }
}
