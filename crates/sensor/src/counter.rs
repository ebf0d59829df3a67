//! Revolution and event-time counters, and what their differences mean.
//!
//! The services do not send cadence or wheel speed; they send two running counters: revolutions,
//! and the time of the last revolution in fractions of a second. Both roll over. Their difference
//! over one step gives the rate. Four rules keep a rate honest:
//!
//! - the first difference after a gap is dropped, because an unknown number of roll-overs may lie
//!   in it (a silence of more than two seconds, a new link, or a standstill so long that the event
//!   time has come half way round);
//! - no new revolution means *nothing new*, not zero: the rate falls to zero only after a hold
//!   time, because many instruments never send a zero (common practice: two to three seconds);
//! - revolutions without time are a bad record; the next difference is taken from the record
//!   before it, so that none of its revolutions is lost;
//! - a rate that no leg can turn is a counter that restarted, not a rate.

use units::{Span, Timestamp};

/// A silence longer than this makes the next difference ambiguous.
pub const LONGEST_SILENCE: Span = Span::from_millis(2000);

/// Without a new revolution for this long, the rate is zero.
pub const HOLD: Span = Span::from_millis(3000);

/// A slow rate is held for two of its own revolutions, but no longer than this.
pub const LONGEST_HOLD: Span = Span::from_secs(8);

/// A cadence above this is a restarted counter (bluetooth.md §10 G; common practice).
pub const HIGHEST_CADENCE_RPM: f64 = 250.0;

/// How the two counters of one kind are built.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CounterShape {
    /// Event-time ticks per second: 1024 or 2048.
    pub ticks_per_second: u32,
    /// Whether the revolution counter has 16 bits (and rolls over at 65536) or 32.
    pub revolution_bits: RevolutionBits,
    /// The highest rate that is believed, revolutions per minute.
    pub highest_rpm: u32,
}

/// Width of a revolution counter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RevolutionBits {
    /// 16 bits, rolls over.
    Sixteen,
    /// 32 bits, does not roll over in practice but may be set back.
    ThirtyTwo,
}

impl CounterShape {
    /// Crank counters of cycling power and of speed and cadence: 16 bits, 1/1024 s.
    pub const CRANK: Self = Self {
        ticks_per_second: 1024,
        revolution_bits: RevolutionBits::Sixteen,
        highest_rpm: HIGHEST_CADENCE_RPM as u32,
    };
    /// Wheel counters of cycling power: 32 bits, 1/2048 s.
    pub const WHEEL_2048: Self = Self {
        ticks_per_second: 2048,
        revolution_bits: RevolutionBits::ThirtyTwo,
        highest_rpm: 2000,
    };
    /// Wheel counters of speed and cadence: 32 bits, 1/1024 s.
    pub const WHEEL_1024: Self = Self {
        ticks_per_second: 1024,
        revolution_bits: RevolutionBits::ThirtyTwo,
        highest_rpm: 2000,
    };

    /// The time in which the event time comes half way round.
    fn half_way_round(self) -> Span {
        Span::from_secs(32_768) / i64::from(self.ticks_per_second.max(1))
    }
}

/// What one new record says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Step {
    /// Nothing can be said yet: first record, or first after a gap.
    Armed,
    /// No new revolution.
    Nothing,
    /// Whole revolutions in a known time.
    Turned {
        /// Revolutions.
        revolutions: u32,
        /// Revolutions per minute.
        rpm: f64,
    },
    /// Revolutions, but no time passed.
    BadRecord,
    /// Faster than anything that can be: the counter restarted.
    Restarted {
        /// The rate that was not believed, revolutions per minute.
        rpm: f64,
    },
}

/// One pair of counters followed over time.
#[derive(Clone, Debug)]
pub struct Counter {
    shape: CounterShape,
    last: Option<Last>,
    /// When the rate becomes zero if nothing turns.
    zero_at: Option<Timestamp>,
}

#[derive(Clone, Copy, Debug)]
struct Last {
    /// When the last record came.
    at: Timestamp,
    epoch: u32,
    revolutions: u32,
    event_time: u16,
    /// When these two counters were first seen.
    since: Timestamp,
}

impl Last {
    fn has(&self, revolutions: u32, event_time: u16) -> bool {
        (self.revolutions, self.event_time) == (revolutions, event_time)
    }
}

impl Counter {
    /// A counter that has seen nothing.
    pub fn new(shape: CounterShape) -> Self {
        Self {
            shape,
            last: None,
            zero_at: None,
        }
    }

