//! The preference for offcuts against every plan there is: cost untouched, the smallest spare raised as far
//! as it can be, then the longest offcut, then the next; nothing called the best that is not.
//!
//! Run with `--nocapture` to see the shares; `OFFCUTS_JOBS=5000` in the environment tries that many.

#![allow(clippy::expect_used, clippy::panic, clippy::unwrap_used)]

use std::collections::BTreeMap;

use lengthwise::plan::{Claim, Cutting, Outcome, Preference};
use lengthwise::{Length, verify};
use lengthwise_tests::answer::{Answer, answer};
use lengthwise_tests::exhaustive::exhaustive;
use lengthwise_tests::generate::small::{Sales, small_job};
use lengthwise_tests::patterns::{Pattern, every_plan};
use lengthwise_tests::small::{SmallJob, SmallSold};
use lengthwise_tests::tally::number;

/// Jobs of each sort.
const JOBS: u64 = 250;
/// So many of a hundred must be proven throughout.
const PROVEN_PERCENT: u64 = 95;
/// 5 mm: so far the smallest spare counts (section 6 of the design).
const LARGEST_SPARE: i64 = 5_000_000;

/// The smallest spare and all offcuts, the longest first, in nanometres: the larger the better.
type Merit = (i64, Vec<i64>);

/// What is left of one bar, by the rules of cutting a bar.
fn merit(job: &SmallJob, lengths: &[i64], patterns: &BTreeMap<Pattern, u64>) -> Merit {
    let cut = job.kerf + job.per_cut;
    let mut smallest = LARGEST_SPARE;
    let mut offcuts = Vec::new();
    for ((kind, counts), &bars) in patterns {
        let usable = match kind.checked_sub(job.stock.len()) {
            None => job.stock[*kind].length - job.square.0 - job.square.1,
            Some(row) => {
                let bar = &job.in_hand[row];
                bar.length - bar.square.0 - bar.square.1
            }
        };
        let pieces: i64 = counts.iter().sum::<u64>().try_into().unwrap();
        let lengths = counts.iter().zip(lengths);
        let filled: i64 = lengths.map(|(&count, length)| count as i64 * length).sum();
        let spare = usable - filled - (pieces - 1) * cut;
        smallest = smallest.min(spare * job.grain_nm);
        let offcut = (spare - cut).max(0) * job.grain_nm;
        offcuts.extend(std::iter::repeat_n(offcut, bars as usize));
    }
    offcuts.sort_by(|a, b| b.cmp(a));
    (smallest, offcuts)
}

/// Bars of each kind.
fn bars(patterns: &BTreeMap<Pattern, u64>) -> BTreeMap<usize, u64> {
    let mut bars = BTreeMap::new();
    for ((kind, _), count) in patterns {
        *bars.entry(*kind).or_default() += count;
    }
    bars
}

/// The best there is. Where bars come in packs or for nothing, among plans with the same bars: others
/// may leave some whole.
fn best_merit(job: &SmallJob, cutting: &Cutting) -> Merit {
    let best = exhaustive(job).expect("it was planned");
    let mut lengths: Vec<i64> = job.pieces.iter().map(|(length, _)| *length).collect();
    lengths.sort_by(|a, b| b.cmp(a));
    lengths.dedup();
    let is_free = |bar: &lengthwise_tests::small::SmallBar| {
        matches!(bar.sold, SmallSold::Pack(pack) if pack > 1) || (job.priced && bar.pence == 0)
    };
    let same_bars = job.stock.iter().any(is_free);
    let mut own: BTreeMap<usize, u64> = BTreeMap::new();
    for group in &cutting.bars {
        *own.entry(group.bar).or_default() += group.names.len() as u64;
    }
    let mut found: Option<Merit> = None;
    every_plan(job, best, &mut |patterns| {
        if !same_bars || bars(patterns) == own {
            let merit = merit(job, &lengths, patterns);
            found = found.take().max(Some(merit));
        }
    });
    found.expect("the plan itself is one")
}

fn claims(cutting: &Cutting) -> (Claim<Length>, &[Claim<Length>]) {
    match &cutting.preference {
        Preference::Offcuts { spare, offcuts, .. } => (*spare, offcuts),
        other => panic!("offcuts are preferred unless told otherwise: {other:?}"),
    }
}

#[derive(Debug, Default)]
struct Tally {
    planned: u64,
    proven: u64,
    /// Claims of a figure with its proof.
    figures: u64,
    wrong: Vec<String>,
}

