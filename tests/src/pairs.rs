//! Pairs of jobs of which the second follows from the first: jobs at random of every family, with and
//! without runs, price breaks and batches, and what is done to their rows.

use lengthwise::job::{
    CourseRule, EndGap, HandRow, Joints, PieceRow, Prefer, PriceBreak, Quantity, Sold, SquareOff,
    StockRow,
};
use lengthwise::{JobInput, Length, Measure, Price, Unit};
use rust_decimal::Decimal;

use crate::generate::small::{Sales, small_job};
use crate::generate::small_runs::{Sort, small_run_job};
use crate::generate::stream::Stream;
use crate::generate::trade::trade_job;
use crate::small_batches::batch_job;
use crate::small_breaks::break_job;
use crate::small_runs::RunJob;

/// What a job is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Family {
    /// A few pieces, bars of every kind of sale, bars in hand.
    Small,
    /// Some dozens of pieces of the trade.
    Trade,
    /// Price breaks.
    Breaks,
    /// Walls and bars of several batches, some of them with breaks.
    Batches,
    /// Runs with joints at places, or anywhere, or in courses.
    Runs(Sort),
}

/// The family of the case of this number: in turn, those that are planned quickly more often.
pub fn family(case: u64) -> Family {
    const ALONE: Family = Family::Runs(Sort::Alone);
    const COURSES: Family = Family::Runs(Sort::Courses);
    const IN_TURN: [Family; 16] = [
        Family::Small,
        ALONE,
        Family::Breaks,
        COURSES,
        Family::Small,
        Family::Batches,
        ALONE,
        Family::Trade,
        Family::Small,
        COURSES,
        Family::Breaks,
        ALONE,
        Family::Small,
        Family::Batches,
        COURSES,
        Family::Runs(Sort::Anywhere),
    ];
    let turn = case % IN_TURN.len() as u64; // sixteen of them
    IN_TURN[turn as usize]
}

/// A job of this family, marks written out on every row.
pub fn job(family: Family, seed: u64) -> JobInput {
    let mut input = match family {
        Family::Small => small_job(seed, Sales::Mixed).input(),
        Family::Trade => trade_job(seed).input(),
        Family::Breaks => break_job(seed).input(),
        Family::Batches => batch_job(seed).input(),
        Family::Runs(sort) => small_run_job(seed, sort).input(),
    };
    for (row, place) in input.pieces.iter_mut().zip(1..) {
        row.mark = format!("M{place}");
    }
    input
}

/// The runs of [`job`], where they are joined at places.
pub fn runs(family: Family, seed: u64) -> Option<RunJob> {
    match family {
        Family::Runs(sort @ (Sort::Alone | Sort::Courses)) => Some(small_run_job(seed, sort)),
        _ => None,
    }
}

/// A row of pieces in two that follow each other, one part of its copies on each; `None` where every row
/// is of one piece. The spares stay with the later copies, and the later courses follow the earlier ones.
pub fn pieces_split(input: &JobInput, stream: &mut Stream) -> Option<JobInput> {
    let several = |row: &PieceRow| matches!(row.qty, Quantity::Count(2..));
    let at = any_row(&input.pieces, several, stream)?;
    let mut split = input.clone();
    let row = split.pieces.get_mut(at)?;
    let mut rest = row.clone();
    let first = stream.whole(1, signed(row.qty.count()) - 1).unsigned_abs();
    rest.qty = (row.qty.count() - first).into();
    rest.course = row.course.map(|course| course + first);
    row.qty = first.into();
    row.spare = 0;
    split.pieces.insert(at + 1, rest);
    Some(split)
}

/// A row of bars in two that follow each other: what is available shared out, or the same once more where
/// there is no end of it. Not where there are breaks, which count the bars of a row, nor metres, of which
/// each row's are rounded down. `None` without such a row.
pub fn bars_split(input: &JobInput, stream: &mut Stream) -> Option<JobInput> {
    let mut split = input.clone();
    let of_hand = any_row(&input.in_hand, |row: &HandRow| row.available > 1, stream);
    let can_be = |row: &StockRow| {
        row.breaks.is_empty() && row.sold != Sold::PerMetre && row.available != Some(0)
    };
    let of_stock = any_row(&input.stock, can_be, stream);
    if let Some(at) = of_hand.filter(|_| of_stock.is_none() || stream.chance(50)) {
        let row = split.in_hand.get_mut(at)?;
        let mut rest = row.clone();
        let first = stream.whole(1, signed(row.available) - 1).unsigned_abs();
        (row.available, rest.available) = (first, row.available - first);
        split.in_hand.insert(at + 1, rest);
        return Some(split);
    }
    let at = of_stock?;
    let row = split.stock.get_mut(at)?;
    let mut rest = row.clone();
    if let Some(available) = row.available {
        let first = stream.whole(0, signed(available)).unsigned_abs();
        (row.available, rest.available) = (Some(first), Some(available - first));
    }
    split.stock.insert(at + 1, rest);
    Some(split)
}

