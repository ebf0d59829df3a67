//! The top of the report: what was found, in words that need no training.

use super::markup::{self, Safe, join, ours, p, quiet};
use super::page::Page;
use crate::svg::{bars, forest};
use crate::words::{self, count, decimals, escape, length, signed};
use analysis::examinations::DropOutKind;
use analysis::findings::{Cell, Findings, Treatment};
use analysis::verdict::Verdict;

/// The summary.
pub(super) fn summary(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let mut parts = Vec::new();
    let device = findings
        .under_test
        .as_deref()
        .unwrap_or("No device under test");
    parts.push(ours(format!("<h1>{}</h1>\n", escape(device))));
    parts.push(markup::tall_verdict(
        findings.overall.verdict,
        &claim_words(findings),
    ));
    parts.push(p(&compared(page)));
    parts.push(p(&meaning(findings)));
    if let Some(words) = on_average(findings) {
        parts.push(p(&words));
    }
    if let Some(words) = claims(findings) {
        parts.push(p(&words));
    }
    if let Some(words) = doubt(findings) {
        parts.push(p(&words));
    }
    parts.push(p(&beside(findings)));
    parts.push(quiet(
        "This holds for the one unit that was tested, under the conditions that were ridden. The \
         tester is not an accredited laboratory, and this report does not make them one.",
    ));
    parts.push(facts(findings));
    ours(format!(
        "<section class=\"plain\" id=\"summary\" aria-label=\"Summary\">\n{}</section>\n",
        join(parts)
    ))
}

/// " the claimed ±2 %", as far as there is a tolerance.
fn claim_words(findings: &Findings) -> String {
    let claimed = match findings.claims.first() {
        Some(claim) if claim.text.is_empty() => format!(" {} (tester’s limit)", claim.limit),
        Some(claim) => format!(" the claimed {}", claim.limit),
        None => return String::new(),
    };
    match findings.overall.verdict {
        Verdict::BenchNotCapable => format!(" of deciding{claimed}"),
        Verdict::NotTested => String::new(),
        _ => claimed,
    }
}

fn deciding(findings: &Findings) -> Option<&Cell> {
    let cell = findings.cells.get(findings.overall.worst_cell?)?;
    (cell.verdict != Verdict::NotTested).then_some(cell)
}

fn compared(page: &Page<'_>) -> String {
    let findings = page.findings;
    let device = findings.under_test.as_deref().unwrap_or("The device");
    let Some(reference) = findings.reference.as_deref() else {
        return format!("{device} was recorded for {}.", length(findings.duration_s));
    };
    let when = page
        .facts
        .about
        .started
        .map_or_else(String::new, |started| {
            format!(" on {}", started.format("%-d %B %Y"))
        });
    let judged = findings.overall.cells_judged;
    let treatment = findings.overall.treatment;
    let levels = || {
        let cells = findings
            .cells
            .iter()
            .filter(move |cell| cell.treatment == treatment);
        cells.filter(|cell| cell.verdict != Verdict::NotTested)
    };
    let low = levels().map(|cell| cell.level_w).fold(f64::MAX, f64::min);
    let high = levels().map(|cell| cell.level_w).fold(0.0, f64::max);
    let held = match judged {
        0 => "No load was held steady for long enough to be judged.".to_owned(),
        1 => format!(
            "One load, {} W, was held steady for long enough to be judged.",
            decimals(low, 0)
        ),
        _ => format!(
            "{} conditions, each a load at a cadence and a speed, between {} and {} W were held steady \
             for long enough to be judged.",
            words::sentence_case(&words::spelled(judged)),
            decimals(low, 0),
            decimals(high, 0)
        ),
    };
    format!(
        "{device} was compared with {reference} for {}{when}, second by second on one clock. {held}",
        length(findings.duration_s)
    )
}

fn meaning(findings: &Findings) -> String {
    let verdict = findings.overall.verdict;
    let Some(cell) = deciding(findings) else {
        let why = findings
            .not_tested
            .iter()
            .find(|not| not.examination == "comparison");
        let why = why.map_or_else(String::new, |not| {
            format!(" The reason: {}.", not.reason.trim_end_matches('.'))
        });
        return format!("So nothing can be said about the claim.{why}");
    };
    let at = format!("at {}", spoken(cell));
    let shift = if cell.bias_w >= 0.0 {
        "too much"
    } else {
        "too little"
    };
    let there = format!(
        "{at} it showed {} W {shift}, an error of {} %, known to ±{} %",
        decimals(cell.bias_w.abs(), 1),
        signed(cell.bias_pct, 1),
        decimals(cell.expanded_pct, 1)
    );
    let claim = format!("±{} %", words::short(cell.tolerance_pct));
    match verdict {
        Verdict::ShownWithin => format!(
            "Everywhere the device kept to the limit, and the measurement is good enough to say so: \
             even where it was furthest out – {there} – the chance that its true error is within \
             {claim} is {}.",
            words::chance(cell.p_conform)
        ),
        Verdict::LikelyWithin => format!(
            "What was measured lies inside the limit, but not so clearly that it is shown: {there}. \
             The chance that its true error there is within {claim} is {}. That is no fault that was \
             found, and no proof either.",
            words::chance(cell.p_conform)
        ),
        Verdict::LikelyBeyond => format!(
            "{}. That is outside {claim}, but the measurement is not good enough to show it: the \
             chance that the true error is within after all is {}.",
            words::sentence_case(&there),
            words::chance(cell.p_conform)
        ),
        Verdict::ShownBeyond => format!(
            "{}. That is outside {claim} even when every known doubt about the measurement is \
             granted: the chance that the true error is within after all is {}.",
            words::sentence_case(&there),
            words::chance(cell.p_conform)
        ),
        Verdict::BenchNotCapable => format!(
            "The doubt about this bench is as large as the limit of {claim}: even a perfect device \
             could not have been shown to keep to it. What was seen: {there}."
        ),
        Verdict::NotTested => "So nothing can be said about the claim.".to_owned(),
    }
}

