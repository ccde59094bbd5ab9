//! One job solved, timed and judged: by `verify`, and by the optimum where somebody has written it down.

use lengthwise::plan::{Cutting, Effort, Outcome, Proof, Value};
use lengthwise::verify::Trust;
use lengthwise::{Job, Limits, verify};
use lengthwise_tests::generate::Instance;
use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use crate::phase::Phase;
use crate::run::{cutting, median, timed};

/// What came of one job.
pub struct Judged {
    /// What the job is called in tables.
    pub name: String,
    /// Seconds of planning.
    pub seconds: f64,
    /// What the plan comes to, in the unit of the prices; in millimetres bought where there are none.
    pub value: Option<Decimal>,
    /// Below which no plan comes.
    pub bound: Option<Decimal>,
    /// Whether the plan says that nothing cheaper exists.
    pub proven: bool,
    /// Whether `verify` had to take something on trust.
    pub trusted: bool,
    /// What is wrong with the answer, if anything.
    pub wrong: Option<String>,
    /// What it took.
    pub effort: Effort,
}

/// The head of [`Judged::row`].
pub const COLUMNS: &str = "job,value,bound,proven,trusted,wrong,seconds,questions,enumerated,nodes,\
                           pricing_rounds,dives,work";

impl Judged {
    /// Plans, times and verifies a job.
    pub fn of(name: String, job: &Job, limits: &Limits<'_>) -> Judged {
        let (plan, seconds) = timed(job, limits);
        let verified = verify(job, &plan);
        let effort = plan.materials.first().map(|material| material.effort);
        let planned = cutting(&plan);
        let trusted = verified.as_ref().is_ok_and(|verified| {
            let mut materials = verified.materials.iter();
            materials.any(|material| {
                // That no equally cheap plan has better offcuts is no claim about the cost.
                let mut trust = material.on_trust.iter();
                trust.any(|trust| *trust != Trust::Preference)
            })
        });
        let refused = verified.err().map(|why| format!("refused: {why}"));
        let impossible = plan.materials.iter().find_map(|material| {
            match &material.outcome {
                // Every generator makes jobs that can be planned.
                Outcome::Impossible(why) => Some(format!("called impossible: {why:?}")),
                Outcome::Planned(_) | Outcome::Unknown(_) => None,
            }
        });
        Judged {
            name,
            seconds,
            value: planned.map(|cutting| amount(cutting.value)),
            bound: planned.map(|cutting| amount(cutting.bound)),
            proven: planned.is_some_and(is_proven),
            trusted,
            wrong: refused.or(impossible),
            effort: effort.unwrap_or_default(),
        }
    }

    /// The same of an instance in which every bar costs 1, compared with its optimum.
    pub fn of_instance(instance: &Instance, limits: &Limits<'_>) -> Judged {
        let judged = Judged::of(instance.name.clone(), &instance.job(), limits);
        let contradiction = instance
            .optimum
            .and_then(|optimum| judged.contradiction(optimum.into()));
        Judged {
            wrong: judged.wrong.or(contradiction),
            ..judged
        }
    }

    /// What cannot be true of the plan if this is the optimum.
    fn contradiction(&self, optimum: Decimal) -> Option<String> {
        let (value, bound) = (self.value?, self.bound?);
        if value < optimum {
            Some(format!("{value}, below the optimum of {optimum}"))
        } else if bound > optimum {
            Some(format!(
                "a bound of {bound}, above the optimum of {optimum}"
            ))
        } else if self.proven && value != optimum {
            Some(format!("{value} called optimal, the optimum is {optimum}"))
        } else {
            None
        }
    }

    /// Whether it is proven and nothing is wrong with it.
    pub fn is_sound(&self) -> bool {
        self.proven && self.wrong.is_none()
    }

    /// What stage of the method proved it.
    pub fn phase(&self) -> Option<Phase> {
        self.proven.then(|| Phase::of(&self.effort))
    }

    /// How far the plan can be from the best, as a share of its value.
    pub fn gap(&self) -> Option<f64> {
        let (value, bound) = (self.value?, self.bound?);
        let share = (value - bound).checked_div(value);
        share.unwrap_or_default().to_f64()
    }

