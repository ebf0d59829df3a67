//! Whole workflows as transcripts: what was done, what the desk wished for, what it then showed.

mod sample;
mod stage;

use bench::model::{Phase, Severity};
use desk::{By, Order, Pace, Place, Request, ShelfWish};
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use stage::{Play, Stage, click, open, place, press, said, shows, usual, wishes};

/// Writes down what happens, one line each.
struct Transcript(Vec<String>);

impl Transcript {
    fn note(&mut self, deed: &str, wished: &[Request], play: &Play) {
        let place = place(play).word();
        self.0.push(format!("{deed} → {wished:?} @ {place}"));
    }
}

/// A window tall enough that no list must be scrolled.
fn tall(stage: Stage) -> Play {
    open(stage, [1920.0, 1200.0])
}

fn ended() -> bench::Model {
    sample::in_phase(Phase::Ended {
        reason: "the script is done".into(),
    })
}

#[test]
fn a_newcomer_reaches_a_verdict_in_four_actions() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        ..Stage::default()
    });
    let mut seen = Transcript(Vec::new());
    play.run();
    let wished = click(&mut play, "Ride on the simulated bench");
    seen.note("click ride", &wished, &play);

    play.state_mut().model = Some(sample::in_phase(Phase::Cautions));
    play.run();
    let wished = click(&mut play, "I have read this");
    seen.note("click read", &wished, &play);

    play.state_mut().model = Some(sample::in_phase(Phase::Ready));
    play.run();
    let wished = click(&mut play, "Start riding");
    seen.note("click start", &wished, &play);

    play.state_mut().model = Some(ended());
    let evidence = sample::findings::evidence(1.035);
    play.state_mut().opened = Some((1, sample::findings::findings(&evidence), evidence));
    play.run();
    let wished = click(&mut play, "See the findings");
    seen.note("click findings", &wished, &play);

    assert_eq!(
        seen.0,
        [
            "click ride → [StartSession { script: \"first-look\", rig: \"honest\", \
             pace: RealTime }] @ Script",
            "click read → [Bench(AcceptCautions)] @ Run",
            "click start → [Bench(Start)] @ Run",
            "click findings → [] @ Findings",
        ]
    );
    assert!(shows(&play, "Shown beyond"));
}

/// A bench on which two steps of the script lie beyond the device: nothing begins before somebody
/// brings them into its limits, by the control or by the key, in both places.
#[test]
fn what_the_device_does_not_offer_is_shown_and_capped_on_request() {
    const CAP: &str = "Bring them into the limits";
    let mut model = sample::in_phase(Phase::Ready);
    let within = model.script.clone();
    let mut beyond = (*within).clone();
    for (index, title, asked, limit) in [(1, "hard", 320, 250), (2, "harder", 400, 250)] {
        beyond.beyond.push(bench::model::BeyondView {
            index,
            words: format!(
                "step {} ({title}) asks for {asked}\u{a0}W, but the limit is {limit}\u{a0}W; cap it \
                 or change the step",
                index + 1
            ),
            to_be_capped: true,
        });
    }
    model.script = beyond.into();
    let mut play = usual(Stage {
        model: Some(model),
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        ..Stage::default()
    });
    let mut seen = Transcript(Vec::new());
    for key in [Key::Num2, Key::Num3] {
        press(&mut play, key);
        play.run();
        assert!(shows(&play, CAP));
        assert!(!said(&play, "step 2 (hard) asks for 320\u{a0}W").is_empty());
        assert!(!shows(&play, "Start riding"));
        for key in [Key::Space, Key::Enter] {
            let wished = press(&mut play, key);
            seen.note(&format!("{key:?}"), &wished, &play);
        }
        let wished = click(&mut play, CAP);
        seen.note("click", &wished, &play);
    }
    if let Some(model) = &mut play.state_mut().model {
        model.script = within;
    }
    play.run();
    assert!(!shows(&play, CAP));
    let wished = press(&mut play, Key::Space);
    seen.note("capped, Space", &wished, &play);
    assert_eq!(
        seen.0,
        [
            "Space → [] @ Script",
            "Enter → [Bench(CapSteps)] @ Script",
            "click → [Bench(CapSteps)] @ Script",
            "Space → [] @ Run",
            "Enter → [Bench(CapSteps)] @ Run",
            "click → [Bench(CapSteps)] @ Run",
            "capped, Space → [Bench(Start)] @ Run",
        ]
    );
}

#[test]
fn a_script_a_bench_and_a_pace_are_chosen() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        ..Stage::default()
    });
    play.run();
    click(&mut play, "Level sweep, up and down");
    click(&mut play, "A trainer with faults to find");
    click(&mut play, "× 60");
    assert_eq!(
        press(&mut play, Key::Enter),
        [Request::StartSession {
            script: "level-sweep".into(),
            rig: "workshop".into(),
            pace: Pace::Times60
        }]
    );
}

