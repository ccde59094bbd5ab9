//! Price breaks against the exhaustive solver: of small jobs at random every plan is verified, never below
//! the least there is, its bound never above it, and equal to it where it says `optimal`.
//!
//! `BREAK_JOBS=1000` in the environment tries that many; `--nocapture` shows the shares.

#![allow(clippy::expect_used)]

use lengthwise::job::Prefer;
use lengthwise::plan::{Cutting, Outcome, Proof};
use lengthwise::{solve, verify};
use lengthwise_tests::answer::units;
use lengthwise_tests::exhaustive::Best;
use lengthwise_tests::rows::checked;
use lengthwise_tests::small_breaks::{BreakJob, break_job};

const JOBS: u64 = 200;

#[derive(Debug, Default)]
struct Tally {
    planned: u64,
    optimal: u64,
    hand_settled: u64,
    impossible: u64,
    undecided: u64,
    /// Plans that buy at a lower price than the first.
    lowered: u64,
    /// Plans that buy more than they cut, for a price.
    surplus: u64,
    combinations: usize,
    most_combinations: usize,
}

fn asked_for() -> u64 {
    std::env::var("BREAK_JOBS").map_or(JOBS, |jobs| {
        jobs.parse().expect("BREAK_JOBS is a whole number")
    })
}

impl Tally {
    fn add(&mut self, small: &BreakJob, prefer: Prefer) -> Result<(), String> {
        let best = small.best();
        let mut input = small.input();
        input.saw.prefer = prefer;
        let job = checked(input);
        let plan = solve(&job, &Default::default());
        verify(&job, &plan).map_err(|refusal| format!("refused: {refusal}"))?;
        let [material] = plan.materials.as_slice() else {
            return Err("one material was asked for".to_owned());
        };
        match (&material.outcome, best) {
            (Outcome::Planned(cutting), Some(best)) => self.compare(small, cutting, best),
            (Outcome::Planned(cutting), None) => Err(format!(
                "planned at {:?}, though there is no plan",
                cutting.value
            )),
            (Outcome::Impossible(_), None) => {
                self.impossible += 1;
                Ok(())
            }
            (Outcome::Impossible(reason), Some(best)) => {
                Err(format!("called impossible ({reason:?}), though {best:?}"))
            }
            (Outcome::Unknown(stop), Some(best)) => Err(format!("{stop:?}, though {best:?}")),
            (Outcome::Unknown(_), None) => {
                self.undecided += 1;
                Ok(())
            }
        }
    }

    fn compare(&mut self, small: &BreakJob, cutting: &Cutting, best: Best) -> Result<(), String> {
        self.planned += 1;
        let (value, bound) = (units(cutting.value), units(cutting.bound));
        let hand = i128::from(cutting.figures.hand_cut_into.nm());
        let said = || {
            let Cutting {
                proof, hand_proof, ..
            } = cutting;
            format!("value {value}, bound {bound}, {proof:?}, hand {hand} {hand_proof:?}; {best:?}")
        };
        if value < best.value || bound > best.value {
            return Err(format!(
                "below the least there is, or bound above it: {}",
                said()
            ));
        }
        if cutting.proof == Proof::Optimal {
            self.optimal += 1;
            if value != best.value {
                return Err(format!("not optimal: {}", said()));
            }
        }
        let settled = cutting.hand_proof == Proof::Optimal;
        if settled && value == best.value && hand != best.hand_nm {
            return Err(format!("hand is not least: {}", said()));
        }
        self.hand_settled += u64::from(settled);
        let first = |line: &&lengthwise::plan::Purchase| {
            let row = small.job.stock.iter().zip(&small.breaks).nth(line.bar);
            row.is_some_and(|(bar, _)| {
                line.price.map(|price| price.to_string()) != pence(bar.pence)
            })
        };
        self.lowered += u64::from(cutting.buy.iter().any(|line| first(&line)));
        let cut = |bar: usize| {
            let groups = cutting.bars.iter().filter(|group| group.bar == bar);
            groups.map(|group| group.names.len() as u64).sum::<u64>()
        };
        let is_surplus = |line: &lengthwise::plan::Purchase| {
            let per_sale = line.bars / line.sales.max(1);
            line.bars >= cut(line.bar) + per_sale
        };
        self.surplus += u64::from(cutting.buy.iter().any(is_surplus));
        let combinations = cutting.certificate.combinations.len();
        self.combinations += combinations;
        self.most_combinations = self.most_combinations.max(combinations);
        Ok(())
    }
}

fn pence(pence: i64) -> Option<String> {
    Some(format!("{}.{:02}", pence / 100, pence % 100))
}

#[test]
fn price_breaks() {
    let jobs = asked_for();
    let mut tally = Tally::default();
    let mut wrong = Vec::new();
    for seed in 1..=jobs {
        let small = break_job(seed);
        // What is made good among equally cheap plans must not change what they come to.
        let prefer = if seed % 2 == 0 {
            Prefer::Offcuts
        } else {
            Prefer::Setups
        };
        let before = tally.planned - tally.optimal;
        if let Err(why) = tally.add(&small, prefer) {
            wrong.push(format!("seed {seed}: {why}\n{small:?}"));
        }
        if tally.planned - tally.optimal > before {
            println!("seed {seed} is not proven");
        }
    }
    println!("{jobs} jobs: {tally:?}");
    let shown: Vec<&str> = wrong.iter().take(3).map(String::as_str).collect();
    assert!(
        wrong.is_empty(),
        "{} wrong:\n{}",
        wrong.len(),
        shown.join("\n")
    );
    assert!(tally.optimal * 100 >= tally.planned * 99, "{tally:?}");
    // The jobs are worth something only if the breaks matter in many.
    assert!(tally.lowered * 4 > tally.planned, "{tally:?}");
    assert!(tally.surplus * 50 > tally.planned, "{tally:?}");
}
