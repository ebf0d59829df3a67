//! A script of twenty minutes through the real program and the real radio, against the stand-in, with
//! everything in it that an hour on a real bench brings: each link lost once, control taken away, a
//! silence.
//!
//! The rig's time runs ten times as fast as the world's and the session's clock with it
//! (`PRONY_EQUIPMENT_PACE`), so that the ride takes two minutes; the radio's own time limits are
//! the real ones. What that hides: a delay of the bus or of the machine looks ten times as long as it
//! is.

use acceptance::assess;
use acceptance::bluetooth::{FULL, Recorded, Ride, bench_file, stand_in, target_w};
use rig::{RigFile, RigPlan, built_in_text};
use sensor::assigned;
use serde_json::Value;
use standin::alone_within;
use std::path::Path;
use std::process::{Command, Stdio};
use units::Timestamp;

/// Seconds of the rig in one of the world.
const PACE: u32 = 10;

/// Trainer, crank meter, pedals and cadence sensor, with their troubles. The same file is ridden
/// in-process. Moments are seconds on the rig's clock, which begins with the stand-in; the session
/// begins some seconds later.
fn rig_text() -> String {
    let text = built_in_text("full").expect("a built-in rig");
    // The strap stays at home.
    let strap = text
        .find("        (\n            name: \"Linnet")
        .expect("the strap is last");
    let mut text = text[..strap].to_owned() + "    ],\n)\n";
    for (instrument, link) in [
        (
            "identity: (\n                maker: \"Ferrule",
            "link: (lost_links: [(700.0, 8.0)], phase: 0.1), ",
        ),
        (
            "link: (clock_ppm: 12.0)",
            "link: (clock_ppm: 12.0, lost_links: [(480.0, 6.0)], phase: 0.3)",
        ),
        (
            "link: (clock_ppm: -18.0)",
            "link: (clock_ppm: -18.0, lost_links: [(300.0, 6.0)], silences: [(900.0, 6.0)], phase: 0.5)",
        ),
        (
            "link: (clock_ppm: 7.0)",
            "link: (clock_ppm: 7.0, lost_links: [(360.0, 5.0)], phase: 0.7)",
        ),
        ("spin_down_kmh: (15.0, 32.0)", "taken_over: [560.0]"),
    ] {
        assert_eq!(text.matches(instrument).count(), 1, "{instrument}");
        let new = if instrument.starts_with("identity") {
            format!("{link}{instrument}")
        } else {
            link.to_owned()
        };
        text = text.replace(instrument, &new);
    }
    // Somebody who holds the cadence of the script: over the radio nobody tells the rider anything.
    let gear = "development_m: 5.4,";
    assert_eq!(text.matches(gear).count(), 1);
    text.replace(gear, "development_m: 5.4, rider: (preferred_rpm: 90.0),")
}

fn plan(text: &str) -> RigPlan {
    RigFile::parse(text, "the bench of this test")
        .and_then(|file| file.check("the bench of this test"))
        .expect("a rig that can be run")
}

/// Twenty minutes without the cool-down, and no step of it hard.
const SCRIPT: &str = "Script(title: \"Twenty minutes\", decides: \"Bias at four levels\", \
     needs: [\"four links\"], ceiling_w: 240, cadence_rpm: 90, steps: [\
     Ramp(title: \"begin\", from_w: 80, to_w: 140, seconds: 60, feeds: Warmup),\
     Hold(title: \"first\", power_w: 140, seconds: 270),\
     Hold(title: \"second\", power_w: 180, seconds: 270),\
     Hold(title: \"third\", power_w: 220, seconds: 300),\
     Hold(title: \"fourth\", power_w: 160, seconds: 300),\
     ])";

fn in_process(folder: &Path, rig_text: &str) -> Value {
    let (rig, script) = (folder.join("rig.ron"), folder.join("script.ron"));
    std::fs::write(&rig, rig_text).expect("the folder is ours");
    let out = folder.join("in-process.prony");
    let outcome = Command::new(acceptance::prony())
        .args(["run", "--fast", "--script"])
        .arg(&script)
        .arg("--rig")
        .arg(&rig)
        .arg("--out")
        .arg(&out)
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    assert!(
        outcome.status.success(),
        "{}",
        String::from_utf8_lossy(&outcome.stderr)
    );
    assess(&out)
}

