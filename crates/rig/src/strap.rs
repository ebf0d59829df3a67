//! A heart-rate strap and the heart under it: first order after the power at the crank.
//!
//! It is there to have beats to record. It is no physiology and nothing is judged by it.

use crate::noise::{Dice, Wander};
use crate::spec::StrapSpec;
use crate::step::StepView;
use sensor::heart_rate::{HeartRateMeasurement, SensorContact};

/// Ticks of the times between beats per second (Heart Rate Service).
const TICKS_PER_S: f64 = 1024.0;
/// Most beats in one measurement; a value of twenty octets holds nine.
const MOST_BEATS: usize = 9;
/// How much the heart rate strays by itself, 1/min, and for how long, s.
const STRAY_BPM: f64 = 1.0;
const STRAY_MEMORY_S: f64 = 8.0;

/// A strap.
#[derive(Clone, Debug)]
pub(crate) struct Strap {
    spec: StrapSpec,
    dice: Dice,
    stray: Wander,
    steady_bpm: f64,
    bpm: f64,
    beat: f64,
    since_beat_s: f64,
    beats_1024: Vec<u16>,
}

impl Strap {
    pub(crate) fn new(spec: StrapSpec, dice: Dice) -> Self {
        Self {
            dice,
            stray: Wander::new(STRAY_MEMORY_S),
            steady_bpm: spec.rest_bpm,
            bpm: spec.rest_bpm,
            beat: 0.0,
            since_beat_s: 0.0,
            beats_1024: Vec::new(),
            spec,
        }
    }

    /// Takes in one step.
    pub(crate) fn absorb(&mut self, step: &StepView) {
        let power_w = step.flow.crank_w.max(0.0);
        let share = power_w / (power_w + self.spec.half_at_w);
        let aim_bpm = self.spec.rest_bpm + share * (self.spec.most_bpm - self.spec.rest_bpm);
        self.steady_bpm += (aim_bpm - self.steady_bpm) * step.step_s / self.spec.tau_s;
        self.bpm = self.steady_bpm + STRAY_BPM * self.stray.step(step.step_s, &mut self.dice);
        self.beat += self.bpm / 60.0 * step.step_s;
        self.since_beat_s += step.step_s;
        if self.beat >= 1.0 {
            self.beat -= 1.0;
            let ago_s = self.beat / (self.bpm / 60.0);
            let between_s = self.since_beat_s - ago_s;
            self.since_beat_s = ago_s;
            if self.beats_1024.len() == MOST_BEATS {
                self.beats_1024.remove(0);
            }
            self.beats_1024
                .push((between_s * TICKS_PER_S).round() as u16);
        }
    }

    /// One measurement, encoded, with the beats since the one before it.
    pub(crate) fn record(&mut self) -> Vec<u8> {
        HeartRateMeasurement {
            heart_rate_bpm: self.bpm.round() as u16,
            contact: SensorContact::Detected,
            energy_kj: None,
            intervals_1024: std::mem::take(&mut self.beats_1024),
        }
        .encode()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::body::Flow;
    use units::Timestamp;

    /// At the power where the heart settles halfway between 62 and 182 it settles at 122; the times
    /// between beats are 60/122 s then.
    #[test]
    fn the_heart_settles_and_its_beats_agree_with_its_rate() {
        let mut strap = Strap::new(StrapSpec::default(), Dice::new(1, 0));
        let (mut rates, mut beats) = (Vec::new(), Vec::new());
        for step in 1..=50 * 600 {
            let flow = Flow {
                crank_w: 180.0,
                ..Flow::default()
            };
            strap.absorb(&StepView {
                ends: Timestamp::from_millis(20 * step),
                step_s: 0.02,
                flow,
                speed_kmh: 30.0,
            });
            if step % 50 == 0 {
                let record = HeartRateMeasurement::decode(&strap.record()).unwrap();
                if step > 50 * 300 {
                    rates.push(f64::from(record.value.heart_rate_bpm));
                    beats.extend(record.value.intervals_1024.iter().map(|t| f64::from(*t)));
                }
            }
        }
        let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len() as f64;
        assert!((mean(&rates) - 122.0).abs() < 1.0, "{}", mean(&rates));
        let bpm = 60.0 * 1024.0 / mean(&beats);
        assert!((bpm - mean(&rates)).abs() < 0.5, "{bpm}");
    }
}
