//! Walls of which something is cut: the rest of them comes from the same batch.

use std::collections::{HashMap, HashSet};

use super::pieces::{Pieces, Remark, State};
use super::single::OneBar;
use super::sticks::{Stick, Sticks};
use crate::job::{Job, Material, PieceRow, StockRow, Wall, name_key};
use crate::plan::WallBatch;

/// Bars that named no batch, where others did, are of this one from then on: so that a wall can ask for it.
pub(super) const UNNAMED: &str = "unnamed";

/// The batch of a wall by its name; a batch as rows name it.
pub(super) type Begun = HashMap<String, String>;

/// Writes on every piece that is cut from which batch it came, and on what is left of its wall that it has
/// to come from there too.
pub(super) fn bind(pieces: &mut Pieces, sticks: &Sticks, job: &Job) {
    for material in job
        .materials()
        .iter()
        .filter(|material| is_batched(material))
    {
        let mut begun = Begun::new();
        let mut mixed: Vec<String> = Vec::new();
        for piece in pieces.all.iter_mut() {
            let State::Done(bar) = &piece.state else {
                continue;
            };
            if piece.material != material.name() {
                continue;
            }
            // Of what was cut before, the row knows it.
            if piece.from.is_some() {
                let stick = sticks.named(bar).and_then(|at| sticks.all.get(at));
                piece.row.batch = stick.map_or_else(String::new, |stick| named(&stick.batch));
            }
            if piece.row.wall.trim().is_empty() || piece.row.batch.is_empty() {
                continue;
            }
            let batch = begun.entry(name_key(&piece.row.wall));
            let batch = batch.or_insert_with(|| piece.row.batch.clone());
            let wall = piece.row.wall.trim().to_owned();
            if name_key(batch) != name_key(&piece.row.batch) && !mixed.contains(&wall) {
                mixed.push(wall);
            }
        }
        let to_do = pieces.all.iter_mut().filter(|piece| piece.is_to_do());
        let rows = to_do.map(|piece| &mut piece.row);
        let rows = rows.chain(pieces.runs.iter_mut().map(|run| &mut run.row));
        for row in rows.filter(|row| row.material == material.name()) {
            if let Some(batch) = begun.get(&name_key(&row.wall)) {
                row.batch.clone_from(batch);
            }
        }
        let remarks = mixed.into_iter();
        pieces
            .remarks
            .extend(remarks.map(|wall| Remark::WallOfSeveralBatches { wall }));
    }
}

/// Whether bars of a material are of several batches.
pub(super) fn is_batched(material: &Material) -> bool {
    material.batches().len() > 1
}

/// A batch by a name that it can be asked for by.
pub(super) fn named(batch: &str) -> String {
    if batch.trim().is_empty() {
        UNNAMED.to_owned()
    } else {
        batch.to_owned()
    }
}

/// Gives bars that name no batch the name of theirs, where others of their material name one.
pub(super) fn name_all(job: &Job, sticks: &mut [Stick], stock: &mut [StockRow]) {
    for (place, material) in job.materials().iter().enumerate() {
        if !is_batched(material) {
            continue;
        }
        for stick in sticks.iter_mut().filter(|stick| stick.material == place) {
            stick.batch = named(&stick.batch);
        }
        let its = name_key(material.name());
        let is_only = job.materials().len() == 1;
        let is_its = |row: &&mut StockRow| {
            name_key(&row.material) == its || (is_only && row.material.trim().is_empty())
        };
        for row in stock.iter_mut().filter(is_its) {
            row.batch = named(&row.batch);
        }
    }
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
    let mut there: HashSet<String> = there.map(|batch| name_key(batch)).collect();
    let asked = rows.filter(|row| row.material == material.name() && !row.batch.is_empty());
    let missing = asked.filter(|row| there.insert(name_key(&row.batch)));
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
        if name_key(of_wall) != name_key(batch) {
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
