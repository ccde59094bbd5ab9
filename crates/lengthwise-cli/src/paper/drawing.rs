//! A bar to scale, in black and white: pieces are open, the skip is hatched, what is kept is dashed.

use lengthwise::Length;
use svg::Document;
use svg::node::element::path::Data;
use svg::node::element::{Description, Group, Line, Path, Rectangle, Text, Title};

use super::laid::Laid;
use super::printable;
use crate::text::measure;

/// Tenths of a millimetre across a page, margins off, on the narrower of the two papers.
pub const WIDTH: f64 = 1840.0;
/// Tenths of a millimetre.
const HEIGHT: f64 = 100.0;
const TEXT: f64 = 46.0;
/// The average width of a digit, as a share of the height of the type.
const DIGIT: f64 = 0.6;
/// The heavy line of a cut.
const CUT: f64 = 9.0;

/// Where things are on the paper.
pub struct Scale {
    pub longest: Length,
    pub width: f64,
}

impl Scale {
    /// A place on the bar as a place on the paper.
    pub fn at(&self, place: Length) -> f64 {
        // Doubles hold both to far better than what a printer shows.
        let share = place.nm() as f64 / self.longest.nm().max(1) as f64;
        share * self.width
    }
}

/// The drawing of bars cut alike; `longest` takes the whole width.
pub fn bar(laid: &Laid<'_>, longest: Length) -> Document {
    let scale = Scale {
        longest,
        width: WIDTH,
    };
    let bottom = HEIGHT + 58.0;
    Document::new()
        .set(
            "viewBox",
            format!("-8 -12 {} {}", WIDTH + 16.0, bottom + 14.0),
        )
        .set("role", "img")
        .set("class", "drawing")
        .add(Title::new(title(laid)))
        .add(Description::new().add(svg::node::Text::new(described(laid))))
        .add(shape(laid, &scale, HEIGHT, TEXT))
        .add(numbers(laid, &scale))
}

fn title(laid: &Laid<'_>) -> String {
    let stock = laid.bars.stock.text(laid.unit);
    match laid.names().as_slice() {
        [one] => format!("Bar {one} of {stock}, to scale"),
        [first, .., last] => format!("Bars {first} to {last} of {stock}, to scale"),
        [] => String::new(),
    }
}

/// The bar in words, from the squared end.
pub fn described(laid: &Laid<'_>) -> String {
    let cuts = laid.cuts.iter().map(|one| one.cut.length.text(laid.unit));
    let cuts: Vec<String> = cuts.collect();
    let left = match (laid.left_over(), laid.bars.saved) {
        (None, _) => "nothing left over".to_owned(),
        (Some(left), true) => format!("then {left} to keep"),
        (Some(left), false) => format!("then {left} for the skip"),
    };
    let pieces = cuts.join(", ");
    printable(&format!("From the squared end: {pieces}; {left}."))
}

/// The bar itself, from y = 0 down to `height`.
pub fn shape(laid: &Laid<'_>, scale: &Scale, height: f64, text: f64) -> Group {
    let near = scale.at(laid.near);
    let end = scale.at(laid.bars.stock);
    let mut group = Group::new();
    if !laid.near.is_zero() {
        group = group.add(hatched(0.0, near, height));
    }
    let mut last = near;
    for one in &laid.cuts {
        let (from, to) = (near + scale.at(one.from), near + scale.at(one.to));
        group = group.add(outline(from, to, height));
        let label = one.cut.length.number(laid.unit);
        group = group.add(labelled(&label, from, to, height, text));
        last = to;
    }
    group = group.add(leaving(laid, last, end, height, text));
    for one in &laid.cuts {
        // The far end of the bar is a cut only where something falls off it.
        let at = near + scale.at(one.to);
        if at + 0.5 < end {
            group = group.add(stroke(at, -10.0, height + 10.0, CUT));
        }
    }
    group.add(stroke(near, -10.0, height + 10.0, CUT * 1.8))
}

