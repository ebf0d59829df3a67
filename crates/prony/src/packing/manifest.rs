//! The list of a pack's members.

use super::member::Member;
use anyhow::{Context, Result, ensure};
use serde::{Deserialize, Serialize};
use session::sha256_of;

/// Version of the manifest's shape.
const SCHEMA: &str = "prony-pack-1";

/// The program as packs name it.
pub(super) const PROGRAM: &str = concat!("prony ", env!("CARGO_PKG_VERSION"));

/// Name of the manifest within a pack.
pub(super) const MANIFEST: &str = "manifest.json";

/// Name of the same list as `sha256sum` reads it.
pub(super) const SUMS: &str = "SHA256SUMS";

/// What a pack says of itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Manifest {
    /// Version of the manifest's shape.
    pub schema: String,
    /// Name and version of the program that packed.
    pub program: String,
    /// What is known of the session.
    pub session: AboutSession,
    /// Tables that were left out because they are large; `prony export` makes them.
    pub left_out: Vec<String>,
    /// Every member but the manifest and [`SUMS`], in the order of the archive.
    pub members: Vec<Entry>,
}

/// What is known of the session of a pack.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct AboutSession {
    /// Its own identifier.
    pub id: String,
    /// What its file was called when it was packed.
    pub file: String,
    /// Wall clock at the beginning.
    pub started: Option<String>,
    /// Wall clock when the last row of the file was written: the end, or a later note.
    pub until: Option<String>,
    /// Name and version of the program that recorded it.
    pub recorded_by: String,
    /// Whether no real instrument stands behind it.
    pub simulated: bool,
    /// How many seals there are.
    pub blocks: i64,
    /// How many packets.
    pub packets: i64,
    /// How many events.
    pub events: i64,
    /// SHA-256 of its last block, by which it is known.
    pub last_seal: Option<String>,
}

/// One member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(super) struct Entry {
    /// Name within the archive.
    pub name: String,
    /// What it is.
    pub what: String,
    /// Length.
    pub bytes: u64,
    /// SHA-256.
    pub sha256: String,
}

impl Manifest {
    pub fn of(session: AboutSession, left_out: Vec<String>, members: &[Member]) -> Self {
        let entry = |member: &Member| Entry {
            name: member.name.clone(),
            what: member.what.to_owned(),
            bytes: member.bytes.len() as u64,
            sha256: sha256_of(&member.bytes),
        };
        Self {
            schema: SCHEMA.to_owned(),
            program: PROGRAM.to_owned(),
            session,
            left_out,
            members: members.iter().map(entry).collect(),
        }
    }

    pub fn to_json(&self) -> Result<Vec<u8>> {
        let mut text = serde_json::to_vec_pretty(self)?;
        text.push(b'\n');
        Ok(text)
    }

    pub fn from_json(text: &[u8]) -> Result<Self> {
        let manifest: Self = serde_json::from_slice(text)
            .with_context(|| format!("{MANIFEST} does not read; get the pack again"))?;
        ensure!(
            manifest.schema == SCHEMA,
            "{MANIFEST} is of the form {:?} and this program reads {SCHEMA:?}; check the pack with \
             the program that made it, {}",
            manifest.schema,
            manifest.program
        );
        Ok(manifest)
    }
}

/// Digests as `sha256sum -c` reads them.
pub(super) fn sums<'a>(members: impl IntoIterator<Item = (&'a str, &'a [u8])>) -> Vec<u8> {
    let line = |(name, bytes)| format!("{}  {name}\n", sha256_of(bytes));
    members
        .into_iter()
        .map(line)
        .collect::<String>()
        .into_bytes()
}
