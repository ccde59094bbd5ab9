//! Batches: that every piece comes from the one that it has to come from, and every wall from one.

use std::collections::{HashMap, HashSet};

use super::Trust;
use super::facts::Facts;
use super::refusal::Breach;
use crate::job::Piece;
use crate::plan::{Cutting, WallBatch, WallBatches};

/// The batches that the parts of each copy come from: by the mark of its piece and its number.
type Batches<'p> = HashMap<(&'p str, u64), HashSet<u32>>;

/// Checks the batches of a plan, and gives the batch of every wall that has to have one; what has to be
/// believed is handed back too.
pub(super) fn check_batches(
    facts: &Facts<'_>,
    cutting: &Cutting,
) -> Result<(Vec<Option<usize>>, Option<Trust>), Breach> {
    let material = facts.material;
    let walls = material.open_walls();
    if material.batches().len() < 2 {
        return match cutting.walls {
            None => Ok((vec![], None)),
            Some(_) => Err(Breach::NoWalls),
        };
    }
    let (whole, parts) = batches_of_cuts(facts, cutting)?;
    for piece in material.pieces() {
        let Some(batch) = piece.batch() else {
            continue;
        };
        for copy in 0..piece.qty() {
            let is_of_it = |found: &HashSet<u32>| found.iter().all(|other| *other == batch);
            let found = batches_of(piece, copy, &whole, &parts);
            if !found.as_ref().is_none_or(is_of_it) {
                let mark = piece.copy_mark(copy);
                return Err(Breach::OtherBatch { mark });
            }
        }
    }
    let mut chosen = Vec::new();
    for wall in &walls {
        let mut found: HashSet<u32> = HashSet::new();
        for piece in wall
            .pieces
            .iter()
            .filter_map(|&at| material.pieces().get(at))
        {
            for copy in 0..piece.qty() {
                found.extend(
                    batches_of(piece, copy, &whole, &parts)
                        .into_iter()
                        .flatten(),
                );
            }
        }
        let mut found = found.into_iter();
        match (found.next(), found.next()) {
            (Some(batch), None) => chosen.push(usize::try_from(batch).ok()),
            _ => {
                let wall = wall.name.clone();
                return Err(Breach::WallOfSeveralBatches { wall });
            }
        }
    }
    let recomputed = material.named_walls(walls, chosen.iter().copied().flatten());
    let trust = check_claim(facts, cutting, recomputed)?;
    Ok((chosen, trust))
}

/// Whether the plan says the same of its walls, and what it has to be believed about others.
fn check_claim(
    facts: &Facts<'_>,
    cutting: &Cutting,
    recomputed: Vec<WallBatch>,
) -> Result<Option<Trust>, Breach> {
    let Some(WallBatches { walls, without }) = &cutting.walls else {
        return if recomputed.is_empty() {
            Ok(None)
        } else {
            Err(Breach::WallBatches)
        };
    };
    for value in without.bound.into_iter().chain([without.found]) {
        facts.units(value)?;
    }
    let in_order = without.bound.is_none_or(|bound| bound <= without.found);
    let is_right = *walls == recomputed && without.found <= cutting.value && in_order;
    if is_right && !recomputed.is_empty() {
        Ok(Some(Trust::WithoutWalls))
    } else {
        Err(Breach::WallBatches)
    }
}

/// Where every copy and every part lies: pieces by their own mark, parts by that of the run.
fn batches_of_cuts<'p>(
    facts: &Facts<'_>,
    cutting: &'p Cutting,
) -> Result<(HashMap<&'p str, u32>, Batches<'p>), Breach> {
    let mut whole = HashMap::new();
    let mut parts = Batches::new();
    for group in &cutting.bars {
        let bar = facts.material.bars().get(group.bar);
        let batch = bar.ok_or(Breach::NoSuchBar { bar: group.bar })?.batch();
        for cut in &group.cuts {
            whole.extend(cut.marks.iter().map(|mark| (mark.as_str(), batch)));
            for part in &cut.parts {
                parts
                    .entry((part.mark.as_str(), part.copy))
                    .or_default()
                    .insert(batch);
            }
        }
    }
    Ok((whole, parts))
}

/// The batches that a copy, or the parts of one, come from; the marks of all are checked elsewhere.
fn batches_of(
    piece: &Piece,
    copy: u64,
    whole: &HashMap<&str, u32>,
    parts: &Batches<'_>,
) -> Option<HashSet<u32>> {
    if piece.run().is_some() {
        let of_run = parts.get(&(piece.mark(), piece.copy_number(copy)));
        return of_run.cloned();
    }
    let batch = whole.get(piece.copy_mark(copy).as_str());
    batch.map(|&batch| HashSet::from([batch]))
}
