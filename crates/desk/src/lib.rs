//! The desktop: draws the model and the findings, emits requests.
//!
//! [`Desk`] holds what belongs to looking – which place is open, which stretch of time is shown –
//! and no truth: delete it and nothing recorded, judged or commanded is different. Every frame is
//! drawn from [`Inputs`], and every wish leaves as a [`Request`].
//!
//! What is absent, on purpose: files, dialogs, clocks, threads, channels, and any judgement.

mod desk;
mod frame;
mod inputs;
mod keys;
mod parts;
mod place;
mod replay;
mod request;
mod shell;

pub mod chart;
pub mod sheet;
pub mod theme;

pub use desk::{Desk, Remembered};
pub use inputs::{
    AuditLine, AuditView, Caution, ColumnChoice, CompareView, ComparedRow, ComparedSession,
    DeviceCard, DraftCheck, DraftProblem, ImportView, Inputs, Interrupted, Laid, LinkWord, Motion,
    Opened, Preferences, Progress, RadioView, RecordingCard, RecordingView, ReplayView, RigCard,
    RuleCard, ScriptCard, Searching, SelfTest, SelfTestCheck, SheetCard, ShelfRow, SpeedUnit,
};
pub use keys::{Binding, Deed, KEYS};
pub use place::Place;
pub use place::script::templates::{CLAIMS, STEPS, Template};
pub use request::{
    AuditConsent, By, ImportWish, Order, Pace, RadioWish, ReplayWish, Request, ScriptWish,
    ShelfWish, ThemeChoice,
};
