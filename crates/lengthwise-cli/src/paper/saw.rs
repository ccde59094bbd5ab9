//! The sheet for the saw: what is to be known first, then stops and bars of each material.

use std::io::{self, Write};

use lengthwise::job::{Job, Material};
use lengthwise::plan::{Cutting, MaterialPlan, Plan};
use lengthwise::{Length, Unit};
use maud::{Markup, html};

use super::{PLACE, around, bars, materials, name, page, planned, put, stops, tick, user};
use crate::insurance::Cover;
use crate::text::buying::{self, to_pay};
use crate::text::digest::{of_them, pieces_and_length};
use crate::text::figures::{self, Row, job_cost};
use crate::text::ink::Ink;
use crate::text::layout::{counted, loose};
use crate::text::preferred::preferred;
use crate::text::walls::walls;
use crate::text::{mishaps, notes, words};

/// What stands before the first cut. Hands 300 mm clear: guidance of the Health and Safety Executive
/// for cross-cut saws, from memory; the rest is common practice, no source.
const CAUTIONS: [(&str, &str); 7] = [
    (
        "Measure the opening first.",
        "Every opening, on the spot, before its piece is cut.",
    ),
    (
        "Check the first bar before you cut the rest.",
        "Measure the slot that the blade leaves, cut one bar, offer its pieces up.",
    ),
    (
        "Keep hands 300 mm (a foot) clear of the blade.",
        "Never hold a shorter piece by hand: clamp it, or cut it from a longer bar.",
    ),
    (
        "Never trap a loose piece between stop and blade.",
        "It is thrown. Hold the side that touches the stop, or swing the stop away before the cut.",
    ),
    (
        "Guards on.",
        "Blade still and the power off before you reach in or change anything.",
    ),
    (
        "Eyes, ears, lungs.",
        "Glasses, muffs, mask. Dust of treated timber and of plastics is the worst.",
    ),
    (
        "Makers\u{2019} instructions, local codes and licensed trades go first.",
        "Nothing here judges strength or fire.",
    ),
];

/// Writes the whole sheet.
///
/// # Errors
/// What cannot be written.
pub fn sheet(job: &Job, plan: &Plan, cover: &Cover, out: &mut impl Write) -> io::Result<()> {
    let heads = plan.materials.iter().map(|plan| page::head(&plan.name));
    let document = page::document("Cutting sheet", &heads.collect::<Vec<_>>());
    around(&document.0, out, |out| {
        let first = html! {
            h1 { "Cutting sheet" }
            (summary(plan, cover))
            (cautions())
            (reading())
            (where_it_goes(plan))
            (notes_of(job))
            (buying_list(job, plan))
        };
        put(&first, out)?;
        for (place, (material, plan)) in materials(job, plan).enumerate() {
            let frame = html! { section class={ "material s" (place) } { (PLACE) } };
            let insured = insured(cover, place, plan.unit);
            around(&frame.0, out, |out| section(material, plan, insured, out))?;
        }
        Ok(())
    })
}

/// How good the plan is and what it costs, material by material.
fn summary(plan: &Plan, cover: &Cover) -> Markup {
    let (sum, unpriced) = job_cost(plan);
    html! {
        table.summary {
            caption { "The whole job" }
            thead { tr {
                th scope="col" { "Material" }
                th.n scope="col" { "Bars to buy" }
                th.n scope="col" { "Bought" }
                th.n scope="col" { "Cost" }
                th.n scope="col" { "On the wall" }
                th scope="col" { "Proved" }
            } }
            tbody { @for material in &plan.materials {
                @let row = Row::of(material);
                tr {
                    th scope="row" { (name(&material.name)) }
                    td.n { (row.bars) }
                    td.n { (row.bought) }
                    td.n { (row.cost) }
                    td.n { (row.wall) }
                    td { (row.proof) }
                }
            } }
            @if let Some(sum) = sum {
                tfoot {
                @if let Some((price, is_proven)) = mishaps::total_price(&cover.materials) { tr {
                    th scope="row" colspan="3" { "What the insurance costs" }
                    td.n { (price) }
                    td colspan="2" { @if is_proven { "proved least" } }
                } }
                tr {
                    th scope="row" colspan="3" { "To pay" }
                    td.n.total { (sum) }
                    td colspan="2" { @if unpriced > 0 {
                        (counted(unpriced, "material", "materials")) " not counted: no price or no plan"
                    } }
                } }
            }
        }
        @for material in &plan.materials {
            @if let Err(why) = planned(material) {
                p.noplan { b { "No plan for " (name(&material.name)) "." } " " (user(&why)) }
            }
        }
    }
}

fn cautions() -> Markup {
    html! {
        section.cautions {
            h2 { "Before the first cut" }
            ul { @for (what, how) in CAUTIONS { li { b { (what) } " " (how) } } }
        }
    }
}

/// How the sheet is read.
fn reading() -> Markup {
    html! {
        section.reading {
            h2 { "How to read the bars" }
            p {
                "The squared end lies on the left, at the heaviest line; it goes against the stop. "
                "Numbers below a drawing are its cuts, in order. Each line beneath is a cut: its "
                b { "stop" } ", where the piece ends on a tape from the squared end, what to write "
                "on it. Of bars cut alike, that stands beside the name of each. "
                "Dashed is kept, hatched goes to the skip."
            }
        }
    }
}

