//! Recordings made elsewhere: counts, means and gaps of published files, odd files, and the way
//! from two recorders to findings.

use acceptance::{could_not_run, prony, root};
use cargo_metadata::MetadataCommand;
use session::import::{self, Columns, Format, ImportError, Recording};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn package_of(manifest: &Path, name: &str) -> Option<PathBuf> {
    let metadata = MetadataCommand::new().manifest_path(manifest).exec().ok()?;
    let package = metadata
        .packages
        .iter()
        .find(|package| *package.name == name)?;
    Some(package.manifest_path.parent()?.as_std_path().to_owned())
}

fn fit(name: &str) -> Vec<u8> {
    let folder = package_of(&root().join("Cargo.toml"), "fitparser").expect("it is a dependency");
    std::fs::read(folder.join("tests/fixtures").join(name)).expect("the package ships the file")
}

fn read(bytes: &[u8], name: &str) -> Result<Recording, ImportError> {
    import::read(bytes, name, None)
}

/// `hrv-activity.fit` of the package fitparser 0.11.0 (MIT), decoded outside the project with
/// fitdecode 0.11.0 and fitparse 1.2.0, which agree: 1072 records, 1071 with power, sum 196 808 W,
/// mean 183.7609710550887 W, one gap of 2 s, cadence in all 1072 with mean 77.98041.
#[test]
fn a_fit_activity_reads_as_others_read_it() {
    let ride = read(&fit("hrv-activity.fit"), "hrv-activity.fit").expect("it reads");
    assert_eq!(ride.format, Format::Fit);
    assert_eq!(ride.records.len(), 1072);
    assert_eq!(ride.power_w.len(), 1071);
    let sum: f64 = ride.power_w.values().iter().sum();
    assert_eq!(sum, 196_808.0);
    assert!((ride.mean_power_w() - 183.760_971_055_088_7).abs() < 1e-9);
    let most = ride.power_w.values().iter().copied().fold(0.0, f64::max);
    assert_eq!(most, 951.0);
    let gaps = ride.gaps();
    assert_eq!(gaps.len(), 1, "{gaps:?}");
    assert_eq!((gaps[0].1 - gaps[0].0).as_secs_f64(), 2.0);
    assert_eq!(gaps[0].0, ride.records[841]);
    assert_eq!(ride.cadence_rpm.len(), 1072);
    let cadence: f64 = ride.cadence_rpm.values().iter().sum();
    assert!((cadence / 1072.0 - 77.98041).abs() < 1e-5);
    assert_eq!(ride.length().as_secs_f64(), 1072.0);
}

/// `20210308_virtual_ride_with_power.tcx` of the package tcx 0.9.3 (MIT), decoded outside the
/// project with ElementTree and tcxreader 0.4.11: 1434 points, all with watts, sum 300 564, mean
/// 209.59832635983264 W, maximum 462, 20 zeros, every gap exactly 1 s.
#[test]
fn a_tcx_activity_reads_as_others_read_it() {
    const TEST: &str = "a_tcx_activity_reads_as_others_read_it";
    let manifest = root().join("tests/elsewhere/Cargo.toml");
    let Some(folder) = package_of(&manifest, "tcx") else {
        return could_not_run(TEST, "the package tcx 0.9.3 cannot be fetched");
    };
    let file = folder.join("tests/20210308_virtual_ride_with_power.tcx");
    let bytes = std::fs::read(file).expect("the package ships the file");
    let ride = read(&bytes, "ride.tcx").expect("it reads");
    assert_eq!(ride.format, Format::Tcx);
    assert_eq!((ride.records.len(), ride.power_w.len()), (1434, 1434));
    let watts = ride.power_w.values();
    assert_eq!(watts.iter().sum::<f64>(), 300_564.0);
    assert!((ride.mean_power_w() - 209.598_326_359_832_64).abs() < 1e-9);
    assert_eq!(watts.iter().copied().fold(0.0, f64::max), 462.0);
    assert_eq!(watts.iter().filter(|w| **w == 0.0).count(), 20);
    assert!(ride.gaps().is_empty());
    assert_eq!(ride.length().as_secs_f64(), 1433.0);
}

