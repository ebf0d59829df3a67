//! Prony, the program: desktop and command line, one binary.
//!
//! This crate is the only owner of clock, threads and files besides the session file itself, and
//! joins the others: it gives the bench its packets, the recorder its rows and the screen its
//! snapshots. What a command does is in [`commands`], one file each.

mod choice;
mod cli;
mod clock;
mod commands;
mod desktop;
mod engine;
mod instruments;
mod places;
mod recording;
mod replaying;
mod setup;
mod simulated;

use clap::Parser;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments = match cli::Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            // Clap prints help and versions to stdout with status 0, mistakes to stderr.
            let _ = error.print();
            return if error.use_stderr() { ExitCode::from(2) } else { ExitCode::SUCCESS };
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
