//! The sheet for the saw: stop settings first, then every bar.

use std::fmt::Write;

use itertools::Itertools;
use lengthwise::job::{Material, SquareOff};
use lengthwise::plan::{BarGroup, Cut, Cutting, StopSetting};
use lengthwise::{Length, Unit};

use super::buying::why_whole;
use super::drawing::{Stretch, draw};
use super::ink::Ink;
use super::joints::{part_suffix, place_of};
use super::layout::{counted, listing, paragraph, right, whole, widest};
use super::marks::{marks_of_cuts, short_list};
use super::measure;
use super::walls::batch_of;

/// The settings of the stop in their order, each with its cuts and the bars they come from. Pieces shorter
/// than what should be left to hold are pointed out: hands belong 300 mm away on either side of a
/// cross-cut blade (guidance of the Health and Safety Executive); that a shorter piece is short is our
/// inference.
pub fn stops(cutting: &Cutting, material: &Material, unit: Unit, ink: Ink) -> String {
    let settings = cutting.stop_settings();
    let rows: Vec<(&StopSetting, String, String)> = settings
        .iter()
        .map(|setting| {
            let of = |&(place, cuts): &(usize, usize)| cuts * bar_names(cutting, place).len();
            let cuts: usize = setting.cuts.iter().map(of).sum();
            let cuts = counted(cuts as u64, "cut", "cuts"); // widening on every platform
            (setting, setting.length.text(unit), cuts)
        })
        .collect();
    let stop_width = widest(rows.iter().map(|row| row.1.as_str()));
    let cuts_width = widest(rows.iter().map(|row| row.2.as_str()));
    let has_stages = settings.iter().map(|setting| setting.stage).dedup().count() > 1;
    let mut out = heading("Set the stop", "measured from the squared end", ink);
    let mut stage = 0;
    for (setting, stop, cuts) in rows {
        if has_stages && setting.stage != stage {
            stage = setting.stage;
            let _ = writeln!(out, "  Stage {stage}");
        }
        let word = word_for(setting.length, material);
        let lead = format!("  {word} {}:  ", right(&stop, stop_width));
        let cuts = right(&cuts, cuts_width);
        let indent = lead.len() + cuts.len() + 7;
        let places = setting.cuts.iter();
        let names = places.flat_map(|&(place, _)| bar_names(cutting, place));
        let mut names = short_list(&names.map(String::as_str).collect::<Vec<_>>());
        if setting.length < material.hold()
            && let Some(last) = names.last_mut()
        {
            last.push_str(" (short: clamp it)");
        }
        let text = listing(&format!("{lead}{cuts}, from "), &names, indent);
        out.push_str(&text.replacen(&stop, &ink.strong(&stop), 1));
    }
    out
}

fn bar_names(cutting: &Cutting, place: usize) -> &[String] {
    cutting.bars.get(place).map_or(&[], |bars| &bars.names)
}

/// How a length is measured off: by the stop as far as it reaches.
fn word_for(length: Length, material: &Material) -> &'static str {
    match material.stop_reach() {
        Some(reach) if length > reach => "tape",
        _ => "stop",
    }
}

/// A heading with a remark.
pub fn heading(title: &str, remark: &str, ink: Ink) -> String {
    if remark.is_empty() {
        format!("\n{}\n", ink.strong(title))
    } else {
        format!("\n{} ({remark})\n", ink.strong(title))
    }
}

/// Every kind of bar cut alike, with its drawing and its cuts in order.
pub fn bars(cutting: &Cutting, material: &Material, unit: Unit, ink: Ink) -> String {
    let longest = cutting.bars.iter().map(|bars| bars.stock).max();
    let longest = longest.unwrap_or(Length::ZERO);
    let remark = "to scale, cut from left to right; = piece, . saved, / lost";
    let mut out = heading("Bar by bar", remark, ink);
    for bars in &cutting.bars {
        let square_off = material
            .bars()
            .get(bars.bar)
            .map_or_else(SquareOff::default, lengthwise::job::Bar::square_off);
        let group = Group {
            bars,
            square_off,
            unit,
            // Both were checked to be far below the ceiling.
            cut_width: material.cut_width(),
            material,
        };
        out.push_str(&group.title(ink));
        let _ = writeln!(out, "  {}", draw(&group.stretches(), longest));
        out.push_str(&group.steps(ink));
    }
    out.push_str(&uncut(cutting, material, unit));
    out
}

