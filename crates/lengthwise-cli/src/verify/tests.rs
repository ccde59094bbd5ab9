//! Fresh plans are accepted, and every change of one field is refused.
//!
//! The jobs are invented, at random from seeds; what is checked follows from arithmetic and from what
//! `lengthwise verify` promises. `VERIFY_PLANS` and `TAMPERED_PLANS` in the environment try more.

mod jobs;
mod tamper;

use std::collections::BTreeMap;

use lengthwise::job::Material;
use lengthwise::plan::{Outcome, Plan, Value};
use lengthwise::{Job, Length, Price};

use super::{Judgement, Reason, judge};
use crate::json::seal::{self, FREE_TEXT};
use crate::json::tree::Tree;
use jobs::fresh_plan;
use tamper::{changes, to_json};

/// Plans that are made anew by default: seconds, with every kind of job among them.
const FRESH: u64 = 30;
/// Plans of which everything is changed by default.
const TAMPERED: u64 = 3;

/// Plans with more bytes are left out where every change has to be judged in seconds.
const LARGE: usize = 20_000;

fn count(variable: &str, usual: u64) -> u64 {
    match std::env::var(variable) {
        Ok(text) => text.parse().unwrap(),
        Err(_) => usual,
    }
}

fn judged(text: &str) -> Judgement {
    match judge(
        text,
        "plan.json",
        &crate::ceilings::Ceilings::default().of_plan(),
    ) {
        Ok(judgement) => judgement,
        Err(faults) => panic!("{faults:#?}\n{text}"),
    }
}

#[test]
fn fresh_plans_are_accepted() {
    let mut sorts: BTreeMap<&str, u64> = BTreeMap::new();
    let mut refused = Vec::new();
    let plans = count("VERIFY_PLANS", FRESH);
    for seed in 1..=plans {
        let fresh = fresh_plan(seed);
        let judgement = judged(&fresh.text);
        let reasons: Vec<_> = judgement.reasons.iter().map(Reason::to_string).collect();
        if !reasons.is_empty() {
            refused.push(format!("seed {seed}: {reasons:#?}"));
        }
        for sort in fresh.sorts {
            *sorts.entry(sort).or_default() += 1;
        }
    }
    assert!(refused.is_empty(), "{}", refused.join("\n"));
    println!("{plans} fresh plans accepted: {sorts:?}");
}

/// How a change was met.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Met {
    /// The file is no plan.json any more.
    NoPlan,
    /// Something that is recomputed does not hold.
    ByMeaning,
    /// Nothing but the digest tells.
    ByDigest,
    /// It is free text.
    FreeText,
}

fn met(text: &str) -> Option<Met> {
    let Ok(judgement) = judge(
        text,
        "plan.json",
        &crate::ceilings::Ceilings::default().of_plan(),
    ) else {
        return Some(Met::NoPlan);
    };
    let is_digest = |reason: &Reason| matches!(reason, Reason::Changed { .. });
    match judgement.reasons.as_slice() {
        [] => None,
        reasons if reasons.iter().all(is_digest) => Some(Met::ByDigest),
        _ => Some(Met::ByMeaning),
    }
}

#[test]
fn every_change_of_one_field_is_refused() {
    let mut all: BTreeMap<Met, u64> = BTreeMap::new();
    let mut only_digest: BTreeMap<(String, &str), u64> = BTreeMap::new();
    let plans = count("TAMPERED_PLANS", TAMPERED);
    for seed in 1..=plans {
        let fresh = fresh_plan(seed);
        let tree = Tree::read(&fresh.text).unwrap();
        for change in changes(&tree) {
            let text = to_json(&change.tree);
            let is_free = FREE_TEXT.contains(&change.kind.as_str()) && change.is_text;
            let met = match met(&text) {
                None if is_free => Met::FreeText,
                None => panic!("seed {seed}: {} {} is accepted", change.how, change.path),
                Some(met) => {
                    assert!(!is_free, "seed {seed}: the free text {}", change.path);
                    met
                }
            };
            *all.entry(met).or_default() += 1;
            if met == Met::ByDigest {
                *only_digest.entry((change.kind, change.how)).or_default() += 1;
            }
        }
    }
    println!("{plans} plans tampered with: {all:?}");
    for ((kind, how), times) in only_digest {
        println!("only the digest: {kind} {how}, {times} times");
    }
}