/// A table of one minute at 200 W.
fn table(header: &str, row: impl Fn(u32) -> String) -> String {
    let rows: String = (0..60).map(|second| row(second) + "\r\n").collect();
    format!("{header}\r\n{rows}")
}

/// Odd files: each gives a recording, or an error that names the file and says what to do.
#[test]
fn odd_files_give_a_recording_or_a_clear_error() {
    let whole = fit("hrv-activity.fit");
    let mut wrong_sum = whole.clone();
    *wrong_sum.last_mut().expect("it is not empty") ^= 0x55;
    let chained = [whole.clone(), whole.clone()].concat();
    let remark = |ride: &Recording, words: &str| {
        assert!(
            ride.remarks.iter().any(|remark| remark.contains(words)),
            "{:?}",
            ride.remarks
        );
    };
    let cut = read(&whole[..30_000], "cut.fit").expect("what came before is kept");
    remark(&cut, "breaks off");
    assert!(
        (300..1072).contains(&cut.records.len()),
        "{}",
        cut.records.len()
    );
    remark(&read(&wrong_sum, "sum.fit").expect("it reads"), "check sum");
    let joined = read(&chained, "chained.fit").expect("it reads");
    remark(&joined, "2 activities");
    assert_eq!(
        joined.records.len(),
        1072,
        "the second one is not later than the first"
    );

    let good = [
        (
            "local time",
            table("time,power", |s| format!("2026-03-01 10:00:{s:02},200")),
        ),
        (
            "decimal comma",
            table("Zeit;Leistung [W];Kadenz", |s| format!("{s},0;200,0;90")),
        ),
        (
            "units",
            table("Elapsed (ms),Power (W),Speed (m/s)", |s| {
                format!("{},200,10", s * 1000)
            }),
        ),
        (
            "mark",
            format!(
                "\u{feff}{}",
                table("secs,watts,cad", |s| format!("{s},200,90"))
            ),
        ),
        (
            "preface",
            format!(
                "exported by somebody\r\n\r\n{}",
                table("time\tpower", |s| format!("0:00:{s:02}\t200"))
            ),
        ),
        (
            "date and time",
            table("date,time,power_w", |s| {
                format!("01.03.2026,10:00:{s:02},200")
            }),
        ),
        (
            "epoch",
            table("timestamp,watts", |s| format!("{},200", 1_772_000_000 + s)),
        ),
    ];
    for (what, text) in good {
        let ride = read(text.as_bytes(), "x.csv").unwrap_or_else(|error| panic!("{what}: {error}"));
        assert_eq!(ride.records.len(), 60, "{what}: {:?}", ride.remarks);
        assert_eq!(ride.mean_power_w(), 200.0, "{what}");
        assert_eq!(ride.length().as_secs_f64(), 59.0, "{what}");
        if what == "units" {
            assert_eq!(ride.speed_kmh.values()[0], 36.0);
        }
        // What was guessed, stored and said again reads the same.
        let columns = ride
            .columns
            .as_ref()
            .expect("a table has columns")
            .to_string();
        let columns = Columns::parse(&columns).expect("it reads back");
        let again = import::read(text.as_bytes(), "x.csv", Some(&columns)).expect("it reads");
        assert_eq!(again.power_w, ride.power_w, "{what}: {columns}");
    }

    let no_power = table("time,cadence", |s| format!("{s},90"));
    let bad: [(&str, &[u8]); 7] = [
        ("empty.csv", b" \r\n "),
        ("empty.fit", b""),
        ("short.fit", &whole[..9]),
        ("head.fit", &whole[..300]),
        (
            "cut.tcx",
            b"<?xml version=\"1.0\"?><TrainingCenterDatabase><Activities>",
        ),
        ("other.tcx", b"<gpx/>"),
        ("no-power.csv", no_power.as_bytes()),
    ];
    for (name, bytes) in bad {
        let words = read(bytes, name).expect_err(name).to_string();
        assert!(words.contains(name) && words.contains(';'), "{words}");
    }
    // The other files of the package hold no power; settings, scales, workouts and a developer's.
    for name in [
        "Activity.fit",
        "DeveloperData.fit",
        "Settings.fit",
        "sample_mulitple_header.fit",
    ] {
        let words = read(&fit(name), name).expect_err(name).to_string();
        assert!(words.contains("none with power"), "{words}");
    }
}

