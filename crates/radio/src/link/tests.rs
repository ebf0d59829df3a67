//! The link machine, told what happens by hand.

use super::subscribing::SUBSCRIBE_PAUSE;
use super::table::DISCOVERY_ROUNDS;
use super::*;
use crate::news::{Flags, TroubleKind};

const CONTROL: Characteristic = Characteristic(0x2AD9);
const BIKE: Characteristic = Characteristic(0x2AD2);
const STATUS: Characteristic = Characteristic(0x2ADA);

fn table() -> Vec<Entry> {
    let entry = |characteristic, flags| Entry {
        service: 0x1826,
        characteristic,
        flags,
    };
    vec![
        entry(BIKE, Flags::NOTIFY),
        entry(CONTROL, Flags::WRITE.with(Flags::INDICATE)),
        entry(STATUS, Flags::NOTIFY),
    ]
}

/// A machine with its driver played by hand.
struct Bench {
    link: Link,
    now: Timestamp,
    /// The call under way.
    call: Option<Call>,
    said: Vec<Output>,
}

impl Bench {
    fn new() -> Self {
        let wanted = [BIKE, CONTROL, STATUS].map(Wanted::usual).to_vec();
        let mut link = Link::new(wanted, Patience::USUAL);
        link.attach();
        let mut bench = Self {
            link,
            now: Timestamp::ZERO,
            call: None,
            said: Vec::new(),
        };
        bench.collect();
        bench
    }

    fn collect(&mut self) {
        while let Some(output) = self.link.poll_output() {
            match output {
                Output::Call(call) => {
                    assert!(self.call.is_none(), "two calls at once");
                    self.call = Some(call);
                }
                Output::Abandon => self.call = None,
                other => self.said.push(other),
            }
        }
    }

    fn asked(&self) -> Option<What> {
        self.call.map(|call| call.what)
    }

    fn answer(&mut self, result: Result<Reply, HostFault>) -> &mut Self {
        let call = self.call.take().expect("a call is under way");
        self.link.answer(call.serial, result, self.now);
        self.collect();
        self
    }

    fn ok(&mut self) -> &mut Self {
        self.answer(Ok(Reply::Done))
    }

    /// Lets time pass up to the machine's own deadline.
    fn wait(&mut self) -> Span {
        let due = self
            .link
            .deadline()
            .expect("the machine waits for something");
        let waited = due - self.now;
        self.now = due;
        self.link.tick(due);
        self.collect();
        waited
    }

    fn bring_live(&mut self) -> &mut Self {
        while !self.link.is_live() {
            match self.asked() {
                Some(What::Discover) => self.answer(Ok(Reply::Table(table()))),
                Some(_) => self.ok(),
                None => panic!("stuck in {:?}", self.link.phase),
            };
        }
        self
    }

    fn states(&self) -> Vec<LinkState> {
        self.said
            .iter()
            .filter_map(|output| match output {
                Output::State(state, _) => Some(*state),
                _ => None,
            })
            .collect()
    }
}

#[test]
fn a_link_is_found_connected_discovered_and_subscribed_indications_first() {
    let mut bench = Bench::new();
    let mut asked = Vec::new();
    while let Some(what) = bench.asked() {
        asked.push(what);
        match what {
            What::Discover => bench.answer(Ok(Reply::Table(table()))),
            _ => bench.ok(),
        };
    }
    assert_eq!(
        asked,
        [
            What::Find,
            What::Connect,
            What::Discover,
            What::Subscribe(CONTROL),
            What::Subscribe(BIKE),
            What::Subscribe(STATUS),
        ]
    );
    use LinkState::{Connecting, Discovering, Live, Subscribing};
    assert_eq!(bench.states(), [Connecting, Discovering, Subscribing, Live]);
    let opened = bench.said.iter().position(|o| *o == Output::OpenDrain);
    let listed = bench
        .said
        .iter()
        .position(|o| matches!(o, Output::Services(_)));
    assert!(listed < opened && listed.is_some());
    assert_eq!(bench.link.epoch(), 1);
}

