//! Puts Indoor Bike Data together that a machine sent in several notifications.
//!
//! Source: Fitness Machine Service 1.0, section 4.9.1.2, and 1.0.1, section 4.19. Every part but
//! the last has More Data set and no speed; the last one carries the speed and closes the record.

use super::indoor_bike_data::IndoorBikeData;

/// Collects the parts of one record.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RecordAssembler {
    open: Option<IndoorBikeData>,
}

impl RecordAssembler {
    /// An assembler with no record begun.
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes the next part and gives the record that it ends, if it ends one.
    ///
    /// A field that comes twice shows that a machine never closed the record before; that record
    /// is then given as it is ([`IndoorBikeData::more_data`] is still true), so that a machine
    /// which never sends a speed is heard, and the part begins the next one.
    pub fn handle(&mut self, part: IndoorBikeData) -> Option<IndoorBikeData> {
        let Some(mut open) = self.open.take() else {
            return self.keep_or_close(part);
        };
        if part.more_data() && open.shares_a_field_with(&part) {
            self.open = Some(part);
            return Some(open);
        }
        open.take_over(part);
        self.keep_or_close(open)
    }

    /// Forgets the parts of an unclosed record, as is due when the link is lost. Says whether
    /// there were any.
    pub fn discard(&mut self) -> bool {
        self.open.take().is_some()
    }

    fn keep_or_close(&mut self, record: IndoorBikeData) -> Option<IndoorBikeData> {
        if record.more_data() {
            self.open = Some(record);
            return None;
        }
        Some(record)
    }
}

impl IndoorBikeData {
    fn shares_a_field_with(&self, other: &Self) -> bool {
        // Bit 0 is More Data and says nothing about a field that both parts could share.
        self.flags() & other.flags() & !1 != 0
    }

    /// Fields of `later` replace those that are here.
    fn take_over(&mut self, later: Self) {
        self.speed_kmh = later.speed_kmh.or(self.speed_kmh);
        self.average_speed_kmh = later.average_speed_kmh.or(self.average_speed_kmh);
        self.cadence_rpm = later.cadence_rpm.or(self.cadence_rpm);
        self.average_cadence_rpm = later.average_cadence_rpm.or(self.average_cadence_rpm);
        self.distance_m = later.distance_m.or(self.distance_m);
        self.resistance = later.resistance.or(self.resistance);
        self.power_w = later.power_w.or(self.power_w);
        self.average_power_w = later.average_power_w.or(self.average_power_w);
        self.energy = later.energy.or(self.energy);
        self.heart_rate_bpm = later.heart_rate_bpm.or(self.heart_rate_bpm);
        self.metabolic_equivalent = later.metabolic_equivalent.or(self.metabolic_equivalent);
        self.elapsed_s = later.elapsed_s.or(self.elapsed_s);
        self.remaining_s = later.remaining_s.or(self.remaining_s);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn part(bytes: &[u8]) -> IndoorBikeData {
        IndoorBikeData::decode(bytes).unwrap().value
    }

    /// A record in two halves, worked by hand from table 4.10 of Fitness Machine Service 1.0.
    #[test]
    fn a_split_record_is_whole_when_the_speed_has_come() {
        let first = [
            0x95, 0x09, 0xA0, 0x00, 0x10, 0x27, 0x00, 0xB9, 0x00, 0x20, 0x03, 0xFF, 0xFF, 0xFF,
            0x18, 0x15,
        ];
        let mut assembler = RecordAssembler::new();
        assert_eq!(assembler.handle(part(&first)), None);
        let whole = assembler
            .handle(part(&[0x40, 0x00, 0xB8, 0x0B, 0xC8, 0x00]))
            .unwrap();
        assert_eq!(whole.speed_kmh, Some(30.0));
        assert_eq!(whole.power_w, Some(200));
        assert_eq!(whole.cadence_rpm, Some(80.0));
        assert_eq!(whole.distance_m, Some(10_000));
        assert_eq!(whole.elapsed_s, Some(5400));
        assert!(!assembler.discard());
    }

    #[test]
    fn an_unclosed_record_is_discarded_with_the_link() {
        let mut assembler = RecordAssembler::new();
        assert_eq!(assembler.handle(part(&[0x05, 0x00, 0x91, 0x00])), None);
        assert!(assembler.discard());
        let whole = assembler.handle(part(&[0x00, 0x00, 0xB8, 0x0B])).unwrap();
        assert_eq!(whole.cadence_rpm, None);
    }

    #[test]
    fn a_machine_that_never_closes_its_records_is_still_heard() {
        let mut assembler = RecordAssembler::new();
        assert_eq!(assembler.handle(part(&[0x05, 0x00, 0x91, 0x00])), None);
        let unclosed = assembler.handle(part(&[0x05, 0x00, 0x92, 0x00])).unwrap();
        assert_eq!(unclosed.cadence_rpm, Some(72.5));
        assert!(unclosed.more_data());
    }
}
