//! Pieces that were measured anew, in a table with the columns of the list of pieces.

use std::collections::HashMap;
use std::ops::RangeInclusive;
use std::sync::Arc;

use lengthwise::carry_on::Measured;
use lengthwise::job::{JobInput, PieceRow};
use lengthwise::{Fault, Origin, Unit};

use super::cells::{self, Wrong};
use super::grammar;
use super::rows::{RowReader, too_many};
use super::source::{Text, read_source, source_name};
use super::table::{Layout, Within, read_table};
use crate::carry::names::Known;
use crate::ceilings::Ceilings;

/// The columns of the list of pieces; here the mark is what no row may leave out.
const MEASURED: Layout = Layout {
    known: &[
        "mark",
        "length",
        "material",
        "end_gap",
        "leave_long",
        "qty",
        "to",
        "step",
        "ends",
        "spare",
        "joints",
        "joint_gap",
        "joints_max",
        "shortest",
        "course_group",
        "course",
        "course_rule",
        "stage",
        "wall",
        "batch",
        "note",
    ],
    needs_rows: true,
};

/// Columns that say something of a row as a whole, and nothing of one of its pieces.
const OF_ROWS: [&str; 4] = ["qty", "to", "step", "spare"];

/// Digits that the number of a copy may have.
const DIGITS: RangeInclusive<usize> = 2..=8;

/// Reads a table; `input` is the job of the plan, whose other columns must not change.
pub fn read_measured(
    path: &str,
    unit: Unit,
    input: &JobInput,
    known: &Known,
    ceilings: &Ceilings,
    faults: &mut Vec<Fault>,
) -> Vec<Measured> {
    let source: Arc<str> = Arc::from(source_name(path));
    let origin = Origin {
        source: Arc::clone(&source),
        line: 0,
    };
    match read_source(path, &origin, ceilings) {
        Ok(text) => {
            let within = Within { unit, ceilings };
            measured_in(&text, &source, within, input, known, faults)
        }
        Err(fault) => {
            faults.push(fault);
            Vec::new()
        }
    }
}

/// Reads the text of a table.
pub fn measured_in(
    text: &Text,
    source: &Arc<str>,
    within: Within<'_>,
    input: &JobInput,
    known: &Known,
    faults: &mut Vec<Fault>,
) -> Vec<Measured> {
    let Some(table) = read_table(text, source, &MEASURED, within, faults) else {
        return Vec::new();
    };
    let rows = Rows::of(input);
    let mut read = Vec::new();
    for row in &table.rows {
        if too_many(row, faults) {
            break;
        }
        let mut reader = RowReader {
            table: &table,
            row,
            faults,
        };
        read.extend(measured(&mut reader, &rows, known));
    }
    read
}

/// The rows of a job by their marks.
struct Rows<'j> {
    whole: ByMark<'j>,
    /// By their marks without the numbers of copies.
    by_base: ByMark<'j>,
    /// The first mark of each in small letters.
    any_case: HashMap<String, &'j str>,
    /// The same without the numbers of copies.
    base_any_case: HashMap<String, &'j str>,
}

/// The first row of each mark, of any material and of each.
#[derive(Default)]
struct ByMark<'j> {
    of_any: HashMap<&'j str, (usize, &'j PieceRow)>,
    of_material: HashMap<(&'j str, &'j str), (usize, &'j PieceRow)>,
}

impl<'j> Rows<'j> {
    fn of(input: &'j JobInput) -> Rows<'j> {
        let mut rows = Rows {
            whole: ByMark::default(),
            by_base: ByMark::default(),
            any_case: HashMap::new(),
            base_any_case: HashMap::new(),
        };
        for (at, row) in input.pieces.iter().enumerate() {
            let mark = row.mark.trim();
            rows.whole.add(mark, at, row);
            rows.by_base.add(base(mark), at, row);
            rows.any_case.entry(mark.to_lowercase()).or_insert(mark);
            let bases = &mut rows.base_any_case;
            bases.entry(base(mark).to_lowercase()).or_insert(base(mark));
        }
        rows
    }

    /// The mark that is meant, as the plan has it. That of a row stands for all its pieces, also where the plan was
    /// carried on and each of them is a row of its own.
    fn mark(&self, typed: &str, known: &Known) -> Result<String, Wrong> {
        if self.whole.find(typed, None).is_some() {
            return Ok(typed.to_owned());
        }
        if known.pieces.has(typed) {
            return known.pieces.find(typed, "piece");
        }
        let lower = typed.to_lowercase();
        let of_row = self.any_case.get(&lower).copied();
        let of_row = of_row
            .or_else(|| {
                self.by_base
                    .find(typed, None)
                    .map(|row| base(row.mark.trim()))
            })
            .or_else(|| self.base_any_case.get(&lower).copied())
            .map(str::to_owned);
        match of_row.or_else(|| of_cut_row(typed, known)) {
            Some(mark) => Ok(mark),
            None => known.pieces.find(typed, "piece"),
        }
    }
}

/// The mark of a row of which everything is cut, found by that of its first copy.
fn of_cut_row(typed: &str, known: &Known) -> Option<String> {
    let marks = DIGITS.map(|width| format!("{typed}-{:0width$}", 1));
    let mut there = marks.filter(|mark| known.pieces.has(mark));
    let first = there.find_map(|mark| known.pieces.find(&mark, "piece").ok())?;
    Some(base(&first).to_owned())
}

impl<'j> ByMark<'j> {
    fn add(&mut self, mark: &'j str, at: usize, row: &'j PieceRow) {
        self.of_any.entry(mark).or_insert((at, row));
        let of_material = self.of_material.entry((mark, &row.material));
        of_material.or_insert((at, row));
    }