/// Bias of the cells as indicated, by level: value and type A uncertainty, %.
fn biases(findings: &Value) -> Vec<(f64, f64, f64)> {
    findings["cells"]
        .as_array()
        .expect("cells")
        .iter()
        .filter(|cell| cell["treatment"] == "as_indicated")
        .map(|cell| {
            let number = |name: &str| cell[name].as_f64().expect("a number");
            (number("level_w"), number("bias_pct"), number("u_a_pct"))
        })
        .collect()
}

#[test]
fn twenty_minutes_with_every_trouble_are_recorded_whole_and_judged_alike() {
    let name = "twenty_minutes_with_every_trouble_are_recorded_whole_and_judged_alike";
    alone_within(name, 420, |folder| {
        let rig_text = rig_text();
        let bus = stand_in(folder, plan(&rig_text), PACE, Vec::new());
        // All but the strap, which this rig does not have.
        let bench = bench_file(folder, 250, &FULL[..4]);
        let mut ride = Ride::start(&bus, folder, SCRIPT, &bench, PACE);
        ride.agree_until(300, |_| false);
        ride.wait(1);
        let ledger = bus.ledger();
        let recorded = Recorded::of(ride.file());

        // Every packet that was sent while linked, with the link it came over.
        let streams = [
            (0, assigned::INDOOR_BIKE_DATA, 4),
            (1, assigned::CYCLING_POWER_MEASUREMENT, 1),
            (2, assigned::CYCLING_POWER_MEASUREMENT, 1),
            (3, assigned::CSC_MEASUREMENT, 1),
        ];
        let duration = recorded.packets.last().expect("packets").at;
        assert!(duration > Timestamp::from_secs(1200), "{duration}");
        for (device, characteristic, per_s) in streams {
            // After its end the session waits for the release, the program lets go of four links one
            // after the other: some seconds of the world are a minute of the rig.
            let by_link = recorded.assert_whole(&ledger, device, characteristic, 90 * per_s);
            println!("device {device}, {characteristic}: recorded by link {by_link:?}");
            assert_eq!(by_link.keys().copied().collect::<Vec<_>>(), [1, 2]);
            assert_eq!(ledger.links[device], 2, "device {device}");
            let count: usize = by_link.values().sum();
            assert!(count > 1100 * per_s, "device {device}: {count}");
        }

        // What each device says of itself, read anew over each link.
        for (source, which) in [
            (1, assigned::FITNESS_MACHINE_FEATURE),
            (1, assigned::SUPPORTED_POWER_RANGE),
            (1, assigned::SUPPORTED_RESISTANCE_LEVEL_RANGE),
            (1, assigned::FIRMWARE_REVISION),
            (2, assigned::CYCLING_POWER_FEATURE),
            (3, assigned::SENSOR_LOCATION),
            (4, assigned::CSC_FEATURE),
        ] {
            let epochs: Vec<u32> = recorded
                .packets
                .iter()
                .filter(|p| p.source.0 == source && p.characteristic == which)
                .map(|p| p.epoch)
                .collect();
            assert_eq!(epochs, [1, 2], "{which} of source {source}");
        }

        // Each gap has a reason: the four links, the control, and the silence as a hole in the data.
        let links = |up: bool| -> Vec<u64> {
            let mut sources: Vec<u64> = recorded
                .of_kind("link")
                .filter(|row| row.body["up"] == up && row.body["epoch"] != 1_u64 + u64::from(!up))
                .filter_map(|row| row.body["source"].as_u64())
                .collect();
            sources.sort_unstable();
            sources
        };
        let lost: Vec<_> = recorded
            .of_kind("link")
            .filter(|row| row.body["up"] == false)
            .collect();
        assert_eq!(lost.len(), 4, "{lost:?}");
        assert!(
            lost.iter()
                .all(|row| !row.body["words"].as_str().unwrap_or("").is_empty())
        );
        assert_eq!(links(true), [1, 2, 3, 4], "each link was made again");
        let took_back = recorded
            .of_kind("control")
            .filter(|row| {
                row.body["words"]
                    .as_str()
                    .is_some_and(|w| w.contains("took it back"))
            })
            .count();
        assert_eq!(took_back, 1, "the loss of control is told once");
        let pedals: Vec<_> = recorded
            .packets
            .iter()
            .filter(|p| p.source.0 == 3 && p.characteristic == assigned::CYCLING_POWER_MEASUREMENT)
            .collect();
        let silence = pedals
            .windows(2)
            .filter(|pair| pair[0].epoch == pair[1].epoch)
            .map(|pair| (pair[1].at - pair[0].at).as_secs_f64())
            .fold(0.0, f64::max);
        assert!(
            (6.0..8.5).contains(&silence),
            "the silence took {silence} s"
        );

        // Control was asked for again after both losses, and the load ends released.
        let to_trainer: Vec<_> = ledger.written.iter().filter(|w| w.device == 0).collect();
        let asked = to_trainer.iter().filter(|w| w.bytes == [0x00]).count();
        assert!(asked >= 3, "control was asked for {asked} times");
        let last_w = to_trainer.iter().rev().find_map(|w| target_w(&w.bytes));
        assert_eq!(last_w, Some(0), "the brake ends released");
        assert!(
            to_trainer
                .iter()
                .filter_map(|w| target_w(&w.bytes))
                .all(|w| w <= 240)
        );

        // The findings, beside those of the same rig in this process. Two rides differ in what the
        // rider's legs did at a given moment of the script, which is what the type A uncertainty of
        // each cell states; and the radio adds its delays. Three standard uncertainties of the
        // difference, and 0.1 % for the delays: half a second of shift (the rig's 12 to 20 ms
        // and some milliseconds of the bus, ten times as long) changes a one-minute mean of a
        // steady level by less.
        let (over_radio, here) = (assess(ride.file()), in_process(folder, &rig_text));
        for findings in [&over_radio, &here] {
            let trainer = &findings["sources"][0];
            assert_eq!(trainer["model"], "Ferrule 20");
            assert_eq!(trainer["firmware"], "2.4.1");
        }
        let (radio_biases, here_biases) = (biases(&over_radio), biases(&here));
        println!("over the radio {radio_biases:.3?}\nin this process {here_biases:.3?}");
        for level_w in [140.0, 160.0, 180.0, 220.0] {
            let at = |list: &[(f64, f64, f64)]| {
                list.iter()
                    .find(|(w, _, _)| (w - level_w).abs() < 1.0)
                    .copied()
                    .unwrap_or_else(|| panic!("no cell at {level_w} W: {list:?}"))
            };
            let ((_, a_pct, u_a), (_, b_pct, u_b)) = (at(&radio_biases), at(&here_biases));
            let allowed_pct = 3.0 * u_a.hypot(u_b) + 0.1;
            assert!(
                (a_pct - b_pct).abs() <= allowed_pct,
                "{level_w} W: {a_pct} % and {b_pct} %, allowed {allowed_pct} %"
            );
        }
        assert_eq!(over_radio["overall"]["verdict"], here["overall"]["verdict"]);
        for (radio, here) in [(&over_radio, &here)] {
            let lag = |findings: &Value, nth: usize| {
                findings["alignment"][nth]["lag_s"].as_f64().expect("a lag")
            };
            for nth in 0..2 {
                let (a, b) = (lag(radio, nth), lag(here, nth));
                // A quarter of a second: the trainer reports every 0.25 s, the meters every second, and
                // a value is worth its whole interval.
                println!("lag {nth}: {a:.3} s over the radio, {b:.3} s in this process");
                assert!((a - b).abs() < 0.25, "lag {nth}: {a} s and {b} s");
            }
        }
    });
}
