//! Where the program keeps things of its own: the shelf of sessions.

use crate::clock::wall_now;
use anyhow::{Context, Result};
use std::path::{Path, PathBuf};

/// The variable that names the folder of sessions for one start of the program.
const SHELF_VARIABLE: &str = "PRONY_SHELF";

/// The folder of saved sessions, made if it is not there: the one that the variable `PRONY_SHELF`
/// names, else the one chosen with [`keep_shelf_in`], else one in the data folder.
///
/// # Errors
/// If there is no home for it, or it cannot be made.
pub fn shelf() -> Result<PathBuf> {
    let named = std::env::var_os(SHELF_VARIABLE)
        .filter(|name| !name.is_empty())
        .map(PathBuf::from);
    let folder = match named.or_else(chosen_shelf) {
        Some(folder) => folder,
        None => data()?.join("sessions"),
    };
    made(folder)
}

/// The folder that everything is kept in: the one that was chosen, or the system's usual one.
///
/// # Errors
/// If there is no home for it.
pub fn data() -> Result<PathBuf> {
    let dirs = dirs().context(HOMELESS)?;
    let chosen = std::fs::read_to_string(dirs.config_dir().join(CHOSEN))
        .ok()
        .map(|text| PathBuf::from(text.trim()))
        .filter(|path| path.is_absolute());
    Ok(chosen.unwrap_or_else(|| dirs.data_dir().to_owned()))
}

/// Keeps everything in another folder from now on. What is in the old one stays there.
///
/// # Errors
/// If the choice cannot be written down.
pub fn choose_data(folder: &Path) -> Result<()> {
    let dirs = dirs().context(HOMELESS)?;
    let place = dirs.config_dir().join(CHOSEN);
    std::fs::create_dir_all(dirs.config_dir())
        .and_then(|()| std::fs::write(&place, folder.display().to_string()))
        .with_context(|| format!("cannot write {}", place.display()))?;
    keep_shelf_in(&folder.join("sessions"))
}

/// Holds the path of the chosen folder, nothing else.
const CHOSEN: &str = "data-folder";

const HOMELESS: &str = "no home directory to keep sessions in; name a file with --out";

/// A folder within the data folder, made if it is not there.
///
/// # Errors
/// If there is no home for it, or it cannot be made.
pub fn folder(name: &str) -> Result<PathBuf> {
    let folder = data()?.join(name);
    made(folder)
}

/// A folder, made if it is not there.
fn made(folder: PathBuf) -> Result<PathBuf> {
    std::fs::create_dir_all(&folder).with_context(|| {
        format!(
            "cannot make the folder {}; name a file with --out",
            folder.display()
        )
    })?;
    Ok(folder)
}

/// Name of a file for people: without its folder, whatever its letters.
pub fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(
        || path.display().to_string(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Keeps sessions in `folder` from now on; those in the folder before stay there.
///
/// # Errors
/// If the folder cannot be made, or the choice cannot be written down.
pub fn keep_shelf_in(folder: &Path) -> Result<()> {
    std::fs::create_dir_all(folder)
        .and_then(|()| std::fs::canonicalize(folder))
        .with_context(|| format!("cannot use the folder {}; choose another", folder.display()))
        .and_then(|folder| {
            let file = choice_file().context("no home directory to write the choice to")?;
            let text = folder.to_str().context("the folder's name is not UTF-8")?;
            if let Some(parent) = file.parent() {
                std::fs::create_dir_all(parent)?;
            }
            std::fs::write(&file, text).with_context(|| format!("cannot write {}", file.display()))
        })
}

/// Where the index of a folder of sessions is kept: among the user's caches, one per folder.
pub fn shelf_index(folder: &Path) -> Option<PathBuf> {
    let folder = std::fs::canonicalize(folder).ok()?;
    let name = session::Document::new("", folder.to_string_lossy()).sha256();
    Some(
        dirs()?
            .cache_dir()
            .join(format!("shelf-{}.sqlite", &name[..16])),
    )
}

fn chosen_shelf() -> Option<PathBuf> {
    let text = std::fs::read_to_string(choice_file()?).ok()?;
    let text = text.trim();
    (!text.is_empty()).then(|| PathBuf::from(text))
}

fn choice_file() -> Option<PathBuf> {
    Some(dirs()?.config_dir().join("shelf-folder.txt"))
}

fn dirs() -> Option<directories::ProjectDirs> {
    directories::ProjectDirs::from("", "", "Prony")
}

/// Where the outcome of the last self-test is kept, if there is a home for it.
pub fn self_test_file() -> Option<PathBuf> {
    Some(dirs()?.data_dir().join("selftest.json"))
}

/// A name with which a file can be made everywhere: letters, digits and hyphens.
pub fn plain(name: &str) -> String {
    name.chars()
        .map(|c| {
            if c.is_alphanumeric() || c == '-' {
                c
            } else {
                '-'
            }
        })
        .collect()
}

/// A new file on the shelf, named by the moment, the script and the instruments.
///
/// # Errors
/// As [`shelf`].
pub fn new_session_file(script: &str, bench: &str) -> Result<PathBuf> {
    let moment = wall_now().format("%Y-%m-%d-%H%M%S");
    let name = format!(
        "{moment}-{}-{}.{}",
        plain(script),
        plain(bench),
        session::EXTENSION
    );
    Ok(shelf()?.join(name))
}
