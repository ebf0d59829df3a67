//! The scripts that come with the program.

use crate::script::{Script, ScriptErrors, nearest};

/// A script that comes with the program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReadyScript {
    /// Its name.
    pub name: &'static str,
    /// Its text.
    pub text: &'static str,
}

macro_rules! ready {
    ($($name:literal),* $(,)?) => {
        const READY: &[ReadyScript] = &[
            $(ReadyScript { name: $name, text: include_str!(concat!("../scripts/", $name, ".ron")) },)*
        ];
    };
}

ready! {
    "first-look",
    "level-sweep",
    "over-under",
    "flywheel-ladder",
    "cadence-ladder",
    "burst-set",
    "slope-steps",
    "slope-rolling",
    "warm-up-hour",
    "drop-out-soak",
    "reference-check",
    "reference-protocol-1",
    "reference-protocol-2",
}

/// Every script that comes with the program, in the order in which a tester would meet them.
pub fn ready_scripts() -> &'static [ReadyScript] {
    READY
}

/// The script of this name.
///
/// # Errors
/// [`UnknownScript`] with the nearest name.
pub fn ready_script(name: &str) -> Result<&'static ReadyScript, UnknownScript> {
    READY
        .iter()
        .find(|script| script.name == name)
        .ok_or_else(|| UnknownScript {
            name: name.to_owned(),
            nearest: nearest(name, READY.iter().map(|script| script.name)),
        })
}

impl ReadyScript {
    /// Reads it.
    ///
    /// # Errors
    /// None in practice: a test reads every one of them.
    pub fn load(&self) -> Result<Script, ScriptErrors> {
        Script::from_ron(self.name, self.text)
    }
}

/// There is no ready script of this name.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no ready script is called {name:?}; {}", remedy(*nearest))]
pub struct UnknownScript {
    /// The name that was asked for.
    pub name: String,
    /// The nearest name there is, if one is near.
    pub nearest: Option<&'static str>,
}

fn remedy(nearest: Option<&str>) -> String {
    let names: Vec<&str> = READY.iter().map(|script| script.name).collect();
    let names = names.join(", ");
    match nearest {
        Some(nearest) => format!("did you mean `{nearest}`? (there are: {names})"),
        None => format!("there are: {names}"),
    }
}