#[test]
fn a_lost_link_comes_back_as_a_new_one_and_asks_for_everything_anew() {
    let mut bench = Bench::new();
    bench.bring_live();
    bench.said.clear();
    bench.link.disconnected(bench.now);
    bench.collect();
    assert_eq!(bench.said[0], Output::CloseDrain);
    assert_eq!(bench.wait(), Span::from_millis(500));
    assert_eq!(bench.asked(), Some(What::Find));
    bench.bring_live();
    assert_eq!(bench.link.epoch(), 2);
    assert!(bench.said.contains(&Output::OpenDrain));
}

#[test]
fn failing_connects_back_off_take_the_half_link_down_and_say_so_once() {
    let mut bench = Bench::new();
    let (mut waits, mut before) = (Vec::new(), Vec::new());
    for _ in 0..7 {
        let mut asked = Vec::new();
        while bench.asked() != Some(What::Connect) {
            asked.push(bench.asked().unwrap());
            bench.ok();
        }
        before.push(asked);
        bench.answer(Err(HostFault::Other(
            "le-connection-abort-by-local".to_owned(),
        )));
        assert_eq!(bench.asked(), Some(What::Disconnect));
        bench.ok();
        waits.push(bench.wait().as_nanos() / 1_000_000);
    }
    assert_eq!(waits, [500, 1000, 2000, 4000, 5000, 5000, 5000]);
    use What::{Burst, Find, Renew};
    let expected: [&[What]; 7] = [
        &[Find],
        &[Find],
        &[Burst, Find],
        &[Find],
        &[Find],
        &[Burst, Find],
        &[Renew, Find],
    ];
    assert_eq!(before, expected);
    let said = bench
        .said
        .iter()
        .filter(|o| matches!(o, Output::Trouble(..)))
        .count();
    assert_eq!(said, 1);
    assert_eq!(bench.link.epoch(), 0);
}

#[test]
fn a_device_that_is_not_known_is_looked_for_in_a_burst() {
    let mut bench = Bench::new();
    bench.answer(Err(HostFault::NotFound));
    assert_eq!(bench.asked(), Some(What::Burst));
    bench.ok();
    assert_eq!(bench.asked(), Some(What::Find));
    bench.answer(Err(HostFault::NotFound));
    assert_eq!(bench.asked(), None);
    assert_eq!(bench.wait(), Span::from_millis(500));
}

#[test]
fn an_incomplete_table_is_read_again_before_it_is_believed() {
    let mut bench = Bench::new();
    bench.ok().ok();
    for _ in 0..DISCOVERY_ROUNDS {
        bench.answer(Ok(Reply::Table(Vec::new())));
        assert_eq!(bench.asked(), None);
        assert_eq!(bench.wait(), Span::from_millis(500));
        assert_eq!(bench.asked(), Some(What::Discover));
    }
    bench.answer(Ok(Reply::Table(table())));
    assert_eq!(bench.asked(), Some(What::Subscribe(CONTROL)));
}

#[test]
fn a_table_that_lost_a_characteristic_is_read_again_and_then_said() {
    let mut bench = Bench::new();
    bench.bring_live();
    bench.link.disconnected(bench.now);
    bench.collect();
    bench.wait();
    bench.ok().ok();
    let smaller: Vec<Entry> = table()
        .into_iter()
        .filter(|entry| entry.characteristic != STATUS)
        .collect();
    for _ in 0..DISCOVERY_ROUNDS {
        bench.answer(Ok(Reply::Table(smaller.clone())));
        bench.wait();
    }
    bench.answer(Ok(Reply::Table(smaller)));
    let words = bench.said.iter().find_map(|output| match output {
        Output::Trouble(TroubleKind::TableChanged, words, _) => Some(words.clone()),
        _ => None,
    });
    assert_eq!(words.as_deref(), Some("missing since the last link: 2ADA"));
    assert_eq!(bench.asked(), Some(What::Subscribe(CONTROL)));
}

#[test]
fn a_subscription_that_wants_pairing_is_said_and_the_others_go_on() {
    let mut bench = Bench::new();
    bench.ok().ok().answer(Ok(Reply::Table(table())));
    bench.answer(Err(HostFault::NotPaired));
    assert_eq!(bench.asked(), Some(What::Subscribe(BIKE)));
    assert!(
        bench
            .said
            .iter()
            .any(|o| matches!(o, Output::Trouble(TroubleKind::NotPaired, _, _)))
    );
    bench.bring_live();
}

