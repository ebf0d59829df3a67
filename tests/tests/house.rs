//! The house is built as drawn: the tables of DEVELOPERS.md against `cargo metadata`, and a few
//! rules of order that no compiler knows.

use cargo_metadata::{Metadata, MetadataCommand, Package};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("tests/ lies in the root")
        .to_owned()
}

fn metadata() -> Metadata {
    MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .no_deps()
        .exec()
        .expect("cargo metadata answers in a checkout that builds")
}

fn developers() -> String {
    std::fs::read_to_string(root().join("DEVELOPERS.md")).expect("DEVELOPERS.md is in the root")
}

/// Rows of the table whose header's first cell is `head`: first cell and last cell, both as lists
/// of the words in backticks. A dash means an empty list, `all` means every row above.
fn table(text: &str, head: &str) -> Vec<(String, Vec<String>)> {
    let start = format!("| {head} |");
    let words = |cell: &str| -> Vec<String> {
        cell.split('`')
            .skip(1)
            .step_by(2)
            .map(str::to_owned)
            .collect()
    };
    let mut rows: Vec<(String, Vec<String>)> = Vec::new();
    for line in text
        .lines()
        .skip_while(|line| !line.starts_with(&start))
        .skip(2)
    {
        if !line.starts_with('|') {
            break;
        }
        let cells: Vec<_> = line.trim_matches('|').split('|').map(str::trim).collect();
        let name = words(cells[0]).remove(0);
        let last = cells.last().expect("split gives at least one cell");
        let list = if *last == "all" {
            rows.iter().map(|(name, _)| name.clone()).collect()
        } else {
            words(last)
        };
        rows.push((name, list));
    }
    assert!(rows.len() > 3, "no table headed {head:?} in DEVELOPERS.md");
    rows
}

fn dependencies(package: &Package) -> BTreeSet<String> {
    package
        .dependencies
        .iter()
        .map(|dependency| dependency.name.clone())
        .collect()
}

#[test]
fn every_crate_uses_only_what_the_table_allows() {
    let metadata = metadata();
    let rows = table(&developers(), "crate");
    let order: BTreeMap<_, _> = rows
        .iter()
        .enumerate()
        .map(|(row, (name, _))| (name.as_str(), row))
        .collect();
    let allowed: BTreeMap<_, _> = rows
        .iter()
        .map(|(name, uses)| (name.as_str(), uses))
        .collect();
    let ours: BTreeSet<_> = metadata
        .packages
        .iter()
        .map(|p| p.name.to_string())
        .collect();

    let drawn: BTreeSet<_> = allowed.keys().map(|name| name.to_string()).collect();
    assert_eq!(
        ours, drawn,
        "the crates on disk are not the crates of the table"
    );
    for (name, uses) in &allowed {
        for used in *uses {
            assert!(
                order[used.as_str()] < order[name],
                "{name} may use {used}, which stands below"
            );
        }
    }
    for package in &metadata.packages {
        for used in dependencies(package).intersection(&ours) {
            assert!(
                allowed[package.name.as_str()].contains(used),
                "{} uses {used}, which the table in DEVELOPERS.md does not allow",
                package.name
            );
        }
    }
}

#[test]
fn libraries_of_others_stay_behind_their_fences() {
    let metadata = metadata();
    let fences = table(&developers(), "library");
    for package in &metadata.packages {
        for used in dependencies(package) {
            if let Some((_, only)) = fences.iter().find(|(library, _)| *library == used) {
                assert!(
                    only.iter().any(|name| *name == *package.name),
                    "{} uses {used}, which only {only:?} may",
                    package.name
                );
            }
        }
    }
}

fn rust_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder of the checkout can be read") {
        let path = entry.expect("an entry of the checkout can be read").path();
        if path.is_dir() && !path.ends_with("target") {
            rust_files(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            found.push(path);
        }
    }
}

/// Small files, one idea each: median ≤ 250, nine in ten ≤ 600, none above 900 lines, tests at the
/// end of a file not counted.
#[test]
fn files_stay_small() {
    let mut files = Vec::new();
    rust_files(&root().join("crates"), &mut files);
    let mut lengths: Vec<(usize, PathBuf)> = files
        .into_iter()
        .filter(|path| !path.components().any(|part| part.as_os_str() == "tests"))
        .map(|path| {
            let text = std::fs::read_to_string(&path).expect("a source file can be read");
            let lines = text
                .lines()
                .take_while(|line| *line != "mod tests {")
                .count();
            (lines, path)
        })
        .collect();
    lengths.sort();
    let at = |share: f64| &lengths[((lengths.len() - 1) as f64 * share) as usize];
    assert!(
        at(0.5).0 <= 250,
        "median file has {} lines: {}",
        at(0.5).0,
        at(0.5).1.display()
    );
    assert!(
        at(0.9).0 <= 600,
        "every tenth file is longer than {} lines",
        at(0.9).0
    );
    assert!(
        at(1.0).0 <= 900,
        "{} has {} lines",
        at(1.0).1.display(),
        at(1.0).0
    );
}

/// Each crate says what it is at the top of its first file.
#[test]
fn every_crate_introduces_itself() {
    for package in metadata().packages {
        let folder = package
            .manifest_path
            .parent()
            .expect("a manifest lies in a folder");
        let first = ["src/lib.rs", "src/main.rs"]
            .iter()
            .map(|file| folder.join(file))
            .find(|path| path.exists())
            .unwrap_or_else(|| panic!("{} has neither lib.rs nor main.rs", package.name));
        let text = std::fs::read_to_string(&first).expect("a source file can be read");
        assert!(
            text.starts_with("//! "),
            "{first} does not begin with a module doc"
        );
    }
}
