//! Every kind of report in a real browser: nothing is fetched, nothing is complained about, every
//! picture reads aloud, nothing is wider than the page on a telephone, a tablet and a desk, and on
//! paper no plot is cut in two.
//!
//! Pictures of what was seen lie in `target/tmp/browser`, for somebody to look at.

use acceptance::browser::{Browser, Loaded};
use acceptance::rides::unsteadiness_w;
use acceptance::{could_not_run, prony, root};
use analysis::evidence::Evidence;
use analysis::settings::Settings;
use prony::reopening::{Reopened, reopen};
use report::SessionFacts;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const CHROMIUM: &str = "there is no `chromium` (Debian: apt-get install chromium)";

/// Widths of a telephone, a tablet and a desk, pixels.
const WIDTHS: [u32; 3] = [360, 800, 1280];

/// A4 (ISO 216) and Letter (ANSI X3.151) without the margins of the style sheet: width and height
/// of what can be printed on, in CSS pixels of 1/96 inch.
const PAPERS: [(&str, [f64; 2]); 2] = [("A4", [210.0, 297.0]), ("Letter", [215.9, 279.4])];
const MARGINS_MM: [f64; 2] = [30.0, 32.0];
const MM: f64 = 96.0 / 25.4;

fn run(arguments: &[&str], paths: &[&Path]) {
    let outcome = Command::new(prony())
        .args(arguments)
        .args(paths)
        .current_dir(root())
        .stdin(Stdio::null())
        .output()
        .expect("the program can be started");
    let words = String::from_utf8_lossy(&outcome.stderr);
    assert!(outcome.status.success(), "{arguments:?}: {words}");
}

/// Where reports and pictures of them are kept.
fn folder() -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("browser");
    std::fs::create_dir_all(&folder).expect("a folder for what is looked at");
    folder
}

/// Makes one report of each kind; their names.
fn reports(folder: &Path) -> Vec<&'static str> {
    let at = |name: &str| folder.join(name);
    let demo = |name: &str| root().join("demo-sessions").join(name);
    let [first, honest, workshop] = [
        "first-look-honest.prony",
        "level-sweep-honest.prony",
        "level-sweep-workshop.prony",
    ]
    .map(demo);
    let report = Path::new("--report");
    run(&["assess"], &[&first, report, &at("first-look.html")]);
    run(&["assess"], &[&workshop, report, &at("workshop.html")]);
    run(
        &[
            "assess",
            "--claims",
            "demo-sessions/ferrule-claims.ron",
            "--measurements",
            "demo-sessions/ferrule-measurements.ron",
            "--imprint",
            "demo-sessions/ferrule-imprint.ron",
        ],
        &[&honest, report, &at("claims.html")],
    );
    imported(folder);
    run(
        &["compare"],
        &[&honest, &workshop, report, &at("compared.html")],
    );

    let nothing = analysis::assess::assess(&Evidence::default(), &Settings::default());
    let page = report::html(&SessionFacts::default(), &nothing);
    std::fs::write(at("nothing.html"), page).expect("it can be written");
    std::fs::write(at("long-names.html"), long_names(&workshop)).expect("it can be written");
    vec![
        "first-look",
        "workshop",
        "claims",
        "imported",
        "compared",
        "nothing",
        "long-names",
    ]
}

/// A report of two recordings made elsewhere.
fn imported(folder: &Path) {
    let made = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| made.path().join(name);
    let table = |name: &str, from: u32, gain: f64| {
        let rows: String = (from..1800)
            .map(|second| {
                let level = 140.0 + 30.0 * f64::from((second / 200 * 7) % 5);
                let watts = gain * (level + unsteadiness_w(second));
                format!("{},{watts:.1},90\n", second - from)
            })
            .collect();
        std::fs::write(at(name), format!("seconds,watts,cadence\n{rows}")).expect("a file");
    };
    table("reference.csv", 0, 1.0);
    table("device.csv", 60, 1.02);
    run(
        &["import"],
        &[
            Path::new("--under-test"),
            &at("device.csv"),
            Path::new("--reference"),
            &at("reference.csv"),
            Path::new("--out"),
            &at("ride.prony"),
        ],
    );
    let to = folder.join("imported.html");
    run(
        &["assess"],
        &[&at("ride.prony"), Path::new("--report"), &to],
    );
}

/// A report in which every name is longer than a line, without a place to break it.
fn long_names(session: &Path) -> String {
    let Reopened {
        mut facts,
        mut evidence,
        settings,
        ..
    } = reopen(session).expect("the demo session opens");
    let long = |name: &str| format!("{name}-{}", "Wallowmeter".repeat(20));
    for stream in &mut evidence.streams {
        stream.name = long(&stream.name);
    }
    for source in &mut facts.sources {
        source.name = long(&source.name);
        source.identity.serial = Some(long("serial"));
    }
    facts.about.bike = Some(long("bike"));
    if let Some(script) = &mut facts.about.script {
        script.name = long("script");
    }
    let imprint = report::Imprint {
        number: Some("KL".repeat(20)),
        customer: Some(long("customer")),
        deviations: vec![long("deviation")],
        ..report::Imprint::default()
    };
    let findings = analysis::assess::assess(&evidence, &settings);
    report::html_with(&facts, &findings, &imprint)
}

