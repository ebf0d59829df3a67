//! File dialogs, each on a thread of its own where the system allows that: a dialog may stand open
//! for minutes, and a session may be running behind it.

use anyhow::Result;
use crossbeam_channel::{Receiver, bounded};
use std::path::PathBuf;

/// What came of a dialog.
pub enum Chosen {
    /// A session, script or recording to open.
    Open(Option<PathBuf>),
    /// A place for the report.
    SaveReport(Option<PathBuf>),
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
        /// The folder.
        folder: Option<PathBuf>,
    },
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

/// Asks for the recording of the device under test, then for those of its references.
pub fn recordings() -> Chosen {
    let ask = |title: &str| {
        rfd::FileDialog::new()
            .set_title(title)
            .add_filter("Recordings", &["fit", "tcx", "csv"])
    };
    let device = ask("Recording of the device under test").pick_file();
    let references = device.as_ref().and_then(|_| {
        ask("Recordings of its references of the same ride, the more trusted one first")
            .pick_files()
    });
    Chosen::Recordings(
        device
            .into_iter()
            .chain(references.unwrap_or_default())
            .collect(),
    )
}

/// Asks for a folder for tables.
pub fn export(session: PathBuf) -> Chosen {
    let folder = rfd::FileDialog::new()
        .set_title("Folder for the tables")
        .pick_folder();
    Chosen::Export { session, folder }
}

/// Asks for the data folder.
pub fn data_folder() -> Chosen {
    Chosen::DataFolder(
        rfd::FileDialog::new()
            .set_title("Folder for sessions, scripts and benches")
            .pick_folder(),
    )
}
