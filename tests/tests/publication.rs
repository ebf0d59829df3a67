//! What the command line writes for publication: a report with its imprint, and pictures.

use acceptance::{prony, root};
use std::collections::BTreeSet;
use std::path::Path;
use std::process::{Command, Output, Stdio};

const SESSION: &str = "demo-sessions/first-look-honest.prony";

fn assess(arguments: &[&str], paths: &[&Path]) -> Output {
    Command::new(prony())
        .args(["assess", SESSION])
        .args(arguments)
        .args(paths)
        .current_dir(root())
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started")
}

fn words(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

#[test]
fn a_report_has_its_imprint_and_says_that_its_seals_were_checked() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let imprint = folder.path().join("imprint.ron");
    let text = std::fs::read_to_string(root().join("demo-sessions/ferrule-imprint.ron"));
    let text = text.expect("the sample is there").replacen(
        "    place:",
        "    photos: [(file: \"bench.png\", shows: \"the bench from the left\")],\n    place:",
        1,
    );
    std::fs::write(&imprint, &text).expect("it can be written");
    let icon = root().join("assets/icon-256.png");
    std::fs::copy(icon, folder.path().join("bench.png")).expect("a picture can be copied");
    let report = folder.path().join("report.html");
    let paths = [
        Path::new("--imprint"),
        &imprint,
        Path::new("--report"),
        &report,
    ];
    let done = assess(&[], &paths);
    assert!(done.status.success(), "{}", words(&done));
    let page = std::fs::read_to_string(&report).expect("the report is there");
    let archive = session::Archive::open(&root().join(SESSION)).expect("it opens");
    let seal = archive
        .end_sha256()
        .expect("its seals read")
        .expect("it was ended");
    for wanted in [
        "KL-2026-007",
        "3 Kessel Lane, Nether Wallow",
        "alt=\"the bench from the left\"",
        "<strong>sealed</strong>. Every recorded byte",
        &seal,
    ] {
        assert!(page.contains(wanted), "{wanted}");
    }

    // A mistake names file, line, column and remedy, and no report is made.
    std::fs::remove_file(&report).expect("it was there");
    for (wrong, said) in [
        (
            text.replace("customer:", "costumer:"),
            "did you mean `customer`?",
        ),
        (
            text.replace("2026-02-20", "20 Feb"),
            "write year, month and day",
        ),
        (
            text.replace("bench.png", "no.png"),
            "cannot read the photograph",
        ),
        (
            text.replace("bench.png", "imprint.ron"),
            "neither JPEG nor PNG",
        ),
    ] {
        std::fs::write(&imprint, wrong).expect("it can be written");
        let refused = assess(&[], &paths);
        assert_eq!(refused.status.code(), Some(2), "{}", words(&refused));
        assert!(words(&refused).contains(said), "{}", words(&refused));
        assert!(
            words(&refused).contains("imprint.ron"),
            "{}",
            words(&refused)
        );
        assert!(!report.exists());
    }
    let alone = assess(&["--imprint", "demo-sessions/ferrule-imprint.ron"], &[]);
    assert_eq!(
        alone.status.code(),
        Some(2),
        "an imprint without a report says nothing"
    );
}

/// Width and height as the head of a PNG has them (W3C, PNG, 11.2.2: IHDR).
fn size_of_png(path: &Path) -> [u32; 2] {
    let bytes = std::fs::read(path).expect("the picture is there");
    assert_eq!(&bytes[12..16], b"IHDR");
    let number = |at: usize| u32::from_be_bytes(bytes[at..at + 4].try_into().expect("four bytes"));
    [number(16), number(20)]
}

#[test]
fn every_plot_is_a_picture_in_two_sizes_and_two_looks() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let pictures = folder.path().join("made/for this");
    let done = assess(&["--transparent", "--pictures"], &[&pictures]);
    assert!(done.status.success(), "{}", words(&done));
    let names: BTreeSet<String> = std::fs::read_dir(&pictures)
        .expect("the folder was made")
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into_owned()
        })
        .collect();
    let told = std::fs::read_to_string(pictures.join("pictures.txt")).expect("the words");
    let plots: Vec<&str> = told
        .split("\n\n")
        .filter(|part| !part.trim().is_empty())
        .collect();
    assert!(plots.len() >= 8, "{} plots", plots.len());
    let mut expected = BTreeSet::from(["pictures.txt".to_owned()]);
    for plot in plots {
        let (name, said) = plot.split_once('\n').expect("a name and words");
        assert!(said.chars().count() > 40, "{name}: {said}");
        for ground in ["transparent-on-light", "transparent-on-dark"] {
            for size in [[1920, 1080], [3840, 2160]] {
                let stem = format!("{name}-{ground}-{}x{}", size[0], size[1]);
                assert_eq!(
                    size_of_png(&pictures.join(format!("{stem}.png"))),
                    size,
                    "{stem}"
                );
                expected.insert(format!("{stem}.png"));
                expected.insert(format!("{stem}.svg"));
            }
        }
    }
    assert_eq!(names, expected);
    for wanted in ["power-over-time", "conditions-hub-referred", "budget"] {
        assert!(told.contains(&format!("{wanted}\n")), "{wanted}");
    }
    let not_a_folder = folder.path().join("file");
    std::fs::write(&not_a_folder, "").expect("it can be written");
    let failed = assess(&["--pictures"], &[&not_a_folder]);
    assert_eq!(failed.status.code(), Some(1));
    assert!(
        words(&failed).contains("cannot make the folder"),
        "{}",
        words(&failed)
    );
}
