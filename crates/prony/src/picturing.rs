//! Every plot of a set of findings as picture files, for whoever writes or talks about them. The
//! names of the files are described in `crates/report/PICTURES.md`.

use crate::cli::write_file;
use analysis::findings::Findings;
use anyhow::{Context, Result, bail};
use report::{Paper, Picture, SessionFacts, Size, pictures};
use std::path::Path;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What the pictures are drawn on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ground {
    /// A light one and a dark one.
    Plain,
    /// None: with inks for a light one and for a dark one.
    Transparent,
}

impl Ground {
    /// The papers with what they are called in a file's name.
    const fn papers(self) -> [(Paper, &'static str); 2] {
        match self {
            Self::Plain => [(Paper::Light, "light"), (Paper::Dark, "dark")],
            Self::Transparent => [
                (Paper::Transparent, "transparent-on-light"),
                (Paper::TransparentDark, "transparent-on-dark"),
            ],
        }
    }
}

const SIZES: [Size; 2] = [Size::HD, Size::UHD];

/// One picture in one look and size.
struct Sheet<'a> {
    picture: &'a Picture<'a>,
    paper: (Paper, &'static str),
    size: Size,
}

impl Sheet<'_> {
    /// The name of its files without what comes after the dot.
    fn name(&self) -> String {
        let Size { width, height } = self.size;
        let (name, paper) = (&self.picture.name, self.paper.1);
        format!("{name}-{paper}-{width}x{height}")
    }

    /// Writes the SVG and the PNG.
    fn write(&self, folder: &Path) -> Result<()> {
        let name = self.name();
        let paper = self.paper.0;
        let svg = folder.join(format!("{name}.svg"));
        write_file(&svg, self.picture.svg(self.size, paper))?;
        let png = folder.join(format!("{name}.png"));
        let pixels = self.picture.png(self.size, paper);
        write_file(&png, pixels.with_context(|| png.display().to_string())?)
    }
}

/// Writes every plot in both looks and sizes as SVG and PNG, and beside them `pictures.txt`, which
/// says in words what each shows. Gives the number of files. The folder is made if it is not there.
/// Before each picture `goes_on` is told how many are done, of how many, and may give it up; it is
/// asked from several threads.
///
/// # Errors
/// If a file cannot be written, the message names it; if it was given up.
pub fn save(
    facts: &SessionFacts,
    findings: &Findings,
    folder: &Path,
    ground: Ground,
    goes_on: &(dyn Fn(usize, usize) -> bool + Sync),
) -> Result<usize> {
    std::fs::create_dir_all(folder)
        .with_context(|| format!("cannot make the folder {}", folder.display()))?;
    let pictures = pictures(facts, findings);
    if pictures.is_empty() {
        bail!("there is nothing to draw in this session");
    }
    let mut sheets = Vec::new();
    for picture in &pictures {
        for paper in ground.papers() {
            for size in SIZES {
                sheets.push(Sheet {
                    picture,
                    paper,
                    size,
                });
            }
        }
    }
    let next = AtomicUsize::new(0);
    let trouble = Mutex::new(None);
    let draw = || {
        loop {
            let index = next.fetch_add(1, Ordering::Relaxed);
            let Some(sheet) = sheets.get(index) else {
                break;
            };
            let outcome = if goes_on(index, sheets.len()) {
                sheet.write(folder)
            } else {
                Err(anyhow::anyhow!("given up after {index} pictures"))
            };
            if let Err(error) = outcome {
                // The others stop as well; the first trouble is the one to tell.
                next.store(sheets.len(), Ordering::Relaxed);
                if let Ok(mut trouble) = trouble.lock() {
                    trouble.get_or_insert(error);
                }
                break;
            }
        }
    };
    let hands = std::thread::available_parallelism().map_or(1, usize::from);
    std::thread::scope(|threads| {
        for _ in 1..hands.min(sheets.len()) {
            // Where no thread can be had, the others draw what it would have drawn.
            let hand = std::thread::Builder::new().name("pictures".to_owned());
            let _ = hand.spawn_scoped(threads, draw);
        }
        draw();
    });
    if let Ok(Some(error)) = trouble.into_inner() {
        return Err(error);
    }
    write_file(&folder.join("pictures.txt"), in_words(&pictures))?;
    Ok(2 * sheets.len() + 1)
}

/// What every picture shows, to be put beside it for those who cannot see it.
fn in_words(pictures: &[Picture<'_>]) -> String {
    pictures
        .iter()
        .map(|picture| format!("{}\n{}\n\n", picture.name, picture.words()))
        .collect()
}