impl Tally {
    fn add(&mut self, what: &str, job: &SmallJob) {
        let checked = job.job();
        let Answer::Planned(cutting) = answer(&checked) else {
            return;
        };
        self.planned += 1;
        let plan = lengthwise::solve(&checked, &lengthwise::Limits::default());
        let verified = verify(&checked, &plan).map_err(|why| why.to_string());
        let compared = verified.and_then(|_| self.compare(job, &cutting));
        if let Err(why) = compared {
            self.wrong.push(format!("{what}: {why}\n{job:?}"));
        }
    }

    fn compare(&mut self, job: &SmallJob, cutting: &Cutting) -> Result<(), String> {
        let (spare, offcuts) = claims(cutting);
        let (best_spare, best_offcuts) = best_merit(job, cutting);
        let mut places = vec![(spare, best_spare)];
        let best = best_offcuts.iter().copied().chain(std::iter::repeat(0));
        places.extend(offcuts.iter().copied().zip(best));
        let mut is_proven = true;
        for (claim, best) in places {
            let found = claim.found.nm();
            if claim.bound.is_some_and(|bound| bound.nm() < best) || found > best {
                return Err(format!("{claim:?}, and the best is {best}"));
            }
            if !claim.is_proven() {
                is_proven = false;
                break; // what follows is about other plans
            }
            if found != best {
                return Err(format!(
                    "{claim:?} is called the best, and the best is {best}"
                ));
            }
            self.figures += 1;
        }
        let listed = offcuts
            .iter()
            .filter(|claim| !claim.found.is_zero())
            .count();
        let all = best_offcuts.iter().filter(|offcut| **offcut > 0).count();
        if is_proven && listed < all.min(12) {
            is_proven = false;
        }
        self.proven += u64::from(is_proven);
        Ok(())
    }
}

#[test]
fn every_plan_of_the_same_cost_is_no_better() {
    for sales in [Sales::Single, Sales::Mixed] {
        let mut tally = Tally::default();
        for seed in 0..number("OFFCUTS_JOBS").unwrap_or(JOBS) {
            tally.add(&format!("{sales:?} {seed}"), &small_job(seed, sales));
        }
        println!(
            "{sales:?}: {} planned, {} proven throughout, {} figures proven, {} wrong",
            tally.planned,
            tally.proven,
            tally.figures,
            tally.wrong.len()
        );
        assert!(tally.wrong.is_empty(), "{}", tally.wrong.join("\n"));
        assert!(tally.proven * 100 >= tally.planned * PROVEN_PERCENT);
    }
}

/// A figure changed in any place of a plan.
type Change = fn(&mut Preference);

/// The figures of a preference are recomputed: other ones are refused, each with its reason.
#[test]
fn figures_that_are_not_so_are_refused() {
    let changes: [(&str, Change); 4] = [
        ("the smallest spare", |preference| {
            if let Preference::Offcuts { spare, .. } = preference {
                spare.found = more(spare.found);
                spare.bound = None;
            }
        }),
        ("from the longest", |preference| {
            if let Preference::Offcuts { offcuts, .. } = preference {
                for claim in offcuts.iter_mut().take(1) {
                    claim.found = more(claim.found);
                    claim.bound = None;
                }
            }
        }),
        ("better than what it says", |preference| {
            if let Preference::Offcuts { spare, .. } = preference {
                let less = Length::from_nm(spare.found.nm() - 1);
                spare.bound = less.or(spare.bound); // nothing is less than nothing
            }
        }),
        ("in another way", |preference| {
            let claim = Claim {
                found: 1,
                bound: None,
            };
            *preference = Preference::Setups {
                patterns: claim,
                moves: claim,
            };
        }),
    ];
    for (reason, change) in changes {
        let mut refused = 0;
        for seed in 0..40 {
            let job = small_job(seed, Sales::Single).job();
            let mut plan = lengthwise::solve(&job, &lengthwise::Limits::default());
            let Some(Outcome::Planned(cutting)) =
                plan.materials.first_mut().map(|m| &mut m.outcome)
            else {
                continue;
            };
            let before = cutting.preference.clone();
            change(&mut cutting.preference);
            if cutting.preference == before {
                continue;
            }
            let why = verify(&job, &plan).expect_err(reason).to_string();
            assert!(why.contains(reason), "{why}");
            refused += 1;
        }
        assert!(refused > 10, "{reason}: {refused}");
    }
}

/// A tenth of a millimetre more.
fn more(length: Length) -> Length {
    length
        .checked_add(Length::from_nm(100_000).unwrap())
        .unwrap()
}
