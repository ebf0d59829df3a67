//! Between the bench and what the instruments carry out themselves: who is asked, what is written,
//! what the answers mean, and that nobody is loaded meanwhile.
//!
//! A procedure begins because a step or the operator asks for it ([`beginning`]). Time, packets and
//! answers carry it on ([`going_on`]), each kind in its own words ([`spin_down`], [`power_meters`]),
//! until it is over, and whoever asked hears of it ([`ending`]). What is told on the way goes into the
//! record, onto the screen and to the rider ([`telling`]).
//!
//! The brake is never loaded from here. What is written to a trainer is a request for control, the
//! start of its spin-down, and a reset when a spin-down is broken off.

mod beginning;
mod ending;
mod going_on;
mod power_meters;
mod spin_down;
mod telling;
