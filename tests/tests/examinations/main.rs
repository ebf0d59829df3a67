//! Every examination on a simulated session in which its effect is present, where it must be found
//! with the true size in its 95 % interval, and on one in which it is absent, where it must not be
//! claimed. The truth comes from the rig's own record or from the faults that were injected; what
//! an instrument's own averaging does to it is applied to the truth as well.
//!
//! Sessions are shared between examinations and ridden once, inside the test.

#![allow(
    clippy::unwrap_used,
    reason = "a test may stop where its own data are wrong"
)]

mod dynamics;
mod faults;
mod instruments;
mod levels;
mod sessions;
mod slopes;
