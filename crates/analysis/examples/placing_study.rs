//! How well recordings with clocks of their own are placed: many rides, recorders and faults, each
//! against the truth that it was made from. Prints a table; nothing passes or fails by it.
//!
//!     cargo run --release -p analysis --example placing_study -- SEEDS [same | PART OF A NAME]
//!
//! With `same` it looks at rides of one script on one day and on two instead.

#![allow(
    clippy::print_stdout,
    clippy::unwrap_used,
    missing_docs,
    reason = "a study says its numbers on the terminal and stops where its own data are wrong"
)]

#[path = "../tests/common/mod.rs"]
mod common;
#[path = "../tests/recorders/mod.rs"]
mod recorders;

use analysis::align::Agreement;
use recorders::{Course, Legs, Pause, Recorder, Riding, Stamps, placed};

struct Scenario {
    name: String,
    riding: Riding,
    reference: Recorder,
    device: Recorder,
}

fn scenarios() -> Vec<Scenario> {
    let pause = |is_counted| {
        vec![Pause {
            from_s: 1500.0,
            to_s: 1560.0,
            is_counted,
        }]
    };
    let base = Recorder::device;
    let kinds: Vec<(&str, Recorder, Recorder)> = vec![
        ("plain", Recorder::reference(), base()),
        (
            "pause counted",
            Recorder::reference(),
            Recorder {
                pauses: pause(true),
                ..base()
            },
        ),
        (
            "pause not counted",
            Recorder::reference(),
            Recorder {
                pauses: pause(false),
                ..base()
            },
        ),
        (
            "3 s late, smoothed 3 s",
            Recorder::reference(),
            Recorder {
                delay_s: 3.0,
                smoothing_s: 3.0,
                ..base()
            },
        ),
        (
            "1 in 20 records lost",
            Recorder::reference(),
            Recorder {
                lost: 0.05,
                ..base()
            },
        ),
        (
            "whole seconds, both 1 Hz",
            Recorder {
                interval_s: 1.0,
                phase_s: 0.4,
                stamps: Stamps::WholeSeconds,
                ..Recorder::reference()
            },
            Recorder {
                stamps: Stamps::WholeSeconds,
                ..base()
            },
        ),
        (
            "whole seconds, 1.1 s apart",
            Recorder::reference(),
            Recorder {
                interval_s: 1.1,
                stamps: Stamps::WholeSeconds,
                ..base()
            },
        ),
        (
            "no cadence",
            Recorder::reference(),
            Recorder {
                has_cadence: false,
                pauses: pause(false),
                ..base()
            },
        ),
        (
            "no cadence, plain",
            Recorder::reference(),
            Recorder {
                has_cadence: false,
                ..base()
            },
        ),
        (
            "three seconds lost, not counted",
            Recorder::reference(),
            Recorder {
                pauses: vec![Pause {
                    from_s: 2000.0,
                    to_s: 2003.0,
                    is_counted: false,
                }],
                ..base()
            },
        ),
        (
            "1 s lost, not counted, four times",
            Recorder::reference(),
            Recorder {
                pauses: [700.0, 1400.0, 2000.0, 2900.0]
                    .map(|from_s| Pause {
                        from_s,
                        to_s: from_s + 1.0,
                        is_counted: false,
                    })
                    .to_vec(),
                ..base()
            },
        ),
    ];
    let mut all = Vec::new();
    for (name, reference, device) in kinds {
        for riding in Riding::ALL {
            all.push(Scenario {
                name: format!("{riding:?}: {name}"),
                riding,
                reference: reference.clone(),
                device: device.clone(),
            });
        }
    }
    all
}

