//! The settings of the stop: what the sheet is led by.

use std::collections::BTreeMap;

use lengthwise::job::Material;
use lengthwise::plan::{BarGroup, Cutting};
use lengthwise::{Length, Unit};
use maud::{Markup, html};

use super::bars::length;
use super::laid::{is_by_tape, stop_order};
use super::tick;
use crate::text::layout::counted;
use crate::text::short_list;

/// Boxes stand in groups of so many, as tallies do, so that they can be counted at a glance.
const TALLY: usize = 5;

/// One row for each setting, in the order in which they are made, with a box for each cut.
pub fn stops(cutting: &Cutting, material: &Material, unit: Unit) -> Markup {
    let mut found: BTreeMap<Length, Vec<Source<'_>>> = BTreeMap::new();
    for bars in &cutting.bars {
        let mut of_bars: BTreeMap<Length, Source<'_>> = BTreeMap::new();
        for cut in &bars.cuts {
            let from = of_bars.entry(cut.length).or_insert(Source {
                bars,
                each: 0,
                spare: 0,
            });
            from.each += 1;
            from.spare += usize::from(cut.spare);
        }
        for (length, from) in of_bars {
            found.entry(length).or_default().push(from);
        }
    }
    html! {
        table.stops {
            caption { "Set the stop" span.aside { "measured from the squared end; tick a box for every cut" } }
            thead { tr {
                th scope="col" { "Stop" }
                th scope="col" { "Cuts" }
                th scope="col" { "From these bars" }
            } }
            tbody {
                @for stop in stop_order(cutting) {
                    @let from = found.get(&stop).map_or(&[][..], Vec::as_slice);
                    (row(stop, from, material, unit))
                }
            }
        }
    }
}

/// Cuts of one length from bars cut alike.
struct Source<'a> {
    bars: &'a BarGroup,
    each: usize,
    spare: usize,
}

impl Source<'_> {
    fn count(&self) -> usize {
        self.each * self.bars.names.len()
    }
}

fn row(stop: Length, from: &[Source<'_>], material: &Material, unit: Unit) -> Markup {
    let cuts: usize = from.iter().map(Source::count).sum();
    let spares: usize = from.iter().map(|one| one.spare * one.bars.names.len()).sum();
    html! {
        tr {
            th.stop scope="row" {
                (length(stop, unit))
                @if is_by_tape(stop, material) { span.warn { "by tape" } }
                @if stop < material.hold() { span.warn { "short: clamp it" } }
            }
            td.count {
                (cuts)
                @if spares > 0 { span.aside { (counted(spares as u64, "spare", "spares")) } }
            }
            td.from { @for one in from { (source(one)) } }
        }
    }
}

/// `A1 to A7, 2 each`, and the boxes.
fn source(from: &Source<'_>) -> Markup {
    let names: Vec<&str> = from.bars.names.iter().map(String::as_str).collect();
    html! {
        span.source {
            b { (short_list(&names).join(", ")) }
            @if from.each > 1 && names.len() > 1 { " " span.each { (from.each) " each" } }
            " "
            (boxes(from.count()))
        }
        " "
    }
}

fn boxes(count: usize) -> Markup {
    html! {
        @for first in (0..count).step_by(TALLY) {
            span.tally { @for _ in first..count.min(first + TALLY) { (tick()) } }
            " "
        }
    }
}
