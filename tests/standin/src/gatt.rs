//! Service tables: which characteristic belongs to which service, and what it can do, after the
//! Bluetooth assigned numbers and the services' own texts.

use units::Characteristic;

/// A characteristic as a device offers it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CharacteristicSpec {
    /// Its assigned number.
    pub characteristic: Characteristic,
    /// Its properties in BlueZ's words: `read`, `write`, `notify`, `indicate` …
    pub flags: Vec<&'static str>,
}

/// A service as a device offers it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ServiceSpec {
    /// Its assigned number.
    pub service: u16,
    /// Its characteristics.
    pub characteristics: Vec<CharacteristicSpec>,
}

/// The service a characteristic usually belongs to, and its usual properties.
pub fn service_of(characteristic: Characteristic) -> (u16, &'static [&'static str]) {
    match characteristic.0 {
        0x2A63 | 0x2A64 => (0x1818, &["notify"]),
        0x2A65 | 0x2A5D => (0x1818, &["read"]),
        0x2A66 => (0x1818, &["write", "indicate"]),
        0x2A5B => (0x1816, &["notify"]),
        0x2A5C => (0x1816, &["read"]),
        0x2A55 => (0x1816, &["write", "indicate"]),
        0x2AD2 | 0x2ADA => (0x1826, &["notify"]),
        0x2AD3 => (0x1826, &["read", "notify"]),
        0x2AD9 => (0x1826, &["write", "indicate"]),
        0x2ACC | 0x2AD4..=0x2AD8 => (0x1826, &["read"]),
        0x2A37 => (0x180D, &["notify"]),
        0x2A38 => (0x180D, &["read"]),
        0x2A19 => (0x180F, &["read", "notify"]),
        _ => (0x180A, &["read"]),
    }
}

/// The service table of a device that offers these characteristics.
pub fn table_of(characteristics: &[Characteristic]) -> Vec<ServiceSpec> {
    let mut table: Vec<ServiceSpec> = Vec::new();
    for &characteristic in characteristics {
        let (service, flags) = service_of(characteristic);
        let spec = CharacteristicSpec {
            characteristic,
            flags: flags.to_vec(),
        };
        match table.iter_mut().find(|known| known.service == service) {
            Some(known) => known.characteristics.push(spec),
            None => table.push(ServiceSpec {
                service,
                characteristics: vec![spec],
            }),
        }
    }
    table
}
