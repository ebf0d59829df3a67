//! The arguments of the examinations together with what several of them need worked out once.
//!
//! Nothing in here is a result: the same numbers come out of [`Given`] alone, only later.

use super::given::Given;
use super::integral::Integral;
use crate::evidence::Role;
use std::cell::OnceCell;
use std::ops::Deref;

/// [`Given`] with running integrals made on first use.
#[derive(Debug)]
pub struct Prepared<'a> {
    given: Given<'a>,
    powers: Vec<OnceCell<Integral>>,
    speeds: Vec<OnceCell<Integral>>,
}

impl<'a> Prepared<'a> {
    /// Prepares nothing yet.
    pub fn new(given: Given<'a>) -> Self {
        let empty = || {
            given
                .evidence
                .streams
                .iter()
                .map(|_| OnceCell::new())
                .collect()
        };
        Self {
            given,
            powers: empty(),
            speeds: empty(),
        }
    }

    /// Running integral of the power of the stream with this index.
    pub(super) fn power(&self, index: usize) -> &Integral {
        self.powers[index].get_or_init(|| Integral::new(&self.evidence.streams[index].power_w))
    }

    /// Running integral of a flywheel speed in km/h: that of the device under test, else that of
    /// the reference, else of any stream that has one.
    pub(super) fn speed(&self) -> Option<&Integral> {
        let streams = &self.evidence.streams;
        let of_role = |role: Option<Role>| {
            streams.iter().position(|stream| {
                role.is_none_or(|role| stream.role == role) && !stream.speed_kmh.is_empty()
            })
        };
        let index = of_role(Some(Role::UnderTest))
            .or_else(|| of_role(Some(Role::PrimaryReference)))
            .or_else(|| of_role(None))?;
        Some(self.speeds[index].get_or_init(|| Integral::new(&streams[index].speed_kmh)))
    }
}

impl<'a> Deref for Prepared<'a> {
    type Target = Given<'a>;

    fn deref(&self) -> &Given<'a> {
        &self.given
    }
}
