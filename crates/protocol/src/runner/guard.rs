//! The watch over the rider: stall, standing still under load, and work that does not arrive.

use super::config::StallGuard;
use super::current::Current;
use super::governor::Governor;
use super::output::ReleaseReason;
use super::senses::{FRESH, Senses};
use super::status::GuardPhase;
use crate::load::Target;
use units::{RevPerMin, Span, Timestamp, Watts};

/// How long the cadence must be below the floor, so that one odd reading a second is no stall.
const STALL_CONFIRMED: Span = Span::from_millis(1500);
/// How far above the floor the cadence must be, and for how long, before load comes back.
const RECOVERED_ABOVE: RevPerMin = RevPerMin(5.0);
const RECOVERED_FOR: Span = Span::from_secs(2);
/// Below this the rider has stopped.
const STOPPED_BELOW: RevPerMin = RevPerMin(30.0);
/// How long after the rider stopped the load goes: in power mode, and where the load falls with
/// the speed by itself.
const STOPPED_FOR: Span = Span::from_secs(2);
const STOPPED_FOR_WITHOUT_POWER_MODE: Span = Span::from_secs(10);
/// How long the load may stay eased.
const EASED_AT_MOST: Span = Span::from_secs(60);
/// How long a rider may take to get going under load.
const GET_GOING: Span = Span::from_secs(20);
/// How long no cadence may arrive under load once some did.
const SILENT_FOR: Span = Span::from_secs(5);
/// Work below this share of the target, for this long, is no work.
const NO_WORK_SHARE: f64 = 0.2;
const NO_WORK_FOR: Span = Span::from_secs(4);
/// The same where the load follows from the speed: uphill or at a resistance level, legs that turn
/// and do less than this drive nothing.
const NO_WORK_UPHILL: Watts = Watts(10.0);
const NO_WORK_UPHILL_FROM_PCT: f64 = 1.0;
const NO_WORK_UPHILL_FOR: Span = Span::from_secs(10);
/// How long after a change of step a slower cadence is no stall where a slower one is asked for.
const SLOWER_ON_PURPOSE: Span = Span::from_secs(10);
/// How far below the asked cadence the floor lies at most.
const FLOOR_BELOW_CUE_RPM: f64 = 8.0;
/// A target nobody has to be relieved of where standing still is a normal part of the step.
const LOW_LOAD: Watts = Watts(100.0);

/// Where the stall guard stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Guard {
    Watching,
    Eased { cap: Watts, since: Timestamp },
    ComingBack { from: Watts, since: Timestamp },
}

/// For how long what the guard looks at has been so.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Watch {
    /// Since when there has been a load that can stall a rider.
    loaded_since: Option<Timestamp>,
    /// Whether the rider was going since then.
    was_going: bool,
    low_since: Option<Timestamp>,
    stopped_since: Option<Timestamp>,
    recovered_since: Option<Timestamp>,
    no_work_since: Option<Timestamp>,
    /// The cadence asked for by the step before, and when it changed.
    cue: Option<(Option<RevPerMin>, Timestamp)>,
    /// Whether the last change asked for a slower cadence.
    slower: bool,
}

/// What the guard wants done.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Alarm {
    /// Nothing.
    None,
    /// Ease the load.
    Ease,
    /// Bring it back.
    ComeBack,
    /// The load is back.
    Back,
    /// Take it off.
    Release(NoLoadBecause),
}

/// Why the guard wants the load off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoLoadBecause {
    RiderStopped,
    NoWork,
}

impl From<NoLoadBecause> for ReleaseReason {
    fn from(because: NoLoadBecause) -> Self {
        match because {
            NoLoadBecause::RiderStopped => Self::RiderStopped,
            NoLoadBecause::NoWork => Self::NoWork,
        }
    }
}

impl Guard {
    pub(super) fn phase(self) -> GuardPhase {
        match self {
            Self::Watching => GuardPhase::Watching,
            Self::Eased { .. } => GuardPhase::Eased,
            Self::ComingBack { .. } => GuardPhase::ComingBack,
        }
    }

