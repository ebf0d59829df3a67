//! What a tester states, and dates in it that cannot be.

use super::photo::Photo;
use chrono::NaiveDate;

/// What the tester states. Everything that is `None` or empty is printed as not stated.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imprint {
    /// The tester's own number of the report; printed beside the computed one on every page.
    pub number: Option<String>,
    /// Who tested, and where to reach them.
    pub tester: Tester,
    /// Where it was tested.
    pub place: Option<String>,
    /// For whom, with how to reach them.
    pub customer: Option<String>,
    /// The unit that was tested.
    pub item: Item,
    /// Bicycle, crank length, gears, chain, tyre, where the session does not say it.
    pub bicycle: Option<String>,
    /// Room, temperature, fan, mounting, radio adapter, where the session does not say it.
    pub surroundings: Option<String>,
    /// What was done otherwise than the method says.
    pub deviations: Vec<String>,
    /// Photographs of bench and unit.
    pub photos: Vec<Photo>,
    /// When the report was issued.
    pub issued: Option<NaiveDate>,
    /// Who answers for the report, and in which function.
    pub authorised_by: Option<String>,
    /// Results that others provided.
    pub external: Option<String>,
    /// Who supplied the unit, who paid, and whatever else could sway a tester.
    pub interests: Option<String>,
    /// The report that this one replaces, and what changed why.
    pub amends: Option<String>,
}

/// Who tested.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tester {
    /// Name of the person or workshop.
    pub name: Option<String>,
    /// Address.
    pub address: Option<String>,
    /// How to ask a question.
    pub contact: Option<String>,
}

/// The unit that was tested, as the tester read it from its plate, box and papers.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Item {
    /// Maker.
    pub maker: Option<String>,
    /// Model.
    pub model: Option<String>,
    /// Serial number.
    pub serial: Option<String>,
    /// Firmware.
    pub firmware: Option<String>,
    /// New, used, repaired; hours of use; what can be seen.
    pub condition: Option<String>,
    /// How it was set during the test.
    pub settings: Option<String>,
    /// How this one unit was chosen and obtained.
    pub obtained: Option<String>,
    /// When it was received.
    pub received: Option<NaiveDate>,
}

impl Item {
    /// What identifies the unit, with its names.
    pub(crate) fn identity(&self) -> [(&'static str, Option<&str>); 4] {
        [
            ("maker", self.maker.as_deref()),
            ("model", self.model.as_deref()),
            ("serial", self.serial.as_deref()),
            ("firmware", self.firmware.as_deref()),
        ]
    }
}

impl Imprint {
    /// Dates that cannot be, in words: a unit received after it was tested, a report issued before.
    /// `tested` is the day on which the recording began.
    pub fn doubts(&self, tested: Option<NaiveDate>) -> Vec<String> {
        let pairs = [
            ("received", self.item.received, "tested", tested),
            ("tested", tested, "issued", self.issued),
            ("received", self.item.received, "issued", self.issued),
        ];
        pairs
            .into_iter()
            .filter_map(|(first, before, second, after)| {
                let (before, after) = (before?, after?);
                (before > after)
                    .then(|| format!("{first} on {before}, but {second} on {after} already"))
            })
            .collect()
    }
}
