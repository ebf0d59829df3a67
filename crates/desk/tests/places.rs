//! Bench, Script, Shelf, settings and replay: what is shown, what is wished for by click and key.

mod sample;

use bench::model::{InstrumentRole, Phase};
use desk::{
    AuditLine, AuditView, CompareView, ComparedRow, ComparedSession, Desk, DeviceCard, DraftCheck,
    DraftProblem, ImportView, ImportWish, Inputs, Interrupted, Laid, LinkWord, Motion, Place,
    Preferences, RadioView, RadioWish, Remembered, ReplayView, ReplayWish, Request, RigCard,
    ScriptCard, ScriptWish, Searching, SheetCard, ShelfRow, ShelfWish, SpeedUnit,
};
use egui::{Key, Modifiers};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable;
use units::{Span, Timestamp};

/// Everything these tests show, and what came of it.
#[derive(Default)]
struct Shown {
    desk: Option<Desk>,
    model: Option<bench::Model>,
    scripts: Vec<ScriptCard>,
    rigs: Vec<RigCard>,
    shelf: Vec<ShelfRow>,
    interrupted: Vec<Interrupted>,
    importing: Option<ImportView>,
    compared: Option<CompareView>,
    replays: bool,
    devices: Vec<DeviceCard>,
    searching: Searching,
    audit: Option<AuditView>,
    draft: Option<DraftCheck>,
    sheets: Vec<SheetCard>,
    preferences: Preferences,
    wishes: Vec<Request>,
}

impl Shown {
    fn draw(&mut self, ui: &mut egui::Ui) {
        let desk = self
            .desk
            .get_or_insert_with(|| Desk::new(ui.ctx(), Remembered::default()));
        let inputs = Inputs {
            model: self.model.as_ref(),
            scripts: &self.scripts,
            rigs: &self.rigs,
            shelf: &self.shelf,
            interrupted: &self.interrupted,
            importing: self.importing.as_ref(),
            compared: self.compared.as_ref(),
            replay: self.replays.then_some(ReplayView {
                label: "Trainer 7, run 4",
                at: Timestamp::from_secs(90),
                length: Span::from_secs(600),
                pace: 1,
                motion: Motion::Playing,
            }),
            devices: RadioView {
                searching: self.searching,
                cards: &self.devices,
                bench: "",
            },
            audit: self.audit.as_ref(),
            draft: self.draft.as_ref(),
            sheets: &self.sheets,
            preferences: self.preferences,
            data_folder: "data",
            version: "0.1.0",
            licences: "Prony: MIT or Apache-2.0",
            ..Inputs::default()
        };
        desk.ui(ui, &inputs, &mut self.wishes);
    }
}

type Play = Harness<'static, Shown>;

fn open(shown: Shown, place: Place) -> Play {
    let mut play = Harness::builder()
        .with_size([1600.0, 1000.0])
        .with_context_setup(desk::theme::install)
        .build_ui_state(|ui, shown: &mut Shown| shown.draw(ui), shown);
    play.run();
    if let Some(desk) = &mut play.state_mut().desk {
        desk.go(place);
    }
    play.run();
    play
}

fn wishes(play: &mut Play) -> Vec<Request> {
    std::mem::take(&mut play.state_mut().wishes)
}

fn click(play: &mut Play, name: &str) -> Vec<Request> {
    play.get_by_label(name).click();
    play.run();
    wishes(play)
}

fn press(play: &mut Play, key: Key) -> Vec<Request> {
    play.key_press(key);
    play.run();
    wishes(play)
}

fn shows(play: &Play, words: &str) -> bool {
    play.query_all_by_label_contains(words).next().is_some()
}

fn row(key: &str, started_s: i64) -> ShelfRow {
    ShelfRow {
        key: key.to_owned(),
        title: format!("Trainer {key}"),
        started: format!("2026-03-0{started_s} 18:00"),
        started_s,
        length: "34:00".to_owned(),
        ..ShelfRow::default()
    }
}

