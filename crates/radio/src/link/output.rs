//! What the link machine wants done or said, and what a call brings back.

use crate::news::{Entry, LinkState, TroubleKind};
use units::{Characteristic, Span};

/// One thing for the driver to do with the system.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum What {
    /// Make a new connection with the system's Bluetooth service.
    Renew,
    /// Look for the device in one burst of scanning.
    Burst,
    /// Take a new object for the device and open its stream of values.
    Find,
    Connect,
    Discover,
    Subscribe(Characteristic),
    /// Unsubscribe and subscribe.
    Resubscribe(Characteristic),
    /// Ask whether the link is up.
    Ask,
    Disconnect,
}

/// A call with its time limit. The driver cuts it off and answers `TimedOut` for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Call {
    pub(crate) serial: u64,
    pub(crate) what: What,
    pub(crate) within: Span,
}

/// What a call brought.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Reply {
    Done,
    Linked(bool),
    Table(Vec<Entry>),
}

/// What the machine wants done or said, in order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Output {
    Call(Call),
    /// Drop the call that is under way, if one is.
    Abandon,
    /// Values of this link are to be forwarded from now on, under this epoch.
    OpenDrain,
    /// Forward what has arrived, then close the stream; pending writes and reads have failed.
    CloseDrain,
    State(LinkState, String),
    Services(Vec<Entry>),
    Trouble(TroubleKind, String, &'static str),
    /// The device is detached and its link is down.
    Finished,
}
