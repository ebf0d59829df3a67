//! The tables of a comparison.

use super::super::markup::{
    Row, Safe, Set, Stress, heading, join, known, ours, p, quiet, table, text, verdict,
};
use crate::compared::{Compared, ComparedSession};
use crate::words::{self, NOTHING, clock, decimals, length, signed};
use analysis::comparing::{Bounds, Change, Counts, Overlay, Shown};

/// The sessions: what identifies them, what was found of each.
pub(super) fn sessions(compared: &Compared<'_>) -> Safe {
    let columns = [
        ("", Set::Numbers),
        ("ridden", Set::Words),
        ("device", Set::Words),
        ("serial", Set::Words),
        ("firmware", Set::Words),
        ("reference, serial", Set::Words),
        ("script", Set::Words),
        ("verdict", Set::Words),
    ];
    let groups = &compared.comparison.kind;
    let rows = compared.sessions.iter().enumerate().map(|(index, one)| {
        let (device, reference) = (&one.side.device, &one.side.reference);
        let started = one.facts.about.started;
        let started = started.map(|at| at.format("%Y-%m-%d %H:%M").to_string());
        let serial = reference.serial.as_deref().unwrap_or(NOTHING);
        Row::new(vec![
            text(&(index + 1).to_string()),
            known(started.as_deref()),
            text(&device.name),
            known(device.serial.as_deref()),
            known(device.firmware.as_deref()),
            text(&format!("{}, {serial}", reference.name)),
            known(one.side.script.as_ref().map(|script| script.name.as_str())),
            verdict(one.side.findings.overall.verdict),
        ])
    });
    let mut parts = vec![table(&columns, rows.collect())];
    if groups.group_names.len() > 1 && groups.group_names.len() < compared.sessions.len() {
        let grouped = groups.group_names.iter().enumerate().map(|(group, name)| {
            let members: Vec<String> = groups
                .groups
                .iter()
                .enumerate()
                .filter(|(_, of)| **of == group)
                .map(|(index, _)| (index + 1).to_string())
                .collect();
            format!("{name}: {}", members.join(", "))
        });
        let grouped: Vec<String> = grouped.collect();
        parts.push(quiet(&format!("Groups. {}.", grouped.join("; "))));
    }
    join(parts)
}

/// Every condition with the cell of each session and its change from the first.
pub(super) fn conditions(compared: &Compared<'_>) -> Safe {
    let found = compared.comparison;
    if found.conditions.is_empty() {
        return p("No condition was held steady for long enough in any of them.");
    }
    let columns = [
        ("condition", Set::Words),
        ("session", Set::Numbers),
        ("windows", Set::Numbers),
        ("error ± U, %", Set::Numbers),
        ("verdict", Set::Words),
        ("change, %", Set::Numbers),
        ("nothing common", Set::Numbers),
        ("common cancelled", Set::Numbers),
        ("shown", Set::Words),
    ];
    let mut rows = Vec::new();
    for condition in &found.conditions {
        let ridden = condition.cells.iter().enumerate();
        let ridden = ridden.filter_map(|(index, cell)| Some((index, cell.as_ref()?)));
        for (place, (index, it)) in ridden.enumerate() {
            let words = if place == 0 {
                condition.words.as_str()
            } else {
                ""
            };
            let mut cells = vec![
                text(words),
                text(&(index + 1).to_string()),
                text(&it.cell.windows.to_string()),
                text(&format!(
                    "{} ± {}",
                    signed(it.cell.bias_pct, 2),
                    decimals(it.cell.expanded_pct, 2)
                )),
                verdict(it.cell.verdict),
            ];
            cells.extend(changed(it.change.as_ref()));
            if it.counts == Counts::TooFewWindows {
                cells[8] = text("too few windows");
            }
            rows.push(Row {
                stress: match it.change {
                    Some(change) if change.shown == Shown::Yes => Stress::Decides,
                    _ => Stress::None,
                },
                ..Row::new(cells)
            });
        }
    }
    join([
        quiet(&format!(
            "Device against reference, {}. A change is from session 1, with its 95 % interval twice: \
             with nothing taken as common to the two sessions, and with what is provably common \
             cancelled. Rows in bold show a change either way.",
            found.treatment.words()
        )),
        table(&columns, rows),
    ])
}

