//! Radio: intervals between packets, gaps and loss of every stream.

use super::prepared::Prepared;
use super::words;
use crate::evidence::{Arrival, Role, Stream};
use crate::outcome::{Ink, Outcome, Tested, not_tested};
use crate::stats::intervals::share_interval;
use crate::stats::order::quantile_of_sorted;

/// Name of the examination.
pub const NAME: &str = "radio";

/// Intervals of every stream that has arrivals.
#[derive(Clone, Debug, PartialEq)]
pub struct Radio {
    /// One entry per stream.
    pub streams: Vec<RadioStream>,
}

/// Intervals of one stream. Intervals across links are not counted.
#[derive(Clone, Debug, PartialEq)]
pub struct RadioStream {
    /// Name of the stream.
    pub source: String,
    /// Packets received.
    pub packets: usize,
    /// Links there have been.
    pub links: usize,
    /// Middle interval, s.
    pub median_s: f64,
    /// 95 of 100 intervals are not longer, s.
    pub p95_s: f64,
    /// 99 of 100 intervals are not longer, s.
    pub p99_s: f64,
    /// Longest interval, s.
    pub longest_s: f64,
    /// Packets per second while linked.
    pub rate_hz: f64,
    /// Packets that the regular interval lets expect but that did not come.
    pub missing: usize,
    /// Share missing.
    pub loss: f64,
    /// Exact 95 % interval of the share, losses taken as independent.
    pub loss_interval: [f64; 2],
}

/// Fewest intervals that say anything.
const LEAST_INTERVALS: usize = 20;
/// An interval this many times the middle one has packets missing in it.
const MISSING_FROM: f64 = 1.6;

/// Examines the arrivals of every stream.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) where no stream has arrivals.
pub fn radio(given: &Prepared<'_>) -> Outcome<Radio> {
    let mut streams = Vec::new();
    let mut layers = Vec::new();
    // Moving a stream may stretch its clock; intervals are those of the arrivals themselves.
    for stream in given.received {
        let Some((found, sorted)) = examine(stream) else {
            continue;
        };
        let n = sorted.len() as f64;
        let every = sorted.len().div_ceil(200);
        let curve = sorted
            .iter()
            .enumerate()
            .filter(|(i, _)| i % every == 0 || *i + 1 == sorted.len())
            .map(|(i, interval)| [*interval, (i + 1) as f64 / n])
            .collect();
        layers.push(words::line(ink(stream.role), &stream.name, curve));
        streams.push(found);
    }
    if streams.is_empty() {
        return not_tested(
            NAME,
            "no stream has the arrival times of its packets; record over the radio instead of \
             importing a file",
        );
    }
    let parts: Vec<String> = streams
        .iter()
        .map(|s| {
            format!(
                "{} every {} s, longest gap {} s, {} % missing",
                s.source,
                words::plain(s.median_s, 2),
                words::plain(s.longest_s, 1),
                words::plain(100.0 * s.loss, 1)
            )
        })
        .collect();
    let sentence = format!("Packets arrived – {}.", parts.join("; "));
    let plots = vec![words::plot(
        "radio-intervals",
        "Intervals between packets",
        ["interval, s (logarithmic)", "share not longer"],
        layers,
        "intervals within one link".into(),
    )];
    Ok(Tested {
        result: Radio { streams },
        sentence,
        plots,
    })
}

fn ink(role: Role) -> Ink {
    match role {
        Role::UnderTest => Ink::UnderTest,
        Role::PrimaryReference => Ink::Reference,
        Role::SecondReference | Role::Witness => Ink::SecondReference,
    }
}

/// The findings of one stream and its sorted intervals.
fn examine(stream: &Stream) -> Option<(RadioStream, Vec<f64>)> {
    let arrivals = &stream.arrivals;
    let mut intervals: Vec<f64> = arrivals
        .windows(2)
        .filter(|pair| pair[0].epoch == pair[1].epoch)
        .map(|pair| (pair[1].at - pair[0].at).as_secs_f64())
        .filter(|interval| *interval >= 0.0)
        .collect();
    if intervals.len() < LEAST_INTERVALS {
        return None;
    }
    intervals.sort_by(f64::total_cmp);
    let at = |p: f64| quantile_of_sorted(&intervals, p);
    let median_s = at(0.5)?;
    let missing: usize = if median_s > 0.0 {
        intervals
            .iter()
            .filter(|interval| **interval > MISSING_FROM * median_s)
            .map(|interval| (interval / median_s).round() as usize - 1)
            .sum()
    } else {
        0
    };
    let expected = intervals.len() + missing;
    let linked_s: f64 = intervals.iter().sum();
    let found = RadioStream {
        source: stream.name.clone(),
        packets: arrivals.len(),
        links: arrivals
            .chunk_by(|a: &Arrival, b: &Arrival| a.epoch == b.epoch)
            .count(),
        median_s,
        p95_s: at(0.95)?,
        p99_s: at(0.99)?,
        longest_s: at(1.0)?,
        rate_hz: if linked_s > 0.0 {
            intervals.len() as f64 / linked_s
        } else {
            0.0
        },
        missing,
        loss: missing as f64 / expected as f64,
        loss_interval: share_interval(missing as u64, expected as u64),
    };
    Some((found, intervals))
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Noise, Session, at};
    use super::*;

    fn arrivals(seed: u64, lost: f64) -> Session {
        let mut noise = Noise::new(seed);
        let mut session = Session::pair(2, |_| (200.0, 200.0), Session::usual_motion);
        let stream = &mut session.evidence.streams[0];
        stream.arrivals.clear();
        for i in 0..4000 {
            if noise.uniform() >= lost {
                let t = 0.25 * f64::from(i) + 0.02 * noise.uniform();
                stream.arrivals.push(Arrival {
                    at: at(t),
                    epoch: u32::from(i >= 2000),
                });
            }
        }
        session
    }

    #[test]
    fn loss_is_counted_within_its_interval() {
        let mut covered = 0;
        for seed in 0..40 {
            let result = radio(&arrivals(seed, 0.03).given()).unwrap().result;
            let stream = &result.streams[0];
            assert_eq!(stream.links, 2);
            assert!((stream.median_s - 0.25).abs() < 0.01);
            covered +=
                usize::from(stream.loss_interval[0] <= 0.03 && 0.03 <= stream.loss_interval[1]);
        }
        assert!(covered >= 35, "{covered} of 40");
        let result = radio(&arrivals(1, 0.0).given()).unwrap().result;
        assert_eq!(result.streams[0].missing, 0);
    }

    #[test]
    fn without_arrivals_not_tested() {
        assert!(radio(&Session::empty().given()).is_err());
        let mut session = arrivals(1, 0.0);
        session.evidence.streams[0].arrivals.truncate(3);
        assert!(radio(&session.given()).is_err());
    }
}
