//! The table of services that a device shows: whether it is whole, and what in it is subscribed to.

use super::{Link, Output, Phase};
use crate::fault::HostFault;
use crate::news::{Entry, Flags, LinkState, TroubleKind};
use crate::order::Wanted;
use units::{Characteristic, Timestamp};

pub(super) const DISCOVERY_ROUNDS: u32 = 3;

impl Link {
    /// A table may be incomplete at first (B4), stale (C1, C2), or carry a number twice (A6).
    pub(super) fn judge_table(&mut self, round: u32, mut table: Vec<Entry>, now: Timestamp) {
        table.sort_by_key(|entry| (entry.service, entry.characteristic));
        let missing: Vec<String> = match &self.table {
            Some(known) => known
                .iter()
                .filter(|entry| self.wants(entry.characteristic) && !table.contains(entry))
                .map(|entry| entry.characteristic.to_string())
                .collect(),
            None => Vec::new(),
        };
        let nothing =
            !self.wanted.is_empty() && !table.iter().any(|entry| self.wants(entry.characteristic));
        if (nothing || !missing.is_empty()) && round < DISCOVERY_ROUNDS {
            let until = now + self.patience.settle;
            self.phase = Phase::Settling {
                round: round + 1,
                until,
            };
            return;
        }
        if nothing {
            let words = "the device offers none of the wanted characteristics".to_owned();
            self.out.push_back(Output::Trouble(
                TroubleKind::Missing,
                words,
                HostFault::Gone.remedy(),
            ));
            self.fail(&HostFault::Gone, now);
            return;
        }
        if self.table.as_ref().is_some_and(|known| *known != table) {
            let words = match missing.as_slice() {
                [] => "the device's services differ from those of its last link".to_owned(),
                list => format!("missing since the last link: {}", list.join(", ")),
            };
            self.out.push_back(Output::Trouble(
                TroubleKind::TableChanged,
                words,
                HostFault::Gone.remedy(),
            ));
        }
        self.warn_of_duplicates(&table);
        self.plan_subscriptions(&table);
        self.out.push_back(Output::Services(table.clone()));
        self.table = Some(table);
        self.watch.clear();
        self.out.push_back(Output::OpenDrain);
        let words = format!("{} to switch on", self.to_subscribe.len());
        self.set(LinkState::Subscribing, &words);
        self.subscribe_next(0, now);
    }

    fn wants(&self, characteristic: Characteristic) -> bool {
        self.wanted
            .iter()
            .any(|wanted| wanted.characteristic == characteristic)
    }

    fn warn_of_duplicates(&mut self, table: &[Entry]) {
        let twice: Vec<Characteristic> = self
            .wanted
            .iter()
            .map(|wanted| wanted.characteristic)
            .filter(|one| table.iter().filter(|e| e.characteristic == *one).count() > 1)
            .collect();
        for characteristic in twice {
            self.out.push_back(Output::Trouble(
                TroubleKind::Duplicate,
                format!("{characteristic} is offered by two services of one device"),
                "only the one of the lower service number is recorded",
            ));
        }
    }

    /// Indications first: a control point that is written before them answers with an error.
    fn plan_subscriptions(&mut self, table: &[Entry]) {
        let flags = |wanted: &Wanted| {
            table
                .iter()
                .find(|entry| entry.characteristic == wanted.characteristic)
                .map(|entry| entry.flags)
                .filter(|flags| flags.speaks())
        };
        let (first, then): (Vec<Wanted>, Vec<Wanted>) = self
            .wanted
            .iter()
            .copied()
            .filter(|wanted| flags(wanted).is_some())
            .partition(|wanted| flags(wanted).is_some_and(|f| f.has(Flags::INDICATE)));
        self.to_subscribe = first.into_iter().chain(then).collect();
    }
}
