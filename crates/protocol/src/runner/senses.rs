//! What the instruments last said, and for how long it has been so.

use super::input::{Instrument, Quantity, Reading};
use std::collections::VecDeque;
use units::{MetresPerSecond, RevPerMin, Span, Timestamp, Watts};

/// How long a value stands for what is going on now.
pub(super) const FRESH: Span = Span::from_secs(3);
/// Over how long a fall of the cadence is measured.
const FALL_WINDOW: Span = Span::from_secs(2);

#[derive(Debug, Default)]
pub(super) struct Senses {
    cadence: [Option<(Timestamp, f64)>; 2],
    power: [Option<(Timestamp, f64)>; 2],
    speed: [Option<(Timestamp, f64)>; 2],
    /// Cadences of the last seconds, for the fall.
    recent: VecDeque<(Timestamp, f64)>,
    /// Metres ridden, by the held speed.
    metres: f64,
    metres_at: Timestamp,
}

impl Senses {
    pub(super) fn read(&mut self, now: Timestamp, reading: Reading) {
        let place = match reading.instrument {
            Instrument::UnderTest => 0,
            Instrument::Reference => 1,
        };
        let (kept, value) = match reading.quantity {
            Quantity::Power(power) => (&mut self.power[place], power.get()),
            Quantity::Cadence(cadence) => (&mut self.cadence[place], cadence.get()),
            Quantity::Speed(speed) => {
                self.metres = self.metres(now);
                self.metres_at = now;
                (&mut self.speed[place], speed.get())
            }
        };
        if !value.is_finite() {
            return;
        }
        *kept = Some((now, value));
        if matches!(reading.quantity, Quantity::Cadence(_))
            && let Some(cadence) = self.cadence(now)
        {
            self.recent.push_back((now, cadence.get()));
            while self.recent.front().is_some_and(|(at, _)| now - *at > FRESH) {
                self.recent.pop_front();
            }
        }
    }

    /// The highest of the fresh cadences: one instrument that drops out is no stall.
    pub(super) fn cadence(&self, now: Timestamp) -> Option<RevPerMin> {
        fresh(&self.cadence, now)
            .map(RevPerMin)
            .reduce(RevPerMin::max)
    }

    /// Whether any instrument has ever reported a cadence.
    pub(super) fn has_cadence(&self) -> bool {
        self.cadence.iter().any(Option::is_some)
    }

    /// Whether any instrument has ever reported a speed.
    pub(super) fn has_speed(&self) -> bool {
        self.speed.iter().any(Option::is_some)
    }

    /// When the last cadence arrived.
    pub(super) fn cadence_at(&self) -> Option<Timestamp> {
        self.cadence.iter().flatten().map(|(at, _)| *at).max()
    }

    /// The device's speed, or the reference's where the device has none.
    pub(super) fn speed(&self, now: Timestamp) -> Option<MetresPerSecond> {
        fresh(&self.speed, now).next().map(MetresPerSecond)
    }

    /// The highest of the fresh powers.
    pub(super) fn power(&self, now: Timestamp) -> Option<Watts> {
        fresh(&self.power, now).map(Watts).reduce(Watts::max)
    }

    /// How fast the cadence falls, rpm/s, if enough of it was seen.
    pub(super) fn falling_rpm_per_s(&self, now: Timestamp) -> Option<f64> {
        let (last_at, last) = self.recent.back()?;
        let (first_at, first) = self
            .recent
            .iter()
            .find(|(at, _)| now - *at <= FALL_WINDOW)?;
        let seconds = (*last_at - *first_at).as_secs_f64();
        (seconds >= 1.0).then(|| (first - last) / seconds)
    }

    /// Metres of road for one crank revolution, from speed and cadence.
    pub(super) fn development_m(&self, now: Timestamp) -> Option<f64> {
        let cadence = self.cadence(now).filter(|cadence| cadence.get() >= 30.0)?;
        let speed = self.speed(now).filter(|speed| speed.get() >= 1.0)?;
        Some(speed.get() * 60.0 / cadence.get())
    }

    /// Metres ridden up to now; a speed is held for as long as it is fresh.
    pub(super) fn metres(&self, now: Timestamp) -> f64 {
        let Some((at, speed)) = self.speed[0].or(self.speed[1]) else {
            return self.metres;
        };
        let until = now.min(at + FRESH);
        self.metres + (until - self.metres_at).as_secs_f64().max(0.0) * speed.max(0.0)
    }
}

fn fresh(values: &[Option<(Timestamp, f64)>; 2], now: Timestamp) -> impl Iterator<Item = f64> + '_ {
    values
        .iter()
        .flatten()
        .filter(move |(at, _)| now - *at <= FRESH)
        .map(|(_, value)| *value)
}
