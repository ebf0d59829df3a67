//! The recorded session as the analysis takes it.

use crate::machine::Bench;
use analysis::evidence::{Evidence, Feeds, InvalidSpan, Stream, ZeroOffset};
use analysis::findings::Findings;
use units::Timestamp;

impl Bench {
    /// Everything recorded up to `end`.
    pub fn evidence(&self, end: Timestamp) -> Evidence {
        let (steps, commands, mut invalid) = self.record.until(end);
        if steps.is_empty() {
            // Whatever was pedalled before the script began was not ridden for any question.
            invalid.push(InvalidSpan {
                from: Timestamp::ZERO,
                to: end,
                reason: "the script was not begun".to_owned(),
            });
        }
        let mut streams: Vec<Stream> = self
            .instruments
            .iter()
            .flat_map(|one| one.evidence())
            .collect();
        let judged = steps.iter().filter(|step| step.feeds != Feeds::Nothing);
        let judged_from = judged.map(|step| step.from).min();
        for stream in &mut streams {
            drop_replaced(&mut stream.zero_offsets, judged_from);
        }
        Evidence {
            streams,
            steps,
            commands,
            invalid,
            end,
        }
    }

    /// The findings of everything that was recorded: those that the session's file gives when it is
    /// opened again. Time that passed after the last packet or event is in no file.
    pub fn findings(&self) -> Findings {
        analysis::assess::assess(&self.evidence(self.last_recorded), &self.plan.settings)
    }
}

/// A zero that was set before the session is what the ride began with only where the ride set none
/// of its own before anything was judged: that one took its place.
fn drop_replaced(zeros: &mut Vec<ZeroOffset>, judged_from: Option<Timestamp>) {
    let of_ride = |zero: &ZeroOffset| zero.at >= Timestamp::ZERO;
    let before_judged = |zero: &ZeroOffset| judged_from.is_none_or(|from| zero.at <= from);
    if zeros
        .iter()
        .any(|zero| of_ride(zero) && before_judged(zero))
    {
        zeros.retain(of_ride);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn left(zeros: &[i64], judged_from_s: Option<i64>) -> Vec<i64> {
        let mut zeros = zeros
            .iter()
            .map(|at_s| ZeroOffset {
                at: Timestamp::from_secs(*at_s),
                torque_nm: 0.1,
            })
            .collect();
        drop_replaced(&mut zeros, judged_from_s.map(Timestamp::from_secs));
        zeros
            .iter()
            .map(|zero| zero.at.as_nanos() / 1_000_000_000)
            .collect()
    }

    #[test]
    fn a_zero_of_the_ride_takes_the_place_of_one_before_it() {
        // Under Bench alone, or again only after everything was ridden: both stand for the ride.
        assert_eq!(left(&[-300], Some(60)), [-300]);
        assert_eq!(left(&[-300, 2700], Some(60)), [-300, 2700]);
        // A script that sets a zero at its beginning, and another that checks it at its end.
        assert_eq!(left(&[-300, 20], Some(60)), [20]);
        assert_eq!(left(&[-300, 20, 2700], Some(60)), [20, 2700]);
        // Nothing was judged yet.
        assert_eq!(left(&[-300, 20], None), [20]);
        assert_eq!(left(&[], Some(60)), [0_i64; 0]);
    }
}
