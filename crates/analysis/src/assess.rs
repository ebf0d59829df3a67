//! The whole assessment: from what was recorded to the findings.
//!
//! Align, pair the seconds, gate, gather cells, judge each in both treatments, classify the
//! drop-outs, examine, judge the claims. Nothing in here decides anything by itself.

use crate::align;
use crate::anomalies;
use crate::budget::Instruments;
use crate::cell::{Cells, Judge};
use crate::claim::{self, Claim};
use crate::compared::Compared;
use crate::dropout;
use crate::evidence::{Evidence, Role, Stream};
use crate::examinations::{self, BenchFacts, Given, SteadyWindow, StreamFacts, Tolerance as Limit};
use crate::findings::{
    Alignment, Cell, Exclusion, Findings, SourceFinding, Treatment, WindowFinding,
};
use crate::gate::{Gate, Gated, Window};
use crate::grid::Pair;
use crate::outcome::{Estimate, NotTested};
use crate::overall;
use crate::pairing;
use crate::plots;
use crate::settings::Settings;
use crate::verdict::Tolerance;
use crate::watch::judge_window;
use units::Timestamp;

/// Computes the findings of one session.
pub fn assess(evidence: &Evidence, settings: &Settings) -> Findings {
    let alignment = align::align(evidence, &settings.in_force().align);
    let aligned = align::apply(evidence, &alignment);
    findings(
        &aligned,
        &evidence.streams,
        settings,
        alignment,
        Clocks::One,
    )
}

/// Computes the findings of recordings with clocks of their own, that lie on the clock of the
/// reference already; `alignment` says how they were placed there. How late an instrument is
/// cannot be told then: its recorder's clock is in the lag.
pub fn assess_placed(
    evidence: &Evidence,
    settings: &Settings,
    alignment: Vec<Alignment>,
) -> Findings {
    findings(
        evidence,
        &evidence.streams,
        settings,
        alignment,
        Clocks::Several,
    )
}

/// Whether all streams were recorded on one clock.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Clocks {
    One,
    Several,
}

fn findings(
    evidence: &Evidence,
    received: &[Stream],
    settings: &Settings,
    alignment: Vec<Alignment>,
    clocks: Clocks,
) -> Findings {
    let rule = settings.rule_words();
    let settings = &settings.in_force();
    let mut anomalies = anomalies::of_streams(evidence, &alignment);
    let mut not_tested: Vec<NotTested> = alignment
        .iter()
        .filter_map(|alignment| alignment.refused.clone())
        .collect();

    let compared = compare(evidence, settings);
    let facts = facts(evidence, settings, &alignment, clocks);
    let (under_test, reference) = (first(evidence, Role::UnderTest), primary(evidence));
    if let Err(reason) = &compared {
        not_tested.insert(0, reason.clone());
    }
    let mut compared = compared.unwrap_or_default();
    anomalies.extend(compared.anomalies.iter().cloned());

    let given = Given {
        evidence,
        received,
        windows: &compared.steady,
        dropouts: &compared.dropouts,
        facts: &facts,
        bench: bench_facts(settings, &compared.cells, under_test, reference),
    };
    let examinations = examinations::examine(&given);
    not_tested.extend(examinations.not_tested().into_iter().cloned());

    let blocked_by = overall::blocks(&examinations);
    overall::block(&mut compared.cells, &blocked_by);
    let overall = overall::overall(
        &compared.cells,
        compared.treatment,
        &settings.decision,
        blocked_by,
    );
    let budget = overall
        .worst_cell
        .and_then(|index| compared.cells.get(index))
        .map(|cell| cell.budget.clone())
        .unwrap_or_default();
    // Claims of power accuracy come first: the summary speaks of the first claim.
    let mut claims = overall::power_claims(settings, &compared.cells, &compared.windows, &overall);
    let session = claim::judge::Session {
        settings,
        received,
        examinations: &examinations,
        traces: &compared.traces,
        treatment: compared.treatment,
        under_test: first_of(received, Role::UnderTest),
        reference: first_of(received, Role::PrimaryReference),
    };
    claims.extend(settings.claims.iter().filter_map(|claim| match claim {
        Claim::Measurable(claim) => Some(claim::judge::judge(claim, &session)),
        Claim::PowerAccuracy(_) => None,
    }));
    let plots = plots::plots(&compared, &overall, &alignment);
    Findings {
        duration_s: evidence.end.as_secs_f64(),
        sources: received
            .iter()
            .map(|stream| source(stream, evidence.end))
            .collect(),
        under_test: under_test.map(|stream| stream.name.clone()),
        reference: reference.map(|stream| stream.name.clone()),
        alignment,
        windows: compared.windows,
        steady: compared.steady,
        cells: compared.cells,
        overall,
        examinations,
        dropouts: compared.dropouts,
        budget,
        claims,
        exclusions: compared.exclusions,
        anomalies,
        not_tested,
        traces: compared.traces,
        plots,
        rule,
    }
}

