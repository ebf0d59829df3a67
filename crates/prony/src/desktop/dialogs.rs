//! File dialogs, each on a thread of its own where the system allows that: a dialog may stand open
//! for minutes, and a session may be running behind it.

use crate::exporting::Destinations;
use anyhow::Result;
use crossbeam_channel::{Receiver, bounded};
use std::path::PathBuf;

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

/// Asks for the recordings of one ride.
pub fn recordings() -> Chosen {
    Chosen::Recordings(
        rfd::FileDialog::new()
            .set_title("Recordings of one ride, one for each instrument")
            .add_filter("Recordings", &["fit", "tcx", "csv"])
            .pick_files()
            .unwrap_or_default(),
    )
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