/// Rides that belong together, and rides by one course on two days: how the two are told apart.
fn same_or_not(seeds: u64) {
    let base = Recorder::device;
    let kinds: [(&str, f64, Recorder); 6] = [
        ("usual", 3500.0, base()),
        (
            "smoothed 8 s",
            3500.0,
            Recorder {
                delay_s: 2.0,
                smoothing_s: 8.0,
                ..base()
            },
        ),
        (
            "scatter 8 W",
            3500.0,
            Recorder {
                noise_w: 8.0,
                ..base()
            },
        ),
        (
            "no cadence",
            3500.0,
            Recorder {
                has_cadence: false,
                ..base()
            },
        ),
        ("15 min", 1020.0, base()),
        (
            "15 min, no cadence",
            1020.0,
            Recorder {
                has_cadence: false,
                ..base()
            },
        ),
    ];
    println!(
        "{:32} {:5} {:>7} {:>8} {:>6} {:>10}  stands out by",
        "", "days", "refused", "details", "steps", "no details"
    );
    let only = std::env::args().nth(3);
    for riding in Riding::ALL {
        for (name, to_s, device) in &kinds {
            let wanted = format!("{riding:?}: {name}");
            if only
                .as_ref()
                .is_some_and(|only| !wanted.contains(only.as_str()))
            {
                continue;
            }
            for (days, apart) in [("one", 0), ("two", 3)] {
                let mut refused = 0;
                let mut counts = [0; 3];
                let (mut least, mut most) = (f64::MAX, f64::MIN);
                for seed in (0..seeds).map(|seed| 50_000 + 7 * seed) {
                    let course = Course::new(riding, seed, 3700);
                    let reference = Legs::ride(&course, seed);
                    let reference =
                        Recorder::reference().record(&reference, 10.0, 3600.0, seed + 1);
                    let stream = Legs::ride(&course, seed + apart);
                    let stream = device.record(&stream, 120.0, *to_s, seed + 2);
                    let placement = match placed(&reference, &stream) {
                        Ok(placement) => placement,
                        Err(why) => {
                            if refused == 0 && apart == 0 {
                                println!("    {seed}: {}", why.reason);
                            }
                            refused += 1;
                            continue;
                        }
                    };
                    counts[match placement.agreement() {
                        Agreement::Details => 0,
                        Agreement::StepsOnly => 1,
                        Agreement::NoDetails => 2,
                    }] += 1;
                    let told = placement.details.iter().flatten();
                    let best = told
                        .map(|details| details.stands_out)
                        .fold(f64::MIN, f64::max);
                    (least, most) = (least.min(best), most.max(best));
                }
                let range = match counts {
                    [0, 0, 0] => String::new(),
                    _ => format!("{least:.1} to {most:.1}"),
                };
                println!(
                    "{:32} {days:5} {refused:>7} {:>8} {:>6} {:>10}  {range}",
                    format!("{riding:?}: {name}"),
                    counts[0],
                    counts[1],
                    counts[2],
                );
            }
        }
    }
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let seeds: u64 = arguments
        .next()
        .and_then(|text| text.parse().ok())
        .unwrap_or(20);
    let only = arguments.next();
    if only.as_deref() == Some("same") {
        return same_or_not(seeds);
    }
    println!(
        "{:45} {:>6} {:>7} {:>7} {:>7} {:>7} {:>8} {:>8} {:>7}",
        "", "placed", "median", "95 %", "worst", "jumps", "covered", "2u", "unsure"
    );
    for scenario in scenarios() {
        if only
            .as_ref()
            .is_some_and(|only| !scenario.name.contains(only.as_str()))
        {
            continue;
        }
        let (mut worsts, mut wrong_jumps) = (Vec::new(), 0);
        let (mut covered, mut moments, mut us) = (0, 0, 0.0);
        let mut unsure_s: Vec<f64> = Vec::new();
        let mut refusals: Vec<String> = Vec::new();
        for seed in 0..seeds {
            let seed = 10_000 + seed;
            let course = Course::new(scenario.riding, seed, 3700);
            let legs = Legs::ride(&course, seed);
            let reference = scenario.reference.record(&legs, 10.0, 3600.0, seed + 1);
            let stream = scenario.device.record(&legs, 120.0, 3500.0, seed + 2);
            let placement = match placed(&reference, &stream) {
                Ok(placement) => placement,
                Err(refused) => {
                    refusals.push(format!("{seed}: {}", refused.reason));
                    continue;
                }
            };
            unsure_s.extend(
                placement
                    .pieces
                    .iter()
                    .skip(1)
                    .map(|piece| (piece.unsure.1 - piece.unsure.0).as_secs_f64()),
            );
            wrong_jumps += usize::from(placement.jumps().len() != stream.hidden.len());
            let errors = stream.errors(&placement, &reference);
            let mut worst: f64 = 0.0;
            for (own, _, error) in &errors {
                worst = worst.max(error.abs());
                let u = placement.u_s(*own);
                covered += usize::from(error.abs() <= 2.0 * u);
                us += u;
                moments += 1;
            }
            worsts.push(worst);
        }
        worsts.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let place = (share * worsts.len() as f64).ceil() as usize;
            worsts
                .get(place.saturating_sub(1))
                .copied()
                .unwrap_or(f64::NAN)
        };
        println!(
            "{:45} {:>6} {:>7.3} {:>7.3} {:>7.3} {:>7} {:>7.1}% {:>8.3} {:>7.0}",
            scenario.name,
            worsts.len(),
            at(0.5),
            at(0.95),
            at(1.0),
            wrong_jumps,
            100.0 * covered as f64 / moments.max(1) as f64,
            2.0 * us / moments.max(1) as f64,
            unsure_s.iter().copied().fold(0.0, f64::max),
        );
        for refused in refusals.iter().take(2) {
            println!("      {refused}");
        }
    }
}