#[test]
fn sessions_are_marked_and_put_side_by_side_by_keys() {
    let shelf = vec![row("new", 3), row("between", 2), row("old", 1)];
    let mut play = open(
        Shown {
            shelf,
            ..Shown::default()
        },
        Place::Shelf,
    );
    press(&mut play, Key::ArrowDown);
    press(&mut play, Key::M);
    assert!(shows(&play, "mark one more"));
    press(&mut play, Key::ArrowDown);
    press(&mut play, Key::M);
    let wished = press(&mut play, Key::Enter);
    let oldest_first = ["between", "new"].map(str::to_owned).to_vec();
    assert_eq!(wished, [Request::Shelf(ShelfWish::Compare(oldest_first))]);

    play.state_mut().compared = Some(CompareView {
        sessions: vec![
            ComparedSession {
                title: "1 · Trainer".to_owned(),
                ..ComparedSession::default()
            };
            2
        ],
        kind: "Repeats of one unit".to_owned(),
        kinds: vec!["repeats".to_owned(), "several units".to_owned()],
        asked: Some(0),
        rows: vec![ComparedRow {
            condition: "200 W".to_owned(),
            error: "+1.20 ± 1.10".to_owned(),
            change: "+0.20".to_owned(),
            independent: "−1.00 to +1.40".to_owned(),
            shown: "no".to_owned(),
            ..ComparedRow::default()
        }],
        by_step: Laid::Refused("Session 2 rode another script.".to_owned()),
        sentences: vec!["The uncertainties do not allow an order: 1, 2.".to_owned()],
        ..CompareView::default()
    });
    play.run();
    assert!(shows(&play, "do not allow an order"));
    assert!(shows(&play, "+0.20, −1.00 to +1.40"));
    assert!(shows(&play, "Repeats of one unit"));
    assert!(shows(&play, "rode another script"));
    // Somebody who knows better says what they are to each other, or leaves it to them again.
    let wished = click(&mut play, "several units");
    assert_eq!(wished, [Request::Shelf(ShelfWish::CompareAs(Some(1)))]);
    let wished = click(&mut play, "as they tell");
    assert_eq!(wished, [Request::Shelf(ShelfWish::CompareAs(None))]);
    // The report is saved by the keys of the findings' own.
    play.key_press_modifiers(Modifiers::COMMAND, Key::S);
    play.run();
    let wished = wishes(&mut play);
    assert_eq!(wished, [Request::Shelf(ShelfWish::SaveComparison)]);
    let wished = press(&mut play, Key::K);
    assert_eq!(wished, [Request::Shelf(ShelfWish::KeepComparison)]);
    assert_eq!(
        press(&mut play, Key::Escape),
        [Request::Shelf(ShelfWish::CloseCompare)]
    );
}

#[test]
fn recordings_are_given_roles_and_columns_and_brought_in() {
    let mut play = open(Shown::default(), Place::Script);
    play.state_mut().importing = Some(sample::recordings::not_ready());
    play.run();
    // What was dropped onto the window leads to the place where it is made ready.
    let place = play.state().desk.as_ref().map(Desk::place);
    assert_eq!(place, Some(Place::Shelf));
    assert!(shows(&play, "cannot be read"));
    assert_eq!(press(&mut play, Key::Enter), [], "it is not ready");
    let file = sample::recordings::not_ready().recordings[1].file.clone();
    click(
        &mut play,
        &format!("power of recording 2, {file}: not there"),
    );
    let wished = click(&mut play, "Leistung [W]");
    let power = ImportWish::GiveColumn {
        recording: 1,
        column: 2,
        choice: Some(1),
    };
    assert_eq!(wished, [Request::Import(power)]);

    play.state_mut().importing = Some(sample::recordings::ready());
    play.run();
    let wished = click(&mut play, "reference: recording 2, pedals-a.csv");
    assert_eq!(wished, [], "it has that role already");
    let wished = click(&mut play, "device under test: recording 2, pedals-a.csv");
    let role = ImportWish::GiveRole {
        recording: 1,
        role: InstrumentRole::UnderTest,
    };
    assert_eq!(wished, [Request::Import(role)]);
    let wished = click(&mut play, "on my word");
    assert_eq!(wished, [Request::Import(ImportWish::SameRide(true))]);
    let wished = click(&mut play, "Take it out: recording 2, pedals-a.csv");
    assert_eq!(wished, [Request::Import(ImportWish::TakeOut(1))]);
    let wished = press(&mut play, Key::Enter);
    assert_eq!(wished, [Request::Import(ImportWish::BringIn)]);
    // A list that stands open is closed first, and then the import is laid aside, not lost.
    click(
        &mut play,
        "power of recording 2, pedals-a.csv: Leistung [W]",
    );
    assert_eq!(press(&mut play, Key::Escape), []);
    assert!(shows(&play, "Place them on one clock"));
    assert_eq!(press(&mut play, Key::Escape), []);
    assert!(!shows(&play, "Place them on one clock"));
    assert!(shows(&play, "An import is not finished"));
    assert_eq!(click(&mut play, "Go on with it"), []);
    assert!(shows(&play, "Place them on one clock"));
    click(&mut play, "Back to the shelf");
    let wished = click(&mut play, "Give it up");
    assert_eq!(wished, [Request::Import(ImportWish::Close)]);
}

