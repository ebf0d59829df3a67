//! What the analysis is given: the streams, the steps, the targets and the settings of one session.
//!
//! All moments are on the session's one clock. Nothing in here is aligned, gated or corrected yet;
//! that is the work of the other modules.

use units::{Series, Span, Timestamp};

/// Everything recorded in one session that a comparison can use.
#[derive(Clone, Debug, Default)]
pub struct Evidence {
    /// All streams; several may come from one physical instrument (two services, two smoothings).
    pub streams: Vec<Stream>,
    /// The steps that were ridden, in order, attempts included; empty for a recording without script.
    pub steps: Vec<StepSpan>,
    /// Every change of the commanded load, in order of time.
    pub commands: Vec<Command>,
    /// Spans that may not be judged, with the reason: stalls, pauses, the operator's word.
    pub invalid: Vec<InvalidSpan>,
    /// When the recording ended.
    pub end: Timestamp,
}

/// One stream of values from one instrument.
#[derive(Clone, Debug)]
pub struct Stream {
    /// Name shown to people, unique in the session.
    pub name: String,
    /// What the stream is for.
    pub role: Role,
    /// Where on the drivetrain the instrument measures.
    pub place: Place,
    /// Indicated power, watts.
    pub power_w: Series,
    /// Cadence, revolutions per minute.
    pub cadence_rpm: Series,
    /// Speed of the flywheel as road speed, km/h.
    pub speed_kmh: Series,
    /// When each packet of the stream's main characteristic arrived, with the link epoch.
    pub arrivals: Vec<Arrival>,
    /// Zero offsets read before and after, N·m, with their moments.
    pub zero_offsets: Vec<ZeroOffset>,
}

impl Stream {
    /// A stream without any values yet.
    pub fn new(name: &str, role: Role, place: Place) -> Self {
        Self {
            name: name.to_owned(),
            role,
            place,
            power_w: Series::new(),
            cadence_rpm: Series::new(),
            speed_kmh: Series::new(),
            arrivals: Vec::new(),
            zero_offsets: Vec::new(),
        }
    }
}

/// What a stream is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Role {
    /// The device whose claims are tested.
    UnderTest,
    /// The instrument the device is judged against.
    PrimaryReference,
    /// A further trusted instrument.
    SecondReference,
    /// Recorded, but not judged and not judged against (a cadence sensor, a heart-rate strap).
    Witness,
}

/// Where on the drivetrain an instrument measures. Between crank and hub lies the drivetrain loss.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// Pedals, both sides.
    Pedals,
    /// Crank, spider or chain ring, both sides.
    Crank,
    /// One side only, doubled.
    OneSide,
    /// Rear hub or the brake of a direct-drive trainer.
    Hub,
    /// Unknown or not a power instrument.
    Unknown,
}

impl Place {
    /// Whether the drivetrain lies between the pedals' power and this instrument.
    pub fn is_behind_drivetrain(self) -> bool {
        matches!(self, Self::Hub)
    }
}

/// The arrival of one packet.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Arrival {
    /// When.
    pub at: Timestamp,
    /// Number of the link.
    pub epoch: u32,
}

/// One reading of an instrument's zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ZeroOffset {
    /// When.
    pub at: Timestamp,
    /// The offset as torque at the crank, N·m.
    pub torque_nm: f64,
}

/// One ridden attempt of one step.
#[derive(Clone, Debug, PartialEq)]
pub struct StepSpan {
    /// Position in the plan.
    pub index: usize,
    /// First attempt is 1.
    pub attempt: u32,
    /// Title in the rider's words.
    pub title: String,
    /// Which examination the step was ridden for.
    pub feeds: Feeds,
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// Time at the beginning that is discarded while things settle.
    pub settle: Span,
    /// The constant power asked for, if the step asks for one, W.
    pub target_w: Option<f64>,
    /// Cadence asked for, rpm.
    pub cadence_rpm: Option<f64>,
    /// Gear asked for, as development in metres per crank revolution or any label number; equal numbers, equal gears.
    pub gear: Option<f64>,
}

/// Which examination a step was ridden for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Feeds {
    /// Steady comparison: gated windows, cells.
    Steady,
    /// Response to a new target.
    Response,
    /// Warm-up drift.
    Drift,
    /// Short hard effort.
    Burst,
    /// Slope simulation.
    Slope,
    /// Radio drop-outs during free riding.
    DropOut,
    /// Dependence on cadence.
    Cadence,
    /// Dependence on flywheel speed.
    FlywheelSpeed,
    /// Spin-down or coast-down.
    CoastDown,
    /// Nothing: warm-up, rest, cool-down, prompts.
    Nothing,
}

/// A change of the commanded load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Command {
    /// When the command was sent.
    pub at: Timestamp,
    /// When the device confirmed it, if it did.
    pub confirmed_at: Option<Timestamp>,
    /// What was asked for.
    pub load: Load,
}

/// A commanded load.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Load {
    /// Target power, W.
    PowerW(f64),
    /// Resistance level, unitless.
    Resistance(f64),
    /// Simulated slope.
    Slope {
        /// Grade, %.
        grade_pct: f64,
        /// Head wind, m/s.
        wind_m_per_s: f64,
        /// Coefficient of rolling resistance.
        crr: f64,
        /// Wind resistance coefficient, kg/m.
        cw_kg_per_m: f64,
    },
    /// Released: no load asked for.
    Released,
}

/// A span that may not be judged.
#[derive(Clone, Debug, PartialEq)]
pub struct InvalidSpan {
    /// Beginning.
    pub from: Timestamp,
    /// End.
    pub to: Timestamp,
    /// Why, in words.
    pub reason: String,
}
