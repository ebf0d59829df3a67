//! An order of several results as far as the uncertainty allows one, and the same in a sentence.

use crate::examinations::words;
use crate::outcome::Estimate;

/// An order of several results as far as the uncertainty allows one.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranking {
    /// Groups from best to worst, each holding the indices that cannot be told apart from the
    /// best of the group.
    pub tiers: Vec<Vec<usize>>,
    /// Every pair, those that can be told apart first.
    pub pairs: Vec<RankedPair>,
}

/// Two results and whether the sizes of their errors can be told apart.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RankedPair {
    /// Index of the one with the smaller error.
    pub better: usize,
    /// Index of the one with the larger error.
    pub worse: usize,
    /// How much larger it is.
    pub difference: Estimate,
    /// Its 95 % interval.
    pub interval: [f64; 2],
    /// Chance of so large a difference without one.
    pub p: f64,
    /// Whether they can be told apart, with Holm's correction for the number of pairs.
    pub apart: bool,
}

impl Ranking {
    /// Pairs that can be told apart, `(better, worse)`.
    pub fn separated(&self) -> impl Iterator<Item = (usize, usize)> {
        let apart = self.pairs.iter().filter(|pair| pair.apart);
        apart.map(|pair| (pair.better, pair.worse))
    }

    /// Whether every result of a group can be told apart from every result of another, so that the
    /// groups are an order and not only a list.
    pub fn is_an_order(&self) -> bool {
        let tier_of = |index: usize| self.tiers.iter().position(|tier| tier.contains(&index));
        self.pairs
            .iter()
            .all(|pair| pair.apart || tier_of(pair.better) == tier_of(pair.worse))
    }
}

/// Most pairs that a sentence names.
const MOST_NAMED: usize = 6;

/// The order in a sentence: who can be told apart from whom, and who cannot.
pub(super) fn order_words(errors: &[(String, Estimate)], ranking: &Ranking, unit: &str) -> String {
    let name = |i: usize| errors[i].0.as_str();
    let named = |tier: &[usize]| {
        let names: Vec<&str> = tier.iter().map(|i| name(*i)).collect();
        names.join(", ")
    };
    if ranking.tiers.len() == 1 {
        return format!(
            "The uncertainties do not allow an order: {}.",
            named(&ranking.tiers[0])
        );
    }
    if ranking.is_an_order() {
        let list: Vec<String> = ranking.tiers.iter().map(|tier| named(tier)).collect();
        return format!(
            "In order of the size of their error, those that cannot be told apart together: {}.",
            list.join(" – then ")
        );
    }
    let list = |wanted: bool| {
        let some = ranking
            .pairs
            .iter()
            .filter(move |pair| pair.apart == wanted);
        let count = some.clone().count();
        let mut list: Vec<String> = some
            .take(MOST_NAMED)
            .map(|pair| match wanted {
                true => format!("{} before {}", name(pair.better), name(pair.worse)),
                false => format!(
                    "{} and {} ({})",
                    name(pair.better),
                    name(pair.worse),
                    words::interval(pair.interval, 2, unit)
                ),
            })
            .collect();
        if count > MOST_NAMED {
            list.push(format!("and {} pairs more", count - MOST_NAMED));
        }
        list.join("; ")
    };
    format!(
        "By the size of their error they can be told apart in part: {}. Not told apart: {}.",
        list(true),
        list(false)
    )
}