#[test]
fn a_script_with_an_error_says_where_and_cannot_be_ridden() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        ..Stage::default()
    });
    play.run();
    click(&mut play, "Own sprints");
    assert!(shows(&play, "line 12, column 9"));
    assert!(play.query_by_label("Ride on the simulated bench").is_none());
    assert_eq!(press(&mut play, Key::Enter), vec![]);
}

#[test]
fn a_flag_leads_to_its_place_and_the_charts_come_back() {
    let mut play = tall(Stage {
        model: Some(sample::riding(1480)),
        ..Stage::default()
    });
    play.run();
    assert!(shows(&play, "follows the present"));
    click(&mut play, "no packets from Trainer 7 for 6 s");
    assert!(!shows(&play, "follows the present"));
    assert_eq!(click(&mut play, "Back to the present"), vec![]);
    assert!(shows(&play, "follows the present"));
    press(&mut play, Key::ArrowLeft);
    assert!(!shows(&play, "follows the present"));
    press(&mut play, Key::End);
    assert!(shows(&play, "follows the present"));
}

#[test]
fn the_figures_are_read_out_beside_the_charts() {
    let mut play = usual(Stage {
        model: Some(sample::riding(1480)),
        ..Stage::default()
    });
    play.run();
    let model = play.state().model.clone().unwrap();
    let device = model.instruments[0].power_w.unwrap().value;
    let reference = model.instruments[1].power_w.unwrap().value;
    for words in [
        format!("Device {device:.0} W"),
        format!("Reference {reference:.0} W"),
        format!("device {device:.0}\u{a0}W"),
        "Left 1:20".to_owned(),
        "200 W at 90 rpm".to_owned(),
        "steady, this counts".to_owned(),
        "now: Hold 200 W".to_owned(),
        "60 s mean +3.4 % ± 1.0 %".to_owned(),
        "loaded, confirmed".to_owned(),
    ] {
        assert!(shows(&play, &words), "{words:?} is not shown");
    }
    assert_eq!(
        model
            .flags
            .iter()
            .filter(|f| f.severity == Severity::DropOut)
            .count(),
        2
    );
}

#[test]
fn findings_lead_to_the_raw_traces() {
    let evidence = sample::findings::evidence(1.035);
    let findings = sample::findings::findings(&evidence);
    let overall = findings.overall.clone();
    let mut play = usual(Stage {
        opened: Some((1, findings, evidence)),
        ..Stage::default()
    });
    play.run();
    assert_eq!(place(&play), Place::Findings);
    assert!(shows(&play, &overall.sentence));
    assert!(shows(&play, "referred to the hub"));
    let cell = play
        .query_all_by_label_contains("200\u{a0}W, 90\u{a0}rpm")
        .next()
        .unwrap();
    cell.click();
    play.run();
    assert!(shows(&play, "Raw traces · 200\u{a0}W"));
    assert!(shows(&play, "was moved by that"));
    click(&mut play, "Close");
    assert!(!shows(&play, "Raw traces"));

    click(&mut play, "Recording");
    click(&mut play, "16:50, missing packets, 9.0, 2.27");
    assert!(shows(&play, "Raw traces · missing packets"));
    press(&mut play, Key::Escape);
    assert!(!shows(&play, "Raw traces"));

    click(&mut play, "Examinations");
    let not_tested = play.state().opened.as_ref().unwrap().1.not_tested.len();
    click(&mut play, &format!("Not tested · {not_tested}"));
    assert!(shows(&play, "What to ride or to bring"));

    play.key_press_modifiers(Modifiers::COMMAND, Key::S);
    play.run();
    assert_eq!(wishes(&mut play), [Request::SaveReport]);
    assert_eq!(click(&mut play, "Save report …"), [Request::SaveReport]);
}

/// Recordings made elsewhere can be placed wrongly; what the bench recorded on its one clock cannot.
#[test]
fn an_imported_recording_is_looked_at_and_moved_by_hand() {
    let evidence = sample::findings::evidence(1.035);
    let findings = sample::findings::findings(&evidence);
    let source = findings.alignment[0].source.clone();
    let mut play = usual(Stage {
        opened: Some((1, findings, evidence)),
        imported: true,
        ..Stage::default()
    });
    play.run();
    click(&mut play, "Recording");
    click(&mut play, &format!("Look at the place of {source}"));
    assert!(shows(&play, "Raw traces · place of"));
    click(&mut play, "Close");
    let moved = click(&mut play, &format!("Move {source} 0.1 seconds earlier"));
    let wish = Request::MoveRecording {
        source: source.clone(),
        later_s: -0.1,
    };
    assert_eq!(moved, [wish]);
    play.state_mut().imported = false;
    play.run();
    assert!(!shows(&play, &format!("Move {source}")));
}

