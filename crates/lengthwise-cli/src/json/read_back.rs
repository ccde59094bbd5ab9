//! A plan read back from the `plan.json` that it was written to: the job, and every bar with its cuts.
//!
//! For carrying on, what is computed from them (figures, offcuts, certificates) is not read, and fields that
//! are not known are passed over, so that a later version may add some. [`whole`] reads all of it.

#[cfg(any(test, fuzzing))]
pub mod attacked;
pub mod cells;
mod insured;
mod least;
mod parts;
mod rows;
pub mod whole;

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use lengthwise::carry_on::{DonePiece, MaterialUnderWay, UnderWay, WholeBars};
use lengthwise::job::{Ceilings, Job, JobInput, Material};
use lengthwise::plan::{BarGroup, Cut, Purchase, RunPart};
use lengthwise::{Fault, FaultKind, Length, Origin};
use serde::Deserialize;
use serde_json::value::RawValue;

use super::job::{JobJson, PieceJson};
use cells::Cells;
use parts::Runs;

/// What a file must be.
const ACCEPTED: &str =
    "the plan.json that lengthwise plan --out DIR or lengthwise carry-on --out DIR wrote";

#[derive(Debug, Deserialize)]
struct PlanRead {
    materials: Vec<MaterialRead>,
    job: JobJson,
    #[serde(default)]
    carried_on: CarriedRead,
}

#[derive(Debug, Deserialize)]
struct MaterialRead {
    material: String,
    buy: Vec<BuyRead>,
    bars: Vec<BarsRead>,
}

#[derive(Debug, Deserialize)]
struct BuyRead {
    bar: usize,
    length_mm: Box<RawValue>,
    count: u64,
    sold: String,
    price: Option<String>,
    cost: Option<String>,
}

#[derive(Debug, Deserialize)]
struct BarsRead {
    names: Vec<String>,
    bar: usize,
    stock_mm: Box<RawValue>,
    in_hand: bool,
    cuts: Vec<CutRead>,
    blade_mm: Box<RawValue>,
    reserve_mm: Box<RawValue>,
    square_mm: Box<RawValue>,
    offcut_mm: Box<RawValue>,
    saved: bool,
}

#[derive(Debug, Deserialize)]
struct CutRead {
    length_mm: Box<RawValue>,
    ends: Option<String>,
    marks: Vec<String>,
    spare: bool,
    #[serde(default)]
    for_bar: bool,
    stage: u64,
    run: Option<RunRead>,
}

#[derive(Debug, Deserialize)]
struct RunRead {
    mark: String,
    copy: u64,
    part: u32,
    of: u32,
    from_mm: Box<RawValue>,
    to_mm: Box<RawValue>,
    from_support: Option<u32>,
    to_support: Option<u32>,
}

#[derive(Debug, Default, Deserialize)]
struct CarriedRead {
    names_taken: Vec<String>,
    insured: bool,
    whole: Vec<WholeRead>,
    done: Vec<DoneRead>,
}

#[derive(Debug, Deserialize)]
struct WholeRead {
    material: String,
    bar: usize,
    names: Vec<String>,
}

#[derive(Debug, Deserialize)]
struct DoneRead {
    bar: String,
    batch: String,
    piece: PieceJson,
}

/// Reads a plan back; `source` is the name of the file as people see it, the ceilings are of its job.
///
/// # Errors
/// Everything that is wrong with the file: the field, what was found, what is accepted.
pub fn read_back(text: &str, source: &str, ceilings: &Ceilings) -> Result<UnderWay, Vec<Fault>> {
    let mut plan = parse(text, source).map_err(|fault| vec![*fault])?;
    let mut cells = Cells::new(source);
    let mut input = plan.job.input(&mut cells);
    if plan.job.is_insured() {
        plan.insure(&mut input, ceilings, &mut cells);
    }
    if !cells.faults.is_empty() {
        return Err(cells.faults);
    }
    let job = match input.clone().validate_within(ceilings) {
        Ok(job) => job,
        Err(faults) => {
            let within = faults.0.into_iter().map(|fault| cells.within(fault));
            return Err(within.collect());
        }
    };
    if !names_match(&plan, &job, &mut cells) {
        return Err(cells.faults);
    }
    let read = under_way(&plan, &job, input, &mut cells);
    let mut seen = HashSet::new();
    let both = read.materials.iter().zip(job.materials()).enumerate();
    for (at, (planned, material)) in both {
        let path = format!("materials[{at}]");
        check_names(&planned.bars, &mut seen, &mut cells, &path);
        check_marks(&planned.bars, material, &mut cells, &path);
    }
    if !cells.faults.is_empty() {
        return Err(cells.faults);
    }
    Ok(UnderWay {
        insured: plan.job.is_insured() || plan.carried_on.insured,
        ..read
    })
}

