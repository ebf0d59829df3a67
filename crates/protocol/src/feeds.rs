//! What a step is ridden for.

/// Which examination a step feeds, so that nobody has to guess afterwards what it was ridden for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Feeds {
    /// Steady comparison of device and reference.
    Steady,
    /// Response to a new target.
    Response,
    /// Drift while warming up.
    Drift,
    /// Short hard effort.
    Burst,
    /// Slope simulation.
    Slope,
    /// Drop-outs during free riding.
    DropOut,
    /// Dependence on cadence.
    Cadence,
    /// Dependence on flywheel speed.
    FlywheelSpeed,
    /// Spin-down and coast-down.
    SpinDown,
    /// The instruments' and the rider's warming up; not judged.
    Warmup,
    /// Nothing: rests, prompts, cool-down.
    Nothing,
}

impl Feeds {
    /// Every value, in the order of the documentation.
    pub const ALL: [Self; 11] = [
        Self::Steady,
        Self::Response,
        Self::Drift,
        Self::Burst,
        Self::Slope,
        Self::DropOut,
        Self::Cadence,
        Self::FlywheelSpeed,
        Self::SpinDown,
        Self::Warmup,
        Self::Nothing,
    ];

    /// The name as a script spells it.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Steady => "Steady",
            Self::Response => "Response",
            Self::Drift => "Drift",
            Self::Burst => "Burst",
            Self::Slope => "Slope",
            Self::DropOut => "DropOut",
            Self::Cadence => "Cadence",
            Self::FlywheelSpeed => "FlywheelSpeed",
            Self::SpinDown => "SpinDown",
            Self::Warmup => "Warmup",
            Self::Nothing => "Nothing",
        }
    }

    /// The value a recorded name stands for.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|feeds| feeds.name() == name)
    }

    /// Whether a steady window is what the step is for, so that an unsteady one is worth
    /// repeating and a decided one may end early.
    pub const fn wants_steady(self) -> bool {
        matches!(
            self,
            Self::Steady | Self::Cadence | Self::FlywheelSpeed | Self::Slope
        )
    }
}
