//! Thousands of small jobs against the exhaustive solver: the plan is never below the least there
//! is, the bound never above it, and they are equal wherever the plan says `optimal`. The
//! exhaustive solver itself is tested where it stands.
//!
//! Run with `--nocapture` to see the shares; `EXHAUSTIVE_JOBS=100000` in the environment tries that
//! many of each sort.

#![allow(clippy::expect_used)]

use lengthwise::plan::{Impossible, Outcome, Proof};
use lengthwise::{solve, verify};
use lengthwise_tests::answer::units;
use lengthwise_tests::exhaustive::{Best, counts_money, exhaustive};
use lengthwise_tests::generate::small::{Sales, small_job};
use lengthwise_tests::small::{SmallBar, SmallJob, SmallSold};
use lengthwise_tests::tally::number;

/// Jobs whose bars are sold singly.
const SINGLE_JOBS: u64 = 4000;
/// Jobs in which bars are sold by the metre or in packs too.
const MIXED_JOBS: u64 = 1200;
/// At least so many plans of a hundred must be proven.
const PROVEN_PERCENT: u64 = 99;

/// What came of the jobs.
#[derive(Debug, Default)]
struct Tally {
    jobs: u64,
    planned: u64,
    optimal: u64,
    least_from_hand: u64,
    hand_in_play: u64,
    hand_settled: u64,
    impossible: u64,
    unknown_though_impossible: u64,
    unknown_though_possible: u64,
    wrong: Vec<String>,
}

impl Tally {
    fn of(seeds: impl Iterator<Item = u64>, sales: Sales) -> Tally {
        let mut tally = Tally::default();
        for seed in seeds {
            let job = small_job(seed, sales);
            tally.jobs += 1;
            if let Err(why) = tally.add(&job) {
                tally
                    .wrong
                    .push(format!("seed {seed}, {sales:?}: {why}\n{job:?}"));
            }
        }
        tally
    }

    fn add(&mut self, small: &SmallJob) -> Result<(), String> {
        let best = exhaustive(small);
        let job = small.job();
        let plan = solve(&job, &Default::default());
        verify(&job, &plan).map_err(|refusal| format!("refused: {refusal}"))?;
        let [material] = plan.materials.as_slice() else {
            return Err("one material was asked for".to_owned());
        };
        let priced = job.materials().iter().any(|material| material.is_priced());
        if priced != counts_money(small) {
            return Err(format!("judged by money: {priced}"));
        }
        match (&material.outcome, best) {
            (Outcome::Planned(cutting), Some(best)) => {
                self.planned += 1;
                let hand = i128::from(cutting.figures.hand_cut_into.nm());
                let (value, bound) = (units(cutting.value), units(cutting.bound));
                let settled = cutting.hand_proof == Proof::Optimal;
                if cutting.proof == Proof::Optimal && settled && hand != best.hand_nm {
                    return Err(format!("hand {hand} is not least: {best:?}"));
                }
                self.hand_settled += u64::from(settled);
                self.compare(value, bound, cutting.proof, hand, best)
            }
            (Outcome::Planned(cutting), None) => Err(format!(
                "planned at {:?}, though there is no plan",
                cutting.value
            )),
            (Outcome::Impossible(reason), None) => {
                self.impossible += 1;
                check_reason(small, reason)
            }
            (Outcome::Impossible(reason), Some(best)) => {
                Err(format!("called impossible ({reason:?}), though {best:?}"))
            }
            (Outcome::Unknown(_), None) => {
                self.unknown_though_impossible += 1;
                Ok(())
            }
            (Outcome::Unknown(_), Some(_)) => {
                self.unknown_though_possible += 1;
                Ok(())
            }
        }
    }

    fn compare(
        &mut self,
        value: i128,
        bound: i128,
        proof: Proof,
        hand: i128,
        best: Best,
    ) -> Result<(), String> {
        let said = format!("value {value}, bound {bound}, {proof:?}, in hand {hand}; {best:?}");
        if value < best.value {
            return Err(format!("below the least there is: {said}"));
        }
        if bound > best.value {
            return Err(format!("the bound is above the least there is: {said}"));
        }
        if proof == Proof::Optimal {
            self.optimal += 1;
            if value != best.value || bound != best.value {
                return Err(format!("not optimal: {said}"));
            }
        }
        if value == best.value {
            if hand < best.hand_nm {
                return Err(format!("less from hand than can be: {said}"));
            }
            self.hand_in_play += u64::from(best.hand_nm > 0 || hand > 0);
            self.least_from_hand += u64::from(hand == best.hand_nm && hand > 0);
        }
        Ok(())
    }

    fn print(&self, what: &str) {
        println!(
            "{what}: {} jobs; {} planned, {} of them proven optimal ({:.2} %); {} impossible \
             ({} more not decided, {} without a plan though there is one); least length from hand \
             in {} of {} plans of least cost that touch it ({:.2} %), settled {}",
            self.jobs,
            self.planned,
            self.optimal,
            percent(self.optimal, self.planned),
            self.impossible,
            self.unknown_though_impossible,
            self.unknown_though_possible,
            self.least_from_hand,
            self.hand_in_play,
            percent(self.least_from_hand, self.hand_in_play),
            self.hand_settled,
        );
    }

