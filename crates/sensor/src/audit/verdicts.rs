//! From what a control point was asked and answered to findings.

use super::dialogue::{Exchange, Kind, Point};
use super::finding::{AnswerTimes, RuleFinding, hex, median};
use crate::assigned as a;
use crate::control::event::advice;
use crate::cycling_power::control as power;
use crate::fitness_machine::control::{self as machine, Request, op_code};
use crate::fitness_machine::status::Status;
use crate::speed_cadence;
use units::AttError;

const ANSWERS: &str = "Fitness Machine Service 1.0, section 4.16.2.22 (indication of the answer)";
const STATUS: &str = "Fitness Machine Service 1.0.1, table 4.26 (Fitness Machine Status)";
const METER_ANSWERS: &str = "Cycling Power Service, Cycling Power Control Point (2A66)";
const SPEED_ANSWERS: &str = "Cycling Speed and Cadence Service, SC Control Point (2A55)";

/// Result numbers with which a device may always say that it cannot do something just now.
const FAILED: u8 = 4;

/// The rules about one conversation.
pub(super) fn rules(point: Point, exchanges: &[Exchange]) -> Vec<RuleFinding> {
    let mut findings = Vec::new();
    for exchange in exchanges {
        findings.push(judge(point, exchange));
        if exchange.step.kind == Kind::Set {
            findings.push(echo(point, exchange));
        }
    }
    findings.push(form(point, exchanges));
    findings.push(once(point, exchanges));
    findings.push(in_time(point, exchanges));
    findings
}

/// How long the answers took.
pub(super) fn times(point: Point, exchanges: &[Exchange]) -> Option<AnswerTimes> {
    let taken: Vec<_> = exchanges
        .iter()
        .filter_map(|exchange| {
            let (answered, _) = exchange.answers.first()?;
            Some((*answered - exchange.written).as_secs_f64() * 1e3)
        })
        .collect();
    Some(AnswerTimes {
        characteristic: point.characteristic,
        answers: taken.len(),
        median_ms: median(taken.clone())?,
        longest_ms: taken.iter().copied().max_by(f64::total_cmp)?,
    })
}

fn prefix(point: Point) -> (&'static str, &'static str) {
    match point.characteristic {
        a::FITNESS_MACHINE_CONTROL_POINT => ("ftms", ANSWERS),
        a::CYCLING_POWER_CONTROL_POINT => ("cps", METER_ANSWERS),
        _ => ("csc", SPEED_ANSWERS),
    }
}

fn judge(point: Point, exchange: &Exchange) -> RuleFinding {
    let step = &exchange.step;
    let mut finding = RuleFinding::new(step.id, step.title.clone(), step.clause);
    if let Some(reason) = &exchange.skipped {
        return finding.unseen(reason.clone());
    }
    finding = finding.sent(&step.bytes);
    for (_, bytes) in &exchange.answers {
        finding = finding.received(bytes);
    }
    if step.kind == Kind::Busy {
        return busy(finding.sent(&step.bytes), exchange);
    }
    if let Some((_, Err(error))) = &exchange.acknowledged {
        return turned_away(finding, error);
    }
    let Some(result) = result_of(point, exchange) else {
        let words = "it was not answered; the rule about answers in time says more";
        return finding.unseen(words);
    };
    let told = result_name(result);
    if step.expected.contains(&result) {
        return finding.kept(format!("answered with {told}"));
    }
    let may_fail = step.expected.contains(&1);
    if may_fail && result == FAILED {
        return finding.unseen(format!("answered with {told}: it could not, just now"));
    }
    if point.control.is_some_and(|(give, _)| step.bytes == [give]) && result == 5 {
        return finding.unseen(format!(
            "answered with {told}; another client may hold control"
        ));
    }
    let due: Vec<_> = step
        .expected
        .iter()
        .map(|&result| result_name(result))
        .collect();
    finding.broken(format!(
        "answered with {told}, where {} is due",
        due.join(" or ")
    ))
}

/// The write itself was turned away. A pairing, indications that are off and a moved service table
/// are no fault of the procedure; and a system may turn a write away by itself.
fn turned_away(finding: RuleFinding, error: &AttError) -> RuleFinding {
    match (error, advice(error)) {
        (AttError::Code(0xFE | 0x80), _) | (AttError::NotConnected | AttError::Other(_), _) => {
            finding.unseen(format!("the write did not get through: {error}"))
        }
        (AttError::Code(_), Some(advice)) => finding.unseen(format!("{error}; {advice}")),
        (AttError::Code(_), None) => finding.broken(format!(
            "the write was turned away with {error} instead of an answer"
        )),
    }
}

fn busy(finding: RuleFinding, exchange: &Exchange) -> RuleFinding {
    match &exchange.second {
        _ if exchange.answers.is_empty() => finding.unseen("the first write was not answered"),
        None => finding.unseen("the answer came before a second write could be made"),
        Some((_, Err(AttError::Code(0xFE)))) => finding.kept("turned away with error 0xFE"),
        Some((_, Err(AttError::Code(0x80)))) => {
            finding.kept("turned away with error 0x80, as older editions have it")
        }
        Some((_, Err(AttError::Code(code)))) => {
            finding.broken(format!("turned away, but with error 0x{code:02X}"))
        }
        Some((_, Err(error))) => finding.unseen(format!(
            "turned away with {error}; whether by the device, this system does not tell"
        )),
        Some((_, Ok(()))) if exchange.was_busy() => {
            finding.broken("the second write was taken while the first was pending")
        }
        Some((_, Ok(()))) => {
            finding.unseen("the first was answered too early to say that it was pending")
        }
    }
}

