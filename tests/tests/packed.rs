//! Evidence packs: whatever was changed in one is named, and no archive does harm.

use acceptance::{assess, prony, rehearse, root};
use prony::packing::{Given, PackReport, check, pack};
use serde_json::Value;
use session::sha256_of;
use std::io::{Cursor, Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::sync::LazyLock;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

type Members = Vec<(String, Vec<u8>)>;

fn demo() -> PathBuf {
    root().join("demo-sessions/level-sweep-workshop.prony")
}

/// A pack of a demo session with a document added, made once.
static PACKED: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("pack.zip");
    let given = Given {
        added: vec![(
            "brake ± 1.txt".to_owned(),
            b"the brake before the ride".to_vec(),
        )],
        ..Given::default()
    };
    pack(&demo(), &given, &out).expect("it can be packed");
    std::fs::read(&out).expect("it is there")
});

fn unzip(bytes: &[u8]) -> Members {
    let mut archive = ZipArchive::new(Cursor::new(bytes)).expect("an archive");
    (0..archive.len())
        .map(|index| {
            let mut member = archive.by_index(index).expect("a member");
            let mut content = Vec::new();
            member.read_to_end(&mut content).expect("it reads");
            (member.name().expect("a name").into_owned(), content)
        })
        .collect()
}

fn rezip(members: &[(String, Vec<u8>)]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, content) in members {
        archive
            .start_file(name.as_str(), SimpleFileOptions::default())
            .expect("a member can begin");
        archive.write_all(content).expect("a vector takes bytes");
    }
    archive.finish().expect("a vector takes bytes").into_inner()
}

/// What a check says of these bytes.
fn checked(bytes: &[u8]) -> Result<PackReport, String> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let path = folder.path().join("pack.zip");
    std::fs::write(&path, bytes).expect("a file");
    check(&path).map_err(|error| format!("{error:#}"))
}

fn faults(members: &[(String, Vec<u8>)]) -> Vec<String> {
    checked(&rezip(members)).expect("an archive").faults
}

fn content<'a>(members: &'a mut Members, name: &str) -> &'a mut Vec<u8> {
    let found = members.iter_mut().find(|(known, _)| known == name);
    &mut found.unwrap_or_else(|| panic!("there is no {name}")).1
}

/// Somebody who knows how packs are made: lists all members anew after changing some.
fn listed_anew(mut members: Members) -> Members {
    let mut manifest: Value =
        serde_json::from_slice(content(&mut members, "manifest.json")).expect("JSON");
    for entry in manifest["members"].as_array_mut().expect("a list") {
        let name = entry["name"].as_str().expect("a name").to_owned();
        let bytes = content(&mut members, &name);
        entry["bytes"] = bytes.len().into();
        entry["sha256"] = sha256_of(bytes).into();
    }
    let text = serde_json::to_string_pretty(&manifest).expect("JSON") + "\n";
    *content(&mut members, "manifest.json") = text.into_bytes();
    summed_anew(members)
}

/// The same with a member that was not listed before.
fn listed_with(mut members: Members, name: &str) -> Members {
    let list = content(&mut members, "manifest.json");
    let mut manifest: Value = serde_json::from_slice(list).expect("JSON");
    let entries = manifest["members"].as_array_mut().expect("a list");
    let mut entry = entries.last().expect("there are members").clone();
    entry["name"] = name.into();
    entries.push(entry);
    *list = serde_json::to_vec(&manifest).expect("JSON");
    listed_anew(members)
}

fn summed_anew(mut members: Members) -> Members {
    let sums: String = members
        .iter()
        .filter(|(name, _)| name != "SHA256SUMS")
        .map(|(name, content)| format!("{}  {name}\n", sha256_of(content)))
        .collect();
    *content(&mut members, "SHA256SUMS") = sums.into_bytes();
    members
}

