//! The rows of the job that is left.

use std::collections::{BTreeMap, HashMap, HashSet, VecDeque};
use std::sync::Arc;

use itertools::Itertools;

use super::pieces::{Piece, Pieces, RunCopy, Slot, State};
use super::single::OneCut;
use super::sticks::Stick;
use super::{DonePiece, Remainder, UnderWay, walls};
use crate::fault::{Faults, Origin};
use crate::job::{
    Bar, Ceilings, HandRow, Job, JobInput, LaidCourse, Material, PieceRow, Sold, StockRow, Supply,
    name_key,
};
use crate::length::Length;
use crate::plan::{Purchase, RunPart};

/// The source of rows that were made here.
const IN_HAND: &str = "in hand half-way";

/// What is left of one material.
#[derive(Clone, Debug)]
pub(super) struct Rest {
    /// What is there; what is planned on it is still to be cut.
    pub sticks: Vec<Stick>,
    /// The place of each among the bars of the material; `None` where squaring leaves nothing of it.
    pub kinds: Vec<Option<usize>>,
    /// Everything that is still to be cut and known as a piece, with its row.
    pub to_do: Vec<(OneCut, PieceRow)>,
    /// Runs that have to be parted anew.
    pub unplanned: Vec<PieceRow>,
    /// What can still be bought of it, under its name.
    pub stock: Vec<StockRow>,
}

impl Rest {
    /// The rows of what is still to be cut, by their marks.
    pub fn rows(&self) -> HashMap<&str, &PieceRow> {
        let rows = self.to_do.iter();
        rows.map(|(cut, row)| (cut.mark.as_str(), row)).collect()
    }
}

/// The remaining job.
pub(super) fn remainder(
    under_way: &UnderWay,
    job: &Job,
    sticks: Vec<Stick>,
    pieces: Pieces,
) -> Result<Remainder, Faults> {
    let laid = laid(job, &pieces);
    let rows = piece_rows(&pieces, &laid);
    let stock = stock_rows(under_way, job);
    let mut by_material: Vec<Vec<Stick>> = job.materials().iter().map(|_| Vec::new()).collect();
    let moved = pieces.moved();
    for stick in sticks {
        if let Some(of_material) = by_material.get_mut(stick.material) {
            of_material.push(stick);
        }
    }
    let mut in_hand = Vec::new();
    let mut rests = HashMap::new();
    let rows_of = rows.iter().into_group_map_by(|row| row.material.as_str());
    let mut stock_of = of_materials(&stock, job);
    for (material, mut sticks) in job.materials().iter().zip(by_material) {
        for stick in &mut sticks {
            resolve(stick, material.name(), &pieces, &moved);
        }
        // Where nothing is left at all, a row says so; a material without any row would be a fault.
        let first = material.bars().first().filter(|_| sticks.is_empty());
        sticks.extend(first.map(|bar| Stick::without_name(material, bar, 0)));
        let stock = stock_of.remove(material.name()).unwrap_or_default();
        let rows = rows_of.get(material.name()).into_iter().flatten().copied();
        sticks.extend(walls::used_up(material, &sticks, &stock, rows));
        let rows = hand_rows(material.name(), &sticks, in_hand.len());
        in_hand.extend(rows.rows);
        let left = Left {
            sticks,
            origins: rows.of_stick,
            stock,
        };
        rests.insert(material.name().to_owned(), left);
    }
    carry_forward(under_way, job, &mut in_hand);
    let input = JobInput {
        pieces: rows,
        stock,
        in_hand,
        saw: under_way.input.saw.clone(),
    };
    let job = input.clone().validate_within(&Ceilings::HIGHEST)?;
    let rests = in_order_of(&job, rests, &pieces, &laid);
    let names_taken = names_taken(under_way, &rests);
    Ok(Remainder {
        input,
        job,
        rests,
        done: done(&pieces),
        names_taken,
        insured: under_way.insured,
        remarks: pieces.remarks,
    })
}

/// What is left of a material, but for its pieces.
#[derive(Default)]
struct Left {
    sticks: Vec<Stick>,
    /// The row of each stick.
    origins: Vec<Origin>,
    stock: Vec<StockRow>,
}

/// The rows of the stock by the names of the materials that they are of; one that names none is of the only one.
fn of_materials(stock: &[StockRow], job: &Job) -> HashMap<String, Vec<StockRow>> {
    let materials = job.materials().iter().map(Material::name);
    let names: HashMap<String, &str> = materials.map(|name| (name_key(name), name)).collect();
    let only = match job.materials() {
        [material] => Some(material.name()),
        _ => None,
    };
    let named = stock.iter().filter_map(|row| {
        let name = match row.material.trim() {
            "" => only?,
            name => names.get(&name_key(name)).copied()?,
        };
        let material = name.to_owned();
        Some((
            material.clone(),
            StockRow {
                material,
                ..row.clone()
            },
        ))
    });
    named.into_group_map()
}

