//! Walls of which something is cut: the rest of them comes from the same batch.

use std::collections::{BTreeSet, HashMap, HashSet};

use itertools::Itertools;

use super::pieces::{Piece, Pieces, Remark, State};
use super::single::OneBar;
use super::sticks::{Stick, Sticks};
use crate::job::{Job, Material, PieceRow, StockRow, Wall, batch_key, batch_name, name_key};
use crate::plan::WallBatch;

/// The batch of a wall by its name; a batch as rows name it.
pub(super) type Begun = HashMap<String, String>;

/// The materials whose bars are of several batches: those that can still be bought or were, those that were
/// found, and those that pieces were cut from.
pub(super) fn batched(job: &Job, sticks: &Sticks, pieces: &Pieces) -> BTreeSet<String> {
    let is_batched = |(place, material): &(usize, &Material)| {
        let bars = material.bars().iter().map(|bar| material.batch_of(bar));
        let there = sticks.all.iter().filter(|stick| stick.material == *place);
        let there = there.map(|stick| stick.batch.as_str());
        let its = pieces.all.iter();
        let its = its.filter(|piece| piece.material == material.name());
        let cut = its.filter_map(|piece| match &piece.state {
            State::Done(from) => Some(from.batch.as_str()),
            _ => None,
        });
        !bars.chain(there).chain(cut).map(batch_key).all_equal()
    };
    let materials = job.materials().iter().enumerate().filter(is_batched);
    materials
        .map(|(_, material)| material.name().to_owned())
        .collect()
}

/// Writes on what is left of a wall that it has to come from the batch that it asks for, else from that which
/// its pieces were cut from.
pub(super) fn bind(pieces: &mut Pieces) {
    for material in &pieces.batched {
        let mut begun = asked_for(pieces, material);
        let mut mixed: Vec<String> = Vec::new();
        for piece in pieces
            .all
            .iter()
            .filter(|piece| piece.material == *material)
        {
            let State::Done(from) = &piece.state else {
                continue;
            };
            let wall = piece.row.wall.trim().to_owned();
            if wall.is_empty() {
                continue;
            }
            let batch = begun.entry(name_key(&wall));
            let batch = batch.or_insert_with(|| from.batch.clone());
            if batch_key(batch) != batch_key(&from.batch) && !mixed.contains(&wall) {
                mixed.push(wall);
            }
        }
        let to_do = pieces.all.iter_mut().filter(|piece| piece.is_to_do());
        let rows = to_do.map(|piece| &mut piece.row);
        let rows = rows.chain(pieces.runs.iter_mut().map(|run| &mut run.row));
        for row in rows.filter(|row| row.material == *material) {
            if let Some(batch) = begun.get(&name_key(&row.wall)) {
                row.batch = batch_name(batch).to_owned();
            }
        }
        let remarks = mixed.into_iter().map(|wall| {
            let batch = begun.get(&name_key(&wall)).cloned().unwrap_or_default();
            Remark::WallOfSeveralBatches { wall, batch }
        });
        pieces.remarks.extend(remarks);
    }
}

/// The batches that walls of a material ask for: what is left of them first, which knows what it was bound to
/// before.
fn asked_for(pieces: &Pieces, material: &str) -> Begun {
    let (to_do, others): (Vec<&Piece>, Vec<&Piece>) =
        pieces.all.iter().partition(|piece| piece.is_to_do());
    let runs = pieces.runs.iter().map(|run| &run.row);
    let rows = to_do.into_iter().map(|piece| &piece.row).chain(runs);
    let rows = rows.chain(others.into_iter().map(|piece| &piece.row));
    let mut asked = Begun::new();
    for row in rows.filter(|row| row.material == material && !row.batch.is_empty()) {
        if !row.wall.trim().is_empty() {
            let batch = asked.entry(name_key(&row.wall));
            batch.or_insert_with(|| row.batch.clone());
        }
    }
    asked
}

/// Whether bars of a material are of several batches.
pub(super) fn is_batched(material: &Material) -> bool {
    material.batches().len() > 1
}

/// Whether a piece may come from a bar of this batch, as far as its row asks for one.
pub(super) fn may_come_from(row: &PieceRow, batch: &str) -> bool {
    row.batch.is_empty() || batch_key(&row.batch) == batch_key(batch)
}

/// A stick of none for every batch that is asked for and that nothing is left of: without a bar that names
/// it, a batch is a fault.
pub(super) fn used_up<'r>(
    material: &Material,
    sticks: &[Stick],
    stock: &[StockRow],
    rows: impl Iterator<Item = &'r PieceRow>,
) -> Vec<Stick> {
    let there = sticks.iter().map(|stick| &stick.batch);
    let there = there.chain(stock.iter().map(|row| &row.batch));
    let mut there: HashSet<String> = there.map(|batch| batch_key(batch)).collect();
    let asked = rows.filter(|row| row.material == material.name() && !row.batch.is_empty());
    let missing = asked.filter(|row| there.insert(batch_key(&row.batch)));
    let of_batch = |row: &PieceRow| {
        let stick = Stick::without_name(material, material.bars().first()?, 0);
        let batch = row.batch.clone();
        Some(Stick { batch, ..stick })
    };
    missing.filter_map(of_batch).collect()
}

/// The batch of every wall that has pieces on some bars, with the names of the batches of these; `None`
/// where one has pieces of several.
pub(super) fn begun_on<'b>(
    bars: impl Iterator<Item = (&'b str, &'b str)>,
    rows: &HashMap<&str, &PieceRow>,
) -> Option<Begun> {
    let mut begun = Begun::new();
    for (mark, batch) in bars {
        let wall = rows.get(mark).map_or("", |row| row.wall.as_str());
        if wall.trim().is_empty() {
            continue;
        }
        let of_wall = begun
            .entry(name_key(wall))
            .or_insert_with(|| batch.to_owned());
        if batch_key(of_wall) != batch_key(batch) {
            return None;
        }
    }
    Some(begun)
}

/// The batch of every open wall of a plan, in the order of the job; `None` where one is of several.
pub(super) fn batches_of(material: &Material, bars: &[OneBar]) -> Option<Vec<WallBatch>> {
    let mut of_mark: HashMap<&str, HashSet<u32>> = HashMap::new();
    for bar in bars {
        let batch = material.bars().get(bar.kind)?.batch();
        for cut in &bar.cuts {
            let mark = cut.part.as_ref().map_or(&cut.mark, |part| &part.mark);
            of_mark.entry(mark).or_default().insert(batch);
        }
    }
    let walls = material.open_walls();
    let of_wall = |wall: &Wall| {
        let mut found: HashSet<u32> = HashSet::new();
        for piece in wall
            .pieces
            .iter()
            .filter_map(|&at| material.pieces().get(at))
        {
            // Here every piece is a row of its own, and so is every run.
            found.extend(of_mark.get(piece.mark()).into_iter().flatten());
        }
        let mut found = found.into_iter();
        match (found.next(), found.next()) {
            (Some(batch), None) => usize::try_from(batch).ok(),
            _ => None,
        }
    };
    let batches: Vec<usize> = walls.iter().map(of_wall).collect::<Option<_>>()?;
    Some(material.named_walls(walls, batches))
}
