//! The system's Bluetooth itself: missing, switched off, restarted, dead.

mod common;

use common::*;
use radio::{AdapterState, Anchor, Awake, LinkState, News, Radio, RadioConfig, TroubleKind};
use standin::{Fault, PrivateBus, alone};
use units::{Span, Timestamp};

fn is_adapter(news: &News, wanted: AdapterState) -> bool {
    matches!(news, News::Adapter { state, .. } if *state == wanted)
}

fn start_error() -> String {
    let mut config = RadioConfig::new(Anchor::now(Timestamp::ZERO));
    config.patience = QUICK;
    Radio::start(config)
        .expect_err("there is no service")
        .to_string()
}

#[test]
fn without_a_service_the_radio_says_what_to_do() {
    alone("without_a_service_the_radio_says_what_to_do", |folder| {
        let bus = PrivateBus::start(folder).expect("a bus without anybody on it");
        let words = start_error();
        assert!(
            words.contains("the system's Bluetooth service does not answer"),
            "{words}"
        );
        assert!(words.contains("systemctl start bluetooth"), "{words}");
        drop(bus);
        let words = start_error();
        assert!(
            words.contains("the system's Bluetooth service does not answer"),
            "{words}"
        );
    });
}

#[test]
fn an_adapter_that_is_switched_off_and_on_is_followed() {
    alone(
        "an_adapter_that_is_switched_off_and_on_is_followed",
        |folder| {
            let mut bench = Bench::live(folder, vec![meter(1), meter(2)]);
            bench.standin.act(Fault::AdapterOff);
            bench.until("off", |news| is_adapter(news, AdapterState::Off));
            bench.until_trouble(TroubleKind::AdapterOff);
            bench.listen(Span::from_millis(800));
            assert_eq!(
                bench.standin.ledger().links,
                [1, 1],
                "nobody tries without an adapter"
            );
            bench.standin.act(Fault::AdapterOn);
            bench.until("on", |news| is_adapter(news, AdapterState::On));
            for source in [0, 1] {
                bench.until(
                    "a value",
                    |news| matches!(news, News::Packet(p) if p.source.0 == source && p.epoch == 2),
                );
                bench.assert_nothing_lost(source, POWER);
            }
        },
    );
}

#[test]
fn a_service_that_restarts_is_noticed_and_its_devices_come_back() {
    alone(
        "a_service_that_restarts_is_noticed_and_its_devices_come_back",
        |folder| {
            let mut bench = Bench::live(folder, vec![trainer(), meter(2)]);
            bench.listen(Span::from_millis(300));
            bench.standin.act(Fault::LoseName);
            bench.until_trouble(TroubleKind::NoService);
            bench.until("missing", |news| is_adapter(news, AdapterState::Missing));
            bench.standin.act(Fault::TakeName);
            bench.until("back", |news| is_adapter(news, AdapterState::On));
            for source in [0, 1] {
                bench.until(
                    "a value",
                    |news| matches!(news, News::Packet(p) if p.source.0 == source && p.epoch >= 2),
                );
                bench.assert_nothing_lost_but_epochs(source);
            }
            assert_eq!(bench.standin.ledger().written, []);
        },
    );
}

#[test]
fn a_bus_that_dies_and_returns_is_survived() {
    alone("a_bus_that_dies_and_returns_is_survived", |folder| {
        let mut bench = Bench::live(folder, vec![meter(1)]);
        bench.listen(Span::from_millis(300));
        bench.standin.act(Fault::KillBus);
        bench.until("missing", |news| is_adapter(news, AdapterState::Missing));
        bench.until("lost", |news| {
            is_link(news, units::SourceId(0), LinkState::Lost)
        });
        bench.listen(Span::from_millis(1500));
        bench.standin.act(Fault::RestartBus);
        bench.until("back", |news| is_adapter(news, AdapterState::On));
        bench.until(
            "a value",
            |news| matches!(news, News::Packet(p) if p.epoch >= 2),
        );
        bench.assert_nothing_lost_but_epochs(0);
    });
}

#[test]
fn the_machine_is_kept_awake_for_as_long_as_somebody_wants_it() {
    let name = "the_machine_is_kept_awake_for_as_long_as_somebody_wants_it";
    alone(name, |folder| {
        let error = Awake::hold("a test").expect_err("there is no system to ask");
        assert!(
            error.to_string().contains("switch automatic sleep off"),
            "{error}"
        );
        let mut bench = Bench::new(folder, vec![quiet()], Vec::new());
        let awake = Awake::hold("a test").expect("the stand-in promises it");
        assert_eq!(bench.standin.with_ledger(|ledger| ledger.awake), (1, 0));
        drop(awake);
        for _ in 0..100 {
            if bench.standin.with_ledger(|ledger| ledger.awake) == (1, 1) {
                return;
            }
            bench.listen(Span::from_millis(50));
        }
        panic!("the promise was not given back");
    });
}

#[test]
fn an_adapter_that_is_pulled_out_and_put_back_is_followed() {
    let name = "an_adapter_that_is_pulled_out_and_put_back_is_followed";
    alone(name, |folder| {
        let mut bench = Bench::live(folder, vec![meter(1)]);
        bench.standin.act(Fault::UnplugAdapter);
        bench.until_lost(0);
        bench.until_trouble(TroubleKind::NoAdapter);
        bench.listen(Span::from_millis(600));
        assert_eq!(bench.standin.ledger().links, [1], "nobody tries without it");
        bench.standin.act(Fault::PlugAdapter);
        bench.until(
            "a value",
            |news| matches!(news, News::Packet(p) if p.source.0 == 0 && p.epoch == 2),
        );
        bench.assert_nothing_lost(0, POWER);
    });
}