fn run(arguments: &[&str], paths: &[&Path]) -> Output {
    let mut command = Command::new(prony());
    command.args(arguments).args(paths).stdin(Stdio::null());
    command.output().expect("the program can be started")
}

/// Two recorders on clocks of their own: imported, placed, assessed and exported; an unrelated
/// ride is refused and leaves no file.
#[test]
fn two_recorders_become_one_session() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let legs = |seed: u64| -> Vec<f64> {
        let mut state = seed;
        let mut uniform = move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1);
            ((state >> 33) as f64) / f64::from(1u32 << 31)
        };
        let (mut level, mut slow) = (200.0, 0.0);
        (0..2400)
            .map(|second| {
                if second % 240 == 0 {
                    level = 120.0 + 180.0 * uniform();
                }
                slow = 0.7 * slow + 8.0 * (uniform() - 0.5);
                level + slow
            })
            .collect()
    };
    let write = |name: &str, legs: &[f64], offset: f64, gain: f64| {
        let rows: String = legs
            .iter()
            .enumerate()
            .map(|(second, w)| format!("{},{:.1},90\n", second as f64 + offset, w * gain))
            .collect();
        std::fs::write(at(name), format!("seconds,watts,cadence\n{rows}")).expect("a file");
    };
    let ride = legs(7);
    write("reference.csv", &ride, 0.0, 1.0);
    write("device.csv", &ride[100..], 517.3, 1.03);
    write("other.csv", &legs(8), 0.0, 1.0);
    let out = at("ride.prony");
    let import = |device: &str, out: &Path| {
        run(
            &["import"],
            &[
                Path::new("--under-test"),
                &at(device),
                Path::new("--reference"),
                &at("reference.csv"),
                Path::new("--out"),
                out,
            ],
        )
    };
    let done = import("device.csv", &out);
    let words = String::from_utf8_lossy(&done.stdout).into_owned();
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    assert!(
        words.contains("power=watts") && words.contains("placed"),
        "{words}"
    );
    let verified = session::verify(&out).expect("it reads");
    assert_eq!(verified.state, session::SealState::Sealed);

    // Each clock counts from its own first record: the device's was the ride's second 100.
    let findings = acceptance::assess(&out);
    let lag = findings["alignment"][0]["lag_s"].as_f64().expect("a lag");
    assert!((lag + 100.0).abs() < 0.1, "{lag}");
    let cells = findings["cells"].as_array().expect("cells");
    assert!(!cells.is_empty(), "plateaus are found without a script");
    for cell in cells
        .iter()
        .filter(|cell| cell["treatment"] == "as_indicated")
    {
        let bias = cell["bias_pct"].as_f64().expect("a bias");
        assert!((bias - 3.0).abs() < 0.1, "{bias}");
    }
    let again = acceptance::assess(&out);
    assert_eq!(findings, again);

    let moved = run(&["nudge", "--later", "0.5"], &[&out]);
    assert!(
        moved.status.success(),
        "{}",
        String::from_utf8_lossy(&moved.stderr)
    );
    let nudged = acceptance::assess(&out);
    let lag_by_hand = nudged["alignment"][0]["lag_s"].as_f64().expect("a lag");
    assert!((lag_by_hand - (lag - 0.5)).abs() < 1e-6, "{lag_by_hand}");

    let tables = run(&["export", "--csv"], &[folder.path(), &out]);
    assert!(
        tables.status.success(),
        "{}",
        String::from_utf8_lossy(&tables.stderr)
    );
    let raw = std::fs::read_to_string(at("ride").join("raw.csv")).expect("the raw table");
    assert_eq!(
        raw.lines().filter(|line| line.contains("power_w")).count(),
        2400 + 2300
    );

    let refused = import("other.csv", &at("never.prony"));
    assert_eq!(refused.status.code(), Some(1));
    assert!(!at("never.prony").exists());
}

