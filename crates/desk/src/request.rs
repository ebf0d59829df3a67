//! What the desk asks of the program around it.

use bench::Command;

/// One wish of the person at the desk.
#[derive(Clone, Debug, PartialEq, Eq)]
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
