//! Rates of drop-outs with exact intervals, from the classified list.

use super::bins::Paired;
use super::given::{DropOut, DropOutKind};
use super::prepared::Prepared;
use super::words;
use crate::outcome::{Ink, Layer, Outcome, Tested, not_tested};
use crate::stats::intervals::poisson_interval;

/// Name of the examination.
pub const NAME: &str = "drop-outs";

/// Rates per kind.
#[derive(Clone, Debug, PartialEq)]
pub struct DropOutRates {
    /// Hours observed.
    pub hours: f64,
    /// One entry per kind, also where none was seen.
    pub kinds: Vec<DropOutRate>,
    /// Work lost in all faults, kJ; coasting is no fault.
    pub lost_kj: f64,
}

/// The rate of one kind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DropOutRate {
    /// Which kind.
    pub kind: DropOutKind,
    /// How many.
    pub count: u64,
    /// Per hour.
    pub per_hour: f64,
    /// Exact 95 % interval of the rate, per hour.
    pub interval_per_hour: [f64; 2],
    /// Seconds in all.
    pub seconds: f64,
    /// The longest, s.
    pub longest_s: f64,
    /// Work lost, kJ.
    pub lost_kj: f64,
}

/// Shortest time that says anything about a rate, s.
const LEAST_S: f64 = 60.0;

/// Counts drop-outs and gives their rates.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to ride.
pub fn drop_out_rates(given: &Prepared<'_>) -> Outcome<DropOutRates> {
    let paired = Paired::new(given, NAME)?;
    let seconds = paired
        .reference
        .extent()
        .map_or(0.0, |[from_s, to_s]| to_s - from_s);
    if seconds < LEAST_S {
        return not_tested(
            NAME,
            format!("only {seconds:.0} s were recorded; ride freely for half an hour or more"),
        );
    }
    let hours = seconds / 3600.0;
    let kinds: Vec<DropOutRate> = DropOutKind::ALL
        .into_iter()
        .map(|kind| rate(kind, given.dropouts, hours))
        .collect();
    let faults: Vec<&DropOutRate> = kinds
        .iter()
        .filter(|rate| rate.kind != DropOutKind::Coasting)
        .collect();
    let count: u64 = faults.iter().map(|rate| rate.count).sum();
    let lost_kj: f64 = faults.iter().map(|rate| rate.lost_kj).sum();
    let interval = poisson_interval(count).map(|mean| mean / hours);
    let per_hour = format!(
        "95\u{a0}% interval {:.1} to {:.1} per hour",
        interval[0], interval[1]
    );
    let minutes = seconds / 60.0;
    let sentence = if count == 0 {
        format!("No drop-out in {minutes:.0} minutes ({per_hour}).")
    } else {
        let parts: Vec<String> = faults
            .iter()
            .filter(|rate| rate.count > 0)
            .map(|rate| {
                format!(
                    "{} × {} (longest {:.0} s)",
                    rate.count,
                    rate.kind.words(),
                    rate.longest_s
                )
            })
            .collect();
        format!(
            "{count} drop-outs in {minutes:.0} minutes ({per_hour}), {lost_kj:.1} kJ lost: {}.",
            parts.join(", ")
        )
    };
    let layers = given
        .dropouts
        .iter()
        .map(|dropout| Layer::Span {
            ink: if dropout.kind == DropOutKind::Coasting {
                Ink::Excluded
            } else {
                Ink::Beyond
            },
            label: dropout.kind.words().into(),
            from: dropout.from.as_secs_f64() / 60.0,
            to: dropout.to.as_secs_f64() / 60.0,
        })
        .collect();
    let plots = vec![words::plot(
        "drop-outs",
        "Drop-outs over time",
        ["time, minutes", ""],
        layers,
        format!("{minutes:.0} minutes; zeros of drop-outs are never averaged in"),
    )];
    Ok(Tested {
        result: DropOutRates {
            hours,
            kinds,
            lost_kj,
        },
        sentence,
        plots,
    })
}

fn rate(kind: DropOutKind, dropouts: &[DropOut], hours: f64) -> DropOutRate {
    let of_kind = || dropouts.iter().filter(|dropout| dropout.kind == kind);
    let seconds = |dropout: &DropOut| (dropout.to - dropout.from).as_secs_f64().max(0.0);
    let count = of_kind().count() as u64;
    DropOutRate {
        kind,
        count,
        per_hour: count as f64 / hours,
        interval_per_hour: poisson_interval(count).map(|mean| mean / hours),
        seconds: of_kind().map(seconds).sum(),
        longest_s: of_kind().map(seconds).fold(0.0, f64::max),
        lost_kj: of_kind().map(|dropout| dropout.lost_kj).sum(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::synthetic::{Session, at};
    use super::*;

    fn dropout(kind: DropOutKind, from: f64, to: f64, lost_kj: f64) -> DropOut {
        DropOut {
            kind,
            from: at(from),
            to: at(to),
            lost_kj,
        }
    }

    #[test]
    fn rates_have_exact_intervals_and_coasting_is_no_fault() {
        let mut session = Session::pair(7200, |_| (200.0, 200.0), Session::usual_motion);
        session.dropouts = vec![
            dropout(DropOutKind::ZeroUnderLoad, 100.0, 103.0, 0.6),
            dropout(DropOutKind::Coasting, 200.0, 260.0, 0.0),
            dropout(DropOutKind::ZeroUnderLoad, 300.0, 301.0, 0.2),
        ];
        let tested = drop_out_rates(&session.given()).unwrap();
        let zero = tested.result.kinds[1];
        assert_eq!((zero.count, zero.seconds, zero.longest_s), (2, 4.0, 3.0));
        // Exact interval of two events: 0.2422 to 7.2247 (Garwood 1936).
        let [low, high] = zero.interval_per_hour;
        assert!((low * tested.result.hours - 0.2422).abs() < 1e-3, "{low}");
        assert!((high * tested.result.hours - 7.2247).abs() < 1e-3, "{high}");
        assert!((tested.result.lost_kj - 0.8).abs() < 1e-12);
        assert!(tested.sentence.starts_with("2 drop-outs"));
    }

    #[test]
    fn none_is_a_rate_too() {
        let session = Session::pair(3600, |_| (200.0, 200.0), Session::usual_motion);
        let tested = drop_out_rates(&session.given()).unwrap();
        assert!(tested.result.kinds.iter().all(|kind| kind.count == 0));
        assert!(tested.sentence.starts_with("No drop-out"));
        assert!(drop_out_rates(&Session::empty().given()).is_err());
        let short = Session::pair(10, |_| (200.0, 200.0), Session::usual_motion);
        assert!(drop_out_rates(&short.given()).is_err());
    }
}
