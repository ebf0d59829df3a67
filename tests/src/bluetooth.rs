//! The real program against a stand-in Bluetooth service with the rig as the devices behind it: what
//! the tests of that have in common.

use crate::prony;
use rig::RigPlan;
use session::{Archive, EventRow};
use standin::{Ledger, RigModel, Script, StandIn};
use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, ExitStatus, Stdio};
use std::time::Duration;
use units::{Characteristic, Packet, SourceId, Span, Timestamp};

/// The system's name of a device, counted from 0 in the order of the rig.
pub fn device(number: usize) -> String {
    format!("hci0/dev_C0_FF_EE_00_00_{:02X}", number + 1)
}

/// A stand-in with this rig behind it, whose time runs `pace` times as fast as the world's. The
/// faults' moments are on the stand-in's clock, which does not.
///
/// # Panics
/// Without a bus.
pub fn stand_in(folder: &Path, plan: RigPlan, pace: u32, faults: Script) -> StandIn {
    StandIn::start(folder, Box::new(RigModel::new(plan, 1, pace)), faults).expect("a private bus")
}

/// The program, on the stand-in's bus.
pub fn program(bus: &StandIn, arguments: &[&str]) -> Command {
    let mut command = Command::new(prony());
    command
        .args(arguments)
        .env("DBUS_SYSTEM_BUS_ADDRESS", bus.address())
        .stdin(Stdio::null());
    command
}

/// The instruments of the rig `full` in its order: name, role and place.
pub const FULL: [(&str, &str, &str); 5] = [
    ("Trainer", "UnderTest", "Hub"),
    ("Crank", "Reference", "Crank"),
    ("Pedals", "SecondReference", "Pedals"),
    ("Cadence", "Witness", "Crank"),
    ("Strap", "Witness", "Unknown"),
];

/// Writes a bench file for the first devices of a rig: name, role and place of each.
///
/// # Panics
/// If it cannot be written.
pub fn bench_file(folder: &Path, ceiling_w: u32, instruments: &[(&str, &str, &str)]) -> PathBuf {
    let list: Vec<String> = instruments
        .iter()
        .enumerate()
        .map(|(number, (name, role, place))| {
            let device = device(number);
            format!("(device: {device:?}, name: {name:?}, role: {role}, place: {place})")
        })
        .collect();
    let text = format!(
        "Bench(name: \"invented stand\", rider_ceiling_w: Some({ceiling_w}), instruments: [{}])",
        list.join(",\n")
    );
    let path = folder.join("bench.ron");
    std::fs::write(&path, text).expect("the folder is ours");
    path
}

/// The program riding a script on a bench of the stand-in, with somebody at its keyboard.
pub struct Ride {
    child: Child,
    keys: Option<ChildStdin>,
    said: PathBuf,
    out: PathBuf,
}

impl Ride {
    /// Starts it; `pace` as the stand-in's.
    ///
    /// # Panics
    /// If the program cannot be started.
    pub fn start(bus: &StandIn, folder: &Path, script: &str, bench: &Path, pace: u32) -> Self {
        let script_file = folder.join("script.ron");
        std::fs::write(&script_file, script).expect("the folder is ours");
        let (out, said) = (folder.join("radio.prony"), folder.join("said"));
        let mut child = program(bus, &["run", "--script"])
            .arg(&script_file)
            .arg("--bench")
            .arg(bench)
            .arg("--out")
            .arg(&out)
            .env("PRONY_EQUIPMENT_PACE", pace.to_string())
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            .stderr(std::fs::File::create(&said).expect("the folder is ours"))
            .spawn()
            .expect("the program can be started");
        let keys = child.stdin.take();
        Self {
            child,
            keys,
            said,
            out,
        }
    }

    /// Types something and Enter. The program may have ended meanwhile.
    pub fn type_in(&mut self, words: &str) {
        if let Some(keys) = &mut self.keys {
            let _ = keys.write_all(format!("{words}\n").as_bytes());
        }
    }

    /// What the program has said up to now.
    pub fn said(&self) -> String {
        std::fs::read_to_string(&self.said).unwrap_or_default()
    }

    /// The process, to look at it from outside.
    pub fn pid(&self) -> u32 {
        self.child.id()
    }

    /// Whether it has ended, and how.
    ///
    /// # Panics
    /// If it cannot be asked.
    pub fn ended(&mut self) -> Option<ExitStatus> {
        self.child.try_wait().expect("our own child can be asked")
    }