#[test]
fn while_somebody_rides_enter_on_the_import_page_is_not_for_the_ride() {
    let paused = Phase::Paused {
        reason: "you asked for it".to_owned(),
    };
    let mut play = open(
        Shown {
            model: Some(sample::in_phase(paused)),
            importing: Some(sample::recordings::ready()),
            ..Shown::default()
        },
        Place::Shelf,
    );
    let wished = press(&mut play, Key::Enter);
    assert_eq!(wished, [Request::Import(ImportWish::BringIn)]);
    // Escape is the brake's before it is anything else's.
    let wished = press(&mut play, Key::Escape);
    assert_eq!(wished, [Request::Bench(bench::Command::Release)]);
}

#[test]
fn a_session_is_tagged_opened_and_played_again() {
    let mut play = open(
        Shown {
            shelf: vec![row("a", 1)],
            ..Shown::default()
        },
        Place::Shelf,
    );
    press(&mut play, Key::ArrowDown);
    let field = play.get_by_label("Tags");
    field.focus();
    field.type_text("cold room, firmware 3");
    play.run();
    let wished = click(&mut play, "Keep tags and note");
    assert_eq!(
        wished,
        [Request::Shelf(ShelfWish::Note {
            key: "a".to_owned(),
            tags: vec!["cold room".to_owned(), "firmware 3".to_owned()],
            note: String::new(),
        })]
    );
    assert_eq!(
        click(&mut play, "Play again"),
        [Request::Shelf(ShelfWish::Replay("a".to_owned()))]
    );
    assert_eq!(
        click(&mut play, "Open"),
        [Request::OpenShelved("a".to_owned())]
    );
}

#[test]
fn an_interrupted_session_is_offered_for_recovery() {
    let mut play = open(
        Shown {
            interrupted: vec![Interrupted {
                key: "a".to_owned(),
                title: "Trainer 7, torn off".to_owned(),
            }],
            ..Shown::default()
        },
        Place::Shelf,
    );
    assert!(shows(&play, "Trainer 7, torn off"));
    assert_eq!(
        click(&mut play, "Recover"),
        [Request::Shelf(ShelfWish::Recover(vec!["a".to_owned()]))]
    );
    assert_eq!(
        click(&mut play, "Leave as it is"),
        [Request::Shelf(ShelfWish::LeaveInterrupted)]
    );
}

