//! A long session with trouble at random: nothing leaks, nothing gets stuck, what is recorded is
//! what was sent, and the brake ends released.
//!
//! The rig's time runs ten times as fast as the world's. By default a minute and a quarter of the
//! world, twelve minutes of the rig; `PRONY_SOAK_SECONDS=720` makes it two hours of the rig.

#![allow(clippy::print_stdout, reason = "a long run says what it met")]

use acceptance::bluetooth::{FULL, Recorded, Ride, bench_file, stand_in, target_w};
use sensor::assigned;
use standin::{Fault, Ledger, On, StandIn, alone_within};
use std::collections::BTreeMap;
use std::time::Duration;
use units::{Characteristic, SourceId, Span, Timestamp};

const PACE: u32 = 10;
/// Seconds of trouble, in the world, without a word from outside.
const USUAL_S: u64 = 75;
/// Seconds at the end in which everything has to come back.
const COMES_BACK_WITHIN_S: u32 = 120;

/// What each device says all the time.
const STREAMS: [Characteristic; 5] = [
    assigned::INDOOR_BIKE_DATA,
    assigned::CYCLING_POWER_MEASUREMENT,
    assigned::CYCLING_POWER_MEASUREMENT,
    assigned::CSC_MEASUREMENT,
    assigned::HEART_RATE_MEASUREMENT,
];

const SCRIPT: &str = "Script(title: \"Soak\", decides: \"Nothing\", needs: [\"patience\"], \
     ceiling_w: 200, cadence_rpm: 88, steps: [Repeat(times: 60, steps: [\
     Hold(title: \"low\", power_w: 100, seconds: 120, feeds: Nothing),\
     Hold(title: \"higher\", power_w: 160, seconds: 120, feeds: Nothing)])])";

fn soak_seconds() -> u64 {
    std::env::var("PRONY_SOAK_SECONDS")
        .ok()
        .and_then(|words| words.parse().ok())
        .unwrap_or(USUAL_S)
}

/// Numbers that look random and are the same each time (a linear congruential generator with the
/// constants of Knuth's MMIX).
struct Dice(u64);

impl Dice {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }
}

/// One trouble, what ends it, and how long it lasts, ms of the world.
fn trouble(dice: &mut Dice) -> (Fault, Option<Fault>, u64) {
    let device = dice.below(5) as usize;
    let stream = STREAMS[device];
    match dice.below(20) {
        0..=4 => (Fault::DropLink { device }, None, 0),
        5 | 6 => {
            let lasting = Span::from_millis(200 + dice.below(3000) as i64);
            (Fault::Silence { device, lasting }, None, 0)
        }
        7 => (
            Fault::RefuseLinks { device, times: 2 },
            Some(Fault::DropLink { device }),
            10,
        ),
        8 => (Fault::MoveHandles { device }, None, 0),
        9 | 10 => (Fault::TakeControl { device: 0 }, None, 0),
        11 | 12 => {
            let lasting = Span::from_millis(300);
            (Fault::Restart { device, lasting }, None, 0)
        }
        13 => {
            let by = Some(Span::from_millis(400));
            (
                Fault::DelayServices { device, by },
                Some(Fault::DropLink { device }),
                10,
            )
        }
        14 => {
            let fault = Fault::AttError {
                device,
                characteristic: stream,
                on: On::Subscribe,
                code: 0x0E,
                times: 1,
            };
            (fault, Some(Fault::DropLink { device }), 10)
        }
        15 => {
            let characteristics = vec![stream];
            let fault = Fault::HideOnce {
                device,
                characteristics,
            };
            (fault, Some(Fault::DropLink { device }), 10)
        }
        16 => (
            Fault::RemoveDevice { device },
            Some(Fault::ReturnDevice { device }),
            800,
        ),
        17 => (Fault::AdapterOff, Some(Fault::AdapterOn), 900),
        18 => (Fault::LoseName, Some(Fault::TakeName), 900),
        _ => {
            let fault = Fault::Swallow {
                device: 0,
                characteristic: assigned::FITNESS_MACHINE_CONTROL_POINT,
                times: 1,
            };
            (fault, None, 0)
        }
    }
}