    /// The most power the guard allows on the way to `wish`.
    pub(super) fn allows(self, wish: Watts, now: Timestamp, ramp_back: Span) -> Watts {
        match self {
            Self::Watching => wish,
            Self::Eased { cap, .. } => cap.min(wish),
            Self::ComingBack { from, since } => {
                let whole = (now - since).as_nanos().div_euclid(1_000_000_000);
                let share = (whole as f64 / ramp_back.as_secs_f64()).min(1.0);
                (from + (wish - from) * share).min(wish)
            }
        }
    }

    /// When the guard itself changes what it allows.
    pub(super) fn deadline(self, now: Timestamp, ramp_back: Span) -> Option<Timestamp> {
        match self {
            Self::Watching => None,
            Self::Eased { since, .. } => Some(since + EASED_AT_MOST).filter(|at| *at > now),
            Self::ComingBack { since, .. } => {
                let whole = (now - since).as_nanos().div_euclid(1_000_000_000);
                Some((since + Span::from_secs(whole + 1)).min(since + ramp_back))
            }
        }
    }
}

impl Watch {
    /// The watch after a release: nothing is remembered.
    pub(super) fn forget(&mut self) {
        *self = Self {
            cue: self.cue,
            slower: self.slower,
            ..Self::default()
        };
    }

    /// Notes that the load was eased: what was seen before does not count as recovery from it.
    pub(super) fn eased(&mut self) {
        self.recovered_since = None;
    }

    /// Notes that a step asks for another cadence.
    pub(super) fn cued(&mut self, cadence: Option<RevPerMin>, now: Timestamp) {
        let before = self.cue.and_then(|(cadence, _)| cadence);
        self.slower = match (before, cadence) {
            (Some(before), Some(cadence)) => cadence < before,
            _ => false,
        };
        self.cue = Some((cadence, now));
    }

    /// Takes note of a new reading.
    pub(super) fn look(
        &mut self,
        now: Timestamp,
        senses: &Senses,
        governor: &Governor,
        limits: &StallGuard,
    ) {
        if self.loaded_since.is_none() {
            return;
        }
        let floor = self.floor(limits);
        let cadence = senses.cadence(now);
        let keep = |since: &mut Option<Timestamp>, so: bool| {
            if so {
                since.get_or_insert(now);
            } else {
                *since = None;
            }
        };
        if let Some(cadence) = cadence {
            self.was_going |= cadence >= floor;
            keep(&mut self.low_since, cadence < floor);
            keep(&mut self.stopped_since, cadence < STOPPED_BELOW);
            keep(
                &mut self.recovered_since,
                cadence >= floor + RECOVERED_ABOVE,
            );
        }
        let needed = match governor.sent() {
            Some(Target::Power(power)) => power * NO_WORK_SHARE,
            Some(Target::Slope(slope)) if slope.grade_pct < NO_WORK_UPHILL_FROM_PCT => Watts::ZERO,
            Some(Target::Slope(_) | Target::Resistance(_)) => NO_WORK_UPHILL,
            Some(Target::Free) | None => Watts::ZERO,
        };
        if let Some(power) = senses.power(now) {
            keep(
                &mut self.no_work_since,
                needed > Watts::ZERO && power < needed,
            );
        }
    }

    /// Takes note of what the brake was just asked for.
    pub(super) fn load(
        &mut self,
        now: Timestamp,
        guard: Guard,
        governor: &Governor,
        limits: &StallGuard,
    ) {
        let loaded = match governor.sent() {
            Some(Target::Power(power)) => power >= limits.least_target || guard != Guard::Watching,
            Some(Target::Resistance(_) | Target::Slope(_)) => true,
            Some(Target::Free) | None => false,
        };
        if loaded {
            self.loaded_since.get_or_insert(now);
        } else {
            self.forget();
        }
    }

    fn floor(&self, limits: &StallGuard) -> RevPerMin {
        match self.cue.and_then(|(cadence, _)| cadence) {
            Some(cue) => limits.floor.min(cue - RevPerMin(FLOOR_BELOW_CUE_RPM)),
            None => limits.floor,
        }
    }

