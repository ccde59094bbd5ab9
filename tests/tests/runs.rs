//! Thousands of small jobs with runs against the exhaustive solver: the same cost always, said to be
//! optimal always, impossible where there is no plan and nowhere else. The exhaustive solver itself is
//! tested where it stands.
//!
//! Run with `--nocapture` to see the shares; `RUN_JOBS=20000` in the environment tries that many of
//! each sort, `RUN_SEED=17` begins with another than the first.

#![allow(clippy::expect_used)]

use lengthwise::plan::{Cutting, Outcome, Proof};
use lengthwise::{solve, verify};
use lengthwise_tests::answer::units;
use lengthwise_tests::exhaustive::Best;
use lengthwise_tests::generate::small_runs::{GRID, Sort, small_run_job};
use lengthwise_tests::run_oracle::{Split, keeps_rule, least, splits, splits_on_grid};
use lengthwise_tests::run_parts::{joints, run_parts};
use lengthwise_tests::small::{SmallBar, SmallJob, SmallSold};
use lengthwise_tests::small_runs::{RunJob, SmallJoints, SmallRun};
use lengthwise_tests::tally::number;

/// Jobs of runs that lie alone, of courses, and of joints anywhere.
const ALONE: u64 = 2000;
const COURSES: u64 = 1000;
const ANYWHERE: u64 = 300;
/// Whether plans go through `verify`; `RUN_VERIFY=0` in the environment leaves it out.
const VERIFY_RUNS: bool = true;

fn seeds(jobs: u64) -> std::ops::Range<u64> {
    let first = number("RUN_SEED").unwrap_or(1);
    first..first + number("RUN_JOBS").unwrap_or(jobs)
}

/// What came of the jobs.
#[derive(Debug, Default)]
struct Tally {
    jobs: u64,
    planned: u64,
    optimal: u64,
    as_good_as_grid: u64,
    hand_settled: u64,
    impossible: u64,
    unknown: u64,
    parted: u64,
    wrong: Vec<String>,
}

impl Tally {
    fn of(seeds: std::ops::Range<u64>, sort: Sort) -> Tally {
        let mut tally = Tally::default();
        for seed in seeds {
            let job = small_run_job(seed, sort);
            tally.jobs += 1;
            if let Err(why) = tally.add(&job, sort) {
                tally
                    .wrong
                    .push(format!("seed {seed}, {sort:?}: {why}\n{job:?}"));
            }
        }
        tally
    }

    fn add(&mut self, small: &RunJob, sort: Sort) -> Result<(), String> {
        let job = small.job();
        let plan = solve(&job, &Default::default());
        if VERIFY_RUNS && number("RUN_VERIFY").unwrap_or(1) != 0 {
            verify(&job, &plan).map_err(|refusal| format!("refused: {refusal}"))?;
        }
        let [material] = plan.materials.as_slice() else {
            return Err("one material was asked for".to_owned());
        };
        if sort == Sort::Anywhere {
            return self.add_anywhere(small, &material.outcome);
        }
        let splits = splits(small);
        let best = least(small, &splits);
        match (&material.outcome, best) {
            (Outcome::Planned(cutting), Some(best)) => {
                self.planned += 1;
                check_parts(small, &splits, cutting)?;
                self.parted += u64::from(is_parted(cutting));
                self.compare(cutting, best)
            }
            (Outcome::Impossible(_), None) => {
                self.impossible += 1;
                Ok(())
            }
            (Outcome::Planned(cutting), None) => Err(format!(
                "planned at {:?}, though there is no plan",
                cutting.value
            )),
            (other, best) => Err(format!("{other:?}, though {best:?}")),
        }
    }

    fn compare(&mut self, cutting: &Cutting, best: Best) -> Result<(), String> {
        let (value, bound) = (units(cutting.value), units(cutting.bound));
        let hand = i128::from(cutting.figures.hand_cut_into.nm());
        let said = format!(
            "value {value}, bound {bound}, {:?}, in hand {hand}, {:?}; {best:?}",
            cutting.proof, cutting.hand_proof
        );
        if value != best.value {
            return Err(format!("not the least there is: {said}"));
        }
        if bound > value {
            return Err(format!("a bound above the least there is: {said}"));
        }
        let settled = cutting.hand_proof == Proof::Optimal;
        if hand < best.hand_nm || settled && hand != best.hand_nm {
            return Err(format!("in hand: {said}"));
        }
        self.hand_settled += u64::from(settled);
        if cutting.proof != Proof::Optimal || bound != value {
            return Err(format!("not said to be optimal: {said}"));
        }
        self.optimal += 1;
        Ok(())
    }