/// Resident memory of a process, MiB, as Linux tells it.
fn resident_mib(pid: u32) -> Option<f64> {
    let text = std::fs::read_to_string(format!("/proc/{pid}/statm")).ok()?;
    let pages: f64 = text.split_whitespace().nth(1)?.parse().ok()?;
    Some(pages * 4096.0 / (1024.0 * 1024.0))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn has_spoken(ledger: &Ledger, device: usize, since: Timestamp) -> bool {
    ledger
        .sent
        .iter()
        .rev()
        .take_while(|sent| sent.at >= since)
        .any(|sent| sent.device == device && sent.characteristic == STREAMS[device])
}

fn is_loaded(ledger: &Ledger, since: Timestamp) -> bool {
    ledger
        .written
        .iter()
        .rev()
        .take_while(|written| written.at >= since)
        .any(|written| target_w(&written.bytes).is_some_and(|w| w > 0) && written.refused.is_none())
}

/// Trouble for so long, with somebody at the keyboard who agrees to everything. Gives samples of
/// the program's memory and how often each trouble came.
fn soak(bus: &StandIn, ride: &mut Ride, seconds: u64) -> (Vec<f64>, BTreeMap<String, u32>) {
    let mut dice = Dice(20_260_514);
    let (mut memory_mib, mut counts) = (Vec::new(), BTreeMap::new());
    let end = bus.now() + Span::from_secs(seconds as i64);
    while bus.now() < end {
        let (fault, undo, lasting_ms) = trouble(&mut dice);
        let name = format!("{fault:?}");
        println!("{} {name}", bus.now());
        let name = name.split_whitespace().next().unwrap_or_default();
        *counts.entry(name.to_owned()).or_insert(0) += 1;
        bus.act(fault);
        std::thread::sleep(Duration::from_millis(lasting_ms));
        if let Some(undo) = undo {
            bus.act(undo);
        }
        for _ in 0..4 + dice.below(8) {
            std::thread::sleep(Duration::from_millis(200));
            ride.type_in("");
        }
        assert!(ride.ended().is_none(), "it ended: {}", ride.said());
        memory_mib.extend(resident_mib(ride.pid()));
    }
    (memory_mib, counts)
}

#[test]
fn trouble_at_random_leaks_nothing_and_leaves_nothing_stuck() {
    let seconds = soak_seconds();
    let name = "trouble_at_random_leaks_nothing_and_leaves_nothing_stuck";
    alone_within(name, seconds + 300, |folder| {
        let plan = rig::built_in("full").expect("a built-in rig");
        let bus = stand_in(folder, plan, PACE, Vec::new());
        let bench = bench_file(folder, 250, &FULL);
        let mut ride = Ride::start(&bus, folder, SCRIPT, &bench, PACE);
        let ended = ride.agree_until(60, |_| bus.with_ledger(|l| is_loaded(l, Timestamp::ZERO)));
        assert!(!ended, "{}", ride.said());
        let (memory_mib, counts) = soak(&bus, &mut ride, seconds);

        // Nothing is stuck: every device speaks again, and the trainer takes a load again.
        let quiet = bus.now();
        let ended = ride.agree_until(COMES_BACK_WITHIN_S, |_| {
            bus.with_ledger(|ledger| {
                (0..5).all(|device| has_spoken(ledger, device, quiet)) && is_loaded(ledger, quiet)
            })
        });
        assert!(!ended, "{}", ride.said());
        ride.type_in("q");
        ride.wait(60);

        let ledger = bus.ledger();
        let to_trainer = ledger.written.iter().filter(|written| written.device == 0);
        let last_w = to_trainer
            .rev()
            .find_map(|written| target_w(&written.bytes));
        assert_eq!(last_w, Some(0), "the brake ends released");

        // Flat: the second quarter of the samples against the last. What is recorded is kept for the
        // findings, some hundred bytes for each second of the rig; a leak would be more.
        let quarter = memory_mib.len() / 4;
        let early_mib = median(memory_mib[quarter..2 * quarter].to_vec());
        let late_mib = median(memory_mib[3 * quarter..].to_vec());
        let recorded = Recorded::of(ride.file());
        let hours = recorded.packets.last().expect("packets").at.as_secs_f64() / 3600.0;
        println!(
            "{hours:.2} h of the rig, links {:?}, {} packets, memory {early_mib:.1} MiB early, \
             {late_mib:.1} MiB late\n{counts:?}",
            ledger.links,
            recorded.packets.len()
        );
        assert!(
            late_mib - early_mib < 10.0 + 8.0 * hours,
            "memory grew from {early_mib:.1} to {late_mib:.1} MiB"
        );

        for (device, characteristic) in STREAMS.into_iter().enumerate() {
            let (found, lost) = compare(&ledger, &recorded, device, characteristic);
            let count: usize = lost.iter().map(|stretch| stretch.count).sum();
            println!("device {device}: {found} recorded, {count} lost on the way, in {lost:?}");
            assert!(found > 50, "device {device}: {found}");
            for stretch in &lost {
                // The watchdog of the radio sets up a silent link anew after ten seconds.
                assert!(
                    stretch.lasting <= Span::from_secs(16),
                    "device {device} was mute for too long over link {}: {stretch:?}",
                    stretch.link
                );
            }
            assert!(
                count <= found / 20 + 160,
                "device {device}: {count} of {found}"
            );
        }
    });
}

/// Values that were sent over one link, one after the other, and did not arrive.
#[derive(Debug)]
struct Stretch {
    link: u32,
    /// When the first was sent, on the stand-in's clock.
    from: Timestamp,
    /// From the first to the next that arrived, in the world.
    lasting: Span,
    count: usize,
}

/// What was recorded was sent, in this order: gives how many values, and what was sent and is not
/// there. When the service dies, what it had sent and the bus had not passed on dies with it.
fn compare(
    ledger: &Ledger,
    recorded: &Recorded,
    device: usize,
    characteristic: Characteristic,
) -> (usize, Vec<Stretch>) {
    let source = SourceId(device as u16 + 1);
    let mut sent = ledger.sent_by(device, characteristic);
    let (mut found, mut lost) = (0, Vec::new());
    for packet in recorded
        .packets
        .iter()
        .filter(|p| p.source == source && p.characteristic == characteristic)
    {
        let mut stretch: Option<Stretch> = None;
        loop {
            let sent = sent
                .next()
                .unwrap_or_else(|| panic!("device {device}: {packet:?} was never sent"));
            if sent.bytes == packet.bytes {
                found += 1;
                if let Some(stretch) = &mut stretch {
                    stretch.lasting = sent.at - stretch.from;
                }
                break;
            }
            let stretch = stretch.get_or_insert(Stretch {
                link: sent.link,
                from: sent.at,
                lasting: Span::ZERO,
                count: 0,
            });
            stretch.count += 1;
        }
        lost.extend(stretch);
    }
    (found, lost)
}
