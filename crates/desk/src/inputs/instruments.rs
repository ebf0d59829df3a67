//! What is in range, what is linked, and how a device behaved under audit.

use analysis::evidence::Place;
use bench::model::InstrumentRole;

/// The radio as the desk shows it.
#[derive(Clone, Copy, Debug, Default)]
pub struct RadioView<'a> {
    /// Whether it looks for devices.
    pub searching: Searching,
    /// What it found, in the order to be listed.
    pub cards: &'a [DeviceCard],
    /// The name of the remembered bench that the roles came from; empty for none.
    pub bench: &'a str,
}

/// Whether the radio looks for devices.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Searching {
    /// It does not.
    #[default]
    No,
    /// It is being started.
    Beginning,
    /// It does.
    Yes,
}

/// A device that was heard, or that a remembered bench names.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct DeviceCard {
    /// The system's name for it.
    pub id: String,
    /// The name it goes by.
    pub name: String,
    /// Its services in words.
    pub services: Vec<String>,
    /// Signal strength, dBm.
    pub signal_dbm: Option<i16>,
    /// Seconds since it was heard; `None` if the system only remembers it.
    pub age_s: Option<u64>,
    /// Its role, once it has one.
    pub role: Option<InstrumentRole>,
    /// Where it measures.
    pub place: Option<Place>,
    /// How far its link has come.
    pub link: LinkWord,
    /// Maker, model and firmware in words; empty until it was asked.
    pub identity: String,
    /// What it offers, in words.
    pub features: Vec<String>,
    /// Charge of its battery, %.
    pub battery_pct: Option<u8>,
    /// Power it reports, W.
    pub power_w: Option<f64>,
    /// Cadence it reports, rpm.
    pub cadence_rpm: Option<f64>,
    /// Flywheel speed it reports, km/h.
    pub speed_kmh: Option<f64>,
    /// What to mind about it, in sentences.
    pub warnings: Vec<String>,
    /// Whether it offers to set its zero.
    pub offers_zero: bool,
    /// Whether it offers a spin-down.
    pub offers_spin_down: bool,
    /// What came of the last procedure on it, in words; empty if there was none.
    pub procedure: String,
}

/// How far a link has come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LinkWord {
    /// Nobody asked for one.
    #[default]
    None,
    /// It is being made.
    Making,
    /// It stands.
    Live,
    /// It was lost; the next attempt follows by itself.
    Lost,
}

impl LinkWord {
    /// In words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::None => "not linked",
            Self::Making => "linking",
            Self::Live => "linked",
            Self::Lost => "link lost",
        }
    }
}

/// The conduct of one device.
#[derive(Clone, Debug, Default)]
pub struct AuditView {
    /// The device's name.
    pub device: String,
    /// Who it says it is.
    pub identity: String,
    /// The rules, broken ones first.
    pub rules: Vec<AuditLine>,
    /// All of it in a sentence.
    pub sentence: String,
}

/// One rule of an audit.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct AuditLine {
    /// What the rule asks, in words.
    pub title: String,
    /// Its place in the standard.
    pub clause: String,
    /// Kept, broken or not observable, in words.
    pub outcome: String,
    /// Why, in words.
    pub words: String,
    /// Whether it was broken.
    pub is_broken: bool,
}
