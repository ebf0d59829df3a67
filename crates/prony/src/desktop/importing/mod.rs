//! Recordings made elsewhere, from the moment they are chosen until they are a session on the shelf:
//! by the code of the command line.

mod columns;

use crate::importing::{GivenWord, Original, Told, bring_in, read_as};
use crate::places;
use analysis::evidence::Place;
use analysis::settings::Settings;
use anyhow::{Context, Result};
use bench::model::InstrumentRole;
use bench::plan::place_name;
use desk::{ImportView, ImportWish, RecordingCard};
use session::import::{self, Columns, Recording};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Whether a file is a recording, by its name.
pub fn is_recording(path: &Path) -> bool {
    path.extension().is_some_and(|extension| {
        let extension = extension.to_string_lossy().to_lowercase();
        ["fit", "tcx", "csv"].contains(&extension.as_str())
    })
}

/// A file that was read, well or not.
#[derive(Clone)]
pub struct Taken {
    file: String,
    bytes: Arc<[u8]>,
    /// What was said about its columns.
    said: Columns,
    /// The columns that can be chosen from.
    names: Vec<String>,
    read: std::result::Result<Recording, String>,
}

impl Taken {
    /// Reads a file; columns are guessed. What is wrong with its content is kept in words.
    ///
    /// # Errors
    /// If the file cannot be read at all.
    pub fn from_file(path: &Path) -> Result<Self> {
        let bytes = std::fs::read(path)
            .with_context(|| format!("cannot read {}; is it there?", path.display()))?;
        Ok(Self::read(
            places::file_name(path),
            bytes.into(),
            Columns::default(),
        ))
    }

    fn read(file: String, bytes: Arc<[u8]>, said: Columns) -> Self {
        let read = import::read(&bytes, &file, Some(&said)).map_err(|error| error.to_string());
        Self {
            names: import::column_names(&bytes, &file, Some(&said)),
            file,
            bytes,
            said,
            read,
        }
    }

    /// The same file with its columns meant otherwise.
    pub fn read_again(&self, said: Columns) -> Self {
        Self::read(self.file.clone(), Arc::clone(&self.bytes), said)
    }

    /// How its columns were read, or what was said of them where it could not be read.
    fn columns(&self) -> &Columns {
        let read = self.read.as_ref().ok();
        read.and_then(|recording| recording.columns.as_ref())
            .unwrap_or(&self.said)
    }
}

/// One recording of a draft.
struct Part {
    /// New with every recording.
    serial: u64,
    taken: Taken,
    role: InstrumentRole,
    /// Where its instrument measures, if somebody said so.
    place: Option<Place>,
}

impl Part {
    /// Where its instrument measures: as somebody said, or as the command line assumes.
    fn place(&self) -> Place {
        self.place.unwrap_or(match self.role {
            InstrumentRole::UnderTest => Place::Hub,
            _ => Place::Crank,
        })
    }
}

/// An import that is being made ready.
pub struct Draft {
    parts: Vec<Part>,
    taken: u64,
    word: GivenWord,
    view: ImportView,
}

impl Draft {
    /// An import without recordings yet; `id` is new with every one.
    pub fn new(id: u64) -> Self {
        Self {
            parts: Vec::new(),
            taken: 0,
            word: GivenWord::default(),
            view: ImportView {
                id,
                ..ImportView::default()
            },
        }
    }

    /// What the desk shows.
    pub fn view(&self) -> &ImportView {
        &self.view
    }

    /// Adds recordings. Each takes the first role that is free: the device under test, the
    /// reference, the second one.
    pub fn add(&mut self, recordings: Vec<Taken>) {
        for taken in recordings {
            let has = |role| self.parts.iter().any(|part| part.role == role);
            let role = [
                InstrumentRole::UnderTest,
                InstrumentRole::PrimaryReference,
                InstrumentRole::SecondReference,
            ]
            .into_iter()
            .find(|role| !has(*role))
            .unwrap_or(InstrumentRole::Witness);
            self.taken += 1;
            self.parts.push(Part {
                serial: self.taken,
                taken,
                role,
                place: None,
            });
        }
        self.show();
    }

    /// Puts a file that was read again in its place, if the recording is still there.
    pub fn replace(&mut self, serial: u64, taken: Taken) {
        if let Some(part) = self.parts.iter_mut().find(|part| part.serial == serial) {
            part.taken = taken;
        }
        self.show();
    }

