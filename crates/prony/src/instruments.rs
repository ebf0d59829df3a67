//! What the engine needs from whatever stands on the bench: real radios, the simulated bench, or
//! a recorded session.

use bench::Command;
use crossbeam_channel::{Receiver, RecvTimeoutError};
use std::time::Duration;
use units::{AttError, Packet, SourceId, Timestamp, Write};

/// Something that happened at the instruments.
#[derive(Clone, Debug)]
pub enum News {
    /// A value was received.
    Packet(Packet),
    /// A link came up or went down.
    Link {
        /// When.
        at: Timestamp,
        /// Which instrument.
        source: SourceId,
        /// Whether it is linked now.
        up: bool,
        /// Number of the link.
        epoch: u32,
        /// What is known about it, in words.
        words: String,
    },
    /// An instrument answered a write.
    WriteReply {
        /// When.
        at: Timestamp,
        /// The write that was answered.
        write: Write,
        /// How.
        result: Result<(), AttError>,
    },
}

impl News {
    /// When it happened.
    pub fn at(&self) -> Timestamp {
        match self {
            Self::Packet(packet) => packet.at,
            Self::Link { at, .. } | Self::WriteReply { at, .. } => *at,
        }
    }
}

/// The instruments of one session.
pub trait Instruments {
    /// The next moment at which something is known to happen, if any is known.
    fn due(&self) -> Option<Timestamp>;

    /// The next piece of news up to `now`, in order of time.
    fn poll(&mut self, now: Timestamp) -> Option<News>;

    /// Sends a write. The answer comes as [`News::WriteReply`].
    fn write(&mut self, now: Timestamp, write: Write);

    /// Waits for a command, for news, or for `at_most`, whichever comes first.
    ///
    /// # Errors
    /// `Timeout` if no command came; `Disconnected` if nobody can give commands any more.
    fn wait(
        &mut self,
        commands: &Receiver<Command>,
        at_most: Duration,
    ) -> Result<Command, RecvTimeoutError> {
        commands.recv_timeout(at_most)
    }

    /// What the person at the bench has to know about the instruments, since the last call.
    fn troubles(&mut self) -> Vec<String> {
        Vec::new()
    }

    /// Tells a simulated rider what the prompts tell a human one. Others ignore it.
    fn cue(&mut self, _now: Timestamp, _cue: &protocol::Cue) {}
}