fn interval(bounds: &Bounds) -> Safe {
    let [low, high] = bounds.interval;
    text(&format!("{} to {}", signed(low, 2), signed(high, 2)))
}

/// Whether a change is shown, for a narrow column.
fn shown(shown: Shown) -> &'static str {
    match shown {
        Shown::Yes => "yes",
        Shown::IfCommonHeld => "if what is common held",
        Shown::No => "no",
    }
}

fn changed(change: Option<&Change>) -> [Safe; 4] {
    match change {
        Some(change) => [
            text(&signed(change.value_pct, 2)),
            interval(&change.independent),
            change
                .cancelled
                .as_ref()
                .map_or_else(|| text(NOTHING), interval),
            text(shown(change.shown)),
        ],
        None => [NOTHING, NOTHING, NOTHING, ""].map(text),
    }
}

/// Mean changes, means and spread.
pub(super) fn means(compared: &Compared<'_>) -> Safe {
    let found = compared.comparison;
    let mut parts = Vec::new();
    let columns = [
        ("session", Set::Numbers),
        ("conditions", Set::Numbers),
        ("mean change, %", Set::Numbers),
        ("nothing common", Set::Numbers),
        ("common cancelled", Set::Numbers),
        ("shown", Set::Words),
    ];
    let rows: Vec<Row> = found
        .shifts
        .iter()
        .enumerate()
        .filter_map(|(index, shift)| {
            let shift = shift.as_ref()?;
            let mut cells = vec![
                text(&(index + 1).to_string()),
                text(&shift.conditions.to_string()),
            ];
            cells.extend(changed(Some(&shift.change)));
            Some(Row::new(cells))
        })
        .collect();
    parts.push(heading("Mean change from session 1"));
    parts.push(if rows.is_empty() {
        p("No condition was ridden in the first and in another session.")
    } else {
        table(&columns, rows)
    });
    if let Some(means) = &found.means {
        parts.push(heading("Mean error of each session"));
        parts.push(quiet(&format!(
            "Over {} that all of them rode, each weighing the same.",
            words::count(means.conditions, "condition", "conditions")
        )));
        let columns = [
            ("session", Set::Numbers),
            ("mean error, %", Set::Numbers),
            ("standard uncertainty, %", Set::Numbers),
        ];
        let rows = means.errors_pct.iter().enumerate().map(|(index, error)| {
            Row::new(vec![
                text(&(index + 1).to_string()),
                text(&signed(error.value, 2)),
                text(&decimals(error.u, 2)),
            ])
        });
        parts.push(table(&columns, rows.collect()));
    }
    parts.push(heading("Spread"));
    parts.push(match &found.spread {
        Ok(spread) => p(&spread.sentence),
        Err(not) => p(&format!("None is given: {}.", not.reason)),
    });
    if let Ok(states) = &found.states {
        parts.push(heading("Repeats before against repeats after"));
        parts.push(p(&states.sentence));
    }
    join(parts)
}

