//! Writes: never lost in silence, never late, never by themselves.

mod common;

use common::*;
use radio::{LinkState, News, Order, TroubleKind};
use standin::{Fault, On, alone};
use std::time::Duration;
use units::{AttError, SourceId, Span};

fn settle() {
    // A fault is taken by the stand-in's thread within a few milliseconds.
    std::thread::sleep(Duration::from_millis(60));
}

#[test]
fn an_indication_may_come_before_the_answer_to_its_write() {
    alone(
        "an_indication_may_come_before_the_answer_to_its_write",
        |folder| {
            let mut bench = Bench::live(folder, vec![trainer()]);
            bench.standin.act(Fault::DelayWriteAnswers {
                device: 0,
                by: Span::from_millis(200),
            });
            settle();
            bench.write(1, &[0x00]);
            assert_eq!(bench.until_written(1), Ok(()));
            let done = bench
                .news
                .iter()
                .position(|n| matches!(n, News::WriteDone { .. }));
            let said = bench.news.iter().position(
            |n| matches!(n, News::Packet(p) if p.characteristic == CONTROL && p.bytes == [0x80, 0, 1]),
        );
            assert!(
                said.is_some() && said < done,
                "indication at {said:?}, answer at {done:?}"
            );
        },
    );
}

#[test]
fn a_control_point_takes_a_target_and_says_so() {
    alone("a_control_point_takes_a_target_and_says_so", |folder| {
        let mut bench = Bench::live(folder, vec![trainer()]);
        for (token, bytes, answer) in [
            (1, vec![0x00], [0x80, 0x00, 0x01]),
            (2, vec![0x05, 0xC8, 0x00], [0x80, 0x05, 0x01]),
        ] {
            bench.write(token, &bytes);
            bench.until("an indication", |news| {
                matches!(news, News::Packet(p) if p.characteristic == CONTROL && p.bytes == answer)
            });
        }
        bench.until("the echo", |news| {
            matches!(news, News::Packet(p) if p.characteristic == STATUS
                && p.bytes == [0x08, 0xC8, 0x00])
        });
    });
}

#[test]
fn a_release_overtakes_the_targets_that_wait() {
    alone("a_release_overtakes_the_targets_that_wait", |folder| {
        let mut bench = Bench::live(folder, vec![trainer()]);
        bench.standin.act(Fault::DelayWriteAnswers {
            device: 0,
            by: Span::from_millis(300),
        });
        settle();
        for (token, target_w) in [(1, 150_i16), (2, 250), (3, 400), (4, 0)] {
            let [low, high] = target_w.to_le_bytes();
            bench.write(token, &[0x05, low, high]);
        }
        let overtaken = AttError::Other("overtaken by a newer write".to_owned());
        assert_eq!(bench.until_written(2), Err(overtaken.clone()));
        assert_eq!(bench.until_written(3), Err(overtaken));
        bench.until_written(4).expect("the release is answered");
        let written: Vec<Vec<u8>> = bench
            .standin
            .ledger()
            .written
            .into_iter()
            .map(|written| written.bytes)
            .collect();
        assert_eq!(written, [vec![0x05, 150, 0], vec![0x05, 0, 0]]);
    });
}

#[test]
fn attribute_errors_keep_their_number() {
    alone("attribute_errors_keep_their_number", |folder| {
        let mut bench = Bench::live(folder, vec![trainer()]);
        for (token, code) in [(1, 0xFD), (2, 0x03), (3, 0x0D), (4, 0x80)] {
            bench.standin.act(Fault::AttError {
                device: 0,
                characteristic: CONTROL,
                on: On::Write,
                code,
                times: 1,
            });
            settle();
            bench.write(token, &[0x00]);
            assert_eq!(bench.until_written(token), Err(AttError::Code(code)));
        }
        // A second request while the first procedure runs.
        bench.write(5, &[0x00]);
        assert_eq!(bench.until_written(5), Ok(()));
        bench.write(6, &[0x00]);
        assert_eq!(bench.until_written(6), Err(AttError::Code(0xFE)));
        assert_eq!(bench.standin.ledger().links, [1], "a refusal costs no link");
    });
}

#[test]
fn a_device_without_indications_costs_no_link() {
    alone("a_device_without_indications_costs_no_link", |folder| {
        let mut bench = Bench::live(folder, vec![trainer()]);
        bench.standin.act(Fault::Swallow {
            device: 0,
            characteristic: CONTROL,
            times: 1,
        });
        settle();
        bench.write(1, &[0x00]);
        assert_eq!(bench.until_written(1), Ok(()));
        bench.listen(Span::from_millis(500));
        assert_eq!(bench.packets(0, CONTROL).len(), 0);
        assert_eq!(bench.standin.ledger().links, [1]);
    });
}

#[test]
fn a_write_without_an_answer_ends_the_link_and_is_said() {
    alone(
        "a_write_without_an_answer_ends_the_link_and_is_said",
        |folder| {
            let mut bench = Bench::live(folder, vec![trainer()]);
            bench.standin.act(Fault::IgnoreWrites {
                device: 0,
                times: 1,
            });
            settle();
            bench.write(1, &[0x00]);
            assert_eq!(
                bench.until_written(1),
                Err(AttError::Other("no answer in time".to_owned()))
            );
            bench.until_live(0, 2);
            assert!(bench.troubles().contains(&TroubleKind::Unanswered));
            bench.write(2, &[0x00]);
            assert_eq!(bench.until_written(2), Ok(()));
        },
    );
}

#[test]
fn a_write_to_a_lost_device_is_refused_at_once_and_never_sent_later() {
    alone(
        "a_write_to_a_lost_device_is_refused_at_once_and_never_sent_later",
        |folder| {
            let mut bench = Bench::live(folder, vec![trainer()]);
            bench.standin.act(Fault::DropLink { device: 0 });
            bench.until_lost(0);
            bench.write(1, &[0x05, 0x90, 0x01]);
            assert_eq!(bench.until_written(1), Err(AttError::NotConnected));
            bench.until_live(0, 2);
            bench.listen(Span::from_millis(500));
            assert_eq!(bench.standin.ledger().written, []);
        },
    );
}

#[test]
fn shutting_down_sends_the_pending_release_and_takes_the_link_down() {
    alone(
        "shutting_down_sends_the_pending_release_and_takes_the_link_down",
        |folder| {
            let mut bench = Bench::live(folder, vec![trainer(), meter(2)]);
            bench.standin.act(Fault::DelayWriteAnswers {
                device: 0,
                by: Span::from_millis(150),
            });
            settle();
            bench.write(1, &[0x05, 0x90, 0x01]);
            bench.write(2, &[0x01]);
            bench.order(Order::Shutdown);
            bench.until("the end", |news| matches!(news, News::Stopped));
            let written: Vec<Vec<u8>> = bench
                .standin
                .ledger()
                .written
                .into_iter()
                .map(|written| written.bytes)
                .collect();
            assert_eq!(written, [vec![0x05, 0x90, 0x01], vec![0x01]]);
            for source in [0, 1] {
                assert!(
                    bench
                        .news
                        .iter()
                        .any(|n| is_link(n, SourceId(source), LinkState::Idle))
                );
            }
            assert!(bench.radio.order(Order::Shutdown).is_err());
        },
    );
}
