//! Apportioning: own noise and bias of each of three instruments that measured the same rider.

mod alone;
mod blocks;
mod noise;
#[cfg(test)]
mod tests;

use super::given::Source;
use super::prepared::Prepared;
use super::words;
use crate::evidence::Role;
use crate::outcome::{Ink, Outcome, Tested, not_tested};
pub use alone::SourceNoise;
use alone::{alone_in_bias, alone_in_noise, biases};
use blocks::{MEAN_S, blocks};
use noise::{collocation, reach, variances};

/// Name of the examination.
pub const NAME: &str = "apportioning";

/// Own noise of three instruments.
#[derive(Clone, Debug, PartialEq)]
pub struct Apportioning {
    /// One entry per instrument.
    pub sources: Vec<SourceNoise>,
    /// Index into `sources` of the instrument whose bias stands apart from two that agree.
    pub alone_in_bias: Option<usize>,
    /// Index into `sources` of the instrument whose noise is shown to be above both others'.
    pub alone_in_noise: Option<usize>,
    /// Whether some variance came out negative: the errors are not independent.
    pub dependent: bool,
    /// Length of the means used, s.
    pub mean_s: f64,
    /// Means used.
    pub means: usize,
}

/// Fewest means and fewest blocks to leave out one at a time.
const LEAST_MEANS: usize = 24;
const LEAST_BLOCKS: usize = 4;

/// Apportions noise and bias to three instruments.
///
/// # Errors
/// [`NotTested`](crate::outcome::NotTested) with what to bring or ride.
pub fn apportioning(given: &Prepared<'_>) -> Outcome<Apportioning> {
    let sources: Option<Vec<Source<'_>>> = [
        Role::UnderTest,
        Role::PrimaryReference,
        Role::SecondReference,
    ]
    .into_iter()
    .map(|role| given.sources(role).next())
    .collect();
    let Some(sources) = sources else {
        return not_tested(
            NAME,
            "three power instruments at once are needed; bring a second reference",
        );
    };
    let blocks = blocks(given, &sources);
    let means: usize = blocks.iter().map(|block| block.departures[0].len()).sum();
    if blocks.len() < LEAST_BLOCKS || means < LEAST_MEANS {
        return not_tested(
            NAME,
            format!(
                "{means} means of {MEAN_S:.0} s in {} steady stretches with all three; ride at \
                 least {LEAST_BLOCKS} minutes of steady levels",
                blocks.len()
            ),
        );
    }
    let Some(variances) = variances(&blocks, None) else {
        return not_tested(NAME, "the three do not vary; check that they report");
    };
    let each: Vec<[f64; 3]> = (0..blocks.len())
        .filter_map(|out| self::variances(&blocks, Some(out)))
        .collect();
    let collocation = collocation(&blocks);
    let biases = biases(&blocks);
    let found: Vec<SourceNoise> = (0..3)
        .map(|i| {
            let leave_one_out: Vec<f64> = each.iter().map(|v| v[i]).collect();
            let reach = reach(&leave_one_out);
            SourceNoise {
                source: sources[i].stream.name.clone(),
                noise_w: variances[i].max(0.0).sqrt(),
                noise_interval_w: [
                    (variances[i] - reach).max(0.0).sqrt(),
                    (variances[i] + reach).max(0.0).sqrt(),
                ],
                collocation_w: collocation.map(|c| c[i].max(0.0).sqrt()),
                bias_pct: biases[i],
            }
        })
        .collect();
    let result = Apportioning {
        alone_in_bias: alone_in_bias(&blocks),
        alone_in_noise: alone_in_noise(&found),
        dependent: variances.iter().any(|variance| *variance < 0.0),
        sources: found,
        mean_s: MEAN_S,
        means,
    };
    let sentence = sentence(&result);
    let plots = vec![words::plot(
        "apportioning",
        "Own noise of each instrument",
        [
            "instrument, in the order of the list",
            "own noise of 10-s means, W",
        ],
        vec![words::intervals(
            Ink::SecondReference,
            "instruments",
            result
                .sources
                .iter()
                .enumerate()
                .map(|(i, s)| {
                    let [low, high] = s.noise_interval_w;
                    [(i + 1) as f64, low, s.noise_w, high]
                })
                .collect(),
        )],
        format!(
            "{means} means in {} stretches; errors taken as independent",
            blocks.len()
        ),
    )];
    Ok(Tested {
        result,
        sentence,
        plots,
    })
}

fn sentence(found: &Apportioning) -> String {
    let parts: Vec<String> = found
        .sources
        .iter()
        .map(|s| {
            format!(
                "{} {} W (95\u{a0}% interval {} to {} W), {} % from the middle one",
                s.source,
                words::plain(s.noise_w, 1),
                words::plain(s.noise_interval_w[0], 1),
                words::plain(s.noise_interval_w[1], 1),
                words::signed(s.bias_pct.value, 2)
            )
        })
        .collect();
    let name = |i: usize| found.sources[i].source.as_str();
    let alone = match (found.alone_in_bias, found.alone_in_noise) {
        (Some(i), _) => format!(" {} stands alone; the other two agree.", name(i)),
        (None, Some(i)) => format!(" {} is the noisiest by more than the uncertainty.", name(i)),
        (None, None) => " None stands alone.".to_owned(),
    };
    let caution = if found.dependent {
        " A variance came out negative: the errors are not independent, or the ride was too short."
    } else {
        ""
    };
    format!(
        "Own noise of 10-s means: {}.{alone}{caution}",
        parts.join("; ")
    )
}
