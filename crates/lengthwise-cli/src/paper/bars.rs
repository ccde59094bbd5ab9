//! Bar by bar: the drawing, the cuts, what to write on every piece, what to do with the rest.

use std::io::{self, Write};

use lengthwise::job::Material;
use lengthwise::plan::{Cut, Cutting};
use lengthwise::{Length, Unit};
use maud::{Markup, PreEscaped, html};

use super::drawing;
use super::laid::{Laid, LaidCut, is_by_tape, is_short};
use super::{put, tick, user};
use crate::text::buying::why_whole;
use crate::text::joints::place_of;
use crate::text::layout::{counted, loose};
use crate::text::short_list;
use crate::text::walls::batch_of;

/// About so many characters of the marks fit beside each other on a page.
const ACROSS: usize = 70;
/// Up to so many bars cut alike, their block stays on one page.
const MOST_TOGETHER: usize = 12;
/// A name of a bar with its box takes about so many.
const NAME: usize = 10;

/// A length with its unit set smaller, where it is one word.
pub fn length(length: Length, unit: Unit) -> Markup {
    let text = length.text(unit);
    match text.strip_suffix(unit.name()) {
        Some(number) => html! { (number) span.unit { (unit.name()) } },
        None => html! { (text) },
    }
}

/// Writes every kind of bar cut alike.
///
/// # Errors
/// What cannot be written.
pub fn bars(
    cutting: &Cutting,
    material: &Material,
    unit: Unit,
    out: &mut impl Write,
) -> io::Result<()> {
    let longest = cutting.bars.iter().map(|bars| bars.stock).max();
    let longest = longest.unwrap_or(Length::ZERO);
    put(&html! { h3 { "Bar by bar" } }, out)?;
    for bars in &cutting.bars {
        put(&block(&Laid::new(bars, material, unit), longest), out)?;
    }
    put(&uncut(cutting, material, unit), out)
}

fn block(laid: &Laid<'_>, longest: Length) -> Markup {
    let bars = laid.bars;
    let short = bars.names.len() <= MOST_TOGETHER;
    html! {
        section.bar.whole[short] {
            div.whole[!short] {
                (title(laid))
                (PreEscaped(drawing::bar(laid, longest).to_string()))
                (cuts(laid))
                (rest(laid))
            }
            @if bars.names.len() > 1 { (each_bar(laid, short)) }
        }
    }
}

fn title(laid: &Laid<'_>) -> Markup {
    let bars = laid.bars;
    let names = short_list(&laid.names()).join(", ");
    let stock = bars.stock.text(laid.unit);
    let what = match bars.names.len() {
        1 => format!("one bar of {stock}"),
        n => format!("{n} bars of {stock}, cut alike"),
    };
    html! {
        h4 {
            @if bars.names.len() == 1 { (tick()) }
            span.name { (names) }
            " "
            span.what {
                (what)
                @if bars.in_hand { ", " b { "in hand" } }
                (user(&batch_of(laid.material, laid.material.bars().get(bars.bar))))
                @if !laid.near.is_zero() && !bars.is_kept_whole() {
                    "; " b { "first square off " (laid.near.text(laid.unit)) }
                }
            }
        }
    }
}

/// One row for each setting of the stop.
fn cuts(laid: &Laid<'_>) -> Markup {
    let single = laid.bars.names.len() == 1;
    let names = short_list(&laid.names()).join(", ");
    html! {
        table.cuts.feet[matches!(laid.unit, Unit::In | Unit::Ft)] {
            caption.unseen { "Cuts of " (names) }
            thead.flat { tr {
                th scope="col" { "Cut" }
                th scope="col" { "Stop" }
                th scope="col" { "Where the piece ends" }
                th scope="col" { @if single { "What to write on it" } @else { "Mind" } }
            } }
            tbody { @for setting in laid.settings() { (setting_row(setting, laid, single)) } }
        }
    }
}

