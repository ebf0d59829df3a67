//! `prony audit`: the conduct of one device, rule by rule, against the open standards.
//!
//! Read-only by default. What changes the load asks first, and begins and ends with a release.
//! Nothing in here certifies anything.

use super::Failure;
use crate::auditing::converse;
use crate::cli::{self, AuditArguments, say, tell};
use anyhow::{Context, Result, bail};
use sensor::audit::{Audit, AuditSettings, Consent, Outcome, RuleFinding};
use serde_json::{Value, json};
use units::Span;

/// Audits one device and gives the findings.
pub fn audit(arguments: &AuditArguments) -> Result<(), Failure> {
    let consent = match (arguments.may_change_load, arguments.may_ask) {
        (true, _) => {
            agree().map_err(Failure::unusable)?;
            Consent::MayChangeLoad
        }
        (false, true) => Consent::MayAsk,
        (false, false) => Consent::ReadOnly,
    };
    let settings = AuditSettings {
        consent,
        listen: Span::from_secs(i64::from(arguments.seconds)),
    };
    let audit = converse(&arguments.device, settings)?;
    if let Some(to) = &arguments.json {
        cli::write_json(&document(&arguments.device, &audit), to)?;
    }
    if arguments
        .json
        .as_ref()
        .is_none_or(|to| to.as_os_str() != "-")
    {
        audit.rules.iter().for_each(line);
        figures(&audit);
        let count = |outcome| audit.with(outcome).count();
        say(format_args!(
            "{} kept, {} broken, {} not observable. Observed conduct, not a certificate.",
            count(Outcome::Kept),
            count(Outcome::Broken),
            count(Outcome::NotObservable),
        ));
    }
    Ok(())
}

/// The person agrees to a changing load.
fn agree() -> Result<()> {
    tell(format_args!(
        "The audit will take control of the trainer and change its load, between released and \
         {} W. Nobody's hands, hair or clothes near chain and flywheel; whoever sits on the bicycle \
         pedals lightly and is ready for the load to change. Type yes and Enter to begin.",
        sensor::audit::MOST_LOAD_W
    ));
    let mut line = String::new();
    std::io::stdin()
        .read_line(&mut line)
        .context("no answer could be read")?;
    if line.trim() != "yes" {
        bail!("not begun: the answer was not yes");
    }
    Ok(())
}

fn line(rule: &RuleFinding) {
    say(format_args!(
        "{:<15} {:<34} {}",
        rule.outcome.to_string(),
        rule.id,
        rule.title
    ));
    if rule.outcome == Outcome::Broken {
        say(format_args!("{:16}{} ({})", "", rule.words, rule.clause));
    }
}

/// Rhythm of the notifications and times of the answers, in words.
fn figures(audit: &Audit) {
    let ms = |value: Option<f64>| value.map_or("–".to_owned(), |ms| format!("{ms:.0} ms"));
    for stream in &audit.streams {
        say(format_args!(
            "{}: {} notifications, every {} (median), jitter {}, longest {}, {} missing",
            stream.characteristic,
            stream.packets,
            ms(stream.median_interval_ms),
            ms(stream.jitter_ms),
            ms(stream.longest_interval_ms),
            stream.missing,
        ));
    }
    for times in &audit.answers {
        say(format_args!(
            "{}: {} answers, {:.0} ms (median), longest {:.0} ms",
            times.characteristic, times.answers, times.median_ms, times.longest_ms,
        ));
    }
}

fn document(device: &str, audit: &Audit) -> Value {
    json!({
        "schema": "prony-audit-1",
        "device": device,
        "identity": audit.identity.to_string(),
        "listened_s": audit.listened.as_secs_f64(),
        "load_left": format!("{:?}", audit.load_left).to_lowercase(),
        "streams": audit.streams.iter().map(|stream| json!({
            "characteristic": stream.characteristic.to_string(),
            "packets": stream.packets,
            "median_interval_ms": stream.median_interval_ms,
            "jitter_ms": stream.jitter_ms,
            "longest_interval_ms": stream.longest_interval_ms,
            "missing": stream.missing,
        })).collect::<Vec<_>>(),
        "answers": audit.answers.iter().map(|times| json!({
            "characteristic": times.characteristic.to_string(),
            "answers": times.answers,
            "median_ms": times.median_ms,
            "longest_ms": times.longest_ms,
        })).collect::<Vec<_>>(),
        "rules": audit.rules.iter().map(|rule| json!({
            "id": rule.id,
            "title": rule.title,
            "clause": rule.clause,
            "sent": rule.sent,
            "received": rule.received,
            "outcome": rule.outcome.to_string(),
            "words": rule.words,
        })).collect::<Vec<_>>(),
    })
}