fn compare(evidence: &Evidence, settings: &Settings) -> Result<Compared, NotTested> {
    let refused = |reason: &str| NotTested {
        examination: "comparison",
        reason: reason.into(),
    };
    let under_test = first(evidence, Role::UnderTest).ok_or_else(|| {
        refused("no power was received from the device under test; check its link and role")
    })?;
    let reference = primary(evidence).ok_or_else(|| {
        refused("no power was received from a primary reference; give one instrument that role")
    })?;
    let pair = Pair {
        under_test,
        reference,
    };
    let mut seconds = pairing::seconds(evidence, pair)
        .ok_or_else(|| refused("device and reference have no second in common"))?;
    let dropouts = dropout::classify(pair, &seconds, evidence.end, &settings.dropout);
    pairing::forbid_frozen(&mut seconds, &dropouts);

    let traces = pairing::traces(&seconds);
    let mut gate = Gate::new(settings);
    let mut gated = Vec::new();
    for second in seconds {
        gate.push(second, &mut gated);
    }
    gate.finish(&mut gated);

    let judge = Judge::new(settings, Instruments::of(under_test, reference));
    let treatment = judge.treatment();
    let mut cells = Cells::default();
    let mut windows: Vec<(usize, Window)> = Vec::new();
    let mut exclusions = Vec::new();
    for item in gated {
        match item {
            Gated::Window(window) => windows.push((cells.add(&window), window)),
            Gated::Excluded {
                from_s,
                to_s,
                reason,
            } => exclusions.push(Exclusion {
                from_s: from_s as f64,
                to_s: to_s as f64,
                reason: reason.into_owned(),
            }),
        }
    }

    let repeatability = cells.repeatability(judge.assumed_repeat_pct());
    // The deciding treatment comes first, so that the index of a window's cell is that of its data.
    let mut treatments = judge.instruments.treatments().to_vec();
    treatments.sort_by_key(|other| *other != treatment);
    let judged: Vec<Cell> = treatments
        .iter()
        .flat_map(|treatment| {
            cells
                .all()
                .iter()
                .map(|data| data.judge(&judge, *treatment, repeatability))
        })
        .collect();
    let noises: Vec<_> = cells.all().iter().map(|data| data.noise()).collect();
    let mut findings = Vec::with_capacity(windows.len());
    let mut steady = Vec::with_capacity(windows.len());
    for (index, window) in &windows {
        let data = &cells.all()[*index];
        let Some(found) = judge_window(&judge, treatment, window, noises[*index]) else {
            continue;
        };
        let step = window.step.map(|step| step.visit);
        findings.push(WindowFinding {
            from_s: window.from_s as f64,
            to_s: window.to_s as f64,
            step,
            cell: Some(*index),
            level_w: data.level_w(),
            reference_w: window.mean_reference_w(),
            under_test_w: window.mean_under_test_w(),
            cadence_rpm: window.cadence_rpm,
            speed_kmh: window.speed_kmh,
            difference_pct: found.difference_pct,
            u_a_pct: found.u_a_pct,
            u_pct: found.u_pct,
            expanded_pct: found.expanded_pct,
            tolerance_pct: found.tolerance_pct,
        });
        steady.push(SteadyWindow {
            from: Timestamp::from_secs(window.from_s),
            to: Timestamp::from_secs(window.to_s),
            step,
            level_w: data.level_w(),
            reference_w: window.mean_reference_w(),
            under_test_w: window.mean_under_test_w(),
            cadence_rpm: window.cadence_rpm,
            speed_kmh: window.speed_kmh,
            gear: window.step.and_then(|step| step.gear),
            // Here everything is as indicated, whatever treatment decides.
            u_pct: found.u_a_pct * judge.share(treatment, window.mean_reference_w()),
        });
    }
    let anomalies = anomalies::of_cells(&judged, treatment, settings, &judge);
    Ok(Compared {
        treatment,
        windows: findings,
        steady,
        cells: judged,
        dropouts,
        exclusions,
        traces,
        anomalies,
    })
}

