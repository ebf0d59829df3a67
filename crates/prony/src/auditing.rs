//! An audit over the radio: one device, linked, read, listened to and, where that is allowed, asked.

use crate::cli::tell;
use crate::clock::instant_now;
use anyhow::{Result, bail};
use crossbeam_channel::RecvTimeoutError;
use radio::{
    Anchor, DeviceId, Entry, Flags, LinkState, News, Order, Radio, RadioConfig, Scan, Token, Wanted,
};
use sensor::assigned;
use sensor::audit::{Audit, AuditOutput, AuditSettings, Auditor, Offered, Properties, Property};
use sensor::control::Link;
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

/// Audits one device from the first link to the last rule.
///
/// # Errors
/// If the radio cannot be used, or the device is not linked within a minute.
pub fn converse(device: &str, settings: AuditSettings) -> Result<Audit> {
    Conversation::begin(device)?.hold(settings)
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
