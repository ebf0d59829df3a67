//! File dialogs, each on a thread of its own where the system allows that: a dialog may stand open
//! for minutes, and a session may be running behind it.

use crate::exporting::Destinations;
use anyhow::Result;
use crossbeam_channel::{Receiver, bounded};
use std::path::{Path, PathBuf};

/// What came of a dialog.
pub enum Chosen {
    /// A session, script or recording to open.
    Open(Option<PathBuf>),
    /// A place for the report.
    SaveReport(Option<PathBuf>),
    /// Where the report of a comparison is saved.
    SaveComparison(Option<PathBuf>),
    /// A folder for the pictures.
    SavePictures(Option<PathBuf>),
    /// A script file to copy.
    Script(Option<PathBuf>),
    /// Recordings to make a session of.
    Recordings(Vec<PathBuf>),
    /// A folder for the tables of a session.
    Export {
        /// Which session.
        session: PathBuf,
        /// The folder, by what it is to hold; `None` if none was chosen.
        into: Option<Destinations>,
    },
    /// A place for the evidence pack.
    SavePack(Option<PathBuf>),
    /// A folder to keep everything in.
    DataFolder(Option<PathBuf>),
}

/// A dialog that stands open.
pub struct Dialog(Receiver<Chosen>);

impl Dialog {
    /// Opens a dialog.
    ///
    /// # Errors
    /// If no thread can be started.
    pub fn open(
        screen: &egui::Context,
        dialog: impl FnOnce() -> Chosen + Send + 'static,
    ) -> Result<Self> {
        let (tell, chosen) = bounded(1);
        if cfg!(target_os = "macos") {
            // A system rule: dialogs belong to the main thread there.
            let _ = tell.send(dialog());
        } else {
            let screen = screen.clone();
            std::thread::Builder::new()
                .name("dialog".to_owned())
                .spawn(move || {
                    let _ = tell.send(dialog());
                    screen.request_repaint();
                })?;
        }
        Ok(Self(chosen))
    }

    /// What was chosen, once it was.
    pub fn chosen(&self) -> Option<Chosen> {
        self.0.try_recv().ok()
    }
}

/// Asks for a session, a script or a recording.
pub fn open() -> Chosen {
    Chosen::Open(
        rfd::FileDialog::new()
            .set_title("Open a session, script or recording")
            .add_filter(
                "Sessions, scripts, recordings",
                &[session::EXTENSION, "ron", "fit", "tcx", "csv"],
            )
            .pick_file(),
    )
}

/// Asks where to save the report.
pub fn save_report(name: String) -> Chosen {
    Chosen::SaveReport(
        rfd::FileDialog::new()
            .set_title("Save the report")
            .set_file_name(name)
            .add_filter("Report", &["html"])
            .save_file(),
    )
}

/// Asks where to save the report of a comparison.
pub fn save_comparison(name: String) -> Chosen {
    Chosen::SaveComparison(
        rfd::FileDialog::new()
            .set_title("Save the report of the comparison")
            .set_file_name(name)
            .add_filter("Report", &["html"])
            .save_file(),
    )
}

/// Asks for a folder for the pictures.
pub fn pictures() -> Chosen {
    Chosen::SavePictures(
        rfd::FileDialog::new()
            .set_title("A folder for the pictures")
            .pick_folder(),
    )
}

/// Asks for a script.
pub fn script() -> Chosen {
    Chosen::Script(
        rfd::FileDialog::new()
            .set_title("Copy a script")
            .add_filter("Script", &["ron"])
            .pick_file(),
    )
}

/// Asks for files by a title; one or many of them.
pub trait Picker {
    /// One file.
    fn one(&mut self, title: &str) -> Option<PathBuf>;
    /// Several files.
    fn many(&mut self, title: &str) -> Vec<PathBuf>;
}

/// The dialogs of the system.
pub struct SystemPicker;

impl SystemPicker {
    fn ask(title: &str) -> rfd::FileDialog {
        rfd::FileDialog::new()
            .set_title(title)
            .add_filter("Recordings", &["fit", "tcx", "csv"])
    }
}

impl Picker for SystemPicker {
    fn one(&mut self, title: &str) -> Option<PathBuf> {
        Self::ask(title).pick_file()
    }

