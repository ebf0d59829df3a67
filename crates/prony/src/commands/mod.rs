//! What each command does, one file each.

mod assess;
mod audit;
mod compare;
mod devices;
mod export;
mod import;
mod listing;
mod pack;
mod plan;
mod run;
mod selftest;
mod shelf;
mod verify;

use crate::cli::Command;

/// Why a command did not succeed, and the exit status that says so.
pub struct Failure {
    /// What went wrong, with causes.
    pub error: anyhow::Error,
    /// 1: the work failed; 2: the arguments were unusable.
    pub status: u8,
}

impl From<anyhow::Error> for Failure {
    fn from(error: anyhow::Error) -> Self {
        Self { error, status: 1 }
    }
}

impl Failure {
    /// The arguments were unusable.
    pub fn unusable(error: impl Into<anyhow::Error>) -> Self {
        Self {
            error: error.into(),
            status: 2,
        }
    }
}

/// Does what was asked; without a command, opens the desktop.
///
/// # Errors
/// [`Failure`] with the exit status.
pub fn obey(command: Option<Command>) -> Result<(), Failure> {
    match command {
        None => Ok(crate::desktop::open()?),
        Some(Command::Run(arguments)) => run::run(&arguments),
        Some(Command::Assess(arguments)) => assess::assess(&arguments),
        Some(Command::Compare(arguments)) => compare::compare(&arguments),
        Some(Command::Verify { files }) => verify::verify(&files),
        Some(Command::Pack(arguments)) => pack::pack(&arguments),
        Some(Command::Audit(arguments)) => audit::audit(&arguments),
        Some(Command::Plan(arguments)) => plan::plan(&arguments),
        Some(Command::Devices(arguments)) => devices::devices(&arguments),
        Some(Command::Selftest(arguments)) => selftest::selftest(&arguments),
        Some(Command::Import(arguments)) => import::import(&arguments),
        Some(Command::Nudge(arguments)) => import::nudge(&arguments),
        Some(Command::Export(arguments)) => export::export(&arguments),
        Some(Command::Shelf(arguments)) => shelf::shelf(&arguments),
    }
}
