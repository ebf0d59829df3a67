//! What the desk is shown: everything that it draws and does not own.

use analysis::evidence::Evidence;
use analysis::findings::Findings;
use bench::Model;
use bench::model::ScriptView;
use std::sync::Arc;

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
    /// Saved sessions, newest first.
    pub shelf: &'a [ShelfRow],
    /// The file that the running session is written to.
    pub recording: Option<RecordingView<'a>>,
    /// What the last self-test of this program found.
    pub self_test: Option<&'a SelfTest>,
    /// What the radio says, in words: "no Bluetooth adapter", "3 devices in range".
    pub radio: Option<&'a str>,
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
            recording: None,
            self_test: None,
            radio: None,
            cautions: crate::sheet::cautions::USUAL,
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

/// A script that can be ridden.
#[derive(Clone, Debug)]
pub struct ScriptCard {
    /// The steps.
    pub view: Arc<ScriptView>,
    /// What the script is for, one or two sentences.
    pub about: String,
    /// How hard it is, in words with numbers: "up to 300 W, 1.1 MJ of work".
    pub effort: String,
    /// Why it cannot be ridden, if it cannot: the error with its line and the remedy.
    pub problem: Option<String>,
}

/// A bench that a session can be started on.
#[derive(Clone, Debug)]
pub struct RigCard {
    /// Short name, as on the command line.
    pub name: String,
    /// Title in words.
    pub title: String,
    /// What it is, one or two sentences.
    pub about: String,
    /// Its instruments with their roles, in words.
    pub instruments: Vec<String>,
    /// Whether the instruments are simulated.
    pub simulated: bool,
}

/// A saved session.
#[derive(Clone, Debug)]
pub struct ShelfRow {
    /// What [`Request::OpenShelved`](crate::Request::OpenShelved) is answered with; a path usually.
    pub key: String,
    /// Title for people.
    pub title: String,
    /// When it was ridden, in words of the user's convention.
    pub started: String,
    /// How long it is, in words.
    pub length: String,
    /// Its verdict in the words of the design, if it was judged.
    pub verdict: Option<String>,
    /// Whether the recording is closed and sealed, in words: "sealed", "not sealed".
    pub state: String,
}

/// A caution.
#[derive(Clone, Copy, Debug)]
pub struct Caution {
    /// What it is about, in two or three words.
    pub about: &'static str,
    /// The caution.
    pub words: &'static str,
}

/// Work in progress.
#[derive(Clone, Copy, Debug)]
pub struct Progress<'a> {
    /// What is being done.
    pub words: &'a str,
    /// How much is done, 0 to 1, if that is known.
    pub fraction: Option<f32>,
}
