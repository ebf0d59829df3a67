//! What the judgement rests on: plots, examinations, method, instruments, exclusions, anomalies.

use super::markup::{
    self, Figure, Row, Safe, Set, heading, join, known, list, ours, p, pairs, quiet, table, text,
};
use super::page::Page;
use crate::describe;
use crate::pictures::{self, Examined};
use crate::svg::{self, Room};
use crate::words::{self, NOTHING, clock, count, decimals, length, signed, some};
use analysis::before::{BeforeSession, CalibrationRecord};
use analysis::evidence::{Place, Role};
use analysis::outcome::Plot;
use serde_json::Value;
use session::SourceInfo;
use units::Timestamp;

/// A plot as a figure.
pub(super) fn figure(plot: &Plot, id: String, room: Room) -> Safe {
    Figure {
        picture: svg::on_page(plot, format!("plot-{id}"), room),
        id,
        title: &plot.title,
        caption: &plot.caption,
        words: describe::sentence(plot),
        rows: describe::rows(plot),
        axes: [&plot.x, &plot.y],
    }
    .draw()
}

/// The comparison as a whole in pictures.
pub(super) fn plots(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let own = pictures::own_plots(findings);
    let all = own.iter().chain(&findings.plots);
    let figures: Vec<Safe> = all
        .enumerate()
        .map(|(index, plot)| figure(plot, format!("comparison-{}", index + 1), Room::Wide))
        .collect();
    if figures.is_empty() {
        p("There is nothing to draw.")
    } else {
        join(figures)
    }
}

/// Every examination that was made, and those that were not.
pub(super) fn examinations(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let made = pictures::examined(findings);
    let mut parts: Vec<Safe> = made
        .iter()
        .enumerate()
        .map(|(index, examined)| examination(examined, index))
        .collect();
    if parts.is_empty() {
        parts.push(p("No examination could be made."));
    }
    parts.push(heading("Not tested"));
    if findings.not_tested.is_empty() {
        parts.push(p("Nothing was left out."));
    } else {
        parts.push(quiet(
            "Nothing is extrapolated: what was not ridden has no result.",
        ));
        let rows = findings.not_tested.iter().map(|not| {
            Row::new(vec![
                text(not.examination),
                text(&words::sentence_case(&not.reason)),
            ])
        });
        let columns = [
            ("examination", Set::Words),
            ("why not, and what it would take", Set::Words),
        ];
        parts.push(table(&columns, rows.collect()));
    }
    join(parts)
}

fn examination(examined: &Examined<'_>, index: usize) -> Safe {
    let plots = examined.plots.iter().enumerate();
    let mut figures = plots.map(|(place, plot)| {
        figure(
            plot,
            format!("examination-{}-{}", index + 1, place + 1),
            Room::Modest,
        )
    });
    let begin = [heading(examined.name), p(examined.sentence)];
    let begin = markup::kept_together(begin.into_iter().chain(figures.next()));
    join([begin].into_iter().chain(figures))
}

/// Script, claim sheet, alignment.
pub(super) fn method(page: &Page<'_>) -> Safe {
    let (about, findings) = (&page.facts.about, page.findings);
    let document = |document: &Option<session::Document>| match document {
        Some(document) => ours(format!(
            "{}<br/><span class=\"quiet mono\">SHA-256 {}</span>",
            text(&document.name),
            document.sha256()
        )),
        None => text(NOTHING),
    };
    let mut parts = vec![
        p(
            "The device and a reference are recorded together while a rider follows a script. Values \
           are moved onto one clock by their lag, averaged over whole seconds, and compared only \
           over stretches that were steady. Nothing is smoothed, scaled or corrected to agree. \
           Drop-outs are counted and never averaged in.",
        ),
        pairs(vec![
            ("script", document(&about.script)),
            ("claim sheet", document(&about.claims)),
            ("decision rule", document(&about.decision_rule)),
            ("recorded for", text(&length(findings.duration_s))),
            ("steady windows", text(&findings.windows.len().to_string())),
        ]),
    ];
    let texts = [
        ("The script, whole", &about.script),
        ("The claim sheet, whole", &about.claims),
        ("The decision rule, whole", &about.decision_rule),
    ];
    for (title, document) in texts {
        let Some(document) = document
            .as_ref()
            .filter(|document| !document.text.is_empty())
        else {
            continue;
        };
        let lines: Vec<String> = document
            .text
            .lines()
            .map(|line| text(line).to_string())
            .collect();
        parts.push(ours(format!(
            "<details><summary>{title}</summary><pre>{}</pre></details>\n",
            lines.join("\n")
        )));
    }
    parts.push(heading("Alignment"));
    parts.push(alignment(page));
    join(parts)
}

