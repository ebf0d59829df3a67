//! Values: none lost, in order, with their epoch and a stamp of receipt.

mod common;

use common::*;
use radio::{LinkState, News, Order, Token};
use standin::{Fault, alone};
use std::time::Duration;
use units::{AttError, SourceId, Span};

#[test]
fn twenty_thousand_values_at_two_thousand_a_second_all_arrive_and_memory_stays_flat() {
    alone(
        "twenty_thousand_values_at_two_thousand_a_second_all_arrive_and_memory_stays_flat",
        |folder| {
            let mut bench = Bench::live(folder, vec![quiet()]);
            let burst = |count| Fault::Burst {
                device: 0,
                characteristic: POWER,
                count,
                spacing: Span::from_nanos(500_000),
            };
            // The first thousand make every buffer as large as it gets.
            bench.standin.act(burst(1000));
            let mut count = 0;
            bench.until("the first thousand", |news| {
                count += u32::from(matches!(news, News::Packet(_)));
                count == 1000
            });
            bench.news.clear();
            let (before, mut most) = (resident_mib(), 0.0_f64);
            bench.standin.act(burst(20_000));
            let (mut expected, mut late) = (0_u32, Span::ZERO);
            let mut last = None;
            while expected < 20_000 {
                let news = bench
                    .radio
                    .news()
                    .recv_timeout(Duration::from_secs(10))
                    .expect("the burst goes on");
                let News::Packet(packet) = news else { continue };
                assert_eq!(number(&packet), expected);
                assert!(
                    last.is_none_or(|last| last <= packet.at),
                    "stamps go forward"
                );
                last = Some(packet.at);
                if expected.is_multiple_of(1000) {
                    most = most.max(resident_mib());
                    let sent = bench
                        .standin
                        .with_ledger(|ledger| ledger.sent[1000 + expected as usize].at);
                    late = late.max(bench.standin.now() - sent);
                }
                expected += 1;
            }
            // The ledger of the stand-in lives in this process and grows by some 2 MiB.
            let grown = most - before;
            println!(
                "memory grew by {grown:.1} MiB; latest {:.1} ms",
                late.as_secs_f64() * 1e3
            );
            assert!(grown < 16.0, "memory grew by {grown:.1} MiB");
            assert_eq!(bench.radio.backlog().lost, 0);
        },
    );
}

#[test]
fn a_program_that_sleeps_finds_every_value_when_it_wakes() {
    alone(
        "a_program_that_sleeps_finds_every_value_when_it_wakes",
        |folder| {
            let mut bench = Bench::live(folder, vec![quiet()]);
            bench.standin.act(Fault::Burst {
                device: 0,
                characteristic: POWER,
                count: 6000,
                spacing: Span::from_nanos(500_000),
            });
            std::thread::sleep(Duration::from_secs(4));
            assert!(bench.radio.backlog().in_channel >= 6000);
            bench.listen(Span::from_millis(300));
            let got: Vec<u32> = bench.packets(0, POWER).iter().map(|p| number(p)).collect();
            assert!(got == (0..6000).collect::<Vec<_>>());
        },
    );
}

#[test]
fn stamps_are_those_of_receipt() {
    alone("stamps_are_those_of_receipt", |folder| {
        let mut bench = Bench::live(folder, vec![meter(1)]);
        // The radio's clock began a moment after the stand-in's; both run alike.
        bench.listen(Span::from_secs(2));
        bench.assert_nothing_lost(0, POWER);
        let sent: Vec<_> = bench
            .standin
            .with_ledger(|ledger| ledger.sent_by(0, POWER).map(|sent| sent.at).collect());
        let delays: Vec<f64> = bench
            .packets(0, POWER)
            .iter()
            .zip(&sent)
            .map(|(packet, at)| (packet.at - *at).as_secs_f64() * 1e3)
            .collect();
        let least = delays.iter().copied().fold(f64::MAX, f64::min);
        let most = delays.iter().copied().fold(f64::MIN, f64::max);
        println!(
            "spread of the delay {:.2} ms over {} values",
            most - least,
            delays.len()
        );
        assert!(delays.len() >= 30);
        assert!(
            most - least < 200.0,
            "delays from {least:.1} to {most:.1} ms"
        );
    });
}

#[test]
fn reads_come_as_packets_and_refused_reads_say_why() {
    alone(
        "reads_come_as_packets_and_refused_reads_say_why",
        |folder| {
            let mut bench = Bench::live(folder, vec![trainer()]);
            bench.standin.act(Fault::AttError {
                device: 0,
                characteristic: MAKER,
                on: standin::On::Read,
                code: 0x0E,
                times: 1,
            });
            let mut results = Vec::new();
            for token in [1, 2] {
                let token = Token(token);
                let source = SourceId(0);
                // The fault is taken by the stand-in's thread within a few milliseconds.
                std::thread::sleep(Duration::from_millis(50));
                bench.order(Order::Read {
                    token,
                    source,
                    characteristic: MAKER,
                });
                let done = bench.until(
                    "a read",
                    |news| matches!(news, News::ReadDone { token: t, .. } if *t == token),
                );
                if let News::ReadDone { result, .. } = done {
                    results.push(result);
                }
            }
            assert_eq!(results, [Err(AttError::Code(0x0E)), Ok(())]);
            let read: Vec<&[u8]> = bench
                .packets(0, MAKER)
                .iter()
                .map(|packet| packet.bytes.as_slice())
                .collect();
            assert_eq!(read, [b"Invented Works"]);
        },
    );
}

/// The services are told a moment before the link is live; what is asked in that moment is answered.
#[test]
fn reads_that_are_ordered_as_soon_as_the_services_are_known_are_answered() {
    let name = "reads_that_are_ordered_as_soon_as_the_services_are_known_are_answered";
    alone(name, |folder| {
        let mut bench = Bench::new(folder, vec![trainer()], Vec::new());
        for round in 1..=5 {
            bench.attach(0);
            bench.until("services", |news| matches!(news, News::Services { .. }));
            bench.order(Order::Read {
                token: Token(round),
                source: SourceId(0),
                characteristic: MAKER,
            });
            let done = bench.until(
                "the read",
                |news| matches!(news, News::ReadDone { token, .. } if token.0 == round),
            );
            assert!(
                matches!(done, News::ReadDone { result: Ok(()), .. }),
                "{done:?}"
            );
            bench.order(Order::Detach {
                source: SourceId(0),
            });
            bench.until("idle", |news| is_link(news, SourceId(0), LinkState::Idle));
        }
    });
}
