//! The age of the newest value of each steady characteristic, and what an age calls for.
//!
//! A stream that stops does not end and does not err on any system (trouble list A8, B10), so
//! only the age of the data tells. Silence is answered in steps: ask the system, subscribe again,
//! set up the link anew. A characteristic that never said anything while others of the same
//! device do is subscribed to again once and then left alone: setting up the link anew for it
//! would break what works.

use crate::order::{Rhythm, Wanted};
use crate::patience::Patience;
use units::{Characteristic, Span, Timestamp};

/// What silence calls for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Advice {
    /// Ask the system whether the link is up.
    Ask,
    /// Subscribe to this one again.
    Resubscribe(Characteristic),
    /// Declared, wanted, never heard, while others speak. Said once for each link.
    NeverSpeaks(Characteristic),
    /// Set up the link anew.
    Reconnect(Characteristic, Span),
}

#[derive(Debug)]
struct Item {
    characteristic: Characteristic,
    since: Timestamp,
    last: Option<Timestamp>,
    resubscribed: bool,
    complained: bool,
}

impl Item {
    fn age(&self, now: Timestamp) -> Span {
        now - self.newest()
    }

    fn newest(&self) -> Timestamp {
        self.last.unwrap_or(self.since)
    }
}

/// The watch over one link. It is emptied with each link; what it learnt of the device stays.
#[derive(Debug)]
pub(crate) struct Watch {
    patience: Patience,
    items: Vec<Item>,
    /// Characteristics that spoke in some link of this attachment.
    spoke: Vec<Characteristic>,
    /// Links in a row that ended by silence.
    quiet_links: u32,
    asked: Option<Timestamp>,
}

impl Watch {
    pub(crate) const fn new(patience: Patience) -> Self {
        Self {
            patience,
            items: Vec::new(),
            spoke: Vec::new(),
            quiet_links: 0,
            asked: None,
        }
    }

    /// A new link: nothing is subscribed yet.
    pub(crate) fn clear(&mut self) {
        self.items.clear();
        self.asked = None;
    }

    /// A subscription was made.
    pub(crate) fn subscribed(&mut self, wanted: Wanted, now: Timestamp) {
        if wanted.rhythm == Rhythm::Steady {
            self.items.push(Item {
                characteristic: wanted.characteristic,
                since: now,
                last: None,
                resubscribed: false,
                complained: false,
            });
        }
    }

    /// The newest value of a characteristic came at `at`.
    pub(crate) fn seen(&mut self, characteristic: Characteristic, at: Timestamp) {
        let Some(item) = self
            .items
            .iter_mut()
            .find(|i| i.characteristic == characteristic)
        else {
            return;
        };
        if item.last.is_none_or(|last| last < at) {
            item.last = Some(at);
            item.resubscribed = false;
            self.quiet_links = 0;
            if !self.spoke.contains(&characteristic) {
                self.spoke.push(characteristic);
            }
        }
    }

    /// How many links in a row ended by silence, this one included if it does.
    pub(crate) fn quiet_link(&mut self) -> u32 {
        self.quiet_links = self.quiet_links.saturating_add(1);
        self.quiet_links
    }

    /// What the silence at `now` calls for, the gravest first. Each advice is given once for each
    /// silence; `Ask` is repeated.
    pub(crate) fn advise(&mut self, now: Timestamp) -> Option<Advice> {
        let (resubscribe, reconnect) = self.limits();
        let all_silent = self.items.iter().all(|item| item.age(now) >= reconnect);
        for item in &mut self.items {
            let age = item.age(now);
            if age >= reconnect {
                if all_silent || self.spoke.contains(&item.characteristic) {
                    return Some(Advice::Reconnect(item.characteristic, age));
                }
                if !item.complained {
                    item.complained = true;
                    return Some(Advice::NeverSpeaks(item.characteristic));
                }
            }
            if age >= resubscribe && !item.resubscribed {
                item.resubscribed = true;
                return Some(Advice::Resubscribe(item.characteristic));
            }
        }
        if self.next_question().is_some_and(|due| now >= due) {
            self.asked = Some(now);
            return Some(Advice::Ask);
        }
        None
    }

    /// When `advise` may have something new to say.
    pub(crate) fn deadline(&self) -> Option<Timestamp> {
        let (resubscribe, reconnect) = self.limits();
        self.items
            .iter()
            .flat_map(|item| {
                let again = (!item.resubscribed).then(|| item.newest() + resubscribe);
                let anew = (!item.complained).then(|| item.newest() + reconnect);
                again.into_iter().chain(anew)
            })
            .chain(self.next_question())
            .min()
    }