/// Nothing but the page itself, and what it carries within it.
fn kept_to_itself(page: &str, loaded: &Loaded) {
    let [first, rest @ ..] = loaded.requests.as_slice() else {
        panic!("{page}: the browser did not even ask for the page");
    };
    assert!(first.starts_with("file:///"), "{page}: {first}");
    for address in rest {
        assert!(address.starts_with("data:"), "{page} asks for {address}");
    }
    assert!(
        loaded.complaints.is_empty(),
        "{page}: {:#?}",
        loaded.complaints
    );
}

/// Every picture has a name and a read-out that say something, and the tree that programs read
/// aloud from has them too.
fn reads_aloud(page: &str, browser: &mut Browser) {
    let told = browser.value(
        "[...document.querySelectorAll('svg:not([aria-hidden=true])')].map(svg => {
            const ids = (svg.getAttribute('aria-labelledby') || '').split(' ');
            const said = ids.map(id => document.getElementById(id)?.textContent?.trim() || '');
            const figure = svg.closest('figure');
            return { role: svg.getAttribute('role'), title: said[0] || '', words: said[1] || '',
                     beside: figure?.querySelector('details p')?.textContent || '' };
        })",
    );
    let told = told.as_array().expect("a list");
    for picture in told {
        let words = |key: &str| picture[key].as_str().unwrap_or_default().chars().count();
        assert_eq!(picture["role"], "img", "{page}: {picture}");
        assert!(words("title") > 5, "{page}: {picture}");
        assert!(words("words") > 40, "{page}: {picture}");
        assert!(
            words("beside") > 40,
            "{page}: no read-out beside it: {picture}"
        );
    }
    let tree = browser.ask("Accessibility.getFullAXTree", json!({}));
    let nodes = tree["nodes"].as_array().expect("a tree");
    let images: Vec<&Value> = nodes
        .iter()
        .filter(|node| node["ignored"] != json!(true))
        .filter(|node| matches!(node["role"]["value"].as_str(), Some("image" | "img")))
        .collect();
    assert_eq!(
        images.len(),
        told.len(),
        "{page}: pictures that are not read aloud"
    );
    for image in images {
        let name = image["name"]["value"].as_str().unwrap_or_default();
        assert!(name.chars().count() > 40, "{page}: {name:?}");
    }
    // A verdict is told by shape and word; the shape alone is hidden from those who listen.
    let alone = browser.value(
        "[...document.querySelectorAll('svg[aria-hidden=true]')]
            .filter(svg => !svg.parentElement.textContent.replace(svg.textContent, '').trim()).length",
    );
    assert_eq!(alone, 0, "{page}: shapes without a word");
}

/// What sticks out of the page, in words; a table may scroll within its own frame.
const STICKS_OUT: &str = "(() => {
    const room = document.documentElement.clientWidth;
    const out = [];
    if (document.documentElement.scrollWidth > room) {
        out.push('the page: ' + document.documentElement.scrollWidth);
    }
    for (const one of document.body.querySelectorAll('*')) {
        const frame = one.closest('.wide');
        if ((frame && frame !== one) || one.closest('svg svg, svg *')) continue;
        const box = one.getBoundingClientRect();
        if (box.width > 0 && (box.right > room + 0.5 || box.left < -0.5)) {
            out.push(one.tagName + ' ' + Math.round(box.left) + ' to ' + Math.round(box.right)
                + ': ' + one.textContent.trim().slice(0, 40));
        }
    }
    return out.slice(0, 6);
})()";

/// Letters of a drawing that leave it.
const CUT_LETTERS: &str = "[...document.querySelectorAll('svg.plot text')].filter(text => {
    const sheet = text.ownerSVGElement.getBoundingClientRect();
    const box = text.getBoundingClientRect();
    return box.width > 0 && (box.left < sheet.left - 1 || box.right > sheet.right + 1
        || box.top < sheet.top - 1 || box.bottom > sheet.bottom + 1);
}).map(text => text.ownerSVGElement.id + ': ' + text.textContent).slice(0, 6)";

