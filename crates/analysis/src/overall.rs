//! From cells to one judgement, to the claims, and to the plots of the comparison.

use crate::assess::Compared;
use crate::claim::{Claim, Covers, PowerClaim};
use crate::evidence::Feeds;
use crate::findings::{
    Alignment, Cell, ClaimFinding, LagQuantity, Overall, Treatment, WindowFinding,
};
use crate::outcome::{Estimate, Ink, Layer, Plot};
use crate::settings::Settings;
use crate::verdict::{Judgement, Verdict};

/// The judgement over all cells: the worst cell of the deciding treatment. Cells of the warm-up
/// count only if there are no others: a device is judged warm.
pub(crate) fn overall(cells: &[Cell], treatment: Treatment) -> Overall {
    let worst = worst_cell(cells, treatment);
    let mut by_treatment = Vec::new();
    for other in [Treatment::AsIndicated, Treatment::HubReferred] {
        if let Some(index) = worst_cell(cells, other) {
            by_treatment.push((other, cells[index].verdict));
        }
    }
    let judged: Vec<&Cell> = counting(cells, treatment)
        .map(|(_, cell)| cell)
        .filter(|cell| cell.verdict != Verdict::NotTested)
        .collect();
    let verdict = worst.map_or(Verdict::NotTested, |index| cells[index].verdict);
    let cell = worst
        .map(|index| &cells[index])
        .filter(|_| verdict != Verdict::NotTested);
    let sentence = match cell {
        None => "Not tested: no condition has enough steady windows.".to_owned(),
        Some(cell) => format!(
            "{}: at {} the device reads {:+.2} % ± {:.2} % {}, claimed ±{:.2} %; worst of {} {}.",
            capital(verdict.words()),
            cell_title(cell),
            cell.bias_pct,
            cell.expanded_pct,
            treatment.words(),
            cell.tolerance_pct,
            judged.len(),
            if judged.len() == 1 {
                "condition"
            } else {
                "conditions"
            }
        ),
    };
    Overall {
        treatment,
        verdict,
        by_treatment,
        worst_cell: worst,
        p_conform: cell.map(|cell| cell.p_conform),
        bias_pct: overall_mean(&judged),
        tolerance_pct: cell.map(|cell| cell.tolerance_pct),
        cells_judged: judged.len(),
        sentence,
    }
}

/// The cells that count in a treatment.
fn counting(cells: &[Cell], treatment: Treatment) -> impl Iterator<Item = (usize, &Cell)> {
    let of = move |cell: &Cell| cell.treatment == treatment;
    let warm = |cell: &Cell| cell.feeds != Some(Feeds::Drift);
    let any_warm = cells
        .iter()
        .any(|cell| of(cell) && warm(cell) && cell.verdict != Verdict::NotTested);
    cells
        .iter()
        .enumerate()
        .filter(move |(_, cell)| of(cell) && (warm(cell) || !any_warm))
}

fn worst_cell(cells: &[Cell], treatment: Treatment) -> Option<usize> {
    counting(cells, treatment)
        .max_by(|(_, a), (_, b)| {
            a.verdict
                .rank()
                .cmp(&b.verdict.rank())
                .then(b.p_conform.total_cmp(&a.p_conform))
        })
        .map(|(index, _)| index)
}

/// Mean over cells weighted by time. What the cells have in common does not average out: the
/// uncertainty is the weighted mean of the systematic parts with the scatter of the whole.
fn overall_mean(cells: &[&Cell]) -> Option<Estimate> {
    let total: f64 = cells.iter().map(|cell| cell.seconds).sum();
    if total <= 0.0 {
        return None;
    }
    let weighted = |pick: &dyn Fn(&Cell) -> f64| {
        cells
            .iter()
            .map(|cell| cell.seconds / total * pick(cell))
            .sum::<f64>()
    };
    let scatter: f64 = cells
        .iter()
        .map(|cell| (cell.seconds / total * cell.u_a_pct).powi(2))
        .sum();
    let common = weighted(&|cell| (cell.u_pct.powi(2) - cell.u_a_pct.powi(2)).max(0.0).sqrt());
    let dof = cells.iter().map(|cell| cell.dof).fold(f64::MAX, f64::min);
    Some(Estimate {
        value: weighted(&|cell| cell.bias_pct),
        u: scatter.sqrt().hypot(common),
        dof,
    })
}

/// Judges the claims of the sheet; without a sheet, the limit that was assumed.
pub(crate) fn claims(
    settings: &Settings,
    cells: &[Cell],
    windows: &[WindowFinding],
    overall: &Overall,
) -> Vec<ClaimFinding> {
    let assumed = [Claim::PowerAccuracy(PowerClaim::assumed())];
    let claims = if settings.claims.is_empty() {
        &assumed[..]
    } else {
        &settings.claims
    };
    let in_force = settings.power_claim();
    claims
        .iter()
        .map(|claim| match claim {
            Claim::PowerAccuracy(claim) => {
                let re_judged = (*claim != in_force)
                    .then(|| re_judge(settings, claim, cells, overall.treatment));
                let (cells, treatment) = match &re_judged {
                    Some((cells, treatment)) => (cells.as_slice(), *treatment),
                    None => (cells, overall.treatment),
                };
                power_claim(settings, claim, cells, windows, treatment)
            }
        })
        .collect()
}