/// Bars that stay whole.
fn uncut(cutting: &Cutting, material: &Material, unit: Unit) -> String {
    let mut out = String::new();
    for bars in &cutting.uncut {
        let from = why_whole(bars, cutting, material);
        let batch = batch_of(material, material.bars().get(bars.bar));
        let _ = writeln!(
            out,
            "  Not cut: {} of {}, {from}{batch}",
            counted(bars.count, "bar", "bars"),
            bars.length.text(unit)
        );
    }
    out
}

/// Bars cut alike, ready to be shown.
struct Group<'a> {
    bars: &'a BarGroup,
    square_off: SquareOff,
    unit: Unit,
    cut_width: Length,
    material: &'a Material,
}

impl Group<'_> {
    fn title(&self, ink: Ink) -> String {
        let names: Vec<&str> = self.bars.names.iter().map(String::as_str).collect();
        let names = short_list(&names);
        let stock = self.bars.stock.text(self.unit);
        let hand = if self.bars.in_hand { ", in hand" } else { "" };
        let batch = batch_of(self.material, self.material.bars().get(self.bars.bar));
        let near = self.square_off.near;
        let first = if near.is_zero() || self.bars.is_kept_whole() {
            String::new()
        } else {
            format!("; first square off {}", near.text(self.unit))
        };
        let what = match self.bars.names.len() {
            1 => format!("one bar of {stock}{hand}{batch}{first}"),
            n => format!("{n} bars of {stock}{hand}{batch}, cut alike{first}"),
        };
        let text = listing("  ", &names, 4);
        let text = text.trim_end();
        let last = text.lines().last().unwrap_or_default();
        let fits = textwrap::core::display_width(last) + 2 + what.len() <= super::layout::PAGE;
        let joint = if fits { ": " } else { ":\n    " };
        format!("{}{joint}{what}\n", ink.strong(text))
    }

    /// Where everything lies on the bar.
    fn stretches(&self) -> Vec<Stretch> {
        let mut stretches = Vec::new();
        let mut at = self.square_off.near;
        if !at.is_zero() {
            stretches.push(Stretch {
                end: at,
                fill: '/',
                labels: vec![],
            });
        }
        for cut in &self.bars.cuts {
            at = add(at, cut.length);
            stretches.push(Stretch {
                end: at,
                fill: '=',
                labels: vec![cut.length.number(self.unit)],
            });
            at = add(at, self.cut_width);
            at = add(at, self.material.mitre_allowance(cut.ends));
        }
        let (left, _) = measure::down(self.bars.offcut, self.unit);
        let left = left.number(self.unit);
        let (fill, fate) = match (self.bars.offcut.is_zero(), self.bars.saved) {
            (true, _) => ('/', None),
            (false, true) => ('.', Some("save")),
            (false, false) => ('/', Some("skip")),
        };
        let labels = fate.map_or_else(Vec::new, |fate| vec![format!("{left} {fate}"), left]);
        stretches.push(Stretch {
            end: self.bars.stock,
            fill,
            labels,
        });
        stretches
    }

    /// What to do, line by line.
    fn steps(&self, ink: Ink) -> String {
        let mut out = String::new();
        let blocks: Vec<&[Cut]> = self.bars.cuts.chunk_by(are_alike).collect();
        let stops: Vec<String> = blocks.iter().map(|block| self.stop(block)).collect();
        let width = widest(stops.iter().map(String::as_str));
        for (block, stop) in blocks.iter().zip(&stops) {
            let marks = marks_of_block(block);
            let lead = format!("    {}  ", super::layout::left(stop, width));
            let indent = textwrap::core::display_width(&lead);
            let marks: Vec<String> = marks.iter().map(|mark| whole(mark)).collect();
            let remarks = block.first().map_or_else(Vec::new, |cut| self.remarks(cut));
            let text = [marks.join(", ")]
                .into_iter()
                .chain(remarks)
                .collect::<Vec<_>>()
                .join(" ");
            let text = paragraph(&lead, &text, indent);
            out.push_str(&text.replacen(stop, &ink.strong(stop), 1));
        }
        out.push_str(&self.left_over(ink));
        out
    }

    fn stop(&self, block: &[Cut]) -> String {
        let length = block.first().map_or(Length::ZERO, |cut| cut.length);
        let length = length.text(self.unit);
        if self.bars.is_kept_whole() {
            return "keep whole".to_owned();
        }
        if block.iter().all(|cut| cut.for_bar) {
            return format!("keep {length}");
        }
        let word = block
            .first()
            .map_or("stop", |cut| word_for(cut.length, self.material));
        match block.len() {
            0 | 1 => format!("{word} {length}"),
            n => format!("{word} {length} x {n}"),
        }
    }

    /// What is special about a cut, after its marks.
    fn remarks(&self, cut: &Cut) -> Vec<String> {
        let mut remarks = Vec::new();
        if let Some(part) = cut.parts.first() {
            remarks.push(whole(&place_of(part, self.unit)));
        }
        if !cut.ends.are_square() {
            remarks.push(whole(&format!("(ends {} to the long points)", cut.ends)));
        }
        if cut.for_bar {
            remarks.push("(for a bar that turns out bad)".to_owned());
        } else if cut.spare {
            remarks.push(whole("(spare: cut only if one is spoiled)"));
        }
        remarks
    }

    fn left_over(&self, ink: Ink) -> String {
        if self.bars.is_kept_whole() {
            return String::new();
        }
        if self.bars.offcut.is_zero() {
            return ink.faint("    nothing left over\n");
        }
        let left = match measure::down(self.bars.offcut, self.unit) {
            (left, true) => left.text(self.unit),
            (left, false) => format!("about {}", left.text(self.unit)),
        };
        if !self.bars.saved {
            return format!("    left over {left}: to the skip\n");
        }
        let rough = if self.bars.offcut_rough.is_zero() {
            String::new()
        } else {
            let rough = self.bars.offcut_rough.text(self.unit);
            format!(", its far {rough} still rough")
        };
        format!("    left over {left}: save it{rough}\n")
    }
}

