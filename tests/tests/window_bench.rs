//! The Bench of the real window over a stand-in Bluetooth service: search, roles by key, links.
//!
//! Needs `Xvfb`, `xdotool` and `import`/`convert`, and a private bus (see `standin`).

use acceptance::{Screen, could_not_run, prony, wait_for};
use standin::{RigModel, StandIn, alone};
use std::time::Duration;

const TEST: &str = "instruments_are_found_and_linked_by_keys";

#[test]
fn instruments_are_found_and_linked_by_keys() {
    if let Some(program) = Screen::lacks() {
        could_not_run(TEST, &format!("{program} is not installed"));
        return;
    }
    alone(TEST, |folder| {
        let plan = rig::built_in("honest").expect("a built-in rig");
        let bus = StandIn::start(folder, Box::new(RigModel::new(plan, 1, 1)), Vec::new())
            .expect("a private bus");
        let screen = Screen::open(folder, 900);
        let bus_address = bus.address().to_owned();
        let variables = [("DBUS_SYSTEM_BUS_ADDRESS", bus_address.as_str())];
        let mut program = screen.start_with(&prony(), &variables);
        let window = screen.window();
        let key = |key: &str| screen.key(&window, key);

        key("1");
        key("Return");
        wait_for("a scan", || {
            (bus.with_ledger(|l| l.scans.0) > 0).then_some(())
        });
        std::thread::sleep(Duration::from_secs(3));
        // The device chosen first becomes the device under test, the next one the reference.
        key("Down");
        key("ctrl+1");
        wait_for("the first link", || {
            (bus.with_ledger(|l| l.links.iter().filter(|made| **made > 0).count()) >= 1)
                .then_some(())
        });
        // A device with a role stands on top; the one below it has none yet.
        std::thread::sleep(Duration::from_secs(2));
        key("Down");
        key("ctrl+2");
        wait_for("the second link", || {
            (bus.with_ledger(|l| l.links.iter().filter(|made| **made > 0).count()) >= 2)
                .then_some(())
        });
        std::thread::sleep(Duration::from_secs(4));
        if let Some(place) = std::env::var_os("PRONY_PICTURE") {
            screen.picture(std::path::Path::new(&place));
        }
        assert!(screen.colours() > 20);
        // Looking and linking set nothing.
        let written = bus.with_ledger(|ledger| ledger.written.len());
        assert_eq!(written, 0, "nothing is written before somebody asks for it");
        screen.close(&window, &mut program);
    });
}
