//! Numbers as JSON: estimates, endless degrees of freedom, zeros without a sign.

use analysis::outcome::Estimate;
use serde_json::{Value, json};

/// A sum of nothing and a rounded small negative are a negative zero in a double; on paper a zero
/// has no sign. Every other number is printed with all the digits that reading it back needs.
pub(super) fn unsign_zeros(value: &mut Value) {
    match value {
        Value::Number(number) if number.as_f64() == Some(0.0) && number.is_f64() => {
            *value = json!(0.0);
        }
        Value::Array(items) => items.iter_mut().for_each(unsign_zeros),
        Value::Object(members) => members.values_mut().for_each(unsign_zeros),
        _ => {}
    }
}

/// An estimate as value, standard uncertainty and degrees of freedom.
pub(super) fn estimate(estimate: &Estimate) -> Value {
    json!({ "value": estimate.value, "u": estimate.u, "dof": dof(estimate.dof) })
}

pub(super) fn some_estimate(found: Option<&Estimate>) -> Value {
    found.map_or(Value::Null, estimate)
}

/// Infinite degrees of freedom are written as `f64::MAX` in the house and as `null` outside.
pub(super) fn dof(dof: f64) -> Value {
    if dof < f64::MAX {
        json!(dof)
    } else {
        Value::Null
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_zero_has_no_sign_and_nothing_else_changes() {
        let mut value = json!([[-0.0, -1e-300, 0.1 + 0.2], { "value": -0.0, "u": 3 }]);
        unsign_zeros(&mut value);
        assert_eq!(
            value.to_string(),
            r#"[[0.0,-1e-300,0.30000000000000004],{"u":3,"value":0.0}]"#
        );
    }
}
