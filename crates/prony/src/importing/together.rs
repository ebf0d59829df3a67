//! Whether two recordings are of one ride: what their details and their calendars say.
//!
//! The same script ridden on two days gives two recordings with the same steps. Only the details in
//! between tell them apart, or the dates. Neither is overruled by chance: where they speak against
//! one ride the import is refused, and a person who knows better has to give their word for it, which
//! is kept.

use analysis::align::{Agreement, Placement};
use anyhow::{Result, bail};
use serde_json::{Value, json};
use session::import::{Began, Recording};

/// Recorders that are set by hand may be a quarter of an hour off and mean the same ride; ours.
const SET_BY_HAND_S: f64 = 15.0 * 60.0;
/// From here on a difference of the calendars is worth saying, s.
const WORTH_SAYING_S: f64 = 60.0;
/// A local time may lie as far as this from universal time, s: zones reach from −12 to +14 hours.
const ZONES_S: f64 = 14.0 * 3600.0;

/// What a person gives their word for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct GivenWord {
    /// The recordings are of one ride although their details do not show it.
    pub same_ride: bool,
    /// The calendar of one recorder is wrong.
    pub clocks_may_be_wrong: bool,
}

impl GivenWord {
    /// As it is kept in the event of the import.
    pub fn to_json(self) -> Value {
        json!({ "same_ride": self.same_ride, "clocks_may_be_wrong": self.clocks_may_be_wrong })
    }

    /// Of the event of an import; those of earlier versions gave none.
    pub fn of_event(body: &Value) -> Self {
        let said = |name: &str| body["given_word"][name].as_bool().unwrap_or(false);
        Self {
            same_ride: said("same_ride"),
            clocks_may_be_wrong: said("clocks_may_be_wrong"),
        }
    }
}

/// What has to be said about a pair: the device's recording first, then that of the reference.
///
/// # Errors
/// If details or calendars speak against one ride and nobody gives their word.
pub(super) fn check(
    name: &str,
    pair: [&Recording; 2],
    placement: &Placement,
    word: GivenWord,
) -> Result<Vec<String>> {
    let mut remarks = Vec::new();
    match placement.agreement() {
        Agreement::Details => {}
        Agreement::NoDetails => remarks.push(format!(
            "{name} agrees with the reference in the steps of the ride; its details cannot be \
             compared, because one of the two hardly shows any. That both are of one ride rests on \
             the steps alone: make sure that they are, and not of one script on two days"
        )),
        Agreement::StepsOnly => {
            let found = format!(
                "{name}: the recordings agree only in the steps of the ride, not in their details \
                 ({})",
                details(placement)
            );
            if !word.same_ride {
                bail!(
                    "{found}; so they look like one script ridden on two days. Import the recordings \
                     of one ride, or give your word for it: \"on my word\" in the window, \
                     `--same-ride` on the command line"
                );
            }
            remarks.push(format!(
                "{found}; that they are of one ride is the word of whoever imported them"
            ));
        }
    }
    if let Some(apart_s) = apart_s(pair, placement) {
        let found = format!(
            "{name}: by the calendars of the recorders its ride was {} than that of the reference",
            how_far(apart_s)
        );
        if apart_s.abs() > SET_BY_HAND_S && !word.clocks_may_be_wrong {
            bail!(
                "{found}; rides of different times are not compared. Choose the recordings of one \
                 ride; if a calendar is known to be wrong, give your word for that: \"may be wrong\" in \
                 the window, `--clocks-may-be-wrong` on the command line{}",
                zone_hint(apart_s)
            );
        }
        if apart_s.abs() > WORTH_SAYING_S {
            remarks.push(format!("{found}; one of them is set wrongly"));
        }
    }
    Ok(remarks)
}

fn details(placement: &Placement) -> String {
    let said: Vec<String> = ["power", "cadence"]
        .iter()
        .zip(&placement.details)
        .filter_map(|(quantity, details)| {
            let details = details.as_ref()?;
            Some(format!(
                "{quantity} correlates {:+.2}, {:+.1} standard deviations from chance",
                details.correlation, details.stands_out
            ))
        })
        .collect();
    said.join("; ")
}

/// By how much the calendar says that the device's ride was later than the reference's, s, where the
/// two have been placed. `None` where no calendar says.
fn apart_s([device, reference]: [&Recording; 2], placement: &Placement) -> Option<f64> {
    let seconds = |moment: chrono::DateTime<chrono::Utc>| {
        moment.timestamp() as f64 + 1e-9 * f64::from(moment.timestamp_subsec_nanos())
    };
    let (a, b, free_s) = match (device.began, reference.began) {
        (Began::Utc(a), Began::Utc(b)) => (seconds(a), seconds(b), 0.0),
        (Began::Local(a), Began::Local(b)) => (seconds(a.and_utc()), seconds(b.and_utc()), 0.0),
        // Nobody knows the zone: only what no zone explains is a difference.
        (Began::Utc(a), Began::Local(b)) => (seconds(a), seconds(b.and_utc()), ZONES_S),
        (Began::Local(a), Began::Utc(b)) => (seconds(a.and_utc()), seconds(b), ZONES_S),
        (Began::Unknown, _) | (_, Began::Unknown) => return None,
    };
    // A moment of the ride is `lag` later on the device's own count than on the reference's.
    let apart_s = a - b + placement.pieces[0].lag_s;
    Some((apart_s.abs() - free_s).max(0.0).copysign(apart_s))
}

fn how_far(apart_s: f64) -> String {
    let size = match apart_s.abs() {
        days if days >= 2.0 * 86_400.0 => format!("{:.0} days", days / 86_400.0),
        hours if hours >= 2.0 * 3600.0 => format!("{:.1} hours", hours / 3600.0),
        minutes if minutes >= 120.0 => format!("{:.0} minutes", minutes / 60.0),
        seconds => format!("{seconds:.0} seconds"),
    };
    format!("{size} {}", if apart_s < 0.0 { "earlier" } else { "later" })
}

/// Zones are whole quarters of an hour: a difference near one looks like a forgotten zone.
fn zone_hint(apart_s: f64) -> &'static str {
    let quarter_s = 900.0;
    let off_s = (apart_s / quarter_s - (apart_s / quarter_s).round()).abs() * quarter_s;
    if apart_s.abs() <= ZONES_S && off_s < 60.0 {
        ". The difference is a whole number of quarter hours: perhaps a time zone was left out"
    } else {
        ""
    }
}
