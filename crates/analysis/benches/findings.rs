//! How long all findings of one session take, from the decoded streams on: the median of many runs,
//! in milliseconds, on stdout. Nothing passes or fails by it. The streams come as the JSON that
//! `tests/cross_check/cross_check.py --dump` writes, so that both sides compute from the same numbers;
//! `tests/cross_check/speed.sh` does all of it.
//!
//!     PRONY_STREAMS=FILE cargo bench -p analysis --bench findings

#![allow(
    clippy::print_stdout,
    clippy::print_stderr,
    clippy::unwrap_used,
    missing_docs,
    reason = "a bench says its number on the terminal and may stop where its input is wrong"
)]
#![expect(clippy::disallowed_methods, reason = "a bench measures time")]

use analysis::assess::assess;
use analysis::evidence::{Arrival, Command, Evidence, Feeds, Load, Place, Role, StepSpan, Stream};
use analysis::settings::Settings;
use serde_json::Value;
use std::hint::black_box;
use std::time::{Duration, Instant};
use units::{Series, Span, Timestamp};

const RUNS: usize = 51;

fn main() {
    let Some(path) = std::env::var_os("PRONY_STREAMS") else {
        eprintln!("NOT RUN: set PRONY_STREAMS to a file of decoded streams");
        return;
    };
    let document: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let evidence = evidence(&document);
    let settings = Settings::from_ron(document["settings"].as_str().unwrap()).unwrap();
    let cells = assess(&evidence, &settings).cells.len();
    assert!(cells > 0, "the streams give no findings");
    let mut times: Vec<Duration> = (0..RUNS)
        .map(|_| {
            let begin = Instant::now();
            black_box(assess(black_box(&evidence), &settings));
            begin.elapsed()
        })
        .collect();
    times.sort();
    println!("{:.3}", 1000.0 * times[RUNS / 2].as_secs_f64());
}

fn at(value: &Value) -> Timestamp {
    Timestamp::from_nanos(value.as_i64().unwrap())
}

fn series(value: &Value) -> Series {
    let mut series = Series::new();
    let (times, values) = (value["t"].as_array(), value["v"].as_array());
    for (time, value) in times.unwrap().iter().zip(values.unwrap()) {
        series.push(at(time), value.as_f64().unwrap()).unwrap();
    }
    series
}

fn evidence(document: &Value) -> Evidence {
    let list = |name: &str| document[name].as_array().unwrap();
    let streams = list("streams").iter().map(|stream| Stream {
        name: stream["name"].as_str().unwrap().to_owned(),
        role: match stream["role"].as_str().unwrap() {
            "under-test" => Role::UnderTest,
            "reference" => Role::PrimaryReference,
            "second-reference" => Role::SecondReference,
            _ => Role::Witness,
        },
        place: match stream["place"].as_str().unwrap() {
            "hub" => Place::Hub,
            "crank" => Place::Crank,
            "pedals" => Place::Pedals,
            _ => Place::Unknown,
        },
        power_w: series(&stream["power"]),
        cadence_rpm: series(&stream["cadence"]),
        speed_kmh: series(&stream["speed"]),
        arrivals: stream["at"]
            .as_array()
            .unwrap()
            .iter()
            .map(|time| Arrival {
                at: at(time),
                epoch: 1,
            })
            .collect(),
        zero_offsets: Vec::new(),
    });
    let steps = list("steps")
        .iter()
        .enumerate()
        .map(|(index, step)| StepSpan {
            index,
            attempt: 1,
            title: format!("step {index}"),
            feeds: match step["feeds"].as_str().unwrap() {
                "Steady" => Feeds::Steady,
                "Response" => Feeds::Response,
                _ => Feeds::Nothing,
            },
            from: at(&step["from"]),
            to: at(&step["to"]),
            settle: Span::from_secs_f64(step["settle"].as_f64().unwrap()),
            target_w: step["target"].as_f64(),
            cadence_rpm: step["cadence"].as_f64(),
            gear: None,
        });
    let commands = list("targets").iter().map(|target| Command {
        at: at(&target[0]),
        confirmed_at: None,
        load: target[1].as_f64().map_or(Load::Released, Load::PowerW),
    });
    Evidence {
        streams: streams.collect(),
        steps: steps.collect(),
        commands: commands.collect(),
        invalid: Vec::new(),
        end: at(&document["end_ns"]),
    }
}
