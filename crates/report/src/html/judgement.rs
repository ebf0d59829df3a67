//! Claims, decision rule, conditions and uncertainty.

use super::markup::{
    Figure, Row, Safe, Set, Stress, heading, join, known, ours, p, pairs, quiet, table, text,
    verdict,
};
use super::page::Page;
use crate::pictures;
use crate::svg::{bars, forest};
use crate::words::{self, NOTHING, decimals, signed, some};
use analysis::findings::{BudgetTerm, Cell, ClaimFinding, Treatment};
use analysis::verdict::Verdict;

/// The claims with their verdicts, and the conditions against the claim.
pub(super) fn claims(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let columns = [
        ("claim", Set::Words),
        ("in the maker’s words", Set::Words),
        ("limit", Set::Words),
        ("measured", Set::Numbers),
        ("verdict", Set::Words),
    ];
    let mut told = Vec::new();
    let rows = findings.claims.iter().map(|claim| {
        // An error has a sign, a mass has none.
        let is_error = claim.unit.starts_with('%');
        let measured = match (claim.measured, claim.expanded) {
            (Some(value), Some(expanded)) if is_error => {
                format!("{} ± {}", signed(value, 2), decimals(expanded, 2))
            }
            (Some(value), Some(expanded)) => words::with_uncertainty(value, expanded),
            (Some(value), None) if is_error => signed(value, 2),
            (Some(value), None) => words::figures(value),
            _ => NOTHING.to_owned(),
        };
        let unit = if claim.measured.is_some() {
            claim.unit
        } else {
            ""
        };
        let words = if claim.text.is_empty() {
            text("no published claim: the tester’s own limit")
        } else {
            ours(format!("“{}”", text(&claim.text)))
        };
        let remark = words::sentence_case(claim.remark.trim_end_matches('.'));
        let note = format!("{remark}. {}", rule_once(claim, &mut told));
        Row {
            note: Some(text(&words::tied(&note))),
            ..Row::new(vec![
                text(&claim.name),
                words,
                text(&claim.limit),
                ours(format!(
                    "{}<br/><span class=\"quiet\">{}</span>",
                    text(&measured),
                    text(unit)
                )),
                verdict(claim.verdict),
            ])
        }
    });
    let rows: Vec<Row> = rows.collect();
    let mut parts = vec![if rows.is_empty() {
        p("No claim was judged.")
    } else {
        table(&columns, rows)
    }];
    for (index, treatment) in pictures::treatments(findings).into_iter().enumerate() {
        let id = format!("forest-{index}");
        let decides = if findings.overall.treatment == treatment {
            "This treatment decides. The condition in bold is the worst one and decides for all."
        } else {
            "For comparison; this treatment does not decide."
        };
        let title = format!("Every condition against the claim, {}", treatment.words());
        parts.push(
            Figure {
                picture: pictures::forest_on_page(findings, treatment, id.clone()),
                id: format!("figure-{id}"),
                title: &title,
                caption: decides,
                words: forest::sentence(findings, treatment),
                rows: Vec::new(),
                axes: ["", ""],
            }
            .draw(),
        );
    }
    join(parts)
}

/// The rule of a claim. Where it is that of a claim above, that one is named and only what is this
/// claim's own is said.
fn rule_once<'f>(claim: &'f ClaimFinding, told: &mut Vec<(&'f str, &'f str)>) -> String {
    let own = [" Claimed in: ", " Under: "]
        .iter()
        .filter_map(|head| claim.rule.find(head))
        .min()
        .unwrap_or(claim.rule.len());
    let (rule, own) = claim.rule.split_at(own);
    match told.iter().find(|(known, _)| *known == rule) {
        Some((_, name)) => format!("Judged as “{name}”.{own}"),
        None => {
            told.push((rule, &claim.name));
            claim.rule.clone()
        }
    }
}

/// The rule and the words it uses.
pub(super) fn rule(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let document = page.facts.about.decision_rule.as_ref();
    let fixed = match document {
        Some(document) => format!(
            "The rule was stored in the session before the first sample as “{}” (SHA-256 {}).",
            document.name,
            document.sha256()
        ),
        None => {
            "The session holds no document of the rule; it is the program’s default.".to_owned()
        }
    };
    let words: Vec<Row> = Verdict::ALL
        .into_iter()
        .map(|state| Row::new(vec![verdict(state), text(state.meaning())]))
        .collect();
    join([
        p(&findings.rule),
        quiet(&fixed),
        heading("The six words"),
        table(&[("word", Set::Words), ("meaning", Set::Words)], words),
    ])
}

/// The conditions as tables, one per treatment.
pub(super) fn conditions(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let mut parts = Vec::new();
    for treatment in pictures::treatments(findings) {
        let decides = findings.overall.treatment == treatment;
        let suffix = if decides { " (decides)" } else { "" };
        parts.push(heading(&words::sentence_case(&format!(
            "{}{suffix}",
            treatment.words()
        ))));
        parts.push(quiet(match treatment {
            Treatment::AsIndicated => {
                "Device minus reference as both indicate. Where the drivetrain lies between them, \
                 its loss is in the difference."
            }
            Treatment::HubReferred => {
                "The reference reduced by the assumed loss of the drivetrain. The bench cannot \
                 measure that loss; its uncertainty is in the budget."
            }
        }));
        let cells = findings.cells.iter().enumerate();
        let rows = cells
            .filter(|(_, cell)| cell.treatment == treatment)
            .map(|(index, cell)| condition(cell, findings.overall.worst_cell == Some(index)));
        parts.push(table(&COLUMNS, rows.collect()));
    }
    if parts.is_empty() {
        return p("No condition has a steady window of device and reference together.");
    }
    parts.push(ours(
        "<p class=\"small quiet\">u<sub>A</sub>: standard uncertainty from scatter alone, with the \
         autocorrelation of the seconds (n<sub>eff</sub>: effective number of independent \
         seconds). U: expanded uncertainty, k times the combined standard uncertainty, 95 %. T: \
         half-width of the tolerance. p: probability that the error is within ±T. Percentages are \
         of the reference. Bold: the condition that decides.</p>\n"
            .to_owned(),
    ));
    join(parts)
}

