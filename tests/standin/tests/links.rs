//! Links that are set up, lost and made again.

mod common;

use common::*;
use radio::{LinkState, News, Order, Scan, TroubleKind};
use standin::{Fault, On, alone};
use std::collections::BTreeSet;
use units::{SourceId, Span};

#[test]
fn devices_are_found_with_name_services_and_signal() {
    alone(
        "devices_are_found_with_name_services_and_signal",
        |folder| {
            let mut bench = Bench::new(folder, vec![trainer(), meter(2)], Vec::new());
            bench.scan(Scan::On);
            let mut names = BTreeSet::new();
            bench.until("both devices", |news| {
                if let News::Found(found) = news {
                    assert!(found.seen_at.is_some());
                    names.insert((found.name.clone(), found.services.clone(), found.rssi));
                }
                names.len() == 2
            });
            let expected = [
                (
                    Some("brake".to_owned()),
                    vec![0x180A, 0x1818, 0x1826],
                    Some(-60),
                ),
                (Some("meter 2".to_owned()), vec![0x180A, 0x1818], Some(-60)),
            ];
            assert_eq!(names.into_iter().collect::<Vec<_>>(), expected);
            // With something attached the scan is over, and comes back when it is let go.
            bench.attach_all(1);
            let scans = bench.standin.with_ledger(|ledger| ledger.scans);
            assert_eq!(scans.0, scans.1, "no scan while attached");
            bench.order(Order::Detach {
                source: SourceId(0),
            });
            bench.until("idle", |news| is_link(news, SourceId(0), LinkState::Idle));
            bench.until("a device again", |news| matches!(news, News::Found(_)));
        },
    );
}

#[test]
fn four_devices_are_linked_one_after_the_other_and_never_during_a_scan() {
    alone(
        "four_devices_are_linked_one_after_the_other_and_never_during_a_scan",
        |folder| {
            let devices = vec![trainer(), meter(2), meter(3), meter(4)];
            let mut bench = Bench::new(folder, devices, Vec::new());
            bench.scan(Scan::On);
            bench.until("a device", |news| matches!(news, News::Found(_)));
            bench.attach_all(4);
            let ledger = bench.standin.ledger();
            assert_eq!(ledger.links, [1, 1, 1, 1]);
            assert_eq!(
                (ledger.most_connecting, ledger.connects_while_scanning),
                (1, 0)
            );
            for number in 0..4 {
                bench.assert_nothing_lost(number, POWER);
            }
        },
    );
}

#[test]
fn every_value_sent_while_linked_arrives_through_lost_links_and_nothing_is_written() {
    alone(
        "every_value_sent_while_linked_arrives_through_lost_links_and_nothing_is_written",
        |folder| {
            let mut bench = Bench::live(folder, vec![trainer(), hurried(2)]);
            for epoch in 2..=4 {
                bench.listen(Span::from_millis(700));
                for device in 0..2 {
                    bench.standin.act(Fault::DropLink { device });
                }
                assert_eq!(bench.until_lost(0), "the link went down");
                bench.until_live(0, epoch);
                bench.until("the meter", |news| {
                    matches!(news, News::Packet(packet)
                        if packet.source.0 == 1 && packet.epoch == epoch)
                });
            }
            bench.listen(Span::from_millis(500));
            for (source, which) in [(0, BIKE), (0, POWER), (1, POWER)] {
                bench.assert_nothing_lost(source, which);
                assert!(
                    bench
                        .packets(source, which)
                        .last()
                        .is_some_and(|p| p.epoch == 4)
                );
            }
            let ledger = bench.standin.ledger();
            assert_eq!(ledger.links, [4, 4]);
            assert_eq!(
                ledger.written,
                [],
                "a link that comes back writes nothing by itself"
            );
            for link in 1..=4 {
                let again: BTreeSet<_> = ledger
                    .subscribed
                    .iter()
                    .filter(|(device, of, _)| *device == 0 && *of == link)
                    .map(|(_, _, which)| *which)
                    .collect();
                assert_eq!(
                    again,
                    BTreeSet::from([BIKE, POWER, CONTROL, STATUS]),
                    "link {link}"
                );
            }
            // Indications are switched on before anything else.
            assert_eq!(
                ledger.subscribed.iter().find(|s| s.0 == 0).map(|s| s.2),
                Some(CONTROL)
            );
        },
    );
}

