//! A message bus of our own: one `dbus-daemon` with its socket in a folder of the test.

use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;
use thiserror::Error;

/// Why there is no private bus.
#[derive(Debug, Error)]
pub enum BusError {
    /// The program is not installed.
    #[error(
        "failed to start dbus-daemon: it is not installed; the Bluetooth tests need it (on Debian: \
         apt-get install dbus-daemon)"
    )]
    Missing,
    /// It could not be started.
    #[error("failed to start dbus-daemon")]
    Start(#[from] std::io::Error),
    /// It was started and opened no socket.
    #[error("failed to start dbus-daemon: no socket after 5 s at {}", .0.display())]
    NoSocket(PathBuf),
}

/// A running bus; ends when dropped.
#[derive(Debug)]
pub struct PrivateBus {
    folder: PathBuf,
    daemon: Option<Child>,
}

impl PrivateBus {
    /// The address that a bus in this folder has.
    pub fn address_in(folder: &Path) -> String {
        format!("unix:path={}", folder.join("bus").display())
    }

    /// Whether the program is there to be started.
    pub fn is_installed() -> bool {
        Command::new("dbus-daemon")
            .arg("--version")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|status| status.success())
    }

    /// Starts a bus in a folder.
    ///
    /// # Errors
    /// The program is missing or does not come up.
    pub fn start(folder: &Path) -> Result<Self, BusError> {
        if !Self::is_installed() {
            return Err(BusError::Missing);
        }
        let mut bus = Self {
            folder: folder.to_owned(),
            daemon: None,
        };
        bus.restart()?;
        Ok(bus)
    }

    /// Starts the bus again after [`PrivateBus::kill`], at the same address.
    ///
    /// # Errors
    /// As [`PrivateBus::start`].
    pub fn restart(&mut self) -> Result<(), BusError> {
        self.kill();
        let (socket, config) = (self.folder.join("bus"), self.folder.join("bus.conf"));
        let _ = std::fs::remove_file(&socket);
        std::fs::write(&config, config_text(&Self::address_in(&self.folder)))?;
        let daemon = Command::new("dbus-daemon")
            .args(["--nofork", "--nopidfile", "--nosyslog"])
            .arg(format!("--config-file={}", config.display()))
            .stdin(Stdio::null())
            .spawn()?;
        self.daemon = Some(daemon);
        for _ in 0..1000 {
            // The file is there a moment before anybody listens at it.
            if UnixStream::connect(&socket).is_ok() {
                return Ok(());
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        Err(BusError::NoSocket(socket))
    }

    /// Ends the bus at once, as a crash would.
    pub fn kill(&mut self) {
        if let Some(mut daemon) = self.daemon.take() {
            // It may have ended by itself; then there is nothing left to end.
            let _ = daemon.kill();
            let _ = daemon.wait();
        }
    }
}

impl Drop for PrivateBus {
    fn drop(&mut self) {
        self.kill();
    }
}

fn config_text(address: &str) -> String {
    format!(
        "<busconfig><type>session</type><listen>{address}</listen><auth>EXTERNAL</auth>\
         <policy context=\"default\"><allow send_destination=\"*\" eavesdrop=\"true\"/>\
         <allow eavesdrop=\"true\"/><allow own=\"*\"/><allow user=\"*\"/></policy></busconfig>\n"
    )
}
