//! The command line: what can be typed, and how the program talks to a terminal.
//!
//! Results go to stdout, messages to stderr; with `--json -` stdout holds one JSON document and
//! nothing else. Exit status: 0 done, 1 the work failed, 2 unusable arguments.

use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

/// A test bench for those who test indoor trainers and cycling power meters.
///
/// Without a command it opens the desktop.
#[derive(Debug, Parser)]
#[command(name = "prony", version, arg_required_else_help = false)]
pub struct Arguments {
    /// What to do.
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Ride a script and record the session
    Run(RunArguments),
    /// Compute the findings of a recorded session
    Assess(AssessArguments),
    /// Compare two to twelve sessions: repeats, before and after, several units or devices
    Compare(CompareArguments),
    /// Check session files: seals and integrity; and evidence packs: members, session, findings
    Verify {
        /// Session files and evidence packs
        #[arg(required = true)]
        files: Vec<PathBuf>,
    },
    /// Pack a session with its report, findings and tables into one archive that can be checked
    Pack(PackArguments),
    /// Foresee whether a bench can decide a claim, and how long to ride
    Plan(PlanArguments),
    /// List the devices in range: services, signal, age
    Devices(DevicesArguments),
    /// Audit the radio conduct of one device, rule by rule
    Audit(AuditArguments),
    /// Check the program against sessions whose truth is known
    Selftest(SelftestArguments),
    /// Make a session of recordings made elsewhere: FIT, TCX or CSV
    Import(ImportArguments),
    /// Move a recording of an imported session by hand
    Nudge(NudgeArguments),
    /// Write the tables of sessions as CSV files, or into a Parquet dataset
    Export(ExportArguments),
    /// List, search, tag and recover the saved sessions
    Shelf(ShelfArguments),
}

/// Arguments of `run`.
#[derive(Args, Debug)]
pub struct RunArguments {
    /// Script to ride: a file, or the name of a ready script
    #[arg(long)]
    pub script: Option<String>,
    /// Simulated bench: a rig file, or a built-in name (honest, full, workshop, single, echo, one-sided)
    #[arg(long, required_unless_present = "bench", conflicts_with = "bench")]
    pub rig: Option<String>,
    /// Real instruments: a bench file (RON) with devices and roles
    #[arg(long, conflicts_with_all = ["fast", "ride"])]
    pub bench: Option<PathBuf>,
    /// Rehearse on a virtual clock, as fast as the machine can
    #[arg(long)]
    pub fast: bool,
    /// Recorded ride (FIT) that the simulated rider repeats; it is the script if none is named
    #[arg(long)]
    pub ride: Option<PathBuf>,
    /// Session file to write; without it, a new one on the shelf
    #[arg(long)]
    pub out: Option<PathBuf>,
    /// Seed of everything random in the simulation
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Settings of the judgement (RON); without it, the usual ones
    #[arg(long)]
    pub settings: Option<PathBuf>,
    /// Ride a script that asks for more than the device or the rider offers, brought into the limits
    #[arg(long)]
    pub cap: bool,
    /// Claim sheet (RON) to ride for; it is kept with its SHA-256 before the first sample
    #[arg(long)]
    pub claims: Option<PathBuf>,
    /// What becomes of a hold whose question is decided; without it, what the script says, and
    /// where it says nothing the hold is ridden out
    #[arg(long, value_enum)]
    pub decided_holds: Option<DecidedHolds>,
}

/// What becomes of a hold whose question is decided before its time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum DecidedHolds {
    /// It ends, by a rule whose rate of wrong statements is fixed before the ride
    End,
    /// It is ridden to its planned end
    RideOut,
}

impl From<DecidedHolds> for protocol::EarlyEnd {
    fn from(holds: DecidedHolds) -> Self {
        match holds {
            DecidedHolds::End => Self::WhenDecided,
            DecidedHolds::RideOut => Self::Off,
        }
    }
}