/// A forger writes a new digest: what is recomputed must refuse by itself all that makes the plan false.
#[test]
fn a_false_plan_with_a_new_digest_is_refused() {
    let false_by_itself = [
        "materials[].cost",
        "materials[].bought_mm",
        "materials[].buy[].count",
        "materials[].buy[].price",
        "materials[].buy[].cost",
        "materials[].buy[].length_mm",
        "materials[].bars[].stock_mm",
        "materials[].bars[].bar",
        "materials[].bars[].in_hand",
        "materials[].bars[].cuts[].length_mm",
        "materials[].bars[].cuts[].marks[]",
        "materials[].bars[].cuts[].stage",
        "materials[].bars[].cuts[].spare",
        "materials[].bars[].blade_mm",
        "materials[].bars[].square_mm",
        "materials[].bars[].offcut_mm",
        "materials[].bars[].saved",
        "materials[].uncut[].count",
        "materials[].figures.waste_mm",
        "materials[].figures.yield",
        "materials[].spoiled[].mark",
        "materials[].largest_error_mm",
        "materials[].why",
        "totals.cost",
        "totals.bought_mm",
        "job.pieces[].length",
        "job.pieces[].mark",
    ];
    let mut tried: BTreeMap<&str, u64> = BTreeMap::new();
    for seed in 1..=24 {
        let text = fresh_plan(seed).text;
        let tree = Tree::read(&text).unwrap();
        // Where there is no plan, most of the job may change and there is none still.
        if text.len() > LARGE || !is_planned(&tree) {
            continue;
        }
        for change in changes(&tree) {
            let known = false_by_itself.iter().find(|kind| **kind == change.kind);
            let (Some(&kind), true) = (known, change.how == "changed") else {
                continue;
            };
            let forged = change.tree.without(seal::FIELD);
            let digest = seal::digest(&to_json(&forged)).unwrap();
            let Tree::Fields(mut fields) = forged else {
                panic!("no object");
            };
            fields.push((seal::FIELD.to_owned(), Tree::Text(digest)));
            let text = to_json(&Tree::Fields(fields));
            let met = met(&text);
            assert!(met.is_some(), "seed {seed}: {}", change.path);
            *tried.entry(kind).or_default() += 1;
        }
    }
    let missed: Vec<_> = false_by_itself
        .iter()
        .filter(|kind| !tried.contains_key(**kind))
        .collect();
    assert!(missed.is_empty(), "never tried: {missed:?}");
}

fn is_planned(plan: &Tree) -> bool {
    let Some(Tree::List(materials)) = plan.field("materials") else {
        panic!("no materials");
    };
    let mut figures = materials.iter().map(|material| material.field("figures"));
    figures.all(|figures| figures.is_some_and(|figures| *figures != Tree::Null))
}

/// What a search that is made again finds stands for what the engine finds; here it is made up.
#[test]
fn solving_again_settles_what_is_on_trust_or_refuses_it() {
    let (mut settled, mut refused) = (0, 0);
    for seed in 1..=24 {
        let text = fresh_plan(seed).text;
        let plan_of = |job: &Job, plan: &Plan| Plan {
            materials: {
                let names: Vec<_> = job.materials().iter().map(Material::name).collect();
                let all = plan.materials.iter();
                all.filter(|material| names.contains(&material.name.as_str()))
                    .cloned()
                    .collect()
            },
        };
        let saved = judged(&text).whole.unwrap().plan;
        let mut same = judged(&text);
        same.again(&mut |job| plan_of(job, &saved));
        assert!(same.is_accepted(), "seed {seed}: {:?}", same.reasons);
        settled += same
            .again
            .iter()
            .flatten()
            .filter(|again| again.confirms_bound)
            .count();
        let mut cheaper = judged(&text);
        let mut is_asked = false;
        cheaper.again(&mut |job| {
            let mut plan = plan_of(job, &saved);
            for material in &mut plan.materials {
                match &mut material.outcome {
                    Outcome::Planned(cutting) => {
                        let nothing = match cutting.bound {
                            Value::Money(_) => Value::Money(Price::ZERO),
                            Value::Bought(_) => Value::Bought(Length::ZERO),
                        };
                        is_asked |= cutting.bound > nothing;
                        (cutting.value, cutting.bound) = (nothing, nothing);
                    }
                    Outcome::Impossible(_) | Outcome::Unknown(_) => {}
                }
            }
            plan
        });
        assert_eq!(cheaper.is_accepted(), !is_asked, "seed {seed}");
        refused += usize::from(is_asked);
    }
    assert!(
        settled > 0 && refused > 0,
        "{settled} settled, {refused} refused"
    );
}

/// Nothing that can be read makes it panic.
#[test]
fn malformed_texts_are_no_plans() {
    let plan = fresh_plan(1).text;
    let is_no_plan = |text: &str| assert_eq!(met(text), Some(Met::NoPlan), "{text:.200}");
    for end in 0..plan.len() - 1 {
        if end % 97 == 0 && plan.is_char_boundary(end) {
            is_no_plan(&plan[..end]);
        }
    }
    is_no_plan(&("[".repeat(200_000) + &"]".repeat(200_000)));
    is_no_plan(&plan.replacen('{', "{\"totals\": 1, ", 1));
    is_no_plan(&plan.replacen("\"materials\": [", "\"materials\": [7,", 1));
    let deep = format!("{{\"deep\": {}{}, ", "[".repeat(5_000), "]".repeat(5_000));
    is_no_plan(&plan.replacen('{', &deep, 1));
    is_no_plan(&format!("{plan} {plan}"));
    for number in ["1e999", "-0", "99999999999999999999999999", "0.1e-7", "-1"] {
        let tree = Tree::read(&plan).unwrap();
        for change in changes(&tree).filter(|change| change.how == "changed") {
            if let Some(tree) = tamper::with_number(&tree, &change, number) {
                assert!(
                    met(&to_json(&tree)).is_some(),
                    "{number} in {}",
                    change.path
                );
            }
        }
    }
}
