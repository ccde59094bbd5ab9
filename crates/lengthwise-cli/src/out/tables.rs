//! The CSV files of a plan. Their columns are a promise; lengths carry their unit.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::collections::HashMap;
use std::io;

use lengthwise::forgiving::{Tightest, forgiving};
use lengthwise::job::{Bar, Job, JobInput, Material, Piece};
use lengthwise::plan::{BarGroup, Cut, Cutting, MaterialPlan, Outcome, Plan, RunPart, Value};
use lengthwise::{Length, Origin, Price, Unit};

use crate::json::{ends_text, proof_name, sold_text, square_off_text};
use crate::text::buying::why_whole;
use crate::text::{copy_mark, short_list, words};

/// Most characters of a note in the list of offcuts.
const NOTE_CHARACTERS: usize = 120;

fn table<const COLUMNS: usize>(
    header: [&str; COLUMNS],
    rows: impl IntoIterator<Item = [String; COLUMNS]>,
) -> io::Result<Vec<u8>> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(header)?;
    for row in rows {
        writer.write_record(&row)?;
    }
    writer
        .into_inner()
        .map_err(|why| io::Error::other(why.to_string()))
}

fn planned<'a>(
    job: &'a Job,
    plan: &'a Plan,
) -> impl Iterator<Item = (&'a Material, &'a MaterialPlan, &'a Cutting)> {
    let both = job.materials().iter().zip(&plan.materials);
    both.filter_map(|(of_job, material)| match &material.outcome {
        Outcome::Planned(cutting) => Some((of_job, material, cutting.as_ref())),
        _ => None,
    })
}

/// The batch of a kind of bar; empty where it names none.
fn batch_of(material: &Material, bar: usize) -> String {
    let bar = material.bars().get(bar);
    bar.map_or_else(String::new, |bar| material.batch_of(bar).to_owned())
}

fn money(price: Option<Price>) -> String {
    price.map_or_else(String::new, |price| price.to_string())
}

/// One row per line of the buying list. `bars` counts bars, `sales` what is paid for.
pub fn buying_list(job: &Job, plan: &Plan) -> io::Result<Vec<u8>> {
    let header = [
        "material", "length", "bars", "sold", "sales", "price", "cost", "batch",
    ];
    let rows = planned(job, plan).flat_map(|(of_job, material, cutting)| {
        cutting.buy.iter().map(move |buy| {
            [
                material.name.clone(),
                buy.length.text(material.unit),
                buy.bars.to_string(),
                sold_text(buy.sold),
                buy.sales.to_string(),
                money(buy.price),
                money(buy.cost),
                batch_of(of_job, buy.bar),
            ]
        })
    });
    table(header, rows)
}

/// One row per cut: `cut` counts from 1 along the bar, `length` is the setting of the stop. `ends` is
/// empty where both are square, `opening` where no gap was taken off one. The rest is empty but for
/// runs: `from` and `to` are places on the opening of the run, and supports count from 1. `by_tape`: longer than the stop reaches.
/// `position`: where the piece ends along the bar, from the squared end.
pub fn cutting_plan(job: &Job, plan: &Plan) -> io::Result<Vec<u8>> {
    let header = [
        "material",
        "bar",
        "bar_length",
        "in_hand",
        "cut",
        "length",
        "mark",
        "spare",
        "ends",
        "opening",
        "run",
        "part",
        "parts",
        "from",
        "to",
        "from_support",
        "to_support",
        "stage",
        "by_tape",
        "position",
        "batch",
    ];
    let materials = job.materials().iter().zip(&plan.materials);
    // One bar at a time: a job may have a million cuts.
    table(
        header,
        materials.flat_map(|(of_job, material)| cuts_of(of_job, material)),
    )
}

/// Every cut of a material.
fn cuts_of<'a>(
    of_job: &'a Material,
    material: &'a MaterialPlan,
) -> impl Iterator<Item = [String; 21]> + 'a {
    let cutting = match &material.outcome {
        Outcome::Planned(cutting) => Some(cutting),
        _ => None,
    };
    let openings = openings(of_job);
    let groups = cutting.into_iter().flat_map(|cutting| &cutting.bars);
    let bars = groups.flat_map(|bars| (0..bars.names.len()).map(move |place| (bars, place)));
    bars.flat_map(move |(bars, place)| cuts_of_bar(of_job, material, (bars, place), &openings))
}

