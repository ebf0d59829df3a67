//! What was done to instruments before a session, kept until the session that it belongs to.
//!
//! It outlives the radio of the Bench, which is let go before every ride.

use crate::bench_file::BenchFile;
use crate::clock::instant_now;
use analysis::before::BeforeSession;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Nobody would rely on a zero that is older than a day at the bench.
const KEPT_FOR: Duration = Duration::from_secs(12 * 3600);

/// What was done since the program was started, by the system's name of the device.
#[derive(Clone, Default)]
pub struct Logbook(Arc<Mutex<Vec<(String, Instant, BeforeSession)>>>);

impl Logbook {
    /// A procedure is over.
    pub fn note(&self, device: &str, done: BeforeSession) {
        let mut entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        entries.push((device.to_owned(), instant_now(), done));
    }

    /// Gives each instrument of a bench what was done to it, for a session that begins now.
    pub fn write_into(&self, bench: &mut BenchFile) {
        let now = instant_now();
        let entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for (device, plan) in &mut bench.instruments {
            plan.calibration.before_session = entries
                .iter()
                .filter(|(of, at, _)| of == device && now - *at <= KEPT_FOR)
                .map(|(_, at, done)| BeforeSession {
                    seconds_before: (now - *at).as_secs_f64(),
                    ..done.clone()
                })
                .collect();
        }
    }

    /// A session on this bench has taken its entries: the one after it begins with instruments as
    /// that session left them, and a comparison counts each calibration once.
    pub fn hand_over(&self, bench: &BenchFile) {
        let mut entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        entries.retain(|(of, _, _)| bench.instruments.iter().all(|(device, _)| device != of));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use analysis::before::CalibrationRecord;
    use analysis::evidence::Place;
    use bench::SourcePlan;
    use bench::model::InstrumentRole;
    use units::SourceId;

    #[test]
    fn each_instrument_gets_its_own_entries() {
        let logbook = Logbook::default();
        let done = BeforeSession {
            procedure: "spin-down".to_owned(),
            succeeded: true,
            seconds_before: 0.0,
            value: None,
            unit: None,
            torque_nm: None,
            words: "succeeded".to_owned(),
        };
        logbook.note("device a", done.clone());
        let plan = |id| SourcePlan {
            id: SourceId(id),
            name: format!("instrument {id}"),
            role: InstrumentRole::Witness,
            place: Place::Unknown,
            main: None,
            calibration: CalibrationRecord::default(),
        };
        let mut bench = BenchFile {
            name: "left stand".to_owned(),
            rider_ceiling_w: None,
            instruments: vec![
                ("device a".to_owned(), plan(1)),
                ("device b".to_owned(), plan(2)),
            ],
        };
        logbook.write_into(&mut bench);
        let of = |index: usize| &bench.instruments[index].1.calibration.before_session;
        assert_eq!(of(0).len(), 1);
        assert_eq!(of(0)[0].words, done.words);
        assert!(of(0)[0].seconds_before >= 0.0);
        assert!(of(1).is_empty());

        logbook.note("device c", done);
        logbook.hand_over(&bench);
        logbook.write_into(&mut bench);
        assert!(bench.instruments[0].1.calibration.before_session.is_empty());
        bench.instruments[1].0 = "device c".to_owned();
        logbook.write_into(&mut bench);
        assert_eq!(bench.instruments[1].1.calibration.before_session.len(), 1);
    }
}
