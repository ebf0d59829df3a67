//! From cells to one judgement, and to the claims.

use crate::budget;
use crate::claim::{Claim, Covers, PowerClaim};
use crate::evidence::Feeds;
use crate::examinations::Examinations;
use crate::findings::{Cell, ClaimFinding, Overall, Treatment, WindowFinding};
use crate::outcome::Estimate;
use crate::settings::Settings;
use crate::stats::common_factor::largest_quantile;
use crate::stats::normal::normal_quantile;
use crate::verdict::{DecisionRule, Judgement, Verdict};

/// What forbids any verdict on this recording, in words.
pub(crate) fn blocks(examinations: &Examinations) -> Vec<String> {
    let mut reasons = Vec::new();
    if let Ok(found) = &examinations.consistency
        && found.result.references_disagree
    {
        let pairs = found
            .result
            .pairs
            .iter()
            .filter(|pair| pair.both_references);
        for (pair, e_n) in pairs.filter_map(|pair| Some((pair, pair.e_n.filter(|e| *e > 1.0)?))) {
            reasons.push(format!(
                "the references disagree: {} reads {:+.2} % against {}, {e_n:.1} times what their \
                 uncertainties allow; find out which one is wrong",
                pair.b, pair.difference_pct.value, pair.a
            ));
        }
    }
    if let Ok(found) = &examinations.assurance {
        let blocking = found.result.concerns.iter().filter(|it| it.blocks);
        reasons.extend(blocking.map(|it| it.words.clone()));
    }
    reasons
}

/// Takes the verdicts back where something forbids them; the numbers stay.
pub(crate) fn block(cells: &mut [Cell], blocked_by: &[String]) {
    if blocked_by.is_empty() {
        return;
    }
    for cell in cells
        .iter_mut()
        .filter(|cell| cell.verdict != Verdict::NotTested)
    {
        cell.verdict = Verdict::BenchNotCapable;
        cell.accept_within_pct = None;
        cell.remark = Some(blocked_by.join("; "));
    }
}