#[test]
fn a_replay_says_what_it_is_and_commands_nothing() {
    let mut play = open(
        Shown {
            model: Some(sample::riding(90)),
            replays: true,
            ..Shown::default()
        },
        Place::Run,
    );
    assert!(shows(&play, "Nothing is connected, nothing is recorded"));
    assert!(play.query_by_label("Release brake").is_none());
    let wish = |wish| vec![Request::Replay(wish)];
    assert_eq!(press(&mut play, Key::Space), wish(ReplayWish::Pause));
    for key in [Key::S, Key::R, Key::E, Key::M, Key::Escape, Key::Enter] {
        assert_eq!(press(&mut play, key), [], "{key:?}");
    }
    let later = Timestamp::from_secs(150);
    assert_eq!(
        press(&mut play, Key::PageDown),
        wish(ReplayWish::Seek(later))
    );
    assert_eq!(click(&mut play, "×\u{a0}60"), wish(ReplayWish::Pace(60)));
    assert_eq!(press(&mut play, Key::X), wish(ReplayWish::Close));
}

fn device(id: &str, name: &str, role: Option<InstrumentRole>) -> DeviceCard {
    DeviceCard {
        id: id.to_owned(),
        name: name.to_owned(),
        services: vec!["cycling power".to_owned()],
        signal_dbm: Some(-61),
        age_s: Some(0),
        role,
        link: LinkWord::Live,
        identity: "Ferrule 12 firmware 1.4".to_owned(),
        battery_pct: Some(12),
        power_w: Some(203.0),
        warnings: vec!["Its battery is at 12 %: change it before a long script.".to_owned()],
        offers_zero: true,
        ..DeviceCard::default()
    }
}

#[test]
fn roles_are_given_by_key_and_a_bench_is_remembered() {
    let mut play = open(
        Shown {
            devices: vec![device("a", "Trainer 7", None), device("b", "Crank", None)],
            searching: Searching::Yes,
            ..Shown::default()
        },
        Place::Bench,
    );
    assert!(shows(&play, "A bench needs one device under test"));
    let row = play.get_by_label_contains("Trainer 7, cycling power, −61");
    row.click();
    play.run();
    assert!(shows(&play, "Ferrule 12 firmware 1.4"));
    assert!(shows(&play, "battery is at 12 %"));
    play.key_press_modifiers(Modifiers::COMMAND, Key::Num1);
    play.run();
    let given = Request::Radio(RadioWish::GiveRole {
        device: "a".to_owned(),
        role: Some(InstrumentRole::UnderTest),
    });
    assert_eq!(wishes(&mut play), [given]);
    assert_eq!(
        click(&mut play, "Set its zero"),
        [Request::Radio(RadioWish::ZeroOffset("a".to_owned()))]
    );

    play.state_mut().devices = vec![
        device("a", "Trainer 7", Some(InstrumentRole::UnderTest)),
        device("b", "Crank", Some(InstrumentRole::PrimaryReference)),
    ];
    play.run();
    let field = play.get_by_label("Name of the bench");
    field.focus();
    field.type_text("left stand");
    play.run();
    assert_eq!(
        click(&mut play, "Remember this bench"),
        [Request::Radio(RadioWish::KeepBench(
            "left stand".to_owned()
        ))]
    );
}

#[test]
fn an_audit_lists_what_was_broken_with_its_clause() {
    let mut play = open(
        Shown {
            audit: Some(AuditView {
                device: "Trainer 7".to_owned(),
                rules: vec![AuditLine {
                    title: "answers a request for control".to_owned(),
                    clause: "4.16.2.1".to_owned(),
                    outcome: "broken".to_owned(),
                    words: "no answer within 30 s".to_owned(),
                    is_broken: true,
                }],
                sentence: "0 rules kept, 1 broken, 0 not observable.".to_owned(),
                ..AuditView::default()
            }),
            ..Shown::default()
        },
        Place::Bench,
    );
    assert!(shows(&play, "no answer within 30 s (4.16.2.1)"));
    assert_eq!(
        click(&mut play, "Back to the instruments"),
        [Request::Radio(RadioWish::CloseAudit)]
    );
}

const TEXT: &str = "Script(\n    title: \"Own\",\n    steps: [\n        Hold(power_w: 150, seconds: \
                    60),\n    ],\n)\n";

fn own_script() -> ScriptCard {
    let mut card = sample::scripts().remove(0);
    card.text = TEXT.into();
    card.is_own = true;
    card
}