/// The status that reports a new target. By the letter only the other clients are told.
fn echo(point: Point, exchange: &Exchange) -> RuleFinding {
    let id = format!("{}.status", exchange.step.id);
    let title = "a status about the new target, if there is one, has the very target";
    let finding = RuleFinding::new(id, title, STATUS).sent(&exchange.step.bytes);
    if result_of(point, exchange) != Some(1) {
        return finding.unseen("the target was not taken");
    }
    let Some(due) = due_status(&exchange.step.bytes) else {
        return finding.unseen("no status is known for it");
    };
    let about_it: Vec<_> = exchange
        .statuses
        .iter()
        .filter(|bytes| bytes.first() == due.first())
        .collect();
    let finding = about_it
        .iter()
        .fold(finding, |finding, bytes| finding.received(bytes));
    let narrow = |bytes: &[u8]| bytes.len() == 2 && due.len() == 3 && bytes[1] == due[1];
    if about_it.is_empty() {
        finding.unseen("no status came; by the letter only other clients are told")
    } else if about_it
        .iter()
        .any(|bytes| bytes.starts_with(&due) || narrow(bytes))
    {
        finding.kept("the same target")
    } else {
        finding.broken(format!("another target, where {} is due", hex(&due)))
    }
}

fn due_status(bytes: &[u8]) -> Option<Vec<u8>> {
    let status = match Request::decode(bytes).ok()?.value {
        Request::SetTargetPower { power_w } => Status::TargetPowerChanged { power_w },
        Request::SetTargetResistance { level, .. } => Status::TargetResistanceChanged {
            level,
            width: crate::fitness_machine::ResistanceWidth::TwoOctets,
        },
        Request::SetSimulation(road) => Status::SimulationChanged(road),
        _ => return None,
    };
    Some(status.encode())
}

fn form(point: Point, exchanges: &[Exchange]) -> RuleFinding {
    let (prefix, clause) = prefix(point);
    let title = "every answer has its op codes, a known result and nothing more than it should";
    let finding = RuleFinding::new(format!("{prefix}.answer.form"), title, clause);
    let answers = exchanges.iter().flat_map(|exchange| {
        exchange
            .answers
            .iter()
            .map(move |(_, bytes)| (&exchange.step.bytes, bytes))
    });
    let mut count = 0;
    for (sent, bytes) in answers {
        count += 1;
        if let Err(words) = well_formed(point, sent, bytes) {
            return finding.sent(sent).received(bytes).broken(words);
        }
    }
    if count == 0 {
        return finding.unseen("there was no answer");
    }
    finding.kept(format!("{count} answers"))
}

fn well_formed(point: Point, sent: &[u8], bytes: &[u8]) -> Result<(), String> {
    let anomalies = match point.characteristic {
        a::FITNESS_MACHINE_CONTROL_POINT => machine::Response::decode(bytes).map(|d| d.anomalies),
        a::CYCLING_POWER_CONTROL_POINT => power::Response::decode(bytes).map(|d| d.anomalies),
        _ => speed_cadence::Response::decode(bytes).map(|d| d.anomalies),
    };
    let anomalies = anomalies.map_err(|error| error.to_string())?;
    if bytes.get(1) != sent.first() {
        return Err("it names another op code than the one that was asked".to_owned());
    }
    match anomalies.first() {
        Some(anomaly) => Err(anomaly.to_string()),
        None => Ok(()),
    }
}

fn once(point: Point, exchanges: &[Exchange]) -> RuleFinding {
    let (prefix, clause) = prefix(point);
    let title = "every procedure is answered once";
    let finding = RuleFinding::new(format!("{prefix}.answer.once"), title, clause);
    // A second write that was taken has an answer of its own.
    let single = exchanges.iter().filter(|one| one.step.kind != Kind::Busy);
    let answered = single.clone().filter(|one| !one.answers.is_empty()).count();
    let twice = single.clone().find(|one| one.answers.len() > 1);
    match twice {
        Some(exchange) => {
            let finding = finding.sent(&exchange.step.bytes);
            let shown = exchange
                .answers
                .iter()
                .fold(finding, |finding, (_, one)| finding.received(one));
            shown.broken(format!("{} answers to one write", exchange.answers.len()))
        }
        None if answered == 0 => finding.unseen("there was no answer"),
        None => finding.kept(format!("{answered} procedures")),
    }
}

fn in_time(point: Point, exchanges: &[Exchange]) -> RuleFinding {
    let (prefix, clause) = prefix(point);
    let title = "every procedure is answered within 30 s";
    let finding = RuleFinding::new(format!("{prefix}.answer.time"), title, clause);
    if let Some(silent) = exchanges.iter().find(|exchange| exchange.timed_out()) {
        let finding = finding.sent(&silent.step.bytes);
        return finding.broken("this one was not; nothing more was asked on this link");
    }
    match times(point, exchanges) {
        None => finding.unseen("there was no answer"),
        Some(times) => finding.kept(format!(
            "{} answers; median {:.0} ms, longest {:.0} ms",
            times.answers, times.median_ms, times.longest_ms
        )),
    }
}

fn result_of(point: Point, exchange: &Exchange) -> Option<u8> {
    let op = exchange.step.bytes.first();
    exchange
        .answers
        .iter()
        .map(|(_, bytes)| bytes)
        .find(|bytes| bytes.first() == Some(&point.response) && bytes.get(1) == op)
        .and_then(|bytes| bytes.get(2).copied())
}

fn result_name(number: u8) -> String {
    format!(
        "\u{201c}{}\u{201d}",
        machine::ResultCode::from_number(number)
    )
}

/// Whether a fitness machine was asked for anything that a release has to follow.
pub(super) fn touched_load(exchanges: &[Exchange]) -> bool {
    exchanges
        .iter()
        .any(|one| one.skipped.is_none() && one.step.bytes != [op_code::REQUEST_CONTROL])
}
