//! The other side of a comparison: an arc-flow model in HiGHS, and the recheck of its plans.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;
use std::process::{Command, Stdio};

use clap::Args;
use lengthwise::{Job, Length, Price};
use rust_decimal::Decimal;
use rust_decimal::prelude::{FromPrimitive, ToPrimitive};
use serde::{Deserialize, Serialize};

/// How the other side is run.
#[derive(Args)]
pub struct Rival {
    /// A Python that has the packages highspy and numpy.
    #[arg(long, default_value = "python3", global = true)]
    python: PathBuf,
    /// The script with the model.
    #[arg(long, default_value = "benches/highs/arcflow.py", global = true)]
    script: PathBuf,
    /// How HiGHS solves its linear programs: each setting solves every job.
    #[arg(
        long,
        value_delimiter = ',',
        default_value = "simplex,ipm",
        global = true
    )]
    pub settings: Vec<String>,
    /// Models with more arcs are not tried and count as if they ran into the limit.
    #[arg(long, default_value_t = 10_000_000, global = true)]
    most_arcs: u64,
}

/// A job as the model reads it: whole millimetres and pence.
#[derive(Debug, PartialEq, Eq, Serialize)]
pub struct Model {
    kerf: u64,
    /// The length between the allowances, the cost, and how many there are.
    bars: Vec<(u64, u64, Option<u64>)>,
    /// Length and quantity, longest first.
    pieces: Vec<(u64, u64)>,
}

/// What the model came to under one setting.
#[derive(Debug, Deserialize)]
pub struct Answer {
    /// The setting.
    pub setting: String,
    /// Seconds of the solver alone.
    pub seconds: f64,
    /// Seconds of building the model.
    pub build: Option<f64>,
    /// Item arcs of the model.
    pub arcs: Option<u64>,
    /// `optimal`, or why not.
    pub status: String,
    cost: Option<u64>,
    bound: Option<f64>,
    /// Times, kind of bar, lengths.
    plan: Option<Vec<(u64, usize, Vec<u64>)>>,
}

/// Share by which a bound in floating point is lowered before it is believed.
const BOUND_TOLERANCE: f64 = 1e-6;

impl Rival {
    /// Solves a job under every setting, in a process of its own.
    pub fn solve(&self, model: &Model, limit: f64) -> Result<Vec<Answer>, String> {
        let failed = |why: &dyn std::fmt::Display| format!("{}: {why}", self.python.display());
        let mut child = Command::new(&self.python)
            .arg(&self.script)
            .args(["--settings", &self.settings.join(",")])
            .args(["--limit", &limit.to_string()])
            .args(["--most-arcs", &self.most_arcs.to_string()])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .map_err(|why| failed(&why))?;
        let text = serde_json::to_string(model).map_err(|why| failed(&why))?;
        // Dropped at once: the script reads to the end.
        let written = child
            .stdin
            .take()
            .map(|mut to| to.write_all(text.as_bytes()));
        let output = child.wait_with_output().map_err(|why| failed(&why))?;
        // Ended by a signal, the system's for want of memory perhaps: no more answers from this job.
        let killed = output.status.code().is_none();
        let finished = output.status.success() && matches!(written, Some(Ok(())));
        if !finished && !killed {
            return Err(failed(&output.status));
        }
        let text = String::from_utf8_lossy(&output.stdout);
        // The solver greets on the same stream.
        let mut answers = text
            .lines()
            .filter(|line| line.starts_with('{'))
            .map(|line| serde_json::from_str(line).map_err(|why| failed(&why)))
            .collect::<Result<Vec<Answer>, String>>()?;
        if answers.len() != self.settings.len() && !killed {
            return Err(failed(&"not an answer for each setting"));
        }
        let missing = self.settings.iter().skip(answers.len());
        answers.extend(missing.map(|setting| Answer::killed(setting, limit)));
        Ok(answers)
    }
}

