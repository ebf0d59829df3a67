//! The recorded session as the analysis takes it.

use crate::machine::Bench;
use analysis::evidence::Evidence;
use analysis::findings::Findings;
use units::Timestamp;

impl Bench {
    /// Everything recorded up to `end`.
    pub fn evidence(&self, end: Timestamp) -> Evidence {
        let (steps, commands, invalid) = self.record.until(end);
        Evidence {
            streams: self.instruments.iter().flat_map(|one| one.evidence()).collect(),
            steps,
            commands,
            invalid,
            end,
        }
    }

    /// The findings of everything up to the present moment of the bench.
    pub fn findings(&self) -> Findings {
        analysis::assess::assess(&self.evidence(self.now), &self.plan.settings)
    }
}