/// Flips a bit of a packet in the session's file, and says when the packet was received.
fn flip_a_packet(session: &mut [u8]) -> usize {
    // In the file the bytes of a packet follow its characteristic.
    let places: Vec<usize> = session
        .windows(4)
        .enumerate()
        .filter(|(_, window)| *window == b"2AD2")
        .map(|(place, _)| place)
        .collect();
    let place = places[places.len() / 2] + 8;
    session[place] ^= 1;
    place
}

fn run(arguments: &[&str], paths: &[&Path]) -> Output {
    let mut command = Command::new(prony());
    command.args(arguments).args(paths).stdin(Stdio::null());
    command.output().expect("the program can be started")
}

fn said(output: &Output) -> String {
    String::from_utf8_lossy(&[output.stdout.as_slice(), &output.stderr].concat()).into_owned()
}

#[test]
fn a_pack_holds_the_session_and_what_follows_from_it_and_verifies() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let session = at("sweep one.prony");
    std::fs::copy(demo(), &session).expect("it can be copied");
    let before = std::fs::read(&session).expect("it is there");
    for name in ["one.zip", "two.zip"] {
        let done = run(&["pack", "--out"], &[&at(name), &session]);
        assert!(done.status.success(), "{}", said(&done));
    }
    let bytes = std::fs::read(at("one.zip")).expect("it was written");
    assert!(
        bytes == std::fs::read(at("two.zip")).expect("it was written"),
        "packing twice gives the same bytes"
    );
    assert!(
        before == std::fs::read(&session).expect("it is there"),
        "the session was changed"
    );

    let mut members = unzip(&bytes);
    assert!(*content(&mut members, "session.prony") == before);
    let text = std::fs::read_to_string(root().join("crates/protocol/scripts/level-sweep.ron"));
    if let Ok(text) = text {
        assert_eq!(content(&mut members, "script.ron"), text.as_bytes());
    }
    let findings: Value =
        serde_json::from_slice(content(&mut members, "findings.json")).expect("JSON");
    assert_eq!(
        findings,
        assess(&session),
        "the findings are those of `assess`"
    );
    let names: Vec<&str> = members.iter().map(|(name, _)| name.as_str()).collect();
    assert_eq!(
        names[..4],
        ["README.txt", "manifest.json", "SHA256SUMS", "session.prony"]
    );
    assert!(
        names.contains(&"tables/raw.csv") && names.contains(&"report.html"),
        "{names:?}"
    );

    let verified = run(&["verify"], &[&at("one.zip"), &session]);
    let words = said(&verified);
    assert!(verified.status.success(), "{words}");
    assert!(
        words.contains("as it was packed") && words.contains("sealed"),
        "{words}"
    );
    // The digest that is printed is that of the file, for `sha256sum`.
    let again = run(&["pack", "--out"], &[&at("three.zip"), &session]);
    assert!(
        said(&again).contains(&sha256_of(&bytes)),
        "{}",
        said(&again)
    );

    let refused = run(&["pack", "--out"], &[&at("one.zip"), &session]);
    assert_eq!(refused.status.code(), Some(1));
    assert!(
        said(&refused).contains("nothing was overwritten"),
        "{}",
        said(&refused)
    );
    assert!(bytes == std::fs::read(at("one.zip")).expect("it is there"));
}

#[test]
fn one_changed_byte_of_any_member_is_named() {
    let members = unzip(&PACKED);
    assert!(members.len() >= 18, "{}", members.len());
    assert_eq!(faults(&members), [""; 0], "nothing was changed yet");
    for index in 0..members.len() {
        let mut changed = members.clone();
        let (name, content) = &mut changed[index];
        let name = name.clone();
        if name == "session.prony" {
            flip_a_packet(content);
        } else {
            // A letter stays a letter, so that lists still read.
            let place = content.iter().rposition(u8::is_ascii_alphanumeric);
            let place = place.expect("every member has a letter");
            content[place] = if content[place] == b'7' { b'8' } else { b'7' };
        }
        match checked(&rezip(&changed)) {
            Ok(report) => assert!(
                report.faults.iter().any(|fault| fault.starts_with(&name)),
                "{name}: {:?}",
                report.faults
            ),
            Err(error) => {
                assert_eq!(name, "manifest.json", "{error}");
                assert!(error.contains(&name), "{error}");
            }
        }
    }
}