/// One person's ride of a plan, W once a second for forty minutes: the plan gives the levels, the
/// person the scatter about them.
fn ridden(plan: u64, person: u64) -> Vec<f64> {
    let uniform = |seed: u64| {
        let mut state = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15);
        move || {
            state = state
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            ((state >> 33) as f64) / f64::from(1u32 << 31)
        }
    };
    let (mut levels, mut scatter) = (uniform(plan), uniform(person));
    let (mut level, mut slow) = (0.0, 0.0);
    (0..2400)
        .map(|second| {
            if second % 150 == 0 {
                level = 120.0 + 180.0 * levels();
            }
            slow = 0.7 * slow + 12.0 * (scatter() - 0.5);
            level + slow
        })
        .collect()
}

/// Writes a recording with a calendar: UTC, one record a second from a second of a day on.
fn dated(path: &Path, watts: &[f64], (day, from_s): (&str, usize)) {
    let rows: String = watts
        .iter()
        .zip(from_s..)
        .map(|(watts, at)| {
            let (hour, minute, second) = (at / 3600, at / 60 % 60, at % 60);
            format!("{day}T{hour:02}:{minute:02}:{second:02}Z,{watts:.0}\n")
        })
        .collect();
    std::fs::write(path, format!("time,watts\n{rows}")).expect("a file");
}

/// Imports two recordings and gives the exit status, and everything that was said.
fn imported(folder: &Path, device: &str, word: &[&str]) -> (Option<i32>, String, PathBuf) {
    let out = folder.join(format!("{device}{}.prony", word.concat()));
    let (device, reference) = (folder.join(device), folder.join("reference.csv"));
    let done = run(
        &[&["import"], word].concat(),
        &[
            Path::new("--under-test"),
            &device,
            Path::new("--reference"),
            &reference,
            Path::new("--out"),
            &out,
        ],
    );
    let said = [&done.stdout[..], &done.stderr[..]].concat();
    let said = String::from_utf8_lossy(&said).into_owned();
    (done.status.code(), said, out)
}

/// One script on two days, by two people: refused with what speaks against it, and only by
/// somebody's word a session, which says so ever after.
#[test]
fn one_script_on_two_days_is_refused_unless_somebody_gives_their_word() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let began = ("2026-03-01", 36_000);
    dated(&at("reference.csv"), &ridden(5, 6), began);
    dated(&at("device.csv"), &ridden(5, 7), began);
    let (status, said, out) = imported(folder.path(), "device.csv", &[]);
    assert_eq!(status, Some(1), "{said}");
    for part in [
        "only in the steps",
        "details",
        "--same-ride",
        "power correlates",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(!out.exists());
    let (status, said, out) = imported(folder.path(), "device.csv", &["--same-ride"]);
    assert_eq!(status, Some(0), "{said}");
    let findings = acceptance::assess(&out);
    let anomalies = findings["anomalies"].to_string();
    assert!(
        anomalies.contains("only in the steps") && anomalies.contains("the word of"),
        "{anomalies}"
    );
}