/// Arguments of `assess`.
#[derive(Args, Debug)]
pub struct AssessArguments {
    /// The session file
    pub session: PathBuf,
    /// Claim sheet (RON) to judge instead of the one stored in the session
    #[arg(long)]
    pub claims: Option<PathBuf>,
    /// What was measured by hand for the claims (RON): noise, mass, dimensions, documents
    #[arg(long)]
    pub measurements: Option<PathBuf>,
    /// Write the findings as JSON to this file, `-` for stdout
    #[arg(long)]
    pub json: Option<PathBuf>,
    /// Write a report (HTML) to this file
    #[arg(long)]
    pub report: Option<PathBuf>,
    /// Who made the report, of which unit, for whom (RON): what only the tester can say
    #[arg(long, requires = "report")]
    pub imprint: Option<PathBuf>,
    /// Write every plot into this folder, as SVG and PNG, light and dark, 1920×1080 and 3840×2160
    #[arg(long)]
    pub pictures: Option<PathBuf>,
    /// Pictures without a ground, to be laid onto a light or a dark one
    #[arg(long, requires = "pictures")]
    pub transparent: bool,
}

/// Arguments of `compare`.
#[derive(Args, Debug)]
pub struct CompareArguments {
    /// The session files; the first is what the others are compared with
    #[arg(required = true)]
    pub sessions: Vec<PathBuf>,
    /// How the rides are laid over each other: each step's beginnings together, or the clocks
    #[arg(long, value_enum)]
    pub by: Option<By>,
    /// What the sessions are to each other, where they do not tell it or tell it wrong
    #[arg(long = "as", value_enum)]
    pub kind: Option<As>,
    /// Settings of the judgement (RON) for all; without it, each as fixed before its ride
    #[arg(long)]
    pub settings: Option<PathBuf>,
    /// Write the comparison as JSON to this file, `-` for stdout
    #[arg(long)]
    pub json: Option<PathBuf>,
    /// Write a report (HTML) to this file
    #[arg(long)]
    pub report: Option<PathBuf>,
}

/// How rides are laid over each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum By {
    /// The beginnings of each step of the script
    Step,
    /// The beginnings of the recordings
    Clock,
}

impl From<By> for analysis::comparing::Along {
    fn from(by: By) -> Self {
        match by {
            By::Step => Self::Step,
            By::Clock => Self::Clock,
        }
    }
}

/// What sessions are to each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum As {
    /// One unit, nothing changed
    Repeats,
    /// One unit, its firmware or calibration changed
    BeforeAfter,
    /// Several units of one model
    Units,
    /// Different devices
    Devices,
}

impl From<As> for analysis::comparing::Kind {
    fn from(kind: As) -> Self {
        match kind {
            As::Repeats => Self::Repeats,
            As::BeforeAfter => Self::BeforeAfter,
            As::Units => Self::Units,
            As::Devices => Self::Devices,
        }
    }
}

/// Arguments of `plan`.
#[derive(Args, Debug)]
pub struct PlanArguments {
    /// Claimed tolerance, ± % of the reading
    #[arg(long)]
    pub claim: Option<f64>,
    /// The reference's own published accuracy, ± %
    #[arg(long)]
    pub reference: Option<f64>,
    /// Levels to ride, W, separated by commas
    #[arg(long, value_delimiter = ',')]
    pub levels: Vec<f64>,
    /// Seconds analysed at each level, all repeats together
    #[arg(long)]
    pub seconds: Option<usize>,
    /// Repeats of each level
    #[arg(long)]
    pub repeats: Option<u32>,
    /// Script to foresee: a file, or the name of a ready script; lists its steps, time and work
    #[arg(long)]
    pub script: Option<String>,
    /// With a script: the effort of which the time above it is counted, W
    #[arg(long, default_value_t = 250.0)]
    pub above: f64,
    /// Expected noise of the difference from second to second, %
    #[arg(long)]
    pub noise: Option<f64>,
    /// Settings of the judgement (RON); without it, the usual ones
    #[arg(long)]
    pub settings: Option<PathBuf>,
    /// Write what is foreseen as JSON to this file, `-` for stdout
    #[arg(long)]
    pub json: Option<PathBuf>,
}