impl Model {
    /// The model of a priced job of one material in whole millimetres and pence, bars sold singly.
    pub fn of(job: &Job) -> Option<Model> {
        let [material] = job.materials() else {
            return None;
        };
        let bars = material.bars().iter().map(|bar| {
            let cost = pence(bar.sale_price()?)?;
            let single = bar.bars_per_sale() == 1;
            single.then_some((millimetres(bar.usable())?, cost, bar.bars_available()))
        });
        let mut pieces: BTreeMap<u64, u64> = BTreeMap::new();
        for piece in material.pieces() {
            *pieces.entry(millimetres(piece.length())?).or_default() += piece.qty();
        }
        Some(Model {
            kerf: millimetres(material.cut_width())?,
            bars: bars.collect::<Option<_>>()?,
            pieces: pieces.into_iter().rev().collect(),
        })
    }

    /// What a plan costs, in pence.
    ///
    /// # Errors
    /// What is wrong with it: a bar too full, too many bars, a piece missing or never asked for.
    fn recheck(&self, plan: &[(u64, usize, Vec<u64>)]) -> Result<u64, String> {
        let mut bars_left: Vec<Option<u64>> = self.bars.iter().map(|bar| bar.2).collect();
        let mut left: BTreeMap<u64, u64> = self.pieces.iter().copied().collect();
        let mut total = 0;
        for (times, kind, lengths) in plan {
            let wrong = |what: &str| format!("{what}: {times} x {lengths:?} on kind {kind}");
            let (Some((usable, cost, _)), Some(available)) =
                (self.bars.get(*kind), bars_left.get_mut(*kind))
            else {
                return Err(wrong("no such bar"));
            };
            // One blade fewer than pieces: the last cut may fall on the end.
            let taken: u64 = lengths.iter().map(|length| length + self.kerf).sum();
            if taken > usable + self.kerf {
                return Err(wrong("too long"));
            }
            if let Some(available) = available {
                let rest = available.checked_sub(*times);
                *available = rest.ok_or_else(|| wrong("not so many bars"))?;
            }
            for length in lengths {
                let left = left.get_mut(length).ok_or_else(|| wrong("no such piece"))?;
                *left = left.saturating_sub(*times);
            }
            total += times * cost;
        }
        match left.iter().find(|(_, left)| **left > 0) {
            Some((length, left)) => Err(format!("{left} pieces of {length} are missing")),
            None => Ok(total),
        }
    }
}

fn millimetres(length: Length) -> Option<u64> {
    let nm = u64::try_from(length.nm()).ok()?;
    nm.is_multiple_of(1_000_000).then_some(nm / 1_000_000)
}

fn pence(price: Price) -> Option<u64> {
    let pence = price.decimal() * Decimal::ONE_HUNDRED;
    pence.is_integer().then(|| pence.to_u64())?
}

impl Answer {
    fn killed(setting: &str, limit: f64) -> Answer {
        Answer {
            setting: setting.to_owned(),
            seconds: limit,
            build: None,
            arcs: None,
            status: "killed".to_owned(),
            cost: None,
            bound: None,
            plan: None,
        }
    }

    /// Whether the solver calls its plan optimal.
    pub fn proven(&self) -> bool {
        self.status == "optimal"
    }

    /// What it says its plan costs in pence, empty without one.
    pub fn said(&self) -> String {
        self.cost.map(|cost| cost.to_string()).unwrap_or_default()
    }

    /// What the plan comes to; `None` without one.
    ///
    /// # Errors
    /// What is wrong with the plan, or with what is said of it.
    pub fn value(&self, model: &Model) -> Result<Option<Decimal>, String> {
        match (&self.plan, self.cost) {
            (Some(plan), Some(cost)) => {
                let cut = model.recheck(plan)?;
                let said = (cut == cost).then(|| Decimal::from(cost) / Decimal::ONE_HUNDRED);
                said.map(Some)
                    .ok_or_else(|| format!("{cost} pence said, {cut} cut"))
            }
            _ if self.proven() => Err("called optimal without a plan".to_owned()),
            _ => Ok(None),
        }
    }

