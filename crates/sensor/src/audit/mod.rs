//! The conduct of one device, rule by rule, against the open standards of its services.
//!
//! The [`Auditor`] is told what was seen: service table, values read, notifications, answers of the
//! control points. It says what to write next, and only with [`Consent`]; without it nothing is
//! written at all. Steps that change the load begin and end with a release and never ask for more
//! than [`MOST_LOAD_W`].
//!
//! A rule is kept, broken or not observable; nothing in here certifies anything. A rule counts as
//! broken only where the bytes prove it; where a standard leaves a choice, or where the air or the
//! system may have had a hand in it, it is not observable.
//!
//! What is absent: reading and subscribing, which the driver does by itself on every link, and
//! offset compensation and spin-down, which need somebody at the bicycle.

mod auditor;
mod claims;
mod closing;
mod consent;
mod counters;
mod dialogue;
mod evidence;
mod finding;
mod machine_steps;
mod meter_steps;
mod presence;
mod streams;
mod values;
mod verdicts;

pub use auditor::{AuditOutput, AuditSettings, Auditor};
pub use consent::{Consent, MOST_LOAD_W};
pub use evidence::{Offered, Properties, Property};
pub use finding::{AnswerTimes, Audit, LoadLeft, Outcome, RuleFinding, StreamFigures};
