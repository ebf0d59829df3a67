//! Findings are the same bytes whoever computes them: the bench at the end of the ride from what it
//! holds in memory, a reopened file, a copy of it elsewhere, the file after a note and a tag, and
//! another process. The whole document and the whole report are compared as text.

use acceptance::rides::unsteadiness_w;
use acceptance::{prony, record_as, root};
use analysis::settings::Settings;
use bench::{Bench, Command as Wish};
use prony::clock::Pace;
use prony::engine::Audience;
use prony::reopening::reopen;
use prony::standing_in::StandIn;
use protocol::{Script, ready_script};
use report::SessionFacts;
use rig::Rig;
use session::Archive;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use tempfile::TempDir;
use units::Timestamp;

/// A ride with everything that the bench knew when it was over.
struct Ridden {
    bench: Bench,
    facts: SessionFacts,
    folder: TempDir,
}

impl Ridden {
    fn file(&self) -> PathBuf {
        self.folder.path().join("ride.prony")
    }
}

/// Rides a script on a rig into a file, through the engine of the desktop and the command line.
fn ride(
    script: &Script,
    rig: &str,
    claims: Option<&Path>,
    pace: Pace,
    audience: &mut dyn Audience,
) -> Ridden {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("ride.prony");
    let (plan, text) = prony::choice::rig(rig).expect("a built-in rig");
    let (settings, sheet) =
        prony::choice::claims(claims, Settings::default()).expect("the claim sheet reads");
    let machine = Rig::new(plan.clone(), 23);
    let mut setup =
        prony::setup::on_rig(script, &plan, &text, &machine, settings).expect("a set-up");
    setup.about.claims = sheet;
    let facts = SessionFacts {
        about: setup.about.clone(),
        sources: setup.sources.clone(),
        ..SessionFacts::default()
    };
    let bench = record_as(setup, machine, &file, pace, audience);
    Ridden {
        bench,
        facts,
        folder,
    }
}

fn ready(name: &str) -> Script {
    let ready = ready_script(name).expect("a ready script");
    ready.load().expect("it loads")
}

/// Document and report, as text.
fn written(facts: &SessionFacts, findings: &analysis::findings::Findings) -> [String; 2] {
    let document = report::document(facts, findings);
    let text = serde_json::to_string_pretty(&document).expect("a document");
    [text, report::html(facts, findings)]
}

fn of_file(path: &Path) -> [String; 2] {
    let reopened = reopen(path).expect("it opens again");
    written(&reopened.facts, &reopened.own_findings())
}

/// Says where two texts part, instead of printing both.
fn same(what: &str, a: &[String; 2], b: &[String; 2]) {
    for (kind, a, b) in [("document", &a[0], &b[0]), ("report", &a[1], &b[1])] {
        if a == b {
            continue;
        }
        let at = a
            .lines()
            .zip(b.lines())
            .position(|(a, b)| a != b)
            .unwrap_or(0);
        let line = |text: &str| -> String {
            let line = text.lines().nth(at).unwrap_or_default();
            line.chars().take(300).collect()
        };
        panic!(
            "{what}: the {kind}s differ in line {}:\n{}\n{}",
            at + 1,
            line(a),
            line(b)
        );
    }
}

/// A session file gives the same bytes wherever it lies, whoever reads it, and whatever is noted.
fn stays_the_same(what: &str, file: &Path, first: &[String; 2]) {
    same(&format!("{what}, reopened"), first, &of_file(file));
    let elsewhere = tempfile::tempdir().expect("a temporary folder");
    let copy = elsewhere.path().join("under another name.prony");
    std::fs::copy(file, &copy).expect("it can be copied");
    same(&format!("{what}, copied"), first, &of_file(&copy));

    let outcome = Command::new(prony())
        .arg("assess")
        .arg(file)
        .args(["--json", "-"])
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    let printed = String::from_utf8(outcome.stdout).expect("it is text");
    let other = [printed.trim_end().to_owned(), first[1].clone()];
    same(&format!("{what}, by another process"), first, &other);

    let noted = Command::new(prony())
        .args(["shelf", "--folder"])
        .arg(elsewhere.path())
        .args(["--session", "under another name", "--tag", "published"])
        .args(["--note", "seen in video 12"])
        .env("XDG_CACHE_HOME", elsewhere.path().join("cache"))
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    assert!(noted.status.success(), "{noted:?}");
    let archive = Archive::open(&copy).expect("it opens");
    let kinds: Vec<String> = archive
        .events()
        .expect("its events read")
        .into_iter()
        .map(|event| event.kind)
        .collect();
    assert!(kinds.iter().any(|kind| kind == "note") && kinds.iter().any(|kind| kind == "tag"));
    same(
        &format!("{what}, with note and tag"),
        first,
        &of_file(&copy),
    );
}

