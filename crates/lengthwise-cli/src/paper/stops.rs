//! The settings of the stop: what the sheet is led by.

use lengthwise::Unit;
use lengthwise::job::Material;
use lengthwise::plan::{BarGroup, Cut, Cutting, StopSetting};
use maud::{Markup, html};

use super::bars::length;
use super::laid::is_by_tape;
use super::tick;
use crate::text::layout::counted;
use crate::text::short_list;

/// Boxes stand in groups of so many, as tallies do, so that they can be counted at a glance.
const TALLY: usize = 5;

/// One row for each setting, in the order in which they are made, with a box for each cut.
pub fn stops(cutting: &Cutting, material: &Material, unit: Unit) -> Markup {
    let settings = cutting.stop_settings();
    let stages = settings.chunk_by(|one, next| one.stage == next.stage);
    let has_stages = stages.clone().count() > 1;
    html! {
        table.stops {
            caption { "Set the stop" span.aside { "measured from the squared end; tick a box for every cut" } }
            thead { tr {
                th scope="col" { "Stop" }
                th scope="col" { "Cuts" }
                th scope="col" { "From these bars" }
            } }
            @for stage in stages {
                tbody {
                    @if has_stages && let Some(first) = stage.first() {
                        tr { th.stage scope="rowgroup" colspan="3" { "Stage " (first.stage) } }
                    }
                    @for setting in stage { (row(setting, cutting, material, unit)) }
                }
            }
        }
    }
}

/// Cuts of one setting from bars cut alike.
struct Source<'a> {
    bars: &'a BarGroup,
    each: usize,
    spare: usize,
}

impl<'a> Source<'a> {
    fn new(bars: &'a BarGroup, each: usize, setting: &StopSetting) -> Source<'a> {
        let of_setting =
            |cut: &&Cut| !cut.for_bar && cut.length == setting.length && cut.stage == setting.stage;
        let cuts = bars.cuts.iter().filter(of_setting);
        // Where a bar comes back to a setting it is not said which of its cuts are spare.
        let spare = match cuts.clone().count() == each {
            true => cuts.filter(|cut| cut.spare).count(),
            false => 0,
        };
        Source { bars, each, spare }
    }

    fn count(&self) -> usize {
        self.each * self.bars.names.len()
    }
}

fn row(setting: &StopSetting, cutting: &Cutting, material: &Material, unit: Unit) -> Markup {
    let sources = setting.cuts.iter().filter_map(|&(place, each)| {
        let bars = cutting.bars.get(place)?;
        Some(Source::new(bars, each, setting))
    });
    let sources: Vec<Source<'_>> = sources.collect();
    let stop = setting.length;
    let cuts: usize = sources.iter().map(Source::count).sum();
    let spares = sources.iter().map(|one| one.spare * one.bars.names.len());
    let spares: usize = spares.sum();
    html! {
        tr {
            th.stop scope="row" {
                (length(stop, unit))
                @if is_by_tape(stop, material) { span.warn { "by tape" } }
                @if stop < material.hold() { span.warn { "short: clamp it" } }
            }
            td.count {
                (cuts)
                @if spares > 0 { span.aside { // Widening on every platform.
                    (counted(spares as u64, "spare", "spares")) } }
            }
            td.from { @for one in &sources { (source(one)) } }
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