/// The judgement over all cells: the worst cell of the deciding treatment. Cells of the warm-up
/// count only if there are no others: a device is judged warm.
pub(crate) fn overall(
    cells: &[Cell],
    treatment: Treatment,
    rule: &DecisionRule,
    blocked_by: Vec<String>,
) -> Overall {
    let worst = worst_cell(cells, treatment);
    let mut by_treatment = Vec::new();
    for other in [Treatment::AsIndicated, Treatment::HubReferred] {
        if let Some(index) = worst_cell(cells, other) {
            by_treatment.push((other, verdict_of_all(cells, other, index, rule)));
        }
    }
    let judged: Vec<&Cell> = counting(cells, treatment)
        .map(|(_, cell)| cell)
        .filter(|cell| cell.verdict != Verdict::NotTested)
        .collect();
    let verdict = worst.map_or(Verdict::NotTested, |index| {
        verdict_of_all(cells, treatment, index, rule)
    });
    let cell = worst
        .map(|index| &cells[index])
        .filter(|_| verdict != Verdict::NotTested);
    let sentence = match cell {
        Some(_) if !blocked_by.is_empty() => format!("No verdict: {}.", blocked_by.join("; ")),
        None => "Not tested: no condition has enough steady windows.".to_owned(),
        Some(cell) => format!(
            "{}: at {} the device reads {:+.2} % ± {:.2} % {}, claimed ±{:.2} %; worst of {} {}{}.",
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
            },
            if verdict == cell.verdict {
                ""
            } else {
                ", one of which chance puts as far out often enough"
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
        blocked_by,
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

/// The verdict over all cells, of which `worst` is the worst. One of several cells lies beyond by
/// chance more often than a given one: *shown beyond* is said of the whole only where so large an
/// error in any of its cells would be as rare as the rule demands, with what the cells have in
/// common taken into account. *Shown within* needs all cells, so that no such care is needed.
fn verdict_of_all(
    cells: &[Cell],
    treatment: Treatment,
    worst: usize,
    rule: &DecisionRule,
) -> Verdict {
    let verdict = cells[worst].verdict;
    let judged: Vec<&Cell> = counting(cells, treatment)
        .map(|(_, cell)| cell)
        .filter(|cell| cell.verdict != Verdict::NotTested && cell.u_pct > 0.0)
        .collect();
    if verdict != Verdict::ShownBeyond || judged.len() < 2 {
        return verdict;
    }
    let common: Vec<f64> = judged
        .iter()
        .map(|cell| common_share(cell, &judged))
        .collect();
    let limit = largest_quantile(&common, rule.shown_at);
    // How far out each lies, as the standard normal deviate of the same probability.
    let farthest = judged
        .iter()
        .map(|cell| {
            let inside = (cell.tolerance_pct - cell.bias_pct.abs()) / cell.u_pct;
            let chance = rule.coverage.probability(inside, cell.dof);
            -normal_quantile(chance.clamp(1e-300, 1.0 - 1e-16))
        })
        .fold(f64::MIN, f64::max);
    if farthest >= limit {
        verdict
    } else {
        Verdict::LikelyBeyond
    }
}

/// The share of a cell's variance that it has in common with the other cells: of every term that is
/// drawn once for all, as much as the cell with the least of it has. A zero that is off weighs more
/// at low power, and what it weighs more there the others do not share.
fn common_share(cell: &Cell, judged: &[&Cell]) -> f64 {
    let common: f64 = cell
        .budget
        .iter()
        .filter(|term| !budget::is_own(&term.term))
        .map(|term| {
            judged
                .iter()
                .map(|other| {
                    let same = other.budget.iter().find(|it| it.term == term.term);
                    same.map_or(0.0, |it| it.u_pct)
                })
                .fold(term.u_pct, f64::min)
                .powi(2)
        })
        .sum();
    (common / cell.u_pct.powi(2)).clamp(0.0, 1.0)
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

/// Judges the claims of power accuracy; without any on the sheet, the limit that was assumed.
pub(crate) fn power_claims(
    settings: &Settings,
    cells: &[Cell],
    windows: &[WindowFinding],
    overall: &Overall,
) -> Vec<ClaimFinding> {
    let in_force = settings.power_claim();
    let of_power = |claim: &Claim| match claim {
        Claim::PowerAccuracy(claim) => Some(claim.clone()),
        Claim::Measurable(_) => None,
    };
    let mut claims: Vec<PowerClaim> = settings.claims.iter().filter_map(of_power).collect();
    if claims.is_empty() {
        claims.push(PowerClaim::assumed());
    }
    claims
        .iter()
        .map(|claim| {
            let re_judged =
                (*claim != in_force).then(|| re_judge(settings, claim, cells, overall.treatment));
            let (cells, treatment) = match &re_judged {
                Some((cells, treatment)) => (cells.as_slice(), *treatment),
                None => (cells, overall.treatment),
            };
            let mut found = power_claim(settings, claim, cells, windows, treatment);
            if !overall.blocked_by.is_empty() && found.verdict != Verdict::NotTested {
                found.verdict = Verdict::BenchNotCapable;
                found.remark = overall.blocked_by.join("; ");
            }
            found
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
        ) + &claimed_in(claim),
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
            let Some(worst) = worst_cell(cells, treatment)
                .filter(|index| cells[*index].verdict != Verdict::NotTested)
            else {
                return blank;
            };
            let cell = &cells[worst];
            let mut remark = format!("decided by {}", cell_title(cell));
            if let Some(words) = &cell.remark {
                remark = format!("{remark}; {words}");
            }
            ClaimFinding {
                measured: Some(cell.bias_pct),
                expanded: Some(cell.expanded_pct),
                verdict: verdict_of_all(cells, treatment, worst, rule),
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

/// Where the claim was read and what it presupposes, as far as the sheet says so.
fn claimed_in(claim: &PowerClaim) -> String {
    let mut words = String::new();
    if !claim.text.is_empty() && !claim.source.is_empty() {
        words += &format!(" Claimed in: {}.", claim.source);
    }
    if !claim.conditions.is_empty() {
        words += &format!(" Under: {}.", claim.conditions.join("; "));
    }
    words
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
