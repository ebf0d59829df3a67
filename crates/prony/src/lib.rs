//! Prony, the program: desktop and command line, one binary.
//!
//! This crate is the only owner of clock, threads and files besides the session file itself, and
//! joins the others: it gives the bench its packets, the recorder its rows and the screen its
//! snapshots. What a command does is in [`commands`], one file each.

mod auditing;
pub mod bench_file;
pub mod choice;
pub mod cli;
pub mod clock;
pub mod commands;
pub mod comparing;
mod desktop;
pub mod engine;
pub mod equipment;
pub mod exporting;
mod guess;
mod heard;
pub mod importing;
pub mod instruments;
pub mod linked;
pub mod packing;
pub mod picturing;
mod places;
pub mod recording;
mod reins;
pub mod reopening;
pub mod replaying;
pub mod reporting;
pub mod selftest;
pub mod setup;
pub mod shelving;
pub mod simulated;
pub mod standing_in;
pub mod terminal;

use clap::Parser;
use std::process::ExitCode;

/// Reads the command line, does what it says, and gives the exit status: 0 done, 1 the work
/// failed, 2 unusable arguments.
pub fn main() -> ExitCode {
    let arguments = match cli::Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Help and version go to stdout with status 0, mistakes to stderr.
            let _ = error.print();
            return if error.use_stderr() {
                ExitCode::from(2)
            } else {
                ExitCode::SUCCESS
            };
        }
    };
    match commands::obey(arguments.command) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            cli::complain(&failure.error);
            ExitCode::from(failure.status)
        }
    }
}
