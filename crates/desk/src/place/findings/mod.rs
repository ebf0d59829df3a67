//! Findings: the judgement first, what it rests on below, the raw traces one click away.

mod alignment;
mod budget;
mod cells;
mod claims;
mod examined;
mod lens;
mod placing;
mod recording;
mod sure;

use super::Place;
use crate::inputs::{Inputs, Opened, SelfTest, told};
use crate::keys::Deed;
use crate::parts::{self, Voice, control, words};
use crate::request::Request;
use crate::theme::{self, tokens};
use analysis::findings::Overall;
use egui::Ui;

/// What is looked at.
#[derive(Debug, Default)]
pub(crate) struct State {
    page: Page,
    examination: examined::Choice,
    lens: lens::State,
}

impl State {
    /// Closes the raw traces.
    pub(crate) fn close_lens(&mut self) {
        self.lens.close();
    }

    /// What the keys do that are for the charts.
    pub(crate) fn chart_key(&mut self, deed: Deed, opened: Option<Opened<'_>>) {
        let flags = opened.map_or(&[][..], |opened| opened.flags);
        self.lens.chart_key(deed, flags);
    }
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Page {
    /// Verdict, claims, cells, budget.
    #[default]
    Judgement,
    /// One examination after another.
    Examinations,
    /// What was received and what did not count.
    Recording,
}

const PAGES: [(Page, &str); 3] = [
    (Page::Judgement, "Judgement"),
    (Page::Examinations, "Examinations"),
    (Page::Recording, "Recording"),
];

/// Draws the place.
pub(crate) fn findings_ui(
    ui: &mut Ui,
    inputs: &Inputs<'_>,
    state: &mut State,
    place: &mut Place,
    out: &mut Vec<Request>,
) {
    let Some(opened) = inputs.opened else {
        empty(ui, inputs, place, out);
        return;
    };
    if lens::lens_ui(ui, &opened, &mut state.lens) == lens::Page::Hidden {
        return;
    }
    head(ui, &opened, state, out);
    match state.page {
        Page::Judgement => parts::page(ui, "judgement", |ui| {
            judgement(ui, &opened, inputs.self_test, state);
        }),
        Page::Examinations => examined::examined_ui(ui, opened.findings, &mut state.examination),
        Page::Recording => {
            parts::page(ui, "recording", |ui| {
                recording::recording_ui(ui, &opened, &mut state.lens, out);
            });
        }
    }
}

fn empty(ui: &mut Ui, inputs: &Inputs<'_>, place: &mut Place, out: &mut Vec<Request>) {
    parts::page(ui, "no findings", |ui| {
        let (title, words) = match (inputs.busy, inputs.model) {
            (Some(_), _) => (
                "The findings are being computed",
                "They appear here by themselves.",
            ),
            (None, Some(_)) => (
                "No findings yet",
                "They are computed when the session ends. What is known so far stands under Run.",
            ),
            (None, None) => (
                "No session is open",
                "Ride one under Script, take one from the shelf, or open a session file.",
            ),
        };
        parts::empty(ui, title, words);
        if inputs.model.is_none() && inputs.busy.is_none() {
            ui.horizontal_wrapped(|ui| {
                if parts::button(ui, "Open a file …", "Ctrl O", Voice::Primary).clicked() {
                    out.push(Request::OpenSession);
                }
                if control::big_button(ui, "To the shelf", "5", Voice::Plain).clicked() {
                    *place = Place::Shelf;
                }
            });
        }
    });
}

fn head(ui: &mut Ui, opened: &Opened<'_>, state: &mut State, out: &mut Vec<Request>) {
    let margin = egui::Margin {
        left: 24,
        right: 24,
        top: 24,
        bottom: 0,
    };
    egui::Frame::new().inner_margin(margin).show(ui, |ui| {
        // As wide as the page below, so that the controls stand over its right edge.
        ui.set_max_width(ui.available_width().min(tokens::PAGE));
        let controls = [
            (SAVE_PACK, "Ctrl E"),
            (SAVE_PICTURES, "Ctrl I"),
            (SAVE, "Ctrl S"),
        ];
        let words = |ui: &mut Ui| title(ui, opened);
        parts::title_with(ui, words, &controls, |index| {
            out.push(match index {
                0 => Request::SavePack,
                1 => Request::SavePictures,
                _ => Request::SaveReport,
            });
        });
        let chosen = PAGES.iter().position(|(page, _)| *page == state.page);
        let names = PAGES.map(|(_, name)| name);
        if let Some(index) = control::words_row(ui, &names, chosen) {
            state.page = PAGES[index].0;
        }
    });
}

fn title(ui: &mut Ui, opened: &Opened<'_>) {
    ui.scope(|ui| {
        ui.spacing_mut().item_spacing.y = 0.0;
        parts::heading(ui, opened.label);
        let findings = opened.findings;
        let device = findings
            .under_test
            .as_deref()
            .unwrap_or("no device under test");
        let reference = findings.reference.as_deref().unwrap_or("no reference");
        let length = words::clock(findings.duration_s);
        parts::quiet(ui, &format!("{device} against {reference} · {length}"));
    });
}

const SAVE: &str = "Save report …";
const SAVE_PICTURES: &str = "Save pictures …";
const SAVE_PACK: &str = "Save evidence pack …";

/// The verdict of each way of treating the losses of the drivetrain, one line each.
fn by_treatment(ui: &mut Ui, overall: &Overall) {
    let lines = overall.by_treatment.iter().map(|(treatment, verdict)| {
        let decides = match *treatment == overall.treatment {
            true => " (decides)",
            false => "",
        };
        (format!("{}{decides}", treatment.words()), *verdict)
    });
    let lines: Vec<_> = lines.collect();
    let font = theme::regular(tokens::BODY);
    let width = |ui: &Ui, words: &str| control::text_width(ui, words, font.clone());
    let widest = lines.iter().map(|(words, _)| width(ui, words));
    let label = widest.fold(0.0, f32::max) + 2.0 * tokens::GRID;
    ui.spacing_mut().interact_size.y = 2.0 * tokens::GRID;
    for (words, verdict) in &lines {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 0.0;
            parts::quiet_line(ui, words);
            ui.add_space(label - width(ui, words));
            parts::verdict(ui, *verdict);
        });
    }
}

fn judgement(ui: &mut Ui, opened: &Opened<'_>, self_test: Option<&SelfTest>, state: &mut State) {
    let findings = opened.findings;
    let overall = &findings.overall;
    parts::large_verdict(ui, overall.verdict);
    ui.add_space(0.5 * tokens::GRID);
    parts::paragraph(ui, &told(ui, &overall.sentence));
    if overall.by_treatment.len() > 1 {
        ui.add_space(0.5 * tokens::GRID);
        by_treatment(ui, overall);
    }
    ui.add_space(tokens::GAP);
    if !findings.claims.is_empty() {
        claims::claims_ui(ui, &findings.claims);
    }
    ui.scope(|ui| {
        ui.set_max_width(ui.available_width().min(tokens::MEASURE));
        parts::quiet(ui, &told(ui, &findings.rule));
    });
    ui.add_space(tokens::GAP);
    cells::cells_ui(ui, findings, &mut state.lens);
    ui.add_space(tokens::GAP);
    budget::budget_ui(ui, findings);
    ui.add_space(tokens::GAP);
    sure::sure_ui(ui, self_test);
    for plot in &findings.plots {
        ui.add_space(tokens::GAP);
        crate::chart::plot::plot_ui(ui, plot);
    }
}