/// One ride, but the calendar of one recorder is a day and a bit off: refused, and taken where
/// somebody says that a calendar is wrong. Seven minutes are a clock that was set by hand.
#[test]
fn recordings_of_different_days_are_refused_unless_a_calendar_is_said_to_be_wrong() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let ride = ridden(5, 6);
    dated(&at("reference.csv"), &ride, ("2026-03-01", 36000));
    dated(&at("days.csv"), &ride[60..], ("2026-03-04", 36060));
    dated(&at("zone.csv"), &ride[60..], ("2026-03-01", 43260));
    dated(&at("minutes.csv"), &ride[60..], ("2026-03-01", 35642));
    let word = ["--clocks-may-be-wrong"];
    for (name, parts) in [
        ("days.csv", ["3 days later", "--clocks-may-be-wrong"]),
        ("zone.csv", ["2.0 hours later", "time zone"]),
    ] {
        let (status, said, out) = imported(folder.path(), name, &[]);
        assert_eq!(status, Some(1), "{said}");
        assert!(parts.iter().all(|part| said.contains(part)), "{said}");
        assert!(!out.exists());
        let (status, said, out) = imported(folder.path(), name, &word);
        assert_eq!(status, Some(0), "{said}");
        let findings = acceptance::assess(&out);
        assert!(findings["anomalies"].to_string().contains(parts[0]));
    }
    let (status, said, _) = imported(folder.path(), "minutes.csv", &[]);
    assert_eq!(status, Some(0), "{said}");
    assert!(
        said.contains("418 seconds earlier") || said.contains("7 minutes earlier"),
        "{said}"
    );
}

/// A recorder that stood still for a minute without counting it: two pieces, each with where it
/// lies and by how much its clock was ahead; the minute between them is not judged.
#[test]
fn a_pause_that_no_clock_counted_gives_two_pieces() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let ride = ridden(11, 12);
    dated(&at("reference.csv"), &ride, ("2026-03-01", 36000));
    let paused: Vec<f64> = [&ride[..1200], &ride[1260..]].concat();
    dated(&at("device.csv"), &paused, ("2026-03-01", 36000));
    let (status, said, out) = imported(folder.path(), "device.csv", &[]);
    assert_eq!(status, Some(0), "{said}");
    assert!(said.contains("jumped by +60.0 s"), "{said}");
    let findings = acceptance::assess(&out);
    let alignment = &findings["alignment"][0];
    let pieces = alignment["pieces"].as_array().expect("pieces");
    assert_eq!(pieces.len(), 2, "{pieces:?}");
    let number = |value: &serde_json::Value| value.as_f64().expect("a number");
    for (piece, lag_s) in pieces.iter().zip([0.0, -60.0]) {
        assert!((number(&piece["lag_s"]) - lag_s).abs() < 0.1, "{piece}");
        assert!((0.0..0.1).contains(&number(&piece["lag_u_s"])), "{piece}");
    }
    assert!(pieces[0]["from_s"].is_null() && pieces[1]["to_s"].is_null());
    let (to_s, from_s) = (number(&pieces[0]["to_s"]), number(&pieces[1]["from_s"]));
    assert!(to_s <= 1200.0 && 1260.0 <= from_s, "{to_s} to {from_s}");
    assert!(from_s - to_s < 120.0, "{to_s} to {from_s}");
    let page = folder.path().join("report.html");
    let reported = run(&["assess", "--report"], &[&page, &out]);
    assert!(reported.status.success());
    let page = std::fs::read_to_string(page).expect("the report");
    assert!(page.contains("in 2 stretches"));
}

