//! Recordings made elsewhere that are about to become a session.

use analysis::evidence::Place;
use bench::model::InstrumentRole;

/// What is to be brought in, as it stands.
#[derive(Clone, Debug, Default)]
pub struct ImportView {
    /// Changes with every import that is begun.
    pub id: u64,
    /// The recordings.
    pub recordings: Vec<RecordingCard>,
    /// Whether somebody gives their word that the recordings are of one ride.
    pub same_ride: bool,
    /// Whether somebody gives their word that a recorder's calendar is wrong.
    pub clocks_may_be_wrong: bool,
}

/// One recording.
#[derive(Clone, Debug)]
pub struct RecordingCard {
    /// Name of the file.
    pub file: String,
    /// What was read, or why nothing was, in words.
    pub read: Result<String, String>,
    /// What is imperfect about it, in words.
    pub remarks: Vec<String>,
    /// What its instrument is for.
    pub role: InstrumentRole,
    /// Where its instrument measures.
    pub place: Place,
    /// How a text in columns is read; empty for formats that say it themselves.
    pub columns: Vec<ColumnChoice>,
}

/// One thing to be said about a text in columns.
#[derive(Clone, Debug)]
pub struct ColumnChoice {
    /// What: "power", "decimal sign".
    pub title: String,
    /// What can be said.
    pub choices: Vec<String>,
    /// What was guessed or said.
    pub chosen: Option<usize>,
    /// How it is said that the text does not have it, where that can be said.
    pub none: Option<String>,
}

impl ImportView {
    /// What is missing before the recordings can be placed on one clock, in words.
    pub fn missing(&self) -> Option<&'static str> {
        let has = |role| self.recordings.iter().any(|card| card.role == role);
        if self.recordings.iter().any(|card| card.read.is_err()) {
            Some("One recording cannot be read: say how its columns are meant, or take it out.")
        } else if self.recordings.len() < 2 {
            Some("Add the recording of another instrument of the same ride.")
        } else if !has(InstrumentRole::UnderTest) {
            Some("No recording has the role of the device under test.")
        } else if !has(InstrumentRole::PrimaryReference) {
            Some("No recording has the role of the reference.")
        } else {
            None
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn card(role: InstrumentRole) -> RecordingCard {
        RecordingCard {
            file: "a.fit".to_owned(),
            read: Ok("FIT".to_owned()),
            remarks: Vec::new(),
            role,
            place: Place::Unknown,
            columns: Vec::new(),
        }
    }

    #[test]
    fn what_is_missing_is_named_until_nothing_is() {
        let mut view = ImportView::default();
        let missing = |view: &ImportView| view.missing().unwrap_or_default().to_owned();
        view.recordings.push(card(InstrumentRole::UnderTest));
        assert!(missing(&view).contains("another instrument"));
        view.recordings.push(card(InstrumentRole::Witness));
        assert!(missing(&view).contains("role of the reference"));
        view.recordings[1].role = InstrumentRole::PrimaryReference;
        assert_eq!(view.missing(), None);
        view.recordings[0].role = InstrumentRole::SecondReference;
        assert!(missing(&view).contains("device under test"));
        view.recordings[0].read = Err("no column looks like power".to_owned());
        assert!(missing(&view).contains("cannot be read"));
    }
}