#[test]
fn the_shelf_is_searched_and_opened() {
    let mut play = usual(Stage {
        shelf: sample::shelf(1000),
        ..Stage::default()
    });
    play.run();
    press(&mut play, Key::Num5);
    assert_eq!(click(&mut play, "Open a file …"), [Request::OpenSession]);
    let field = play.get_by_label("Search the shelf");
    field.focus();
    field.type_text("run 500");
    play.run();
    let words = "run 500".to_owned();
    let order = Order::default();
    let shown = Request::Shelf(ShelfWish::Show { words, order });
    assert_eq!(play.state().wishes.last(), Some(&shown));
    // The program around the desk knows what fits.
    play.state_mut().wishes.clear();
    play.state_mut().found = Some(vec![500]);
    play.run();
    // One row and the square that marks it.
    assert_eq!(
        play.query_all_by_label_contains("level sweep, run").count(),
        2
    );
    let row = play.get_by_label_contains("run 500,");
    row.click();
    play.run();
    assert_eq!(
        click(&mut play, "Open"),
        [Request::OpenShelved("session-500".into())]
    );
    let by_firmware = Order {
        by: By::Firmware,
        falling: false,
    };
    let wished = click(&mut play, "Order by firmware");
    let show = |order| {
        let words = "run 500".to_owned();
        Request::Shelf(ShelfWish::Show { words, order })
    };
    assert_eq!(wished, [show(by_firmware)]);
    let other_way = Order {
        falling: true,
        ..by_firmware
    };
    let named = "Order by firmware, the first on top";
    assert_eq!(click(&mut play, named), [show(other_way)]);
}

#[test]
fn a_failure_is_said_and_can_be_closed() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        failure: Some("the file is not a session: it begins with other bytes".into()),
        ..Stage::default()
    });
    play.run();
    assert!(shows(&play, "it begins with other bytes"));
    assert_eq!(click(&mut play, "Close"), [Request::DismissFailure]);
}

#[test]
fn long_work_can_be_cancelled() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        busy: Some("Computing the findings".into()),
        ..Stage::default()
    });
    play.run();
    assert!(shows(&play, "Computing the findings · 50"));
    assert_eq!(
        press(&mut play, Key::Enter),
        vec![],
        "nothing starts while work is going on"
    );
    assert_eq!(click(&mut play, "Cancel"), [Request::CancelWork]);
}

#[test]
fn after_a_ride_the_next_one_is_one_step_away() {
    let mut play = usual(Stage {
        model: Some(ended()),
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        shelf: sample::shelf(3),
        ..Stage::default()
    });
    play.run();
    press(&mut play, Key::Num2);
    assert!(play.query_by_label("Ride on the simulated bench").is_none());
    assert_eq!(
        click(&mut play, "Let the bench go"),
        [Request::CloseSession]
    );
    play.state_mut().model = None;
    play.run();
    assert!(play.query_by_label("Ride on the simulated bench").is_some());
}

#[test]
fn an_opened_session_is_shown_unless_somebody_rides() {
    let evidence = sample::findings::evidence(1.0);
    let findings = sample::findings::findings(&evidence);
    for (model, expected) in [
        (None, Place::Findings),
        (Some(ended()), Place::Findings),
        (Some(sample::riding(600)), Place::Shelf),
    ] {
        let mut play = usual(Stage {
            model,
            shelf: sample::shelf(3),
            ..Stage::default()
        });
        play.run();
        press(&mut play, Key::Num5);
        play.state_mut().opened = Some((7, findings.clone(), evidence.clone()));
        play.run();
        assert_eq!(place(&play), expected);
    }
}

#[test]
fn a_control_reached_by_the_tabulator_is_worked_by_the_keyboard() {
    let mut play = usual(Stage {
        scripts: sample::scripts(),
        rigs: sample::rigs(),
        ..Stage::default()
    });
    play.run();
    play.get_by_label("Warm-up hour").focus();
    play.run();
    play.key_press(Key::Space);
    play.run();
    let state = |play: &Play, name: &str| {
        use egui::accesskit::Role;
        use egui_kittest::kittest::NodeT;
        play.get_by_role_and_label(Role::RadioButton, name)
            .accesskit_node()
            .toggled()
    };
    assert_eq!(
        state(&play, "Warm-up hour"),
        Some(egui::accesskit::Toggled::True)
    );
    assert_eq!(
        state(&play, "First look"),
        Some(egui::accesskit::Toggled::False)
    );
}

#[test]
fn a_static_check_is_copied_for_a_claim_sheet() {
    let mut play = tall(Stage::default());
    stage::weights_hung(&mut play);
    assert!(shows(&play, "Slope, shown over applied"));
    play.get_by_label("Copy the check").click_accesskit();
    play.step();
    let commands = &play.output().platform_output.commands;
    let copied = commands.iter().find_map(|command| match command {
        egui::OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    let copied = copied.expect("it was copied");
    let sheet = format!("(claims: [], static_checks: [{copied}])");
    let read = analysis::claim::read_sheet(&sheet).expect("a claim sheet");
    let found = read.static_checks[0].findings().expect("it is enough");
    assert!((found.result.slope.value - 1.006).abs() < 0.002);
    assert_eq!(
        read.static_checks[0].source,
        "class M1, left stand, the keeper"
    );
}
