//! The arguments of the examinations together with what several of them need worked out once.
//!
//! Nothing in here is a result: the same numbers come out of [`Given`] alone, only later.

use super::given::Given;
use super::integral::Integral;
use super::smoothing::found::Smoothing;
use crate::evidence::Role;
use crate::outcome::{Outcome, Tested};
use std::cell::OnceCell;
use std::ops::Deref;

/// [`Given`] with running integrals made on first use.
#[derive(Debug)]
pub struct Prepared<'a> {
    given: Given<'a>,
    powers: Vec<OnceCell<Integral>>,
    speeds: Vec<OnceCell<Integral>>,
    /// Delay and smoothing of the device, kept for those who ask after the first.
    pub(super) smoothing: OnceCell<Outcome<Smoothing>>,
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
            smoothing: OnceCell::new(),
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

impl Prepared<'_> {
    /// Says behind the sentence that both are taken as indicated, where the drivetrain lies between
    /// them.
    pub(super) fn as_indicated<R>(&self, mut tested: Tested<R>) -> Tested<R> {
        if self.drivetrain_between() {
            tested
                .sentence
                .push_str(" Both as indicated: the loss of the drivetrain is in it.");
        }
        tested
    }

    fn drivetrain_between(&self) -> bool {
        let place = |role: Role| self.sources(role).next().map(|source| source.stream.place);
        match (place(Role::UnderTest), place(Role::PrimaryReference)) {
            (Some(device), Some(reference)) => {
                device.is_behind_drivetrain() != reference.is_behind_drivetrain()
            }
            _ => false,
        }
    }
}

impl<'a> Deref for Prepared<'a> {
    type Target = Given<'a>;

    fn deref(&self) -> &Given<'a> {
        &self.given
    }
}