    fn demand_nothing_wrong(&self) {
        let shown: Vec<&str> = self.wrong.iter().take(5).map(String::as_str).collect();
        assert!(
            self.wrong.is_empty(),
            "{} of {} jobs are answered wrongly, the first of them:\n{}",
            self.wrong.len(),
            self.jobs,
            shown.join("\n")
        );
    }

    fn demand_proofs(&self) {
        assert!(
            self.optimal * 100 >= self.planned * PROVEN_PERCENT,
            "only {} of {} plans are proven",
            self.optimal,
            self.planned
        );
    }
}

fn percent(part: u64, whole: u64) -> f64 {
    if whole == 0 {
        100.0
    } else {
        100.0 * part as f64 / whole as f64
    }
}

/// The longest piece that any bar holds of which there is at least one, in nanometres.
fn longest_piece(job: &SmallJob) -> Option<i64> {
    let is_there = |bar: &&SmallBar| match (bar.sold, bar.available) {
        (SmallSold::PerMetre, Some(metres)) => {
            let offered = i128::from(metres) * 1_000_000_000;
            offered >= i128::from(bar.length) * i128::from(job.grain_nm)
        }
        (_, available) => available != Some(0),
    };
    let bought = job
        .stock
        .iter()
        .filter(is_there)
        .map(|bar| bar.length - job.square.0 - job.square.1);
    let in_hand = job
        .in_hand
        .iter()
        .filter(|bar| bar.available > 0)
        .map(|bar| bar.length - bar.square.0 - bar.square.1);
    let longest = bought.chain(in_hand).filter(|usable| *usable > 0).max();
    longest.map(|usable| usable * job.grain_nm)
}

/// A reason is not only given: it holds.
fn check_reason(job: &SmallJob, reason: &Impossible) -> Result<(), String> {
    match reason {
        Impossible::PieceTooLong {
            length,
            longest,
            rows,
            ..
        } => {
            let most = longest_piece(job);
            let too_long = |piece: i64| most.is_none_or(|most| piece * job.grain_nm > most);
            let so_long = job.pieces.iter().filter(|(piece, _)| too_long(*piece));
            let holds = so_long.clone().count() == *rows
                && so_long
                    .map(|(piece, _)| piece * job.grain_nm)
                    .any(|nm| nm == length.nm())
                && longest.map(|(usable, _)| usable.nm()) == most;
            holds
                .then_some(())
                .ok_or_else(|| format!("{reason:?}, though {most:?} nm are the most"))
        }
        Impossible::NotEnoughLength { needed, available } => (needed > available)
            .then_some(())
            .ok_or_else(|| format!("{reason:?} contradicts itself")),
        Impossible::NotEnoughBars { left_over } => (*left_over > 0)
            .then_some(())
            .ok_or_else(|| format!("{reason:?} leaves nothing over")),
        other => Err(format!("a reason that is not checked here: {other:?}")),
    }
}

#[test]
fn bars_sold_singly() {
    let jobs = number("EXHAUSTIVE_JOBS").unwrap_or(SINGLE_JOBS);
    let tally = Tally::of(1..=jobs, Sales::Single);
    tally.print("sold singly");
    tally.demand_nothing_wrong();
    assert_eq!(
        tally.unknown_though_possible, 0,
        "a plan exists and none was found"
    );
    tally.demand_proofs();
    // The jobs are worth something only if all sorts are among them.
    assert!(
        tally.planned > jobs / 2 && tally.impossible > jobs / 50 && tally.hand_in_play > jobs / 10
    );
}

/// Here whole packs and metres come between what is cut and what is paid for.
#[test]
fn bars_sold_by_the_metre_and_in_packs() {
    let jobs = number("EXHAUSTIVE_JOBS").unwrap_or(MIXED_JOBS);
    let tally = Tally::of(1..=jobs, Sales::Mixed);
    tally.print("by the metre and in packs");
    tally.demand_nothing_wrong();
    tally.demand_proofs();
    assert!(tally.planned > jobs / 2);
}

/// The share of each sort among the random jobs, so that a change of the generator is noticed.
#[test]
fn random_jobs_are_of_all_sorts() {
    let jobs: Vec<SmallJob> = (1..=1000)
        .map(|seed| small_job(seed, Sales::Single))
        .collect();
    let share = |is: &dyn Fn(&SmallJob) -> bool| jobs.iter().filter(|job| is(job)).count();
    let plain = share(&|job| job.in_hand.is_empty() && job.kerf == 0);
    assert!(plain > 20, "{plain} without blade and hand");
    let priced = share(&|job| job.priced);
    assert!((400..900).contains(&priced), "{priced} priced");
    let squared = share(&|job| job.square != (0, 0));
    assert!(squared > 200, "{squared} squared");
    let limited = share(&|job| job.stock.iter().any(|bar| bar.available.is_some()));
    assert!(limited > 300, "{limited} limited");
    let worth = share(&|job| job.in_hand.iter().any(|bar| bar.worth.is_some()));
    assert!(worth > 200, "{worth} with something of worth in hand");
    let only_in_hand = share(&|job| job.stock.is_empty());
    assert!(
        (10..100).contains(&only_in_hand),
        "{only_in_hand} in hand only"
    );
    let impossible = share(&|job| exhaustive(job).is_none());
    assert!((20..400).contains(&impossible), "{impossible} impossible");
}
