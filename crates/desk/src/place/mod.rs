//! The five places, in the order of the work.

pub mod bench;
pub mod findings;
pub mod run;
pub mod script;
pub mod shelf;

/// A place of the desk.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Place {
    /// The instruments and their roles.
    Bench,
    /// What is ridden.
    Script,
    /// The ride.
    Run,
    /// What was found.
    Findings,
    /// The saved sessions.
    Shelf,
}

impl Place {
    /// All places in order.
    pub const ALL: [Self; 5] = [
        Self::Bench,
        Self::Script,
        Self::Run,
        Self::Findings,
        Self::Shelf,
    ];

    /// The word on the rail.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Bench => "Bench",
            Self::Script => "Script",
            Self::Run => "Run",
            Self::Findings => "Findings",
            Self::Shelf => "Shelf",
        }
    }

    /// The digit that leads there.
    pub const fn digit(self) -> &'static str {
        match self {
            Self::Bench => "1",
            Self::Script => "2",
            Self::Run => "3",
            Self::Findings => "4",
            Self::Shelf => "5",
        }
    }
}
