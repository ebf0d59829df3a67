//! What was done to instruments since the program was started, under Bench and in sessions, for the
//! record of every session that comes after it.
//!
//! It outlives the radio of the Bench, which is let go before every ride. It lies in memory: another
//! start of the program knows nothing of it, and says nothing of it.

use crate::bench_file::BenchFile;
use crate::clock::instant_now;
use analysis::before::BeforeSession;
use anyhow::Result;
use bench::Happening;
use session::Archive;
use std::path::Path;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

/// Nobody would rely on a zero that is older than a day at the bench.
const KEPT_FOR: Duration = Duration::from_secs(12 * 3600);

/// What was done, by the system's name of the device, the earliest first.
#[derive(Clone, Default)]
pub struct Logbook(Arc<Mutex<Vec<(String, Instant, BeforeSession)>>>);

impl Logbook {
    /// A procedure is over.
    pub fn note(&self, device: &str, done: BeforeSession) {
        self.note_at(device, instant_now(), done);
    }

    fn note_at(&self, device: &str, at: Instant, done: BeforeSession) {
        let mut entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        entries.push((device.to_owned(), at, done));
        entries.sort_by_key(|(_, at, _)| *at);
    }

    /// Gives each instrument of a bench what was done to it, for a session whose clock began then.
    pub fn write_into(&self, bench: &mut BenchFile, began: Instant) {
        let entries = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        for (device, plan) in &mut bench.instruments {
            plan.calibration.before_session = entries
                .iter()
                .filter(|(of, at, _)| of == device && *at <= began && began - *at <= KEPT_FOR)
                .map(|(_, at, done)| BeforeSession {
                    seconds_before: (began - *at).as_secs_f64(),
                    ..done.clone()
                })
                .collect();
        }
    }

    /// Takes over what the instruments carried out during a session whose clock began then: for the
    /// sessions after it, that is what was done before.
    ///
    /// # Errors
    /// If the session cannot be read.
    pub fn note_session(&self, bench: &BenchFile, session: &Path, began: Instant) -> Result<()> {
        for row in Archive::open(session)?.events_of(&["calibration"])? {
            let Ok(Happening::Calibration {
                source,
                procedure,
                state,
                value,
                unit,
                words,
            }) = Happening::from_row(&row.kind, &row.body)
            else {
                continue;
            };
            let mut instruments = bench.instruments.iter();
            let device = instruments.find(|(_, plan)| plan.id.0 == source);
            let (Some((device, _)), "succeeded" | "failed") = (device, &state[..]) else {
                continue;
            };
            let after = Duration::from_secs_f64(row.at.as_secs_f64().max(0.0));
            let done = BeforeSession {
                procedure,
                succeeded: state == "succeeded",
                seconds_before: 0.0,
                value,
                unit,
                words,
            };
            self.note_at(device, began + after, done);
        }
        Ok(())
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
        logbook.write_into(&mut bench, instant_now());
        let of = |index: usize| &bench.instruments[index].1.calibration.before_session;
        assert_eq!(of(0).len(), 1);
        assert_eq!(of(0)[0].words, done.words);
        assert!(of(0)[0].seconds_before >= 0.0);
        assert!(of(1).is_empty());

        // The session after the next one begins with it as well.
        logbook.write_into(&mut bench, instant_now());
        assert_eq!(bench.instruments[0].1.calibration.before_session.len(), 1);
        // What came after a session began is not before it.
        let began = instant_now();
        logbook.note("device a", done);
        logbook.write_into(&mut bench, began);
        assert_eq!(bench.instruments[0].1.calibration.before_session.len(), 1);
    }
}
