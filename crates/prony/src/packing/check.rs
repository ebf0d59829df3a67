//! Checks a pack.

use super::contents::Contents;
use super::difference;
use super::given::Given;
use super::making::Copy;
use super::manifest::{Entry, MANIFEST, Manifest, PROGRAM, SUMS};
use super::member::{
    ADDED, FINDINGS, GIVEN, GIVEN_CLAIMS, GIVEN_IMPRINT, GIVEN_MEASUREMENTS, Member, SESSION,
};
use super::zipped::{Found, Zipped};
use crate::reporting::ReadImprint;
use anyhow::{Context, Result, anyhow};
use session::{VerifyReport, sha256_of};
use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

/// What was found in a pack.
pub struct PackReport {
    /// How many members it has.
    pub members: usize,
    /// Everything that is not as it was packed, in the order of the archive.
    pub faults: Vec<String>,
    /// What is odd but no fault.
    pub notes: Vec<String>,
    /// What was found in the session, if it could be read.
    pub session: Option<VerifyReport>,
}

/// Whether a file is an archive, by how it begins.
pub fn is_pack(path: &Path) -> bool {
    let mut begin = [0; 4];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut begin));
    // A member's header; or, in an archive without members, the end of the list.
    read.is_ok() && (begin == *b"PK\x03\x04" || begin == *b"PK\x05\x06")
}

/// Checks a pack: every member against the manifest, the session against its seals, and what was
/// concluded against what follows from the session.
///
/// # Errors
/// If it cannot be looked into: not a whole archive, names or lengths that no pack has, or no
/// manifest. What is not as it was packed is no error but a fault in the report.
pub fn check(path: &Path) -> Result<PackReport> {
    let file = File::open(path).with_context(|| format!("cannot read {}", path.display()))?;
    let length = file
        .metadata()
        .with_context(|| format!("cannot read {}", path.display()))?
        .len();
    looked_into(BufReader::new(file), length).with_context(|| path.display().to_string())
}

fn looked_into(file: BufReader<File>, length: u64) -> Result<PackReport> {
    let mut zipped = Zipped::open(file, length)?;
    let list = zipped.list(MANIFEST)?.with_context(|| {
        format!("there is no {MANIFEST} in it: it is no evidence pack, or its list was taken out")
    })?;
    let manifest = Manifest::from_json(&list)?;
    let mut report = PackReport {
        members: zipped.names.len(),
        faults: Vec::new(),
        notes: Vec::new(),
        session: None,
    };
    zipped.allow(manifest.members.iter().map(|entry| entry.bytes))?;
    let mut members = BTreeMap::from([(MANIFEST.to_owned(), list)]);
    for Entry {
        name,
        bytes,
        sha256,
        ..
    } in &manifest.members
    {
        match zipped.member(name, *bytes, sha256) {
            Found::Right(content) => {
                members.insert(name.clone(), content);
            }
            Found::Missing => report.faults.push(format!("{name} is missing")),
            Found::Wrong { why, content } => {
                report.faults.push(format!("{name} {why}"));
                // Its seals may tell where it was changed.
                if name == SESSION {
                    report.session = judge_session(&content, &mut report.faults);
                }
            }
        }
    }
    match zipped.list(SUMS)? {
        Some(sums) => {
            // What nothing but the other list says anything about comes first.
            report
                .faults
                .splice(0..0, list_apart(&members[MANIFEST], &sums));
            members.insert(SUMS.to_owned(), sums);
        }
        None => report.faults.push(format!("{SUMS} is missing")),
    }
    let listed = |name: &String| {
        [MANIFEST, SUMS].contains(&name.as_str())
            || manifest.members.iter().any(|entry| entry.name == *name)
    };
    for name in zipped.names.iter().filter(|name| !listed(name)) {
        report
            .faults
            .push(format!("{name} was added: it is not in {MANIFEST}"));
    }
    if let Some(bytes) = members.get(SESSION) {
        report.session = judge_session(bytes, &mut report.faults);
    } else if manifest.members.iter().all(|entry| entry.name != SESSION) {
        report
            .faults
            .push(format!("{SESSION} is not in {MANIFEST}"));
    }
    let found = report
        .session
        .as_ref()
        .and_then(|found| found.head_sha256.clone());
    if report.session.is_some() && found != manifest.session.last_seal {
        report.faults.push(format!(
            "{SESSION} ends with the seal {}, and {} was packed",
            found.as_deref().unwrap_or("of no block"),
            manifest.session.last_seal.as_deref().unwrap_or("none")
        ));
    }
    if report.faults.is_empty() {
        follow(&members, &manifest, &mut report);
    } else {
        report
            .notes
            .push("findings were not computed again, because of the faults".to_owned());
    }
    Ok(report)
}

