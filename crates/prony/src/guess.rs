//! A bench file from what is in range, with roles guessed from the services.
//!
//! A fitness machine is the device under test; the power meter with the strongest signal is the
//! reference, the next one the second reference; everything else is a witness. Where a meter
//! measures it does not advertise, so its place stays open unless its name says it.

use anyhow::{Result, bail};
use radio::Advertisement;
use sensor::assigned;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// What an instrument is taken for, in the words of a bench file.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Guess<'a> {
    heard: &'a Advertisement,
    name: String,
    role: &'static str,
    place: &'static str,
}

/// The text of a bench file for these devices.
///
/// # Errors
/// Without a trainer or without a power meter in range: then there is nothing to compare.
pub fn bench(heard: &[&Advertisement]) -> Result<String> {
    let guesses = guesses(heard);
    let has = |role| guesses.iter().any(|guess| guess.role == role);
    if !has("UnderTest") {
        bail!(
            "no device under test in range: no fitness machine, and fewer than two power meters. \
             Switch the trainer on, let go of it in other programs, and try again"
        );
    }
    if !has("Reference") {
        bail!(
            "no reference in range: a power meter besides the device under test is needed. Wake it \
             (turn the cranks), and try again"
        );
    }
    let mut text = String::from(
        "// Written from what was in range. Roles and places are guessed: put them right before you\n\
         // ride. Roles: UnderTest, Reference, SecondReference, Witness. Places: Hub, Crank, Pedals,\n\
         // OneSide, Unknown. No target power goes above rider_ceiling_w, whatever a script asks for.\n\
         Bench(\n    name: \"My bench\",\n    rider_ceiling_w: 250,\n    instruments: [\n",
    );
    for Guess {
        heard,
        name,
        role,
        place,
    } in guesses
    {
        let device = &heard.id.0;
        let _ = writeln!(
            text,
            "        (device: {device:?}, name: {name:?}, role: {role}, place: {place}),"
        );
    }
    text.push_str("    ],\n)\n");
    Ok(text)
}

fn guesses<'a>(heard: &[&'a Advertisement]) -> Vec<Guess<'a>> {
    let offers = |one: &Advertisement, service| one.services.contains(&service);
    let mut machines = Vec::new();
    let mut meters = Vec::new();
    let mut others = Vec::new();
    for &one in heard {
        if offers(one, assigned::FITNESS_MACHINE_SERVICE) {
            machines.push(one);
        } else if offers(one, assigned::CYCLING_POWER_SERVICE) {
            meters.push(one);
        } else if offers(one, assigned::SPEED_CADENCE_SERVICE)
            || offers(one, assigned::HEART_RATE_SERVICE)
        {
            others.push(one);
        }
    }
    // The nearest first: a neighbour's trainer is heard as well.
    let nearest = |list: &mut Vec<&Advertisement>| {
        list.sort_by_key(|one| {
            (
                std::cmp::Reverse(one.rssi.unwrap_or(i16::MIN)),
                one.id.clone(),
            )
        });
    };
    for list in [&mut machines, &mut meters, &mut others] {
        nearest(list);
    }
    let under_test = if machines.is_empty() && meters.len() >= 2 {
        // A meter may be what is tested, against the other one.
        Some(meters.remove(0))
    } else {
        (!machines.is_empty()).then(|| machines.remove(0))
    };
    let mut taken = BTreeSet::new();
    let mut list = Vec::new();
    let mut add = |heard: &'a Advertisement, role| {
        let plain = heard.name.clone().unwrap_or_else(|| "unnamed".to_owned());
        let mut name = plain.clone();
        let mut number = 2;
        while !taken.insert(name.clone()) {
            name = format!("{plain} {number}");
            number += 1;
        }
        let place = place(heard, &plain);
        list.push(Guess {
            heard,
            name,
            role,
            place,
        });
    };
    if let Some(one) = under_test {
        add(one, "UnderTest");
    }
    for (nth, one) in meters.into_iter().enumerate() {
        add(
            one,
            ["Reference", "SecondReference"]
                .get(nth)
                .copied()
                .unwrap_or("Witness"),
        );
    }
    for one in machines.into_iter().chain(others) {
        add(one, "Witness");
    }
    list
}

fn place(heard: &Advertisement, name: &str) -> &'static str {
    if heard.services.contains(&assigned::FITNESS_MACHINE_SERVICE) {
        return "Hub";
    }
    let name = name.to_lowercase();
    [
        ("pedal", "Pedals"),
        ("crank", "Crank"),
        ("spider", "Crank"),
        ("hub", "Hub"),
    ]
    .into_iter()
    .find(|(word, _)| name.contains(word))
    .map_or("Unknown", |(_, place)| place)
}

#[cfg(test)]
mod tests {
    use super::*;
    use radio::DeviceId;

    fn heard(id: &str, name: &str, services: &[u16], rssi: i16) -> Advertisement {
        Advertisement {
            id: DeviceId(id.to_owned()),
            name: (!name.is_empty()).then(|| name.to_owned()),
            services: services.to_vec(),
            rssi: Some(rssi),
            service_data: Vec::new(),
            seen_at: None,
        }
    }

    fn roles(list: &[Advertisement]) -> Vec<(String, &'static str, &'static str)> {
        guesses(&list.iter().collect::<Vec<_>>())
            .into_iter()
            .map(|guess| (guess.name, guess.role, guess.place))
            .collect()
    }

    #[test]
    fn roles_follow_from_services_and_nearness() {
        let list = [
            heard("a", "Strap", &[0x180D], -50),
            heard("b", "Pedals", &[0x1818], -70),
            heard("c", "Crank", &[0x1818, 0x180F], -60),
            heard("d", "Next door", &[0x1826], -85),
            heard("e", "Trainer", &[0x1826, 0x1818], -55),
            heard("f", "Lamp", &[0x180F], -40),
            heard("g", "", &[0x1816], -61),
        ];
        let named = |name: &str, role, place| (name.to_owned(), role, place);
        assert_eq!(
            roles(&list),
            [
                named("Trainer", "UnderTest", "Hub"),
                named("Crank", "Reference", "Crank"),
                named("Pedals", "SecondReference", "Pedals"),
                named("Next door", "Witness", "Hub"),
                named("Strap", "Witness", "Unknown"),
                named("unnamed", "Witness", "Unknown"),
            ]
        );
    }

    #[test]
    fn names_are_told_apart_and_two_meters_are_a_bench() {
        let list = [
            heard("a", "Meter", &[0x1818], -50),
            heard("b", "Meter", &[0x1818], -60),
        ];
        let list: Vec<_> = list.iter().collect();
        let text = bench(&list).unwrap();
        assert!(
            text.contains("\"a\", name: \"Meter\", role: UnderTest"),
            "{text}"
        );
        assert!(
            text.contains("\"b\", name: \"Meter 2\", role: Reference"),
            "{text}"
        );
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("bench.ron");
        std::fs::write(&path, text).unwrap();
        assert_eq!(crate::bench_file::read(&path).unwrap().instruments.len(), 2);
    }

    #[test]
    fn without_a_pair_to_compare_it_says_what_is_missing() {
        let meter = heard("a", "Meter", &[0x1818], -50);
        let machine = heard("b", "Trainer", &[0x1826], -50);
        for (list, words) in [
            (vec![], "no device under test"),
            (vec![&meter], "no device under test"),
            (vec![&machine], "no reference in range"),
        ] {
            let error = bench(&list).unwrap_err().to_string();
            assert!(error.contains(words), "{error}");
        }
    }
}
