//! The spares of an insured plan: those that its insurance takes stand in no row of its job.

use std::collections::{HashMap, HashSet};

use lengthwise::Measure;
use lengthwise::job::{Ceilings, JobInput, Material, Piece, PieceRow, Quantity, name_key};

use super::cells::Cells;
use super::{MaterialRead, PlanRead};

impl PlanRead {
    /// Each spare that the plan cuts becomes a row, in place of what the rows ask for. Spare runs stay as they are,
    /// but for their marks.
    pub fn insure(&mut self, input: &mut JobInput, ceilings: &Ceilings, cells: &mut Cells) {
        let planned = self.materials.iter().filter(|one| !one.bars.is_empty());
        let planned: HashSet<String> = planned.map(|one| name_key(&one.material)).collect();
        let runs = self.settle_marks(input, &planned, ceilings);
        let mut spares = self.spares(input, cells);
        // Of a row without a material are all of them.
        let mut all_of: HashMap<String, Vec<usize>> = HashMap::new();
        for (at, (name, _)) in spares.iter().enumerate() {
            all_of.entry(name.clone()).or_default().push(at);
        }
        all_of.insert(String::new(), (0..spares.len()).collect());
        let mut rows = Vec::with_capacity(input.pieces.len());
        for mut row in std::mem::take(&mut input.pieces) {
            let name = name_key(&row.material);
            let is_planned = name.is_empty() || planned.contains(&name);
            if !is_planned || row.joints.is_some() {
                rows.push(row);
            } else if row.spares_only {
                // Materials stand in the order of their first rows; what gave its spares has none left.
                for at in all_of.remove(&name).unwrap_or_default() {
                    let of_it = spares.get_mut(at).map(|(_, spares)| std::mem::take(spares));
                    rows.extend(of_it.unwrap_or_default());
                }
            } else {
                row.spare = 0;
                rows.push(row);
            }
        }
        rows.extend(spares.into_iter().flat_map(|(_, spares)| spares));
        rows.extend(runs);
        input.pieces = rows;
    }

    /// The spares that the plan cuts, those of runs left out, for the name of each material.
    fn spares(&self, input: &JobInput, cells: &mut Cells) -> Vec<(String, Vec<PieceRow>)> {
        // The rows of a material may be spelled in several ways.
        let mut first_of: HashMap<String, usize> = HashMap::new();
        for (at, row) in input.pieces.iter().enumerate() {
            first_of.entry(name_key(&row.material)).or_insert(at);
        }
        // A row without a material is of the only one there is.
        let unnamed = first_of.get("").copied();
        let mut all = Vec::with_capacity(self.materials.len());
        for (at, material) in self.materials.iter().enumerate() {
            let name = name_key(&material.material);
            let named = first_of.get(&name).copied();
            let mut spares = Vec::new();
            let cuts = material.bars.iter().flat_map(|bars| &bars.cuts);
            for cut in cuts.filter(|cut| cut.spare && cut.run.is_none()) {
                let path = format!("materials[{at}].bars");
                let Some(length) = cells.mm(&cut.length_mm, &path) else {
                    continue;
                };
                let first = named.into_iter().chain(unnamed).min();
                let first = first.and_then(|at| input.pieces.get(at));
                let Some(origin) = first.map(|row| (row.origin.clone(), row.length.unit)) else {
                    continue;
                };
                let measure = Measure {
                    length,
                    unit: origin.1,
                };
                let ends = cells.ends(cut.ends.as_deref(), &path);
                spares.extend(cut.marks.iter().map(|mark| PieceRow {
                    material: material.material.clone(),
                    mark: mark.clone(),
                    ends,
                    stage: cut.stage,
                    spares_only: true,
                    for_bar: cut.for_bar,
                    ..PieceRow::new(origin.0.clone(), measure)
                }));
            }
            all.push((name, spares));
        }
        all
    }

