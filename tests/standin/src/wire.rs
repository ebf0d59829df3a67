//! BlueZ's sentences on the bus: names, paths, property maps, errors.

use dbus::Message;
use dbus::arg::{PropMap, RefArg, Variant};
use dbus::strings::{ErrorName, Interface, Member, Path};
use std::collections::HashMap;
use std::ffi::CString;
use units::Characteristic;

pub(crate) const NAME: &str = "org.bluez";
/// The session manager, of whom a program may want that the machine stays awake.
pub(crate) const SESSIONS_NAME: &str = "org.freedesktop.login1";
pub(crate) const SESSIONS: &str = "org.freedesktop.login1.Manager";
pub(crate) const ADAPTER: &str = "org.bluez.Adapter1";
pub(crate) const DEVICE: &str = "org.bluez.Device1";
pub(crate) const SERVICE: &str = "org.bluez.GattService1";
pub(crate) const CHARACTERISTIC: &str = "org.bluez.GattCharacteristic1";
pub(crate) const PROPERTIES: &str = "org.freedesktop.DBus.Properties";
pub(crate) const OBJECTS: &str = "org.freedesktop.DBus.ObjectManager";
pub(crate) const INTROSPECT: &str = "org.freedesktop.DBus.Introspectable";
pub(crate) const ADAPTER_PATH: &str = "/org/bluez/hci0";

/// The interfaces of an object with their properties.
pub(crate) type Interfaces = HashMap<String, PropMap>;

/// The long form of an assigned number.
pub(crate) fn uuid(number: u16) -> String {
    format!("0000{number:04x}-0000-1000-8000-00805f9b34fb")
}

pub(crate) fn property(value: impl RefArg + 'static) -> Variant<Box<dyn RefArg>> {
    Variant(Box::new(value))
}

pub(crate) fn properties<const N: usize>(list: [(&str, Variant<Box<dyn RefArg>>); N]) -> PropMap {
    list.into_iter()
        .map(|(name, value)| (name.to_owned(), value))
        .collect()
}

pub(crate) fn path(text: &str) -> Path<'static> {
    Path::new(text.to_owned()).expect("our paths are made of letters, digits and underscores")
}

pub(crate) fn signal(of: &str, interface: &str, member: &str) -> Message {
    let interface = Interface::new(interface.to_owned()).expect("a constant of this file");
    let member = Member::new(member.to_owned()).expect("a constant of this file");
    Message::signal(&path(of), &interface, &member)
}

pub(crate) fn changed(of: &str, interface: &str, changed: PropMap) -> Message {
    signal(of, PROPERTIES, "PropertiesChanged").append3(interface, changed, Vec::<String>::new())
}

pub(crate) fn value_changed(of: &str, bytes: &[u8]) -> Message {
    changed(
        of,
        CHARACTERISTIC,
        properties([("Value", property(bytes.to_vec()))]),
    )
}

pub(crate) fn fails(call: &Message, name: &str, words: &str) -> Message {
    let name = ErrorName::new(name.to_owned()).expect("a constant of this crate");
    let words = CString::new(words).unwrap_or_default();
    call.error(&name, &words)
}

pub(crate) fn failed(call: &Message, words: &str) -> Message {
    fails(call, "org.bluez.Error.Failed", words)
}

pub(crate) fn no_such_object(call: &Message) -> Message {
    fails(
        call,
        "org.freedesktop.DBus.Error.UnknownObject",
        "no such object",
    )
}

/// An attribute error as BlueZ tells it (`create_gatt_dbus_error`).
pub(crate) fn att_error(call: &Message, code: u8, verb: &str) -> Message {
    let (name, words) = match code {
        0x02 | 0x03 => ("NotPermitted", format!("{verb} not permitted")),
        0x05 | 0x0C | 0x0F => ("NotPermitted", "Not paired".to_owned()),
        0x06 => ("NotSupported", "Operation is not supported".to_owned()),
        0x07 => ("InvalidArguments", "Invalid offset".to_owned()),
        0x08 => ("NotAuthorized", "Operation Not Authorized".to_owned()),
        0x0D => ("InvalidArguments", "Invalid Length".to_owned()),
        other => (
            "Failed",
            format!("Operation failed with ATT error: 0x{other:02x}"),
        ),
    };
    fails(call, &format!("org.bluez.Error.{name}"), &words)
}

/// The path of a device.
pub(crate) fn device_path(address: &str) -> String {
    format!("{ADAPTER_PATH}/dev_{}", address.replace(':', "_"))
}

pub(crate) fn show(characteristic: Characteristic) -> String {
    uuid(characteristic.0)
}
