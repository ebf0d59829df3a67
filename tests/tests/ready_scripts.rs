//! Every ready script on the simulated bench, on the virtual clock: it runs to its end, the brake
//! ends released, no target is ever above the rider's ceiling, and every moment of the ride
//! belongs to one step.

use bench::Bench;
use crossbeam_channel::bounded;
use prony::clock::{Pace, SessionClock};
use prony::commands::StandIn;
use prony::engine::{Audience, Engine};
use prony::instruments::{Instruments, News};
use prony::simulated::Simulated;
use units::{Timestamp, Write};

/// The simulated bench, with every write noted on its way.
struct Noting {
    inner: Simulated,
    writes: Vec<(Timestamp, Write)>,
}

impl Instruments for Noting {
    fn due(&self) -> Option<Timestamp> {
        self.inner.due()
    }

    fn poll(&mut self, now: Timestamp) -> Option<News> {
        self.inner.poll(now)
    }

    fn write(&mut self, now: Timestamp, write: Write) {
        self.writes.push((now, write.clone()));
        self.inner.write(now, write);
    }

    fn cue(&mut self, now: Timestamp, cue: &protocol::Cue) {
        self.inner.cue(now, cue);
    }
}

/// Target powers on the wire, W: op code 5, signed 16 bits, least byte first.
fn powers(writes: &[(Timestamp, Write)]) -> impl Iterator<Item = (Timestamp, i16)> + '_ {
    writes
        .iter()
        .filter_map(|(at, write)| match write.bytes.as_slice() {
            [0x05, low, high] => Some((*at, i16::from_le_bytes([*low, *high]))),
            _ => None,
        })
}

fn ride(name: &str, rig_name: &str) -> (Bench, Noting) {
    let script = protocol::ready_script(name)
        .expect("a ready script")
        .load()
        .expect("it loads");
    let rig_plan = rig::built_in(rig_name).expect("a built-in rig");
    let machine = rig::Rig::new(rig_plan.clone(), 7);
    let settings = analysis::settings::Settings::default();
    let setup = prony::setup::on_rig(&script, &rig_plan, "", &machine, settings).expect("a set-up");
    let (_ask, commands) = bounded(1);
    let engine = Engine::new(
        Noting {
            inner: Simulated::new(machine),
            writes: Vec::new(),
        },
        Bench::new(setup.plan),
        None,
        SessionClock::start(Pace::Virtual),
        commands,
    );
    engine
        .run(&mut StandIn::default())
        .expect("a rehearsal without a file cannot fail")
}

#[test]
fn every_ready_script_runs_to_its_end_and_leaves_the_brake_released() {
    for ready in protocol::ready_scripts() {
        let (bench, instruments) = ride(ready.name, "honest");
        assert_eq!(bench.end_reason(), Some("complete"), "{}", ready.name);
        let ceiling = bench.plan().runner.rider_ceiling.get();
        let highest = powers(&instruments.writes)
            .map(|(_, power)| power)
            .max()
            .unwrap_or(0);
        assert!(
            f64::from(highest) <= ceiling,
            "{}: {highest} W above {ceiling} W",
            ready.name
        );
        assert!(
            bench.is_over(),
            "{}: the release was not confirmed",
            ready.name
        );
        let evidence = bench.evidence(bench.now());
        assert!(
            evidence
                .steps
                .windows(2)
                .all(|pair| pair[0].to <= pair[1].from),
            "{}: steps overlap",
            ready.name
        );
    }
}

/// Gives commands at given moments, and otherwise answers as a rehearsal does.
struct Interrupting {
    stand_in: StandIn,
    at: Timestamp,
    command: Option<bench::Command>,
}

impl Audience for Interrupting {
    fn show(&mut self, _bench: &Bench) {}

    fn answer(&mut self, bench: &Bench) -> Option<bench::Command> {
        if bench.now() >= self.at
            && let Some(command) = self.command.take()
        {
            return Some(command);
        }
        // After the release nobody agrees to go on.
        if self.command.is_none() {
            return (bench.now() > self.at + units::Span::from_secs(120))
                .then_some(bench::Command::Stop);
        }
        self.stand_in.answer(bench)
    }
}

/// The operator's release goes out at the very moment of the command, and two minutes later no
/// load has come back by itself.
#[test]
fn a_release_in_the_middle_of_a_hold_is_written_at_once_and_stays() {
    let script = protocol::ready_script("level-sweep")
        .expect("a ready script")
        .load()
        .expect("it loads");
    let rig_plan = rig::built_in("workshop").expect("a built-in rig");
    let machine = rig::Rig::new(rig_plan.clone(), 3);
    let settings = analysis::settings::Settings::default();
    let setup = prony::setup::on_rig(&script, &rig_plan, "", &machine, settings).expect("a set-up");
    let (_ask, commands) = bounded(1);
    let engine = Engine::new(
        Noting {
            inner: Simulated::new(machine),
            writes: Vec::new(),
        },
        Bench::new(setup.plan),
        None,
        SessionClock::start(Pace::Virtual),
        commands,
    );
    let at = Timestamp::from_secs(1300);
    let mut audience = Interrupting {
        stand_in: StandIn::default(),
        at,
        command: Some(bench::Command::Release),
    };
    let (bench, instruments) = engine.run(&mut audience).expect("no file, no failure");
    let sent: Vec<_> = powers(&instruments.writes).collect();
    let before = sent
        .iter()
        .rfind(|(when, _)| *when < at)
        .expect("a load was on");
    assert!(before.1 > 50, "{before:?}");
    let after: Vec<_> = sent.iter().filter(|(when, _)| *when >= at).collect();
    let first = after.first().expect("a release was written");
    assert!(
        first.0 - at < units::Span::from_millis(1000),
        "written {}",
        first.0 - at
    );
    assert!(after.iter().all(|(_, power)| *power <= 0), "{after:?}");
    assert_eq!(bench.end_reason(), Some("stopped by the operator"));
}