    /// One row for a file.
    pub fn row(&self) -> String {
        let money = |money: Option<Decimal>| money.map(|money| money.to_string());
        let effort = &self.effort;
        format!(
            "{},{},{},{},{},{},{:.6},{},{},{},{},{},{}",
            self.name,
            money(self.value).unwrap_or_default(),
            money(self.bound).unwrap_or_default(),
            self.proven,
            self.trusted,
            self.wrong.is_some(),
            self.seconds,
            effort.questions,
            effort.enumerated,
            effort.nodes,
            effort.pricing_rounds,
            effort.dives,
            effort.work
        )
    }

    /// One line for people: what is known, and what it took.
    pub fn line(&self) -> String {
        let text = |money: Option<Decimal>| money.map_or("none".to_owned(), |m| m.to_string());
        format!(
            "{:<22} {:>9.4} s  value {:>10}  bound {:>10}  questions {:>5}  enumerated {:>8}  nodes {:>6}",
            self.name,
            self.seconds,
            text(self.value),
            text(self.bound),
            self.effort.questions,
            self.effort.enumerated,
            self.effort.nodes,
        )
    }
}

fn is_proven(cutting: &Cutting) -> bool {
    cutting.proof == Proof::Optimal
}

fn amount(value: Value) -> Decimal {
    match value {
        Value::Money(price) => price.decimal().normalize(),
        // Millimetres.
        Value::Bought(length) => Decimal::new(length.nm(), 6).normalize(),
    }
}

/// How many of the slowest are named.
const SLOWEST: usize = 10;

/// Prints what came of all; whether no answer is wrong.
pub fn print(all: &[Judged]) -> bool {
    let seconds: Vec<f64> = all.iter().map(|judged| judged.seconds).collect();
    let count = |what: fn(&Judged) -> bool| all.iter().filter(|judged| what(judged)).count();
    println!("proven      {}/{}", count(Judged::is_sound), all.len());
    println!("  of these with something taken on trust  {}", {
        count(|judged| judged.is_sound() && judged.trusted)
    });
    println!("wrong       {}", count(|judged| judged.wrong.is_some()));
    println!("median s    {:.4}", median(&seconds));
    println!("90 of 100 s {:.4}", ninth_decile(&seconds));
    println!(
        "slowest s   {:.4}",
        seconds.iter().copied().fold(0.0, f64::max)
    );
    println!("total s     {:.2}", seconds.iter().sum::<f64>());
    println!("\nnot proven:");
    for judged in all.iter().filter(|judged| !judged.proven) {
        let gap = judged.gap().map_or("no plan".to_owned(), |gap| {
            format!("gap {:.4} %", 100.0 * gap)
        });
        println!("  {}  {gap}", judged.line());
    }
    println!("\nslowest:");
    let mut slowest: Vec<&Judged> = all.iter().collect();
    slowest.sort_by(|a, b| b.seconds.total_cmp(&a.seconds));
    for judged in slowest.iter().take(SLOWEST) {
        println!("  {}", judged.line());
    }
    for judged in all {
        if let Some(wrong) = &judged.wrong {
            println!("WRONG {}: {wrong}", judged.name);
        }
    }
    all.iter().all(|judged| judged.wrong.is_none())
}

/// What nine of ten stay within (nearest rank); 0 of none.
fn ninth_decile(seconds: &[f64]) -> f64 {
    let mut sorted = seconds.to_vec();
    sorted.sort_by(f64::total_cmp);
    let rank = (9 * sorted.len()).div_ceil(10);
    let at = rank.checked_sub(1).and_then(|at| sorted.get(at));
    at.copied().unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn claim(value: u64, bound: u64, proven: bool) -> Judged {
        Judged {
            name: String::new(),
            seconds: 0.0,
            value: Some(value.into()),
            bound: Some(bound.into()),
            proven,
            trusted: false,
            wrong: None,
            effort: Effort::default(),
        }
    }

    #[test]
    fn claims_are_held_against_the_optimum() {
        let contradicts = |claim: Judged| claim.contradiction(7_u64.into()).is_some();
        assert!(!contradicts(claim(7, 7, true)));
        assert!(!contradicts(claim(8, 6, false)));
        assert!(contradicts(claim(6, 6, true)));
        assert!(contradicts(claim(9, 8, false)));
        assert!(contradicts(claim(8, 7, true)));
    }

    #[test]
    fn ninth_decile_is_the_nearest_rank() {
        let ten: Vec<f64> = (1..=10).rev().map(f64::from).collect();
        assert_eq!(ninth_decile(&ten), 9.0);
        assert_eq!(ninth_decile(&[3.0, 1.0]), 3.0);
        assert_eq!(ninth_decile(&[]), 0.0);
    }
}
