//! Streams moved onto the clock of the reference.

use crate::evidence::{Arrival, Evidence, Stream, ZeroOffset};
use crate::findings::{Alignment, DriftApplied};
use units::{Series, Span, Timestamp};

/// Moves every stream onto the clock of the reference. Alignments are those of
/// [`align`](super::align()); a stream that has none stays where it is.
pub fn apply(evidence: &Evidence, alignments: &[Alignment]) -> Evidence {
    let streams = evidence
        .streams
        .iter()
        .map(|stream| {
            let alignment = alignments
                .iter()
                .find(|alignment| alignment.source == stream.name);
            match alignment {
                Some(alignment) if alignment.moves() => moved(stream, alignment),
                _ => stream.clone(),
            }
        })
        .collect();
    Evidence {
        streams,
        steps: evidence.steps.clone(),
        commands: evidence.commands.clone(),
        invalid: evidence.invalid.clone(),
        end: evidence.end,
    }
}

impl Alignment {
    /// Where a sample of the stream is moved to, so that its held value lies on those of the
    /// reference.
    pub fn on_reference_clock(&self, at: Timestamp) -> Timestamp {
        let mut late_s = self.shift_s;
        if let (DriftApplied::Yes, Some(drift)) = (self.drift_applied, self.drift_ppm) {
            late_s += drift.value * 1e-6 * (at - self.pivot).as_secs_f64();
        }
        at - Span::from_secs_f64(late_s)
    }

    /// Whether applying it changes anything.
    fn moves(&self) -> bool {
        self.refused.is_none() && (self.shift_s != 0.0 || self.drift_applied == DriftApplied::Yes)
    }
}

fn moved(stream: &Stream, alignment: &Alignment) -> Stream {
    let late = Span::from_secs_f64(alignment.shift_s);
    let map = |at: Timestamp| match alignment.drift_applied {
        DriftApplied::No => at - late,
        DriftApplied::Yes => alignment.on_reference_clock(at),
    };
    // A drift of less than one second per second keeps the order, so nothing is refused.
    let series = |series: &Series| match alignment.drift_applied {
        DriftApplied::No => series.shifted(-late),
        DriftApplied::Yes => series.map_time(map).unwrap_or_else(|_| series.clone()),
    };
    Stream {
        name: stream.name.clone(),
        role: stream.role,
        place: stream.place,
        power_w: series(&stream.power_w),
        cadence_rpm: series(&stream.cadence_rpm),
        speed_kmh: series(&stream.speed_kmh),
        arrivals: stream
            .arrivals
            .iter()
            .map(|arrival| Arrival {
                at: map(arrival.at),
                epoch: arrival.epoch,
            })
            .collect(),
        zero_offsets: stream
            .zero_offsets
            .iter()
            .map(|zero| ZeroOffset {
                at: map(zero.at),
                torque_nm: zero.torque_nm,
            })
            .collect(),
    }
}
