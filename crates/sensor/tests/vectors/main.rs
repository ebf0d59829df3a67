//! Worked vectors of the standard services: bytes, the record they stand for, and a source each.

mod bike_data;
mod cycling_power;
mod cycling_power_control;
mod machine_control;
mod other_services;
mod ranges;
mod table;

use std::collections::HashSet;

#[test]
fn there_are_81_vectors_and_each_is_listed_once() {
    let ids = [
        bike_data::ids(),
        cycling_power::ids(),
        cycling_power_control::ids(),
        machine_control::ids(),
        other_services::ids(),
        ranges::ids(),
    ]
    .concat();
    assert_eq!(ids.len(), 81);
    assert_eq!(ids.iter().collect::<HashSet<_>>().len(), 81);
}