/// The same way in which the session alone would say it.
#[test]
fn a_changed_packet_is_named_with_block_and_time() {
    let mut members = unzip(&PACKED);
    flip_a_packet(content(&mut members, "session.prony"));
    for members in [members.clone(), listed_anew(members)] {
        let faults = faults(&members);
        let placed = faults
            .iter()
            .find(|fault| fault.starts_with("session.prony: block "));
        let words = placed.unwrap_or_else(|| panic!("{faults:?}"));
        assert!(
            words.contains(", rows ") && words.contains(" to ") && words.contains("changed"),
            "{words}"
        );
    }
}

#[test]
fn missing_and_added_members_are_named() {
    let members = unzip(&PACKED);
    for index in 0..members.len() {
        let mut changed = members.clone();
        let (name, _) = changed.remove(index);
        match checked(&rezip(&changed)) {
            Ok(report) => {
                assert_eq!(report.faults, [format!("{name} is missing")]);
            }
            Err(error) => {
                assert_eq!(name, "manifest.json");
                assert!(error.contains("no manifest.json"), "{error}");
            }
        }
    }
    let mut added = members.clone();
    added.push(("added/later.txt".to_owned(), b"x".to_vec()));
    assert_eq!(
        faults(&added),
        ["added/later.txt was added: it is not in manifest.json"]
    );
    // Taken out of the list as well.
    let mut listed = members;
    listed.retain(|(name, _)| name != "tables/cells.csv");
    let manifest: Value =
        serde_json::from_slice(content(&mut listed, "manifest.json")).expect("JSON");
    let mut fewer = manifest;
    fewer["members"]
        .as_array_mut()
        .expect("a list")
        .retain(|entry| entry["name"] != "tables/cells.csv");
    *content(&mut listed, "manifest.json") = fewer.to_string().into_bytes();
    assert_eq!(
        faults(&listed_anew(listed)),
        ["tables/cells.csv is missing: it follows from session.prony"]
    );
}

/// Whoever changes a conclusion and lists everything anew is contradicted by the session.
#[test]
fn changed_conclusions_are_contradicted_by_the_session() {
    let members = unzip(&PACKED);
    let mut changed = members.clone();
    let findings = content(&mut changed, "findings.json");
    let mut document: Value = serde_json::from_slice(findings).expect("JSON");
    let bias = document["cells"][0]["bias_pct"].as_f64().expect("a number");
    document["cells"][0]["bias_pct"] = (bias - 1.5).into();
    *findings = (serde_json::to_string_pretty(&document).expect("JSON") + "\n").into_bytes();
    let found = faults(&listed_anew(changed));
    assert_eq!(found.len(), 1, "{found:?}");
    assert!(
        found[0].starts_with("findings.json, cells[0].bias_pct: ")
            && found[0].contains(&format!("{bias} computed")),
        "{found:?}"
    );

    for (name, from, to) in [
        ("report.html", "shown beyond", "shown within"),
        ("tables/cells.csv", "shown beyond", "shown within"),
        ("script.ron", "Level", "Lever"),
        ("decision-rule.ron", "claims", "cleims"),
        ("README.txt", "sealed", "healed"),
        ("seal_check.py", "sha256", "sha224"),
    ] {
        let mut changed = members.clone();
        let member = content(&mut changed, name);
        let text = String::from_utf8(member.clone()).expect("text");
        assert!(text.contains(from), "{name} says nowhere {from:?}");
        let line = text
            .lines()
            .position(|line| line.contains(from))
            .expect("a line")
            + 1;
        *member = text.replacen(from, to, 1).into_bytes();
        let found = faults(&listed_anew(changed));
        let expected = format!("{name}, line {line}: it is not what follows from session.prony");
        assert_eq!(found, [expected]);
    }

    // The lists themselves.
    let mut changed = members;
    let manifest = content(&mut changed, "manifest.json");
    let text = String::from_utf8(manifest.clone()).expect("text");
    *manifest = text
        .replacen("\"simulated\": true", "\"simulated\": false", 1)
        .into_bytes();
    let found = faults(&summed_anew(changed));
    let line = text
        .lines()
        .position(|line| line.contains("simulated"))
        .expect("a line")
        + 1;
    assert_eq!(
        found,
        [
            format!("manifest.json, line {line}: it is not what follows from session.prony"),
            "SHA256SUMS, line 2: it is not what follows from session.prony".to_owned(),
        ]
    );
}