fn first(evidence: &Evidence, role: Role) -> Option<&Stream> {
    first_of(&evidence.streams, role)
}

fn first_of(streams: &[Stream], role: Role) -> Option<&Stream> {
    streams
        .iter()
        .find(|stream| stream.role == role && !stream.power_w.is_empty())
}

fn primary(evidence: &Evidence) -> Option<&Stream> {
    first(evidence, Role::PrimaryReference)
}

fn source(stream: &Stream, end: Timestamp) -> SourceFinding {
    let power = if stream.power_w.is_empty() {
        &stream.cadence_rpm
    } else {
        &stream.power_w
    };
    let covered = power
        .mean_over(Timestamp::ZERO.min(end), end)
        .map_or(0.0, |mean| mean.covered.as_secs_f64());
    let length_s = end.as_secs_f64();
    let rate_hz = match (power.times().first(), power.last()) {
        (Some(first), Some((last, _))) if power.len() > 1 => {
            Some((power.len() - 1) as f64 / (last - *first).as_secs_f64())
        }
        _ => None,
    };
    SourceFinding {
        name: stream.name.clone(),
        role: stream.role,
        place: stream.place,
        packets: stream.arrivals.len().max(power.len()),
        coverage_pct: if length_s > 0.0 {
            (100.0 * covered / length_s).min(100.0)
        } else {
            0.0
        },
        rate_hz: rate_hz.filter(|rate| rate.is_finite()),
    }
}

fn facts(
    evidence: &Evidence,
    settings: &Settings,
    alignment: &[Alignment],
    clocks: Clocks,
) -> Vec<StreamFacts> {
    evidence
        .streams
        .iter()
        .map(|stream| {
            let found = alignment
                .iter()
                .find(|found| found.source == stream.name && found.refused.is_none());
            let u_pct = match stream.role {
                Role::PrimaryReference => Some(settings.reference.slope.u_pct()),
                Role::SecondReference => Some(settings.second_reference.slope.u_pct()),
                Role::UnderTest | Role::Witness => None,
            };
            StreamFacts {
                removed_lag_s: match clocks {
                    Clocks::One => found.map_or(0.0, |found| found.lag_s),
                    Clocks::Several => 0.0,
                },
                removed_shift_s: match clocks {
                    Clocks::One => found.map_or(0.0, |found| found.shift_s),
                    Clocks::Several => 0.0,
                },
                removed_lag_u_s: found.map_or(0.0, |found| found.lag_u_s),
                expanded_pct: u_pct.map(|u_pct| 2.0 * u_pct),
            }
        })
        .collect()
}

fn bench_facts(
    settings: &Settings,
    cells: &[Cell],
    under_test: Option<&Stream>,
    reference: Option<&Stream>,
) -> BenchFacts {
    let across = match (under_test, reference) {
        (Some(device), Some(reference)) => {
            device.place.is_behind_drivetrain() && !reference.place.is_behind_drivetrain()
        }
        _ => false,
    };
    let tolerance = match settings.power_claim().tolerance {
        Tolerance::PercentOfReading(pct) => Limit { pct, floor_w: 0.0 },
        Tolerance::Watts(watts) => Limit {
            pct: 0.0,
            floor_w: watts,
        },
        Tolerance::LargerOf { pct, watts } => Limit {
            pct,
            floor_w: watts,
        },
    };
    let drivetrain = &settings.drivetrain;
    let efficiency = if across {
        // One number for all examinations: at the power that was mostly ridden.
        let (sum, seconds) = cells
            .iter()
            .filter(|cell| cell.treatment == Treatment::AsIndicated)
            .fold((0.0, 0.0), |(sum, seconds), cell| {
                (
                    sum + cell.reference_w * cell.seconds,
                    seconds + cell.seconds,
                )
            });
        let usual_w = if seconds > 0.0 { sum / seconds } else { 250.0 };
        let value = drivetrain.share_at_hub(usual_w);
        Estimate {
            value,
            u: value * drivetrain.u_pct(usual_w) / 100.0,
            dof: f64::MAX,
        }
    } else {
        Estimate {
            value: 1.0,
            u: 0.0,
            dof: f64::MAX,
        }
    };
    BenchFacts {
        efficiency,
        tolerance: Some(tolerance),
        ..BenchFacts::default()
    }
}
