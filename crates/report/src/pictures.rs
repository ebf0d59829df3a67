//! All pictures of a set of findings: the plots that came with them, and those that are drawn
//! from the findings themselves – power over time, the differences in watts, the conditions
//! against the claim, the budget.

use crate::facts::SessionFacts;
use crate::raster::RasterError;
use crate::svg::inks::Paper;
use crate::svg::{Around, PAGE_TEXT, Sheet, Size, bars, forest};
use crate::words::decimals;
use crate::{describe, raster, svg};
use analysis::findings::{Findings, Treatment};
use analysis::outcome::{Ink, Layer, Plot};
use std::borrow::Cow;

/// A picture that can be drawn at any size on any paper.
#[derive(Clone, Debug)]
pub struct Picture<'a> {
    /// Unique among the pictures of these findings; fit for a file name.
    pub name: String,
    /// Title in words. That of a simulated session says so.
    pub title: String,
    subject: Subject<'a>,
}

#[derive(Clone, Debug)]
enum Subject<'a> {
    Plot(Cow<'a, Plot>),
    Forest(&'a Findings, Treatment),
    Budget(&'a Findings),
}

impl Picture<'_> {
    /// The picture as an SVG document.
    pub fn svg(&self, size: Size, paper: Paper) -> String {
        let sheet = Sheet::alone(size, paper);
        let around = |caption| Around {
            title: self.title.clone(),
            caption,
        };
        match &self.subject {
            Subject::Plot(plot) => {
                let plot = Plot {
                    title: self.title.clone(),
                    ..plot.clone().into_owned()
                };
                svg::svg(&plot, size, paper)
            }
            Subject::Forest(findings, treatment) => {
                let needed = forest::natural_height(findings, *treatment, sheet.text);
                let around = around(forest_caption(findings));
                forest::draw(findings, *treatment, fitted(sheet, needed), &around)
            }
            Subject::Budget(findings) => {
                let needed = bars::natural_height(&findings.budget, sheet.text);
                let around = around(budget_caption(findings));
                bars::draw(&findings.budget, fitted(sheet, needed), &around)
            }
        }
    }
}

impl Picture<'_> {
    /// The picture as a PNG of this many pixels; without a ground where the paper has none.
    ///
    /// # Errors
    /// [`RasterError`] if the size is zero or more than memory holds.
    pub fn png(&self, size: Size, paper: Paper) -> Result<Vec<u8>, RasterError> {
        raster::png(&self.svg(size, paper), size, &self.title, &self.words())
    }

    /// What the picture shows, in words: its text alternative.
    pub fn words(&self) -> String {
        match &self.subject {
            Subject::Plot(plot) => describe::sentence(plot),
            Subject::Forest(findings, treatment) => forest::sentence(findings, *treatment),
            Subject::Budget(findings) => bars::sentence(&findings.budget),
        }
    }
}

/// A sheet on which a drawing of the needed height fits: everything on it becomes smaller.
fn fitted(mut sheet: Sheet, needed: f64) -> Sheet {
    let needed = needed + 2.0 * sheet.margin() + 5.0 * sheet.text;
    let factor = (needed / sheet.size[1]).max(1.0);
    sheet.size = sheet.size.map(|side| side * factor);
    sheet.pixels_per_unit /= factor;
    sheet
}

/// All pictures, in the order of the report.
pub fn pictures<'a>(facts: &SessionFacts, findings: &'a Findings) -> Vec<Picture<'a>> {
    let titled = |title: &str| {
        if facts.is_simulated() {
            format!("SIMULATED: {title}")
        } else {
            title.to_owned()
        }
    };
    let picture = |plot: Cow<'a, Plot>| Picture {
        name: plot.name.to_owned(),
        title: titled(&plot.title),
        subject: Subject::Plot(plot),
    };
    let mut pictures = Vec::new();
    for treatment in treatments(findings) {
        pictures.push(Picture {
            name: format!("conditions-{}", treatment.name().replace('_', "-")),
            title: titled(&forest::title(findings, treatment)),
            subject: Subject::Forest(findings, treatment),
        });
    }
    pictures.extend(own_plots(findings).into_iter().map(Cow::Owned).map(picture));
    let examined = examined(findings)
        .into_iter()
        .flat_map(|examined| examined.plots);
    pictures.extend(
        findings
            .plots
            .iter()
            .chain(examined)
            .map(Cow::Borrowed)
            .map(picture),
    );
    if !findings.budget.is_empty() {
        pictures.push(Picture {
            name: "budget".to_owned(),
            title: titled(bars::TITLE),
            subject: Subject::Budget(findings),
        });
    }
    number_twins(&mut pictures);
    pictures
}

fn forest_caption(findings: &Findings) -> String {
    format!(
        "{} conditions judged from {} steady windows; U: expanded uncertainty, 95 %; bold: the \
         condition that decides; one unit tested",
        findings.overall.cells_judged,
        findings.windows.len()
    )
}