/// The names that no other bar may have: those that were taken, and those of bars that are used up or of a
/// material of which nothing is left to cut.
fn names_taken(under_way: &UnderWay, rests: &[Rest]) -> Vec<String> {
    let sticks = rests.iter().flat_map(|rest| &rest.sticks);
    let now: HashSet<&str> = sticks.filter_map(|stick| stick.name.as_deref()).collect();
    let before = under_way.bar_names().filter(|name| !now.contains(name));
    let taken = under_way.names_taken.iter().cloned();
    taken.chain(before.map(str::to_owned)).collect()
}

/// Where the courses of each group are laid: by the name of the material and the place of the group.
type Laid = BTreeMap<(String, usize), Vec<LaidCourse>>;

fn laid(job: &Job, pieces: &Pieces) -> Laid {
    let mut laid = Laid::new();
    for material in job.materials() {
        for (place, group) in material.course_groups().iter().enumerate() {
            laid.insert((material.name().to_owned(), place), group.laid().to_vec());
        }
    }
    for run in pieces.runs.iter().filter(|run| !pieces.is_free(run)) {
        if let (Some(group), Some(course)) = (run.group, run.row.course) {
            let of_group = laid.entry((run.material.clone(), group)).or_default();
            of_group.push(LaidCourse {
                course,
                joints: joints_of(run, pieces),
            });
        }
    }
    for of_group in laid.values_mut() {
        of_group.sort_by_key(|laid| laid.course);
    }
    laid
}

/// Where a run is joined in the plan.
fn joints_of(run: &RunCopy, pieces: &Pieces) -> Vec<Length> {
    let parts = run.parts.iter().filter_map(|&at| pieces.all.get(at));
    let ends = parts.filter_map(|piece| {
        let (part, _) = piece.part.as_ref()?;
        (part.part < part.of).then_some(part.to)
    });
    let mut joints: Vec<Length> = ends.collect();
    joints.sort_unstable();
    joints
}

/// The rows of all pieces that are still to be cut, in the order of the job.
fn piece_rows(pieces: &Pieces, laid: &Laid) -> Vec<PieceRow> {
    let mut told: HashSet<(&str, usize)> = HashSet::new();
    let mut rows = Vec::new();
    for slot in &pieces.order {
        match slot {
            Slot::Piece(at) => {
                let piece = pieces.all.get(*at).filter(|piece| piece.is_to_do());
                rows.extend(piece.map(|piece| piece.row.clone()));
            }
            Slot::Run(at) => {
                let Some(run) = pieces.runs.get(*at) else {
                    continue;
                };
                if !pieces.is_free(run) {
                    let parts = run.parts.iter().filter_map(|&at| pieces.all.get(at));
                    let parts = parts.filter(|part| part.is_to_do());
                    rows.extend(parts.map(|part| part.row.clone()));
                } else if is_needed(run, pieces) {
                    let mut row = run.row.clone();
                    if let Some(group) = run.group
                        && told.insert((run.material.as_str(), group))
                    {
                        let of_group = laid.get(&(run.material.clone(), group));
                        row.laid = of_group.cloned().unwrap_or_default();
                    }
                    rows.push(row);
                }
            }
        }
    }
    rows
}

/// Whether a run of which nothing is cut is to be cut; a spare run that gave way is not.
fn is_needed(run: &RunCopy, pieces: &Pieces) -> bool {
    run.parts.is_empty()
        || run
            .parts
            .iter()
            .filter_map(|&at| pieces.all.get(at))
            .any(Piece::is_to_do)
}

/// The key of the material that a row of bars is of; one that names none is of the only one there is.
fn material_key(named: &str, job: &Job) -> String {
    match (named.trim(), job.materials()) {
        ("", [material]) => name_key(material.name()),
        (name, _) => name_key(name),
    }
}

/// Rows of the stock by the key of their material, where they come from and how long they are.
type Alike = HashMap<(String, Origin, Length), VecDeque<usize>>;

/// What can still be bought.
fn stock_rows(under_way: &UnderWay, job: &Job) -> Vec<StockRow> {
    let mut rows = under_way.input.stock.clone();
    let mut alike = Alike::new();
    for (at, row) in rows.iter().enumerate() {
        let name = material_key(&row.material, job);
        let key = (name, row.origin.clone(), row.length.length);
        alike.entry(key).or_default().push_back(at);
    }
    let both = job.materials().iter().zip(&under_way.materials);
    for (material, planned) in both {
        let of_kinds = rows_of_kinds(material, &mut alike);
        for line in &planned.buy {
            let at = of_kinds.get(line.bar).copied().flatten();
            if let Some(bar) = material.bars().get(line.bar)
                && let Some(row) = at.and_then(|at| rows.get_mut(at))
                && row.available.is_some()
            {
                row.available = less_what_was_bought(bar, line);
            }
        }
    }
    rows
}

