//! The curves of a recording, each moved by its alignment.

use analysis::evidence::{Evidence, Role};
use analysis::findings::{Findings, PairedTraces};
use bench::trace::Trace;
use units::{Series, Span, Timestamp};

/// Curves of the recording, each moved by its alignment.
#[derive(Debug)]
pub(super) struct Traces {
    pub(super) power: Vec<(Role, Trace)>,
    pub(super) difference_w: Trace,
    pub(super) end: Timestamp,
}

pub(super) fn traces(findings: &Findings, evidence: Option<&Evidence>) -> Traces {
    let mut power = Vec::new();
    let mut end = Timestamp::from_secs_f64(findings.duration_s);
    match evidence {
        Some(evidence) => {
            end = end.max(evidence.end);
            for stream in &evidence.streams {
                let lag = findings
                    .alignment
                    .iter()
                    .find(|alignment| alignment.source == stream.name)
                    // A recording with a clock of its own was placed before anything else.
                    .filter(|alignment| alignment.stretches.is_empty())
                    .map_or(Span::ZERO, |alignment| Span::from_secs_f64(alignment.lag_s));
                power.push((stream.role, from_series(&stream.power_w, lag)));
            }
        }
        None => {
            let pairs = &findings.traces;
            power.push((
                Role::PrimaryReference,
                from_seconds(pairs, &pairs.reference_w),
            ));
            power.push((Role::UnderTest, from_seconds(pairs, &pairs.under_test_w)));
        }
    }
    let pairs = &findings.traces;
    let difference: Vec<_> = pairs
        .under_test_w
        .iter()
        .zip(&pairs.reference_w)
        .map(|(device, reference)| Some((*device)? - (*reference)?))
        .collect();
    Traces {
        power,
        difference_w: from_seconds(pairs, &difference),
        end,
    }
}

fn from_series(series: &Series, lag: Span) -> Trace {
    let mut trace = Trace::new(series.hold_limit());
    for (at, value) in series.iter() {
        trace.push(at - lag, value);
    }
    trace
}

fn from_seconds(pairs: &PairedTraces, values: &[Option<f64>]) -> Trace {
    let mut trace = Trace::new(Span::from_secs(1));
    for (second, value) in (pairs.from_s..).zip(values) {
        if let Some(value) = value {
            trace.push(Timestamp::from_secs(second), *value);
        }
    }
    trace
}