#[test]
fn refused_and_unanswered_links_are_tried_again() {
    alone("refused_and_unanswered_links_are_tried_again", |folder| {
        let mut bench = Bench::new(folder, vec![meter(1)], Vec::new());
        bench.standin.act(Fault::RefuseLinks {
            device: 0,
            times: 2,
        });
        bench.attach_all(1);
        let words: Vec<&str> = bench
            .news
            .iter()
            .filter_map(|news| match news {
                News::Link {
                    state: LinkState::Lost,
                    words,
                    ..
                } => Some(words.as_str()),
                _ => None,
            })
            .collect();
        assert_eq!(words.len(), 2);
        assert!(
            words[0].contains("le-connection-abort-by-local"),
            "{words:?}"
        );
        assert!(words[0].contains("next attempt in 0.1 s"), "{words:?}");
        bench.standin.act(Fault::IgnoreLinks {
            device: 0,
            times: 1,
        });
        bench.standin.act(Fault::DropLink { device: 0 });
        bench.until_lost(0);
        assert!(bench.until_lost(0).contains("no answer in time"));
        bench.until_live(0, 2);
        bench.assert_nothing_lost(0, POWER);
    });
}

#[test]
fn a_device_that_does_not_let_us_link_is_named_in_words_with_a_remedy() {
    alone(
        "a_device_that_does_not_let_us_link_is_named_in_words_with_a_remedy",
        |folder| {
            let mut bench = Bench::new(folder, vec![meter(1)], Vec::new());
            bench.standin.act(Fault::RefuseLinks {
                device: 0,
                times: 5,
            });
            bench.attach(0);
            let trouble = bench.until("trouble", |news| matches!(news, News::Trouble(_)));
            let News::Trouble(trouble) = trouble else {
                panic!("{trouble:?}")
            };
            assert_eq!(trouble.source, Some(SourceId(0)));
            assert!(
                trouble.words.starts_with("no link after 3 attempts"),
                "{trouble}"
            );
            assert!(trouble.remedy.contains("other programs"), "{trouble}");
            bench.until_live(0, 1);
        },
    );
}

#[test]
fn late_services_are_waited_for_and_services_that_never_come_cost_one_attempt() {
    alone(
        "late_services_are_waited_for_and_services_that_never_come_cost_one_attempt",
        |folder| {
            let mut bench = Bench::new(folder, vec![meter(1)], Vec::new());
            bench.standin.act(Fault::DelayServices {
                device: 0,
                by: Some(Span::from_millis(500)),
            });
            bench.attach_all(1);
            assert_eq!(bench.standin.ledger().links, [1]);
            bench.standin.act(Fault::DelayServices {
                device: 0,
                by: None,
            });
            bench.standin.act(Fault::DropLink { device: 0 });
            bench.until_lost(0);
            // The link is up and its services never get known: given up, taken down.
            bench.until_lost(0);
            bench.standin.act(Fault::DelayServices {
                device: 0,
                by: Some(Span::ZERO),
            });
            bench.until_live(0, 2);
            bench.assert_nothing_lost_but_epochs(0);
        },
    );
}

#[test]
fn services_that_are_shown_bit_by_bit_are_read_again() {
    alone(
        "services_that_are_shown_bit_by_bit_are_read_again",
        |folder| {
            let mut bench = Bench::new(folder, vec![meter(1)], Vec::new());
            bench.standin.act(Fault::HideOnce {
                device: 0,
                characteristics: vec![POWER],
            });
            bench.attach_all(1);
            bench.until("a value", |news| matches!(news, News::Packet(_)));
            assert_eq!(bench.standin.ledger().links, [1]);
        },
    );
}