/// Arguments of `devices`.
#[derive(Args, Debug)]
pub struct DevicesArguments {
    /// How long to listen, seconds
    #[arg(long, default_value_t = 8)]
    pub seconds: u32,
    /// Write the list as JSON to this file, `-` for stdout
    #[arg(long)]
    pub json: Option<PathBuf>,
    /// Write a new bench file (RON) of what was heard, with roles guessed from the services
    #[arg(long)]
    pub bench: Option<PathBuf>,
}

/// Arguments of `audit`.
#[derive(Args, Debug)]
pub struct AuditArguments {
    /// The device, as `prony devices` names it
    #[arg(long)]
    pub device: String,
    /// How long to listen, seconds
    #[arg(long, default_value_t = 30)]
    pub seconds: u32,
    /// Questions may be put to control points of meters; they change nothing
    #[arg(long)]
    pub may_ask: bool,
    /// The load of a trainer may be changed, up to a low limit; asks first
    #[arg(long)]
    pub may_change_load: bool,
    /// Write the findings as JSON to this file, `-` for stdout
    #[arg(long)]
    pub json: Option<PathBuf>,
}

/// Arguments of `selftest`.
#[derive(Args, Debug)]
pub struct SelftestArguments {
    /// How many simulated sessions
    #[arg(long, default_value_t = 40)]
    pub sessions: u32,
    /// Simulated sessions per condition that count how often a verdict is wrong; 2000 take minutes
    #[arg(long, default_value_t = 0)]
    pub rates: u32,
    /// Write the outcome as JSON to this file, `-` for stdout
    #[arg(long)]
    pub json: Option<PathBuf>,
}

/// Arguments of `import`.
#[derive(Args, Debug)]
pub struct ImportArguments {
    /// Recording of the device under test
    #[arg(long)]
    pub under_test: PathBuf,
    /// Recording of a reference; given twice, the second one is the second reference
    #[arg(long, required = true)]
    pub reference: Vec<PathBuf>,
    /// Session file to write
    #[arg(long)]
    pub out: PathBuf,
    /// Where the device measures: pedals, crank, one-side or hub
    #[arg(long, default_value = "hub")]
    pub under_test_place: String,
    /// Where the references measure
    #[arg(long, default_value = "crank")]
    pub reference_place: String,
    /// Columns of a CSV file, where the guess is wrong: `time=Elapsed; power=3; decimal=comma`
    #[arg(long)]
    pub under_test_columns: Option<String>,
    /// The same for the references
    #[arg(long)]
    pub reference_columns: Option<String>,
    /// Your word that the recordings are of one ride although their details do not show it
    #[arg(long)]
    pub same_ride: bool,
    /// Your word that the calendar of a recorder is wrong
    #[arg(long)]
    pub clocks_may_be_wrong: bool,
    /// Settings of the judgement (RON); without it, the usual ones
    #[arg(long)]
    pub settings: Option<PathBuf>,
}

/// Arguments of `nudge`.
#[derive(Args, Debug)]
pub struct NudgeArguments {
    /// The imported session
    pub session: PathBuf,
    /// Role of the recording: under-test or second-reference
    #[arg(long, default_value = "under-test")]
    pub role: String,
    /// By how many seconds it is moved later; negative for earlier
    #[arg(long, allow_negative_numbers = true)]
    pub later: f64,
}

/// Arguments of `export`.
#[derive(Args, Debug)]
pub struct ExportArguments {
    /// Session files, or folders of them
    #[arg(required = true)]
    pub sessions: Vec<PathBuf>,
    /// Folder to write CSV tables to, one folder in it for each session
    #[arg(long, required_unless_present = "parquet")]
    pub csv: Option<PathBuf>,
    /// Folder of a Parquet dataset to put the sessions into, one partition of each table for each
    #[arg(long)]
    pub parquet: Option<PathBuf>,
}