fn budget_caption(findings: &Findings) -> String {
    let cell = findings
        .overall
        .worst_cell
        .and_then(|index| findings.cells.get(index));
    cell.map_or_else(String::new, |cell| {
        format!(
            "{}: combined standard uncertainty {} %, U {} % (k = {})",
            forest::condition(cell),
            decimals(cell.u_pct, 3),
            decimals(cell.expanded_pct, 2),
            decimals(cell.k, 2)
        )
    })
}

/// Names become unique: a second plot of one name is `name-2`.
fn number_twins(pictures: &mut [Picture<'_>]) {
    for index in 0..pictures.len() {
        let (before, rest) = pictures.split_at_mut(index);
        let Some(picture) = rest.first_mut() else {
            continue;
        };
        let first = picture.name.clone();
        let mut number = 1;
        while before.iter().any(|other| other.name == picture.name) {
            number += 1;
            picture.name = format!("{first}-{number}");
        }
    }
}

/// The treatments that were computed, the deciding one first.
pub(crate) fn treatments(findings: &Findings) -> Vec<Treatment> {
    let deciding = findings.overall.treatment;
    let mut treatments = vec![Treatment::AsIndicated, Treatment::HubReferred];
    treatments.retain(|treatment| {
        findings
            .cells
            .iter()
            .any(|cell| cell.treatment == *treatment)
    });
    treatments.sort_by_key(|treatment| *treatment != deciding);
    treatments
}

/// One examination that was made.
pub(crate) struct Examined<'a> {
    /// Its heading.
    pub(crate) name: &'static str,
    /// Its sentence.
    pub(crate) sentence: &'a str,
    /// Its plots.
    pub(crate) plots: &'a [Plot],
}

/// The examinations that were made, in the order in which a reader asks.
pub(crate) fn examined(findings: &Findings) -> Vec<Examined<'_>> {
    let made = &findings.examinations;
    let mut all = Vec::new();
    macro_rules! add {
        ($($field:ident: $name:literal),* $(,)?) => {
            $(if let Ok(tested) = &made.$field {
                all.push(Examined {
                    name: $name,
                    sentence: &tested.sentence,
                    plots: &tested.plots,
                });
            })*
        };
    }
    add! {
        level: "Offset and scale",
        hysteresis: "Level reached from below and from above",
        anchors: "The same condition again",
        cadence_dependence: "Dependence on cadence",
        speed_dependence: "Dependence on flywheel speed",
        warm_up: "Warm-up drift",
        response: "Response to a new target",
        stability: "Steadiness of held targets",
        disturbance: "Change of cadence under a held target",
        smoothing: "Delay and smoothing of the reported power",
        echo: "Target echo",
        bursts: "Short hard efforts",
        drop_outs: "Drop-outs",
        radio: "Radio",
        slope: "Slope simulation",
        virtual_speed: "Reported speed",
        coast_down: "Spin-down and coast-down",
        inertia: "Inertia of the flywheel",
        agreement: "Agreement of window means",
        energy: "Work of the whole session",
        best_means: "Best mean power",
        consistency: "Consistency of the instruments",
        apportioning: "Own noise and bias of each instrument",
        assurance: "Assurance of the reference",
    }
    all
}

/// The plots that are drawn from the findings themselves.
pub(crate) fn own_plots(findings: &Findings) -> Vec<Plot> {
    power_over_time(findings)
        .into_iter()
        .chain(difference_in_watts(findings))
        .collect()
}

/// Both instruments second by second, held from one second to the next, as they were aligned.
pub(crate) fn power_over_time(findings: &Findings) -> Option<Plot> {
    let traces = &findings.traces;
    let name = |name: &Option<String>, or: &str| name.clone().unwrap_or_else(|| or.to_owned());
    let mut layers: Vec<Layer> = findings
        .exclusions
        .iter()
        .map(|exclusion| Layer::Span {
            ink: Ink::Excluded,
            label: exclusion.reason.clone(),
            from: exclusion.from_s / 60.0,
            to: exclusion.to_s / 60.0,
        })
        .collect();
    let columns = [
        (
            Ink::UnderTest,
            name(&findings.under_test, "device"),
            &traces.under_test_w,
        ),
        (
            Ink::Reference,
            name(&findings.reference, "reference"),
            &traces.reference_w,
        ),
    ];
    let mut any = false;
    for (ink, label, column) in columns {
        let runs = held(traces.from_s, column);
        any |= !runs.is_empty();
        layers.push(Layer::Line { ink, label, runs });
    }
    any.then(|| Plot {
        name: "power-over-time",
        title: "Power over time".into(),
        x: "time, min".into(),
        y: "power, W: means of one second, not smoothed".into(),
        layers,
        caption: format!(
            "{}; stepped lines, gaps are gaps; every column of pixels shows the smallest and the \
             largest second in it",
            alignment_words(findings)
        ),
    })
}

