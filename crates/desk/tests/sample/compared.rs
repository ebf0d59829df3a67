//! Sessions side by side, compared by the real analysis.

use super::LONG;
use super::findings;
use analysis::comparing::{
    Along, Bounds, Comparison, Condition, Instrument, Script, Shown, Side, compare,
};
use analysis::settings::Settings;
use desk::{CompareView, ComparedRow, ComparedSession, Laid};

/// How many times the truth the device reads in each session: less since an update.
const GAINS: [f64; 12] = [
    1.035, 1.012, 1.013, 1.011, 1.014, 1.010, 1.013, 1.012, 1.011, 1.012, 1.013, 1.012,
];

/// So many sessions, with firmware 2.4 from the second on; the second has a long name.
pub fn compared(count: usize) -> CompareView {
    let gains = &GAINS[..count];
    let settings = Settings::default();
    let judged: Vec<_> = gains
        .iter()
        .map(|gain| {
            let evidence = findings::evidence(*gain);
            let found = findings::findings(&evidence);
            (evidence, found)
        })
        .collect();
    let instrument = |name: &str, serial: &str, firmware: &str| Instrument {
        name: name.to_owned(),
        maker: Some("Workshop".to_owned()),
        model: Some(name.to_owned()),
        serial: Some(serial.to_owned()),
        firmware: Some(firmware.to_owned()),
    };
    let sides: Vec<Side<'_>> = judged
        .iter()
        .enumerate()
        .map(|(index, (evidence, found))| Side {
            device: instrument(
                "Trainer 7",
                "T7-00172",
                if index == 0 { "2.3" } else { "2.4" },
            ),
            reference: instrument("Pedals A", "A-5531", "9"),
            calibrations: Vec::new(),
            script: Some(Script {
                name: "level sweep".to_owned(),
                sha256: "00".repeat(32),
            }),
            bike: Some("steel bike, 50 × 17".to_owned()),
            started_s: Some(1_760_000_000 + 86_400 * index as i64),
            steps: &evidence.steps,
            findings: found,
            settings: &settings,
        })
        .collect();
    let found = compare(&sides, None).expect("two to twelve can be compared");
    CompareView {
        id: 1,
        kind: "One unit before and after a change".to_owned(),
        kinds: [
            "repeats of one unit",
            "one unit before and after a change",
            "units of one model",
            "different devices",
        ]
        .map(str::to_owned)
        .to_vec(),
        asked: None,
        sessions: sides
            .iter()
            .enumerate()
            .map(|(index, side)| ComparedSession {
                title: match index {
                    1 => format!("{LONG} · level sweep"),
                    _ => "Trainer 7 · level sweep".to_owned(),
                },
                serial: "T7-00172".to_owned(),
                firmware: side.device.firmware.clone().unwrap_or_default(),
                started: format!("2025-10-{:02} 18:20", index + 9),
                verdict: side.findings.overall.verdict.words().to_owned(),
            })
            .collect(),
        rows: found.conditions.iter().flat_map(rows).collect(),
        sentences: found.sentences.clone(),
        basis: found.basis.clone(),
        plots: found.plots.clone(),
        by_step: laid(&found, Along::Step),
        by_clock: laid(&found, Along::Clock),
    }
}

fn laid(found: &Comparison, along: Along) -> Laid {
    match found.overlay(along) {
        Ok(overlay) => Laid::Over(overlay.plots.clone()),
        Err(not) => Laid::Refused(not.reason.clone()),
    }
}

fn rows(condition: &Condition) -> Vec<ComparedRow> {
    let signed = |value: f64| format!("{value:+.2}").replace('-', "−");
    let interval = |bounds: Option<&Bounds>| {
        bounds.map_or("–".to_owned(), |bounds| {
            let [low, high] = bounds.interval.map(signed);
            format!("{low} to {high}")
        })
    };
    let cells = condition.cells.iter().enumerate();
    cells
        .filter_map(|(index, cell)| Some((index, cell.as_ref()?)))
        .map(|(index, it)| ComparedRow {
            condition: condition.words.clone(),
            session: (index + 1).to_string(),
            error: format!("{} ± {:.2}", signed(it.cell.bias_pct), it.cell.expanded_pct),
            verdict: it.cell.verdict.words().to_owned(),
            change: it
                .change
                .map_or("–".to_owned(), |change| signed(change.value_pct)),
            independent: interval(it.change.as_ref().map(|change| &change.independent)),
            cancelled: interval(it.change.as_ref().and_then(|c| c.cancelled.as_ref())),
            shown: match it.change.map(|change| change.shown) {
                Some(Shown::Yes) => "yes",
                Some(Shown::IfCommonHeld) => "if held",
                Some(Shown::No) => "no",
                None => "",
            }
            .to_owned(),
        })
        .collect()
}
