//! `prony devices`: what is in range, with its services, its signal and its age; and a bench file to
//! begin with.

use super::Failure;
use crate::cli::{self, DevicesArguments, say, tell};
use crate::clock::instant_now;
use crate::{guess, heard};
use anyhow::{Result, bail};
use crossbeam_channel::RecvTimeoutError;
use radio::{Advertisement, Anchor, DeviceId, News, Order, Radio, RadioConfig, Scan};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::path::Path;
use std::time::Duration;
use units::Timestamp;

/// Listens for a while and lists what was heard.
pub fn devices(arguments: &DevicesArguments) -> Result<(), Failure> {
    let found = listen(Duration::from_secs(u64::from(arguments.seconds)))?;
    if let Some(to) = &arguments.json {
        let list: Vec<Value> = found.values().map(entry).collect();
        cli::write_json(&json!({ "schema": "prony-devices-1", "devices": list }), to)?;
    }
    if arguments
        .json
        .as_ref()
        .is_none_or(|to| to.as_os_str() != "-")
    {
        if found.is_empty() {
            say(format_args!(
                "nothing heard within {} s; wake the instruments (turn the cranks) and let go of \
                 them in other programs and head units",
                arguments.seconds
            ));
        }
        let now = found.values().filter_map(|heard| heard.seen_at).max();
        found.values().for_each(|heard| line(heard, now));
    }
    if let Some(to) = &arguments.bench {
        write_bench(&found, to)?;
    }
    Ok(())
}

/// Writes a bench file that nobody has to write by hand. One that is there stays as it is: somebody
/// may have put its roles right.
fn write_bench(found: &BTreeMap<DeviceId, Advertisement>, to: &Path) -> Result<()> {
    let heard: Vec<&Advertisement> = found
        .values()
        .filter(|heard| heard.seen_at.is_some())
        .collect();
    let text = guess::bench(&heard)?;
    if to.exists() {
        bail!("{} is already there; name another file", to.display());
    }
    cli::write_file(to, text)?;
    tell(format_args!(
        "{}: roles are guessed; read it, put right what is wrong, then `prony run --bench {}`",
        to.display(),
        to.display()
    ));
    Ok(())
}

fn listen(how_long: Duration) -> Result<BTreeMap<DeviceId, Advertisement>> {
    let mut config = RadioConfig::new(Anchor::now(Timestamp::ZERO));
    config.services = heard::sought();
    let radio = Radio::start(config)?;
    radio.order(Order::Scan(Scan::On))?;
    let mut found = BTreeMap::new();
    let begun = instant_now();
    while begun.elapsed() < how_long {
        match radio.news().recv_timeout(Duration::from_millis(100)) {
            Ok(News::Found(heard)) => {
                found.insert(heard.id.clone(), heard);
            }
            Ok(News::Trouble(trouble)) => tell(&trouble),
            Ok(_) | Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => break,
        }
    }
    Ok(found)
}

fn services(heard: &Advertisement) -> Vec<String> {
    heard
        .services
        .iter()
        .map(|service| {
            heard::measures(*service).map_or_else(|| format!("{service:04X}"), str::to_owned)
        })
        .collect()
}

fn entry(heard: &Advertisement) -> Value {
    json!({
        "device": heard.id.0,
        "name": heard.name,
        "services": services(heard),
        "signal_dbm": heard.rssi,
        "last_heard_s": heard.seen_at.map(Timestamp::as_secs_f64),
    })
}

/// One device; its age counts back from the newest advertisement of all.
fn line(heard: &Advertisement, now: Option<Timestamp>) {
    let age = match (heard.seen_at, now) {
        (Some(seen), Some(now)) => format!("{:.0} s ago", (now - seen).as_secs_f64()),
        _ => "–".to_owned(),
    };
    say(format_args!(
        "{:<32} {:<24} {:>8} {age:>8}  {}{}",
        heard.id,
        heard.name.as_deref().unwrap_or("(no name)"),
        heard
            .rssi
            .map_or("–".to_owned(), |rssi| format!("{rssi} dBm")),
        services(heard).join(", "),
        if heard.seen_at.is_none() {
            "  (remembered by the system, not heard now)"
        } else {
            ""
        },
    ));
}