    /// Below which the solver says that no plan comes, given what its own plan comes to.
    pub fn bound(&self, value: Option<Decimal>) -> Option<Decimal> {
        if self.proven() {
            return value;
        }
        let pence = Decimal::from_f64(self.bound? * (1.0 - BOUND_TOLERANCE))?;
        Some(pence / Decimal::ONE_HUNDRED)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lengthwise_tests::generate::Instance;
    use lengthwise_tests::generate::trade::trade_job;

    #[test]
    fn plans_of_the_other_side_are_rechecked() {
        let model = Model {
            kerf: 1,
            bars: vec![(11, 50, None), (4, 0, Some(1))],
            pieces: vec![(6, 1), (4, 3)],
        };
        let plan = |bars: &[(u64, usize, &[u64])]| -> Vec<(u64, usize, Vec<u64>)> {
            let bars = bars.iter();
            bars.map(|(times, kind, lengths)| (*times, *kind, lengths.to_vec()))
                .collect()
        };
        let good: [(u64, usize, &[u64]); 3] = [(1, 0, &[6, 4]), (1, 0, &[4]), (1, 1, &[4])];
        assert_eq!(model.recheck(&plan(&good)), Ok(100));
        let more = plan(&[(1, 0, &[6, 4]), (2, 0, &[4, 4])]);
        assert_eq!(model.recheck(&more), Ok(150));
        let wrong: [&[(u64, usize, &[u64])]; 6] = [
            &[(1, 0, &[6, 4])],                                // missing
            &[(1, 0, &[6, 4]), (2, 1, &[4])],                  // one such bar
            &[(1, 0, &[6, 4]), (1, 0, &[4]), (1, 1, &[5])],    // never asked for
            &[(1, 0, &[6, 4]), (1, 0, &[4, 4, 4])],            // too long
            &[(1, 0, &[6, 4]), (1, 0, &[4, 4]), (1, 2, &[4])], // no such kind
            &[],
        ];
        for bars in wrong {
            assert!(model.recheck(&plan(bars)).is_err(), "{bars:?}");
        }
        // Exactly full with the blade between, and too full by less than a blade.
        assert_eq!(model.recheck(&plan(&[(3, 0, &[6, 4])])), Ok(150));
        let tight = Model {
            bars: vec![(10, 50, None)],
            ..model
        };
        assert!(tight.recheck(&plan(&[(3, 0, &[6, 4])])).is_err());
    }

    #[test]
    fn what_is_said_must_be_what_is_cut() {
        let instance = Instance {
            name: String::new(),
            bar: 10,
            kerf: 0,
            pieces: vec![(6, 1), (4, 3)],
            optimum: None,
        };
        let model = Model::of(&instance.job()).filter(|model| model.bars == [(10, 100, None)]);
        let answer = |text: &str| -> Result<Option<Decimal>, String> {
            let answer: Answer = serde_json::from_str(text).map_err(|why| why.to_string())?;
            answer.value(model.as_ref().ok_or("no model")?)
        };
        let said = |status: &str, cost: u64| {
            answer(&format!(
                r#"{{"setting":"ipm","seconds":1,"status":"{status}","cost":{cost},
                   "plan":[[1,0,[6,4]],[1,0,[4,4]]]}}"#
            ))
        };
        assert_eq!(said("optimal", 200), Ok(Some(Decimal::TWO)));
        assert_eq!(said("limit", 200), Ok(Some(Decimal::TWO)));
        assert!(said("limit", 100).is_err());
        let none = |status| format!(r#"{{"setting":"ipm","seconds":1,"status":"{status}"}}"#);
        assert_eq!(answer(&none("limit")), Ok(None));
        assert!(answer(&none("optimal")).is_err());
    }

    #[test]
    fn allowances_and_bars_in_hand_are_in_the_model() {
        // Allowance 10 at both ends of the only length; blade 3.
        let model = Model::of(&trade_job(45).job());
        let bought = model.as_ref().and_then(|model| model.bars.first());
        assert_eq!(bought, Some(&(2380, 865, None)));
        assert_eq!(model.map(|model| model.kerf), Some(3));
        // Two in hand, once each and for nothing.
        let model = Model::of(&trade_job(9).job());
        let in_hand: Vec<_> = model
            .into_iter()
            .flat_map(|model| model.bars)
            .skip(3)
            .collect();
        assert_eq!(in_hand, [(1669, 0, Some(1)), (996, 0, Some(1))]);
    }
}