    /// Takes the counters of one record received at `at` over link number `epoch`.
    pub fn handle(&mut self, at: Timestamp, epoch: u32, revolutions: u32, event_time: u16) -> Step {
        let now = Last {
            at,
            epoch,
            revolutions,
            event_time,
            since: at,
        };
        let Some(mut previous) = self.last.replace(now).filter(|last| last.epoch == epoch) else {
            self.zero_at = Some(at + HOLD);
            return Step::Armed;
        };
        let silence = at - std::mem::replace(&mut previous.at, at);
        if previous.has(revolutions, event_time) {
            // Nothing turned, whatever lay between; a zero that is due stays due.
            self.last = Some(previous);
            return Step::Nothing;
        }
        if silence > LONGEST_SILENCE || at - previous.since > self.shape.half_way_round() {
            self.zero_at = Some(at + HOLD);
            return Step::Armed;
        }
        let turned = match self.shape.revolution_bits {
            RevolutionBits::Sixteen => {
                u32::from((revolutions as u16).wrapping_sub(previous.revolutions as u16))
            }
            RevolutionBits::ThirtyTwo => revolutions.wrapping_sub(previous.revolutions),
        };
        let ticks = event_time.wrapping_sub(previous.event_time);
        match (turned, ticks) {
            (0, _) => Step::Nothing,
            (_, 0) => {
                self.last = Some(previous);
                Step::BadRecord
            }
            (turned, ticks) => {
                let seconds = f64::from(ticks) / f64::from(self.shape.ticks_per_second);
                let rpm = f64::from(turned) * 60.0 / seconds;
                if rpm > f64::from(self.shape.highest_rpm) {
                    return Step::Restarted { rpm };
                }
                let two_turns = Span::from_secs_f64(2.0 * seconds / f64::from(turned));
                self.zero_at = Some(at + HOLD.max(two_turns).min(LONGEST_HOLD));
                Step::Turned {
                    revolutions: turned,
                    rpm,
                }
            }
        }
    }

    /// When the rate becomes zero if no revolution is reported before.
    pub fn poll_timeout(&self) -> Option<Timestamp> {
        self.zero_at
    }

    /// Fires the zero if it is due; returns the moment at which it fell due.
    pub fn handle_time(&mut self, now: Timestamp) -> Option<Timestamp> {
        self.zero_at.take_if(|due| *due <= now)
    }
}