#[test]
fn a_script_is_changed_by_its_form_checked_kept_and_taken_back() {
    let mut play = open(
        Shown {
            scripts: vec![own_script()],
            rigs: sample::rigs(),
            ..Shown::default()
        },
        Place::Script,
    );
    click(&mut play, "Edit");
    let added = click(&mut play, "CoolDown");
    let checked = |wished: &[Request]| {
        wished.iter().rev().find_map(|wish| match wish {
            Request::Script(ScriptWish::Check { serial, text }) => Some((*serial, text.clone())),
            _ => None,
        })
    };
    play.run();
    let more = wishes(&mut play);
    let (serial, text) = checked(&more)
        .or(checked(&added))
        .expect("the text is checked");
    assert!(text.contains("CoolDown(seconds: 300),\n    ],"), "{text}");

    play.state_mut().draft = Some(DraftCheck {
        serial,
        card: None,
        problems: vec![DraftProblem {
            line: 4,
            column: 14,
            words: "a target is at most 400 W".to_owned(),
        }],
    });
    play.run();
    assert!(shows(&play, "line 4, column 14: a target is at most 400 W"));

    let kept = click(&mut play, "Keep this script");
    assert!(
        kept.iter().any(|wish| matches!(
            wish,
            Request::Script(ScriptWish::Save { text, .. }) if text.contains("CoolDown")
        )),
        "{kept:?}"
    );
    click(&mut play, "Take back");
    play.run();
    let (_, text) = checked(&wishes(&mut play)).expect("the text before is checked");
    assert_eq!(text, TEXT);
}

#[test]
fn claims_are_told_in_words_and_a_sheet_is_chosen() {
    let text = "(claims: [PowerAccuracy((name: \"power\", tolerance: PercentOfReading(1)))])";
    let sheet = |name: &str, is_chosen| SheetCard {
        name: name.to_owned(),
        text: text.into(),
        is_chosen,
    };
    let mut play = open(
        Shown {
            scripts: sample::scripts(),
            sheets: vec![sheet("", true), sheet("trainer-7", false)],
            ..Shown::default()
        },
        Place::Script,
    );
    click(&mut play, "Claim sheet");
    assert!(shows(&play, "power: ±1 %"));
    assert_eq!(
        click(&mut play, "trainer-7"),
        [Request::Script(ScriptWish::ChooseSheet(Some(
            "trainer-7".to_owned()
        )))]
    );
}

#[test]
fn settings_take_effect_at_once_and_the_about_page_names_licences() {
    let mut play = open(Shown::default(), Place::Shelf);
    play.key_press_modifiers(Modifiers::COMMAND, Key::Comma);
    // A sheet finds its size in one frame and its place in the next.
    play.run_steps(4);
    let mph = Preferences {
        speed: SpeedUnit::Mph,
        ..Preferences::default()
    };
    assert_eq!(click(&mut play, "mph"), [Request::Prefer(mph)]);
    assert_eq!(
        click(&mut play, "140\u{a0}%"),
        [Request::RememberTextSize(140)]
    );
    click(&mut play, "100\u{a0}%");
    click(&mut play, "About Prony …");
    play.run_steps(4);
    assert!(shows(&play, "Prony: MIT or Apache-2.0"));
    assert!(shows(&play, "no medical device"));
    click(&mut play, "Close");
    assert!(!shows(&play, "Prony: MIT or Apache-2.0"));
}

#[test]
fn scripts_and_pace_are_chosen_by_arrows() {
    let mut play = open(
        Shown {
            scripts: sample::scripts(),
            rigs: sample::rigs(),
            ..Shown::default()
        },
        Place::Script,
    );
    press(&mut play, Key::ArrowDown);
    press(&mut play, Key::ArrowRight);
    press(&mut play, Key::ArrowRight);
    let wished = press(&mut play, Key::Enter);
    assert_eq!(
        wished,
        [Request::StartSession {
            script: "level-sweep".to_owned(),
            rig: "honest".to_owned(),
            pace: desk::Pace::Times60,
        }]
    );
}