/// The same cells against another tolerance and range.
fn re_judge(
    settings: &Settings,
    claim: &PowerClaim,
    cells: &[Cell],
    treatment: Treatment,
) -> (Vec<Cell>, Treatment) {
    let rule = &settings.decision;
    let cells = cells
        .iter()
        .map(|cell| {
            let mut cell = cell.clone();
            cell.tolerance_pct = claim
                .tolerance
                .half_width_pct(cell.reference_w.max(1.0))
                .unwrap_or(0.0);
            let judged = rule.judge(cell.bias_pct, cell.u_pct, cell.dof, cell.tolerance_pct);
            let enough = cell.windows >= rule.min_windows && claim.applies_at(cell.level_w);
            cell.verdict = if enough {
                judged.verdict
            } else {
                Verdict::NotTested
            };
            cell.p_conform = judged.p_conform;
            cell
        })
        .collect::<Vec<_>>();
    let wanted = match claim.location {
        crate::claim::ClaimLocation::Crank => Treatment::AsIndicated,
        _ => Treatment::HubReferred,
    };
    let there = cells.iter().any(|cell| cell.treatment == wanted);
    (cells, if there { wanted } else { treatment })
}

fn power_claim(
    settings: &Settings,
    claim: &PowerClaim,
    cells: &[Cell],
    windows: &[WindowFinding],
    treatment: Treatment,
) -> ClaimFinding {
    let rule = &settings.decision;
    let blank = ClaimFinding {
        name: claim.name.clone(),
        text: claim.text.clone(),
        limit: claim.tolerance.words(),
        measured: None,
        expanded: None,
        unit: "% of the reference",
        verdict: Verdict::NotTested,
        rule: format!(
            "Judged {} by {}. {}",
            treatment.words(),
            claim.covers.words(),
            rule.words()
        ),
        remark: "no condition in the range of the claim has enough steady windows".into(),
    };
    let judged = |judged: Judgement, error: f64, remark: String| ClaimFinding {
        measured: Some(error),
        expanded: Some(judged.expanded),
        verdict: judged.verdict,
        remark,
        ..blank.clone()
    };
    match claim.covers {
        Covers::EachLevel => {
            let Some(cell) = worst_cell(cells, treatment)
                .map(|index| &cells[index])
                .filter(|cell| cell.verdict != Verdict::NotTested)
            else {
                return blank;
            };
            let mut remark = format!("decided by {}", cell_title(cell));
            if let Some(words) = &cell.remark {
                remark = format!("{remark}; {words}");
            }
            ClaimFinding {
                measured: Some(cell.bias_pct),
                expanded: Some(cell.expanded_pct),
                verdict: cell.verdict,
                remark,
                ..blank
            }
        }
        Covers::EveryWindow => windows
            .iter()
            .filter(|window| claim.applies_at(window.level_w))
            .filter_map(|window| {
                let tolerance = claim.tolerance.half_width_pct(window.reference_w)?;
                let k = rule.coverage.factor(f64::MAX);
                // The window's own degrees of freedom are in its expanded uncertainty.
                let u = (window.expanded_pct / k).max(window.u_pct);
                Some((
                    window,
                    rule.judge(window.difference_pct, u, f64::MAX, tolerance),
                ))
            })
            .max_by(|(_, a), (_, b)| {
                a.verdict
                    .rank()
                    .cmp(&b.verdict.rank())
                    .then(b.p_conform.total_cmp(&a.p_conform))
            })
            .filter(|_| windows.len() >= rule.min_windows)
            .map_or(blank.clone(), |(window, found)| {
                let remark = format!(
                    "decided by the window from {:.0} s at {:.0} W",
                    window.from_s, window.level_w
                );
                judged(found, window.difference_pct, remark)
            }),
        Covers::OverallMean => {
            let counted: Vec<&Cell> = counting(cells, treatment)
                .map(|(_, cell)| cell)
                .filter(|cell| cell.verdict != Verdict::NotTested)
                .collect();
            let Some(mean) = overall_mean(&counted) else {
                return blank;
            };
            let total: f64 = counted.iter().map(|cell| cell.seconds).sum();
            let tolerance = counted
                .iter()
                .map(|cell| cell.tolerance_pct * cell.seconds / total)
                .sum();
            let remark = format!("mean over {} conditions, weighted by time", counted.len());
            judged(
                rule.judge(mean.value, mean.u, mean.dof, tolerance),
                mean.value,
                remark,
            )
        }
    }
}