    /// What has to be read again, by its serial number, and how, if a wish is about columns.
    pub fn to_read_again(&self, wish: &ImportWish) -> Option<(u64, Taken, Columns)> {
        let ImportWish::GiveColumn {
            recording,
            column,
            choice,
        } = wish
        else {
            return None;
        };
        let part = self.parts.get(*recording)?;
        let taken = &part.taken;
        let said = columns::said(taken.columns(), &taken.names, *column, *choice);
        Some((part.serial, taken.clone(), said))
    }

    /// Carries out what needs no reading.
    pub fn obey(&mut self, wish: &ImportWish) {
        match *wish {
            ImportWish::GiveRole { recording, role } => self.give_role(recording, role),
            ImportWish::GivePlace { recording, place } => {
                if let Some(part) = self.parts.get_mut(recording) {
                    part.place = Some(place);
                }
            }
            ImportWish::TakeOut(recording) => {
                if recording < self.parts.len() {
                    self.parts.remove(recording);
                }
            }
            ImportWish::SameRide(given) => self.word.same_ride = given,
            ImportWish::ClocksMayBeWrong(given) => self.word.clocks_may_be_wrong = given,
            ImportWish::Choose
            | ImportWish::GiveColumn { .. }
            | ImportWish::BringIn
            | ImportWish::Close => {}
        }
        self.show();
    }

    /// A role that only one can have is exchanged with whoever has it.
    fn give_role(&mut self, recording: usize, role: InstrumentRole) {
        let Some(before) = self.parts.get(recording).map(|part| part.role) else {
            return;
        };
        if role != InstrumentRole::Witness {
            for part in self.parts.iter_mut().filter(|part| part.role == role) {
                part.role = before;
            }
        }
        self.parts[recording].role = role;
    }

    /// The recordings as they are brought in: the device first, the reference second.
    pub fn originals(&self) -> Vec<Original> {
        let mut parts: Vec<&Part> = self.parts.iter().collect();
        parts.sort_by_key(|part| part.role);
        parts
            .into_iter()
            .map(|part| Original {
                role: part.role.name(),
                file: part.taken.file.clone(),
                bytes: part.taken.bytes.to_vec(),
                place: place_name(part.place()).to_owned(),
                columns: Some(part.taken.columns().clone()),
            })
            .collect()
    }

    /// What somebody gave their word for.
    pub fn word(&self) -> GivenWord {
        self.word
    }

    fn show(&mut self) {
        self.view = ImportView {
            id: self.view.id,
            recordings: self.parts.iter().map(card).collect(),
            same_ride: self.word.same_ride,
            clocks_may_be_wrong: self.word.clocks_may_be_wrong,
        };
    }
}

fn card(part: &Part) -> RecordingCard {
    let taken = &part.taken;
    let read = taken.read.as_ref();
    RecordingCard {
        file: taken.file.clone(),
        read: read.map(read_as).map_err(Clone::clone),
        remarks: read.map_or_else(|_| Vec::new(), |recording| recording.remarks.clone()),
        role: part.role,
        place: part.place(),
        columns: columns::choices(taken.columns(), &taken.names),
    }
}

/// Makes a session of recordings on the shelf. Gives where it lies, and how the clocks were placed;
/// `go_on` is asked before anything is written.
///
/// # Errors
/// If a recording cannot be read or placed, or the session cannot be written.
pub fn import(
    originals: Vec<Original>,
    word: GivenWord,
    settings: &Settings,
    go_on: &dyn Fn() -> bool,
) -> Result<(PathBuf, String)> {
    let device = originals.first().map_or("", |original| &original.file);
    let out = places::new_session_file("imported", &places::plain(device))?;
    let words = import_to(originals, word, settings, &out, go_on)?;
    Ok((out, words))
}

/// The same into a file.
fn import_to(
    originals: Vec<Original>,
    word: GivenWord,
    settings: &Settings,
    out: &Path,
    go_on: &dyn Fn() -> bool,
) -> Result<String> {
    let mut words = vec![format!("Imported as {}.", out.display())];
    let mut told = |told| match told {
        Told::Found(said) | Told::Imperfect(said) => words.push(said),
    };
    bring_in(originals, word, settings, (out, go_on), &mut told)
        .map_err(crate::importing::NotBrought::error)?;
    Ok(words.join("\n"))
}

/// Reads files, all of them or none.
///
/// # Errors
/// If one cannot be read at all; the message names it.
pub fn read_files(paths: &[PathBuf]) -> Result<Vec<Taken>> {
    paths.iter().map(|path| Taken::from_file(path)).collect()
}

#[cfg(test)]
pub mod sample;
#[cfg(test)]
mod tests;