/// Names for rows, walls, batches, groups of courses and the material: every one of three letters and three
/// digits, so that none is a part of another. Two sets of names share none, and do not sort alike.
#[derive(Clone, Copy, Debug)]
pub struct Names {
    letter: char,
    factor: usize,
}

/// One set of names, and another.
pub const NAMES: [Names; 2] = [
    Names {
        letter: 'q',
        factor: 1,
    },
    Names {
        letter: 'Z',
        factor: 610, // the golden section of what follows, so that neighbours are far apart
    },
];
/// Names of one sort; a prime.
const MOST_NAMES: usize = 997;

impl Names {
    fn name(self, sort: char, number: usize) -> String {
        let scattered = (number + 1) * self.factor % MOST_NAMES;
        format!("{}{sort}_{scattered:03}", self.letter)
    }

    /// The job with these names, in place of those that are there.
    pub fn of(self, input: &JobInput) -> JobInput {
        let mut named = input.clone();
        let (mut marks, mut walls) = (Vec::new(), Vec::new());
        let (mut batches, mut groups) = (Vec::new(), Vec::new());
        let rename = |sort: char, name: &mut String, known: &mut Vec<String>| {
            if name.is_empty() {
                return;
            }
            let place = known.iter().position(|other| other == name);
            let place = place.unwrap_or_else(|| {
                known.push(name.clone());
                known.len() - 1
            });
            *name = self.name(sort, place);
        };
        for row in &mut named.pieces {
            row.material = self.name('t', 0);
            row.note = self.name('n', 0);
            rename('m', &mut row.mark, &mut marks);
            rename('w', &mut row.wall, &mut walls);
            rename('b', &mut row.batch, &mut batches);
            rename('g', &mut row.course_group, &mut groups);
        }
        for row in &mut named.stock {
            row.material = self.name('t', 0);
            rename('b', &mut row.batch, &mut batches);
        }
        for row in &mut named.in_hand {
            row.material = self.name('t', 0);
            rename('b', &mut row.batch, &mut batches);
        }
        named
    }

    /// A text in which these names take the place of those of another set.
    pub fn back(self, other: Names, text: &str) -> String {
        let mut text = text.to_owned();
        for sort in ['t', 'n', 'm', 'w', 'b', 'g'] {
            for number in 0..MOST_NAMES {
                if !text.contains(&format!("{}{sort}_", other.letter)) {
                    break;
                }
                text = text.replace(&other.name(sort, number), &self.name(sort, number));
            }
        }
        text
    }
}

/// Every length written in this unit, or in millimetres where the unit cannot show it, and read again.
pub fn in_unit(input: &JobInput, unit: Unit) -> JobInput {
    let length = |length: Length| -> Length {
        let text = length.text(unit);
        let read = Length::parse(&text, Unit::Mm).expect("a length as the library writes it");
        read.length
    };
    let measure = |measure: &mut Measure| {
        let text = measure.length.text(unit);
        *measure = Length::parse(&text, Unit::Mm).expect("a length as the library writes it");
    };
    let square = |square: SquareOff| SquareOff {
        near: length(square.near),
        far: length(square.far),
    };
    let mut other = input.clone();
    for row in &mut other.pieces {
        measure(&mut row.length);
        row.end_gap = EndGap {
            near: length(row.end_gap.near),
            far: length(row.end_gap.far),
        };
        row.joint_gap = row.joint_gap.map(length);
        row.shortest = row.shortest.map(length);
        row.joints = row.joints.take().map(|joints| match joints {
            Joints::Anywhere => Joints::Anywhere,
            Joints::Every { spacing, from } => Joints::Every {
                spacing: length(spacing),
                from: length(from),
            },
            Joints::At(places) => Joints::At(places.into_iter().map(length).collect()),
        });
    }
    for row in &mut other.stock {
        measure(&mut row.length);
        row.kerf = row.kerf.map(length);
        row.square_off = row.square_off.map(square);
        row.shortest = row.shortest.map(length);
        row.save_from = row.save_from.map(length);
    }
    for row in &mut other.in_hand {
        measure(&mut row.length);
        row.square_off = row.square_off.map(square);
    }
    other.saw.kerf = length(other.saw.kerf);
    other.saw.per_cut = length(other.saw.per_cut);
    other.saw.square_off = square(other.saw.square_off);
    other.saw.save_from = length(other.saw.save_from);
    other.saw.hold = length(other.saw.hold);
    other
}