    /// Presses Enter again and again, as somebody who agrees to whatever is asked, until `done` or
    /// until the program has ended. Gives whether it ended.
    ///
    /// # Panics
    /// After `seconds`, with what the program said.
    pub fn agree_until(&mut self, seconds: u32, mut done: impl FnMut(&Self) -> bool) -> bool {
        for _ in 0..seconds * 4 {
            if self.ended().is_some() {
                return true;
            }
            if done(self) {
                return false;
            }
            self.type_in("");
            std::thread::sleep(Duration::from_millis(250));
        }
        panic!("it takes longer than {seconds} s: {}", self.said());
    }

    /// Waits for the end without a key.
    ///
    /// # Panics
    /// After `seconds`, or if the program failed, with what it said.
    pub fn wait(&mut self, seconds: u32) {
        for _ in 0..seconds * 10 {
            if let Some(status) = self.ended() {
                assert!(status.success(), "{}", self.said());
                return;
            }
            std::thread::sleep(Duration::from_millis(100));
        }
        panic!("it does not end within {seconds} s: {}", self.said());
    }

    /// The session file.
    pub fn file(&self) -> &Path {
        &self.out
    }
}

impl Drop for Ride {
    fn drop(&mut self) {
        // One that is still there belongs to a test that has failed.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Packets and events of a finished session.
pub struct Recorded {
    /// In the order of the file.
    pub packets: Vec<Packet>,
    /// In the order of the file.
    pub events: Vec<EventRow>,
}

impl Recorded {
    /// Reads a session, which must be sealed and whole.
    ///
    /// # Panics
    /// If it is not.
    pub fn of(file: &Path) -> Self {
        let report = session::verify(file).expect("it can be read");
        assert!(
            matches!(report.state, session::SealState::Sealed),
            "{}",
            report.state
        );
        let archive = Archive::open(file).expect("it opens");
        Self {
            packets: archive.packets().expect("packets"),
            events: archive.events().expect("events"),
        }
    }

    /// The events of one kind.
    pub fn of_kind<'a>(&'a self, kind: &'a str) -> impl Iterator<Item = &'a EventRow> {
        self.events.iter().filter(move |row| row.kind == kind)
    }

    /// Compares what was recorded of one stream with what the stand-in sent: a value's place in the
    /// ledger is its number. Every value that was sent while linked is there, once, in order, with
    /// the number of its link; what was sent after the session's last packet is not part of it, and
    /// that is no more than `after`. Gives how many were recorded, by link.
    ///
    /// # Panics
    /// With the first value that differs.
    pub fn assert_whole(
        &self,
        ledger: &Ledger,
        device: usize,
        characteristic: Characteristic,
        after: usize,
    ) -> BTreeMap<u32, usize> {
        let source = SourceId(device as u16 + 1);
        let recorded: Vec<_> = self
            .packets
            .iter()
            .filter(|p| p.source == source && p.characteristic == characteristic)
            .collect();
        let sent: Vec<_> = ledger.sent_by(device, characteristic).collect();
        let mut by_link = BTreeMap::new();
        for (number, packet) in recorded.iter().enumerate() {
            let sent = sent.get(number).unwrap_or_else(|| {
                panic!("device {device}: value {number} was recorded and never sent")
            });
            assert_eq!(
                (packet.epoch, &packet.bytes),
                (sent.link, &sent.bytes),
                "device {device}: value {number} was sent at {} and differs",
                sent.at
            );
            *by_link.entry(packet.epoch).or_insert(0) += 1;
        }
        assert!(
            sent.len() - recorded.len() <= after,
            "device {device}: {} of {} recorded",
            recorded.len(),
            sent.len()
        );
        by_link
    }
}

/// The power that a write to a trainer asks for, W: op code 5, signed 16 bits, least byte first.
pub fn target_w(bytes: &[u8]) -> Option<i16> {
    match bytes {
        [0x05, low, high] => Some(i16::from_le_bytes([*low, *high])),
        _ => None,
    }
}

/// A moment on the stand-in's clock, `seconds` on the rig's.
pub fn rig_second(seconds: f64, pace: u32) -> Timestamp {
    Timestamp::ZERO + Span::from_secs_f64(seconds / f64::from(pace))
}