/// How the device was moved before it was compared.
fn alignment_words(findings: &Findings) -> String {
    let device = findings.under_test.as_deref();
    match findings
        .alignment
        .iter()
        .find(|found| Some(found.source.as_str()) == device)
    {
        Some(found) if found.refused.is_none() => {
            // An uncertainty of zero would say too much.
            let places = if found.lag_u_s < 0.0095 { 3 } else { 2 };
            format!(
                "device moved by {} ± {} s (u) onto the reference's clock",
                crate::words::signed(-found.lag_s, places),
                decimals(found.lag_u_s, places)
            )
        }
        _ => "not aligned".to_owned(),
    }
}

/// The runs of a column as held values, minutes.
fn held(from_s: i64, column: &[Option<f64>]) -> Vec<Vec<[f64; 2]>> {
    let mut runs: Vec<Vec<[f64; 2]>> = Vec::new();
    let mut open = false;
    for (index, value) in column.iter().enumerate() {
        let Some(value) = value else {
            open = false;
            continue;
        };
        let at = (from_s + index as i64) as f64;
        if !open {
            runs.push(Vec::new());
            open = true;
        }
        if let Some(run) = runs.last_mut() {
            run.push([at / 60.0, *value]);
            run.push([(at + 1.0) / 60.0, *value]);
        }
    }
    runs
}

/// The differences in watts against the reference's level, with the tolerance as a funnel.
pub(crate) fn difference_in_watts(findings: &Findings) -> Option<Plot> {
    let treatment = findings.overall.treatment;
    let mut cells: Vec<_> = findings
        .cells
        .iter()
        .filter(|cell| cell.treatment == treatment)
        .collect();
    if cells.is_empty() {
        return None;
    }
    cells.sort_by(|a, b| a.reference_w.total_cmp(&b.reference_w));
    let limit = |sign: f64, share: &dyn Fn(&analysis::findings::Cell) -> Option<f64>| -> Vec<_> {
        cells
            .iter()
            .filter_map(|cell| {
                Some([
                    cell.reference_w,
                    sign * share(cell)? / 100.0 * cell.reference_w,
                ])
            })
            .collect()
    };
    let edges = |share: &dyn Fn(&analysis::findings::Cell) -> Option<f64>| {
        vec![limit(1.0, share), limit(-1.0, share)]
    };
    let windows = findings
        .windows
        .iter()
        .map(|window| {
            // The window's reference in the treatment that decides.
            let reference_w = window.under_test_w / (1.0 + window.difference_pct / 100.0);
            [reference_w, window.under_test_w - reference_w]
        })
        .collect();
    let layers = vec![
        Layer::Line {
            ink: Ink::Tolerance,
            label: "claimed tolerance".into(),
            runs: edges(&|cell| Some(cell.tolerance_pct)),
        },
        Layer::Line {
            ink: Ink::Uncertainty,
            label: "shown within up to here".into(),
            runs: edges(&|cell| cell.accept_within_pct),
        },
        Layer::Points {
            ink: Ink::Uncertainty,
            label: "steady windows".into(),
            points: windows,
        },
        Layer::Intervals {
            ink: Ink::UnderTest,
            label: "conditions with expanded uncertainty".into(),
            intervals: cells
                .iter()
                .map(|cell| {
                    let half = cell.expanded_pct / 100.0 * cell.reference_w;
                    [
                        cell.reference_w,
                        cell.bias_w - half,
                        cell.bias_w,
                        cell.bias_w + half,
                    ]
                })
                .collect(),
        },
    ];
    Some(Plot {
        name: "difference-in-watts",
        title: "Difference in watts against level".into(),
        x: "reference, W".into(),
        y: "device − reference, W".into(),
        layers,
        caption: format!(
            "{} conditions from {} steady windows, {}; bars are 95 % expanded uncertainties",
            cells.len(),
            findings.windows.len(),
            treatment.words()
        ),
    })
}

/// The forest of a treatment as an element of a page.
pub(crate) fn forest_on_page(findings: &Findings, treatment: Treatment, id: String) -> String {
    let height = forest::natural_height(findings, treatment, PAGE_TEXT);
    let around = Around {
        title: forest::title(findings, treatment),
        caption: String::new(),
    };
    forest::draw(findings, treatment, Sheet::on_page(id, height), &around)
}

/// The bars of the budget as an element of a page.
pub(crate) fn budget_on_page(findings: &Findings, id: String) -> String {
    let height = bars::natural_height(&findings.budget, PAGE_TEXT);
    let around = Around {
        title: bars::TITLE.to_owned(),
        caption: String::new(),
    };
    bars::draw(&findings.budget, Sheet::on_page(id, height), &around)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_ends_a_run_and_every_second_is_held() {
        let runs = held(60, &[Some(1.0), Some(2.0), None, Some(3.0)]);
        let minute = |second: f64| second / 60.0;
        assert_eq!(
            runs,
            [
                vec![
                    [minute(60.0), 1.0],
                    [minute(61.0), 1.0],
                    [minute(61.0), 2.0],
                    [minute(62.0), 2.0]
                ],
                vec![[minute(63.0), 3.0], [minute(64.0), 3.0]],
            ]
        );
    }
}
