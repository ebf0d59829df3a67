//! What can go wrong, and when.

use units::{Characteristic, Span, Timestamp};

/// Which request an attribute error answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum On {
    /// A read.
    Read,
    /// A write.
    Write,
    /// Switching notifications or indications on.
    Subscribe,
}

/// One thing that goes wrong, or right again. Devices are counted in the order of the model.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fault {
    /// Numbered values in quick succession: `count` of them, each a `u32` from 0, little endian.
    Burst {
        /// Which device.
        device: usize,
        /// From which characteristic.
        characteristic: Characteristic,
        /// How many.
        count: u32,
        /// The time from one to the next.
        spacing: Span,
    },
    /// The link goes down.
    DropLink {
        /// Which device.
        device: usize,
    },
    /// The next attempts to link are refused at once.
    RefuseLinks {
        /// Which device.
        device: usize,
        /// How many of them.
        times: u32,
    },
    /// The next attempts to link get no answer.
    IgnoreLinks {
        /// Which device.
        device: usize,
        /// How many of them.
        times: u32,
    },
    /// From now on services are known only so long after the link is up; never, without a span.
    DelayServices {
        /// Which device.
        device: usize,
        /// How long, or never.
        by: Option<Span>,
    },
    /// The next links show only services and characteristics other than these.
    HideOnce {
        /// Which device.
        device: usize,
        /// What is hidden from the next look at the services.
        characteristics: Vec<Characteristic>,
    },
    /// No value comes for a while, and the link stays up.
    Silence {
        /// Which device.
        device: usize,
        /// How long.
        lasting: Span,
    },
    /// The next requests are answered by an attribute error.
    AttError {
        /// Which device.
        device: usize,
        /// Which characteristic.
        characteristic: Characteristic,
        /// Which request.
        on: On,
        /// The error.
        code: u8,
        /// How many requests.
        times: u32,
    },
    /// The next writes are carried out and never answered.
    IgnoreWrites {
        /// Which device.
        device: usize,
        /// How many.
        times: u32,
    },
    /// The answer to a write is held back for so long; an indication may come before it.
    DelayWriteAnswers {
        /// Which device.
        device: usize,
        /// How long.
        by: Span,
    },
    /// The next values of a characteristic get lost.
    Swallow {
        /// Which device.
        device: usize,
        /// Which characteristic.
        characteristic: Characteristic,
        /// How many values.
        times: u32,
    },
    /// The device's firmware changes: its handles move. Drops the link.
    MoveHandles {
        /// Which device.
        device: usize,
    },
    /// The system forgets the device.
    RemoveDevice {
        /// Which device.
        device: usize,
    },
    /// The device is heard again.
    ReturnDevice {
        /// Which device.
        device: usize,
    },
    /// Another controller takes control of the device.
    TakeControl {
        /// Which device.
        device: usize,
    },
    /// The device is switched off and on: its link is gone meanwhile, and what it counts begins at
    /// zero.
    Restart {
        /// Which device.
        device: usize,
        /// How long it is off, on the stand-in's clock.
        lasting: Span,
    },
    /// The adapter is pulled out: the service knows none any more, and no device.
    UnplugAdapter,
    /// The adapter is back.
    PlugAdapter,
    /// The adapter is switched off.
    AdapterOff,
    /// The adapter is switched on.
    AdapterOn,
    /// The Bluetooth service crashes: its name is gone from the bus, and all links with it.
    LoseName,
    /// The Bluetooth service is back.
    TakeName,
    /// The bus itself dies.
    KillBus,
    /// The bus is back, and the service on it.
    RestartBus,
}

/// What goes wrong when, counted from the start of the stand-in.
pub type Script = Vec<(Timestamp, Fault)>;
