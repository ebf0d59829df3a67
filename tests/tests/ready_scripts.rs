//! Every ready script on the simulated bench, on the virtual clock: it runs to its end, the brake
//! ends released, no target is ever above the rider's ceiling, and every moment of the ride
//! belongs to one step.

use acceptance::ride;
use bench::Bench;
use prony::engine::Audience;
use prony::standing_in::StandIn;
use units::{Timestamp, Write};

/// Target powers on the wire, W: op code 5, signed 16 bits, least byte first.
fn powers(writes: &[(Timestamp, Write)]) -> impl Iterator<Item = (Timestamp, i16)> + '_ {
    writes
        .iter()
        .filter_map(|(at, write)| match write.bytes.as_slice() {
            [0x05, low, high] => Some((*at, i16::from_le_bytes([*low, *high]))),
            _ => None,
        })
}

fn ready(name: &str) -> protocol::Script {
    protocol::ready_script(name)
        .expect("a ready script")
        .load()
        .expect("it loads")
}

#[test]
fn every_ready_script_runs_to_its_end_and_leaves_the_brake_released() {
    for ready in protocol::ready_scripts() {
        let rig_plan = rig::built_in("honest").expect("a built-in rig");
        let script = ready.load().expect("it loads");
        let (bench, instruments) = ride(&script, &rig_plan, 7, &mut StandIn::default());
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
        assert_eq!(
            bench.model().phase,
            bench::model::Phase::Ended {
                reason: "complete".to_owned()
            },
            "{}",
            ready.name
        );
        assert_eq!(
            bench.model().script.beyond,
            [],
            "{}: beyond a usual trainer",
            ready.name
        );
        if ready.name == "first-look" {
            let took = bench.now();
            assert!(
                took <= Timestamp::from_secs(600),
                "a ten-minute first look took {took}"
            );
        }
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
    let rig_plan = rig::built_in("workshop").expect("a built-in rig");
    let at = Timestamp::from_secs(1300);
    let mut audience = Interrupting {
        stand_in: StandIn::default(),
        at,
        command: Some(bench::Command::Release),
    };
    let (bench, instruments) = ride(&ready("level-sweep"), &rig_plan, 3, &mut audience);
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