/// Another version may word and draw differently, so that only numbers are held against it; and that
/// is said.
#[test]
fn of_another_versions_pack_the_numbers_are_compared() {
    let mut members = unzip(&PACKED);
    let ours = concat!("prony ", env!("CARGO_PKG_VERSION"));
    for name in ["manifest.json", "README.txt"] {
        let member = content(&mut members, name);
        let text = String::from_utf8(member.clone()).expect("text");
        let (packed, now) = if name == "README.txt" {
            (
                format!("packed by {ours}"),
                "packed by prony 0.0.9".to_owned(),
            )
        } else {
            (
                format!("\"program\": \"{ours}\""),
                "\"program\": \"prony 0.0.9\"".to_owned(),
            )
        };
        assert!(text.contains(&packed), "{name}");
        *member = text.replacen(&packed, &now, 1).into_bytes();
    }
    content(&mut members, "report.html").extend(b"<!-- another layout -->");
    let report = checked(&rezip(&listed_anew(members.clone()))).expect("an archive");
    assert_eq!(report.faults, [""; 0]);
    assert!(
        report
            .notes
            .iter()
            .any(|note| note.contains("packed by prony 0.0.9")),
        "{:?}",
        report.notes
    );
    let findings = content(&mut members, "findings.json");
    let text = String::from_utf8(findings.clone()).expect("text");
    *findings = text
        .replacen(
            "\"verdict\": \"shown beyond\"",
            "\"verdict\": \"shown within\"",
            1,
        )
        .into_bytes();
    let found = faults(&listed_anew(members));
    assert!(
        found.len() == 1 && found[0].contains("verdict: \"shown within\" is packed"),
        "{found:?}"
    );
}

#[test]
fn archives_that_are_none_or_do_harm_are_refused() {
    let refused = |bytes: &[u8], words: &str| {
        let error = checked(bytes).err();
        let error = error.unwrap_or_else(|| panic!("{words}: it was accepted"));
        assert!(
            error.contains(words) && error.contains("pack.zip"),
            "{error}"
        );
    };
    let whole = PACKED.as_slice();
    for length in [5, 100, whole.len() / 3, whole.len() - 30, whole.len() - 1] {
        refused(&whole[..length], "not a whole ZIP archive");
    }
    refused(&rezip(&[]), "no manifest.json");
    refused(&rezip(&[("a.txt".to_owned(), vec![1])]), "no manifest.json");

    let members = unzip(whole);
    for name in [
        "../../evil.txt",
        "/etc/evil",
        "a\\..\\evil",
        "C:evil",
        "tables/../../evil",
    ] {
        let mut changed = members.clone();
        changed.push((name.to_owned(), b"x".to_vec()));
        refused(&rezip(&changed), "leads out of the pack");
    }
    // Two members of one name: the names lie twice in the archive, as plain bytes.
    let mut changed = members.clone();
    changed.push(("tables/raw.csw".to_owned(), b"x".to_vec()));
    let mut bytes = rezip(&changed);
    let places: Vec<usize> = (0..bytes.len() - 14)
        .filter(|place| bytes[*place..].starts_with(b"tables/raw.csw"))
        .collect();
    assert_eq!(places.len(), 2);
    for place in places {
        bytes[place + 13] = b'v';
    }
    refused(&bytes, "two members of one name");

    // Announced to be longer than memory; and longer than announced.
    let mut manifest: Value =
        serde_json::from_slice(content(&mut members.clone(), "manifest.json")).expect("JSON");
    manifest["members"][0]["bytes"] = (1u64 << 40).into();
    let mut changed = members.clone();
    *content(&mut changed, "manifest.json") = manifest.to_string().into_bytes();
    refused(&rezip(&changed), "only fill memory or disk");
    let mut changed = members.clone();
    content(&mut changed, "report.html").extend(vec![b' '; 64 << 20]);
    let found = faults(&changed);
    assert!(
        found[0].starts_with("report.html was changed: it is longer than"),
        "{found:?}"
    );
    let mut changed = members;
    *content(&mut changed, "manifest.json") = vec![b' '; 17 << 20];
    refused(&rezip(&changed), "longer than any list");
}

