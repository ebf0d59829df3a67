//! The rigs that come with the program, all of them invented.

use crate::file::{RigError, RigPlan};

const BUILT_IN: [(&str, &str); 6] = [
    ("honest", include_str!("../rigs/honest.ron")),
    ("full", include_str!("../rigs/full.ron")),
    ("workshop", include_str!("../rigs/workshop.ron")),
    ("single", include_str!("../rigs/single.ron")),
    ("echo", include_str!("../rigs/echo.ron")),
    ("one-sided", include_str!("../rigs/one-sided.ron")),
];

/// The names of the built-in rigs.
pub fn built_in_names() -> impl Iterator<Item = &'static str> {
    BUILT_IN.iter().map(|&(name, _)| name)
}

/// The text of a built-in rig file, to read or to start another one from.
pub fn built_in_text(name: &str) -> Option<&'static str> {
    BUILT_IN
        .iter()
        .find(|&&(known, _)| known == name)
        .map(|&(_, text)| text)
}

/// A built-in rig.
///
/// # Errors
/// [`RigError::Unknown`] with the names there are.
pub fn built_in(name: &str) -> Result<RigPlan, RigError> {
    let text = built_in_text(name).ok_or_else(|| RigError::Unknown {
        name: name.to_owned(),
        known: built_in_names().collect::<Vec<_>>().join(", "),
    })?;
    RigPlan::parse(text, name)
}
