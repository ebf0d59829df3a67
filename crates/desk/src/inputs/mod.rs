//! What the desk is shown: everything that it draws and does not own.

pub(crate) mod cautions;
mod importing;
mod instruments;
mod preferences;
mod replay;
mod scripts;
mod shelf;
mod speed;

pub use cautions::Caution;
pub use importing::{ColumnChoice, ImportView, RecordingCard};
pub use instruments::{AuditLine, AuditView, DeviceCard, LinkWord, RadioView, Searching};
pub use preferences::Preferences;
pub use replay::{Motion, ReplayView};
pub use scripts::{DraftCheck, DraftProblem, RigCard, RuleCard, ScriptCard, SheetCard};
pub use shelf::{CompareView, ComparedRow, ComparedSession, Interrupted, Laid, ShelfRow};
pub use speed::SpeedUnit;
pub(crate) use speed::told;

use analysis::evidence::Evidence;
use analysis::findings::Findings;
use bench::Model;
use bench::model::FlagView;

/// Everything that one frame is drawn from. All of it is owned by the program around the desk.
#[derive(Clone, Copy)]
pub struct Inputs<'a> {
    /// The running session, if there is one.
    pub model: Option<&'a Model>,
    /// The session whose findings are shown, if one is open.
    pub opened: Option<Opened<'a>>,
    /// Scripts that can be ridden, in the order they are listed. The first is preselected.
    pub scripts: &'a [ScriptCard],
    /// Benches that a session can be started on. The first is preselected.
    pub rigs: &'a [RigCard],
    /// Saved sessions.
    pub shelf: &'a [ShelfRow],
    /// The places of those that fit the search, in the order asked for; all of them if it is not
    /// there.
    pub found: Option<&'a [usize]>,
    /// The file that the running session is written to.
    pub recording: Option<RecordingView<'a>>,
    /// What the last self-test of this program found.
    pub self_test: Option<&'a SelfTest>,
    /// Sessions that were not closed, offered for recovery.
    pub interrupted: &'a [Interrupted],
    /// Recordings that are about to become a session, if some are.
    pub importing: Option<&'a ImportView>,
    /// Sessions side by side, if some were compared.
    pub compared: Option<&'a CompareView>,
    /// The session that is played again, if one is; [`Inputs::model`] is then its model.
    pub replay: Option<ReplayView<'a>>,
    /// What the radio says, in words: "no Bluetooth adapter", "3 devices in range".
    pub radio: Option<&'a str>,
    /// What is in range and what is linked.
    pub devices: RadioView<'a>,
    /// The conduct of a device, if it was audited.
    pub audit: Option<&'a AuditView>,
    /// What came of the script that is being edited.
    pub draft: Option<&'a DraftCheck>,
    /// The claim sheets that can be judged by. The first is the assumed one.
    pub sheets: &'a [SheetCard],
    /// The decision rule that the next session is fixed to.
    pub rule: Option<&'a RuleCard>,
    /// What the person prefers.
    pub preferences: Preferences,
    /// Where sessions, scripts and benches are kept.
    pub data_folder: &'a str,
    /// Today, days since 1970-01-01.
    pub today: i64,
    /// Version of the program.
    pub version: &'a str,
    /// The licences of everything in the program.
    pub licences: &'a str,
    /// Cautions to be read before the first load, where the session brings no words of its own.
    pub cautions: &'a [Caution],
    /// Work in progress.
    pub busy: Option<Progress<'a>>,
    /// What went wrong, in plain words with the remedy. Shown until dismissed.
    pub failure: Option<&'a str>,
    /// What went well and is worth saying: "report saved as …". Shown until dismissed.
    pub notice: Option<&'a str>,
}

impl Default for Inputs<'_> {
    /// Nothing at all: every place then says what to do.
    fn default() -> Self {
        Self {
            model: None,
            opened: None,
            scripts: &[],
            rigs: &[],
            shelf: &[],
            found: None,
            recording: None,
            self_test: None,
            interrupted: &[],
            importing: None,
            compared: None,
            replay: None,
            radio: None,
            devices: RadioView::default(),
            audit: None,
            draft: None,
            sheets: &[],
            rule: None,
            preferences: Preferences::default(),
            data_folder: "",
            today: 0,
            version: "",
            licences: "",
            cautions: cautions::USUAL,
            busy: None,
            failure: None,
            notice: None,
        }
    }
}

/// A session that was judged, with the recording behind it.
#[derive(Clone, Copy)]
pub struct Opened<'a> {
    /// A number that changes whenever another session is opened or this one is judged anew.
    pub id: u64,
    /// Name of the session for people.
    pub label: &'a str,
    /// What was computed.
    pub findings: &'a Findings,
    /// The recording; without it the raw traces behind a cell cannot be shown.
    pub evidence: Option<&'a Evidence>,
    /// The flags that were raised during the ride, in that order.
    pub flags: &'a [FlagView],
    /// Whether its recordings were made elsewhere, so that they can be moved against each other.
    pub imported: bool,
}

/// How well a session is being recorded.
#[derive(Clone, Copy, Debug)]
pub struct RecordingView<'a> {
    /// Name of the file.
    pub file: &'a str,
    /// Rows that wait for the disk; a few are usual.
    pub waiting: usize,
    /// Why nothing is recorded any more, if that is so.
    pub failure: Option<&'a str>,
}

/// What a self-test found: sessions whose truth is known, judged as any other.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SelfTest {
    /// Name and version of the program that made it.
    pub program: String,
    /// Sessions that were simulated.
    pub sessions: u32,
    /// What was compared with the truth.
    pub checks: Vec<SelfTestCheck>,
}

/// One thing that a self-test compares with the truth.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SelfTestCheck {
    /// What it is, in words.
    pub name: String,
    /// How often it was compared.
    pub tried: u32,
    /// How often the truth lay where the program said.
    pub within: u32,
    /// Whether that is often enough.
    pub passed: bool,
}

/// Work in progress.
#[derive(Clone, Copy, Debug)]
pub struct Progress<'a> {
    /// What is being done.
    pub words: &'a str,
    /// How much is done, 0 to 1, if that is known.
    pub fraction: Option<f32>,
}
