//! Claims about anything but the accuracy of power.

use crate::limit::Limit;

/// A claim that can be measured or looked up.
#[derive(Clone, Debug, PartialEq)]
pub struct MeasurableClaim {
    /// Short name, for a heading; unique on a sheet.
    pub name: String,
    /// The maker's words, verbatim; empty if there is no published claim behind it.
    pub text: String,
    /// Where the words were read: document, page, date.
    pub source: String,
    /// Preconditions in the maker's or the tester's words.
    pub conditions: Vec<String>,
    /// What is claimed.
    pub subject: Subject,
}

/// What is claimed, with its limit.
#[derive(Clone, Debug, PartialEq)]
pub enum Subject {
    /// Largest power, W, held for a time.
    LargestPower {
        /// Limit, W.
        limit: Limit,
        /// Time for which it is held, s.
        over_s: f64,
    },
    /// Largest slope that is simulated, %.
    LargestSlope {
        /// Limit, %.
        limit: Limit,
    },
    /// Quantities that the device sends.
    FieldsSent {
        /// The quantities.
        fields: Vec<Field>,
    },
    /// Values per second, Hz.
    UpdateRate {
        /// Limit, Hz.
        limit: Limit,
    },
    /// Moving mass that the flywheel stands for, kg.
    EquivalentMass {
        /// Limit, kg.
        limit: Limit,
    },
    /// Sound pressure level, dB(A).
    Noise {
        /// Limit, dB(A).
        limit: Limit,
        /// Distance it is claimed for, m.
        distance_m: f64,
    },
    /// Mass of the device, kg.
    Mass {
        /// Limit, kg.
        limit: Limit,
    },
    /// A length of the device, mm; which one is in the name.
    Dimension {
        /// Limit, mm.
        limit: Limit,
    },
    /// A document, a marking or a listing that can be looked up.
    Document,
}

/// A quantity that a device may send.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Field {
    /// Power.
    Power,
    /// Cadence.
    Cadence,
    /// Speed.
    Speed,
    /// Anything that the recording does not hold; looked up by hand.
    Other(String),
}

impl Field {
    /// The quantity in words.
    pub fn words(&self) -> &str {
        match self {
            Self::Power => "power",
            Self::Cadence => "cadence",
            Self::Speed => "speed",
            Self::Other(name) => name,
        }
    }
}

impl Subject {
    /// The limit, where the claim has one.
    pub const fn limit(&self) -> Option<Limit> {
        match self {
            Self::LargestPower { limit, .. }
            | Self::LargestSlope { limit }
            | Self::UpdateRate { limit }
            | Self::EquivalentMass { limit }
            | Self::Noise { limit, .. }
            | Self::Mass { limit }
            | Self::Dimension { limit } => Some(*limit),
            Self::FieldsSent { .. } | Self::Document => None,
        }
    }

    /// Unit of the limit; empty where there is none.
    pub const fn unit(&self) -> &'static str {
        match self {
            Self::LargestPower { .. } => "W",
            Self::LargestSlope { .. } => "%",
            Self::UpdateRate { .. } => "Hz",
            Self::EquivalentMass { .. } | Self::Mass { .. } => "kg",
            Self::Noise { .. } => "dB(A)",
            Self::Dimension { .. } => "mm",
            Self::FieldsSent { .. } | Self::Document => "",
        }
    }

    /// The claim in words: `at least 2000 W over 5 s`.
    pub fn words(&self) -> String {
        let unit = self.unit();
        let bounds = self.limit().map_or(String::new(), |limit| match limit {
            Limit::AtLeast(value) => format!("at least {value} {unit}"),
            Limit::AtMost(value) => format!("at most {value} {unit}"),
            Limit::Between(low, high) => format!("{low} to {high} {unit}"),
        });
        match self {
            Self::LargestPower { over_s, .. } => format!("{bounds} over {over_s} s"),
            Self::Noise { distance_m, .. } => format!("{bounds} at {distance_m} m"),
            Self::FieldsSent { fields } => {
                let names: Vec<&str> = fields.iter().map(Field::words).collect();
                format!("sends {}", names.join(", "))
            }
            Self::Document => "can be shown".into(),
            _ => bounds,
        }
    }

    /// What to do where the claim was not tested.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::LargestPower { .. } => {
                "ride short hard efforts in resistance or slope mode up to the claimed power with \
                 a reference on, or enter a value that was measured elsewhere"
            }
            Self::LargestSlope { .. } => {
                "ride the slope steps up to and beyond the claimed grade with a reference on"
            }
            Self::FieldsSent { .. } => {
                "record the device for five minutes of pedalling; look up by hand what the \
                 recording does not hold, and enter it"
            }
            Self::UpdateRate { .. } => {
                "record the device over the radio for at least a minute of pedalling"
            }
            Self::EquivalentMass { .. } => {
                "ride several accelerations in resistance mode with a reference and a device that \
                 reports speed, or enter a value from a coast-down with a known brake"
            }
            Self::Noise { .. } => {
                "read a sound level meter with the device running and of the background at the \
                 claimed distance, and enter the levels"
            }
            Self::Mass { .. } => "weigh the device and enter the mass with its uncertainty",
            Self::Dimension { .. } => "measure the length and enter it with its uncertainty",
            Self::Document => "look the document or marking up and enter what was found",
        }
    }
}
