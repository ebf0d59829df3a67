//! What a radio makes of calls that never answer, queues that lose and objects that are gone.

use super::bench::{Bench, SOURCE, numbers, troubles};
use super::host::{POWER, Turn};
use crate::news::{AdapterState, LinkState, News, TroubleKind};
use crate::order::{Order, Token};
use std::sync::atomic::Ordering::SeqCst;
use std::time::Duration;
use units::AttError;

#[tokio::test(start_paused = true)]
async fn a_queue_of_sixteen_loses_nothing_while_the_program_does_not_listen() {
    // The program takes nothing at all; its channel is full after three of the news.
    let bench = Bench::new(3);
    bench.attach().await;
    tokio::time::sleep(Duration::from_secs(1)).await;
    for number in 0..2000 {
        bench.speak(number);
        if number % 16 == 15 {
            tokio::time::sleep(Duration::from_micros(100)).await;
        }
    }
    let got = bench
        .until(|news| matches!(news, News::Packet(p) if p.bytes == 1999_u32.to_le_bytes()))
        .await;
    assert_eq!(numbers(&got), (0..2000).collect::<Vec<_>>());
}

#[tokio::test(start_paused = true)]
async fn an_object_that_is_no_longer_available_is_replaced_by_a_new_one() {
    let bench = Bench::attached().await;
    bench.live().await;
    bench.fake.drop_link();
    let got = bench.live().await;
    assert!(matches!(
        got.last(),
        Some(News::Link {
            source: SOURCE,
            epoch: 2,
            state: LinkState::Live,
            ..
        })
    ));
    assert_eq!(bench.fake.found.load(SeqCst), 2);
    assert_eq!(troubles(&got), []);
    assert!(
        bench.fake.written.lock().unwrap().is_empty(),
        "nobody ordered a write"
    );
}

#[tokio::test(start_paused = true)]
async fn a_connect_that_never_answers_is_given_up_after_twenty_seconds_and_tried_again() {
    let bench = Bench::new(4096);
    bench
        .fake
        .connects
        .lock()
        .unwrap()
        .extend([Turn::Never, Turn::Fails]);
    bench.attach().await;
    bench.live().await;
    // 20 s + 0.5 s + a refusal + 1 s + a burst of 4 s.
    assert!(
        (25.5..26.0).contains(&bench.seconds()),
        "{}",
        bench.seconds()
    );
}

#[tokio::test(start_paused = true)]
async fn a_write_that_is_never_answered_is_said_and_ends_the_link() {
    let bench = Bench::attached().await;
    bench.live().await;
    bench.fake.writes.lock().unwrap().push_back(Turn::Never);
    let before = bench.seconds();
    bench.write(1, 0x10).await;
    bench.speak(0);
    let fake = bench.fake.clone();
    let values = tokio::spawn(async move {
        loop {
            let _ = fake.values.send((POWER, vec![0; 4]));
            tokio::time::sleep(Duration::from_secs(1)).await;
        }
    });
    let got = bench
        .until(|n| {
            matches!(
                n,
                News::Link {
                    state: LinkState::Lost,
                    ..
                }
            )
        })
        .await;
    values.abort();
    let after = bench.seconds() - before;
    assert!((10.0..10.5).contains(&after), "{after}");
    assert_eq!(troubles(&got), [TroubleKind::Unanswered]);
    let done = got.iter().find_map(|news| match news {
        News::WriteDone {
            token: Token(1),
            result,
            ..
        } => Some(result.clone()),
        _ => None,
    });
    assert_eq!(
        done,
        Some(Err(AttError::Other("no answer in time".to_owned())))
    );
}

#[tokio::test(start_paused = true)]
async fn the_newest_write_overtakes_those_that_wait() {
    let bench = Bench::attached().await;
    bench.live().await;
    *bench.fake.slow_write.lock().unwrap() = Some(Duration::from_millis(200));
    for (token, byte) in [(1, 10), (2, 20), (3, 30), (4, 0)] {
        bench.write(token, byte).await;
    }
    let got = bench
        .until(|n| {
            matches!(
                n,
                News::WriteDone {
                    token: Token(4),
                    ..
                }
            )
        })
        .await;
    assert_eq!(*bench.fake.written.lock().unwrap(), [vec![10], vec![0]]);
    let results: Vec<(u64, bool)> = got
        .iter()
        .filter_map(|news| match news {
            News::WriteDone { token, result, .. } => Some((token.0, result.is_ok())),
            _ => None,
        })
        .collect();
    assert_eq!(results, [(2, false), (3, false), (1, true), (4, true)]);
}

