//! What the desk asks of the program around it.

use crate::inputs::{Preferences, Searching};
use analysis::evidence::Place;
use bench::Command;
use bench::model::InstrumentRole;
use units::Timestamp;

/// One wish of the person at the desk.
#[derive(Clone, Debug, PartialEq)]
pub enum Request {
    /// Something for the running session.
    Bench(Command),
    /// Link a bench and get a script ready.
    StartSession {
        /// Name of the script.
        script: String,
        /// Name of the bench.
        rig: String,
        /// How fast simulated time goes; real instruments know only real time.
        pace: Pace,
    },
    /// Ask for a session file and open it.
    OpenSession,
    /// Open a session from the shelf by its key.
    OpenShelved(String),
    /// Let go of the running session, its instruments included.
    CloseSession,
    /// Ask for a place and save the report of the open session there.
    SaveReport,
    /// Ask for a folder and save every picture of the open session there.
    SavePictures,
    /// Ask for a place and pack the open session there, with everything that follows from it.
    SavePack,
    /// Save the report of the open session beside its file, without asking.
    KeepReport,
    /// Move one recording of the open, imported session by hand, and judge it again.
    MoveRecording {
        /// Name of the recording's source.
        source: String,
        /// By how many seconds later; negative for earlier.
        later_s: f64,
    },
    /// Something about the saved sessions.
    Shelf(ShelfWish),
    /// Something about recordings that are about to become a session.
    Import(ImportWish),
    /// Something about the session that is played again.
    Replay(ReplayWish),
    /// Something about the instruments in range.
    Radio(RadioWish),
    /// Something about scripts, claim sheets and the rule.
    Script(ScriptWish),
    /// Keep the preferences.
    Prefer(Preferences),
    /// Ask for another folder to keep everything in.
    ChooseDataFolder,
    /// Give up the work in progress.
    CancelWork,
    /// The failure was read.
    DismissFailure,
    /// The notice was read.
    DismissNotice,
    /// Keep the theme for the next start.
    RememberTheme(ThemeChoice),
    /// Keep the text size for the next start, percent.
    RememberTextSize(u16),
}

/// What can be wished about the saved sessions. Sessions are named by their key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ShelfWish {
    /// Close what was interrupted.
    Recover(Vec<String>),
    /// Leave interrupted sessions as they are and do not offer it again.
    LeaveInterrupted,
    /// Keep words to find a session by, and a note about it.
    Note {
        /// Which session.
        key: String,
        /// The words.
        tags: Vec<String>,
        /// The note.
        note: String,
    },
    /// Show the sessions that fit these words, in this order.
    Show {
        /// The words, as they were typed.
        words: String,
        /// By what they are ordered.
        order: Order,
    },
    /// Put sessions side by side, two to twelve, the first as the one compared with.
    Compare(Vec<String>),
    /// Compare the same sessions as something else than they tell, by an index of the kinds of the
    /// view; `None` for what they tell.
    CompareAs(Option<usize>),
    /// Put the comparison away.
    CloseCompare,
    /// Ask for a place and save the report of the comparison there.
    SaveComparison,
    /// Save the report of the comparison beside its first session, without asking.
    KeepComparison,
    /// Ask for a folder and write the series and events of a session there as tables.
    Export(String),
    /// Ask for the folder of a dataset of many sessions and put a session into it.
    AddToDataset(String),
    /// Play a session again.
    Replay(String),
}

/// By what the saved sessions are ordered, and whether the largest stands on top.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Order {
    /// By what.
    pub by: By,
    /// Largest, last or newest on top.
    pub falling: bool,
}

/// What the saved sessions can be ordered by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// When they were ridden.
    Ridden,
    /// Name of the device.
    Device,
    /// Firmware of the device.
    Firmware,
    /// Name of the script.
    Script,
    /// Length.
    Length,
    /// Verdict.
    Verdict,
}