#[test]
fn a_refused_subscription_is_tried_three_times() {
    let mut bench = Bench::new();
    bench.ok().ok().answer(Ok(Reply::Table(table())));
    for _ in 0..2 {
        bench.answer(Err(HostFault::Att(0x0E)));
        assert_eq!(bench.wait(), SUBSCRIBE_PAUSE);
        assert_eq!(bench.asked(), Some(What::Subscribe(CONTROL)));
    }
    bench.answer(Err(HostFault::Att(0x0E)));
    assert_eq!(bench.asked(), Some(What::Subscribe(BIKE)));
}

#[test]
fn silence_is_asked_about_resubscribed_and_ends_in_a_new_link_then_a_new_connection() {
    let mut bench = Bench::new();
    bench.bring_live();
    let mut asked = Vec::new();
    while bench.link.is_live() {
        match bench.asked() {
            Some(What::Ask) => {
                asked.push((bench.now.as_nanos() / 1_000_000, What::Ask));
                bench.answer(Ok(Reply::Linked(true)));
            }
            Some(what) => {
                asked.push((bench.now.as_nanos() / 1_000_000, what));
                bench.ok();
            }
            None => {
                bench.wait();
            }
        }
    }
    use What::{Ask, Resubscribe};
    assert_eq!(
        asked,
        [
            (2500, Ask),
            (4500, Ask),
            (5000, Resubscribe(BIKE)),
            (6500, Ask),
            (8500, Ask),
        ]
    );
    assert_eq!(bench.now, Timestamp::from_secs(10));
    assert_eq!(bench.asked(), Some(What::Disconnect));
    bench.ok();
    bench.wait();
    bench.bring_live();
    while bench.link.is_live() {
        match bench.asked() {
            Some(What::Ask) => {
                bench.answer(Ok(Reply::Linked(true)));
            }
            Some(_) => {
                bench.ok();
            }
            None => {
                bench.wait();
            }
        }
    }
    assert!(
        bench
            .said
            .iter()
            .any(|o| matches!(o, Output::Trouble(TroubleKind::Silent, ..)))
    );
    bench.ok();
    bench.wait();
    assert_eq!(bench.asked(), Some(What::Renew));
}

#[test]
fn a_system_that_says_the_link_is_down_is_believed() {
    let mut bench = Bench::new();
    bench.bring_live();
    bench.wait();
    assert_eq!(bench.asked(), Some(What::Ask));
    bench.answer(Ok(Reply::Linked(false)));
    assert_eq!(bench.states().last(), Some(&LinkState::Lost));
}

#[test]
fn an_adapter_that_is_switched_off_ends_the_link_and_one_that_comes_back_begins_at_once() {
    let mut bench = Bench::new();
    bench.bring_live();
    bench.link.adapter(false, "the adapter was switched off");
    bench.collect();
    assert_eq!(bench.states().last(), Some(&LinkState::Lost));
    assert_eq!(bench.link.deadline(), None);
    assert_eq!(bench.asked(), None);
    bench.link.adapter(true, "");
    bench.collect();
    assert_eq!(bench.asked(), Some(What::Find));
}

#[test]
fn late_answers_of_an_abandoned_call_change_nothing() {
    let mut bench = Bench::new();
    bench.ok();
    let connect = bench.call.expect("connecting");
    bench.link.adapter(false, "off");
    bench.collect();
    bench
        .link
        .answer(connect.serial, Ok(Reply::Done), bench.now);
    bench.collect();
    assert_eq!((bench.link.epoch(), bench.asked()), (0, None));
}

#[test]
fn detaching_takes_the_link_down_from_any_state() {
    for steps in 0..7 {
        let mut bench = Bench::new();
        for _ in 0..steps {
            match bench.asked() {
                Some(What::Discover) => bench.answer(Ok(Reply::Table(table()))),
                Some(_) => bench.ok(),
                None => break,
            };
        }
        bench.link.detach();
        bench.collect();
        assert_eq!(bench.asked(), Some(What::Disconnect), "after {steps} steps");
        bench.ok();
        assert_eq!(bench.said.last(), Some(&Output::Finished));
        assert_eq!(bench.states().last(), Some(&LinkState::Idle));
    }
}
