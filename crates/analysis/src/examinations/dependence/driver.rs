//! What the difference may depend on, its unit, and what to ride to show it.

use crate::examinations::given::SteadyWindow;

/// What the difference may depend on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Driver {
    /// Cadence at constant gear or with the flywheel speed held apart; unit of the slope 10 rpm.
    Cadence,
    /// Flywheel speed at constant cadence; unit of the slope 10 km/h.
    FlywheelSpeed,
}

impl Driver {
    /// Name of the examination.
    pub fn name(self) -> &'static str {
        match self {
            Self::Cadence => "dependence on cadence",
            Self::FlywheelSpeed => "dependence on flywheel speed",
        }
    }

    pub(super) fn of(self, window: &SteadyWindow) -> Option<f64> {
        match self {
            Self::Cadence => window.cadence_rpm,
            Self::FlywheelSpeed => window.speed_kmh,
        }
    }

    pub(super) fn other(self) -> Self {
        match self {
            Self::Cadence => Self::FlywheelSpeed,
            Self::FlywheelSpeed => Self::Cadence,
        }
    }

    /// Range within one level that shows a dependence, in the driver's unit.
    pub(super) fn least_range(self) -> f64 {
        match self {
            Self::Cadence => 10.0,
            Self::FlywheelSpeed => 5.0,
        }
    }

    pub(super) fn unit(self) -> &'static str {
        match self {
            Self::Cadence => "rpm",
            Self::FlywheelSpeed => "km/h",
        }
    }

    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Cadence => "cadence",
            Self::FlywheelSpeed => "flywheel speed",
        }
    }

    pub(super) fn advice(self) -> &'static str {
        match self {
            Self::Cadence => {
                "ride one power in one gear at three cadences at least 10 rpm apart, and at one \
                 cadence in three gears, so that the two can be told apart"
            }
            Self::FlywheelSpeed => {
                "ride one power at one cadence in three gears that differ by at least 5 km/h of \
                 flywheel speed"
            }
        }
    }
}