/// Average torque over the revolutions of one step, from the accumulated torque counter (1/32 N·m,
/// 16 bits, rolls over), N·m. The counter may also run backwards, with pedals pushed backwards: a
/// step of more than half its range, 1024 N·m, is taken as one back.
pub fn mean_torque_nm(previous_32nds: u16, now_32nds: u16, revolutions: u32) -> Option<f64> {
    let difference = now_32nds.wrapping_sub(previous_32nds).cast_signed();
    let accumulated = f64::from(difference) / 32.0;
    (revolutions > 0).then(|| accumulated / f64::from(revolutions))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn at(millis: i64) -> Timestamp {
        Timestamp::from_millis(millis)
    }

    /// Vectors P10 and P11 of the shared list, derived by hand from the published layout: two
    /// revolutions in 1924/1024 s across both roll-overs are 63.867 rpm, and the accumulated
    /// torque grew by 2 N·m.
    #[test]
    fn both_counters_roll_over() {
        let mut crank = Counter::new(CounterShape::CRANK);
        assert_eq!(crank.handle(at(0), 1, 65_535, 64_512), Step::Armed);
        let Step::Turned { revolutions, rpm } = crank.handle(at(1900), 1, 1, 900) else {
            panic!("two revolutions were reported");
        };
        assert_eq!(revolutions, 2);
        assert!((rpm - 63.867).abs() < 1e-3, "{rpm}");
        assert_eq!(mean_torque_nm(0x2000, 0x2040, 2), Some(1.0));
    }

    #[test]
    fn the_first_difference_after_a_gap_or_a_new_link_is_dropped() {
        let mut crank = Counter::new(CounterShape::CRANK);
        crank.handle(at(0), 1, 10, 0);
        assert_eq!(crank.handle(at(2500), 1, 14, 2048), Step::Armed);
        assert_eq!(crank.handle(at(3000), 2, 15, 3000), Step::Armed);
        assert!(matches!(
            crank.handle(at(3700), 2, 16, 3700),
            Step::Turned { .. }
        ));
    }

    #[test]
    fn what_no_leg_can_turn_and_what_takes_no_time_is_not_a_rate() {
        let mut crank = Counter::new(CounterShape::CRANK);
        crank.handle(at(0), 1, 500, 1000);
        assert_eq!(crank.handle(at(250), 1, 501, 1000), Step::BadRecord);
        assert!(matches!(
            crank.handle(at(500), 1, 3, 1200),
            Step::Restarted { .. }
        ));
    }

    #[test]
    fn zero_comes_only_after_the_hold_and_at_its_own_moment() {
        let mut crank = Counter::new(CounterShape::CRANK);
        crank.handle(at(0), 1, 0, 0);
        crank.handle(at(700), 1, 1, 700);
        assert_eq!(crank.handle(at(1000), 1, 1, 700), Step::Nothing);
        assert_eq!(crank.handle_time(at(3699)), None);
        assert_eq!(crank.handle_time(at(9000)), Some(at(3700)));
        assert_eq!(crank.handle_time(at(9001)), None);
    }

    #[test]
    fn a_bad_record_costs_no_revolution() {
        let mut crank = Counter::new(CounterShape::CRANK);
        crank.handle(at(0), 1, 0, 0);
        crank.handle(at(1000), 1, 1, 1024);
        assert_eq!(crank.handle(at(1500), 1, 2, 1024), Step::BadRecord);
        let step = crank.handle(at(2000), 1, 3, 3072);
        assert_eq!(
            step,
            Step::Turned {
                revolutions: 2,
                rpm: 60.0
            }
        );
    }

    /// After 64.5 s the event time has gone round once and looks like half a second.
    #[test]
    fn a_long_standstill_does_not_look_like_a_fast_turn() {
        let mut crank = Counter::new(CounterShape::CRANK);
        crank.handle(at(0), 1, 10, 0);
        for second in 1..=64 {
            assert_eq!(crank.handle(at(second * 1000), 1, 10, 0), Step::Nothing);
        }
        assert_eq!(crank.handle(at(64_600), 1, 11, 512), Step::Armed);
    }

    #[test]
    fn a_sensor_that_seldom_speaks_still_becomes_zero() {
        let mut crank = Counter::new(CounterShape::CRANK);
        crank.handle(at(0), 1, 10, 0);
        crank.handle(at(1000), 1, 11, 1000);
        for gap in 1..10 {
            crank.handle(at(1000 + gap * 2500), 1, 11, 1000);
        }
        assert_eq!(crank.handle_time(at(30_000)), Some(at(4000)));
    }

    #[test]
    fn a_slow_rate_is_held_for_two_turns_but_not_for_ever() {
        for (turns, ticks, hold_ms) in [(1, 3072, 6000), (1, 8192, 8000), (3, 3072, 3000)] {
            let mut crank = Counter::new(CounterShape::CRANK);
            crank.handle(at(0), 1, 0, 0);
            crank.handle(at(1000), 1, turns, ticks);
            assert_eq!(crank.poll_timeout(), Some(at(1000 + hold_ms)));
        }
    }

    #[test]
    fn torque_may_run_backwards() {
        assert_eq!(mean_torque_nm(0x0010, 0xFFF0, 1), Some(-1.0));
        assert_eq!(mean_torque_nm(0, 32, 0), None);
    }

    proptest! {
        /// Any counters at any times: a rate is finite, positive and possible, and the deadline
        /// lies ahead once time was told.
        #[test]
        fn no_counters_make_an_impossible_rate(
            records in proptest::collection::vec(
                (0..5000i64, 0..3u32, any::<u32>(), any::<u16>()), 1..60),
        ) {
            for shape in [CounterShape::CRANK, CounterShape::WHEEL_1024, CounterShape::WHEEL_2048] {
                let mut counter = Counter::new(shape);
                let mut now = 0;
                for &(pause, epoch, revolutions, event_time) in &records {
                    now += pause;
                    counter.handle_time(at(now));
                    prop_assert!(counter.poll_timeout().is_none_or(|due| due > at(now)));
                    let step = counter.handle(at(now), epoch, revolutions, event_time);
                    if let Step::Turned { rpm, revolutions } = step {
                        prop_assert!(rpm > 0.0 && rpm <= f64::from(shape.highest_rpm));
                        prop_assert!(revolutions > 0);
                    }
                }
            }
        }

        /// Whatever the start values, a steady cadence is recovered across every roll-over.
        #[test]
        fn a_steady_cadence_is_recovered(
            rpm in 30.0f64..180.0,
            revolutions in any::<u16>(),
            event_time in any::<u16>(),
        ) {
            let mut crank = Counter::new(CounterShape::CRANK);
            let ticks_per_turn = 60.0 / rpm * 1024.0;
            let mut seen = 0;
            for record in 0..300i64 {
                let turns = (record as f64 * 0.9 * rpm / 60.0).floor();
                let ticks = (turns * ticks_per_turn).round() as u64;
                let step = crank.handle(
                    at(record * 900),
                    1,
                    u32::from(revolutions.wrapping_add(turns as u16)),
                    event_time.wrapping_add(ticks as u16),
                );
                if let Step::Turned { rpm: found, .. } = step {
                    // One tick of rounding at each end of the step.
                    prop_assert!((found - rpm).abs() <= rpm * 2.5 / ticks_per_turn);
                    seen += 1;
                }
            }
            prop_assert!(seen > 100);
        }
    }
}
