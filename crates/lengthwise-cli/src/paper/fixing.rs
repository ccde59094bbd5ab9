//! The list for the wall: the pieces in the order in which they go up.

use std::collections::HashMap;
use std::io::{self, Write};

use lengthwise::job::{Course, Job, Material, Piece};
use lengthwise::plan::{Cutting, MaterialPlan, Plan, RunPart};
use lengthwise::{Length, Unit};
use maud::{Markup, html};

use super::{PLACE, around, materials, name, page, planned, put, tick, user};
use crate::text::joints::copy_mark;
use crate::text::layout::counted;

/// About so many characters fit beside each other on a page.
const ACROSS: usize = 66;
/// So many lines are one table, which is not parted by a page; about 33 fill one.
const MOST_TOGETHER: usize = 20;
/// A box and the name of a bar take about so many.
const BESIDE: usize = 13;

/// Writes the whole list.
///
/// # Errors
/// What cannot be written.
pub fn list(job: &Job, plan: &Plan, out: &mut impl Write) -> io::Result<()> {
    let found: Vec<Found<'_>> = materials(job, plan).map(Found::new).collect();
    let walls = walls(&found);
    let heads = walls.iter().map(|(wall, _)| match wall.is_empty() {
        true if walls.len() == 1 => String::new(),
        true => "pieces without a wall".to_owned(),
        false => page::head(wall),
    });
    let document = page::document("Fixing list", &heads.collect::<Vec<_>>());
    around(&document.0, out, |out| {
        for (place, (wall, of_wall)) in walls.iter().enumerate() {
            let has_heading = walls.len() > 1 || !wall.is_empty();
            let frame = html! {
                section class={ "wall s" (place) } {
                    @if place == 0 { (opening_words(&found)) }
                    @if has_heading { h2.place { (wall_name(wall)) } }
                    (PLACE)
                }
            };
            around(&frame.0, out, |out| {
                let mut materials = of_wall.iter();
                materials
                    .try_for_each(|(found, pieces)| of_material(found, pieces, has_heading, out))
            })?;
        }
        Ok(())
    })
}

/// What stands above all walls: on the first one's page, for a wall has pages of its own.
fn opening_words(found: &[Found<'_>]) -> Markup {
    html! {
        h1 { "Fixing list" }
        p.lead {
            "In the order in which the pieces go up; beside each, the bar it comes from. "
            "Offer it up before you fix it. "
            "Where a length looks wrong, measure the opening again and cut nothing until it is clear. "
            "Makers\u{2019} instructions and local codes go first."
        }
        @for material in found {
            @if let Err(why) = &material.cutting {
                p.noplan { b { "No plan for " (name(&material.plan.name)) "." } " " (user(why)) }
            }
        }
    }
}

fn wall_name(wall: &str) -> Markup {
    match wall.is_empty() {
        true => html! { "Pieces without a wall" },
        false => user(wall),
    }
}

/// The pieces of one material on one wall.
type OfWall<'f, 'a> = (&'f Found<'a>, Vec<&'a Piece>);

/// The walls in the order in which the pieces name them, each with its pieces; those without one come last.
fn walls<'f, 'a>(found: &'f [Found<'a>]) -> Vec<(&'a str, Vec<OfWall<'f, 'a>>)> {
    let mut walls: Vec<(&str, Vec<OfWall<'_, '_>>)> = Vec::new();
    let mut places: HashMap<&str, usize> = HashMap::new();
    for found in found {
        for piece in found.material.pieces() {
            let place = *places.entry(piece.wall()).or_insert_with(|| {
                walls.push((piece.wall(), Vec::new()));
                walls.len() - 1
            });
            if let Some((_, of_wall)) = walls.get_mut(place) {
                match of_wall.last_mut() {
                    Some((last, pieces)) if std::ptr::eq(*last, found) => pieces.push(piece),
                    _ => of_wall.push((found, vec![piece])),
                }
            }
        }
    }
    walls.sort_by_key(|(wall, _)| wall.is_empty());
    walls
}

/// A material, and which bar each of its pieces comes from.
struct Found<'a> {
    material: &'a Material,
    plan: &'a MaterialPlan,
    cutting: Result<&'a Cutting, String>,
    /// By the mark of a copy: its parts from left to right, or the piece itself.
    cuts: HashMap<&'a str, Vec<FoundCut<'a>>>,
    /// By group of courses: the first row that names it.
    first_rows: HashMap<usize, usize>,
}

struct FoundCut<'a> {
    mark: &'a str,
    bar: &'a str,
    length: Length,
    part: Option<&'a RunPart>,
}

