//! The live form: fed one second at a time, it names what has been going on for long enough.

use super::signs::{is_frozen, is_target, movement, shows_work};
use crate::grid::Second;
use crate::settings::DropOutSettings;

/// What goes on in the present second.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum EpisodeKind {
    /// The device shows zero while the reference shows work.
    ZeroUnderLoad,
    /// The device repeats one value while the reference moves.
    Frozen,
    /// Nothing comes from the device.
    DeviceMissing,
    /// Nothing comes from the reference.
    ReferenceMissing,
}

/// A drop-out that is going on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Episode {
    /// What it is.
    pub kind: EpisodeKind,
    /// First second.
    pub from_s: i64,
    /// One past the last second so far.
    pub to_s: i64,
}

/// The live form: fed one second at a time, it names what has been going on for long enough.
#[derive(Clone, Debug)]
pub struct Tracker {
    pub(super) settings: DropOutSettings,
    since: [Option<i64>; 3],
    repeated: Option<Repeated>,
    /// How many runs of one value lasted so many seconds.
    run_lengths: Vec<u32>,
}

/// Whether a repeated value was the commanded power at any time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Echo {
    Yes,
    No,
}

#[derive(Clone, Debug)]
struct Repeated {
    pub(super) value_w: f64,
    from_s: i64,
    pub(super) is_target: Echo,
    pub(super) reference_w: Vec<f64>,
}

impl Tracker {
    /// With the settings in force.
    pub fn new(settings: &DropOutSettings) -> Self {
        Self {
            settings: settings.clone(),
            since: [None; 3],
            repeated: None,
            run_lengths: Vec::new(),
        }
    }

    /// Takes the next second and says what is going on.
    pub fn push(&mut self, second: &Second) -> Vec<Episode> {
        let works = second
            .reference
            .is_some_and(|held| shows_work(held.value, second.cadence_rpm, &self.settings));
        let states = [
            (
                EpisodeKind::ZeroUnderLoad,
                works && second.under_test.is_some_and(|held| held.high <= 0.0),
            ),
            // An instrument may sleep while nobody rides: silence counts while the other works.
            (
                EpisodeKind::DeviceMissing,
                works && second.under_test.is_none(),
            ),
            (
                EpisodeKind::ReferenceMissing,
                second.reference.is_none()
                    && second
                        .under_test
                        .is_some_and(|held| held.low > self.settings.work_above_w),
            ),
        ];
        let to_s = second.index + 1;
        let mut episodes = Vec::new();
        for ((kind, active), since) in states.into_iter().zip(&mut self.since) {
            if !active {
                *since = None;
                continue;
            }
            let from_s = *since.get_or_insert(second.index);
            if to_s - from_s >= i64::from(self.settings.flag_after_s) {
                episodes.push(Episode { kind, from_s, to_s });
            }
        }
        episodes.extend(self.push_repeated(second));
        episodes
    }

    fn push_repeated(&mut self, second: &Second) -> Option<Episode> {
        let steady = second
            .under_test
            .filter(|held| held.low == held.high && held.high > 0.0);
        let continues = match (steady, &self.repeated) {
            (Some(held), Some(repeated)) => held.value == repeated.value_w,
            _ => false,
        };
        if !continues {
            if let Some(repeated) = self.repeated.take() {
                let length = (second.index - repeated.from_s).max(0) as usize;
                let place = length.min(3600);
                if self.run_lengths.len() <= place {
                    self.run_lengths.resize(place + 1, 0);
                }
                self.run_lengths[place] += 1;
            } else if second.under_test.is_some() {
                // A second with several values: runs shorter than a second.
                if self.run_lengths.is_empty() {
                    self.run_lengths.push(0);
                }
                self.run_lengths[0] += 1;
            }
            self.repeated = steady.map(|held| Repeated {
                value_w: held.value,
                from_s: second.index,
                is_target: Echo::No,
                reference_w: Vec::new(),
            });
        }
        let usual_s = self.usual_run_s();
        let repeated = self.repeated.as_mut()?;
        if is_target(repeated.value_w, second) {
            repeated.is_target = Echo::Yes;
        }
        if repeated.is_target == Echo::Yes {
            return None;
        }
        repeated
            .reference_w
            .extend(second.reference.map(|held| held.value));
        let to_s = second.index + 1;
        let run_s = (to_s - repeated.from_s) as f64;
        let (moved_w, reference_w) = movement(&repeated.reference_w)?;
        is_frozen(run_s, usual_s?, moved_w, reference_w, &self.settings).then_some(Episode {
            kind: EpisodeKind::Frozen,
            from_s: repeated.from_s,
            to_s,
        })
    }

    /// 95th percentile of the runs so far, at least one second; `None` before there were twenty.
    fn usual_run_s(&self) -> Option<f64> {
        let total: u32 = self.run_lengths.iter().sum();
        if total < 20 {
            return None;
        }
        let mut seen = 0;
        for (length, count) in self.run_lengths.iter().enumerate() {
            seen += count;
            if 100 * seen >= 95 * total {
                return Some((length as f64).max(1.0));
            }
        }
        None
    }
}