fn alignment(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    if findings.alignment.is_empty() {
        return p("There was no second source to align.");
    }
    let columns = [
        ("source", Set::Words),
        ("lag ± u, s", Set::Numbers),
        ("clock drift ± u, µs/s", Set::Numbers),
        ("from power ± u, s", Set::Numbers),
        ("from cadence ± u, s", Set::Numbers),
        ("segments", Set::Numbers),
    ];
    let estimate = |found: Option<analysis::outcome::Estimate>, places: usize| {
        text(&found.map_or_else(
            || NOTHING.to_owned(),
            |found| {
                format!(
                    "{} ± {}",
                    signed(found.value, places),
                    decimals(found.u, places)
                )
            },
        ))
    };
    let lag = |lag_s: f64, u_s: f64| format!("{} ± {}", signed(lag_s, 3), decimals(u_s, 3));
    let mut rows = Vec::new();
    for found in &findings.alignment {
        let whole = match (&found.refused, found.stretches.len()) {
            (None, 0 | 1) => lag(found.lag_s, found.lag_u_s),
            (None, stretches) => format!("in {stretches} stretches"),
            (Some(_), _) => NOTHING.to_owned(),
        };
        rows.push(Row {
            note: found
                .refused
                .as_ref()
                .map(|refused| text(&format!("Not aligned: {}", refused.reason))),
            ..Row::new(vec![
                text(&found.source),
                text(&whole),
                estimate(found.drift_ppm, 1),
                estimate(found.from_power, 3),
                estimate(found.from_cadence, 3),
                text(&found.segments.len().to_string()),
            ])
        });
        if found.stretches.len() > 1 {
            rows.extend(found.stretches.iter().map(|stretch| {
                let end = |at: Option<Timestamp>, word: &str| {
                    at.map_or_else(|| word.to_owned(), |at| clock(at.as_secs_f64()))
                };
                let (from, to) = (end(stretch.from, "beginning"), end(stretch.to, "end"));
                let mut cells = vec![
                    text(&format!("{from} to {to}")),
                    text(&lag(stretch.lag_s, stretch.lag_u_s)),
                ];
                cells.resize_with(columns.len(), || text(""));
                Row::new(cells)
            }));
        }
    }
    let reference = findings.reference.as_deref().unwrap_or("the reference");
    join([
        table(&columns, rows),
        quiet(&format!(
            "Against {reference}; positive: the source is late. A lag between two radio \
             instruments is all that can be known: how late both are is not."
        )),
    ])
}

/// The instruments with what they say about themselves and their calibration: one column each.
pub(super) fn items(page: &Page<'_>) -> Safe {
    let (facts, findings) = (page.facts, page.findings);
    let mut parts = Vec::new();
    for some in facts.sources.chunks(3) {
        parts.push(instruments(some));
    }
    if facts.sources.is_empty() {
        parts.push(p("The session keeps no description of its instruments."));
    }
    parts.push(heading("What was received from them"));
    let columns = [
        ("stream", Set::Words),
        ("used as", Set::Words),
        ("measures at", Set::Words),
        ("packets", Set::Numbers),
        ("rate, 1/s", Set::Numbers),
        ("covered, %", Set::Numbers),
    ];
    let rows = findings.sources.iter().map(|source| {
        Row::new(vec![
            text(&source.name),
            text(role(source.role)),
            text(place(source.place)),
            text(&source.packets.to_string()),
            text(&some(source.rate_hz, 2)),
            text(&decimals(source.coverage_pct, 1)),
        ])
    });
    parts.push(table(&columns, rows.collect()));
    join(parts)
}

/// What is told about one instrument.
type Telling = fn(&SourceInfo) -> Safe;

fn instruments(sources: &[SourceInfo]) -> Safe {
    let mut columns = vec![("", Set::Words)];
    columns.extend(sources.iter().map(|info| (info.name.as_str(), Set::Words)));
    let told: [(&str, Telling); 10] = [
        ("role", |info| known(Some(&info.role))),
        ("measures at", |info| known(Some(&info.place))),
        ("maker", |info| known(info.identity.maker.as_deref())),
        ("model", |info| known(info.identity.model.as_deref())),
        ("serial number", |info| {
            known(info.identity.serial.as_deref())
        }),
        ("firmware", |info| known(info.identity.firmware.as_deref())),
        ("hardware", |info| known(info.identity.hardware.as_deref())),
        ("software", |info| known(info.identity.software.as_deref())),
        ("calibration record", |info| calibration(&info.calibration)),
        ("simulated", |info| {
            text(if info.simulated { "yes" } else { "no" })
        }),
    ];
    let rows = told.into_iter().map(|(name, telling)| {
        let name = ours(format!("<span class=\"quiet\">{}</span>", text(name)));
        Row::new(
            [name]
                .into_iter()
                .chain(sources.iter().map(telling))
                .collect(),
        )
    });
    table(&columns, rows.collect())
}