impl<'a> Found<'a> {
    fn new((material, plan): (&'a Material, &'a MaterialPlan)) -> Found<'a> {
        let cutting = planned(plan);
        let mut cuts: HashMap<&str, Vec<FoundCut<'_>>> = HashMap::new();
        for bars in cutting.iter().flat_map(|cutting| &cutting.bars) {
            for cut in &bars.cuts {
                for (place, (mark, bar)) in cut.marks.iter().zip(&bars.names).enumerate() {
                    let part = cut.parts.get(place);
                    let copy = part.map_or(mark.as_str(), |part| copy_mark(mark, part));
                    cuts.entry(copy).or_default().push(FoundCut {
                        mark,
                        bar,
                        length: cut.length,
                        part,
                    });
                }
            }
        }
        for parts in cuts.values_mut() {
            parts.sort_by_key(|cut| cut.part.map_or(0, |part| part.part));
        }
        let mut first_rows = HashMap::new();
        for piece in material.pieces() {
            if let Some(course) = piece.run().and_then(|run| run.course()) {
                let first = first_rows.entry(course.group()).or_insert(piece.row());
                *first = piece.row().min(*first);
            }
        }
        Found {
            material,
            plan,
            cutting,
            cuts,
            first_rows,
        }
    }

    fn bar(&self, mark: &str) -> &'a str {
        let cut = self.cuts.get(mark).and_then(|cuts| cuts.first());
        cut.map_or("\u{2013}", |cut| cut.bar)
    }
}

/// Writes the pieces of one material on one wall: row by row, courses in order, spares last.
fn of_material(
    found: &Found<'_>,
    pieces: &[&Piece],
    has_heading: bool,
    out: &mut impl Write,
) -> io::Result<()> {
    let mut pieces = pieces.to_vec();
    // A group of courses goes up as a whole, where its first row stands.
    pieces.sort_by_key(|piece| {
        let course = piece.run().and_then(|run| run.course());
        let first = course.and_then(|course| found.first_rows.get(&course.group()));
        let row = first.copied().unwrap_or(piece.row());
        (piece.is_spare(), row, course.map(Course::first))
    });
    let name = name(&found.plan.name);
    let head = html! { @if has_heading { h3 { (name) } } @else { h2 { (name) } } };
    put(&head, out)?;
    let mut blocks = pieces.chunk_by(|one, next| together(one, next));
    blocks.try_for_each(|rows| put(&block(found, rows), out))
}

/// Whether two kinds of piece stand in one table: of one row, or courses of one group.
fn together(one: &Piece, next: &Piece) -> bool {
    let group = |piece: &Piece| Some(piece.run()?.course()?.group());
    let same_group = group(one).is_some() && group(one) == group(next);
    one.is_spare() == next.is_spare()
        && one.is_for_bar() == next.is_for_bar()
        && one.run().is_some() == next.run().is_some()
        && (one.row() == next.row() || same_group)
}

fn block(found: &Found<'_>, pieces: &[&Piece]) -> Markup {
    let runs = pieces.iter().any(|piece| piece.run().is_some());
    match pieces {
        _ if runs => joined(found, pieces),
        [piece] => alike(found, piece),
        _ => each(found, pieces),
    }
}

/// What a table holds: how many, of what size where they are alike, and what the row says of them.
fn caption(pieces: &[&Piece], sizes: &Markup, first: bool) -> Markup {
    let Some(piece) = pieces.first() else {
        return html! {};
    };
    let count: u64 = pieces.iter().map(|piece| piece.qty()).sum();
    let count = match piece.run() {
        Some(_) => counted(count, "run", "runs"),
        None => counted(count, "piece", "pieces"),
    };
    html! {
        caption {
            span.mark { (user(piece.mark())) }
            span.about {
                @if piece.is_for_bar() { b { "keep whole, for a bar that turns out bad: " } }
                @else if piece.is_spare() { b { "spare, only if one is spoiled: " } }
                (count) (sizes)
                @if !first { ", continued" }
                @if first && !piece.note().is_empty() { span.remark { (user(piece.note())) } }
            }
        }
    }
}

/// Pieces of one length.
fn alike(found: &Found<'_>, piece: &Piece) -> Markup {
    let marks: Vec<String> = (0..piece.qty()).map(|copy| piece.copy_mark(copy)).collect();
    let widest = marks.iter().map(|mark| mark.chars().count()).max();
    let across = (ACROSS / (widest.unwrap_or(0) + BESIDE)).clamp(1, 4);
    let sizes = html! { ", " (sizes(piece, found.plan.unit)) };
    html! { @for (place, marks) in marks.chunks(MOST_TOGETHER * across).enumerate() {
        table class={ "pieces across" (across) } {
            (caption(&[piece], &sizes, place == 0))
            colgroup { @for _ in 0..across { col.piece; col.from; } }
            thead.flat {
                tr { @for _ in 0..across { th scope="col" { "Piece" } th scope="col" { "Bar" } } }
            }
            tbody { @for row in marks.chunks(across) { tr {
                @for mark in row {
                    th scope="row" { (tick()) " " span.mark { (user(mark)) } }
                    td.bar-name { (found.bar(mark)) }
                }
                @for _ in row.len()..across { td {} td {} }
            } } }
        }
    } }
}

fn sizes(piece: &Piece, unit: Unit) -> Markup {
    html! {
        @if piece.opening() != piece.length() { "opening " b { (piece.opening().text(unit)) } ", " }
        "cut " b { (piece.length().text(unit)) }
        @if !piece.ends().are_square() { ", ends " (piece.ends()) " to the long points" }
    }
}

