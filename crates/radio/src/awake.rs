//! Keeping the machine awake while a session records: a machine that sleeps loses every link
//! (trouble list A9, F7).
//!
//! On Linux the session manager is asked for an inhibitor lock over the system bus; it holds for as
//! long as a file descriptor that comes back stays open, so that it ends with the program however
//! that ends. On other systems the person at the bench has to switch sleep off; the error says so.

use thiserror::Error;

/// A machine that is kept awake; dropped, it may sleep again.
#[derive(Debug)]
pub struct Awake {
    /// Open while the lock is held; only its closing means something.
    #[cfg(target_os = "linux")]
    _lock: dbus::arg::OwnedFd,
}

/// Why the machine may fall asleep.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum AwakeError {
    /// The session manager gave no lock.
    #[error(
        "the system does not promise to stay awake ({0}); switch automatic sleep off while a \
         session records"
    )]
    Refused(String),
    /// This program knows no way on this system.
    #[error(
        "this program cannot keep this system awake; switch automatic sleep off while a session \
         records"
    )]
    Unknown,
}

impl Awake {
    /// Asks that the machine stays awake; `why` is shown to whoever asks the system.
    ///
    /// # Errors
    /// In words, with what to do. Nothing else depends on it: a session is recorded without.
    #[cfg(target_os = "linux")]
    pub fn hold(why: &str) -> Result<Self, AwakeError> {
        linux::inhibit(why)
            .map(|lock| Self { _lock: lock })
            .map_err(|error| AwakeError::Refused(error.to_string()))
    }

    /// Asks that the machine stays awake; `why` is shown to whoever asks the system.
    ///
    /// # Errors
    /// Always: what other systems want for it has not been written, because it could not be tried.
    #[cfg(not(target_os = "linux"))]
    pub fn hold(_why: &str) -> Result<Self, AwakeError> {
        Err(AwakeError::Unknown)
    }
}

#[cfg(target_os = "linux")]
mod linux {
    use dbus::arg::OwnedFd;
    use dbus::channel::{BusType, Channel};
    use dbus::{Error, Message};
    use std::time::Duration;

    /// The session manager answers at once or not at all.
    const WITHIN: Duration = Duration::from_secs(2);

    /// The lock of the session manager (its interface `org.freedesktop.login1.Manager`, method
    /// `Inhibit`): against sleep and against being taken for idle.
    pub(super) fn inhibit(why: &str) -> Result<OwnedFd, Error> {
        let mut channel = Channel::get_private(BusType::System)?;
        channel.set_watch_enabled(false);
        let call = Message::new_method_call(
            "org.freedesktop.login1",
            "/org/freedesktop/login1",
            "org.freedesktop.login1.Manager",
            "Inhibit",
        )
        .map_err(|words| Error::new_failed(&words))?
        .append3("sleep:idle", "Prony", why)
        .append1("block");
        let answer = channel.send_with_reply_and_block(call, WITHIN)?;
        answer.read1::<OwnedFd>().map_err(Error::from)
    }
}
