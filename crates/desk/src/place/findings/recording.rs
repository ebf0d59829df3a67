//! What was received, how it was aligned, what did not count and why.

use super::alignment::alignment_words;
use super::lens;
use super::placing::placing_ui;
use crate::inputs::{Opened, told};
use crate::parts::table::{self, Cell, Row, Width};
use crate::parts::{self, Glyph, glyph, words};
use crate::request::Request;
use crate::theme::{self, tokens};
use analysis::evidence::{Place, Role};
use analysis::findings::Findings;
use bench::model::FlagView;
use egui::{Sense, Ui};
use units::Timestamp;

/// Draws the page.
pub(super) fn recording_ui(
    ui: &mut Ui,
    opened: &Opened<'_>,
    lens: &mut lens::State,
    out: &mut Vec<Request>,
) {
    let findings = opened.findings;
    sources(ui, findings);
    ui.add_space(tokens::GAP);
    alignment(ui, findings);
    if opened.imported {
        placing_ui(ui, findings, lens, out);
    }
    ui.add_space(tokens::GAP);
    flags(ui, opened.flags, lens);
    ui.add_space(tokens::GAP);
    drop_outs(ui, findings, lens);
    ui.add_space(tokens::GAP);
    exclusions(ui, findings, lens);
    ui.add_space(tokens::GAP);
    parts::heading(ui, "Anomalies");
    if findings.anomalies.is_empty() {
        parts::quiet(ui, "None.");
    }
    for anomaly in &findings.anomalies {
        parts::paragraph(ui, &told(ui, anomaly));
    }
}

fn sources(ui: &mut Ui, findings: &Findings) {
    parts::heading(ui, "Sources");
    let columns = [
        table::words("Name", Width::Share(1.0)),
        table::words("Role", Width::Share(0.6)),
        table::words("Measures at", Width::Share(0.6)),
        table::numbers("Packets", 80.0),
        table::numbers("Rate, Hz", 72.0),
        table::numbers("Covered", 72.0),
    ];
    rows(ui, &columns, |ui| {
        for source in &findings.sources {
            let texts = [
                source.name.clone(),
                role_words(source.role).to_owned(),
                place_words(source.place).to_owned(),
                source.packets.to_string(),
                source
                    .rate_hz
                    .map_or_else(|| words::NOTHING.into(), |hz| words::decimals(hz, 2)),
                format!("{:.1}\u{a0}%", source.coverage_pct),
            ];
            table::text_row(ui, &columns, &texts, Sense::hover());
        }
    });
}

fn alignment(ui: &mut Ui, findings: &Findings) {
    parts::heading(ui, "Alignment");
    if findings.alignment.is_empty() {
        parts::quiet(ui, "There is only one source; nothing had to be aligned.");
    }
    for alignment in &findings.alignment {
        parts::paragraph(ui, &alignment_words(alignment));
    }
}

fn flags(ui: &mut Ui, flags: &[FlagView], lens: &mut lens::State) {
    parts::heading(ui, "Flags raised while riding");
    if flags.is_empty() {
        parts::quiet(ui, "None.");
        return;
    }
    let columns = [
        table::numbers("From", 72.0),
        table::numbers("To", 72.0),
        table::words("What was seen", Width::Share(1.0)),
    ];
    rows(ui, &columns, |ui| {
        for (index, flag) in flags.iter().enumerate() {
            let (from, to) = (words::moment(flag.from), words::moment(flag.to));
            let said = told(ui, &flag.words).into_owned();
            let name = format!("{from}, {to}, {said}");
            let ink = glyph::severity_ink(flag.severity, theme::tokens(ui));
            let glyph = Glyph::of_severity(flag.severity);
            let cells = [
                Cell::text(from),
                Cell::text(to),
                Cell::Marked(glyph, ink, said),
            ];
            let row = Row {
                sense: Sense::click(),
                ..Row::new(&name, &cells)
            };
            if table::row(ui, &columns, row).response.clicked() {
                lens.show_flag(index, flags);
            }
        }
    });
}

fn drop_outs(ui: &mut Ui, findings: &Findings, lens: &mut lens::State) {
    parts::heading(ui, "Drop-outs of the device");
    if findings.dropouts.is_empty() {
        parts::quiet(ui, "None.");
        return;
    }
    let columns = [
        table::numbers("From", 72.0),
        table::words("What happened", Width::Share(1.0)),
        table::numbers("Seconds", 72.0),
        table::numbers("Lost work, kJ", 104.0),
    ];
    rows(ui, &columns, |ui| {
        for drop_out in &findings.dropouts {
            let texts = [
                words::moment(drop_out.from),
                drop_out.kind.words().to_owned(),
                words::decimals((drop_out.to - drop_out.from).as_secs_f64(), 1),
                words::decimals(drop_out.lost_kj, 2),
            ];
            if table::text_row(ui, &columns, &texts, Sense::click()).clicked() {
                lens.show(drop_out.kind.words(), drop_out.from, drop_out.to);
            }
        }
    });
}

fn exclusions(ui: &mut Ui, findings: &Findings, lens: &mut lens::State) {
    parts::heading(ui, "What did not count");
    if findings.exclusions.is_empty() {
        parts::quiet(ui, "Everything counted.");
        return;
    }
    let columns = [
        table::numbers("From", 72.0),
        table::numbers("To", 72.0),
        table::words("Why", Width::Share(1.0)),
    ];
    rows(ui, &columns, |ui| {
        for exclusion in &findings.exclusions {
            let texts = [
                words::clock(exclusion.from_s),
                words::clock(exclusion.to_s),
                told(ui, &exclusion.reason).into_owned(),
            ];
            if table::text_row(ui, &columns, &texts, Sense::click()).clicked() {
                let moment = Timestamp::from_secs_f64;
                let (from, to) = (moment(exclusion.from_s), moment(exclusion.to_s));
                lens.show(&exclusion.reason, from, to);
            }
        }
    });
}

fn rows(ui: &mut Ui, columns: &[table::Column], content: impl FnOnce(&mut Ui)) {
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        table::head(ui, columns);
        content(ui);
    });
}

fn role_words(role: Role) -> &'static str {
    match role {
        Role::UnderTest => "device under test",
        Role::PrimaryReference => "reference",
        Role::SecondReference => "second reference",
        Role::Witness => "recorded only",
    }
}

fn place_words(place: Place) -> &'static str {
    match place {
        Place::Pedals => "pedals",
        Place::Crank => "crank",
        Place::OneSide => "one side, doubled",
        Place::Hub => "hub",
        Place::Unknown => "unknown",
    }
}