fn cuts_of_bar(
    of_job: &Material,
    material: &MaterialPlan,
    (bars, place): (&BarGroup, usize),
    openings: &HashMap<String, Length>,
) -> Vec<[String; 21]> {
    let name = bars.names.get(place).cloned().unwrap_or_default();
    let shapes = bars.cuts.iter().map(Cut::shape);
    let positions = of_job.positions(Length::ZERO, shapes);
    let mut rows = Vec::with_capacity(bars.cuts.len());
    for (number, (cut, position)) in bars.cuts.iter().zip(positions).enumerate() {
        let start = [
            material.name.clone(),
            name.clone(),
            bars.stock.text(material.unit),
            yes_no(bars.in_hand),
            (number + 1).to_string(),
        ];
        let of_cut = cut_cells(cut, place, openings, material.unit);
        let by_tape = of_job.stop_reach().is_some_and(|reach| cut.length > reach);
        let of_cut = of_cut.chain([
            cut.stage.to_string(),
            yes_no(by_tape),
            position.text(material.unit),
            batch_of(of_job, bars.bar),
        ]);
        let mut cells = start.into_iter().chain(of_cut);
        rows.push(std::array::from_fn(|_| cells.next().unwrap_or_default()));
    }
    rows
}

/// A cut on one of the bars of its group, from its length on.
fn cut_cells(
    cut: &Cut,
    place: usize,
    openings: &HashMap<String, Length>,
    unit: Unit,
) -> impl Iterator<Item = String> {
    let mark = cut.marks.get(place).cloned().unwrap_or_default();
    let opening = openings.get(&mark).map(|opening| opening.text(unit));
    let of_run = part_cells(&mark, cut.parts.get(place), unit);
    [
        cut.length.text(unit),
        mark,
        yes_no(cut.spare),
        ends_text(cut.ends).unwrap_or_default(),
        opening.unwrap_or_default(),
    ]
    .into_iter()
    .chain(of_run)
}

/// What a cut is of a run; all empty where it is of none.
fn part_cells(mark: &str, part: Option<&RunPart>, unit: Unit) -> [String; 7] {
    let Some(part) = part else {
        return std::array::from_fn(|_| String::new());
    };
    let support = |support: Option<u32>| support.map_or_else(String::new, |n| n.to_string());
    [
        copy_mark(mark, part).to_owned(),
        part.part.to_string(),
        part.of.to_string(),
        part.from.text(unit),
        part.to.text(unit),
        support(part.from_support),
        support(part.to_support),
    ]
}

/// The opening of every copy that has a gap at its ends, by its mark.
fn openings(material: &Material) -> HashMap<String, Length> {
    let with_gap = |piece: &&Piece| !piece.end_gap().total().is_zero();
    let pieces = material.pieces().iter().filter(with_gap);
    pieces
        .flat_map(|piece| {
            let marks = (0..piece.qty()).map(|copy| piece.copy_mark(copy));
            marks.map(|mark| (mark, piece.opening()))
        })
        .collect()
}

fn yes_no(yes: bool) -> String {
    if yes { "yes" } else { "no" }.to_owned()
}

/// Everything that is there after the job, in the columns of the list of bars in hand: saved
/// offcuts, unused bars of packs, and whatever of the old list was not cut into, other materials
/// included, so that this file can take the place of the old ones.
pub fn offcuts(input: &JobInput, job: &Job, plan: &Plan) -> io::Result<Vec<u8>> {
    let header = [
        "material",
        "length",
        "available",
        "square_off",
        "worth",
        "note",
        "batch",
    ];
    let mut rows = Vec::new();
    let mut used: HashMap<Origin, u64> = HashMap::new();
    for (material, plan) in job.materials().iter().zip(&plan.materials) {
        if let Outcome::Planned(cutting) = &plan.outcome {
            saved_offcuts(material, plan.unit, cutting, &mut rows);
            packs_left(material, plan.unit, cutting, &mut rows);
            count_used(material, cutting, &mut used);
        }
    }
    for row in &input.in_hand {
        let cut = used.get(&row.origin).copied().unwrap_or(0);
        let left = row.available.saturating_sub(cut);
        if left > 0 {
            let unit = row.length.unit;
            rows.push([
                row.material.clone(),
                row.length.length.text(unit),
                left.to_string(),
                row.square_off
                    .map_or_else(String::new, |both| square_off_text(both, unit)),
                money(row.worth),
                row.note.clone(),
                row.batch.clone(),
            ]);
        }
    }
    table(header, rows)
}