    /// The first row that may be meant: of this material, or one that names none.
    fn find(&self, mark: &str, material: Option<&str>) -> Option<&'j PieceRow> {
        let found = match material {
            None => self.of_any.get(mark),
            Some(name) => {
                let both = [name, ""].into_iter();
                let both = both.filter_map(|name| self.of_material.get(&(mark, name)));
                both.min_by_key(|(at, _)| *at)
            }
        };
        found.map(|(_, row)| *row)
    }
}

fn measured(row: &mut RowReader<'_>, rows: &Rows<'_>, known: &Known) -> Option<Measured> {
    let reading = row.table.reading;
    let typed = row.text("mark");
    if typed.is_empty() {
        let wrong = Wrong::new(
            "nothing".to_owned(),
            "the mark of a piece or of a row of the plan",
        );
        row.push("mark", wrong);
        return None;
    }
    let mark = match rows.mark(&typed, known) {
        Ok(mark) => mark,
        Err(wrong) => {
            row.push("mark", wrong);
            return None;
        }
    };
    let material = row.text("material");
    let material = match material.as_str() {
        "" => None,
        typed => match known.materials.find(typed, "material") {
            Ok(material) => Some(material),
            Err(wrong) => {
                row.push("material", wrong);
                return None;
            }
        },
    };
    check_others(row, rows, &mark, material.as_deref());
    Some(Measured {
        origin: row.row.origin.clone(),
        mark,
        material,
        length: row.above_zero("length"),
        end_gap: row.cell("end_gap", |text| grammar::read_end_gap(text, reading)),
        leave_long: row.width("leave_long"),
    })
}

/// The mark of a row without the number of a copy.
fn base(mark: &str) -> &str {
    match mark.rsplit_once('-') {
        Some((head, digits))
            if DIGITS.contains(&digits.len())
                && digits.bytes().all(|byte| byte.is_ascii_digit()) =>
        {
            head
        }
        _ => mark,
    }
}

/// Whether the other columns say what the plan says.
fn check_others(row: &mut RowReader<'_>, rows: &Rows<'_>, mark: &str, material: Option<&str>) {
    let whole = rows.whole.find(mark, material);
    let of_piece = whole.or_else(|| rows.whole.find(base(mark), material));
    let Some(known) = of_piece.or_else(|| rows.by_base.find(mark, material)) else {
        return;
    };
    let reading = row.table.reading;
    let length = |text: &str| cells::read_width(text, reading).map(|width| width.length);
    let count = |text: &str| cells::read_count(text, 0);
    let to = known.to.map(|to| to.length);
    compare(row, whole, "qty", |text| {
        grammar::read_quantity(text, reading).map(|qty| qty == known.qty)
    });
    compare(row, whole, "to", |text| {
        length(text).map(|read| Some(read) == to)
    });
    compare(row, whole, "step", |text| {
        length(text).map(|read| Some(read) == known.step)
    });
    compare(row, whole, "spare", |text| {
        count(text).map(|read| read == known.spare)
    });
    compare(row, whole, "ends", |text| {
        grammar::read_ends(text, reading).map(|read| read == known.ends)
    });
    compare(row, whole, "joints", |text| {
        grammar::read_joints(text, reading).map(|read| Some(read) == known.joints)
    });
    compare(row, whole, "joint_gap", |text| {
        length(text).map(|read| read == known.joint_gap.unwrap_or_default())
    });
    compare(row, whole, "joints_max", |text| {
        count(text).map(|read| Some(read) == known.joints_max)
    });
    compare(row, whole, "shortest", |text| {
        length(text).map(|read| Some(read) == known.shortest)
    });
    compare(row, whole, "course_group", |text| {
        cells::read_text(text).map(|read| read == known.course_group)
    });
    // Of several rows the first copy that is left tells nothing of the first course.
    if of_piece.is_some() {
        compare(row, whole, "course", |text| {
            count(text).map(|read| Some(read) == known.course)
        });
    }
    compare(row, whole, "course_rule", |text| {
        grammar::read_course_rule(text).map(|read| Some(read) == known.course_rule)
    });
    compare(row, whole, "stage", |text| {
        count(text).map(|read| read == known.stage)
    });
    compare(row, whole, "wall", |text| {
        cells::read_text(text).map(|read| read == known.wall)
    });
    compare(row, whole, "batch", |text| {
        cells::read_text(text).map(|read| read == known.batch)
    });
}

/// One column; those of rows only where the mark is that of a row.
fn compare(
    row: &mut RowReader<'_>,
    whole: Option<&PieceRow>,
    column: &str,
    is_same: impl Fn(&str) -> Result<bool, Wrong>,
) {
    if whole.is_none() && OF_ROWS.contains(&column) {
        return;
    }
    let text = row
        .table
        .cell(row.row, column)
        .unwrap_or_default()
        .to_owned();
    if row.cell(column, is_same) == Some(false) {
        let found = format!("{}, which is not what the plan has", cells::quoted(&text));
        let accepted = "a new length, end_gap or leave_long, and nothing new in other columns";
        row.push(column, Wrong::new(found, accepted));
    }
}
