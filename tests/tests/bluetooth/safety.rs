//! The link to the trainer is lost in the middle of a 400 W step. Nothing heavy may be asked of the
//! brake again until the person at the bench says so: every write after the loss is looked at.

use acceptance::bluetooth::{Recorded, Ride, bench_file, stand_in, target_w};
use standin::{Fault, StandIn, Written, alone};
use std::time::Duration;
use units::{Span, Timestamp};

/// Real time: what the radio does by itself after a loss is what matters here.
const PACE: u32 = 1;

const SCRIPT: &str = "Script(title: \"Hard\", decides: \"Nothing\", needs: [\"a link\"], \
     ceiling_w: 400, cadence_rpm: 90, steps: [\
     Hold(title: \"easy\", power_w: 100, seconds: 10, feeds: Nothing),\
     Hold(title: \"hard\", power_w: 400, seconds: 120, feeds: Nothing)])";

fn to_trainer(bus: &StandIn, since: Timestamp) -> Vec<Written> {
    bus.with_ledger(|ledger| {
        ledger
            .written
            .iter()
            .filter(|written| written.device == 0 && written.at >= since)
            .cloned()
            .collect()
    })
}

fn highest_w(writes: &[Written]) -> i16 {
    writes
        .iter()
        .filter_map(|written| target_w(&written.bytes))
        .max()
        .unwrap_or(0)
}

#[test]
fn a_link_lost_at_400_w_brings_no_load_back_until_somebody_says_so() {
    let name = "a_link_lost_at_400_w_brings_no_load_back_until_somebody_says_so";
    alone(name, |folder| {
        let plan = rig::built_in("honest").expect("a built-in rig");
        let bus = stand_in(folder, plan, PACE, Vec::new());
        let bench = bench_file(
            folder,
            400,
            &[
                ("Trainer", "UnderTest", "Hub"),
                ("Crank", "Reference", "Crank"),
            ],
        );
        let mut ride = Ride::start(&bus, folder, SCRIPT, &bench, PACE);
        let ended = ride.agree_until(60, |_| highest_w(&to_trainer(&bus, Timestamp::ZERO)) == 400);
        assert!(!ended, "{}", ride.said());
        std::thread::sleep(Duration::from_secs(3));

        // The link goes, three times: once alone, once with the first new link lost again, and with
        // nobody at the keyboard.
        let lost_at = bus.now();
        bus.act(Fault::DropLink { device: 0 });
        std::thread::sleep(Duration::from_secs(6));
        bus.act(Fault::DropLink { device: 0 });
        std::thread::sleep(Duration::from_secs(12));
        let after = to_trainer(&bus, lost_at);
        let links = bus.with_ledger(|ledger| ledger.links[0]);
        assert_eq!(links, 3, "the link was made again: {}", ride.said());
        println!("after the loss: {:02X?}", bytes_of(&after));
        assert!(!after.is_empty(), "a new link is met with a release");
        for written in &after {
            // Control, a release, or its reset: nothing that loads a brake.
            let harmless = matches!(written.bytes.as_slice(), [0x00] | [0x01] | [0x05, 0, 0]);
            assert!(harmless, "{written:?}");
        }

        // Whoever says so goes on, from a low load.
        let resumed_at = bus.now();
        let begun = ride.agree_until(40, |_| highest_w(&to_trainer(&bus, resumed_at)) > 0);
        assert!(!begun, "{}", ride.said());
        let resumed = to_trainer(&bus, resumed_at);
        let first_w = resumed
            .iter()
            .find_map(|w| target_w(&w.bytes).filter(|w| *w > 0));
        println!("after Enter: {:02X?}", bytes_of(&resumed));
        assert!(first_w.is_some_and(|w| w <= 150), "{first_w:?}");

        ride.type_in("q");
        ride.wait(30);
        let last_w = to_trainer(&bus, Timestamp::ZERO)
            .iter()
            .rev()
            .find_map(|w| target_w(&w.bytes));
        assert_eq!(last_w, Some(0), "the brake ends released");
        let recorded = Recorded::of(ride.file());
        let lost = recorded
            .of_kind("link")
            .filter(|row| row.body["up"] == false && row.body["source"] == 1)
            .count();
        assert_eq!(lost, 2, "both losses are in the record");
        let pauses = recorded.of_kind("release").count();
        assert!(pauses > 0, "the release is in the record with its reason");
        assert!(bus.now() - lost_at > Span::from_secs(18));
    });
}

fn bytes_of(writes: &[Written]) -> Vec<&[u8]> {
    writes
        .iter()
        .map(|written| written.bytes.as_slice())
        .collect()
}