    /// Marks count over all rows, and spares that give way to those of the insurance leave gaps. So where rows go,
    /// those that stay have the marks written that the job gives them; and spare runs that are numbered together
    /// with other spares become rows of their own, in the plan as well.
    fn settle_marks(
        &mut self,
        input: &mut JobInput,
        planned: &HashSet<String>,
        ceilings: &Ceilings,
    ) -> Vec<PieceRow> {
        let has_spares = |row: &PieceRow| row.spare > 0 || row.spares_only;
        let any = |is_run: bool| {
            let mut rows = input.pieces.iter();
            rows.any(|row| row.joints.is_some() == is_run && has_spares(row))
        };
        let mut plain = input.pieces.iter().filter(|row| row.joints.is_none());
        let some_go = plain.any(|row| row.spares_only);
        if !(some_go || any(true) && any(false)) {
            return Vec::new();
        }
        // What is wrong with it is told of the job as a whole.
        let Ok(job) = input.clone().validate_within(ceilings) else {
            return Vec::new();
        };
        let mut rows_of: HashMap<String, Vec<usize>> = HashMap::new();
        for (at, row) in input.pieces.iter().enumerate() {
            rows_of.entry(name_key(&row.material)).or_default().push(at);
        }
        let mut place_of: HashMap<String, usize> = HashMap::new();
        for (at, one) in self.materials.iter().enumerate() {
            place_of.entry(name_key(&one.material)).or_insert(at);
        }
        let is_only = job.materials().len() == 1;
        let mut runs = Vec::new();
        let mut go = HashSet::new();
        for material in job.materials() {
            let name = name_key(material.name());
            if !planned.contains(&name) {
                continue;
            }
            let rows: Vec<usize> = match is_only {
                true => (0..input.pieces.len()).collect(),
                false => rows_of.remove(&name).unwrap_or_default(),
            };
            let mut marks = HashMap::new();
            for (piece, mixed) in with_mixed(material, some_go) {
                let Some(&at) = rows.get(piece.row()) else {
                    continue;
                };
                let Some(row) = input.pieces.get_mut(at) else {
                    continue;
                };
                let is_own = !piece.is_spare() || row.spares_only;
                if is_own && row.mark.trim().is_empty() {
                    row.mark = piece.mark().to_owned();
                }
                if !mixed {
                    continue;
                }
                for copy in 0..piece.qty() {
                    let mark = piece.copy_mark(copy);
                    runs.push(spare_run(row, piece, &mark));
                    marks.insert((piece.mark().to_owned(), piece.copy_number(copy)), mark);
                }
                row.spare = 0;
                if row.spares_only {
                    go.insert(at);
                }
            }
            let place = place_of.get(&name).copied();
            if let Some(read) = place.and_then(|place| self.materials.get_mut(place)) {
                read.name_runs(&marks);
            }
        }
        let mut at = 0..;
        input
            .pieces
            .retain(|_| at.next().is_none_or(|at| !go.contains(&at)));
        runs
    }
}

impl MaterialRead {
    /// Gives its spare runs their own marks.
    fn name_runs(&mut self, marks: &HashMap<(String, u64), String>) {
        if marks.is_empty() {
            return;
        }
        let cuts = self.bars.iter_mut().flat_map(|bars| &mut bars.cuts);
        for run in cuts.filter_map(|cut| cut.run.as_mut()) {
            if let Some(mark) = marks.get(&(run.mark.clone(), run.copy)) {
                (run.mark, run.copy) = (mark.clone(), 1);
            }
        }
    }
}

/// The pieces of a material, and whether they are spare runs with a mark that other spares have too; with `any`
/// whether they are spare runs.
fn with_mixed(material: &Material, any: bool) -> impl Iterator<Item = (&Piece, bool)> {
    let spares = material.pieces().iter().filter(|piece| piece.is_spare());
    let plain = spares.filter(|piece| piece.run().is_none());
    let plain: HashSet<&str> = plain.map(Piece::mark).collect();
    material.pieces().iter().map(move |piece| {
        let is_run = piece.is_spare() && piece.run().is_some();
        (piece, is_run && (any || plain.contains(piece.mark())))
    })
}

/// One spare run as a row of its own; a spare lies in no course.
fn spare_run(row: &PieceRow, piece: &Piece, mark: &str) -> PieceRow {
    PieceRow {
        mark: mark.to_owned(),
        length: Measure {
            length: piece.opening(),
            unit: row.length.unit,
        },
        qty: Quantity::Count(1),
        to: None,
        step: None,
        spare: 0,
        course_group: String::new(),
        course: None,
        course_rule: None,
        laid: Vec::new(),
        spares_only: true,
        ..row.clone()
    }
}
