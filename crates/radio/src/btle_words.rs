//! What an error of btleplug means. Its systems tell most of it in text only: BlueZ puts the
//! attribute error code into a sentence, Windows and macOS leave it out (trouble list D4).

use crate::fault::HostFault;
use btleplug::Error;

/// Words of a system, in lower case, and what they mean. The first that fits counts.
///
/// The sentences about attribute errors are those of BlueZ's `create_gatt_dbus_error`.
const MEANINGS: &[(&str, HostFault)] = &[
    ("not paired", HostFault::NotPaired),
    ("authentication", HostFault::NotPaired),
    ("encryption", HostFault::NotPaired),
    ("not connected", HostFault::NotConnected),
    ("notconnected", HostFault::NotConnected),
    ("inprogress", HostFault::Busy),
    ("in progress", HostFault::Busy),
    ("was not provided", HostFault::NoService),
    ("serviceunknown", HostFault::NoService),
    ("has no owner", HostFault::NoService),
    ("failed to connect to socket", HostFault::NoService),
    (CANNOT_SEND, HostFault::NoService),
    ("read/write failed", HostFault::NoService),
    ("connection is closed", HostFault::NoService),
    ("disconnected from message bus", HostFault::NoService),
    ("no bluetooth adapter", HostFault::NoAdapter),
    ("notready", HostFault::AdapterOff),
    ("not powered", HostFault::AdapterOff),
    ("timed out", HostFault::TimedOut),
    ("timeout", HostFault::TimedOut),
    ("noreply", HostFault::TimedOut),
    ("no longer available", HostFault::Gone),
    ("no such object", HostFault::Gone),
    ("unknownobject", HostFault::Gone),
    ("unknownmethod", HostFault::Gone),
    ("doesn't exist", HostFault::Gone),
    ("uuid", HostFault::Gone),
    ("read not permitted", HostFault::Att(0x02)),
    ("write not permitted", HostFault::Att(0x03)),
    ("invalid offset", HostFault::Att(0x07)),
    ("notauthorized", HostFault::Att(0x08)),
    ("invalid length", HostFault::Att(0x0D)),
    ("notsupported", HostFault::Att(0x06)),
];

/// What the D-Bus library says when the connection with the bus is closed.
const CANNOT_SEND: &str = "failed to send message";

/// Whether the message bus itself is gone.
pub(crate) fn bus_is_dead(error: &Error) -> bool {
    error.to_string().to_lowercase().contains(CANNOT_SEND)
}

pub(crate) fn fault(error: &Error) -> HostFault {
    match error {
        Error::DeviceNotFound => HostFault::NotFound,
        Error::NotConnected => HostFault::NotConnected,
        Error::NoSuchCharacteristic | Error::UnexpectedCharacteristic => HostFault::Gone,
        Error::NoAdapterAvailable => HostFault::NoAdapter,
        Error::PermissionDenied => HostFault::NotAllowed,
        Error::TimedOut(_) => HostFault::TimedOut,
        // The debug form of a D-Bus error holds its name, the display form only its message.
        other => meaning(&other.to_string(), &format!("{other} {other:?}")),
    }
}

fn meaning(message: &str, all: &str) -> HostFault {
    let all = all.to_lowercase();
    if let Some(code) = attribute_error(&all) {
        return HostFault::Att(code);
    }
    MEANINGS
        .iter()
        .find(|(words, _)| all.contains(words))
        .map_or_else(
            || HostFault::Other(message.to_owned()),
            |(_, fault)| fault.clone(),
        )
}

/// The code in `… att error: 0xfd …`.
fn attribute_error(text: &str) -> Option<u8> {
    let (_, after) = text.split_once("att error: 0x")?;
    let digits: String = after.chars().take_while(char::is_ascii_hexdigit).collect();
    u8::from_str_radix(&digits, 16).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sentences_of_the_systems_are_understood() {
        // Names and sentences as seen in runs against BlueZ's interface and in btleplug's source.
        for (text, expected) in [
            (
                "Operation failed with ATT error: 0xfd (org.bluez.Error.Failed)",
                HostFault::Att(0xFD),
            ),
            (
                "Not paired (org.bluez.Error.NotPermitted)",
                HostFault::NotPaired,
            ),
            (
                "Write not permitted (org.bluez.Error.NotPermitted)",
                HostFault::Att(3),
            ),
            (
                "Not connected (org.bluez.Error.Failed)",
                HostFault::NotConnected,
            ),
            (
                "Operation already in progress (org.bluez.Error.InProgress)",
                HostFault::Busy,
            ),
            (
                "The name org.bluez was not provided by any .service files",
                HostFault::NoService,
            ),
            ("Timeout waiting for reply", HostFault::TimedOut),
            ("Service discovery timed out", HostFault::TimedOut),
            ("Peripheral no longer available", HostFault::Gone),
            (
                "le-connection-abort-by-local (org.bluez.Error.Failed)",
                HostFault::Other(
                    "le-connection-abort-by-local (org.bluez.Error.Failed)".to_owned(),
                ),
            ),
        ] {
            assert_eq!(meaning(text, text), expected, "{text}");
        }
    }
}
