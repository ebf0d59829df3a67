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
    // A place that nobody gave follows the role; one that somebody gave stays.
    let places = |draft: &Draft| -> Vec<Place> {
        draft
            .view()
            .recordings
            .iter()
            .map(|card| card.place)
            .collect()
    };
    use Place::{Crank, Hub, Pedals};
    assert_eq!(places(&draft), [Crank, Crank, Hub, Crank]);
    draft.obey(&ImportWish::GivePlace {
        recording: 1,
        place: Pedals,
    });
    draft.obey(&ImportWish::GiveRole {
        recording: 1,
        role: UnderTest,
    });
    assert_eq!(places(&draft), [Crank, Pedals, Crank, Crank]);
    draft.obey(&ImportWish::GiveRole {
        recording: 2,
        role: UnderTest,
    });
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
fn what_is_read_again_takes_the_place_of_its_own_recording_only() {
    let text = recording("secs;watts;rpm", 1, 0);
    let mut draft = draft(
        ["a.csv", "b.csv", "c.csv"]
            .map(|file| taken(file, &text))
            .into(),
    );
    let wish = ImportWish::GiveColumn {
        recording: 1,
        column: 3,
        choice: None,
    };
    let (serial, file, said) = draft.to_read_again(&wish).expect("it has to be read again");
    draft.obey(&ImportWish::TakeOut(0));
    draft.replace(serial, file.read_again(said));
    let files = |draft: &Draft| -> Vec<String> {
        draft
            .view()
            .recordings
            .iter()
            .map(|card| card.file.clone())
            .collect()
    };
    assert_eq!(files(&draft), ["b.csv", "c.csv"]);
    assert_eq!(draft.view().recordings[0].columns[3].chosen, None);
    let (serial, file, said) = draft
        .to_read_again(&ImportWish::GiveColumn {
            recording: 0,
            column: 3,
            choice: Some(2),
        })
        .expect("it has to be read again");
    draft.obey(&ImportWish::TakeOut(0));
    draft.replace(serial, file.read_again(said));
    assert_eq!(files(&draft), ["c.csv"]);
}

#[test]
fn an_import_that_is_given_up_stores_nothing() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let out = folder.path().join("never.prony");
    let files = [("a.csv", 60), ("b.csv", 0)];
    let files = files.map(|(file, from)| taken(file, &recording("secs;watts;rpm", 1, from)));
    let draft = draft(files.into());
    let settings = Settings::default();
    let given_up = import_to(draft.originals(), draft.word(), &settings, &out, &|| false);
    let words = format!("{:#}", given_up.expect_err("nobody wants it any more"));
    assert!(words.contains("given up"), "{words}");
    assert!(!out.exists());
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
    let import = |draft: &Draft, out: &str| {
        import_to(
            draft.originals(),
            draft.word(),
            &settings,
            &at(out),
            &|| true,
        )
    };

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