    fn many(&mut self, title: &str) -> Vec<PathBuf> {
        Self::ask(title).pick_files().unwrap_or_default()
    }
}

/// Asks for the recording of the device under test, unless one waits already, then for those of its
/// references. A device without references is nothing to import, and nothing is taken.
pub fn recordings(picker: &mut impl Picker, waits: Option<&Path>) -> Chosen {
    let references = "Recordings of its references of the same ride, the more trusted one first";
    if waits.is_some() {
        return Chosen::Recordings(picker.many(references));
    }
    let Some(device) = picker.one("Recording of the device under test") else {
        return Chosen::Recordings(Vec::new());
    };
    let references = picker.many(references);
    if references.is_empty() {
        return Chosen::Recordings(Vec::new());
    }
    Chosen::Recordings([vec![device], references].concat())
}

/// Asks for a folder for tables.
pub fn export(session: PathBuf) -> Chosen {
    let folder = rfd::FileDialog::new().set_title("Folder for the tables");
    let into = folder.pick_folder().map(|folder| Destinations {
        csv: Some(folder),
        parquet: None,
    });
    Chosen::Export { session, into }
}

/// Asks for the folder of a dataset of many sessions.
pub fn dataset(session: PathBuf) -> Chosen {
    let folder = rfd::FileDialog::new().set_title("Folder of the Parquet dataset");
    let into = folder.pick_folder().map(|folder| Destinations {
        csv: None,
        parquet: Some(folder),
    });
    Chosen::Export { session, into }
}

/// Asks where to save the evidence pack.
pub fn save_pack(name: String) -> Chosen {
    Chosen::SavePack(
        rfd::FileDialog::new()
            .set_title("Save the evidence pack")
            .set_file_name(name)
            .add_filter("Evidence pack", &["zip"])
            .save_file(),
    )
}

/// Asks for the data folder.
pub fn data_folder() -> Chosen {
    Chosen::DataFolder(
        rfd::FileDialog::new()
            .set_title("Folder for sessions, scripts and benches")
            .pick_folder(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Answers as somebody would, and remembers what was asked.
    #[derive(Default)]
    struct Somebody {
        one: Option<PathBuf>,
        many: Vec<PathBuf>,
        asked: Vec<String>,
    }

    impl Picker for Somebody {
        fn one(&mut self, title: &str) -> Option<PathBuf> {
            self.asked.push(title.to_owned());
            self.one.take()
        }

        fn many(&mut self, title: &str) -> Vec<PathBuf> {
            self.asked.push(title.to_owned());
            std::mem::take(&mut self.many)
        }
    }

    fn chosen(somebody: &mut Somebody, waits: Option<&Path>) -> Vec<PathBuf> {
        match recordings(somebody, waits) {
            Chosen::Recordings(paths) => paths,
            _ => panic!("it asks for recordings"),
        }
    }

    #[test]
    fn import_asks_for_the_device_first_and_then_for_its_references() {
        let mut somebody = Somebody {
            one: Some("device.fit".into()),
            many: vec!["first.csv".into(), "second.tcx".into()],
            ..Somebody::default()
        };
        let found = chosen(&mut somebody, None);
        let wanted = ["device.fit", "first.csv", "second.tcx"].map(PathBuf::from);
        assert_eq!(found, wanted);
        assert_eq!(somebody.asked.len(), 2);
        assert!(somebody.asked[0].contains("device under test"));
        assert!(somebody.asked[1].contains("references"));
    }

    #[test]
    fn a_device_that_waits_is_not_asked_for_again() {
        let mut somebody = Somebody {
            many: vec!["reference.csv".into()],
            ..Somebody::default()
        };
        let found = chosen(&mut somebody, Some(Path::new("device.fit")));
        assert_eq!(found, [PathBuf::from("reference.csv")]);
        assert_eq!(somebody.asked.len(), 1);
    }

    #[test]
    fn whoever_gives_up_half_way_has_taken_nothing() {
        let nobody = &mut Somebody::default();
        assert!(chosen(nobody, None).is_empty());
        assert_eq!(
            nobody.asked.len(),
            1,
            "without a device nothing more is asked"
        );
        let half = &mut Somebody {
            one: Some("device.fit".into()),
            ..Somebody::default()
        };
        assert!(chosen(half, None).is_empty());
    }
}
