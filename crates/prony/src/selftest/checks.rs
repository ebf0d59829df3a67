//! What is compared with the truth, one function each.

use super::{Ledger, Rehearsed};
use analysis::examinations::DropOutKind;
use analysis::findings::Treatment;
use analysis::verdict::Verdict;
use rig::Fault;
use rig::spec::UpsetKind;
use units::{Span, Timestamp};

/// Holds one session's findings against its truth.
pub fn check(rehearsed: &Rehearsed, ledger: &mut Ledger) {
    bias(rehearsed, ledger);
    lag(rehearsed, ledger);
    warm_up(rehearsed, ledger);
    drop_outs(rehearsed, ledger);
    nothing_invented(rehearsed, ledger);
}

/// Bias of every cell in both treatments: the device's ideal indication against the true power at
/// the hub, and at the crank as the reference's ideal indication sees it.
fn bias(rehearsed: &Rehearsed, ledger: &mut Ledger) {
    let truth = rehearsed.rig.truth();
    for (position, cell) in rehearsed.findings.cells.iter().enumerate() {
        let mut weighted = 0.0;
        let mut seconds = 0.0;
        let decides = cell.treatment == rehearsed.findings.overall.treatment;
        let sibling = rehearsed.findings.cells.iter().position(|other| {
            other.treatment == rehearsed.findings.overall.treatment
                && other.level_w == cell.level_w
                && other.cadence_rpm == cell.cadence_rpm
                && other.speed_kmh == cell.speed_kmh
                && other.feeds == cell.feeds
        });
        let position = if decides { Some(position) } else { sibling };
        for window in rehearsed
            .findings
            .windows
            .iter()
            .filter(|w| w.cell == position)
        {
            let from = Timestamp::from_secs_f64(window.from_s);
            let to = Timestamp::from_secs_f64(window.to_s);
            let injected = match cell.treatment {
                Treatment::HubReferred => truth.bias_to_hub_pct(rehearsed.under_test, from, to),
                Treatment::AsIndicated => truth.bias_to_crank_pct(rehearsed.under_test, from, to),
            };
            if let Some(injected) = injected {
                weighted += injected * (window.to_s - window.from_s);
                seconds += window.to_s - window.from_s;
            }
        }
        if seconds > 0.0 && cell.verdict != Verdict::NotTested {
            let name = match cell.treatment {
                Treatment::HubReferred => "bias of a cell, referred to the hub, %",
                Treatment::AsIndicated => "bias of a cell, as indicated, %",
            };
            let place = format!(
                "{} seed {}, {:.0} W",
                rehearsed.rig_name, rehearsed.seed, cell.level_w
            );
            let injected = weighted / seconds;
            ledger.compare(
                name,
                cell.bias_pct,
                injected,
                cell.u_pct,
                cell.expanded_pct,
                &place,
            );
        }
    }
}

/// Lag of the device against the reference: the difference of their injected group delays.
fn lag(rehearsed: &Rehearsed, ledger: &mut Ledger) {
    let delay_of = |wanted| {
        rehearsed
            .rig
            .truth()
            .faults()
            .iter()
            .find_map(|fault| match *fault {
                Fault::Lag {
                    source,
                    group_delay_s,
                    ..
                } if source == wanted => Some(group_delay_s),
                _ => None,
            })
    };
    let Some((device, reference)) =
        delay_of(rehearsed.under_test).zip(delay_of(rehearsed.reference))
    else {
        return;
    };
    let name = rehearsed.findings.under_test.as_deref();
    let found =
        rehearsed.findings.alignment.iter().find(|alignment| {
            Some(alignment.source.as_str()) == name && alignment.refused.is_none()
        });
    let place = format!("{} seed {}", rehearsed.rig_name, rehearsed.seed);
    match found {
        Some(found) => ledger.compare(
            "lag of the device, s",
            found.lag_s,
            device - reference,
            found.lag_u_s,
            2.0 * found.lag_u_s,
            &place,
        ),
        None => ledger.expect(
            "lag of the device, s",
            Err(format!("{place}: no lag was found")),
        ),
    }
}

/// Drift while warming up is claimed where it was injected and not where it was not.
fn warm_up(rehearsed: &Rehearsed, ledger: &mut Ledger) {
    let injected = rehearsed.rig.truth().faults().iter().any(|fault| {
        matches!(*fault, Fault::WarmUpDrift { source, pct, .. }
            if source == rehearsed.under_test && pct.abs() > 0.5)
    });
    let Ok(found) = &rehearsed.findings.examinations.warm_up else {
        return;
    };
    let claimed = found.result.claimed;
    let place = format!("{} seed {}", rehearsed.rig_name, rehearsed.seed);
    ledger.expect(
        "warm-up drift is claimed exactly where it was injected",
        if claimed == injected {
            Ok(())
        } else {
            Err(format!(
                "{place}: injected {injected}, claimed {claimed}: {}",
                found.sentence
            ))
        },
    );
}

/// Every injected drop-out to zero is found where it was, and no other is.
fn drop_outs(rehearsed: &Rehearsed, ledger: &mut Ledger) {
    let slack = Span::from_secs(4);
    let injected: Vec<(Timestamp, Timestamp)> = rehearsed
        .rig
        .truth()
        .faults()
        .iter()
        .filter_map(|fault| match *fault {
            Fault::DropOut {
                source,
                kind: UpsetKind::Zero,
                from,
                to,
            } if source == rehearsed.under_test => Some((from, to)),
            _ => None,
        })
        .collect();
    let found: Vec<_> = rehearsed
        .findings
        .dropouts
        .iter()
        .filter(|found| found.kind == DropOutKind::ZeroUnderLoad)
        .collect();
    let place = format!("{} seed {}", rehearsed.rig_name, rehearsed.seed);
    for (from, to) in &injected {
        let hit = found
            .iter()
            .any(|f| f.from <= *to + slack && f.to + slack >= *from);
        ledger.expect(
            "every injected zero under load is found",
            if hit {
                Ok(())
            } else {
                Err(format!("{place}: zero at {from} was not found"))
            },
        );
    }
    ledger.expect(
        "no zero under load is invented",
        if found.len() <= injected.len() {
            Ok(())
        } else {
            Err(format!(
                "{place}: {} injected, {} found",
                injected.len(),
                found.len()
            ))
        },
    );
}

/// A good trainer is nowhere shown beyond; a faulty one somewhere is.
fn nothing_invented(rehearsed: &Rehearsed, ledger: &mut Ledger) {
    let beyond: Vec<String> = rehearsed
        .findings
        .cells
        .iter()
        .filter(|cell| cell.verdict == Verdict::ShownBeyond)
        .map(|cell| format!("{:.0} W {}", cell.level_w, cell.treatment.words()))
        .collect();
    let place = format!("{} seed {}", rehearsed.rig_name, rehearsed.seed);
    if rehearsed.rig_name == "honest" {
        ledger.expect(
            "a good trainer is nowhere shown beyond",
            if beyond.is_empty() {
                Ok(())
            } else {
                Err(format!("{place}: {}", beyond.join(", ")))
            },
        );
    } else {
        ledger.expect(
            "a faulty trainer is somewhere shown beyond",
            if beyond.is_empty() {
                Err(format!("{place}: nowhere"))
            } else {
                Ok(())
            },
        );
    }
}