fn parse(text: &str, source: &str) -> Result<PlanRead, Box<Fault>> {
    let fault = |column: Option<String>, found: String| {
        Box::new(Fault {
            kind: FaultKind::Unreadable,
            origin: Some(Origin {
                source: Arc::from(source),
                line: 0,
            }),
            column,
            found,
            accepted: ACCEPTED.to_owned(),
        })
    };
    least::check(text).map_err(|wrong| {
        let fault = fault(None, wrong.found);
        let accepted = wrong.accepted.unwrap_or_else(|| ACCEPTED.to_owned());
        Box::new(Fault { accepted, ..*fault })
    })?;
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let plan = serde_path_to_error::deserialize(&mut deserializer).map_err(|why| {
        let path = why.path().to_string();
        let inner = why.inner();
        if inner.is_syntax() || inner.is_eof() {
            return fault(None, format!("no JSON: {inner}"));
        }
        let missing_job = path == "." && inner.to_string().contains("`job`");
        if missing_job {
            let found = "a plan without its job, as --json prints it, or no plan at all";
            return fault(Some("job".to_owned()), found.to_owned());
        }
        let column = (path != ".").then_some(path);
        fault(column, inner.to_string())
    })?;
    deserializer
        .end()
        .map_err(|why| fault(None, format!("more behind the plan: {why}")))?;
    Ok(plan)
}

/// Whether the plan has the materials of its job.
fn names_match(plan: &PlanRead, job: &Job, cells: &mut Cells) -> bool {
    let names = |all: &mut dyn Iterator<Item = &str>| all.collect::<Vec<_>>().join("\", \"");
    let planned = names(&mut plan.materials.iter().map(|one| one.material.as_str()));
    let asked = names(&mut job.materials().iter().map(Material::name));
    let is_same = planned == asked && plan.materials.len() == job.materials().len();
    if !is_same {
        let found = format!("\"{planned}\"");
        cells.fault(
            "materials",
            found,
            format!("the materials of its job, \"{asked}\""),
        );
    }
    is_same
}

/// What the plan does with each material of the job, and what was done before; not whether its spares are
/// those of an insurance.
fn under_way(plan: &PlanRead, job: &Job, input: JobInput, cells: &mut Cells) -> UnderWay {
    let mut whole_of: HashMap<&str, Vec<&WholeRead>> = HashMap::new();
    for whole in &plan.carried_on.whole {
        whole_of.entry(&whole.material).or_default().push(whole);
    }
    let both = plan.materials.iter().zip(job.materials()).enumerate();
    let materials = both.map(|(at, (read, material))| {
        let path = format!("materials[{at}]");
        let whole = whole_of.get(read.material.as_str());
        let bars = read.bars.iter().enumerate();
        let bars = bars
            .filter_map(|(at, bars)| bars.group(cells, material, &format!("{path}.bars[{at}]")))
            .collect();
        let buy = read.buy.iter().enumerate();
        let buy = buy
            .filter_map(|(at, buy)| buy.purchase(cells, material, &format!("{path}.buy[{at}]")))
            .collect();
        MaterialUnderWay {
            buy,
            bars,
            whole: whole
                .into_iter()
                .flatten()
                .map(|whole| WholeBars {
                    bar: whole.bar,
                    names: whole.names.clone(),
                })
                .collect(),
        }
    });
    let materials = materials.collect();
    let done = plan.carried_on.done.iter().enumerate().map(|(at, done)| {
        let row = done
            .piece
            .row(cells, &format!("carried_on.done[{at}].piece"));
        DonePiece {
            bar: done.bar.clone(),
            batch: done.batch.clone(),
            row,
        }
    });
    UnderWay {
        input,
        materials,
        done: done.collect(),
        names_taken: plan.carried_on.names_taken.clone(),
        insured: false,
    }
}

fn check_names(bars: &[BarGroup], seen: &mut HashSet<String>, cells: &mut Cells, path: &str) {
    for name in bars.iter().flat_map(|group| &group.names) {
        if !seen.insert(name.clone()) {
            let found = format!("the bar {name} a second time");
            cells.fault(&format!("{path}.bars"), found, "each name once");
        }
    }
}

