//! Whether two recordings agree in what only one ride can share, told from what their details say.

/// Standard deviations of chance by which details have to stand out. In the study of placing
/// (`examples/placing_study.rs`, 2 400 pairs of either kind, from 15 minutes to an hour) no two rides
/// by one script on two days reached 3.5, and all but one pair of 2 249 of one ride exceeded this.
const STANDS_OUT: f64 = 5.0;
/// Scatter of one over that of the other from which a quantity says anything: an instrument that
/// shows its target, or the mean of half a minute, has no details.
const LEAST_RATIO: f64 = 0.3;

/// Whether two recordings agree in what only one ride can share.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Agreement {
    /// In their details.
    Details,
    /// In steps only, though both show details: two rides of one script.
    StepsOnly,
    /// In steps; one of them shows no details that could be compared.
    NoDetails,
}

/// What power and cadence say together.
pub(super) fn agreement(details: &[Option<Details>]) -> Agreement {
    let told: Vec<&Details> = details
        .iter()
        .flatten()
        .filter(|details| (LEAST_RATIO..=1.0 / LEAST_RATIO).contains(&details.scatter_ratio))
        .collect();
    let stands_out = |of: &[&Details]| {
        let sum: f64 = of.iter().map(|details| details.stands_out).sum();
        sum / f64::max(of.len() as f64, 1.0).sqrt()
    };
    // One instrument may smooth its power and not its cadence: either alone is enough as well.
    let best = told.iter().map(|details| stands_out(&[details]));
    if best.fold(stands_out(&told), f64::max) >= STANDS_OUT {
        Agreement::Details
    } else if told.is_empty() {
        Agreement::NoDetails
    } else {
        Agreement::StepsOnly
    }
}

/// What the details of two recordings say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Details {
    /// Correlation of what is left when levels and their changes are taken out.
    pub correlation: f64,
    /// By how many standard deviations of chance it exceeds the mean of chance.
    pub stands_out: f64,
    /// Scatter of the stream's details over that of the reference's.
    pub scatter_ratio: f64,
}