/// A calibration record: what was done before the session as sentences, any other shape as lines
/// of name and value.
fn calibration(record: &Value) -> Safe {
    let mut lines = Vec::new();
    match serde_json::from_value::<CalibrationRecord>(record.clone()) {
        Ok(known) if !known.before_session.is_empty() => {
            lines.extend(known.before_session.iter().map(BeforeSession::sentence));
        }
        _ => flatten("", record, &mut lines),
    }
    if lines.is_empty() {
        return text("none recorded");
    }
    let lines: Vec<String> = lines.iter().map(|line| text(line).to_string()).collect();
    ours(lines.join("<br/>"))
}

fn flatten(name: &str, value: &Value, lines: &mut Vec<String>) {
    let named = |text: String| {
        if name.is_empty() {
            text
        } else {
            format!("{name}: {text}")
        }
    };
    match value {
        Value::Null => {}
        Value::Bool(yes) => lines.push(named(if *yes { "yes" } else { "no" }.to_owned())),
        Value::Number(number) => lines.push(named(number.to_string())),
        Value::String(words) => lines.push(named(words.clone())),
        Value::Array(values) => {
            for value in values {
                flatten(name, value, lines);
            }
        }
        Value::Object(fields) => {
            for (field, value) in fields {
                let field = field.replace('_', " ");
                let longer = if name.is_empty() {
                    field
                } else {
                    format!("{name}, {field}")
                };
                flatten(&longer, value, lines);
            }
        }
    }
}

const fn role(role: Role) -> &'static str {
    match role {
        Role::UnderTest => "device under test",
        Role::PrimaryReference => "reference",
        Role::SecondReference => "second reference",
        Role::Witness => "recorded only",
    }
}

const fn place(place: Place) -> &'static str {
    match place {
        Place::Pedals => "pedals",
        Place::Crank => "crank",
        Place::OneSide => "one side, doubled",
        Place::Hub => "hub",
        Place::Unknown => NOTHING,
    }
}

/// Every span that did not count.
pub(super) fn exclusions(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    if findings.exclusions.is_empty() {
        return p("Nothing was excluded.");
    }
    let mut reasons: Vec<(&str, Vec<[f64; 2]>)> = Vec::new();
    for exclusion in &findings.exclusions {
        let span = [exclusion.from_s, exclusion.to_s];
        match reasons
            .iter_mut()
            .find(|(reason, _)| *reason == exclusion.reason)
        {
            Some((_, spans)) => spans.push(span),
            None => reasons.push((&exclusion.reason, vec![span])),
        }
    }
    let total: f64 = findings
        .exclusions
        .iter()
        .map(|out| out.to_s - out.from_s)
        .sum();
    let rows = reasons.iter().map(|(reason, spans)| {
        let time: f64 = spans.iter().map(|[from, to]| to - from).sum();
        let all: Vec<String> = spans
            .iter()
            .map(|[from, to]| format!("{}–{}", words::clock(*from), words::clock(*to)))
            .collect();
        Row::new(vec![
            text(&words::tied(&words::sentence_case(reason))),
            text(&length(time)),
            text(&all.join(", ")),
        ])
    });
    let columns = [
        ("reason", Set::Words),
        ("in all", Set::Numbers),
        ("from–to", Set::Words),
    ];
    join([
        p(&format!(
            "{}, {} in all, did not count. Times are minutes and seconds since the recording began.",
            words::sentence_case(&count(findings.exclusions.len(), "span", "spans")),
            length(total)
        )),
        table(&columns, rows.collect()),
    ])
}

/// Drop-outs and everything else that is not as it should be.
pub(super) fn anomalies(page: &Page<'_>) -> Safe {
    let findings = page.findings;
    let mut parts = Vec::new();
    if findings.anomalies.is_empty() {
        parts.push(p("Nothing else out of the ordinary was noted."));
    } else {
        let anomalies: Vec<String> = findings
            .anomalies
            .iter()
            .map(|words| words::sentence_case(words))
            .collect();
        parts.push(list(anomalies.iter().map(String::as_str)));
    }
    if !findings.dropouts.is_empty() {
        parts.push(heading("Drop-outs of the device"));
        let rows = findings.dropouts.iter().map(|found| {
            let (from, to) = (found.from.as_secs_f64(), found.to.as_secs_f64());
            Row::new(vec![
                text(&words::sentence_case(found.kind.words())),
                text(&describe::stretch(from, to)),
                text(&decimals(to - from, 1)),
                text(&decimals(found.lost_kj, 2)),
            ])
        });
        let columns = [
            ("what", Set::Words),
            ("when", Set::Words),
            ("seconds", Set::Numbers),
            ("work not shown, kJ", Set::Numbers),
        ];
        parts.push(table(&columns, rows.collect()));
    }
    join(parts)
}
