//! What a certificate brings against mixes of bars, checked for sense and worked out again.
//!
//! Prices `p` speak against a mix where all pieces together are worth more than its bars can hold:
//! `sum d_i p_i > sum n_s V_s`, with `V_s` the exact knapsack value of a bar; runs and windows of courses
//! add to the left side what they are worth in a certificate. A searched mix speaks
//! against itself and against every mix whose bars can be matched with bars of it that are as long
//! or longer in use; that is taken on trust, unless the plan itself shows that it is wrong.

use std::cmp::Reverse;
use std::collections::BTreeMap;

use super::counted::Counted;
use super::facts::Facts;
use super::refusal::{Breach, RunBreach};
use super::work::Work;
use crate::plan::{Anywhere, Certificate, SearchedMix};

/// Steps for each kind of bar, and for some more, when a mix is held against another.
const STEPS_OF_KIND: u64 = 4;
/// Most numbers that inequalities hold of all kinds of bar together: 64 MB, and four times
/// as much in a walk.
const MOST_HELD: usize = 4_000_000;

/// Prices as an inequality that every mix with room for everything meets.
pub(super) struct Inequality {
    /// What all pieces and runs are worth.
    pub total: i128,
    /// What a bar of each kind holds at the most.
    pub holds: Vec<i128>,
}

impl Inequality {
    /// What a bar of this kind holds at the most.
    pub fn held(&self, kind: usize) -> i128 {
        self.holds.get(kind).copied().unwrap_or(0)
    }

    /// By how much a mix falls short of holding everything; zero or less where it does not. The
    /// caller knows that what all bars of the mix hold fits 128 bits.
    pub fn short(&self, mix: &[u64]) -> i128 {
        let held = self.holds.iter().zip(mix);
        let held: i128 = held.map(|(held, &bars)| held * i128::from(bars)).sum();
        self.total - held
    }
}

/// Everything that a certificate brings against mixes.
pub(super) struct Evidence<'a> {
    pub inequalities: Vec<Inequality>,
    /// Whether some prices could not be worked out, so that their verdict is not known.
    pub incomplete: bool,
    searched: &'a [SearchedMix],
    /// Kinds of bar alike in use, for each batch the longest first.
    alike: Vec<Vec<Vec<usize>>>,
}

/// Checks that refutations and searched mixes make sense, and are not contradicted by what the plan
/// itself cuts.
pub(super) fn check_mix_proof(
    facts: &Facts<'_>,
    certificate: &Certificate,
    cut: Option<&[u64]>,
) -> Result<(), Breach> {
    let by_length = matches!(certificate.anywhere, Some(Anywhere::ByLength { .. }));
    let lengths = certificate.prices.len() + certificate.windows.len() + usize::from(by_length);
    for (place, refutation) in certificate.mixes.refutations.iter().enumerate() {
        if refutation.len() != lengths {
            return Err(Breach::RefutationPrices {
                place,
                prices: refutation.len(),
                lengths,
            });
        }
        let mut priced = certificate.prices.iter().zip(refutation);
        if let Some((&(shape, _), &price)) = priced.find(|(_, price)| **price < 0) {
            return Err(Breach::RefutationPrice {
                place,
                length: shape.length,
                price,
            });
        }
        let mut others = refutation.iter().skip(certificate.prices.len());
        if let Some(&price) = others.find(|price| **price < 0) {
            return Err(RunBreach::RefutationPrice { place, price }.into());
        }
    }
    let alike = alike(facts);
    for (place, mix) in certificate.mixes.searched.iter().enumerate() {
        check_searched(facts, place, mix)?;
        if cut.is_some_and(|cut| is_within(&alike, cut, &mix.bars)) {
            return Err(Breach::SearchedHolds { place });
        }
    }
    Ok(())
}

fn check_searched(facts: &Facts<'_>, place: usize, mix: &SearchedMix) -> Result<(), Breach> {
    if mix.bars.len() != facts.kinds.len() {
        return Err(Breach::SearchedKinds {
            place,
            plan: mix.bars.len(),
            job: facts.kinds.len(),
        });
    }
    for (bar, (kind, &bars)) in facts.kinds.iter().zip(&mix.bars).enumerate() {
        if let Some(available) = kind.available.filter(|&available| bars > available) {
            return Err(Breach::SearchedNotAvailable {
                place,
                bar,
                bars,
                available,
            });
        }
    }
    Ok(())
}

impl<'a> Evidence<'a> {
    /// Works out the inequalities: one knapsack for each set of prices. The caller has asked
    /// [`check_mix_proof`].
    pub fn of(facts: &Facts<'_>, certificate: &'a Certificate, counted: &Counted) -> Evidence<'a> {
        let refutations = &certificate.mixes.refutations;
        let most = MOST_HELD.checked_div(facts.kinds.len());
        let inequalities: Vec<Inequality> = refutations
            .iter()
            .take(most.unwrap_or(MOST_HELD))
            .filter_map(|prices| inequality(facts, counted, prices))
            .collect();
        Evidence {
            incomplete: inequalities.len() < refutations.len(),
            inequalities,
            searched: &certificate.mixes.searched,
            alike: alike(facts),
        }
    }

    /// The place of a searched mix that speaks against this one; one of `leaned_on` if possible.
    /// `None` where no work is left to find it.
    pub fn searched_against(
        &self,
        mix: &[u64],
        leaned_on: impl Iterator<Item = usize>,
        work: &Work,
    ) -> Option<Option<usize>> {
        for place in leaned_on.chain(0..self.searched.len()) {
            work.take_times(mix.len() + 6, STEPS_OF_KIND)?;
            let other = self.searched.get(place);
            if other.is_some_and(|other| is_within(&self.alike, mix, &other.bars)) {
                return Some(Some(place));
            }
        }
        Some(None)
    }
}

/// `None` where the knapsack takes too much work or the numbers outgrow 128 bits.
fn inequality(facts: &Facts<'_>, counted: &Counted, prices: &[i64]) -> Option<Inequality> {
    let best = counted.best(facts, prices, &vec![0; facts.kinds.len()])?;
    let holds = best.into_iter().map(|best| i128::try_from(best).ok());
    Some(Inequality {
        total: counted.worth(prices, &facts.work)?,
        holds: holds.collect::<Option<_>>()?,
    })
}

/// The kinds of bar of each batch in groups of equal usable length, the longest first.
fn alike(facts: &Facts<'_>) -> Vec<Vec<Vec<usize>>> {
    let mut batches: BTreeMap<u32, BTreeMap<Reverse<i128>, Vec<usize>>> = BTreeMap::new();
    for (place, kind) in facts.kinds.iter().enumerate() {
        let groups = batches.entry(kind.batch).or_default();
        groups
            .entry(Reverse(kind.usable()))
            .or_default()
            .push(place);
    }
    let batches = batches.into_values();
    batches
        .map(|groups| groups.into_values().collect())
        .collect()
}

/// Whether each bar of a mix can be matched with a bar of the other, of its batch and at least as long in
/// use: down from the longest, the other never has fewer so far.
fn is_within(alike: &[Vec<Vec<usize>>], mix: &[u64], other: &[u64]) -> bool {
    let bars = |mix: &[u64], group: &[usize]| -> i128 {
        let counts = group.iter().filter_map(|&kind| mix.get(kind));
        counts.map(|&bars| i128::from(bars)).sum()
    };
    alike.iter().all(|batch| {
        let mut ahead = 0;
        batch.iter().all(|group| {
            ahead += bars(other, group) - bars(mix, group);
            ahead >= 0
        })
    })
}
