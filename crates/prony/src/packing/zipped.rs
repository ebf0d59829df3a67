//! Members to an archive and back: in a fixed order, with fixed times, and never more bytes than
//! were announced.

use super::member::{ADDED, Member, is_plain};
use anyhow::{Context, Result, bail, ensure};
use chrono::{DateTime, Datelike, FixedOffset, Timelike, Utc};
use session::sha256_of;
use std::io::{Cursor, Read, Seek, Write};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// A manifest is never longer than this, bytes.
const LONGEST_LIST: u64 = 16 << 20;

/// No pack has more members than this.
const MOST_MEMBERS: usize = 10_000;

/// No pack unpacks to more than this, bytes: it is held in memory when it is checked.
const MOST_BYTES: u64 = 2 << 30;

/// A pack unpacks to ten times its length or so. What claims to unpack to more than this many times
/// is made to fill a memory or a disk.
const MOST_UNPACKED: u64 = 400;

/// Packs members. The time of every member is that of `moment`, UTC, as far as the format knows it.
///
/// # Errors
/// If the archive cannot be made.
pub(super) fn zip(members: &[Member], moment: Option<DateTime<FixedOffset>>) -> Result<Vec<u8>> {
    let sum: u64 = members.iter().map(|member| member.bytes.len() as u64).sum();
    ensure!(
        sum <= MOST_BYTES,
        "all members together have {sum} bytes, and a pack holds at most {MOST_BYTES}; add less"
    );
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for member in members {
        let options = SimpleFileOptions::default()
            .compression_method(member.packing())
            .last_modified_time(dated(moment))
            .unix_permissions(0o644);
        archive.start_file(member.name.as_str(), options)?;
        archive.write_all(&member.bytes)?;
    }
    Ok(archive.finish()?.into_inner())
}

impl Member {
    /// Photos and documents are packed already; squeezing them again gains nothing.
    fn packing(&self) -> CompressionMethod {
        if self.name.starts_with(ADDED) {
            CompressionMethod::Stored
        } else {
            CompressionMethod::Deflated
        }
    }
}

/// The format knows the years 1980 to 2107; before the recording's moment is known, its first day.
fn dated(moment: Option<DateTime<FixedOffset>>) -> zip::DateTime {
    let part = |value: u32| u8::try_from(value).ok();
    moment
        .map(|moment| moment.with_timezone(&Utc))
        .and_then(|at| {
            zip::DateTime::from_date_and_time(
                u16::try_from(at.year()).ok()?,
                part(at.month())?,
                part(at.day())?,
                part(at.hour())?,
                part(at.minute())?,
                part(at.second())?,
            )
            .ok()
        })
        .unwrap_or_default()
}

/// An archive that was opened, whose names are all plain and all different.
pub(super) struct Zipped<R> {
    archive: ZipArchive<R>,
    /// Names in the order of the archive.
    pub names: Vec<String>,
    length: u64,
}

/// A member as it was found.
pub(super) enum Found {
    /// It is not there.
    Missing,
    /// It is there and not what was announced.
    Wrong {
        /// Why not, in words.
        why: String,
        /// As much of it as could be read, and never more than was announced.
        content: Vec<u8>,
    },
    /// It is what was announced.
    Right(Vec<u8>),
}

impl<R: Read + Seek> Zipped<R> {
    /// Opens an archive of `length` bytes.
    ///
    /// # Errors
    /// If it is not a whole archive, or holds what no pack holds: names that lead elsewhere, twice
    /// the same name, members that share bytes.
    pub fn open(reader: R, length: u64) -> Result<Self> {
        let mut archive = ZipArchive::new(reader).map_err(|error| {
            anyhow::anyhow!(
                "it is not a whole ZIP archive ({error}); it was cut short or damaged on its way: \
                 get it again from where it came"
            )
        })?;
        ensure!(
            archive.len() <= MOST_MEMBERS,
            "it lists {} members, and no evidence pack has that many; nothing was unpacked",
            archive.len()
        );
        ensure!(
            !archive.has_duplicate_names(),
            "it holds two members of one name, of which a person and a program may see different \
             ones; nothing was unpacked"
        );
        let names = archive
            .file_names()
            .map(|name| Ok(name?.into_owned()))
            .collect::<Result<Vec<String>>>()
            .context("a member's name does not read")?;
        if let Some(name) = names.iter().find(|name| !is_plain(name)) {
            bail!(
                "the name of its member {name:?} leads out of the pack, or means different files on \
                 different systems; do not unpack it"
            );
        }
        ensure!(
            !archive.has_overlapping_files()?,
            "its members share bytes, as they never do in an evidence pack; do not unpack it"
        );
        Ok(Self {
            archive,
            names,
            length,
        })
    }

    /// A list of members, which nothing announces.
    ///
    /// # Errors
    /// If it is there and cannot be read, or is longer than any list.
    pub fn list(&mut self, name: &str) -> Result<Option<Vec<u8>>> {
        if !self.has(name) {
            return Ok(None);
        }
        let mut bytes = Vec::new();
        let member = self.archive.by_name(name)?;
        member.take(LONGEST_LIST + 1).read_to_end(&mut bytes)?;
        ensure!(
            bytes.len() as u64 <= LONGEST_LIST,
            "its {name} is longer than any list of members; nothing was unpacked"
        );
        Ok(Some(bytes))
    }

    /// Whether the archive has a member of this name.
    pub fn has(&self, name: &str) -> bool {
        self.names.iter().any(|known| known == name)
    }

    /// Refuses what is announced to be too long to have been packed into this archive.
    ///
    /// # Errors
    /// If it is.
    pub fn allow(&self, lengths: impl IntoIterator<Item = u64>) -> Result<()> {
        let sum = lengths.into_iter().fold(0u64, u64::saturating_add);
        let most = self.length.saturating_mul(MOST_UNPACKED).min(MOST_BYTES);
        ensure!(
            sum <= most,
            "its {} bytes are said to unpack to {sum}, which would only fill memory or disk; nothing \
             was unpacked",
            self.length
        );
        Ok(())
    }

    /// A member that was announced with length and digest. Never reads more than that length.
    pub fn member(&mut self, name: &str, bytes: u64, sha256: &str) -> Found {
        if !self.has(name) {
            return Found::Missing;
        }
        let mut content = Vec::new();
        let read = self.archive.by_name(name).map_err(anyhow::Error::from);
        let read = read.and_then(|member| {
            let most = bytes.saturating_add(1);
            Ok(member.take(most).read_to_end(&mut content)?)
        });
        let length = content.len() as u64;
        let why = match read {
            Err(error) => format!("cannot be read: {error}"),
            Ok(_) if length > bytes => {
                format!("was changed: it is longer than the {bytes} bytes packed")
            }
            Ok(_) if length < bytes => {
                format!("was changed: it has {length} bytes, and {bytes} were packed")
            }
            Ok(_) => {
                let found = sha256_of(&content);
                if found == sha256 {
                    return Found::Right(content);
                }
                format!("was changed: its SHA-256 is {found}, and {sha256} was packed")
            }
        };
        Found::Wrong { why, content }
    }
}