/// Any byte of the archive itself: what is still accepted holds what was packed.
#[test]
fn flipped_bytes_of_the_archive_never_pass_for_another_content() {
    let original = unzip(&PACKED);
    let step = PACKED.len() / 80;
    for place in (0..PACKED.len())
        .step_by(step)
        .chain(PACKED.len() - 60..PACKED.len())
    {
        let mut bytes = PACKED.clone();
        bytes[place] ^= 0x15;
        if checked(&bytes).is_ok_and(|report| report.faults.is_empty()) {
            assert!(unzip(&bytes) == original, "byte {place}");
        }
    }
}

#[test]
fn an_imprint_is_packed_with_its_photographs_and_stands_in_the_report() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join("papers").join(name);
    std::fs::create_dir_all(at("photos")).expect("a folder");
    std::fs::copy(root().join("assets/icon-256.png"), at("photos/bench.png")).expect("a picture");
    let text =
        "(number: \"KL-2026-009\", photos: [(file: \"photos/bench.png\", shows: \"the bench\")])";
    std::fs::write(at("imprint.ron"), text).expect("a file");
    let session = root().join("demo-sessions/level-sweep-honest.prony");
    let mut command = Command::new(prony());
    command.arg("pack").arg(&session);
    command.arg("--imprint").arg(at("imprint.ron"));
    command.arg("--out").arg(at("pack.zip"));
    let done = command.output().expect("the program can be started");
    assert!(done.status.success(), "{}", said(&done));
    // The report is made again from what is in the pack, photographs included.
    let report = check(&at("pack.zip")).expect("an archive");
    assert_eq!(report.faults, [""; 0]);
    let mut members = unzip(&std::fs::read(at("pack.zip")).expect("it is there"));
    let photo = std::fs::read(at("photos/bench.png")).expect("it is there");
    assert_eq!(*content(&mut members, "given/photos/bench.png"), photo);
    let page = String::from_utf8(content(&mut members, "report.html").clone()).expect("text");
    assert!(page.contains("KL-2026-009") && page.contains("the bench"));

    // An imprint that is changed afterwards no longer leads to the report.
    let imprint = content(&mut members, "given/imprint.ron");
    *imprint = text.replace("009", "010").into_bytes();
    let found = faults(&listed_anew(members));
    assert!(
        !found.is_empty() && found[0].contains("report.html"),
        "{found:?}"
    );

    // A photograph that the imprint does not name does not follow from it.
    let mut members = unzip(&std::fs::read(at("pack.zip")).expect("it is there"));
    members.push(("given/other.png".to_owned(), photo.clone()));
    let found = faults(&listed_with(members, "given/other.png"));
    assert!(
        !found.is_empty() && found.iter().any(|fault| fault.contains("given/other.png")),
        "{found:?}"
    );

    // A photograph from elsewhere would have no place in the archive.
    let elsewhere = text.replace("photos/bench.png", "../bench.png");
    std::fs::write(folder.path().join("bench.png"), &photo).expect("a picture");
    std::fs::write(at("imprint.ron"), elsewhere).expect("a file");
    let refused = Given::read(None, None, Some(&at("imprint.ron")), &[]);
    let words = format!("{:#}", refused.expect_err("it is refused"));
    assert!(words.contains("../bench.png"), "{words}");
}