const COLUMNS: [(&str, Set); 14] = [
    ("W", Set::Numbers),
    ("rpm", Set::Numbers),
    ("km/h", Set::Numbers),
    ("windows", Set::Numbers),
    ("n eff", Set::Numbers),
    ("reference, W", Set::Numbers),
    ("device, W", Set::Numbers),
    ("error, W", Set::Numbers),
    ("error, %", Set::Numbers),
    ("uA, %", Set::Numbers),
    ("U, % (k)", Set::Numbers),
    ("T, %", Set::Numbers),
    ("p", Set::Numbers),
    ("verdict", Set::Words),
];

fn condition(cell: &Cell, decides: bool) -> Row {
    let judged = cell.verdict != Verdict::NotTested;
    let p = if judged {
        words::short_probability(cell.p_conform)
    } else {
        NOTHING.to_owned()
    };
    let cells = vec![
        text(&decimals(cell.level_w, 0)),
        text(&some(cell.cadence_rpm, 0)),
        text(&some(cell.speed_kmh, 1)),
        text(&cell.windows.to_string()),
        text(&decimals(cell.n_eff, 0)),
        text(&decimals(cell.reference_w, 1)),
        text(&decimals(cell.under_test_w, 1)),
        text(&signed(cell.bias_w, 1)),
        text(&signed(cell.bias_pct, 2)),
        text(&decimals(cell.u_a_pct, 2)),
        text(&format!(
            "{} ({})",
            decimals(cell.expanded_pct, 2),
            decimals(cell.k, 2)
        )),
        text(&words::short(cell.tolerance_pct)),
        text(&p),
        verdict(cell.verdict),
    ];
    Row {
        cells,
        stress: if decides {
            Stress::Decides
        } else {
            Stress::None
        },
        note: cell
            .remark
            .as_deref()
            .map(|remark| text(&words::sentence_case(remark))),
    }
}

/// The budget of the condition that decides.
pub(super) fn uncertainty(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let shares = bars::shares(&findings.budget);
    let Some(first) = shares.first() else {
        return p("There is no budget: no condition was judged.");
    };
    let cell = findings
        .overall
        .worst_cell
        .and_then(|index| findings.cells.get(index));
    let of = cell.map_or_else(String::new, |cell| {
        format!(" at {}", forest::condition(cell))
    });
    let sentence = format!(
        "The dominant term is {}, with {} % of the variance. To decide more, reduce this one first.",
        first.term.term,
        decimals(100.0 * first.share, 0)
    );
    let caption = format!(
        "The condition that decides{of}. Bars are laid end to end and add up to the combined \
         variance; the dominant term is drawn dark."
    );
    let figure = Figure {
        id: "figure-budget".to_owned(),
        title: "",
        picture: pictures::budget_on_page(findings, "budget".to_owned()),
        caption: &caption,
        words: bars::sentence(&findings.budget),
        rows: Vec::new(),
        axes: ["", ""],
    };
    let columns = [
        ("term", Set::Words),
        ("u, %", Set::Numbers),
        ("degrees of freedom", Set::Numbers),
        ("where the number comes from", Set::Words),
    ];
    let rows = shares.iter().map(|share| term(share.term)).collect();
    let mut parts = vec![p(&sentence), figure.draw(), table(&columns, rows)];
    if let Some(cell) = cell {
        parts.push(pairs(vec![
            (
                "combined standard uncertainty",
                text(&format!("{} %", decimals(cell.u_pct, 3))),
            ),
            ("effective degrees of freedom", text(&freedom(cell.dof))),
            ("coverage factor k", text(&decimals(cell.k, 2))),
            (
                "expanded uncertainty U",
                text(&format!("{} %", decimals(cell.expanded_pct, 2))),
            ),
            (
                "tolerance over U",
                text(&decimals(cell.capability.min(999.0), 2)),
            ),
            (
                "largest error that would be shown within",
                known(
                    cell.accept_within_pct
                        .map(|limit| format!("±{} %", decimals(limit, 2)))
                        .as_deref(),
                ),
            ),
            (
                "smallest error that would be shown beyond",
                text(&format!("±{} %", decimals(cell.reject_beyond_pct, 2))),
            ),
        ]));
    }
    parts.push(quiet(
        "Terms are standard uncertainties in percent of the reference, taken as uncorrelated and \
         combined after the GUM (root sum of squares; degrees of freedom by Welch and \
         Satterthwaite).",
    ));
    join(parts)
}

fn term(term: &BudgetTerm) -> Row {
    Row::new(vec![
        text(&term.term),
        text(&decimals(term.u_pct, 3)),
        text(&freedom(term.dof)),
        known(Some(&term.source)),
    ])
}

fn freedom(dof: f64) -> String {
    match dof {
        dof if dof >= f64::MAX || !dof.is_finite() => "infinite".to_owned(),
        dof if dof > 1000.0 => "> 1000".to_owned(),
        dof => decimals(dof, 0),
    }
}
