//! An examination in the document: only where it was made.

use analysis::outcome::Outcome;
use serde_json::{Map, Value};

pub(super) fn put<R>(
    all: &mut Map<String, Value>,
    name: &str,
    outcome: &Outcome<R>,
    value: impl Fn(&R) -> Value,
) {
    if let Ok(tested) = outcome {
        all.insert(name.to_owned(), value(&tested.result));
    }
}
