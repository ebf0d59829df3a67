//! The recorded session as the analysis takes it.

use crate::machine::Bench;
use analysis::evidence::{Evidence, InvalidSpan};
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
        Evidence {
            streams: self
                .instruments
                .iter()
                .flat_map(|one| one.evidence())
                .collect(),
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
