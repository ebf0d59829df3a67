//! The way of a packet from an instrument to the receiver: delayed, lost, doubled, held up, cut
//! off with the whole link and taken up again under a new epoch. Order is kept, as on a real link.

use crate::noise::Dice;
use crate::spec::LinkSpec;
use std::collections::BTreeMap;
use units::{Characteristic, Packet, SourceId, Span, Timestamp};

/// Packets on their way, in order of arrival.
#[derive(Clone, Debug, Default)]
pub(crate) struct Air {
    packets: BTreeMap<(Timestamp, u64), Packet>,
    sent: u64,
}

impl Air {
    fn send(&mut self, packet: Packet) {
        self.packets.insert((packet.at, self.sent), packet);
        self.sent += 1;
    }

    /// When the next packet arrives.
    pub(crate) fn next_arrival(&self) -> Option<Timestamp> {
        self.packets.first_key_value().map(|(&(at, _), _)| at)
    }

    /// The next packet that has arrived by `now`.
    pub(crate) fn receive(&mut self, now: Timestamp) -> Option<Packet> {
        if self.next_arrival()? > now {
            return None;
        }
        self.packets.pop_first().map(|(_, packet)| packet)
    }

    /// What is on its way from `source` is lost with the link.
    fn cut(&mut self, source: SourceId) {
        self.packets.retain(|_, packet| packet.source != source);
    }
}

/// A link that went down or came up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct LinkChange {
    /// When.
    pub at: Timestamp,
    /// The instrument.
    pub source: SourceId,
    /// What happened.
    pub state: LinkState,
}

/// Whether there is a link.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum LinkState {
    /// The link is up; it is the link number `epoch`, counted from 1.
    Up {
        /// Number of the link.
        epoch: u32,
    },
    /// The link is down.
    Down,
}

/// A planned outage.
#[derive(Clone, Copy, Debug)]
struct Outage {
    from: Timestamp,
    to: Timestamp,
    /// Whether the device is switched off and on meanwhile.
    restarts: bool,
}

/// The link to one instrument.
#[derive(Clone, Debug)]
pub(crate) struct Link {
    spec: LinkSpec,
    source: SourceId,
    dice: Dice,
    epoch: u32,
    connected_since: Option<Timestamp>,
    up: bool,
    /// Outages still to come, the next one last.
    outages: Vec<Outage>,
    /// The device is being switched off and on.
    restarting: bool,
    silences: Vec<(Timestamp, Timestamp)>,
    back_at: Option<Timestamp>,
    last_arrival: Timestamp,
}

impl Link {
    pub(crate) fn new(spec: LinkSpec, source: SourceId, dice: Dice) -> Self {
        Self {
            spec,
            source,
            dice,
            epoch: 0,
            connected_since: None,
            up: false,
            outages: Vec::new(),
            restarting: false,
            silences: Vec::new(),
            back_at: None,
            last_arrival: Timestamp::from_nanos(i64::MIN),
        }
    }

    pub(crate) fn is_up(&self) -> bool {
        self.up
    }

    /// When the first link was made.
    pub(crate) fn connected_since(&self) -> Option<Timestamp> {
        self.connected_since
    }

    /// Whether the device is switched off and on with the outage that has just begun; asked once.
    pub(crate) fn take_restart(&mut self) -> bool {
        std::mem::take(&mut self.restarting)
    }

    /// Makes the first link, or a new one. Planned outages count from the first.
    pub(crate) fn connect(&mut self, now: Timestamp) -> LinkChange {
        if self.connected_since.is_none() {
            self.connected_since = Some(now);
            let spans = |list: &[(f64, f64)]| {
                let mut spans: Vec<_> = list
                    .iter()
                    .map(|&(after_s, seconds)| {
                        let from = now + Span::from_secs_f64(after_s);
                        (from, from + Span::from_secs_f64(seconds))
                    })
                    .collect();
                spans.sort_by_key(|&(from, _)| std::cmp::Reverse(from));
                spans
            };
            let planned = |list: &[(f64, f64)], restarts| {
                spans(list)
                    .into_iter()
                    .map(move |(from, to)| Outage { from, to, restarts })
            };
            self.outages = planned(&self.spec.lost_links, false)
                .chain(planned(&self.spec.restarts, true))
                .collect();
            self.outages
                .sort_by_key(|outage| std::cmp::Reverse(outage.from));
            self.silences = spans(&self.spec.silences);
        }
        self.up = true;
        self.back_at = None;
        self.epoch += 1;
        LinkChange {
            at: now,
            source: self.source,
            state: LinkState::Up { epoch: self.epoch },
        }
    }

    /// Cuts the link; it comes back at `back_at`.
    pub(crate) fn lose(&mut self, now: Timestamp, back_at: Timestamp, air: &mut Air) -> LinkChange {
        self.up = false;
        self.back_at = Some(back_at);
        air.cut(self.source);
        LinkChange {
            at: now,
            source: self.source,
            state: LinkState::Down,
        }
    }

    /// Moves on by one step; tells when the link changes.
    pub(crate) fn step(
        &mut self,
        now: Timestamp,
        step_s: f64,
        air: &mut Air,
    ) -> Option<LinkChange> {
        self.connected_since?;
        if !self.up {
            return (now >= self.back_at?).then(|| self.connect(now));
        }
        if let Some(&Outage { from, to, restarts }) = self.outages.last()
            && now >= from
        {
            self.outages.pop();
            self.restarting = restarts;
            return Some(self.lose(now, to.max(now), air));
        }
        if self
            .dice
            .happens(self.spec.lost_links_per_hour * step_s / 3600.0)
        {
            let seconds = self.dice.between(2.0, 8.0);
            return Some(self.lose(now, now + Span::from_secs_f64(seconds), air));
        }
        None
    }