/// Offcuts of one material, longest first, alike ones in one row.
fn saved_offcuts(material: &Material, unit: Unit, cutting: &Cutting, rows: &mut Vec<[String; 7]>) {
    let mut alike: BTreeMap<(Length, Length, Reverse<u32>), Vec<&str>> = BTreeMap::new();
    for bars in cutting.bars.iter().filter(|bars| bars.saved) {
        let batch = material.bars().get(bars.bar).map_or(0, Bar::batch);
        alike
            .entry((bars.offcut, bars.offcut_rough, Reverse(batch)))
            .or_default()
            .extend(bars.names.iter().map(String::as_str));
    }
    for ((length, rough, Reverse(batch)), bars) in alike.iter().rev() {
        let mut note = format!("offcut of {}", short_list(bars).join(", "));
        if note.chars().count() > NOTE_CHARACTERS {
            note = note.chars().take(NOTE_CHARACTERS).collect::<String>() + "...";
        }
        let batch = material.batches().get(*batch as usize); // u32 into usize
        rows.push([
            material.name().to_owned(),
            length.text(unit),
            bars.len().to_string(),
            format!("{}/{}", Length::ZERO.text(unit), rough.text(unit)),
            String::new(),
            note,
            batch.cloned().unwrap_or_default(),
        ]);
    }
}

/// Unused bars that came with a pack or for a price break; they still need what the stock row takes off their ends.
fn packs_left(material: &Material, unit: Unit, cutting: &Cutting, rows: &mut Vec<[String; 7]>) {
    for bars in cutting.uncut.iter().filter(|bars| !bars.in_hand) {
        let square_off = material.bars().get(bars.bar).map(|bar| bar.square_off());
        rows.push([
            material.name().to_owned(),
            bars.length.text(unit),
            bars.count.to_string(),
            square_off_text(square_off.unwrap_or_default(), unit),
            String::new(),
            why_whole(bars, cutting, material),
            batch_of(material, bars.bar),
        ]);
    }
}

/// How many bars of each row in hand are cut into.
fn count_used(material: &Material, cutting: &Cutting, used: &mut HashMap<Origin, u64>) {
    for bars in cutting.bars.iter().filter(|bars| bars.in_hand) {
        if let Some(bar) = material.bars().get(bars.bar) {
            let count = bars.names.len() as u64; // widening on every platform
            *used.entry(bar.origin().clone()).or_default() += count;
        }
    }
}

/// One row per material, planned or not. `widest_blade` is empty where any blade fits; both last are
/// exact.
pub fn figures(job: &Job, plan: &Plan) -> io::Result<Vec<u8>> {
    let header = [
        "material",
        "proof",
        "why",
        "blade_width",
        "cost",
        "bound",
        "bought",
        "on_the_wall",
        "blade",
        "reserve",
        "squaring",
        "saved",
        "to_the_skip",
        "share_on_the_wall",
        "widest_blade",
        "largest_error",
    ];
    let both = job.materials().iter().zip(&plan.materials);
    let rows = both.map(|(of_job, material)| {
        let unit = material.unit;
        let start = [
            material.name.clone(),
            proof_name(&material.outcome).to_owned(),
            words::why(material).unwrap_or_default(),
            material.kerf.text(unit),
        ];
        let rest = match &material.outcome {
            Outcome::Planned(cutting) => figures_of(of_job, cutting, unit),
            _ => std::array::from_fn(|_| String::new()),
        };
        let mut cells = start.into_iter().chain(rest);
        std::array::from_fn(|_| cells.next().unwrap_or_default())
    });
    table::<16>(header, rows)
}

fn figures_of(material: &Material, cutting: &Cutting, unit: Unit) -> [String; 12] {
    let forgiving = forgiving(material, cutting).unwrap_or_default();
    let limit = |tightest: Option<Tightest>| tightest.map(|tightest| tightest.limit.text(unit));
    let value = |value: Value| words::value(value, unit);
    let figures = &cutting.figures;
    let cost = match cutting.value {
        Value::Money(price) => price.to_string(),
        Value::Bought(_) => String::new(),
    };
    [
        cost,
        value(cutting.bound),
        figures.bought.text(unit),
        figures.needed.text(unit),
        figures.blade.text(unit),
        figures.reserve.text(unit),
        figures.square.text(unit),
        figures.saved.text(unit),
        figures.waste.text(unit),
        figures.yield_share().normalize().to_string(),
        limit(forgiving.widest_blade).unwrap_or_default(),
        limit(forgiving.largest_error).unwrap_or_default(),
    ]
}
