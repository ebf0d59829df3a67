//! `prony audit`: the conduct of one device, rule by rule, against the open standards.
//!
//! Read-only by default. What changes the load asks first, and begins and ends with a release.
//! Nothing in here certifies anything.

use super::Failure;
use crate::cli::{self, AuditArguments, say, tell};
use crate::clock::instant_now;
use anyhow::{Context, Result, bail};
use crossbeam_channel::RecvTimeoutError;
use radio::{
    Anchor, DeviceId, Entry, Flags, LinkState, News, Order, Radio, RadioConfig, Scan, Token, Wanted,
};
use sensor::assigned;
use sensor::audit::{
    Audit, AuditOutput, AuditSettings, Auditor, Consent, Offered, Outcome, Properties, Property,
    RuleFinding,
};
use sensor::control::Link;
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::time::Duration;
use units::{Characteristic, Packet, SourceId, Span, Timestamp, Write};

/// The only instrument of an audit.
const DEVICE: SourceId = SourceId(1);

/// How long the device is listened to before it is linked, for what it advertises. A device that is
/// linked does not advertise.
const HEARD_WITHIN: Duration = Duration::from_secs(4);

/// How long the device may take to be linked.
const LINK_WITHIN: Duration = Duration::from_secs(60);

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

/// Audits one device from the first link to the last rule.
///
/// # Errors
/// If the radio cannot be used, or the device is not linked within a minute.
pub fn converse(device: &str, settings: AuditSettings) -> Result<Audit> {
    Conversation::begin(device)?.hold(settings)
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

/// What a device advertises with the fitness machine service, if it is heard before it is linked.
fn advertised_by(radio: &Radio, id: &DeviceId) -> Result<Option<Vec<u8>>> {
    radio.order(Order::Scan(Scan::On))?;
    let begun = instant_now();
    let mut advertised = None;
    while begun.elapsed() < HEARD_WITHIN {
        match radio.news().recv_timeout(Duration::from_millis(50)) {
            Ok(News::Found(heard)) if heard.id == *id && heard.seen_at.is_some() => {
                advertised = heard
                    .service_data
                    .into_iter()
                    .find(|(service, _)| *service == assigned::FITNESS_MACHINE_SERVICE)
                    .map(|(_, data)| data);
                break;
            }
            Ok(News::Trouble(trouble)) => tell(&trouble),
            Ok(_) | Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => bail!("the radio stopped"),
        }
    }
    radio.order(Order::Scan(Scan::Off))?;
    Ok(advertised)
}

/// A link to the device under audit.
struct Conversation {
    radio: Radio,
    begun: std::time::Instant,
    next_token: u64,
    /// Data advertised with the fitness machine service.
    advertised: Option<Vec<u8>>,
    reads: BTreeMap<Token, Characteristic>,
    last_value: BTreeMap<Characteristic, Packet>,
}

impl Conversation {
    fn begin(device: &str) -> Result<Self> {
        let anchor = Anchor::now(Timestamp::ZERO);
        let radio = Radio::start(RadioConfig::new(anchor))?;
        let id = DeviceId(device.to_owned());
        let advertised = advertised_by(&radio, &id)?;
        radio.order(Order::Attach {
            source: DEVICE,
            id,
            wanted: crate::linked::LISTENED.map(Wanted::usual).to_vec(),
        })?;
        Ok(Self {
            radio,
            begun: anchor.instant,
            next_token: 0,
            advertised,
            reads: BTreeMap::new(),
            last_value: BTreeMap::new(),
        })
    }

    fn now(&self) -> Timestamp {
        Timestamp::ZERO + Span::from_secs_f64((instant_now() - self.begun).as_secs_f64())
    }

    fn token(&mut self) -> Token {
        self.next_token += 1;
        Token(self.next_token)
    }

    fn hold(mut self, settings: AuditSettings) -> Result<Audit> {
        let mut auditor: Option<Auditor> = None;
        let mut entries = Vec::new();
        loop {
            match self.radio.news().recv_timeout(Duration::from_millis(20)) {
                Ok(News::Services {
                    entries: offered, ..
                }) => {
                    entries = offered;
                    if let Some(auditor) = &mut auditor {
                        auditor.handle_services(&offered_list(&entries));
                    }
                }
                Ok(News::Link {
                    state: LinkState::Live,
                    ..
                }) => {
                    let now = self.now();
                    let auditor = auditor.get_or_insert_with(|| Auditor::new(now, settings));
                    if let Some(advertised) = &self.advertised {
                        auditor.handle_advertisement(advertised);
                    }
                    auditor.handle_link(now, Link::Up);
                    auditor.handle_services(&offered_list(&entries));
                    self.read_all(&entries)?;
                }
                Ok(News::Link {
                    state: LinkState::Lost,
                    ..
                }) => {
                    let now = self.now();
                    if let Some(auditor) = &mut auditor {
                        auditor.handle_link(now, Link::Down);
                    }
                }
                Ok(News::Packet(packet)) => {
                    if self
                        .reads
                        .values()
                        .any(|read| *read == packet.characteristic)
                    {
                        self.last_value.insert(packet.characteristic, packet);
                    } else if let Some(auditor) = &mut auditor {
                        auditor.handle_packet(&packet);
                    }
                }
                Ok(News::ReadDone { token, result, .. }) => {
                    let now = self.now();
                    if let (Some(auditor), Some(read)) = (&mut auditor, self.reads.remove(&token)) {
                        let value = self.last_value.remove(&read).map(|packet| packet.bytes);
                        auditor.handle_read(now, read, result.map(|()| value.unwrap_or_default()));
                    }
                }
                Ok(News::WriteDone { result, .. }) => {
                    let now = self.now();
                    if let Some(auditor) = &mut auditor {
                        auditor.handle_write_result(now, &result);
                    }
                }
                Ok(News::Trouble(trouble)) => tell(&trouble),
                Ok(_) | Err(RecvTimeoutError::Timeout) => {}
                Err(RecvTimeoutError::Disconnected) => bail!("the radio stopped"),
            }
            let now = self.now();
            let Some(running) = &mut auditor else {
                if self.begun.elapsed() > LINK_WITHIN {
                    bail!(
                        "not linked within a minute: wake the device, let go of it in other \
                         programs and head units, and look at `prony devices`"
                    );
                }
                continue;
            };
            running.handle_time(now);
            let mut writes = Vec::new();
            while let Some(output) = running.poll_output() {
                match output {
                    AuditOutput::Write {
                        characteristic,
                        bytes,
                    } => {
                        writes.push(Write {
                            source: DEVICE,
                            characteristic,
                            bytes,
                        });
                    }
                    AuditOutput::Tell(words) => tell(words),
                }
            }
            let over = running.is_over();
            for write in writes {
                let token = self.token();
                self.radio.order(Order::Write { token, write })?;
            }
            if over && let Some(auditor) = auditor {
                return Ok(auditor.finish());
            }
        }
    }

    /// Reads everything that can be read, unless it is listened to: on Linux a read looks like one
    /// more notification then.
    fn read_all(&mut self, entries: &[Entry]) -> Result<()> {
        for entry in entries {
            let listened = crate::linked::LISTENED.contains(&entry.characteristic);
            if entry.flags.has(Flags::READ) && !listened {
                let token = self.token();
                self.reads.insert(token, entry.characteristic);
                self.radio.order(Order::Read {
                    token,
                    source: DEVICE,
                    characteristic: entry.characteristic,
                })?;
            }
        }
        Ok(())
    }
}

fn offered_list(entries: &[Entry]) -> Vec<Offered> {
    let known = [
        (Flags::READ, Property::Read),
        (Flags::WRITE, Property::Write),
        (
            Flags::WRITE_WITHOUT_RESPONSE,
            Property::WriteWithoutResponse,
        ),
        (Flags::NOTIFY, Property::Notify),
        (Flags::INDICATE, Property::Indicate),
        (Flags::BROADCAST, Property::Broadcast),
    ];
    entries
        .iter()
        .map(|entry| {
            let declared: Vec<Property> = known
                .iter()
                .filter(|(flag, _)| entry.flags.has(*flag))
                .map(|(_, property)| *property)
                .collect();
            Offered {
                service: entry.service,
                characteristic: entry.characteristic,
                properties: Properties::of(&declared),
            }
        })
        .collect()
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