    /// When the link changes next by plan, if it does.
    pub(crate) fn next_change(&self) -> Option<Timestamp> {
        self.connected_since?;
        if self.up {
            self.outages.last().map(|outage| outage.from)
        } else {
            self.back_at
        }
    }

    /// Sends a notification through everything that can happen to it.
    pub(crate) fn notify(
        &mut self,
        now: Timestamp,
        characteristic: Characteristic,
        bytes: Vec<u8>,
        air: &mut Air,
    ) {
        if !self.up {
            return;
        }
        while self.silences.last().is_some_and(|&(_, to)| now >= to) {
            self.silences.pop();
        }
        let silent = self.silences.last().is_some_and(|&(from, _)| now >= from);
        // The draws are made whether or not they matter, so that one fault more does not shift
        // the chance of everything after it.
        let lost = self.dice.happens(self.spec.lost_pct / 100.0);
        let twice = self.dice.happens(self.spec.twice_pct / 100.0);
        let late_s = if self.dice.happens(self.spec.late_pct / 100.0) {
            self.dice.between(0.5, 2.0)
        } else {
            0.0
        };
        let travel_s = self.travel_s();
        if lost || silent {
            return;
        }
        let at = now + Span::from_secs_f64(travel_s + late_s);
        if twice {
            self.deliver(at, characteristic, bytes.clone(), air);
        }
        self.deliver(at, characteristic, bytes, air);
    }

    /// Sends the answer to a read, or an indication, which the protocol repeats until it arrives.
    pub(crate) fn answer(
        &mut self,
        at: Timestamp,
        characteristic: Characteristic,
        bytes: Vec<u8>,
        air: &mut Air,
    ) {
        if self.up {
            self.deliver(at, characteristic, bytes, air);
        }
    }

    fn travel_s(&mut self) -> f64 {
        let share = self.dice.between(f64::MIN_POSITIVE, 1.0);
        // An exponential rest, cut where a real link would long have given up.
        (self.spec.delay_ms + (-share.ln() * self.spec.jitter_ms).min(400.0)) / 1000.0
    }

    fn deliver(
        &mut self,
        at: Timestamp,
        characteristic: Characteristic,
        bytes: Vec<u8>,
        air: &mut Air,
    ) {
        let at = at.max(self.last_arrival + Span::from_nanos(100_000));
        self.last_arrival = at;
        air.send(Packet {
            at,
            source: self.source,
            epoch: self.epoch,
            characteristic,
            bytes,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CHARACTERISTIC: Characteristic = Characteristic(0x2A63);

    fn run(spec: LinkSpec, seconds: i64) -> (Vec<Packet>, Vec<LinkChange>) {
        let mut air = Air::default();
        let mut link = Link::new(spec, SourceId(1), Dice::new(3, 3));
        let mut changes = vec![link.connect(Timestamp::ZERO)];
        let mut packets = Vec::new();
        for tick in 1..=seconds * 4 {
            let now = Timestamp::from_millis(250 * tick);
            changes.extend(link.step(now, 0.25, &mut air));
            link.notify(now, CHARACTERISTIC, vec![(tick % 256) as u8], &mut air);
            packets.extend(std::iter::from_fn(|| air.receive(now)));
        }
        (packets, changes)
    }

    #[test]
    fn a_clean_link_delivers_everything_in_order() {
        let (packets, changes) = run(LinkSpec::default(), 100);
        assert!(packets.len() >= 399);
        assert!(packets.windows(2).all(|pair| pair[0].at < pair[1].at));
        assert_eq!(changes.len(), 1);
    }

    /// With a loss of 5 % in 8000 packets the share lost is within 4 binomial standard deviations
    /// (4·√(0.05·0.95/8000) = 0.97 %).
    #[test]
    fn loss_and_doubling_have_the_share_asked_for() {
        let spec = LinkSpec {
            lost_pct: 5.0,
            ..LinkSpec::default()
        };
        let lost = 1.0 - run(spec, 2000).0.len() as f64 / 8000.0;
        assert!((lost - 0.05).abs() < 0.0098, "{lost}");
        let spec = LinkSpec {
            twice_pct: 5.0,
            ..LinkSpec::default()
        };
        let extra = run(spec, 2000).0.len() as f64 / 8000.0 - 1.0;
        assert!((extra - 0.05).abs() < 0.0098, "{extra}");
    }

    #[test]
    fn a_lost_link_comes_back_under_a_new_epoch() {
        let spec = LinkSpec {
            lost_links: vec![(10.0, 5.0)],
            ..LinkSpec::default()
        };
        let (packets, changes) = run(spec, 30);
        let states: Vec<_> = changes.iter().map(|change| change.state).collect();
        assert_eq!(
            states,
            [
                LinkState::Up { epoch: 1 },
                LinkState::Down,
                LinkState::Up { epoch: 2 }
            ]
        );
        let gap = packets
            .windows(2)
            .map(|pair| pair[1].at - pair[0].at)
            .max()
            .unwrap();
        assert!(
            gap >= Span::from_secs(5) && gap < Span::from_secs(6),
            "{gap}"
        );
        assert_eq!(packets.last().unwrap().epoch, 2);
    }

    #[test]
    fn a_silence_is_not_a_lost_link() {
        let spec = LinkSpec {
            silences: vec![(10.0, 4.0)],
            ..LinkSpec::default()
        };
        let (packets, changes) = run(spec, 30);
        assert_eq!(changes.len(), 1);
        let gap = packets
            .windows(2)
            .map(|pair| pair[1].at - pair[0].at)
            .max()
            .unwrap();
        assert!(
            gap >= Span::from_secs(4) && gap < Span::from_secs(5),
            "{gap}"
        );
    }
}
