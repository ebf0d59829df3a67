//! What is set on an instrument before a session is kept with the session.

use super::*;
use analysis::before::CalibrationRecord;
use rig::Instruction;
use standin::{RigModel, StandIn, alone};
use std::path::PathBuf;
use units::Timestamp;

const TEST: &str = "a_zero_set_at_the_bench_is_sealed_in_the_session_that_follows";

/// The label of the row of a device that offers a service.
fn row_with(window: &Window, service: &str) -> String {
    let mut rows = window.query_all_by_label_contains(service);
    let row = rows.find_map(|row| row.accesskit_node().label());
    row.expect("it is shown")
}

fn give_role(window: &mut Window, service: &str, key: Key) {
    until(window, service);
    let row = row_with(window, service);
    click(window, &row);
    window.key_press_modifiers(egui::Modifiers::COMMAND, key);
    window.step();
}

/// The only session that was recorded.
fn session_in(home: &Path) -> PathBuf {
    let folder = std::fs::read_dir(home.join("data/prony/sessions")).expect("there is a shelf");
    let mut sessions = folder
        .map(|file| file.expect("the shelf reads").path())
        .filter(|path| path.extension().is_some_and(|ending| ending == "prony"));
    let session = sessions.next().expect("one was recorded");
    assert_eq!(sessions.next(), None);
    session
}

#[test]
fn a_zero_set_at_the_bench_is_sealed_in_the_session_that_follows() {
    at_home(module_path!(), TEST, |home| {
        alone(TEST, |folder| {
            let plan = rig::built_in("honest").expect("a built-in rig");
            // Nobody turns the cranks while a zero is set.
            let still = vec![(Timestamp::ZERO, Instruction::StopPedalling)];
            let model = RigModel::new(plan, 1, 1).with_instructions(still);
            let _bus = StandIn::start(folder, Box::new(model), Vec::new()).expect("a private bus");
            let mut window = window();
            press(&mut window, Key::Num1);
            press(&mut window, Key::Enter);
            give_role(&mut window, "fitness machine", Key::Num1);
            give_role(&mut window, "cycling power,", Key::Num2);
            // The meter refuses until its cranks have stood still for a while.
            for _ in 0..10 {
                until(&mut window, "Set its zero");
                click(&mut window, "Set its zero");
                until(&mut window, "ero ");
                std::thread::sleep(Duration::from_secs(3));
                window.step();
                if shows(&window, "Sessions within twelve hours keep that") {
                    break;
                }
            }

            let field = window.get_by_label("Name of the bench");
            field.focus();
            field.type_text("left stand");
            window.step();
            until(&mut window, "Remember this bench");
            click(&mut window, "Remember this bench");
            until(&mut window, "is remembered");

            // On to a session on that bench, which is given up before anything is ridden.
            click(&mut window, "Script");
            click(&mut window, "left stand");
            until(&mut window, "Ride on this bench");
            click(&mut window, "Ride on this bench");
            until(&mut window, "End session");
            press(&mut window, Key::Escape);
            press(&mut window, Key::X);
            press(&mut window, Key::Enter);
            until_that(&mut window, "the end of the session", |window| {
                window
                    .state()
                    .as_ref()
                    .is_some_and(|app| app.live.is_none())
            });
            drop(window);

            let archive = session::Archive::open(&session_in(home)).expect("it opens");
            let sources = archive.sources().expect("it has instruments");
            let record = |role: &str| -> CalibrationRecord {
                let found = sources.iter().find(|source| source.role == role);
                let found = found.expect("it has that role");
                serde_json::from_value(found.calibration.clone()).unwrap_or_default()
            };
            let reference = record("reference").before_session;
            let [refused @ .., zero] = &reference[..] else {
                panic!("a zero was set");
            };
            assert_eq!(zero.procedure, "zero offset");
            assert!(zero.succeeded && zero.torque_nm().is_some(), "{zero:?}");
            assert!(zero.seconds_before > 0.0 && zero.seconds_before < 600.0);
            // What did not work is kept as well.
            assert!(refused.iter().all(|one| !one.succeeded), "{refused:?}");
            assert_eq!(record("under-test"), CalibrationRecord::default());
        });
    });
}