#[test]
fn what_a_person_gives_is_packed_and_judged_by() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let claims = root().join("demo-sessions/ferrule-claims.ron");
    let measurements = root().join("demo-sessions/ferrule-measurements.ron");
    std::fs::write(at("photo.jpg"), [0xFF, 0xD8, 0xFF, 0]).expect("a file");
    let session = root().join("demo-sessions/level-sweep-honest.prony");
    let flags = ["--claims", "--measurements", "--add", "--add", "--out"];
    let values = [
        claims.clone(),
        measurements,
        at("photo.jpg"),
        root().join("demo-sessions/README.md"),
        at("pack.zip"),
    ];
    let mut command = Command::new(prony());
    command.arg("pack").arg(&session);
    for (flag, value) in flags.iter().zip(&values) {
        command.arg(flag).arg(value);
    }
    let done = command.output().expect("the program can be started");
    assert!(done.status.success(), "{}", said(&done));
    let report = check(&at("pack.zip")).expect("an archive");
    assert_eq!(report.faults, [""; 0]);

    let mut members = unzip(&std::fs::read(at("pack.zip")).expect("it is there"));
    assert_eq!(
        content(&mut members, "added/photo.jpg"),
        &[0xFF, 0xD8, 0xFF, 0]
    );
    assert_eq!(
        *content(&mut members, "given/claims.ron"),
        std::fs::read(&claims).expect("it is there")
    );
    let findings: Value =
        serde_json::from_slice(content(&mut members, "findings.json")).expect("JSON");
    assert!(!findings["claims"].as_array().expect("a list").is_empty());

    // A sheet that is changed afterwards leads to other findings.
    let text = String::from_utf8(content(&mut members, "given/claims.ron").clone()).expect("text");
    assert!(
        text.contains("PercentOfReading(2.0)") || text.contains('2'),
        "{text}"
    );
    let changed = text.replacen("(2", "(3", 1);
    assert_ne!(changed, text);
    *content(&mut members, "given/claims.ron") = changed.into_bytes();
    let found = faults(&listed_anew(members));
    assert!(
        !found.is_empty() && found[0].contains("findings.json"),
        "{found:?}"
    );

    let twice = [("a.txt".to_owned(), vec![1]), ("a.txt".to_owned(), vec![2])];
    let given = Given {
        added: twice.to_vec(),
        ..Given::default()
    };
    let refused = pack(&session, &given, &at("never.zip"))
        .err()
        .expect("it is refused");
    assert!(
        format!("{refused:#}").contains("two files to be packed as added/a.txt"),
        "{refused:#}"
    );
    assert!(
        !at("never.zip").exists(),
        "nothing is left of a pack that was refused"
    );
    let mut command = Command::new(prony());
    command
        .arg("pack")
        .arg(&session)
        .arg("--add")
        .arg(at("none.jpg"));
    let refused = command
        .arg("--out")
        .arg(at("never.zip"))
        .output()
        .expect("it starts");
    assert_eq!(refused.status.code(), Some(2), "{}", said(&refused));
    assert!(said(&refused).contains("none.jpg"), "{}", said(&refused));
}

