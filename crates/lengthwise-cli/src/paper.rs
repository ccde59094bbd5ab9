//! The plan on paper: a sheet for the saw, a list for the wall, a picture of all bars.
//!
//! The pages stand alone: nothing is loaded and nothing is run. They are black on white, and no
//! colour means anything. Whatever comes from the files of a user is text, never markup.

mod bars;
mod drawing;
mod fixing;
mod laid;
mod page;
mod picture;
mod saw;
mod stops;

use std::io::{self, Write};

use lengthwise::job::{Job, Material};
use lengthwise::plan::{Cutting, MaterialPlan, Outcome, Plan};
use maud::{Markup, PreEscaped, html};

use crate::text::{layout::loose, shown_name, words};

pub use fixing::list as fixing_list;
pub use picture::picture;
pub use saw::sheet as cutting_sheet;

/// Stands where something is written piece by piece: the sheets of a million pieces need not fit into memory. No
/// page and no picture can hold it otherwise, see [`printable`].
const PLACE: PreEscaped<&str> = PreEscaped("\0");

/// Writes what is around [`PLACE`], and between the two what `inner` writes.
fn around<W: Write>(
    outer: &str,
    out: &mut W,
    inner: impl FnOnce(&mut W) -> io::Result<()>,
) -> io::Result<()> {
    let (before, after) = outer.split_once(PLACE.0).unwrap_or((outer, ""));
    out.write_all(before.as_bytes())?;
    inner(out)?;
    out.write_all(after.as_bytes())
}

fn put(markup: &Markup, out: &mut impl Write) -> io::Result<()> {
    out.write_all(markup.0.as_bytes())
}

/// The materials of the job, each with what came out for it.
fn materials<'a>(
    job: &'a Job,
    plan: &'a Plan,
) -> impl Iterator<Item = (&'a Material, &'a MaterialPlan)> {
    job.materials().iter().zip(&plan.materials)
}

/// The plan of a material, or why there is none.
fn planned(plan: &MaterialPlan) -> Result<&Cutting, String> {
    match &plan.outcome {
        Outcome::Planned(cutting) => Ok(cutting),
        Outcome::Impossible(reason) => Err(loose(&words::impossible(reason, plan.unit))),
        Outcome::Unknown(stop) => Err(words::unknown(*stop)),
    }
}

/// Words of a user, set apart from the line so that they run in their own direction.
fn user(text: &str) -> Markup {
    html! { bdi { (printable(text)) } }
}

/// A material's name, or what it is called without one.
fn name(name: &str) -> Markup {
    user(shown_name(name))
}

/// The text without what neither HTML nor XML can hold: control characters and non-characters.
fn printable(text: &str) -> String {
    let shown = |c: char| match u32::from(c) {
        0xfdd0..=0xfdef => char::REPLACEMENT_CHARACTER,
        code if code & 0xfffe == 0xfffe => char::REPLACEMENT_CHARACTER,
        _ if c.is_control() => char::REPLACEMENT_CHARACTER,
        _ => c,
    };
    text.chars().map(shown).collect()
}

/// A box to tick.
fn tick() -> Markup {
    html! { span.tick {} }
}

#[cfg(test)]
mod tests {
    use super::printable;

    /// Control characters and non-characters: the HTML standard's parse errors of the input stream,
    /// and production 2 of XML 1.0.
    #[test]
    fn what_no_page_can_hold_is_replaced() {
        assert_eq!(
            printable("a\u{7}b\u{fffe}c\u{fdd0}"),
            "a\u{fffd}b\u{fffd}c\u{fffd}"
        );
        assert_eq!(printable("north & <wall>"), "north & <wall>");
    }
}
