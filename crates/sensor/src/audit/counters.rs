//! Whether revolution and event-time counters run as counters do.

use super::evidence::Heard;
use super::finding::RuleFinding;
use super::streams::Fault;
use crate::counter::{Counter, CounterShape, Step};
use crate::cycling_power::measurement::CyclingPowerMeasurement;
use crate::speed_cadence::SpeedCadenceMeasurement;

const SUPPLEMENT: &str = "GATT Specification Supplement, revolution data of the characteristic";

/// The counters of a power meter.
pub(super) fn power(heard: &[Heard]) -> RuleFinding {
    let id = "cps.measurement.counters";
    judge(id, heard, CounterShape::WHEEL_2048, |bytes| {
        let record = CyclingPowerMeasurement::decode(bytes).ok()?.value;
        Some([
            record
                .crank
                .map(|crank| (u32::from(crank.revolutions), crank.event_time_1024)),
            record
                .wheel
                .map(|wheel| (wheel.revolutions, wheel.event_time_2048)),
        ])
    })
}

/// The counters of a speed and cadence sensor.
pub(super) fn speed(heard: &[Heard]) -> RuleFinding {
    let id = "csc.measurement.counters";
    judge(id, heard, CounterShape::WHEEL_1024, |bytes| {
        let record = SpeedCadenceMeasurement::decode(bytes).ok()?.value;
        Some([
            record
                .crank
                .map(|crank| (u32::from(crank.revolutions), crank.event_time_1024)),
            record
                .wheel
                .map(|wheel| (wheel.revolutions, wheel.event_time_1024)),
        ])
    })
}

type Counts = [Option<(u32, u16)>; 2];

fn judge(
    id: &str,
    heard: &[Heard],
    wheel: CounterShape,
    read: impl Fn(&[u8]) -> Option<Counts>,
) -> RuleFinding {
    let title = "revolutions never grow without time, and neither jumps within a link";
    let finding = RuleFinding::new(id, title, SUPPLEMENT);
    let mut counters = [Counter::new(CounterShape::CRANK), Counter::new(wheel)];
    let mut fault = Fault::new();
    let mut turned = 0;
    for one in heard {
        let counts = read(&one.bytes).into_iter().flatten();
        for (counter, counts) in counters.iter_mut().zip(counts) {
            let Some((revolutions, event_time)) = counts else {
                continue;
            };
            match counter.handle(one.at, one.epoch, revolutions, event_time) {
                Step::Turned { .. } => turned += 1,
                Step::BadRecord => {
                    fault.note(one, "revolutions without any time between them".to_owned());
                }
                Step::Restarted { rpm } => {
                    fault.note(
                        one,
                        format!("a step of {rpm:.0} rpm: it jumped or restarted"),
                    );
                }
                Step::Armed | Step::Nothing => {}
            }
        }
    }
    if turned == 0 {
        return finding.unseen("nothing turned");
    }
    fault.settle(
        finding,
        heard.len(),
        &format!("{turned} steps, each possible"),
    )
}