/// What is left over, kept or not.
fn leaving(laid: &Laid<'_>, from: f64, to: f64, height: f64, text: f64) -> Group {
    let mut group = Group::new();
    if laid.bars.offcut.is_zero() {
        return group;
    }
    let number = measure::down(laid.bars.offcut, laid.unit)
        .0
        .number(laid.unit);
    if laid.bars.saved {
        let kept = outline(from, to, height).set("stroke-dasharray", "18 12");
        let label = [format!("keep {number}"), number];
        let label = label.iter().find(|label| fits(label, from, to, text));
        group = group.add(kept);
        if let Some(label) = label {
            group = group.add(labelled(label, from, to, height, text));
        }
        return group;
    }
    group = group.add(hatched(from, to, height));
    if fits(&number, from, to, text) {
        let middle = f64::midpoint(from, to);
        let wide = width_of(&number, text) + 16.0;
        let ground = Rectangle::new()
            .set("x", tenth(middle - wide / 2.0))
            .set("y", tenth(height / 2.0 - text * 0.62))
            .set("width", tenth(wide))
            .set("height", tenth(text * 1.24))
            .set("fill", "#fff");
        group = group
            .add(ground)
            .add(labelled(&number, from, to, height, text));
    }
    group
}

/// The number of each cut below its line, where there is room.
fn numbers(laid: &Laid<'_>, scale: &Scale) -> Group {
    let near = scale.at(laid.near);
    let mut group = Group::new();
    let mut free = f64::MIN;
    for one in &laid.cuts {
        let at = near + scale.at(one.to);
        let label = one.number.to_string();
        let half = width_of(&label, TEXT) / 2.0;
        // The last one stays inside the picture.
        let middle = at.min(WIDTH + 6.0 - half);
        if middle - half < free {
            continue;
        }
        free = middle + half + 14.0;
        group = group.add(lettering(&label, middle, HEIGHT + 50.0, TEXT));
    }
    group
}

fn outline(from: f64, to: f64, height: f64) -> Rectangle {
    Rectangle::new()
        .set("x", tenth(from))
        .set("y", 0)
        .set("width", tenth((to - from).max(0.0)))
        .set("height", tenth(height))
        .set("fill", "#fff")
        .set("stroke", "#000")
        .set("stroke-width", 4)
}

/// Drawn line by line: patterns need names, and names must not be given twice on a page.
fn hatched(from: f64, to: f64, height: f64) -> Path {
    const APART: f64 = 14.0;
    let mut data = Data::new()
        .move_to((point(from), 0.0))
        .line_to((point(to), 0.0))
        .line_to((point(to), point(height)))
        .line_to((point(from), point(height)))
        .close();
    let mut start = from - height + APART;
    while start < to {
        // From the foot at `start` up to the right, as far as it lies inside.
        let (left, right) = (start.max(from), (start + height).min(to));
        if right > left {
            data = data
                .move_to((point(left), point(height - (left - start))))
                .line_to((point(right), point(height - (right - start))));
        }
        start += APART;
    }
    Path::new()
        .set("d", data)
        .set("fill", "none")
        .set("stroke", "#000")
        .set("stroke-width", 2.5)
}

fn stroke(at: f64, from: f64, to: f64, width: f64) -> Line {
    Line::new()
        .set("x1", tenth(at))
        .set("x2", tenth(at))
        .set("y1", tenth(from))
        .set("y2", tenth(to))
        .set("stroke", "#000")
        .set("stroke-width", tenth(width))
}

/// The label in the middle of its stretch; an empty group where it does not fit.
fn labelled(label: &str, from: f64, to: f64, height: f64, text: f64) -> Group {
    let group = Group::new();
    if !fits(label, from, to, text) {
        return group;
    }
    let middle = f64::midpoint(from, to);
    group.add(lettering(label, middle, height / 2.0 + text * 0.36, text))
}

/// Text with its middle at `x` and its foot at `y`.
pub fn lettering(label: &str, x: f64, y: f64, size: f64) -> Text {
    Text::new(printable(label))
        .set("x", tenth(x))
        .set("y", tenth(y))
        .set("text-anchor", "middle")
        .set("font-size", tenth(size))
        .set("font-weight", "bold")
}

fn width_of(label: &str, size: f64) -> f64 {
    let characters = textwrap::core::display_width(label);
    // A label has some tens of characters.
    characters as f64 * DIGIT * size
}

fn fits(label: &str, from: f64, to: f64, size: f64) -> bool {
    width_of(label, size) + 14.0 <= to - from
}

/// To a tenth of a unit, so that the same bytes come out everywhere.
pub fn tenth(value: f64) -> String {
    let text = format!("{value:.1}");
    match text.strip_suffix(".0") {
        Some("-0") => "0".to_owned(),
        Some(whole) => whole.to_owned(),
        None => text,
    }
}

/// The same as a number: paths are of single precision, which holds tenths up to a million.
fn point(value: f64) -> f32 {
    ((value * 10.0).round() / 10.0) as f32
}