/// Never closed, broken, or no session: each is said with its remedy, and nothing is written.
#[test]
fn what_is_not_whole_is_not_packed() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let archive = session::Archive::open(&demo()).expect("it opens");
    let open = at("open.prony");
    let (about, sources) = (
        archive.about().expect("it reads"),
        archive.sources().expect("they read"),
    );
    let mut recorder = session::Recorder::create(&open, &about, &sources).expect("a file");
    recorder.commit().expect("it commits");
    let refused = |name: &str, words: &[&str]| {
        let before = std::fs::read(at(name)).expect("it is there");
        let done = run(&["pack", "--out"], &[&at("never.zip"), &at(name)]);
        assert_eq!(done.status.code(), Some(1), "{}", said(&done));
        for words in words {
            assert!(said(&done).contains(words), "{}", said(&done));
        }
        assert!(!at("never.zip").exists());
        assert!(
            before == std::fs::read(at(name)).expect("it is there"),
            "{name} was changed"
        );
    };
    // While it is being recorded, and after the recorder has gone without closing.
    refused(
        "open.prony",
        &["never closed", "prony shelf --session", "--recover"],
    );
    drop(recorder);
    refused(
        "open.prony",
        &["never closed", "prony shelf --session", "--recover"],
    );
    session::recover(&open).expect("it can be closed");

    let mut bytes = std::fs::read(demo()).expect("it is there");
    flip_a_packet(&mut bytes);
    std::fs::write(at("broken.prony"), &bytes).expect("a file");
    refused(
        "broken.prony",
        &[
            "broken.prony is not what was recorded (block ",
            "prony verify",
        ],
    );
    std::fs::write(at("other.prony"), "something else").expect("a file");
    refused("other.prony", &["not a session file"]);
}

#[test]
fn an_imported_session_is_packed_and_verifies() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    // Levels that do not repeat themselves, so that there is one place where the two fit.
    let levels = [150.0, 230.0, 180.0, 290.0, 140.0, 210.0, 320.0, 170.0];
    for (name, gain) in [("device.csv", 1.02), ("reference.csv", 1.0)] {
        let mut state = 7u64;
        let rows: String = (0..1600)
            .map(|second| {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1);
                let ripple = 8.0 * ((state >> 33) as f64 / f64::from(1u32 << 31) - 0.5);
                format!(
                    "{second},{:.1},90\n",
                    gain * (levels[second / 200] + ripple)
                )
            })
            .collect();
        std::fs::write(at(name), format!("seconds,watts,cadence\n{rows}")).expect("a file");
    }
    let mut import = Command::new(prony());
    import
        .arg("import")
        .arg("--under-test")
        .arg(at("device.csv"));
    import
        .arg("--reference")
        .arg(at("reference.csv"))
        .arg("--out")
        .arg(at("ride.prony"));
    let done = import.output().expect("the program can be started");
    assert!(done.status.success(), "{}", said(&done));
    pack(&at("ride.prony"), &Given::default(), &at("ride.zip")).expect("it can be packed");
    let report = check(&at("ride.zip")).expect("an archive");
    assert_eq!(report.faults, [""; 0]);
    let members = unzip(&std::fs::read(at("ride.zip")).expect("it is there"));
    assert!(
        members.iter().all(|(name, _)| name != "script.ron"),
        "nothing was scripted"
    );
}

/// Several files at once: all are looked at, and one that is not whole decides the status.
#[test]
fn several_files_are_verified_at_once() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    rehearse("first-look", "honest", 3, &at("ride.prony"));
    std::fs::write(at("cut.zip"), &PACKED[..PACKED.len() / 2]).expect("a file");
    std::fs::write(at("pack.zip"), PACKED.as_slice()).expect("a file");
    let done = run(
        &["verify"],
        &[&at("cut.zip"), &at("ride.prony"), &at("pack.zip")],
    );
    let words = said(&done);
    assert_eq!(done.status.code(), Some(1), "{words}");
    for part in [
        "ride.prony: sealed",
        "pack.zip: as it was packed",
        "cut.zip: it is not a whole",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
}