/// Whether the manifest is the one that was listed.
fn list_apart(manifest: &[u8], sums: &[u8]) -> Option<String> {
    let found = sha256_of(manifest);
    let is_listed = String::from_utf8_lossy(sums)
        .lines()
        .any(|line| line == format!("{found}  {MANIFEST}"));
    (!is_listed).then(|| {
        format!("{MANIFEST} was changed: its SHA-256 is {found}, and {SUMS} lists another")
    })
}

/// What verification says of the session; each fault with block and time.
fn judge_session(bytes: &[u8], faults: &mut Vec<String>) -> Option<VerifyReport> {
    let verified = Copy::of(bytes).and_then(|copy| Ok(session::verify(&copy.path)?));
    match verified {
        Ok(verified) => {
            let found = verified.faults.iter();
            faults.extend(found.map(|fault| format!("{SESSION}: {fault}")));
            Some(verified)
        }
        Err(error) => {
            faults.push(format!("{SESSION}: {error:#}"));
            None
        }
    }
}

/// Makes the pack again from its session and what was given, and holds it against what is there.
fn follow(members: &BTreeMap<String, Vec<u8>>, manifest: &Manifest, report: &mut PackReport) {
    let again = match again(members, manifest) {
        Ok(again) => again,
        Err(error) => {
            let fault = format!("{SESSION}: what was concluded does not follow from it: {error:#}");
            report.faults.push(fault);
            return;
        }
    };
    let is_same_program = manifest.program == PROGRAM;
    if !is_same_program {
        report.notes.push(format!(
            "it was packed by {}, and this is {}: the numbers of {FINDINGS} are compared, the words \
             and layout of report and tables are not",
            manifest.program,
            PROGRAM
        ));
    }
    let is_list = |name: &str| [MANIFEST, SUMS].contains(&name);
    let (lists, others): (Vec<_>, Vec<_>) =
        { again.iter() }.partition(|member| is_list(&member.name));
    // The lists follow from the others: they say something of their own only where those agree.
    for part in [others, lists] {
        if report.faults.is_empty() {
            for member in part {
                report
                    .faults
                    .extend(unlike(member, members, is_same_program));
            }
        }
    }
    let made = |name: &str| again.iter().any(|member| member.name == name);
    for name in members.keys().filter(|name| is_same_program && !made(name)) {
        let fault = format!("{name} was added: it does not follow from {SESSION}");
        report.faults.push(fault);
    }
}

/// How a member that was packed differs from the one that was made again, if it does.
fn unlike(
    Member { name, bytes, .. }: &Member,
    members: &BTreeMap<String, Vec<u8>>,
    is_same_program: bool,
) -> Option<String> {
    match members.get(name) {
        None if is_same_program => Some(format!("{name} is missing: it follows from {SESSION}")),
        Some(packed) if name == FINDINGS => {
            findings_apart(packed, bytes).map(|apart| format!("{name}, {apart}"))
        }
        Some(packed) if is_same_program => difference::line(packed, bytes)
            .map(|line| format!("{name}, line {line}: it is not what follows from {SESSION}")),
        _ => None,
    }
}

fn again(members: &BTreeMap<String, Vec<u8>>, manifest: &Manifest) -> Result<Vec<Member>> {
    let session = members
        .get(SESSION)
        .ok_or_else(|| anyhow!("it is not there"))?;
    let text = |name: &str| -> Result<Option<String>> {
        let bytes = members.get(name).cloned();
        bytes
            .map(|bytes| String::from_utf8(bytes).with_context(|| format!("{name} is not text")))
            .transpose()
    };
    // In the order of the archive, which a list by name does not keep.
    let added = manifest.members.iter().filter_map(|entry| {
        let name = entry.name.strip_prefix(ADDED)?;
        Some((name.to_owned(), members.get(&entry.name)?.clone()))
    });
    let imprint = text(GIVEN_IMPRINT)?.map(|text| {
        ReadImprint::of(text, GIVEN_IMPRINT, |file| {
            let content = members.get(&format!("{GIVEN}{file}")).cloned();
            content.with_context(|| format!("the photograph {file} is not there"))
        })
    });
    let given = Given {
        claims: text(GIVEN_CLAIMS)?,
        measurements: text(GIVEN_MEASUREMENTS)?,
        imprint: imprint.transpose()?,
        added: added.collect(),
    };
    let copy = Copy::of(session)?;
    Ok(Contents::of(&copy.path, session.clone(), &manifest.session.file, &given)?.members)
}

fn findings_apart(packed: &[u8], computed: &[u8]) -> Option<String> {
    let read = |bytes| serde_json::from_slice(bytes);
    match (read(packed), read(computed)) {
        (Ok(packed), Ok(computed)) => difference::first(&packed, &computed),
        (Err(error), _) | (_, Err(error)) => Some(format!("it does not read: {error}")),
    }
}
