//! Plans that were carried on: whether names of bars and pieces contradict each other.

use std::collections::{HashMap, HashSet};

use lengthwise::plan::Outcome;

use super::insured::named;
use crate::json::read_back::whole::Whole;

/// What does not hold, as sentences.
pub fn check(whole: &Whole) -> Vec<String> {
    let mut wrong = Vec::new();
    let under_way = &whole.under_way;
    let mut names = HashSet::new();
    for name in under_way
        .bar_names()
        .chain(under_way.names_taken.iter().map(String::as_str))
    {
        if !names.insert(name) {
            wrong.push(format!("the bar {name} is named a second time"));
        }
    }
    // Marks may repeat from material to material; what is cut names its material.
    let both = whole.job.materials().iter().zip(&under_way.materials);
    let marks: HashSet<(&str, &str)> = both
        .flat_map(|(material, planned)| {
            let cuts = planned.bars.iter().flat_map(|group| &group.cuts);
            let marks = cuts.flat_map(|cut| &cut.marks);
            marks.map(|mark| (material.name(), mark.as_str()))
        })
        .collect();
    let mut done = HashSet::new();
    for piece in &under_way.done {
        let mark = piece.row.mark.as_str();
        let named = (piece.row.material.as_str(), mark);
        if !done.insert(named) {
            wrong.push(format!("the piece {mark} is cut already a second time"));
        }
        if marks.contains(&named) {
            wrong.push(format!(
                "the piece {mark} is cut already, and cut once more"
            ));
        }
    }
    let both = whole.job.materials().iter().zip(&whole.plan.materials);
    for ((material, plan), planned) in both.zip(&under_way.materials) {
        let uncut: Option<HashMap<usize, u64>> = match &plan.outcome {
            Outcome::Planned(cutting) => {
                let uncut = cutting.uncut.iter();
                Some(uncut.map(|uncut| (uncut.bar, uncut.count)).collect())
            }
            _ => None,
        };
        let mut told = HashSet::new();
        for bars in &planned.whole {
            let there = match &uncut {
                Some(uncut) => uncut.get(&bars.bar).copied().unwrap_or(0),
                None => material
                    .bars()
                    .get(bars.bar)
                    .and_then(|bar| bar.bars_available())
                    .unwrap_or(0),
            };
            let too_many = u64::try_from(bars.names.len()).map_or(true, |names| names > there);
            if too_many && told.insert(bars.bar) {
                let material = named(material);
                let bar = bars.bar;
                wrong.push(format!(
                    "{material}: more bars of kind {bar} have a name than stay whole"
                ));
            }
        }
    }
    wrong
}