fn buying_list(job: &Job, plan: &Plan) -> Markup {
    html! {
        table.buying {
            caption { "Buy" }
            thead { tr {
                th scope="col" { "Material" }
                th.n scope="col" { "Bars" }
                th.n scope="col" { "Length" }
                th scope="col" { "Price" }
                th.n scope="col" { "Cost" }
            } }
            @for (material, plan) in materials(job, plan) {
                @if let Ok(cutting) = planned(plan) { (purchases(material, plan, cutting)) }
            }
        }
    }
}

fn purchases(material: &Material, plan: &MaterialPlan, cutting: &Cutting) -> Markup {
    let lines = cutting.buy.iter();
    let lines: Vec<_> = lines
        .map(|buy| buying::Line::new(buy, material, plan.unit))
        .collect();
    let total = to_pay(&cutting.buy).filter(|_| lines.len() > 1);
    let hand = buying::from_hand(cutting, material);
    html! {
        tbody {
            tr {
                th scope="rowgroup" colspan="4" {
                    (name(&plan.name))
                    @if !hand.is_empty() { span.aside { (hand.trim()) } }
                }
                td.n { @if let Some(total) = total { b { (total) } } }
            }
            @for line in &lines { tr {
                td { (tick()) }
                td.n.much { (line.count) }
                td.n.much { (line.length) }
                td { (user(&line.terms)) }
                td.n { (line.cost) }
            } }
            @if lines.is_empty() { tr { td colspan="5" { "nothing: what is in hand is enough" } } }
        }
    }
}

fn notes_of(job: &Job) -> Markup {
    let notes = notes::plain(job);
    html! { @if !notes.is_empty() {
        section.notes {
            h2 { "Notes" }
            // A flag is not parted behind its hyphens.
            ul { @for note in notes { li { (user(&note.replace("--", "\u{2060}-\u{2060}-\u{2060}"))) } } }
        }
    } }
}

fn section(
    material: &Material,
    plan: &MaterialPlan,
    insured: Option<String>,
    out: &mut impl Write,
) -> io::Result<()> {
    let head = html! {
        h2 { (name(&plan.name)) }
        p.lead { (pieces(material, plan)) }
    };
    put(&head, out)?;
    let cutting = match planned(plan) {
        Ok(cutting) => cutting,
        Err(why) => {
            return put(
                &html! { p.noplan { b { "No plan." } " " (user(&why)) } },
                out,
            );
        }
    };
    let lead = html! {
        p.verdict { (words::verdict(cutting, plan.unit)) }
        @if let Some(walls) = walls(cutting, plan.unit) { p.lead { (user(&walls)) } }
        @if let Some(preferred) = preferred(cutting, material, plan.unit) {
            p.lead { (preferred) }
        }
        @if let Some(insured) = insured { p.lead { (user(&insured)) } }
        @for sentence in mishaps::sentences(cutting, material, plan.unit) {
            p.lead { (user(&loose(&sentence))) }
        }
        (stops::stops(cutting, material, plan.unit))
    };
    put(&lead, out)?;
    bars::bars(cutting, material, plan.unit, out)
}

/// What a material is insured against, on one line however long.
fn insured(cover: &Cover, place: usize, unit: Unit) -> Option<String> {
    let insured = cover.materials.get(place)?;
    let text = mishaps::insured(insured, cover.insurance, unit, Ink::plain());
    let words: Vec<&str> = text.split_whitespace().collect();
    (!words.is_empty()).then(|| words.join(" "))
}

/// How much there is to cut, and with what blade.
fn pieces(material: &Material, plan: &MaterialPlan) -> String {
    let (count, total) = pieces_and_length(material);
    let pieces = counted(count, "piece", "pieces") + &of_them(material);
    let total = total.map(|total| format!(", {} in all", total.text(plan.unit)));
    let reserve = match plan.per_cut {
        Length::ZERO => String::new(),
        reserve => format!(", and {} reserve at every cut", reserve.text(plan.unit)),
    };
    let blade = plan.kerf.text(plan.unit);
    let total = total.unwrap_or_default();
    format!("{pieces}{total}; blade {blade}{reserve}.")
}

/// The figures of all materials by name. Those that no material has are left out.
fn where_it_goes(plan: &Plan) -> Markup {
    let of_plan = |plan: &MaterialPlan| {
        let cutting = planned(plan).ok()?;
        let rows = figures::rows(cutting, plan.unit);
        Some((plan.name.clone(), plan.unit, rows))
    };
    let materials: Vec<_> = plan.materials.iter().filter_map(of_plan).collect();
    let mut names: Vec<&str> = Vec::new();
    for (_, _, rows) in &materials {
        if rows.len() > names.len() {
            names = rows.iter().map(|row| row.name).collect();
        }
    }
    html! { @if !materials.is_empty() {
        table.figures {
            caption { "Where the length goes" }
            thead { tr {
                th scope="col" { "Material" }
                @for name in &names { th.n scope="col" { (name) } }
            } }
            tbody { @for (material, unit, rows) in &materials { tr {
                th scope="row" { (name(material)) }
                @for name in &names {
                    td.n { @if let Some(row) = rows.iter().find(|row| row.name == *name) {
                        (figure(row, *unit))
                    } }
                }
            } } }
        }
    } }
}

/// A figure and what there is to say about it, but for the share on the wall, which stands above.
fn figure(row: &figures::Figure, unit: Unit) -> Markup {
    let remark = row.remark(unit);
    let remark = match remark.split_once("of what is cut into") {
        Some((_, more)) => more.trim_start_matches(", "),
        None => remark.as_str(),
    };
    html! {
        (row.shown(unit))
        @if !remark.is_empty() { span.remark { (remark) } }
    }
}