fn on_average(findings: &Findings) -> Option<String> {
    let mean = findings.overall.bias_pct.as_ref()?;
    if findings.overall.cells_judged < 2 {
        return None;
    }
    let treatment = match findings.overall.treatment {
        Treatment::AsIndicated => "as both indicate",
        Treatment::HubReferred => {
            "after allowing for what the chain takes between pedals and hub, which is assumed and \
             not measured"
        }
    };
    let direction = if mean.value >= 0.0 { "more" } else { "less" };
    Some(format!(
        "Averaged over all of them it read {} % {direction} than the reference (standard \
         uncertainty {} %), {treatment}.",
        decimals(mean.value.abs(), 1),
        decimals(mean.u, 1)
    ))
}

/// A condition in a sentence.
fn spoken(cell: &Cell) -> String {
    let parts: Vec<String> = [
        Some(format!("{} W", decimals(cell.level_w, 0))),
        cell.cadence_rpm
            .map(|rpm| format!("{} rpm", decimals(rpm, 0))),
        cell.speed_kmh
            .map(|kmh| format!("{} km/h", decimals(kmh, 0))),
    ]
    .into_iter()
    .flatten()
    .collect();
    words::listed(&parts)
}

/// The verdicts of a sheet of several claims, in one sentence.
fn claims(findings: &Findings) -> Option<String> {
    if findings.claims.len() < 2 {
        return None;
    }
    let parts: Vec<String> = Verdict::ALL
        .into_iter()
        .filter_map(|verdict| {
            let of_it = findings
                .claims
                .iter()
                .filter(|claim| claim.verdict == verdict);
            let names: Vec<String> = of_it.map(|claim| format!("“{}”", claim.name)).collect();
            (!names.is_empty()).then(|| {
                let is = if names.len() == 1 { "is" } else { "are" };
                format!("{} {is} {}", words::listed(&names), verdict.words())
            })
        })
        .collect();
    Some(format!(
        "Of the {} claims that were put to the test, {}.",
        words::spelled(findings.claims.len()),
        parts.join("; ")
    ))
}

fn doubt(findings: &Findings) -> Option<String> {
    let shares = bars::shares(&findings.budget);
    let first = shares.first()?;
    Some(format!(
        "What limits the measurement most is “{}”: {} % of the doubt comes from it (of the variance, \
         where the error is largest). Every doubt stands with its size and its source under \
         “Uncertainty budget”.",
        first.term.term,
        decimals(100.0 * first.share, 0)
    ))
}

fn beside(findings: &Findings) -> String {
    let faults: Vec<_> = findings
        .dropouts
        .iter()
        .filter(|found| found.kind != DropOutKind::Coasting)
        .collect();
    let seconds: f64 = faults
        .iter()
        .map(|found| (found.to - found.from).as_secs_f64())
        .sum();
    let drop_outs = if findings.under_test.is_none() || findings.reference.is_none() {
        String::new()
    } else if faults.is_empty() {
        "No drop-out of the device was found. ".to_owned()
    } else {
        format!(
            "The device dropped out {}, {} in all. ",
            match faults.len() {
                1 => "once".to_owned(),
                2 => "twice".to_owned(),
                times => format!("{times}\u{a0}times"),
            },
            length(seconds)
        )
    };
    let open = match findings.not_tested.len() {
        0 => "Everything that this bench examines was examined.".to_owned(),
        1 => "One thing could not be examined in this session; it is listed with its reason."
            .to_owned(),
        number => format!(
            "{} things could not be examined in this session; each is listed with its reason.",
            words::sentence_case(&words::spelled(number))
        ),
    };
    format!("{drop_outs}{open}")
}

fn facts(findings: &Findings) -> Safe {
    let mut facts: Vec<(&str, String, String)> = Vec::new();
    if let Some(cell) = deciding(findings) {
        facts.push((
            "Deciding error",
            format!(
                "{} ± {} %",
                signed(cell.bias_pct, 2),
                decimals(cell.expanded_pct, 2)
            ),
            format!("{}, 95 %", forest::condition(cell)),
        ));
        facts.push((
            "Limit",
            format!("±{} %", words::short(cell.tolerance_pct)),
            format!(
                "{} times the uncertainty",
                decimals(cell.capability.min(999.0), 1)
            ),
        ));
        facts.push((
            "Probability of being within",
            words::probability(cell.p_conform),
            "of the error at that condition".to_owned(),
        ));
    }
    facts.push((
        "Conditions judged",
        findings.overall.cells_judged.to_string(),
        format!(
            "from {}",
            count(findings.windows.len(), "steady window", "steady windows")
        ),
    ));
    let items: String = facts
        .into_iter()
        .map(|(name, value, small)| {
            format!(
                "<div><dt>{}</dt><dd>{}<small>{}</small></dd></div>\n",
                escape(name),
                escape(&value),
                escape(&small)
            )
        })
        .collect();
    ours(format!("<dl class=\"facts\">\n{items}</dl>\n"))
}