impl By {
    /// All of them, with the word of the list.
    pub const ALL: [(Self, &'static str); 6] = [
        (Self::Ridden, "Ridden"),
        (Self::Device, "Device"),
        (Self::Firmware, "Firmware"),
        (Self::Script, "Script"),
        (Self::Length, "Length"),
        (Self::Verdict, "Verdict"),
    ];
}

impl Order {
    /// Orders by something, or the other way round where it was ordered by it already. What is
    /// counted begins with the largest, what is named with the first.
    pub const fn turned(self, by: By) -> Self {
        let same = self.by as u8 == by as u8;
        let counted = matches!(by, By::Ridden | By::Length);
        Self {
            by,
            falling: if same { !self.falling } else { counted },
        }
    }
}

impl Default for Order {
    fn default() -> Self {
        Self {
            by: By::Ridden,
            falling: true,
        }
    }
}

/// What can be wished about recordings that are about to become a session. Recordings and columns
/// are named by their place in the view.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ImportWish {
    /// Ask for recordings and read them, beside those that are there.
    Choose,
    /// Say what an instrument is for.
    GiveRole {
        /// Which recording.
        recording: usize,
        /// The role.
        role: InstrumentRole,
    },
    /// Say where an instrument measures.
    GivePlace {
        /// Which recording.
        recording: usize,
        /// Where.
        place: Place,
    },
    /// Say how a text in columns is meant.
    GiveColumn {
        /// Which recording.
        recording: usize,
        /// Which of the things to be said.
        column: usize,
        /// What is said; `None` that the text does not have it.
        choice: Option<usize>,
    },
    /// Leave a recording out.
    TakeOut(usize),
    /// Give one's word, or take it back, that the recordings are of one ride.
    SameRide(bool),
    /// Give one's word, or take it back, that the calendar of a recorder is wrong.
    ClocksMayBeWrong(bool),
    /// Place the recordings on one clock and make a session of them.
    BringIn,
    /// Import nothing.
    Close,
}

/// What can be wished about the session that is played again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReplayWish {
    /// Go on.
    Play,
    /// Stand still.
    Pause,
    /// So many seconds in a second.
    Pace(u32),
    /// Go to a moment.
    Seek(Timestamp),
    /// Put it away.
    Close,
}

/// What can be wished about the instruments in range. Devices are named by their id.
#[derive(Clone, Debug, PartialEq)]
pub enum RadioWish {
    /// Look for devices, or stop looking.
    Search(Searching),
    /// Give a device a role and link it, or let it go.
    GiveRole {
        /// Which device.
        device: String,
        /// The role; `None` lets it go.
        role: Option<InstrumentRole>,
    },
    /// Say where a device measures.
    GivePlace {
        /// Which device.
        device: String,
        /// Where.
        place: Place,
    },
    /// Remember the devices and their roles as a bench of this name.
    KeepBench(String),
    /// Give the roles of a remembered bench and link its devices.
    LinkBench(String),
    /// Forget a remembered bench.
    ForgetBench(String),
    /// Set the zero of a device.
    ZeroOffset(String),
    /// Run the spin-down of a device.
    SpinDown(String),
    /// See how a device behaves, rule by rule.
    Audit {
        /// Which device.
        device: String,
        /// What the audit may do.
        consent: AuditConsent,
    },
    /// Put the audit away.
    CloseAudit,
}

/// What an audit may do to a device.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AuditConsent {
    /// Read and listen.
    ReadOnly,
    /// Ask its control point, without a load.
    MayAsk,
    /// Change the load, beginning and ending with a release.
    MayChangeLoad,
}

/// What can be wished about scripts, claim sheets and the rule.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ScriptWish {
    /// Read a text and say what is wrong with it.
    Check {
        /// Counts the texts.
        serial: u64,
        /// The text.
        text: String,
    },
    /// Keep a text as a script of the user's own.
    Save {
        /// Its name.
        name: String,
        /// The text.
        text: String,
    },
    /// Delete a script of the user's own.
    Delete(String),
    /// Ask for a script file and keep a copy.
    Import,
    /// Judge by this claim sheet; without one, by the assumed tolerance.
    ChooseSheet(Option<String>),
    /// Keep a text as a claim sheet.
    SaveSheet {
        /// Its name.
        name: String,
        /// The text.
        text: String,
    },
    /// Delete a claim sheet.
    DeleteSheet(String),
    /// Judge by the settings in this text from the next session on; an empty text means the usual
    /// ones.
    SaveRule(String),
}

/// A start request from what is chosen.
pub(crate) fn start_request(script: &str, rig: &str, pace: Pace) -> Request {
    Request::StartSession {
        script: script.to_owned(),
        rig: rig.to_owned(),
        pace,
    }
}

/// How fast simulated time goes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pace {
    /// As fast as the clock.
    #[default]
    RealTime,
    /// Ten seconds a second.
    Times10,
    /// A minute a second.
    Times60,
}

impl Pace {
    /// All paces, slowest first.
    pub const ALL: [Self; 3] = [Self::RealTime, Self::Times10, Self::Times60];

    /// Seconds of simulated time per second.
    pub const fn factor(self) -> u32 {
        match self {
            Self::RealTime => 1,
            Self::Times10 => 10,
            Self::Times60 => 60,
        }
    }
}

/// Light, dark, or as the system is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum ThemeChoice {
    /// As the system is.
    #[default]
    System,
    /// Light.
    Light,
    /// Dark.
    Dark,
}