fn setting_row(setting: &[LaidCut<'_>], laid: &Laid<'_>, single: bool) -> Markup {
    let Some((first, last)) = setting.first().zip(setting.last()) else {
        return html! {};
    };
    let cut = first.cut;
    html! {
        tr {
            th.number scope="row" {
                span.nth { (first.number) @if last.number > first.number { "\u{2013}" (last.number) } }
            }
            td.stop { @if cut.for_bar { "no cut" } @else { (length(cut.length, laid.unit)) } }
            td.ends {
                "ends at "
                @for one in setting {
                    data value=(one.to.nm()) { (one.end_text(laid.unit)) } " "
                }
            }
            td.marks {
                @if single {
                    @for one in setting {
                        @for mark in &one.cut.marks { span.mark { (user(mark)) } " " }
                    }
                }
                (remarks(cut, laid))
            }
        }
    }
}

/// What is special about a cut.
fn remarks(cut: &Cut, laid: &Laid<'_>) -> Markup {
    let place = cut
        .parts
        .first()
        .map(|part| loose(&place_of(part, laid.unit)));
    let reach = laid.material.stop_reach();
    html! {
        @if let Some(place) = place {
            span.remark { "of its run " (place.trim_matches(['(', ')'])) }
        }
        @if !cut.ends.are_square() {
            span.remark { "ends " (cut.ends) ", stop to the long points" }
        }
        @if cut.for_bar { span.remark { "keep whole: for a bar that turns out bad" } }
        @else if cut.spare { span.remark { "spare: cut it only if one is spoiled" } }
        @if !cut.for_bar && is_by_tape(cut.length, laid.material) && let Some(reach) = reach {
            span.warn { "by tape: beyond the stop, which reaches " (reach.text(laid.unit)) }
        }
        @if is_short(cut, laid.material) {
            span.warn {
                "short: hands off. Clamp it, or cut it from a longer bar"
            }
        }
    }
}

/// Which mark goes onto which piece of which bar.
fn each_bar(laid: &Laid<'_>, short: bool) -> Markup {
    let bars = laid.bars;
    let marks = |place: usize| bars.cuts.iter().filter_map(move |cut| cut.marks.get(place));
    let width = |place: usize| marks(place).map(|mark| mark.chars().count() + 4).sum();
    let widest: usize = (0..bars.names.len()).map(width).max().unwrap_or(0);
    let across = (ACROSS / (widest + NAME)).clamp(1, 4).min(bars.names.len());
    let places: Vec<usize> = (0..bars.names.len()).collect();
    let names: Vec<&str> = bars.names.iter().map(String::as_str).collect();
    html! {
        table.each {
            caption.unseen { "What to write on the pieces of " (short_list(&names).join(", ")) }
            // On further pages the stops stand above the bars again.
            thead.flat {
                @if !short { tr { th.again colspan=(2 * across) scope="colgroup" { (stops_again(laid)) } } }
                tr {
                @for _ in 0..across { th scope="col" { "Bar" } th scope="col" { "What to write on its pieces" } }
            } }
            tbody { @for row in places.chunks(across) { tr {
                @for &place in row {
                    th scope="row" { (tick()) @if let Some(name) = names.get(place) { span.name { (name) } } }
                    td { @for (number, mark) in marks(place).enumerate() {
                        span.mark { span.nth { (number + 1) } (user(mark)) } " "
                    } }
                }
                @for _ in row.len()..across { td {} td {} }
            } } }
        }
    }
}

fn stops_again(laid: &Laid<'_>) -> Markup {
    html! { @for one in &laid.cuts {
        span.mark { span.nth { (one.number) } (one.cut.length.text(laid.unit)) } " "
    } }
}

/// What to do with what is left over.
fn rest(laid: &Laid<'_>) -> Markup {
    let bars = laid.bars;
    if bars.is_kept_whole() {
        return html! {};
    }
    let Some(left) = laid.left_over() else {
        return html! { p.rest { "Nothing left over." } };
    };
    let each = if bars.names.len() > 1 { " of each" } else { "" };
    if !bars.saved {
        return html! { p.rest { "Left over" (each) ": " (left) ". To the skip." } };
    }
    let rough = bars.offcut_rough;
    // Without it nobody knows next time which wall it may go to.
    let batch = laid.material.bars().get(bars.bar);
    let batch = batch.map_or("", |bar| laid.material.batch_of(bar));
    let batch = html! { @if !batch.is_empty() { " \u{b7} " (user(batch)) } };
    html! {
        p.rest.keep {
            b { "Keep " (left) (each) "." } " Write on it: "
            @match bars.names.as_slice() {
                [name] => span.label { (name) " \u{b7} " (left) (batch) },
                _ => {
                    span.label { "bar \u{b7} " (left) (batch) } " (the bar\u{2019}s own name)"
                },
            }
            @if !rough.is_zero() { " Its far " (rough.text(laid.unit)) " are still rough." }
        }
    }
}

/// Bars that stay whole.
fn uncut(cutting: &Cutting, material: &Material, unit: Unit) -> Markup {
    html! {
        @for bars in &cutting.uncut {
            p.rest {
                b { "Not cut: " }
                (counted(bars.count, "bar", "bars")) " of " (bars.length.text(unit)) ", "
                (why_whole(bars, cutting, material))
                (user(&batch_of(material, material.bars().get(bars.bar)))) ". Keep."
            }
        }
    }
}