/// The row of the stock that each kind of bar was made from. Rows may say that they come from one line: among those
/// that look alike the order decides.
fn rows_of_kinds(material: &Material, alike: &mut Alike) -> Vec<Option<usize>> {
    let name = name_key(material.name());
    let of_kind = |bar: &Bar| {
        if bar.is_in_hand() {
            return None;
        }
        let key = (name.clone(), bar.origin().clone(), bar.length());
        alike.get_mut(&key)?.pop_front()
    };
    material.bars().iter().map(of_kind).collect()
}

/// What of a kind of bar is still there, in the count of its sales.
fn less_what_was_bought(bar: &Bar, line: &Purchase) -> Option<u64> {
    let Supply::Bought {
        sold,
        available: Some(available),
        ..
    } = bar.supply()
    else {
        return None;
    };
    if sold != Sold::PerMetre {
        return Some(available.saturating_sub(line.sales));
    }
    // The fewest whole metres that hold the bars that are left.
    let bars = bar.bars_available()?.saturating_sub(line.bars);
    let needed = u128::from(bars) * u128::try_from(bar.length().nm()).ok()?;
    let metres = u64::try_from(needed.div_ceil(NM_PER_METRE)).ok()?;
    let above =
        u128::from(metres) * NM_PER_METRE >= needed + u128::try_from(bar.length().nm()).ok()?;
    // Of bars under a metre that may hold one too many.
    Some(if above {
        metres.saturating_sub(1)
    } else {
        metres
    })
}

const NM_PER_METRE: u128 = 1_000_000_000;

/// What is planned on a bar and still to be cut: a piece in place of a spare, as it is measured now, and not
/// where it was planned before.
fn resolve(stick: &mut Stick, material: &str, pieces: &Pieces, moved: &HashSet<usize>) {
    let mut is_altered = false;
    let still = stick.planned.iter().filter_map(|cut| {
        let at = pieces.planned(material, &cut.mark)?;
        let piece = pieces.all.get(at)?;
        let piece = match piece.replaced_by {
            Some(other) => pieces.all.get(other)?,
            None if moved.contains(&at) => return None,
            None => piece,
        };
        let now = piece.is_to_do().then(|| as_cut(piece, pieces))?;
        is_altered |= (&now.mark, now.shape) != (&cut.mark, cut.shape);
        Some(now)
    });
    stick.planned = still.collect();
    stick.is_altered = is_altered;
    // A spare that serves for a piece comes with the stage of that; spares come last.
    let when = |cut: &OneCut| if cut.spare { u64::MAX } else { cut.stage };
    stick.planned.sort_by_key(when);
}

/// A part of a run is known by the row that the copy has by itself now; where another part of it is cut,
/// it is a piece of its own.
fn as_cut(piece: &Piece, pieces: &Pieces) -> OneCut {
    let part = piece.part.as_ref().and_then(|(part, run)| {
        let run = pieces.runs.get(*run)?;
        pieces.is_free(run).then(|| RunPart {
            mark: run.row.mark.clone(),
            copy: 1,
            ..part.clone()
        })
    });
    OneCut {
        part,
        ..piece.cut()
    }
}

/// Rows of bars in hand, and the row of each bar.
struct HandRows {
    rows: Vec<HandRow>,
    of_stick: Vec<Origin>,
}

/// Bars that are alike in one row.
fn hand_rows(material: &str, sticks: &[Stick], before: usize) -> HandRows {
    let source: Arc<str> = Arc::from(IN_HAND);
    let mut rows: Vec<HandRow> = Vec::new();
    let mut known: HashMap<_, usize> = HashMap::new();
    let mut of_stick = Vec::new();
    for stick in sticks {
        let likeness = (
            stick.length.length,
            stick.square_off,
            stick.worth.map(|worth| worth.to_string()),
            stick.batch.clone(),
            stick.note.clone(),
        );
        let at = *known.entry(likeness).or_insert_with(|| {
            rows.push(HandRow {
                origin: Origin {
                    source: Arc::clone(&source),
                    line: (before + rows.len() + 1) as u64, // widening on every platform
                },
                material: material.to_owned(),
                length: stick.length,
                available: 0,
                square_off: Some(stick.square_off),
                worth: stick.worth,
                batch: stick.batch.clone(),
                note: stick.note.clone(),
            });
            rows.len() - 1
        });
        if let Some(row) = rows.get_mut(at) {
            row.available = row.available.saturating_add(stick.count);
            of_stick.push(row.origin.clone());
        }
    }
    HandRows { rows, of_stick }
}