#[test]
fn handles_that_move_are_found_again() {
    alone("handles_that_move_are_found_again", |folder| {
        let mut bench = Bench::live(folder, vec![trainer()]);
        bench.listen(Span::from_millis(500));
        bench.standin.act(Fault::MoveHandles { device: 0 });
        bench.until_live(0, 2);
        bench.until(
            "a value",
            |news| matches!(news, News::Packet(p) if p.epoch == 2),
        );
        bench.write(1, &[0x00]);
        assert_eq!(bench.until_written(1), Ok(()));
        bench.assert_nothing_lost(0, BIKE);
    });
}

#[test]
fn a_device_that_the_system_forgets_is_looked_for_until_it_is_back() {
    alone(
        "a_device_that_the_system_forgets_is_looked_for_until_it_is_back",
        |folder| {
            let mut bench = Bench::live(folder, vec![meter(1), meter(2)]);
            bench.standin.act(Fault::RemoveDevice { device: 0 });
            bench.until_lost(0);
            bench.until_trouble(TroubleKind::OutOfReach);
            // Looked for in bursts: each scan that was started has ended by itself.
            bench.standin.act(Fault::ReturnDevice { device: 0 });
            bench.until_live(0, 2);
            bench.until(
                "a value",
                |news| matches!(news, News::Packet(p) if p.source.0 == 0 && p.epoch == 2),
            );
            let scans = bench.standin.with_ledger(|ledger| ledger.scans);
            assert!(scans.0 >= 2 && scans.0 == scans.1, "{scans:?}");
            // The other one was not disturbed.
            assert_eq!(bench.standin.ledger().links[1], 1);
            bench.assert_nothing_lost(1, POWER);
        },
    );
}

#[test]
fn a_short_silence_is_answered_by_subscribing_again_and_a_long_one_by_a_new_link() {
    alone(
        "a_short_silence_is_answered_by_subscribing_again_and_a_long_one_by_a_new_link",
        |folder| {
            let mut bench = Bench::live(folder, vec![meter(1)]);
            bench.listen(Span::from_millis(400));
            bench.standin.act(Fault::Silence {
                device: 0,
                lasting: Span::from_millis(1300),
            });
            bench.listen(Span::from_millis(2000));
            let ledger = bench.standin.ledger();
            assert_eq!(ledger.links, [1], "a short silence costs no link");
            assert_eq!(ledger.subscribed.len(), 2);
            bench.standin.act(Fault::Silence {
                device: 0,
                lasting: Span::from_millis(2500),
            });
            let words = bench.until_lost(0);
            assert!(words.starts_with("2A63 silent for 2.0 s"), "{words}");
            bench.until_live(0, 2);
            bench.until(
                "a value",
                |news| matches!(news, News::Packet(p) if p.epoch == 2),
            );
            bench.assert_nothing_lost(0, POWER);
            assert_eq!(bench.troubles(), []);
        },
    );
}

#[test]
fn a_subscription_that_wants_pairing_says_so_and_what_to_do() {
    alone(
        "a_subscription_that_wants_pairing_says_so_and_what_to_do",
        |folder| {
            let mut bench = Bench::new(folder, vec![trainer()], Vec::new());
            bench.standin.act(Fault::AttError {
                device: 0,
                characteristic: CONTROL,
                on: On::Subscribe,
                code: 0x05,
                times: 1,
            });
            bench.attach_all(1);
            let trouble = bench.news.iter().find_map(|news| match news {
                News::Trouble(trouble) => Some(trouble.clone()),
                _ => None,
            });
            let trouble = trouble.expect("it is said");
            assert_eq!(trouble.kind, TroubleKind::NotPaired);
            assert_eq!(
                trouble.to_string(),
                "2AD9 cannot be switched on: the device is not paired; \
             pair the device in the system's Bluetooth settings"
            );
            bench.assert_nothing_lost(0, BIKE);
        },
    );
}
