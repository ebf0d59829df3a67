//! The one way out: a bounded channel to the program, and room behind it for when the program is
//! slow.
//!
//! The system's own queues hold as few as sixteen values and lose the rest without a word
//! (trouble list A1), so a value must be taken from them at once, whatever the program does. What
//! does not fit into the channel waits here, in order. Only when this room is full as well is
//! something lost, and then it is counted and said.

use crate::news::{News, Trouble, TroubleKind};
use crate::stamp::Stamp;
use crossbeam_channel::{Sender, TrySendError};
use std::collections::VecDeque;
use std::sync::{Mutex, MutexGuard, PoisonError};
use tokio::sync::Notify;
use units::Span;

/// How far the program is behind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Backlog {
    /// News in the channel.
    pub in_channel: usize,
    /// News that wait for room in the channel.
    pub waiting: usize,
    /// News lost because there was no room at all.
    pub lost: u64,
}

#[derive(Debug, Default)]
struct Room {
    waiting: VecDeque<News>,
    lost: u64,
    lost_said: u64,
    behind_said: bool,
}

#[derive(Debug)]
pub(crate) struct Outlet {
    to_program: Sender<News>,
    room: Mutex<Room>,
    most_waiting: usize,
    stamp: Stamp,
    /// Wakes the pump when something has to wait.
    waits: Notify,
}

/// How often waiting news are offered to the channel again.
const PUMP_EVERY: Span = Span::from_millis(5);

impl Outlet {
    pub(crate) fn new(to_program: Sender<News>, most_waiting: usize, stamp: Stamp) -> Self {
        Self {
            to_program,
            room: Mutex::default(),
            most_waiting,
            stamp,
            waits: Notify::new(),
        }
    }

    /// Takes the news; never waits.
    pub(crate) fn send(&self, news: News) {
        let mut room = self.room();
        if room.waiting.is_empty() {
            match self.to_program.try_send(news) {
                // Nobody listens any more: the program is on its way out.
                Ok(()) | Err(TrySendError::Disconnected(_)) => {}
                Err(TrySendError::Full(news)) => {
                    room.waiting.push_back(news);
                    self.waits.notify_one();
                }
            }
        } else if room.waiting.len() < self.most_waiting {
            room.waiting.push_back(news);
        } else {
            room.lost += 1;
        }
    }

    pub(crate) fn backlog(&self) -> Backlog {
        let room = self.room();
        Backlog {
            in_channel: self.to_program.len(),
            waiting: room.waiting.len(),
            lost: room.lost,
        }
    }

    /// Offers waiting news to the channel again. Returns whether all of them are out.
    pub(crate) fn pump(&self) -> bool {
        let mut room = self.room();
        self.complain(&mut room);
        while let Some(news) = room.waiting.pop_front() {
            match self.to_program.try_send(news) {
                Ok(()) => {}
                Err(TrySendError::Full(news)) => {
                    room.waiting.push_front(news);
                    return false;
                }
                Err(TrySendError::Disconnected(_)) => {
                    room.waiting.clear();
                }
            }
        }
        room.behind_said = false;
        true
    }

    pub(crate) async fn pump_forever(&self) {
        loop {
            self.waits.notified().await;
            while !self.pump() {
                tokio::time::sleep(crate::stamp::length(PUMP_EVERY)).await;
            }
        }
    }

    fn complain(&self, room: &mut Room) {
        let at = self.stamp.now();
        if room.lost > room.lost_said {
            let words = format!(
                "{} packets or messages were lost",
                room.lost - room.lost_said
            );
            room.lost_said = room.lost;
            room.waiting.push_back(News::Trouble(Trouble {
                at,
                source: None,
                kind: TroubleKind::PacketsLost,
                words: format!("{words} because recording did not keep up"),
                remedy: "end the session; the disk or the machine is too slow".to_owned(),
            }));
        }
        if !room.behind_said && room.waiting.len() > self.most_waiting / 4 {
            room.behind_said = true;
            let words = format!("recording is behind by {} packets", room.waiting.len());
            room.waiting.push_back(News::Trouble(Trouble {
                at,
                source: None,
                kind: TroubleKind::Behind,
                words,
                remedy: "end other programs that use the disk; nothing is lost yet".to_owned(),
            }));
        }
    }

    fn room(&self) -> MutexGuard<'_, Room> {
        // Each step under this lock leaves the room whole, so a panic elsewhere did no harm.
        self.room.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stamp::Anchor;
    use units::{Characteristic, Packet, SourceId, Timestamp};

    fn packet(number: u8) -> News {
        News::Packet(Packet {
            at: Timestamp::ZERO,
            source: SourceId(1),
            epoch: 1,
            characteristic: Characteristic(0x2A63),
            bytes: vec![number],
        })
    }

    #[test]
    fn order_is_kept_through_a_full_channel_and_loss_is_said() {
        let (sender, receiver) = crossbeam_channel::bounded(4);
        let outlet = Outlet::new(sender, 8, Stamp::new(Anchor::now(Timestamp::ZERO)));
        for number in 0..14 {
            outlet.send(packet(number));
        }
        assert_eq!(
            outlet.backlog(),
            Backlog {
                in_channel: 4,
                waiting: 8,
                lost: 2
            }
        );
        let mut got = Vec::new();
        for _ in 0..10 {
            got.extend(receiver.try_iter());
            outlet.pump();
        }
        assert_eq!(got[..12], (0..12).map(packet).collect::<Vec<_>>());
        let kinds: Vec<_> = got[12..]
            .iter()
            .map(|news| match news {
                News::Trouble(trouble) => trouble.kind,
                other => panic!("{other:?}"),
            })
            .collect();
        assert_eq!(kinds, [TroubleKind::PacketsLost, TroubleKind::Behind]);
        assert_eq!(
            outlet.backlog(),
            Backlog {
                in_channel: 0,
                waiting: 0,
                lost: 2
            }
        );
    }
}
