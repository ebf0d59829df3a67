//! One pending write for each characteristic, and one that waits: the newest.
//!
//! A control point takes one procedure at a time. When a release has to go out while a target is
//! still pending, it must not stand in a queue behind other targets; so there is no queue.

use crate::order::Token;
use std::collections::BTreeMap;
use units::Characteristic;

/// A write that may go on the air now.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Go {
    pub(crate) token: Token,
    pub(crate) characteristic: Characteristic,
    pub(crate) bytes: Vec<u8>,
}

/// What becomes of a write that is offered.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Offer {
    /// It goes out at once.
    Go(Go),
    /// It waits for the pending one, and took the place of this one.
    Waits { instead_of: Option<Token> },
}

#[derive(Debug, Default)]
pub(crate) struct Writes {
    pending: BTreeMap<Characteristic, Token>,
    waiting: BTreeMap<Characteristic, Go>,
}

impl Writes {
    pub(crate) fn offer(&mut self, go: Go) -> Offer {
        if self.pending.contains_key(&go.characteristic) {
            let displaced = self.waiting.insert(go.characteristic, go);
            return Offer::Waits {
                instead_of: displaced.map(|old| old.token),
            };
        }
        self.pending.insert(go.characteristic, go.token);
        Offer::Go(go)
    }

    /// The pending write of this characteristic is over; the one that waited goes out.
    pub(crate) fn done(&mut self, characteristic: Characteristic) -> Option<Go> {
        self.pending.remove(&characteristic);
        let go = self.waiting.remove(&characteristic)?;
        self.pending.insert(characteristic, go.token);
        Some(go)
    }

    /// The link is gone: nothing is pending any more, and nothing is kept for the next link.
    pub(crate) fn clear(&mut self) -> Vec<Token> {
        let pending = std::mem::take(&mut self.pending).into_values();
        let waiting = std::mem::take(&mut self.waiting)
            .into_values()
            .map(|go| go.token);
        pending.chain(waiting).collect()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.pending.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn go(token: u64, characteristic: u16) -> Go {
        Go {
            token: Token(token),
            characteristic: Characteristic(characteristic),
            bytes: vec![token as u8],
        }
    }

    #[test]
    fn the_newest_write_wins_and_the_displaced_one_is_named() {
        let mut writes = Writes::default();
        assert_eq!(writes.offer(go(1, 0x2AD9)), Offer::Go(go(1, 0x2AD9)));
        assert_eq!(
            writes.offer(go(2, 0x2AD9)),
            Offer::Waits { instead_of: None }
        );
        assert_eq!(
            writes.offer(go(3, 0x2AD9)),
            Offer::Waits {
                instead_of: Some(Token(2))
            }
        );
        assert_eq!(writes.done(Characteristic(0x2AD9)), Some(go(3, 0x2AD9)));
        assert_eq!(writes.done(Characteristic(0x2AD9)), None);
        assert!(writes.is_empty());
    }

    #[test]
    fn characteristics_do_not_wait_for_each_other() {
        let mut writes = Writes::default();
        writes.offer(go(1, 0x2AD9));
        assert_eq!(writes.offer(go(2, 0x2A66)), Offer::Go(go(2, 0x2A66)));
    }

    #[test]
    fn nothing_is_kept_for_the_next_link() {
        let mut writes = Writes::default();
        writes.offer(go(1, 0x2AD9));
        writes.offer(go(2, 0x2AD9));
        assert_eq!(writes.clear(), [Token(1), Token(2)]);
        assert_eq!(writes.done(Characteristic(0x2AD9)), None);
    }
}
