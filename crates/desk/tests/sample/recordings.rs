//! Invented recordings made elsewhere, about to become a session.

use super::LONG;
use analysis::evidence::Place;
use bench::model::InstrumentRole;
use desk::{ColumnChoice, ImportView, RecordingCard};

fn choice(
    title: &str,
    choices: &[&str],
    chosen: Option<usize>,
    none: Option<&str>,
) -> ColumnChoice {
    ColumnChoice {
        title: title.into(),
        choices: choices.iter().map(|words| (*words).into()).collect(),
        chosen,
        none: none.map(Into::into),
    }
}

fn columns(power: Option<usize>) -> Vec<ColumnChoice> {
    let names = ["Zeit", "Leistung [W]", "Trittfrequenz [1/min]", "Höhe", "5"];
    let of = |title, chosen| choice(title, &names, chosen, Some("not there"));
    vec![
        of("time", Some(0)),
        of("date", None),
        of("power", power),
        of("cadence", Some(2)),
        of("speed", None),
        choice(
            "times written as",
            &["seconds", "milliseconds", "minutes", "clock", "date"],
            Some(3),
            None,
        ),
        choice(
            "separator",
            &["comma", "semicolon", "tab", "bar"],
            Some(1),
            None,
        ),
        choice("decimal sign", &["point", "comma"], Some(1), None),
    ]
}

/// The recording of a trainer and that of its reference, ready to be placed.
pub fn ready() -> ImportView {
    ImportView {
        id: 1,
        recordings: vec![
            RecordingCard {
                file: "2025-03-28-trainer-7.fit".into(),
                read: Ok(
                    "FIT \"2025-03-28-trainer-7.fit\": 2041 records, 2040 with power, mean 187.2 W, \
                     1 pauses"
                        .into(),
                ),
                remarks: vec![
                    "1 record is not later than the one before it and was left out".into(),
                ],
                role: InstrumentRole::UnderTest,
                place: Place::Hub,
                columns: Vec::new(),
            },
            RecordingCard {
                file: "pedals-a.csv".into(),
                read: Ok(
                    "CSV \"pedals-a.csv\": 2103 records, 2103 with power, mean 184.9 W, 0 pauses"
                        .into(),
                ),
                remarks: vec![
                    "written as UTF-8".into(),
                    "the times have no zone; the recorder's clock is placed by alignment alone"
                        .into(),
                ],
                role: InstrumentRole::PrimaryReference,
                place: Place::Pedals,
                columns: columns(Some(1)),
            },
        ],
        same_ride: false,
        clocks_may_be_wrong: false,
    }
}

/// One whose power was not found, with a long name, and on somebody's word.
pub fn not_ready() -> ImportView {
    let mut view = ready();
    view.same_ride = true;
    view.recordings[1] = RecordingCard {
        file: format!("{LONG}, exported on the day after.csv"),
        read: Err(
            "the columns of the file are not understood: no column looks like power; the columns \
             are 1 \"Zeit\", 2 \"Leistung [W]\", 3 \"Trittfrequenz [1/min]\", 4 \"Höhe\", 5 \"\"; \
             say which is meant"
                .into(),
        ),
        remarks: Vec::new(),
        role: InstrumentRole::Witness,
        place: Place::Unknown,
        columns: columns(None),
    };
    view
}