/// Pieces of several lengths, one to a line.
fn each(found: &Found<'_>, pieces: &[&Piece]) -> Markup {
    let copies = pieces.iter();
    let copies = copies.flat_map(|&piece| (0..piece.qty()).map(move |copy| (piece, copy)));
    let copies: Vec<(&Piece, u64)> = copies.collect();
    let unit = found.plan.unit;
    html! { @for (place, copies) in copies.chunks(MOST_TOGETHER).enumerate() {
        table.pieces {
            (caption(pieces, &html! {}, place == 0))
            thead { tr {
                th scope="col" { "Piece" }
                th.w2 scope="col" { "Opening" }
                th.w2 scope="col" { "Cut" }
                th scope="col" { "Bar" }
            } }
            tbody { @for (piece, copy) in copies {
                @let mark = piece.copy_mark(*copy);
                tr {
                    th scope="row" { (tick()) " " span.mark { (user(&mark)) } }
                    td { (piece.opening().text(unit)) }
                    td { b { (piece.length().text(unit)) }
                        @if !piece.ends().are_square() { " ends " (piece.ends()) }
                    }
                    td.bar-name { (found.bar(&mark)) }
                }
            } }
        }
    } }
}

/// Runs, each with its parts from left to right.
fn joined(found: &Found<'_>, pieces: &[&Piece]) -> Markup {
    let group = pieces.first().and_then(|piece| piece.run()?.course());
    let group = group.and_then(|course| found.material.course_groups().get(course.group()));
    let of_group = html! {
        @if let Some(group) = group { ", in courses of " (user(group.name())) }
    };
    html! { @for (place, runs) in together_on_a_page(found, pieces).iter().enumerate() {
        table.pieces {
            (caption(pieces, &of_group, place == 0))
            thead {
                tr {
                    th scope="col" { "Part, from the left" }
                    th.w1 scope="col" { "Cut" }
                    th.w0 scope="col" { "Bar" }
                    th.w4 scope="col" { "Where it lies in the opening" }
                }
            }
            @for (piece, copy) in runs { (run(found, piece, *copy)) }
        }
    } }
}

/// The copies of runs, so many together as stay on one page.
fn together_on_a_page<'a>(found: &Found<'_>, pieces: &[&'a Piece]) -> Vec<Vec<(&'a Piece, u64)>> {
    let mut pages: Vec<Vec<(&Piece, u64)>> = Vec::new();
    let mut lines = 0;
    for &piece in pieces {
        for copy in 0..piece.qty() {
            let parts = found.cuts.get(piece.copy_mark(copy).as_str());
            let takes = 1 + parts.map_or(1, Vec::len);
            match pages.last_mut() {
                Some(page) if lines + takes <= MOST_TOGETHER => {
                    page.push((piece, copy));
                    lines += takes;
                }
                _ => {
                    pages.push(vec![(piece, copy)]);
                    lines = takes;
                }
            }
        }
    }
    pages
}

fn run(found: &Found<'_>, piece: &Piece, copy: u64) -> Markup {
    let unit = found.plan.unit;
    let mark = piece.copy_mark(copy);
    let course = piece.run().and_then(|run| run.course());
    let course = course.and_then(|course| course.first().checked_add(copy));
    let parts = found.cuts.get(mark.as_str()).map_or(&[][..], Vec::as_slice);
    html! {
        tbody.run {
            tr { th.run-name colspan="4" scope="rowgroup" {
                span.mark { (user(&mark)) }
                @if let Some(course) = course { "course " (course) ", " }
                "opening " (piece.opening().text(unit))
                @if let Some(gap) = piece.run().map(|run| run.joint_gap()).filter(|gap| !gap.is_zero()) {
                    ", " (gap.text(unit)) " open at each joint"
                }
                @if !piece.end_gap().total().is_zero() {
                    ", open at the ends " (piece.end_gap().near.number(unit)) "/"
                    (piece.end_gap().far.text(unit))
                }
            } }
            @for cut in parts { tr {
                th scope="row" { (tick()) " " span.mark { (user(cut.mark)) } }
                td { b { (cut.length.text(unit)) } }
                td.bar-name { (cut.bar) }
                td { @if let Some(part) = cut.part { (lies(part, unit)) } }
            } }
            @if parts.is_empty() { tr {
                th scope="row" { (tick()) " " span.mark { (user(&mark)) } }
                td { "\u{2013}" }
                td.bar-name { "\u{2013}" }
                td { "no plan" }
            } }
        }
    }
}

/// From where to where, and what the joint at its right lies on.
fn lies(part: &RunPart, unit: Unit) -> Markup {
    let (from, to) = (part.from.number(unit), part.to.text(unit));
    html! {
        @if part.of == 1 { "in one piece" } @else {
            (from) " to " (to)
            @if part.part < part.of {
                ", then a joint"
                @if let Some(support) = part.to_support { " on support " b { (support) } }
            }
        }
    }
}