/// Arguments of `pack`.
#[derive(Args, Debug)]
pub struct PackArguments {
    /// The session file; it is not changed
    pub session: PathBuf,
    /// Claim sheet (RON) to judge instead of the one stored in the session; it is packed as well
    #[arg(long)]
    pub claims: Option<PathBuf>,
    /// What was measured by hand for the claims (RON); it is packed as well
    #[arg(long)]
    pub measurements: Option<PathBuf>,
    /// What the tester states in the report (RON): names, dates, method, photographs; it is packed as
    /// well, with its photographs
    #[arg(long)]
    pub imprint: Option<PathBuf>,
    /// Photo or document to add; may be given several times
    #[arg(long)]
    pub add: Vec<PathBuf>,
    /// Archive (ZIP) to write; no file is replaced
    #[arg(long)]
    pub out: PathBuf,
}

/// Arguments of `shelf`.
#[derive(Args, Debug)]
pub struct ShelfArguments {
    /// Folder of sessions; without it, the usual one
    #[arg(long)]
    pub folder: Option<PathBuf>,
    /// Keep sessions in this folder from now on
    #[arg(long)]
    pub keep_in: Option<PathBuf>,
    /// Words to search for, as `device:X firmware:X script:X verdict:X tag:X after:2026-01-31`
    #[arg(long)]
    pub search: Option<String>,
    /// Sort by date, device, firmware, script, verdict or length
    #[arg(long)]
    pub sort: Option<String>,
    /// Sort the other way round
    #[arg(long)]
    pub reverse: bool,
    /// Compute the verdicts of sessions that have none yet
    #[arg(long)]
    pub judge: bool,
    /// Session that note, tag or recovery are for: a name of the list, or a file
    #[arg(long)]
    pub session: Option<String>,
    /// Add a note
    #[arg(long)]
    pub note: Option<String>,
    /// Give a tag
    #[arg(long)]
    pub tag: Option<String>,
    /// Take a tag away
    #[arg(long)]
    pub untag: Option<String>,
    /// Close the session, or all sessions, whose recording was interrupted
    #[arg(long)]
    pub recover: bool,
    /// Write the list as JSON to this file, `-` for stdout
    #[arg(long)]
    pub json: Option<PathBuf>,
}

/// Tells a person something, on stderr.
#[expect(
    clippy::print_stderr,
    reason = "this is the door to the terminal for messages"
)]
pub fn tell(words: impl std::fmt::Display) {
    eprintln!("{words}");
}

/// Gives a result, on stdout.
#[expect(
    clippy::print_stdout,
    reason = "this is the door to the terminal for results"
)]
pub fn say(words: impl std::fmt::Display) {
    println!("{words}");
}

/// Tells a person what went wrong, with its causes.
pub fn complain(error: &anyhow::Error) {
    tell(format_args!("prony: {error:#}"));
}

/// Writes a JSON document to a file, or to stdout for `-`.
///
/// # Errors
/// If the file cannot be written.
pub fn write_json(document: &serde_json::Value, to: &std::path::Path) -> anyhow::Result<()> {
    let text = serde_json::to_string_pretty(document)?;
    if to.as_os_str() == "-" {
        say(text);
        return Ok(());
    }
    write_file(to, text + "\n")
}

/// Writes a text file.
///
/// # Errors
/// If it cannot be written; the message names it.
pub fn write_file(to: &std::path::Path, text: impl AsRef<[u8]>) -> anyhow::Result<()> {
    use anyhow::Context as _;
    std::fs::write(to, text).with_context(|| {
        format!(
            "cannot write {}; is the folder there and is it yours?",
            to.display()
        )
    })
}
