//! What the last self-test of this program on this computer found.

use crate::places;
use desk::{SelfTest, SelfTestCheck};
use serde_json::Value;

/// What was stored by `prony selftest`; nothing if none was made, or it cannot be read.
pub fn recall() -> Option<SelfTest> {
    let text = std::fs::read_to_string(places::self_test_file()?).ok()?;
    read(&serde_json::from_str(&text).ok()?)
}

fn read(document: &Value) -> Option<SelfTest> {
    let count = |value: &Value| u32::try_from(value.as_u64()?).ok();
    let check = |check: &Value| {
        Some(SelfTestCheck {
            name: check["name"].as_str()?.to_owned(),
            tried: count(&check["tried"])?,
            within: count(&check["within"])?,
            passed: check["passed"].as_bool()?,
        })
    };
    Some(SelfTest {
        program: document["program"].as_str()?.to_owned(),
        sessions: count(&document["sessions"])?,
        checks: document["checks"]
            .as_array()?
            .iter()
            .filter_map(check)
            .collect(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::selftest::Ledger;

    #[test]
    fn the_document_of_a_self_test_is_understood() {
        let mut ledger = Ledger::default();
        ledger.expect("drop-outs are found", Ok(()));
        ledger.expect("drop-outs are found", Err("one was missed".to_owned()));
        let found = read(&ledger.document(2)).expect("the document is ours");
        assert_eq!(found.sessions, 2);
        assert!(found.program.starts_with("prony "));
        let check = &found.checks[0];
        assert_eq!(
            (check.name.as_str(), check.tried, check.within),
            ("drop-outs are found", 2, 1)
        );
        assert_eq!(read(&serde_json::json!({"schema": "something else"})), None);
    }
}