/// Bars in hand of materials that the job did not ask for, and bars of which squaring leaves nothing.
fn carry_forward(under_way: &UnderWay, job: &Job, in_hand: &mut Vec<HandRow>) {
    let mut known: HashSet<(String, &Origin, Length)> = HashSet::new();
    for material in job.materials() {
        let name = name_key(material.name());
        let of_bar = material.bars().iter();
        known.extend(of_bar.map(|bar| (name.clone(), bar.origin(), bar.length())));
    }
    for row in &under_way.input.in_hand {
        let name = material_key(&row.material, job);
        if !known.contains(&(name, &row.origin, row.length.length)) {
            let origin = Origin {
                source: Arc::from(IN_HAND),
                line: in_hand.len() as u64 + 1, // widening on every platform
            };
            in_hand.push(HandRow {
                origin,
                ..row.clone()
            });
        }
    }
}

/// What is left of each material of the job that is left, in its order.
fn in_order_of(
    job: &Job,
    mut rests: HashMap<String, Left>,
    pieces: &Pieces,
    laid: &Laid,
) -> Vec<Rest> {
    let to_do = pieces.all.iter().filter(|piece| piece.is_to_do());
    let to_do = to_do.into_group_map_by(|piece| piece.material.as_str());
    let runs = pieces.runs.iter();
    let runs = runs.into_group_map_by(|run| run.material.as_str());
    let of_material = |material: &Material| {
        let name = material.name();
        let Left {
            mut sticks,
            origins,
            stock,
        } = rests.remove(name).unwrap_or_default();
        let mut kind_of: HashMap<&Origin, usize> = HashMap::new();
        for (kind, bar) in material.bars().iter().enumerate() {
            if bar.is_in_hand() {
                kind_of.entry(bar.origin()).or_insert(kind);
            }
        }
        let mut kinds: Vec<Option<usize>> = origins
            .iter()
            .map(|origin| kind_of.get(origin).copied())
            .collect();
        add_what_has_no_stick(material, &mut sticks, &mut kinds);
        Rest {
            sticks,
            kinds,
            to_do: with_cuts(to_do.get(name).map_or(&[], Vec::as_slice), pieces),
            unplanned: unplanned(runs.get(name).map_or(&[], Vec::as_slice), pieces, laid),
            stock,
        }
    };
    job.materials().iter().map(of_material).collect()
}

/// Bars in hand of a material that the job before did not ask for any more.
fn add_what_has_no_stick(
    material: &Material,
    sticks: &mut Vec<Stick>,
    kinds: &mut Vec<Option<usize>>,
) {
    let known: HashSet<usize> = kinds.iter().copied().flatten().collect();
    for (kind, bar) in material.bars().iter().enumerate() {
        if let Supply::InHand { available, .. } = bar.supply()
            && available > 0
            && !known.contains(&kind)
        {
            sticks.push(Stick::without_name(material, bar, available));
            kinds.push(Some(kind));
        }
    }
}

fn with_cuts(of_material: &[&Piece], pieces: &Pieces) -> Vec<(OneCut, PieceRow)> {
    let of_material = of_material.iter();
    of_material
        .map(|piece| (as_cut(piece, pieces), piece.row.clone()))
        .collect()
}

fn unplanned(of_material: &[&RunCopy], pieces: &Pieces, laid: &Laid) -> Vec<PieceRow> {
    let kept = of_material.iter();
    let kept = kept.filter(|run| !run.parts.is_empty() && pieces.is_free(run));
    let kept = kept.into_group_map_by(|run| run.group);
    let without_parts = of_material.iter().filter(|run| run.parts.is_empty());
    let mut told: HashSet<usize> = HashSet::new();
    without_parts
        .map(|run| {
            let mut row = run.row.clone();
            if let Some(group) = run.group
                && told.insert(group)
            {
                row.laid = laid
                    .get(&(run.material.clone(), group))
                    .cloned()
                    .unwrap_or_default();
                // What stays as it was planned is as good as laid.
                let kept = kept.get(&Some(group)).into_iter().flatten();
                row.laid.extend(kept.filter_map(|other| {
                    Some(LaidCourse {
                        course: other.row.course?,
                        joints: joints_of(other, pieces),
                    })
                }));
            }
            row
        })
        .collect()
}

/// What is cut now, and was before.
fn done(pieces: &Pieces) -> Vec<DonePiece> {
    let done = pieces.all.iter().filter_map(|piece| match &piece.state {
        State::Done(from) => Some(DonePiece {
            bar: from.bar.clone(),
            batch: from.batch.clone(),
            row: piece.row.clone(),
        }),
        _ => None,
    });
    done.collect()
}