    /// Joints on a grid are some of those that may fall anywhere: no plan over them can be cheaper than
    /// a bound, nor than what is called optimal.
    fn add_anywhere(&mut self, small: &RunJob, outcome: &Outcome) -> Result<(), String> {
        let of_run = |run| splits_on_grid(small, run, GRID);
        let splits: Vec<Vec<Split>> = small.runs.iter().map(of_run).collect();
        let best = least(small, &splits);
        match (outcome, best) {
            (Outcome::Planned(cutting), best) => {
                self.planned += 1;
                self.parted += u64::from(is_parted(cutting));
                for parts in run_parts(cutting).values() {
                    joints(parts)?;
                }
                let (value, bound) = (units(cutting.value), units(cutting.bound));
                let said = format!(
                    "value {value}, bound {bound}, {:?}; {best:?}",
                    cutting.proof
                );
                self.optimal += u64::from(cutting.proof == Proof::Optimal);
                if bound > value || (cutting.proof == Proof::Optimal) != (bound == value) {
                    return Err(format!("bound and proof contradict each other: {said}"));
                }
                let Some(best) = best else { return Ok(()) };
                if best.value < bound {
                    return Err(format!("the grid is better than the bound: {said}"));
                }
                self.as_good_as_grid += u64::from(value <= best.value);
                Ok(())
            }
            (Outcome::Impossible(_), None) => {
                self.impossible += 1;
                Ok(())
            }
            // Where bars run out, the places that were tried may not do.
            (Outcome::Unknown(_), _) => {
                self.unknown += 1;
                Ok(())
            }
            (other, best) => Err(format!("{other:?}, though {best:?}")),
        }
    }

    fn print(&self, what: &str) {
        println!(
            "{what}: {} jobs; {} planned, {} of them with joints, {} said to be optimal, {} with the \
             least from hand settled; {} impossible; {} not decided; {} answered wrongly",
            self.jobs,
            self.planned,
            self.parted,
            self.optimal,
            self.hand_settled,
            self.impossible,
            self.unknown,
            self.wrong.len()
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
        assert!(self.parted > self.jobs / 4, "too few runs are parted");
        assert!(self.impossible < self.jobs / 2, "too few can be planned");
    }
}

fn is_parted(cutting: &Cutting) -> bool {
    run_parts(cutting).values().any(|parts| parts.len() > 1)
}

/// Every copy of every run is there, parted in one of the ways that the rules allow, and the courses
/// keep their rule.
fn check_parts(small: &RunJob, splits: &[Vec<Split>], cutting: &Cutting) -> Result<(), String> {
    let parts = run_parts(cutting);
    let mut courses: Vec<(u64, Vec<i64>)> = Vec::new();
    let mut copies = 0;
    for (at, (run, splits)) in small.runs.iter().zip(splits).enumerate() {
        let asked = (1..=run.qty).map(|copy| (false, copy));
        for (spare, copy) in asked.chain((1..=run.spare).map(|copy| (true, copy))) {
            let mark = format!("R{}{}", at + 1, if spare { "-spare" } else { "" });
            let Some(parts) = parts.get(&(mark.clone(), copy)) else {
                return Err(format!("copy {copy} of {mark} is missing"));
            };
            copies += 1;
            let joints: Vec<i64> = joints(parts)?.iter().map(|joint| joint.nm()).collect();
            let lengths: Vec<i64> = parts.iter().map(|part| part.length.nm()).collect();
            let is_allowed = |split: &Split| split.joints == joints && split.parts == lengths;
            if !splits.iter().any(is_allowed) {
                return Err(format!("{mark}, copy {copy}: {parts:?} is not allowed"));
            }
            if let Some(first) = run.course.filter(|_| !spare) {
                courses.push((first + copy - 1, joints));
            }
        }
    }
    if copies != parts.len() {
        return Err(format!("{} copies instead of {copies}", parts.len()));
    }
    if courses.is_empty() || keeps_rule(&courses, small.rule) {
        Ok(())
    } else {
        Err(format!("the rule {:?} is broken: {courses:?}", small.rule))
    }
}

#[test]
fn runs_alone() {
    let tally = Tally::of(seeds(ALONE), Sort::Alone);
    tally.print("runs alone");
    tally.demand_nothing_wrong();
}

#[test]
fn courses() {
    let tally = Tally::of(seeds(COURSES), Sort::Courses);
    tally.print("courses");
    tally.demand_nothing_wrong();
}

#[test]
fn joints_anywhere() {
    let tally = Tally::of(seeds(ANYWHERE), Sort::Anywhere);
    tally.print("joints anywhere");
    println!("  {} as good as the grid or better", tally.as_good_as_grid);
    tally.demand_nothing_wrong();
    assert!(tally.unknown * 50 <= tally.jobs, "too many not decided");
}

/// Three courses with a mitred end, of which neighbours have no joint in common, and up to three joints each:
/// what fits them together is found by no rule of thumb, and was once said to be impossible.
#[test]
fn courses_that_are_hard_to_fit_together_have_a_plan() {
    let base = SmallJob {
        grain_nm: 1_000_000,
        kerf: 2,
        per_cut: 0,
        square: (0, 0),
        priced: true,
        pieces: vec![],
        stock: vec![SmallBar {
            length: 35,
            pence: 250,
            sold: SmallSold::Each,
            available: None,
        }],
        in_hand: vec![],
    };
    let run = |qty, course| SmallRun {
        length: 35,
        qty,
        spare: 0,
        joints: SmallJoints::Every {
            spacing: 11,
            from: 4,
        },
        end_gap: (0, 0),
        joint_gap: 4,
        joints_max: Some(3),
        shortest: Some(1),
        ends: (45, 90),
        course: Some(course),
    };
    let runs = vec![run(1, 1), run(2, 5)];
    let rule = (1, 2);
    let job = RunJob { base, runs, rule };
    let mut tally = Tally::default();
    let told = tally.add(&job, Sort::Courses);
    assert_eq!((told, tally.optimal), (Ok(()), 1));
}