fn cell_title(cell: &Cell) -> String {
    let mut words = format!("{:.0} W", cell.level_w);
    if let Some(rpm) = cell.cadence_rpm {
        words += &format!(", {rpm:.0} rpm");
    }
    if let Some(kmh) = cell.speed_kmh {
        words += &format!(", {kmh:.0} km/h");
    }
    words
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The plots of the comparison as a whole.
pub(crate) fn plots(compared: &Compared, overall: &Overall, alignment: &[Alignment]) -> Vec<Plot> {
    let mut plots = Vec::new();
    if !compared.cells.is_empty() {
        plots.push(by_level(compared, overall));
        plots.push(over_time(compared, overall));
    }
    if alignment.iter().any(|found| found.segments.len() > 1) {
        plots.push(lags(alignment));
    }
    plots
}

fn by_level(compared: &Compared, overall: &Overall) -> Plot {
    let cells: Vec<&Cell> = compared
        .cells
        .iter()
        .filter(|cell| cell.treatment == overall.treatment)
        .collect();
    let mut layers = tolerance_layers(
        cells
            .iter()
            .map(|cell| (cell.level_w, cell.tolerance_pct))
            .collect(),
    );
    layers.push(Layer::Intervals {
        ink: Ink::UnderTest,
        label: "difference with expanded uncertainty".into(),
        intervals: cells
            .iter()
            .map(|cell| {
                [
                    cell.level_w,
                    cell.bias_pct - cell.expanded_pct,
                    cell.bias_pct,
                    cell.bias_pct + cell.expanded_pct,
                ]
            })
            .collect(),
    });
    Plot {
        name: "difference-by-level",
        title: "Difference by level".into(),
        x: "level, W".into(),
        y: "device − reference, % of reference".into(),
        layers,
        caption: format!(
            "{} conditions, {} steady windows, {}; bars are 95 % expanded uncertainties",
            cells.len(),
            compared.windows.len(),
            overall.treatment.words()
        ),
    }
}

fn over_time(compared: &Compared, overall: &Overall) -> Plot {
    let mut layers: Vec<Layer> = compared
        .exclusions
        .iter()
        .map(|exclusion| Layer::Span {
            ink: Ink::Excluded,
            label: exclusion.reason.clone(),
            from: exclusion.from_s / 60.0,
            to: exclusion.to_s / 60.0,
        })
        .collect();
    let middle = |window: &WindowFinding| (window.from_s + window.to_s) / 120.0;
    layers.extend(tolerance_layers(
        compared
            .windows
            .iter()
            .map(|window| (middle(window), window.tolerance_pct))
            .collect(),
    ));
    layers.push(Layer::Intervals {
        ink: Ink::UnderTest,
        label: "window mean with expanded uncertainty".into(),
        intervals: compared
            .windows
            .iter()
            .map(|window| {
                [
                    middle(window),
                    window.difference_pct - window.expanded_pct,
                    window.difference_pct,
                    window.difference_pct + window.expanded_pct,
                ]
            })
            .collect(),
    });
    Plot {
        name: "difference-over-time",
        title: "Difference over time".into(),
        x: "time, min".into(),
        y: "device − reference, % of reference".into(),
        layers,
        caption: format!(
            "{} steady windows, {}; excluded spans carry their reason",
            compared.windows.len(),
            overall.treatment.words()
        ),
    }
}

/// A band where the tolerance is one number, else the two edges as lines.
fn tolerance_layers(mut edges: Vec<(f64, f64)>) -> Vec<Layer> {
    edges.sort_by(|a, b| a.0.total_cmp(&b.0));
    let Some(&(_, first)) = edges.first() else {
        return Vec::new();
    };
    let mut layers = vec![Layer::Level {
        ink: Ink::Reference,
        label: String::new(),
        at: 0.0,
    }];
    if edges.iter().all(|(_, edge)| (edge - first).abs() < 1e-9) {
        layers.push(Layer::Band {
            ink: Ink::Tolerance,
            label: "claimed tolerance".into(),
            low: -first,
            high: first,
        });
    } else {
        let edge = |sign: f64| edges.iter().map(|&(x, edge)| [x, sign * edge]).collect();
        layers.push(Layer::Line {
            ink: Ink::Tolerance,
            label: "claimed tolerance".into(),
            runs: vec![edge(1.0), edge(-1.0)],
        });
    }
    layers
}

fn lags(alignment: &[Alignment]) -> Plot {
    let inks = [Ink::UnderTest, Ink::SecondReference, Ink::Fit];
    let mut layers = Vec::new();
    for (place, found) in alignment.iter().enumerate() {
        for (quantity, word) in [
            (LagQuantity::Power, "power"),
            (LagQuantity::Cadence, "cadence"),
        ] {
            let intervals: Vec<[f64; 4]> = found
                .segments
                .iter()
                .filter(|segment| segment.quantity == quantity)
                .map(|segment| {
                    let half = 2.0 * segment.u_s;
                    [
                        segment.middle_s / 60.0,
                        segment.lag_s - half,
                        segment.lag_s,
                        segment.lag_s + half,
                    ]
                })
                .collect();
            if !intervals.is_empty() {
                layers.push(Layer::Intervals {
                    ink: inks[place.min(inks.len() - 1)],
                    label: format!("{}, {word}", found.source),
                    intervals,
                });
            }
        }
    }
    Plot {
        name: "lag-by-segment",
        title: "Lag against the primary reference".into(),
        x: "time, min".into(),
        y: "lag, s (positive: late)".into(),
        layers,
        caption: "least variance of the difference, by segment; bars are ±2 u".into(),
    }
}
