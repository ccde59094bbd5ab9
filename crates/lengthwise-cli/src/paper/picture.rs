//! All bars in one picture, to scale within each material.

use std::io::{self, Write};

use lengthwise::Length;
use lengthwise::job::Job;
use lengthwise::plan::{Cutting, Plan};
use svg::Document;
use svg::node::element::{Description, Group, Style, Text, Title};

use super::drawing::{Scale, described, shape, tenth};
use super::laid::Laid;
use super::{PLACE, around, materials, planned, printable};
use crate::text::layout::counted;
use crate::text::marks::short_list;
use crate::text::shown_name;

const WIDTH: f64 = 1900.0;
const MARGIN: f64 = 40.0;
const HEIGHT: f64 = 70.0;
const LABEL: f64 = 34.0;
const SMALL: f64 = 28.0;
/// About so many characters of small type fit into a line.
const LINE: usize = 118;

/// Writes the picture as a document of its own.
///
/// # Errors
/// What cannot be written.
pub fn picture(job: &Job, plan: &Plan, out: &mut impl Write) -> io::Result<()> {
    let mut page = Page {
        body: String::new(),
        y: MARGIN,
    };
    for (material, plan) in materials(job, plan) {
        page.line(shown_name(&plan.name), 54.0, true);
        match planned(plan) {
            Err(why) => page.text(&format!("No plan. {why}")),
            Ok(cutting) => {
                for bars in &cutting.bars {
                    page.bar(&Laid::new(bars, material, plan.unit), longest(cutting));
                }
                for bars in &cutting.uncut {
                    let count = counted(bars.count, "bar", "bars");
                    page.text(&format!(
                        "Not cut: {count} of {}",
                        bars.length.text(plan.unit)
                    ));
                }
            }
        }
        page.y += 50.0;
    }
    let bars = plan.materials.iter().filter_map(|plan| planned(plan).ok());
    let bars: usize = bars
        .flat_map(|cutting| &cutting.bars)
        .map(|bars| bars.names.len())
        .sum();
    let height = page.y + MARGIN;
    let document = Document::new()
        .set("viewBox", format!("0 0 {} {}", tenth(WIDTH + 2.0 * MARGIN), tenth(height)))
        .set("width", format!("{}mm", tenth((WIDTH + 2.0 * MARGIN) / 10.0)))
        .set("height", format!("{}mm", tenth(height / 10.0)))
        .set("role", "img")
        .add(Title::new("All bars of the plan, to scale"))
        .add(Description::new().add(svg::node::Text::new(format!(
            "{} in {}. Each bar lies with its squared end on the left. Open boxes are pieces, dashed \
             is kept, hatched goes to the skip.",
            counted(bars as u64, "bar", "bars"), // widening on every platform
            counted(plan.materials.len() as u64, "material", "materials")
        ))))
        .add(Style::new(
            "text { font-family: 'Liberation Sans', Arial, Helvetica, sans-serif; }",
        ))
        .add(ground(height))
        .add(Group::new().add(svg::node::Blob::new(PLACE.0)));
    writeln!(out, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>")?;
    around(&format!("{document}\n"), out, |out| {
        out.write_all(page.body.trim_end_matches('\n').as_bytes())
    })
}

/// White paper, also where the picture is shown on a dark screen.
fn ground(height: f64) -> svg::node::element::Rectangle {
    svg::node::element::Rectangle::new()
        .set("width", tenth(WIDTH + 2.0 * MARGIN))
        .set("height", tenth(height))
        .set("fill", "#fff")
}

fn longest(cutting: &Cutting) -> Length {
    let longest = cutting.bars.iter().map(|bars| bars.stock).max();
    longest.unwrap_or(Length::ZERO)
}

/// A picture that grows downwards.
struct Page {
    /// What is drawn so far, as text: the nodes of a million pieces would not fit into memory.
    body: String,
    y: f64,
}

impl Page {
    fn add(&mut self, node: &impl svg::Node) {
        use std::fmt::Write;
        let _ = writeln!(self.body, "{node}"); // into a string: cannot fail
    }

    /// One line of text.
    fn line(&mut self, text: &str, size: f64, bold: bool) {
        self.y += size * 1.15;
        let weight = if bold { "bold" } else { "normal" };
        let text = Text::new(printable(text))
            .set("x", tenth(MARGIN))
            .set("y", tenth(self.y))
            .set("font-size", tenth(size))
            .set("font-weight", weight);
        self.add(&text);
    }

    /// Text in as many lines as it takes.
    fn text(&mut self, text: &str) {
        let options = textwrap::Options::new(LINE).break_words(true);
        for line in textwrap::wrap(text, options) {
            self.line(&line, SMALL, false);
        }
    }

    fn bar(&mut self, laid: &Laid<'_>, longest: Length) {
        let names = short_list(&laid.names()).join(", ");
        let stock = laid.bars.stock.text(laid.unit);
        let hand = if laid.bars.in_hand { ", in hand" } else { "" };
        self.y += 22.0;
        let count = laid.bars.names.len();
        let alike = match count {
            1 => String::new(),
            count => format!("; {count} bars cut alike"),
        };
        self.line(&format!("{names}: {stock}{hand}{alike}"), LABEL, true);
        self.y += 18.0;
        let scale = Scale {
            longest,
            width: WIDTH,
        };
        let title = format!("{names}, {stock}");
        let place = format!("translate({} {})", tenth(MARGIN), tenth(self.y));
        let bar = Group::new()
            .set("transform", place)
            .add(Title::new(title))
            .add(Description::new().add(svg::node::Text::new(described(laid))))
            .add(shape(laid, &scale, HEIGHT, LABEL));
        self.add(&bar);
        self.y += HEIGHT + 12.0;
        for setting in laid.settings() {
            let marks = setting.iter().flat_map(|one| &one.cut.marks);
            let marks: Vec<String> = marks.map(|mark| isolated(mark)).collect();
            let length = setting.first().map(|one| one.cut.length.text(laid.unit));
            let length = length.unwrap_or_default();
            self.text(&format!("{length}: {}", marks.join(", ")));
        }
    }
}

/// Words of a user that run in their own direction, whatever stands around them.
fn isolated(text: &str) -> String {
    format!("\u{2068}{}\u{2069}", printable(text))
}