    /// Silence limits: doubled for each link that ended by silence, so that a sensor that sleeps
    /// while nobody pedals is not linked to again and again.
    fn limits(&self) -> (Span, Span) {
        let factor = 1 << self.quiet_links.min(3);
        (
            self.patience.resubscribe_after * factor,
            self.patience.reconnect_after * factor,
        )
    }

    fn next_question(&self) -> Option<Timestamp> {
        let newest = self.items.iter().map(Item::newest).max()?;
        let due = newest + self.patience.doubt_after;
        Some(match self.asked {
            Some(asked) if asked >= newest => due.max(asked + self.patience.doubt_every),
            _ => due,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const POWER: Characteristic = Characteristic(0x2A63);
    const BIKE: Characteristic = Characteristic(0x2AD2);

    fn watch() -> Watch {
        let mut watch = Watch::new(Patience::USUAL);
        watch.subscribed(Wanted::usual(POWER), Timestamp::ZERO);
        watch.subscribed(Wanted::usual(BIKE), Timestamp::ZERO);
        watch.subscribed(Wanted::usual(Characteristic(0x2ADA)), Timestamp::ZERO);
        watch
    }

    /// Everything the watch says until `until`, following its own deadlines.
    fn run(watch: &mut Watch, until: Timestamp) -> Vec<(i64, Advice)> {
        let mut said = Vec::new();
        while let Some(due) = watch.deadline().filter(|due| *due <= until) {
            while let Some(advice) = watch.advise(due) {
                said.push((due.as_nanos() / 1_000_000, advice));
                if matches!(advice, Advice::Reconnect(..)) {
                    return said;
                }
            }
        }
        said
    }

    #[test]
    fn a_silent_link_is_asked_about_resubscribed_and_given_up_at_the_deadlines() {
        let mut watch = watch();
        assert_eq!(
            run(&mut watch, Timestamp::from_secs(60)),
            [
                (2500, Advice::Ask),
                (4500, Advice::Ask),
                (5000, Advice::Resubscribe(POWER)),
                (5000, Advice::Resubscribe(BIKE)),
                (6500, Advice::Ask),
                (8500, Advice::Ask),
                (10_000, Advice::Reconnect(POWER, Span::from_secs(10))),
            ]
        );
    }

    #[test]
    fn values_keep_the_watch_quiet() {
        let mut watch = watch();
        for second in 1..100 {
            let now = Timestamp::from_secs(second);
            watch.seen(POWER, now);
            watch.seen(BIKE, now);
            assert_eq!(watch.advise(now + Span::from_millis(999)), None);
        }
    }

    #[test]
    fn one_that_never_speaks_beside_one_that_does_costs_no_link() {
        let mut watch = watch();
        let mut said = Vec::new();
        for second in 1..60 {
            watch.seen(POWER, Timestamp::from_secs(second));
            while let Some(advice) = watch.advise(Timestamp::from_secs(second)) {
                said.push((second, advice));
            }
        }
        assert_eq!(
            said,
            [
                (5, Advice::Resubscribe(BIKE)),
                (10, Advice::NeverSpeaks(BIKE))
            ]
        );
    }

    #[test]
    fn one_that_spoke_and_stops_ends_the_link_even_beside_one_that_speaks() {
        let mut watch = watch();
        watch.seen(BIKE, Timestamp::from_secs(1));
        let mut last = None;
        for second in 1..=11 {
            watch.seen(POWER, Timestamp::from_secs(second));
            last = watch.advise(Timestamp::from_secs(second));
        }
        assert_eq!(last, Some(Advice::Reconnect(BIKE, Span::from_secs(10))));
    }

    #[test]
    fn patience_doubles_with_each_quiet_link_and_returns_with_the_first_value() {
        let mut watch = watch();
        for (quiet, limit_ms) in [(1, 20_000), (2, 40_000), (3, 80_000), (4, 80_000)] {
            assert_eq!(watch.quiet_link(), quiet);
            watch.clear();
            watch.subscribed(Wanted::usual(POWER), Timestamp::ZERO);
            let end = run(&mut watch, Timestamp::from_secs(200)).pop();
            assert_eq!(
                end,
                Some((
                    limit_ms,
                    Advice::Reconnect(POWER, Span::from_millis(limit_ms))
                ))
            );
        }
        watch.seen(POWER, Timestamp::from_secs(1));
        assert_eq!(watch.quiet_link(), 1);
    }
}