    /// What is to be done now.
    pub(super) fn alarm(
        &self,
        now: Timestamp,
        guard: Guard,
        (senses, governor): (&Senses, &Governor),
        (limits, current): (&StallGuard, &Current),
    ) -> Alarm {
        let for_at_least =
            |since: Option<Timestamp>, span: Span| since.is_some_and(|since| now >= since + span);
        let power_mode = matches!(governor.sent(), Some(Target::Power(_)));
        if let Guard::ComingBack { since, .. } = guard
            && now >= since + limits.ramp_back
        {
            return Alarm::Back;
        }
        let may_stand = current.step.kind.allows_standing_still();
        if self.loaded_since.is_none() || (may_stand && governor.sent_power() <= LOW_LOAD) {
            return Alarm::None;
        }
        if power_mode {
            if for_at_least(self.no_work_since, NO_WORK_FOR) && self.was_going {
                return Alarm::Release(NoLoadBecause::NoWork);
            }
            let silent = senses.cadence_at().is_some_and(|at| now >= at + SILENT_FOR);
            if self.was_going && (silent || for_at_least(self.stopped_since, STOPPED_FOR)) {
                return Alarm::Release(NoLoadBecause::RiderStopped);
            }
            let never_went = !self.was_going && senses.has_cadence();
            if never_went && for_at_least(self.loaded_since, GET_GOING) {
                return Alarm::Release(NoLoadBecause::RiderStopped);
            }
        } else if for_at_least(self.stopped_since, STOPPED_FOR_WITHOUT_POWER_MODE) && self.was_going
        {
            return Alarm::Release(NoLoadBecause::RiderStopped);
        } else if for_at_least(self.no_work_since, NO_WORK_UPHILL_FOR) && self.was_going {
            return Alarm::Release(NoLoadBecause::NoWork);
        }
        match guard {
            Guard::Eased { since, .. } if now >= since + EASED_AT_MOST => {
                Alarm::Release(NoLoadBecause::RiderStopped)
            }
            Guard::Eased { .. } if self.has_recovered(now, senses, limits) => Alarm::ComeBack,
            Guard::Eased { .. } => Alarm::None,
            _ if power_mode && self.was_going && self.stalls(now, senses, limits) => Alarm::Ease,
            _ => Alarm::None,
        }
    }

    fn has_recovered(&self, now: Timestamp, senses: &Senses, limits: &StallGuard) -> bool {
        let enough = self.floor(limits) + RECOVERED_ABOVE;
        self.recovered_since
            .is_some_and(|since| now >= since + RECOVERED_FOR)
            && senses.cadence(now).is_some_and(|cadence| cadence >= enough)
    }

    fn stalls(&self, now: Timestamp, senses: &Senses, limits: &StallGuard) -> bool {
        if self
            .low_since
            .is_some_and(|since| now >= since + STALL_CONFIRMED)
        {
            return true;
        }
        let on_purpose =
            self.slower && self.cue.is_some_and(|(_, at)| now < at + SLOWER_ON_PURPOSE);
        // Only a reading of this very moment says how fast the cadence falls.
        !on_purpose
            && senses.cadence_at() == Some(now)
            && senses
                .cadence(now)
                .is_some_and(|cadence| cadence < limits.falling_below)
            && senses
                .falling_rpm_per_s(now)
                .is_some_and(|falling| falling > limits.falling_rpm_per_s)
    }

    /// The moments at which time alone may raise an alarm.
    pub(super) fn deadlines(&self, senses: &Senses) -> impl Iterator<Item = Timestamp> {
        let after = |since: Option<Timestamp>, span: Span| since.map(|since| since + span);
        [
            after(self.low_since, STALL_CONFIRMED),
            after(self.stopped_since, STOPPED_FOR),
            after(self.stopped_since, STOPPED_FOR_WITHOUT_POWER_MODE),
            after(self.recovered_since, RECOVERED_FOR),
            after(self.no_work_since, NO_WORK_FOR),
            after(self.no_work_since, NO_WORK_UPHILL_FOR),
            after(self.loaded_since, GET_GOING),
            after(
                senses.cadence_at().filter(|_| self.loaded_since.is_some()),
                SILENT_FOR,
            ),
        ]
        .into_iter()
        .flatten()
    }
}

/// A value older than this says nothing; the guard's times must be longer than its confirmation.
const _: () = assert!(FRESH.as_nanos() >= STALL_CONFIRMED.as_nanos());