/// Odd and broken files through the program itself, each by its name: a session, or status 2 with the
/// file, the place and what to do, and no file left behind. Never a panic.
#[test]
fn odd_files_through_the_program_give_a_session_or_a_clear_error() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let whole = fit("hrv-activity.fit");
    let mut wrong_sum = whole.clone();
    *wrong_sum.last_mut().expect("it is not empty") ^= 0x55;
    let ride = ridden(5, 6);
    let rows = |header: &str, row: &dyn Fn(usize, f64) -> String| -> Vec<u8> {
        let rows = ride
            .iter()
            .enumerate()
            .map(|(s, watts)| row(s, *watts) + "\r\n");
        format!("{header}\r\n{}", rows.collect::<String>()).into_bytes()
    };
    let clock = |s: usize| format!("{:02}:{:02}:{:02}", 10 + s / 3600, s / 60 % 60, s % 60);
    std::fs::write(at("whole.fit"), &whole).expect("a file");
    std::fs::write(
        at("plain.csv"),
        rows("secs,watts", &|s, watts| format!("{s},{watts:.1}")),
    )
    .expect("a file");
    let sessions: [(&str, &str, Vec<u8>, &str); 8] = [
        (
            "cut.fit",
            "whole.fit",
            whole[..30_000].to_vec(),
            "breaks off",
        ),
        ("wrong-sum.fit", "whole.fit", wrong_sum, "check sum"),
        (
            "chained.fit",
            "whole.fit",
            [whole.clone(), whole.clone()].concat(),
            "2 activities",
        ),
        (
            "local-time.csv",
            "plain.csv",
            rows("time,power", &|s, watts| {
                format!("2026-03-01 {},{watts:.1}", clock(s))
            }),
            "time=time",
        ),
        (
            "semicolon-comma.csv",
            "plain.csv",
            rows("Zeit;Leistung [W]", &|s, watts| {
                format!("{s},0;{}", format!("{watts:.1}").replace('.', ","))
            }),
            "decimal=comma",
        ),
        (
            "units.csv",
            "plain.csv",
            rows("Elapsed (ms),Power (kW)", &|s, watts| {
                format!("{},{:.4}", s * 1000, watts / 1000.0)
            }),
            "Power (kW)",
        ),
        (
            "mark.csv",
            "plain.csv",
            [
                "\u{feff}".as_bytes().to_vec(),
                rows("secs,watts", &|s, watts| format!("{s},{watts:.1}")),
            ]
            .concat(),
            "watts",
        ),
        (
            "missing-values.csv",
            "plain.csv",
            rows("secs,watts", &|s, watts| match s % 50 {
                0 => format!("{s},"),
                _ => format!("{s},{watts:.1}"),
            }),
            "watts",
        ),
    ];
    let import = |device: &str, reference: &str| {
        let out = at(&format!("{device}.prony"));
        let done = run(
            &["import"],
            &[
                Path::new("--under-test"),
                &at(device),
                Path::new("--reference"),
                &at(reference),
                Path::new("--out"),
                &out,
            ],
        );
        let said = [&done.stdout[..], &done.stderr[..]].concat();
        let said = String::from_utf8_lossy(&said).into_owned();
        (done.status.code(), said, out)
    };
    for (name, reference, bytes, words) in sessions {
        std::fs::write(at(name), bytes).expect("a file");
        let (status, said, out) = import(name, reference);
        println!("{name}: {said}");
        assert_eq!(status, Some(0), "{name}: {said}");
        assert!(said.contains(words), "{name}: {said}");
        assert!(out.exists(), "{name}");
    }
    let errors: [(&str, Vec<u8>); 8] = [
        ("empty.fit", Vec::new()),
        ("empty.csv", b" \r\n ".to_vec()),
        ("head-only.fit", whole[..300].to_vec()),
        ("no-power.fit", fit("Settings.fit")),
        ("developer-fields.fit", fit("DeveloperData.fit")),
        ("no-power.csv", b"time,cadence\r\n0,90\r\n1,90\r\n".to_vec()),
        (
            "cut.tcx",
            b"<?xml version=\"1.0\"?><TrainingCenterDatabase>".to_vec(),
        ),
        (
            "noise.csv",
            (0..4096_u32).map(|i| (i * 89 % 251) as u8).collect(),
        ),
    ];
    for (name, bytes) in errors {
        std::fs::write(at(name), bytes).expect("a file");
        let (status, said, out) = import(name, "plain.csv");
        println!("{name}: {said}");
        assert_eq!(status, Some(2), "{name}: {said}");
        assert!(said.contains(name) && said.contains(';'), "{name}: {said}");
        assert!(!said.contains("panicked"), "{name}: {said}");
        assert!(!out.exists(), "{name}");
    }
}
