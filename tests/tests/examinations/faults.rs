//! What fails: drop-outs to zero, frozen values, missing packets, lost links, zeros after efforts.

use crate::dynamics::{BURSTS, STEPS};
use acceptance::rides::{Ride, clean, device, holds, ride};
use analysis::examinations::DropOutKind;
use analysis::examinations::drop_out_rates::DropOutRate;
use rig::Fault;
use rig::spec::{PlannedUpset, UpsetKind};
use std::sync::LazyLock;
use units::{Span, Timestamp};

static FAILING: LazyLock<Ride> = LazyLock::new(|| {
    let mut file = clean();
    let planned = |kind, after_ridden_s, seconds| PlannedUpset {
        kind,
        after_ridden_s,
        seconds,
    };
    let device = device(&mut file);
    device.upsets.planned = vec![
        planned(UpsetKind::Zero, 110.0, 4.0),
        planned(UpsetKind::Zero, 330.0, 7.0),
        planned(UpsetKind::Frozen, 180.0, 14.0),
        planned(UpsetKind::Silent, 260.0, 6.0),
    ];
    device.link.lost_links = vec![(520.0, 5.0)];
    device.link.lost_pct = 3.0;
    ride(STEPS, file, 21)
});

static SOUND: LazyLock<Ride> = LazyLock::new(|| ride(STEPS, clean(), 22));

fn rate(ride: &Ride, kind: DropOutKind) -> DropOutRate {
    let found = ride.findings.examinations.drop_outs.as_ref().unwrap();
    let mut kinds = found.result.kinds.iter();
    *kinds.find(|it| it.kind == kind).unwrap()
}

/// What the rig did to the device: kind, beginning and end.
fn injected(ride: &Ride, wanted: UpsetKind) -> Vec<(Timestamp, Timestamp)> {
    let faults = ride.rig.truth().faults().iter();
    faults
        .filter_map(|fault| match *fault {
            Fault::DropOut {
                source,
                kind,
                from,
                to,
            } if source == ride.under_test && kind == wanted => Some((from, to)),
            _ => None,
        })
        .collect()
}

#[test]
fn every_kind_of_failure_is_counted_where_it_is_and_none_where_not() {
    for (kind, upset, slack_s) in [
        (DropOutKind::ZeroUnderLoad, UpsetKind::Zero, 1.5),
        (DropOutKind::Frozen, UpsetKind::Frozen, 2.5),
        (DropOutKind::MissingPackets, UpsetKind::Silent, 1.5),
    ] {
        let truth = injected(&FAILING, upset);
        assert!(!truth.is_empty(), "{kind:?} was not injected");
        let found: Vec<_> = FAILING
            .findings
            .dropouts
            .iter()
            .filter(|it| it.kind == kind)
            .collect();
        assert_eq!(found.len(), truth.len(), "{kind:?}: {found:?}");
        for (it, (from, to)) in found.iter().zip(truth) {
            let slack = Span::from_secs_f64(slack_s);
            assert!((it.from - from).abs() < slack, "{it:?}, truly {from}");
            assert!((it.to - to).abs() < slack, "{it:?}, truly {to}");
            if kind == DropOutKind::ZeroUnderLoad {
                let (from_s, to_s) = (it.from.as_secs_f64(), it.to.as_secs_f64());
                let crank = &FAILING.rig.truth().crank_power_w;
                let kj = Ride::true_mean(crank, from_s - 1.0, to_s - 1.0) * (to_s - from_s) / 1e3;
                assert!((it.lost_kj / kj - 1.0).abs() < 0.1, "{it:?}, truly {kj} kJ");
            }
        }
        let hours = FAILING.findings.duration_s / 3600.0;
        let rate = rate(&FAILING, kind);
        // The interval of a rate is exact for a Poisson count: it holds the true rate of a process
        // that gives this count as its mean.
        holds(
            "rate per hour",
            rate.interval_per_hour,
            rate.count as f64 / hours,
        );
    }
    assert_eq!(rate(&FAILING, DropOutKind::Reconnection).count, 1);
    let faults = SOUND.findings.dropouts.iter();
    let faults: Vec<_> = faults
        .filter(|it| it.kind != DropOutKind::Coasting)
        .collect();
    assert!(faults.is_empty(), "{faults:?}");
    for kind in [
        DropOutKind::ZeroUnderLoad,
        DropOutKind::Frozen,
        DropOutKind::MissingPackets,
        DropOutKind::Reconnection,
    ] {
        assert_eq!(rate(&SOUND, kind).count, 0, "{kind:?}");
    }
}

#[test]
fn lost_packets_are_counted_in_their_interval() {
    let of_device = |ride: &Ride| {
        let name = ride.findings.under_test.clone().unwrap();
        let found = ride.findings.examinations.radio.as_ref().unwrap();
        let mut streams = found.result.streams.iter();
        streams.find(|it| it.source == name).unwrap().clone()
    };
    let failing = of_device(&FAILING);
    // The planned silence of 6 s takes 24 packets of one link away besides the 3 % by chance.
    let expected = (failing.packets + failing.missing) as f64;
    let by_chance = failing.loss_interval.map(|share| share - 24.0 / expected);
    holds("share lost", by_chance, 0.03);
    assert_eq!(failing.links, 2);
    let sound = of_device(&SOUND);
    assert_eq!((sound.missing, sound.links), (0, 1), "{sound:?}");
}

/// The device shows nothing for a while when the rider goes on after an effort.
#[test]
fn zeros_after_an_effort() {
    let sound = ride(BURSTS, clean(), 23);
    let bursts = |ride: &Ride| {
        ride.findings
            .examinations
            .bursts
            .as_ref()
            .unwrap()
            .result
            .clone()
    };
    let before = bursts(&sound);
    assert!(before.efforts.iter().all(|it| it.zero_after_s == 0.0));
    // When the rider pedals again after the first effort, by the same rider on the same bench.
    let top_s = before.efforts[0].onset.as_secs_f64() + 8.0;
    let crank = &sound.rig.truth().crank_power_w;
    let resumes_s = (0..400)
        .map(|i| top_s + 0.25 * f64::from(i))
        .skip_while(|at| Ride::true_mean(crank, *at, at + 0.5) > 20.0)
        .find(|at| Ride::true_mean(crank, *at, at + 2.0) > 40.0)
        .unwrap_or(top_s + 6.0);
    // The rig counts the time in which the rider works against a load.
    let cadence = &sound.rig.truth().cadence_rpm;
    let ridden_s = 0.2
        * cadence
            .iter()
            .zip(crank.values())
            .filter(|((at, rpm), watts)| {
                at.as_secs_f64() < resumes_s + 1.0 && *rpm > 31.0 && **watts > 20.0
            })
            .count() as f64;
    let mut file = clean();
    device(&mut file).upsets.planned = vec![PlannedUpset {
        kind: UpsetKind::Zero,
        after_ridden_s: ridden_s,
        seconds: 6.0,
    }];
    let failing = ride(BURSTS, file, 23);
    let after = bursts(&failing);
    let zero_s = after.efforts[0].zero_after_s;
    assert!(
        (zero_s - 6.0).abs() < 2.0,
        "{zero_s} s of zeros: {:?}, {:?}",
        after.efforts[0],
        injected(&failing, UpsetKind::Zero)
    );
    assert!(after.efforts[1..].iter().all(|it| it.zero_after_s == 0.0));
}