fn fits(page: &str, browser: &mut Browser, folder: &Path) {
    for width in WIDTHS {
        browser.resize(width, 900);
        let out = browser.value(STICKS_OUT);
        assert_eq!(out, json!([]), "{page} at {width} px");
        let cut = browser.value(CUT_LETTERS);
        assert_eq!(cut, json!([]), "{page} at {width} px");
        let scheme = if width == 800 { "dark" } else { "light" };
        browser.show_as("screen", scheme);
        let ground = browser.value("getComputedStyle(document.documentElement).backgroundColor");
        let expected = if width == 800 {
            "rgb(21, 24, 27)"
        } else {
            "rgb(251, 251, 248)"
        };
        assert_eq!(ground, expected, "{page}: the ground of a {scheme} screen");
        let picture = folder.join(format!("{page}-{width}-{scheme}.png"));
        let whole = json!({ "format": "png", "captureBeyondViewport": true,
                            "clip": { "x": 0, "y": 0, "width": width, "height": 6000, "scale": 1 } });
        browser.keep("Page.captureScreenshot", whole, &picture);
    }
}

fn prints(page: &str, browser: &mut Browser, folder: &Path) {
    for (paper, [width, height]) in PAPERS {
        let room = [(width - MARGINS_MM[0]) * MM, (height - MARGINS_MM[1]) * MM];
        browser.show_as("print", "dark");
        browser.resize(room[0] as u32, room[1] as u32);
        let ground = browser.value("getComputedStyle(document.documentElement).backgroundColor");
        assert_eq!(ground, "rgb(255, 255, 255)", "{page}: paper is white");
        let out = browser.value(STICKS_OUT);
        assert_eq!(out, json!([]), "{page} on {paper}");
        // In print nothing scrolls: what is wider than its frame is cut.
        let cut = browser.value(
            "[...document.querySelectorAll('.wide > *')].filter(one =>
                one.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
                .map(one => one.textContent.trim().slice(0, 60)).slice(0, 4)",
        );
        assert_eq!(cut, json!([]), "{page}: tables are cut on {paper}");
        let tall = browser.value(&format!(
            "[...document.querySelectorAll('figure, tr')]
                .filter(one => one.getBoundingClientRect().height > {})
                .map(one => one.id || one.textContent.trim().slice(0, 60))",
            room[1]
        ));
        assert_eq!(tall, json!([]), "{page}: taller than a page of {paper}");
        browser.show_as("", "light");
        let printed = json!({ "paperWidth": width / 25.4, "paperHeight": height / 25.4,
                              "preferCSSPageSize": false, "printBackground": true });
        let file = folder.join(format!("{page}-{paper}.pdf"));
        browser.keep("Page.printToPDF", printed, &file);
    }
}

#[test]
fn every_report_opens_in_a_browser() {
    const TEST: &str = "every_report_opens_in_a_browser";
    let Some(mut browser) = Browser::start() else {
        return could_not_run(TEST, CHROMIUM);
    };
    let folder = folder();
    for page in reports(&folder) {
        browser.show_as("screen", "light");
        browser.resize(1280, 900);
        let loaded = browser.open(&folder.join(format!("{page}.html")));
        kept_to_itself(page, &loaded);
        assert_eq!(browser.value("document.compatMode"), "CSS1Compat", "{page}");
        let fonts = browser.value("[...document.fonts].every(face => face.status === 'loaded')");
        assert_eq!(fonts, true, "{page}: the typeface in it is used");
        reads_aloud(page, &mut browser);
        fits(page, &mut browser, &folder);
        prints(page, &mut browser, &folder);
    }
}

/// What this test would find is really found: a page that fetches, complains, and is too wide.
#[test]
fn a_page_that_misbehaves_is_noticed() {
    const TEST: &str = "a_page_that_misbehaves_is_noticed";
    let Some(mut browser) = Browser::start() else {
        return could_not_run(TEST, CHROMIUM);
    };
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("bad.html");
    let bad = "<!DOCTYPE html><html lang=\"en\"><meta charset=\"utf-8\"><title>bad</title>\
               <body><img src=\"elsewhere.png\" alt=\"\"><p style=\"width: 3000px\">wide</p>\
               <script>console.error('mistake')</script></body></html>";
    std::fs::write(&file, bad).expect("it can be written");
    let loaded = browser.open(&file);
    assert!(
        loaded
            .requests
            .iter()
            .any(|address| address.ends_with("elsewhere.png")),
        "{loaded:?}"
    );
    assert!(
        loaded
            .complaints
            .iter()
            .any(|words| words.contains("mistake")),
        "{loaded:?}"
    );
    browser.resize(360, 900);
    assert_ne!(browser.value(STICKS_OUT), json!([]));
    // The page's own rules are the second fence: what they forbid is complained about.
    let fenced = bad.replace(
        "<title>",
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'\"><title>",
    );
    std::fs::write(&file, fenced).expect("it can be written");
    let loaded = browser.open(&file);
    assert!(
        loaded
            .complaints
            .iter()
            .any(|words| words.contains("Content Security Policy")),
        "{loaded:?}"
    );
    assert!(
        !loaded
            .complaints
            .iter()
            .any(|words| words.contains("mistake")),
        "{loaded:?}"
    );
}