/// Who can be told apart from whom.
pub(super) fn order(compared: &Compared<'_>) -> Safe {
    let found = match &compared.comparison.order {
        Ok(found) => found,
        Err(not) => return p(&format!("No order is given: {}.", not.reason)),
    };
    let columns = [
        ("smaller error", Set::Words),
        ("larger error", Set::Words),
        ("difference of the sizes, %", Set::Numbers),
        ("95 % interval", Set::Numbers),
        ("p", Set::Numbers),
        ("told apart", Set::Words),
    ];
    let rows = found.result.pairs.iter().map(|pair| {
        let [low, high] = pair.interval;
        Row {
            stress: if pair.apart {
                Stress::Decides
            } else {
                Stress::None
            },
            ..Row::new(vec![
                text(&format!("session {}", pair.better + 1)),
                text(&format!("session {}", pair.worse + 1)),
                text(&decimals(pair.difference.value, 2)),
                text(&format!("{} to {}", signed(low, 2), signed(high, 2))),
                text(&words::short_probability(pair.p)),
                text(if pair.apart { "yes" } else { "no" }),
            ])
        }
    });
    join([
        p(&found.sentence),
        quiet(
            "Two are told apart only where the difference of the sizes of their errors is larger \
             than the combined uncertainty allows, with Holm’s correction for the number of pairs.",
        ),
        table(&columns, rows.collect()),
    ])
}

/// The steps on the common axis.
pub(super) fn steps(overlay: &Overlay) -> Safe {
    let mut columns = vec![
        ("step", Set::Words),
        ("target, W", Set::Numbers),
        ("on the axis", Set::Numbers),
        ("longest", Set::Numbers),
    ];
    let sessions = overlay.steps.first().map_or(0, |step| step.began_s.len());
    let names: Vec<String> = (1..=sessions).map(|n| format!("began in {n}")).collect();
    columns.extend(names.iter().map(|name| (name.as_str(), Set::Numbers)));
    let rows = overlay.steps.iter().map(|step| {
        let mut cells = vec![
            text(&step.title),
            text(&words::some(step.target_w, 0)),
            text(&clock(step.at_s)),
            text(&length(step.longest_s)),
        ];
        cells.extend(
            step.began_s
                .iter()
                .map(|began| text(&began.map_or_else(|| NOTHING.to_owned(), clock))),
        );
        Row::new(cells)
    });
    ours(format!(
        "<details><summary>The steps and when each session began them</summary>\n{}</details>\n",
        table(&columns, rows.collect())
    ))
}

/// The rule of each session; once where it is one.
pub(super) fn rules(compared: &Compared<'_>) -> Safe {
    let rule = |one: &ComparedSession<'_>| one.side.findings.rule.clone();
    let first = compared.sessions.first().map(rule).unwrap_or_default();
    let mut parts = Vec::new();
    if let Some(name) = compared.judged_by {
        parts.push(p(&format!(
            "All were judged anew by one rule, given after the rides: {name}. The verdicts here are \
             not those of what was fixed before each ride."
        )));
    } else {
        parts.push(p(
            "Each session was judged by the rule that was fixed before it was ridden.",
        ));
    }
    if compared.sessions.iter().all(|one| rule(one) == first) {
        parts.push(p(&format!("It is the same for all: {first}")));
    } else {
        let columns = [("session", Set::Numbers), ("rule", Set::Words)];
        let rows =
            compared.sessions.iter().enumerate().map(|(index, one)| {
                Row::new(vec![text(&(index + 1).to_string()), text(&rule(one))])
            });
        parts.push(p("The rules differ:"));
        parts.push(table(&columns, rows.collect()));
    }
    join(parts)
}

/// File, session and seal of one session.
pub(super) fn seal(index: usize, one: &ComparedSession<'_>) -> Row {
    let about = &one.facts.about;
    let state = if one.seal.is_broken {
        ours(format!(
            "<strong class=\"beyond\">{}</strong>",
            text(&one.seal.state)
        ))
    } else {
        text(&one.seal.state)
    };
    Row {
        note: one
            .seal
            .head_sha256
            .as_ref()
            .map(|digest| ours(format!("<span class=\"mono\">{}</span>", text(digest)))),
        ..Row::new(vec![
            text(&(index + 1).to_string()),
            text(one.file),
            known(Some(&about.session)),
            known(Some(&about.program)),
            state,
        ])
    }
}
