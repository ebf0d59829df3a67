//! The licences that the about page shows are those of the libraries in the program.
//!
//! When a dependency changes: `PRONY_WRITE_LICENCES=1 cargo test -p acceptance --test licences`.

use acceptance::root;
use cargo_metadata::{DependencyKind, MetadataCommand, PackageId};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

/// Prony, its typeface, and every library that is built into it, with its licence expression.
fn licences() -> String {
    let metadata = MetadataCommand::new()
        .manifest_path(root().join("Cargo.toml"))
        .exec()
        .expect("cargo metadata answers in a checkout that builds");
    let resolve = metadata
        .resolve
        .as_ref()
        .expect("dependencies are resolved");
    let nodes: BTreeMap<&PackageId, _> =
        resolve.nodes.iter().map(|node| (&node.id, node)).collect();
    let program = metadata
        .packages
        .iter()
        .find(|package| package.name.as_str() == "prony")
        .expect("the program is a package");
    let mut reached: BTreeSet<&PackageId> = BTreeSet::new();
    let mut next = vec![&program.id];
    while let Some(id) = next.pop() {
        if reached.insert(id)
            && let Some(node) = nodes.get(id)
        {
            next.extend(node.deps.iter().filter_map(|dep| {
                let built_in = dep
                    .dep_kinds
                    .iter()
                    .any(|kind| kind.kind == DependencyKind::Normal);
                built_in.then_some(&dep.pkg)
            }));
        }
    }
    let mut libraries: BTreeMap<&str, BTreeSet<&str>> = BTreeMap::new();
    for package in &metadata.packages {
        if reached.contains(&package.id) && package.source.is_some() {
            let licence = package.license.as_deref().unwrap_or("see its own file");
            libraries
                .entry(licence)
                .or_default()
                .insert(package.name.as_str());
        }
    }
    let typeface = std::fs::read_to_string(root().join("assets/fonts/B612-LICENSE.txt"))
        .expect("the licence of the typeface lies beside it");
    let mut text = String::from(
        "Prony: MIT or Apache-2.0, at your option.\n\nLibraries in the program, by the licence \
         that each names:\n",
    );
    for (licence, names) in libraries {
        let names: Vec<&str> = names.into_iter().collect();
        write!(text, "\n{licence}: {}.\n", names.join(", ")).expect("a string takes text");
    }
    write!(text, "\nTypeface B612:\n\n{}\n", typeface.trim()).expect("a string takes text");
    text
}

#[test]
fn the_about_page_names_every_library() {
    let file = root().join("assets/licences.txt");
    let wanted = licences();
    if std::env::var_os("PRONY_WRITE_LICENCES").is_some() {
        std::fs::write(&file, &wanted).expect("the file can be written");
    }
    let found = std::fs::read_to_string(&file).unwrap_or_default();
    assert!(
        found == wanted,
        "assets/licences.txt is not of this set of libraries; run this test once with \
         PRONY_WRITE_LICENCES=1 and commit the file"
    );
    for copyleft in ["GPL-2.0", "GPL-3.0", "AGPL"] {
        assert!(!wanted.contains(&format!("\n{copyleft}")), "{copyleft}");
    }
}
