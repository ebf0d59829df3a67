//! The tables of a session as files, for other people's tools.

mod dataset;

use crate::cli::write_file;
use crate::reopening::{Reopened, reopen};
use crate::{importing, places};
use anyhow::{Context, Result, bail};
use report::parquet::Belonging;
use report::tables::{self, Origin, Recorded, Table};
use session::{Archive, EventRow};
use std::path::{Path, PathBuf};
use units::Timestamp;

/// Where tables are to be written.
#[derive(Clone, Debug, Default)]
pub struct Destinations {
    /// Folder for CSV, one folder in it for each session.
    pub csv: Option<PathBuf>,
    /// Folder of a Parquet dataset of many sessions.
    pub parquet: Option<PathBuf>,
}

/// Tables that were written.
pub struct Exported {
    /// Where they lie.
    pub folder: PathBuf,
    /// How many there are.
    pub tables: usize,
}

/// Writes every table of a session: as CSV into a folder that is named after the file, as Parquet
/// into the session's partitions of a dataset. Before each table `goes_on` is told how many are
/// written, of how many, and may give the export up. Says what was written where.
///
/// # Errors
/// If the session cannot be read and judged, the export is given up, a file cannot be written, or
/// the dataset holds another session of the same identifier; the message names it.
pub fn export(
    session: &Path,
    into: &Destinations,
    mut goes_on: impl FnMut(usize, usize) -> bool,
) -> Result<Vec<Exported>> {
    let opened = Opened::at(session, &places::file_name(session))?;
    let findings = opened.reopened.own_findings();
    let recorded = opened.recorded();
    let tables = tables::all(&recorded, &findings);
    let destinations = usize::from(into.csv.is_some()) + usize::from(into.parquet.is_some());
    let count = tables.len() * destinations;
    let mut written = 0;
    let mut next = || {
        if !goes_on(written, count) {
            bail!("the export was given up after {written} tables");
        }
        written += 1;
        Ok(())
    };
    let mut exported = Vec::new();
    if let Some(into) = &into.csv {
        let folder = into.join(session.file_stem().unwrap_or_default());
        exported.push(write_csv(folder, &tables, &mut next)?);
    }
    if let Some(into) = &into.parquet {
        let belonging = Belonging {
            session: opened.reopened.facts.about.session.clone(),
            opening_sha256: opened.origin.opening_sha256.clone().with_context(|| {
                format!(
                    "{} has no opening seal, by which a dataset tells sessions apart; run `prony verify` on it",
                    session.display()
                )
            })?,
        };
        dataset::put(into, &belonging, &tables, &mut next)
            .with_context(|| format!("cannot add {} to the dataset", session.display()))?;
        exported.push(Exported {
            folder: into.clone(),
            tables: tables.len(),
        });
    }
    Ok(exported)
}

/// A session with everything that its tables are made of.
pub struct Opened {
    /// The session.
    pub reopened: Reopened,
    /// Every event, in recorded order.
    pub events: Vec<EventRow>,
    /// The file it lies in.
    pub origin: Origin,
    /// Time of the last packet or event; `None` if there is neither.
    pub last: Option<Timestamp>,
}

impl Opened {
    /// Opens a session whose file goes by `name`.
    ///
    /// # Errors
    /// If the file cannot be read, or holds what this version does not understand.
    pub fn at(session: &Path, name: &str) -> Result<Self> {
        let archive = Archive::open(session)?;
        Ok(Self {
            reopened: reopen(session)?,
            events: archive.events()?,
            origin: Origin {
                name: name.to_owned(),
                format: archive.format_version(),
                opening_sha256: archive.opening_sha256()?,
                head_sha256: archive.head_sha256()?,
                is_import: importing::is_import(&archive)?,
            },
            last: archive.time_range()?.map(|(_, last)| last),
        })
    }

    /// What its tables are made of, besides the findings.
    pub fn recorded(&self) -> Recorded<'_> {
        Recorded {
            facts: &self.reopened.facts,
            evidence: &self.reopened.evidence,
            events: &self.events,
            origin: &self.origin,
        }
    }
}

fn write_csv(
    folder: PathBuf,
    tables: &[Table<'_>],
    mut next: impl FnMut() -> Result<()>,
) -> Result<Exported> {
    std::fs::create_dir_all(&folder)
        .with_context(|| format!("cannot make the folder {}", folder.display()))?;
    for table in tables {
        next()?;
        write_file(
            &folder.join(format!("{}.csv", table.name)),
            report::csv(table),
        )?;
    }
    Ok(Exported {
        folder,
        tables: tables.len(),
    })
}