/// Whether the pieces of the plan are those of its job; what the parts of runs are, the plan decides.
fn check_marks(bars: &[BarGroup], material: &Material, cells: &mut Cells, path: &str) {
    if bars.is_empty() {
        return; // a material without a plan
    }
    let mut asked = HashMap::new();
    let mut runs = Runs::of(material);
    for piece in material
        .pieces()
        .iter()
        .filter(|piece| piece.run().is_none())
    {
        asked.extend((0..piece.qty()).map(|copy| (piece.copy_mark(copy), piece.shape())));
    }
    for cut in bars.iter().flat_map(|group| &group.cuts) {
        for (place, mark) in cut.marks.iter().enumerate() {
            let is_asked = match cut.parts.get(place) {
                Some(part) => runs.has(part, cut, mark),
                None => asked
                    .remove(mark)
                    .is_some_and(|shape| (shape.length, shape.ends) == (cut.length, cut.ends)),
            };
            if !is_asked {
                let length = cut.length.text(material.unit());
                let found = format!("the piece {mark} of {length}");
                cells.fault(
                    &format!("{path}.bars"),
                    found,
                    "the pieces of its job, each once",
                );
            }
        }
    }
    let missing = asked.keys().min().cloned();
    if let Some(mark) = missing.or_else(|| runs.broken()) {
        let found = format!("no cut for the piece {mark}, or not for all of it");
        cells.fault(
            &format!("{path}.bars"),
            found,
            "the pieces of its job, each once",
        );
    }
}

impl BarsRead {
    fn group(&self, cells: &mut Cells, material: &Material, path: &str) -> Option<BarGroup> {
        let stock = cells.mm(&self.stock_mm, &format!("{path}.stock_mm"))?;
        let bar = material.bars().get(self.bar);
        let bar = bar.filter(|bar| (bar.length(), bar.is_in_hand()) == (stock, self.in_hand));
        let Some(bar) = bar else {
            let hand = if self.in_hand { "in hand" } else { "to buy" };
            let found = format!(
                "kind {} as a bar of {} {hand}",
                self.bar,
                stock.text(material.unit())
            );
            cells.fault(&format!("{path}.bar"), found, "a kind of bar of its job");
            return None;
        };
        let mut cuts = Vec::new();
        for (at, cut) in self.cuts.iter().enumerate() {
            let path = format!("{path}.cuts[{at}]");
            if cut.marks.len() != self.names.len() {
                let found = format!("{} marks on {} bars", cut.marks.len(), self.names.len());
                cells.fault(&format!("{path}.marks"), found, "one mark for each bar");
            }
            cuts.push(cut.cut(cells, &path)?);
        }
        let mut mm = |value: &RawValue, field: &str| cells.mm(value, &format!("{path}.{field}"));
        let offcut = mm(&self.offcut_mm, "offcut_mm")?;
        let rough = bar.square_off().far;
        Some(BarGroup {
            names: self.names.clone(),
            bar: self.bar,
            stock,
            in_hand: self.in_hand,
            cuts,
            blade: mm(&self.blade_mm, "blade_mm")?,
            reserve: mm(&self.reserve_mm, "reserve_mm")?,
            square: mm(&self.square_mm, "square_mm")?,
            offcut,
            offcut_rough: if offcut.is_zero() {
                Length::ZERO
            } else {
                rough
            },
            saved: self.saved,
        })
    }
}

impl CutRead {
    fn cut(&self, cells: &mut Cells, path: &str) -> Option<Cut> {
        let part = match &self.run {
            Some(run) => Some(run.part(cells, &format!("{path}.run"))?),
            None => None,
        };
        Some(Cut {
            length: cells.mm(&self.length_mm, &format!("{path}.length_mm"))?,
            ends: cells.ends(self.ends.as_deref(), &format!("{path}.ends")),
            marks: self.marks.clone(),
            spare: self.spare,
            for_bar: self.for_bar,
            stage: self.stage,
            parts: part.into_iter().collect(),
        })
    }
}

impl RunRead {
    fn part(&self, cells: &mut Cells, path: &str) -> Option<RunPart> {
        Some(RunPart {
            mark: self.mark.clone(),
            copy: self.copy,
            part: self.part,
            of: self.of,
            from: cells.mm(&self.from_mm, &format!("{path}.from_mm"))?,
            to: cells.mm(&self.to_mm, &format!("{path}.to_mm"))?,
            from_support: self.from_support,
            to_support: self.to_support,
        })
    }
}

impl BuyRead {
    fn purchase(&self, cells: &mut Cells, material: &Material, path: &str) -> Option<Purchase> {
        let length = cells.mm(&self.length_mm, &format!("{path}.length_mm"))?;
        let bar = material.bars().get(self.bar);
        let Some(bar) = bar.filter(|bar| !bar.is_in_hand() && bar.length() == length) else {
            let found = format!(
                "kind {} as a bar of {}",
                self.bar,
                length.text(material.unit())
            );
            cells.fault(
                &format!("{path}.bar"),
                found,
                "a kind of bar to buy of its job",
            );
            return None;
        };
        Some(Purchase {
            bar: self.bar,
            length,
            sold: cells.sold(&self.sold, &format!("{path}.sold"))?,
            bars: self.count,
            sales: self.count.div_ceil(bar.bars_per_sale()),
            price: cells.price(self.price.as_deref(), &format!("{path}.price")),
            cost: cells.amount(self.cost.as_deref(), &format!("{path}.cost")),
        })
    }
}
