//! Why the system could not do what was asked, in words, and what a person can do about it.

use crate::news::TroubleKind;
use thiserror::Error;
use units::AttError;

/// Why a call to the system's Bluetooth failed.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum HostFault {
    /// The system's Bluetooth service does not answer.
    #[error("the system's Bluetooth service does not answer")]
    NoService,
    /// There is no adapter.
    #[error("there is no Bluetooth adapter")]
    NoAdapter,
    /// The adapter is switched off.
    #[error("the Bluetooth adapter is switched off")]
    AdapterOff,
    /// The program is not allowed to use Bluetooth.
    #[error("the system does not let this program use Bluetooth")]
    NotAllowed,
    /// The device has not been heard.
    #[error("the device is not in reach")]
    NotFound,
    /// The system no longer knows the object this link used.
    #[error("the device or one of its characteristics is no longer available")]
    Gone,
    /// There is no link.
    #[error("not connected")]
    NotConnected,
    /// The device wants to be paired first.
    #[error("the device is not paired")]
    NotPaired,
    /// Another procedure of the same kind is under way.
    #[error("the system is still busy with an earlier request")]
    Busy,
    /// The device refused with this attribute error.
    #[error("the device answered with attribute error 0x{0:02X}")]
    Att(u8),
    /// No answer in time.
    #[error("no answer in time")]
    TimedOut,
    /// Something else, in the system's words.
    #[error("the system reports {0:?}")]
    Other(String),
}

impl HostFault {
    /// What a person can do about it.
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::NoService => {
                "start the system's Bluetooth service (on Linux: systemctl start bluetooth)"
            }
            Self::NoAdapter => "plug in a Bluetooth adapter, or use the simulated bench",
            Self::AdapterOff => "switch Bluetooth on in the system settings",
            Self::NotAllowed => "allow this program to use Bluetooth in the system settings",
            Self::NotFound => {
                "wake the device, bring it nearer, and end other programs or head units that hold it"
            }
            Self::Gone => {
                "if it stays so, remove the device in the system's Bluetooth settings and scan anew: \
                 its firmware may have changed"
            }
            Self::NotPaired => "pair the device in the system's Bluetooth settings",
            Self::NotConnected | Self::Busy | Self::TimedOut => {
                "nothing to do; the next attempt follows by itself"
            }
            Self::Att(_) | Self::Other(_) => {
                "try again; if it stays so, switch the device off and on"
            }
        }
    }

    pub(crate) const fn kind(&self) -> TroubleKind {
        match self {
            Self::NoService | Self::NotAllowed => TroubleKind::NoService,
            Self::NoAdapter => TroubleKind::NoAdapter,
            Self::AdapterOff => TroubleKind::AdapterOff,
            Self::NotPaired => TroubleKind::NotPaired,
            Self::Gone => TroubleKind::Missing,
            Self::TimedOut => TroubleKind::Unanswered,
            _ => TroubleKind::OutOfReach,
        }
    }

    /// Whether the link this call went over cannot be used any more.
    pub(crate) const fn ends_link(&self) -> bool {
        matches!(
            self,
            Self::NoService
                | Self::NoAdapter
                | Self::AdapterOff
                | Self::Gone
                | Self::NotConnected
                | Self::TimedOut
        )
    }
}

impl From<HostFault> for AttError {
    fn from(fault: HostFault) -> Self {
        match fault {
            HostFault::Att(code) => Self::Code(code),
            HostFault::NotConnected => Self::NotConnected,
            other => Self::Other(other.to_string()),
        }
    }
}