#[tokio::test(start_paused = true)]
async fn writes_do_not_outlive_a_link() {
    let bench = Bench::attached().await;
    bench.live().await;
    *bench.fake.slow_write.lock().unwrap() = Some(Duration::from_secs(2));
    bench.write(1, 0xFF).await;
    bench.write(2, 0xFE).await;
    tokio::time::sleep(Duration::from_millis(50)).await;
    bench.fake.drop_link();
    let got = bench.live().await;
    let refused: Vec<_> = got
        .iter()
        .filter(|n| {
            matches!(
                n,
                News::WriteDone {
                    result: Err(AttError::NotConnected),
                    ..
                }
            )
        })
        .collect();
    assert_eq!(refused.len(), 2);
    tokio::time::sleep(Duration::from_secs(5)).await;
    assert!(bench.fake.written.lock().unwrap().is_empty());
}

#[tokio::test(start_paused = true)]
async fn a_pending_release_goes_out_before_the_radio_stops() {
    let bench = Bench::attached().await;
    bench.live().await;
    *bench.fake.slow_write.lock().unwrap() = Some(Duration::from_millis(300));
    bench.write(1, 0x40).await;
    bench.write(2, 0x00).await;
    bench.order(Order::Shutdown).await;
    let got = bench.until(|n| matches!(n, News::Stopped)).await;
    assert_eq!(
        *bench.fake.written.lock().unwrap(),
        [vec![0x40], vec![0x00]]
    );
    assert!(!bench.fake.linked.load(SeqCst));
    let last_done = got
        .iter()
        .rposition(|n| matches!(n, News::WriteDone { .. }));
    let idle = got.iter().position(|n| {
        matches!(
            n,
            News::Link {
                state: LinkState::Idle,
                ..
            }
        )
    });
    assert!(last_done < idle);
    bench.hub.await.unwrap();
}

#[tokio::test(start_paused = true)]
async fn a_service_that_stops_answering_is_noticed_and_left_when_it_is_back() {
    let bench = Bench::attached().await;
    bench.live().await;
    let renewals = bench.fake.renewals.load(SeqCst);
    bench.fake.healthy.store(false, SeqCst);
    let gone = |n: &News| {
        matches!(
            n,
            News::Adapter {
                state: AdapterState::Missing,
                ..
            }
        )
    };
    let got = bench.until(gone).await;
    assert_eq!(troubles(&got), [TroubleKind::NoService]);
    bench
        .until(|n| {
            matches!(
                n,
                News::Link {
                    state: LinkState::Lost,
                    ..
                }
            )
        })
        .await;
    bench.fake.healthy.store(true, SeqCst);
    bench.live().await;
    assert!(bench.fake.renewals.load(SeqCst) > renewals);
}

#[tokio::test(start_paused = true)]
async fn a_day_of_random_loss_leaves_nothing_stuck() {
    let bench = Bench::attached().await;
    bench.live().await;
    // A linear congruential generator is chance enough here (constants: Numerical Recipes).
    let mut chance = 12345_u32;
    let mut next = move |most: u32| {
        chance = chance.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (chance >> 8) % most
    };
    for round in 0..2000 {
        match next(4) {
            0 => bench.fake.drop_link(),
            1 => bench.fake.connects.lock().unwrap().push_back(Turn::Never),
            2 => bench.fake.connects.lock().unwrap().push_back(Turn::Fails),
            _ => bench.speak(round),
        }
        tokio::time::sleep(Duration::from_secs(u64::from(next(40)))).await;
        bench.news.try_iter().count();
    }
    bench.fake.connects.lock().unwrap().clear();
    bench.fake.drop_link();
    bench.live().await;
    assert!(bench.seconds() > 30_000.0);
}
