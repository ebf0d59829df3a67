//! The last hand on the brake: instruments that are released even if the program panics.
//!
//! The bench releases the brake on every way out that it knows of. A panic is the way out that
//! nobody knows of; whoever holds the instruments then still writes a release, and a reset after
//! it, before they are let go.

use crate::instruments::Instruments;
use sensor::assigned;
use sensor::fitness_machine::control::Request;
use std::ops::{Deref, DerefMut};
use units::{SourceId, Timestamp, Write};

/// Instruments in hand.
pub struct Reins<I: Instruments> {
    instruments: Option<I>,
    brake: Option<SourceId>,
}

impl<I: Instruments> Reins<I> {
    /// Takes hold; `brake` is the instrument whose load is controlled, if there is one.
    pub fn take(instruments: I, brake: Option<SourceId>) -> Self {
        Self {
            instruments: Some(instruments),
            brake,
        }
    }

    /// Hands the instruments on, in order.
    pub fn hand_on(mut self) -> I {
        self.instruments
            .take()
            .expect("the instruments are in hand until they are handed on")
    }
}

impl<I: Instruments> Deref for Reins<I> {
    type Target = I;

    fn deref(&self) -> &I {
        self.instruments
            .as_ref()
            .expect("the instruments are in hand until they are handed on")
    }
}

impl<I: Instruments> DerefMut for Reins<I> {
    fn deref_mut(&mut self) -> &mut I {
        self.instruments
            .as_mut()
            .expect("the instruments are in hand until they are handed on")
    }
}

impl<I: Instruments> Drop for Reins<I> {
    fn drop(&mut self) {
        let Some((mut instruments, source)) = self.instruments.take().zip(self.brake) else {
            return;
        };
        if std::thread::panicking() {
            for request in [Request::SetTargetPower { power_w: 0 }, Request::Reset] {
                instruments.write(
                    Timestamp::MAX,
                    Write {
                        source,
                        characteristic: assigned::FITNESS_MACHINE_CONTROL_POINT,
                        bytes: request.encode(),
                    },
                );
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::instruments::News;
    use std::sync::{Arc, Mutex, PoisonError};

    #[derive(Clone, Default)]
    struct Noting(Arc<Mutex<Vec<Vec<u8>>>>);

    impl Instruments for Noting {
        fn due(&self) -> Option<Timestamp> {
            None
        }

        fn poll(&mut self, _now: Timestamp) -> Option<News> {
            panic!("something nobody thought of")
        }

        fn write(&mut self, _now: Timestamp, write: Write) {
            self.0
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .push(write.bytes);
        }
    }

    #[test]
    fn a_panic_releases_the_brake() {
        let noted = Noting::default();
        let mut reins = Reins::take(noted.clone(), Some(SourceId(1)));
        let fell = std::panic::catch_unwind(std::panic::AssertUnwindSafe(move || {
            reins.poll(Timestamp::ZERO);
        }));
        assert!(fell.is_err());
        let written = noted
            .0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone();
        assert_eq!(written, vec![vec![0x05, 0x00, 0x00], vec![0x01]]);
    }

    #[test]
    fn an_ordinary_end_writes_nothing_more() {
        let noted = Noting::default();
        drop(Reins::take(noted.clone(), Some(SourceId(1))));
        Reins::take(noted.clone(), Some(SourceId(1))).hand_on();
        assert!(
            noted
                .0
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
                .is_empty()
        );
    }
}
