//! Where two documents part, in words.

use serde_json::Value;

/// Numbers count as equal when they agree to this share: another machine may compute the last digits
/// of a logarithm differently.
const EQUAL: f64 = 1e-9;

/// The first place where two documents differ, and how: `cells[2].bias_pct: 1.5 is packed, 1.25
/// computed`. Members are looked at in the order of their names.
pub(super) fn first(packed: &Value, computed: &Value) -> Option<String> {
    apart("", packed, computed)
}

fn apart(place: &str, packed: &Value, computed: &Value) -> Option<String> {
    match (packed, computed) {
        (Value::Object(packed), Value::Object(computed)) => {
            let names = packed.keys().chain(computed.keys());
            let mut names: Vec<&String> = names.collect();
            names.sort();
            names.dedup();
            names.into_iter().find_map(|name| {
                let place = if place.is_empty() {
                    name.clone()
                } else {
                    format!("{place}.{name}")
                };
                match (packed.get(name), computed.get(name)) {
                    (Some(packed), Some(computed)) => apart(&place, packed, computed),
                    (None, _) => Some(format!("{place}: it is computed and not packed")),
                    (_, None) => Some(format!("{place}: it is packed and not computed")),
                }
            })
        }
        (Value::Array(packed), Value::Array(computed)) => {
            let each = packed.iter().zip(computed).enumerate();
            let found = { each }.find_map(|(index, (packed, computed))| {
                apart(&format!("{place}[{index}]"), packed, computed)
            });
            let (many, few) = (packed.len(), computed.len());
            found.or_else(|| {
                (many != few).then(|| format!("{place}: {many} are packed, {few} computed"))
            })
        }
        (Value::Number(one), Value::Number(other)) if is_close(one, other) => None,
        _ if packed == computed => None,
        _ => Some(format!("{place}: {packed} is packed, {computed} computed")),
    }
}

fn is_close(one: &serde_json::Number, other: &serde_json::Number) -> bool {
    let (Some(one), Some(other)) = (one.as_f64(), other.as_f64()) else {
        return false;
    };
    (one - other).abs() <= EQUAL * one.abs().max(other.abs())
}

/// The first line, from 1, in which two texts differ; `None` if they are equal.
pub(super) fn line(packed: &[u8], computed: &[u8]) -> Option<usize> {
    if packed == computed {
        return None;
    }
    let lines = |text| <[u8]>::split(text, |byte| *byte == b'\n');
    let equal = lines(packed)
        .zip(lines(computed))
        .take_while(|(one, other)| one == other)
        .count();
    Some(equal + 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn the_first_difference_is_named_with_its_place() {
        let computed = json!({ "a": 1, "cells": [{ "x": 1.0 }, { "x": 2.0, "y": null }] });
        let cases = [
            (computed.clone(), None),
            (
                json!({ "a": 1, "cells": [{ "x": 1.000_000_000_1 }, { "x": 2, "y": null }] }),
                None,
            ),
            (
                json!({ "a": 1, "cells": [{ "x": 1.0 }, { "x": 2.000_001, "y": null }] }),
                Some("cells[1].x: 2.000001 is packed, 2.0 computed"),
            ),
            (
                json!({ "a": 1, "cells": [{ "x": 1.0 }] }),
                Some("cells: 1 are packed, 2 computed"),
            ),
            (
                json!({ "a": "1", "cells": [] }),
                Some("a: \"1\" is packed, 1 computed"),
            ),
            (
                json!({ "a": 1, "b": 0, "cells": [] }),
                Some("b: it is packed and not computed"),
            ),
            (
                json!({ "a": 1 }),
                Some("cells: it is computed and not packed"),
            ),
        ];
        for (packed, expected) in cases {
            assert_eq!(first(&packed, &computed).as_deref(), expected, "{packed}");
        }
        assert_eq!(line(b"a\nb\n", b"a\nb\n"), None);
        assert_eq!(line(b"a\nb\n", b"a\nc\n"), Some(2));
        assert_eq!(line(b"a\n", b"a\nb"), Some(2));
    }
}
