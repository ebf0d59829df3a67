//! How long it takes from a release that somebody asks for to the write that leaves for the
//! trainer, on the real clock, and how long a rehearsal of the reference protocol takes.
//!
//! `cargo bench -p prony` prints both; without `--bench` (as `cargo test` runs it) one release is
//! measured and a short script rehearsed. A release begins when the command is put into the
//! engine's channel, as the window's Escape key and the terminal do, and ends when the write is
//! handed to the instruments; what the radio needs after that is not in it, nor is the frame in
//! which the window takes the key in. The rehearsal is ridden on the virtual clock, recorded into a
//! file, sealed, and judged.

#![expect(clippy::print_stdout, reason = "a bench prints what it measured")]
#![expect(clippy::disallowed_methods, reason = "a bench measures time")]
#![expect(clippy::unwrap_used, reason = "a bench has nobody to report to")]

use analysis::settings::Settings;
use bench::{Awaiting, Bench, Command};
use crossbeam_channel::{Receiver, Sender, bounded};
use prony::clock::{Pace, SessionClock};
use prony::engine::{Audience, Engine};
use prony::instruments::{Instruments, News};
use prony::recording::Recording;
use prony::setup;
use prony::simulated::Simulated;
use prony::standing_in::StandIn;
use protocol::Script;
use rig::Rig;
use std::time::{Duration, Instant};
use units::{Timestamp, Write};

const HOLD: &str = "Script(title: \"hold\", steps: [Hold(power_w: 150, seconds: 3600)])";
/// Target power zero, as the trainer of the rig is released.
const RELEASE: [u8; 3] = [0x05, 0x00, 0x00];

fn main() {
    let full = std::env::args().any(|argument| argument == "--bench");
    releases(if full { 25 } else { 1 });
    let scripts: &[&str] = if full {
        &["reference-protocol-1", "reference-protocol-2"]
    } else {
        &["first-look"]
    };
    rehearsal(scripts, if full { 5 } else { 1 });
}

/// The simulated bench, which says when a load and when a release leaves.
struct Timing {
    inner: Simulated,
    left: Sender<(Vec<u8>, Instant)>,
}

impl Instruments for Timing {
    fn due(&self) -> Option<Timestamp> {
        self.inner.due()
    }

    fn poll(&mut self, now: Timestamp) -> Option<News> {
        self.inner.poll(now)
    }

    fn write(&mut self, now: Timestamp, write: Write) {
        // Nobody listens after the last release.
        let _ = self.left.try_send((write.bytes.clone(), Instant::now()));
        self.inner.write(now, write);
    }

    fn cue(&mut self, now: Timestamp, cue: &protocol::Cue) {
        self.inner.cue(now, cue);
    }
}

/// Answers the cautions; everything else comes through the channel.
struct Accepting;

impl Audience for Accepting {
    fn show(&mut self, _bench: &Bench) {}

    fn answer(&mut self, bench: &Bench) -> Option<Command> {
        match bench.awaiting()? {
            Awaiting::Start => Some(Command::Start),
            Awaiting::Cautions => Some(Command::AcceptCautions),
            _ => None,
        }
    }
}

fn releases(times: usize) {
    let script = Script::from_ron("hold", HOLD).unwrap();
    let plan = rig::built_in("honest").unwrap();
    let machine = Rig::new(plan.clone(), 1);
    let setup = setup::on_rig(&script, &plan, "", &machine, Settings::default()).unwrap();
    let (ask, commands) = bounded(16);
    let (left, leaving) = bounded(10_000);
    let engine = std::thread::spawn(move || {
        let instruments = Timing {
            inner: Simulated::new(machine),
            left,
        };
        let clock = SessionClock::start(Pace::Times(1.0));
        Engine::new(instruments, Bench::new(setup.plan), None, clock, commands)
            .run(&mut Accepting)
            .map(|_| ())
    });
    let mut took = Vec::new();
    for time in 0..times {
        if time > 0 {
            ask.send(Command::Resume).unwrap();
        }
        wait_for(&leaving, |bytes| bytes[0] == 0x05 && bytes != RELEASE);
        // At odd moments between two packets and two writes.
        std::thread::sleep(Duration::from_millis(1200 + 137 * (time as u64 % 7)));
        while leaving.try_recv().is_ok() {}
        let asked = Instant::now();
        ask.send(Command::Release).unwrap();
        let at = wait_for(&leaving, |bytes| bytes == RELEASE);
        took.push((at - asked).as_secs_f64() * 1000.0);
        std::thread::sleep(Duration::from_millis(300));
    }
    ask.send(Command::Stop).unwrap();
    engine.join().unwrap().unwrap();
    took.sort_by(f64::total_cmp);
    println!(
        "release asked for → written: median {:.2} ms, largest {:.2} ms of {times}",
        took[times / 2],
        took[times - 1]
    );
}

fn wait_for(leaving: &Receiver<(Vec<u8>, Instant)>, wanted: impl Fn(&[u8]) -> bool) -> Instant {
    loop {
        let (bytes, at) = leaving.recv_timeout(Duration::from_secs(20)).unwrap();
        if wanted(&bytes) {
            return at;
        }
    }
}

fn rehearsal(names: &[&str], repeats: usize) {
    let folder = tempfile::tempdir().unwrap();
    let mut ridden_s = 0.0;
    let mut took: Vec<f64> = (0..repeats)
        .map(|repeat| {
            let begin = Instant::now();
            ridden_s = 0.0;
            for name in names {
                let file = folder.path().join(format!("{name}-{repeat}.prony"));
                let script = protocol::ready_script(name).unwrap().load().unwrap();
                let plan = rig::built_in("workshop").unwrap();
                let machine = Rig::new(plan.clone(), 1);
                let setup =
                    setup::on_rig(&script, &plan, "", &machine, Settings::default()).unwrap();
                let recording = Recording::start(&file, &setup.about, &setup.sources).unwrap();
                recording.event(setup.rules_row());
                let (_ask, commands) = bounded(1);
                let (bench, _) = Engine::new(
                    Simulated::new(machine),
                    Bench::new(setup.plan),
                    Some(recording),
                    SessionClock::start(Pace::Virtual),
                    commands,
                )
                .run(&mut StandIn::default())
                .unwrap();
                assert!(!bench.findings().cells.is_empty());
                ridden_s += bench.now().as_secs_f64();
            }
            begin.elapsed().as_secs_f64()
        })
        .collect();
    took.sort_by(f64::total_cmp);
    println!(
        "rehearse, record and judge {:.0} min of {}: median {:.2} s of {repeats}",
        ridden_s / 60.0,
        names.join(" and "),
        took[repeats / 2]
    );
}