/// What the bench in memory gives is what its file gives.
fn live_equals_file(what: &str, ridden: &Ridden) {
    let archive = Archive::open(&ridden.file()).expect("it opens");
    let facts = SessionFacts {
        // How the file ended is no finding.
        sealed: Some("closed".to_owned()),
        seal_sha256: archive.end_sha256().expect("its seals read"),
        ..ridden.facts.clone()
    };
    assert_eq!(facts.seal_sha256.as_ref().map(String::len), Some(64));
    let live = written(&facts, &ridden.bench.findings());
    stays_the_same(what, &ridden.file(), &live);
}

#[test]
fn a_ride_reopens_to_the_same_bytes() {
    let sheet = root().join("demo-sessions/ferrule-claims.ron");
    let ridden = ride(
        &ready("level-sweep"),
        "workshop",
        Some(&sheet),
        Pace::Virtual,
        &mut StandIn::default(),
    );
    assert_eq!(ridden.bench.end_reason(), Some("complete"));
    let findings = ridden.bench.findings();
    assert_eq!(findings.claims.len(), 8);
    assert!(!findings.cells.is_empty() && !findings.dropouts.is_empty());
    live_equals_file("a whole ride with a claim sheet", &ridden);
}

/// An operator who stops the ride at a moment.
struct Stops {
    at: Timestamp,
    stand_in: StandIn,
}

impl Audience for Stops {
    fn show(&mut self, _bench: &Bench) {}

    fn answer(&mut self, bench: &Bench) -> Option<Wish> {
        if bench.now() >= self.at && bench.end_reason().is_none() {
            return Some(Wish::Stop);
        }
        self.stand_in.answer(bench)
    }
}

#[test]
fn a_ride_that_was_stopped_reopens_to_the_same_bytes() {
    let mut stops = Stops {
        at: Timestamp::from_secs(777),
        stand_in: StandIn::default(),
    };
    let ridden = ride(
        &ready("level-sweep"),
        "honest",
        None,
        Pace::Virtual,
        &mut stops,
    );
    assert_ne!(ridden.bench.end_reason(), Some("complete"));
    live_equals_file("a ride that was stopped", &ridden);
}

/// On a clock that runs by itself the last look at it comes after the last recorded row.
#[test]
fn a_ride_on_a_running_clock_reopens_to_the_same_bytes() {
    let script = "Script(title: \"short\", cadence_rpm: 90, steps: [\n\
                  Hold(power_w: 150, seconds: 90), Hold(power_w: 210, seconds: 90), CoolDown()])";
    let script = Script::from_ron("short", script).expect("it loads");
    let pace = Pace::Times(60.0);
    let ridden = ride(&script, "honest", None, pace, &mut StandIn::default());
    assert_eq!(ridden.bench.end_reason(), Some("complete"));
    live_equals_file("a ride on a running clock", &ridden);
}

/// Two tables of one minute-by-minute ride, the device's clock ahead of the reference's.
#[test]
fn an_imported_session_reopens_to_the_same_bytes() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let level = |second: u32| 140.0 + 60.0 * f64::from((second / 200 * 7) % 5) / 2.0;
    let table = |name: &str, from: u32, gain: f64| {
        let rows: String = (from..2000)
            .map(|second| {
                let watts = gain * (level(second) + unsteadiness_w(second));
                format!("{},{watts:.1},{}\n", second - from, 85 + second / 200 % 3)
            })
            .collect();
        std::fs::write(at(name), format!("seconds,watts,cadence\n{rows}")).expect("a file");
    };
    table("reference.csv", 0, 1.0);
    table("device.csv", 60, 1.02);
    let file = at("ride.prony");
    let imported = Command::new(prony())
        .arg("import")
        .arg("--under-test")
        .arg(at("device.csv"))
        .arg("--reference")
        .arg(at("reference.csv"))
        .arg("--out")
        .arg(&file)
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    let words = String::from_utf8_lossy(&imported.stderr);
    assert!(imported.status.success(), "{words}");
    let first = of_file(&file);
    assert!(first[0].contains("\"cells\": [\n"), "something was judged");
    stays_the_same("an imported session", &file, &first);
}
