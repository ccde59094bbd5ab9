//! Walls of which something is cut: the rest of them comes from the same batch.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

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
    let of_material = |material: &Material| {
        let bars = material.bars().iter();
        let batches = bars.map(|bar| batch_key(material.batch_of(bar)));
        (material.name().to_owned(), batches.collect())
    };
    let mut batches: BTreeMap<String, HashSet<String>> =
        job.materials().iter().map(of_material).collect();
    let there = sticks.all.iter().filter_map(|stick| {
        let material = job.materials().get(stick.material)?;
        Some((material.name(), &stick.batch))
    });
    let cut = pieces.all.iter().filter_map(|piece| match &piece.state {
        State::Done(from) => Some((piece.material.as_str(), &from.batch)),
        _ => None,
    });
    for (material, batch) in there.chain(cut) {
        // Of a material of which nothing is left to cut, nothing has to come from anywhere.
        if let Some(of_material) = batches.get_mut(material) {
            of_material.insert(batch_key(batch));
        }
    }
    let several = batches.into_iter().filter(|(_, of)| of.len() > 1);
    several.map(|(material, _)| material).collect()
}

/// Writes on what is left of a wall that it has to come from the batch that it asks for, else from that which
/// its pieces were cut from.
pub(super) fn bind(pieces: &mut Pieces) {
    let mut begun = asked_for(pieces);
    let mut mixed: BTreeMap<String, Vec<(WallKey, String)>> = BTreeMap::new();
    let mut known: HashSet<(WallKey, String)> = HashSet::new();
    for piece in &pieces.all {
        let State::Done(from) = &piece.state else {
            continue;
        };
        let Some(wall) = wall_of(&piece.row, &pieces.batched) else {
            continue;
        };
        let batch = begun.entry(wall.clone());
        let batch = batch.or_insert_with(|| from.batch.clone());
        let named = (wall, piece.row.wall.trim().to_owned());
        if batch_key(batch) != batch_key(&from.batch) && known.insert(named.clone()) {
            let of_material = mixed.entry(piece.material.clone()).or_default();
            of_material.push(named);
        }
    }
    let to_do = pieces.all.iter_mut().filter(|piece| piece.is_to_do());
    let rows = to_do.map(|piece| &mut piece.row);
    let rows = rows.chain(pieces.runs.iter_mut().map(|run| &mut run.row));
    for row in rows {
        let batch = wall_of(row, &pieces.batched).and_then(|wall| begun.get(&wall));
        if let Some(batch) = batch {
            row.batch = batch_name(batch).to_owned();
        }
    }
    let remarks = mixed.into_values().flatten().map(|(key, wall)| {
        let batch = begun.get(&key).cloned().unwrap_or_default();
        Remark::WallOfSeveralBatches { wall, batch }
    });
    pieces.remarks.extend(remarks);
}

/// A wall by its material and its name.
type WallKey = (String, String);

/// The wall of a row, where it has one and the bars of its material are of several batches.
fn wall_of(row: &PieceRow, batched: &BTreeSet<String>) -> Option<WallKey> {
    let is_of_wall = !row.wall.trim().is_empty() && batched.contains(&row.material);
    is_of_wall.then(|| (row.material.clone(), name_key(&row.wall)))
}

/// The batches that walls ask for: what is left of them first, which knows what it was bound to before.
fn asked_for(pieces: &Pieces) -> HashMap<WallKey, String> {
    let (to_do, others): (Vec<&Piece>, Vec<&Piece>) =
        pieces.all.iter().partition(|piece| piece.is_to_do());
    let runs = pieces.runs.iter().map(|run| &run.row);
    let rows = to_do.into_iter().map(|piece| &piece.row).chain(runs);
    let rows = rows.chain(others.into_iter().map(|piece| &piece.row));
    let mut asked = HashMap::new();
    for row in rows.filter(|row| !row.batch.is_empty()) {
        if let Some(wall) = wall_of(row, &pieces.batched) {
            asked.entry(wall).or_insert_with(|| row.batch.clone());
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