/// The jobs as the materials of one, each with a name: their rows one after the other. What the saw of each
/// says stands on its stock; materials that are all in hand have no blade, and none an error reserve.
pub fn together(jobs: &[(&str, &JobInput)], prefer: Prefer) -> JobInput {
    let mut all = JobInput::default();
    (all.saw.kerf, all.saw.prefer) = (Length::ZERO, prefer);
    for (name, job) in jobs {
        all.pieces.extend(job.pieces.iter().map(|row| PieceRow {
            material: (*name).to_owned(),
            ..row.clone()
        }));
        all.stock.extend(job.stock.iter().map(|row| StockRow {
            material: (*name).to_owned(),
            kerf: row.kerf.or(Some(job.saw.kerf)),
            square_off: row.square_off.or(Some(job.saw.square_off)),
            ..row.clone()
        }));
        all.in_hand.extend(job.in_hand.iter().map(|row| HandRow {
            material: (*name).to_owned(),
            ..row.clone()
        }));
    }
    all
}

/// The rows of several materials in another order, those of one material in theirs.
pub fn materials_shuffled(input: &JobInput, stream: &mut Stream) -> JobInput {
    let mut shuffled = input.clone();
    shuffled.pieces = merged_anew(&input.pieces, |row| &row.material, stream);
    shuffled.stock = merged_anew(&input.stock, |row| &row.material, stream);
    shuffled.in_hand = merged_anew(&input.in_hand, |row| &row.material, stream);
    shuffled
}

fn merged_anew<T: Clone>(rows: &[T], name: impl Fn(&T) -> &String, stream: &mut Stream) -> Vec<T> {
    let mut left: Vec<T> = rows.to_vec();
    let mut merged = Vec::with_capacity(rows.len());
    while !left.is_empty() {
        let drawn = any_row(&left, |_| true, stream).unwrap_or(0);
        let of_its_kind = |row: &T| name(row) == name(&left[drawn]);
        let first = left.iter().position(of_its_kind).unwrap_or(drawn);
        merged.push(left.remove(first));
    }
    merged
}

/// Everything twice: the pieces, their spares, and the bars that there are. Courses stand on a second wall
/// of their own, since the rule counts those that follow each other.
pub fn doubled(input: &JobInput) -> JobInput {
    let mut twice = input.clone();
    let mut more = Vec::new();
    for row in &mut twice.pieces {
        if row.course.is_some() {
            more.push(PieceRow {
                course_group: format!("{} again", row.course_group),
                ..row.clone()
            });
        } else {
            row.qty = (2 * row.qty.count()).into();
            row.spare *= 2;
        }
    }
    twice.pieces.extend(more);
    for row in &mut twice.stock {
        row.available = row.available.map(|available| 2 * available);
    }
    for row in &mut twice.in_hand {
        row.available *= 2;
    }
    twice
}

/// A price lowered, or one more break after those of its row; `None` where nothing has a price above a
/// penny.
pub fn cheaper(input: &JobInput, stream: &mut Stream) -> Option<JobInput> {
    let mut cheaper = input.clone();
    let penny = Price::from_decimal(Decimal::new(1, 2))?;
    let last = |row: &StockRow| row.breaks.last().map(|at| at.price).or(row.price);
    let has_price = |row: &StockRow| last(row).is_some_and(|price| price > penny);
    let at = any_row(&input.stock, has_price, stream)?;
    let row = cheaper.stock.get_mut(at)?;
    let share = Decimal::new(stream.pick(&[99, 95, 80, 50]), 2);
    let lower = Price::from_decimal((last(row)?.decimal() * share).round_dp(2))?;
    if row.breaks.is_empty() && stream.chance(50) {
        row.price = Some(lower);
    } else {
        let from = row.breaks.last().map_or(1, |at| at.from);
        row.breaks.push(PriceBreak {
            from: from + stream.whole(1, 2).unsigned_abs(),
            price: lower,
        });
    }
    (last(row) != last(input.stock.get(at)?)).then_some(cheaper)
}

/// Without walls and without courses: what remains is free to come from any batch that its row does not
/// name, and to be joined anywhere that its row allows. `None` where there were none.
pub fn without_walls(input: &JobInput) -> Option<JobInput> {
    let mut free = input.clone();
    for row in &mut free.pieces {
        row.wall.clear();
        row.course_group.clear();
        (row.course, row.course_rule) = (None, None::<CourseRule>);
    }
    (free != *input).then_some(free)
}

/// The place of a row at random of those that are so.
fn any_row<T>(rows: &[T], is_so: impl Fn(&T) -> bool, stream: &mut Stream) -> Option<usize> {
    let places: Vec<usize> = (0..rows.len()).filter(|&at| is_so(&rows[at])).collect();
    (!places.is_empty()).then(|| stream.pick(&places))
}

fn signed(count: u64) -> i64 {
    i64::try_from(count).expect("a small count")
}
