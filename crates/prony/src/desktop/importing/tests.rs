//! From files on a disk by way of what is said of them to a session, or to a refusal.

use super::sample::recording;
use super::*;
use session::import::Kind;

fn taken(file: &str, text: &str) -> Taken {
    Taken::read(file.to_owned(), text.as_bytes().into(), Columns::default())
}

fn draft(recordings: Vec<Taken>) -> Draft {
    let mut draft = Draft::new(1);
    draft.add(recordings);
    draft
}

#[test]
fn recordings_are_known_by_their_names() {
    for name in ["a.fit", "a.FIT", "b.tcx", "c.b.csv"] {
        assert!(is_recording(Path::new(name)), "{name}");
    }
    for name in ["a.prony", "script.ron", "fit", "a.fit.gz"] {
        assert!(!is_recording(Path::new(name)), "{name}");
    }
}

#[test]
fn roles_are_given_in_order_and_exchanged() {
    let text = recording("secs;watts;rpm", 1, 0);
    let files = ["a.csv", "b.csv", "c.csv", "d.csv"];
    let mut draft = draft(files.map(|file| taken(file, &text)).into());
    let roles = |draft: &Draft| -> Vec<InstrumentRole> {
        draft
            .view()
            .recordings
            .iter()
            .map(|card| card.role)
            .collect()
    };
    use InstrumentRole::{PrimaryReference, SecondReference, UnderTest, Witness};
    assert_eq!(
        roles(&draft),
        [UnderTest, PrimaryReference, SecondReference, Witness]
    );
    draft.obey(&ImportWish::GiveRole {
        recording: 2,
        role: UnderTest,
    });
    assert_eq!(
        roles(&draft),
        [SecondReference, PrimaryReference, UnderTest, Witness]
    );
    // The device is brought in first and the reference second, whatever the order of the files.
    let order: Vec<String> = draft.originals().into_iter().map(|one| one.file).collect();
    assert_eq!(order, ["c.csv", "b.csv", "a.csv", "d.csv"]);
    draft.obey(&ImportWish::TakeOut(2));
    assert!(
        draft
            .view()
            .missing()
            .is_some_and(|words| words.contains("device under test"))
    );
}

#[test]
fn a_guess_is_shown_and_can_be_put_right() {
    let text = recording("secs;effort;rpm", 1, 0);
    let mut draft = draft(vec![taken("a.csv", &text)]);
    let card = &draft.view().recordings[0];
    let words = card.read.as_ref().expect_err("no column says power");
    assert!(words.contains("effort"), "{words}");
    let power = card
        .columns
        .iter()
        .position(|choice| choice.title == "power")
        .expect("a list");
    assert_eq!(card.columns[power].choices, ["secs", "effort", "rpm"]);

    let wish = ImportWish::GiveColumn {
        recording: 0,
        column: power,
        choice: Some(1),
    };
    let (recording, file, said) = draft.to_read_again(&wish).expect("it has to be read again");
    draft.replace(recording, file.read_again(said));
    let card = &draft.view().recordings[0];
    let words = card.read.as_ref().expect("now it reads");
    assert!(words.contains("1200 records"), "{words}");
    assert_eq!(card.columns[power].chosen, Some(1));
    let title = |title: &str| card.columns.iter().find(|choice| choice.title == title);
    assert_eq!(title("cadence").and_then(|choice| choice.chosen), Some(2));
    assert_eq!(
        title("decimal sign").and_then(|choice| choice.chosen),
        Some(0)
    );
}

#[test]
fn another_delimiter_makes_other_columns() {
    let mut draft = draft(vec![taken("a.csv", &recording("secs;watts;rpm", 1, 0))]);
    let at = Kind::ALL.len() + 1;
    let comma = ImportWish::GiveColumn {
        recording: 0,
        column: at,
        choice: Some(0),
    };
    let (recording, file, said) = draft
        .to_read_again(&comma)
        .expect("it has to be read again");
    draft.replace(recording, file.read_again(said));
    let card = &draft.view().recordings[0];
    assert!(card.read.is_err());
    assert_eq!(
        card.columns[0].choices.len(),
        1,
        "{:?}",
        card.columns[0].choices
    );
}

#[test]
fn formats_that_say_what_they_hold_have_no_lists() {
    let draft = draft(vec![taken("a.tcx", "<TrainingCenterDatabase/>")]);
    let card = &draft.view().recordings[0];
    assert!(card.columns.is_empty());
    assert!(card.read.is_err(), "there is nothing in it");
}

#[test]
fn what_was_placed_is_said_and_a_refusal_leaves_no_session() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let at = |name: &str| folder.path().join(name);
    let settings = Settings::default();
    let device = || taken("device.csv", &recording("secs;watts;rpm", 1, 60));
    let reference = taken("reference.csv", &recording("secs;watts;rpm", 1, 0));
    let other = taken("other.csv", &recording("secs;watts;rpm", 2, 0));
    let import =
        |draft: &Draft, out: &str| import_to(draft.originals(), draft.word(), &settings, &at(out));

    let words = import(&draft(vec![device(), reference]), "ride.prony").expect("it is one ride");
    for part in ["power=watts", "device.csv", "placed"] {
        assert!(words.contains(part), "{part}: {words}");
    }
    assert!(at("ride.prony").exists());

    let mut apart = draft(vec![device(), other]);
    let refused = import(&apart, "never.prony").expect_err("it is another ride");
    let words = format!("{refused:#}");
    assert!(
        words.contains("device.csv") && words.contains(';'),
        "{words}"
    );
    assert!(!at("never.prony").exists());

    // A word that is given is kept with the session.
    apart.obey(&ImportWish::SameRide(true));
    assert!(apart.view().same_ride && apart.word().same_ride);
    import(&apart, "given.prony").expect("somebody vouches for it");
    let archive = session::Archive::open(&at("given.prony")).expect("it opens");
    let events = archive
        .events_of(&[crate::importing::IMPORTED])
        .expect("it has events");
    assert!(GivenWord::of_event(&events[0].body).same_ride);
}