/// Whether two cuts differ in nothing but their marks and the copies of a run.
pub fn are_alike(one: &Cut, other: &Cut) -> bool {
    let place = |cut: &Cut| {
        let part = cut.parts.first();
        part.map(|part| (part.part, part.of, part.from, part.to, part.to_support))
    };
    let kind = |cut: &Cut| {
        (
            cut.length,
            cut.ends,
            (cut.spare, cut.for_bar),
            cut.stage,
            place(cut),
        )
    };
    kind(one) == kind(other)
}

/// The marks of cuts that are alike; parts of runs in the order of their copies.
fn marks_of_block(block: &[Cut]) -> Vec<String> {
    let part = block.first().and_then(|cut| cut.parts.first());
    let ending = part.map_or_else(String::new, part_suffix);
    let cuts: Vec<Vec<&str>> = block
        .iter()
        .map(|cut| {
            let marks = cut.marks.iter().map(String::as_str);
            marks
                .map(|mark| mark.strip_suffix(&ending).unwrap_or(mark))
                .collect()
        })
        .collect();
    marks_of_cuts(&cuts, &ending)
}

/// Places on a bar never pass the end of the bar, which is a length.
fn add(a: Length, b: Length) -> Length {
    a.checked_add(b).unwrap_or(Length::MAX)
}
