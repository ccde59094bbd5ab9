//! Lines that fit the page, whatever names people write.

use textwrap::core::display_width;
use textwrap::{Options, WordSeparator, WordSplitter, WrapAlgorithm, wrap};

/// Columns of a page: a terminal as narrow as they come, and a sheet on a printer.
pub const PAGE: usize = 80;

/// Holds words together until the text has been wrapped.
const HARD_BLANK: char = '\u{a0}';

/// Wraps `text` after `lead`, further lines indented by `indent` blanks.
pub fn paragraph(lead: &str, text: &str, indent: usize) -> String {
    let rest = " ".repeat(indent);
    let options = Options::new(PAGE)
        .initial_indent(lead)
        .subsequent_indent(&rest)
        .word_separator(WordSeparator::AsciiSpace)
        // Marks have hyphens.
        .word_splitter(WordSplitter::NoHyphenation)
        .wrap_algorithm(WrapAlgorithm::FirstFit);
    let mut out = String::new();
    for line in wrap(text, options) {
        out.push_str(&loose(&line));
        out.push('\n');
    }
    out
}

/// The items with commas between, wrapped between items only.
pub fn listing(lead: &str, items: &[String], indent: usize) -> String {
    let items: Vec<String> = items.iter().map(|item| whole(item)).collect();
    paragraph(lead, &items.join(", "), indent)
}

/// A phrase that must not be parted at its blanks.
pub fn whole(phrase: &str) -> String {
    phrase.replace(' ', &HARD_BLANK.to_string())
}

/// The text as it is printed, after it was wrapped.
pub fn loose(text: &str) -> String {
    text.replace(HARD_BLANK, " ")
}

/// `text` in `width` columns, blanks added on the right; too long a text is cut.
pub fn left(text: &str, width: usize) -> String {
    let mut shown = String::new();
    if display_width(text) <= width {
        shown.push_str(text);
    } else {
        for c in text.chars() {
            let next = format!("{shown}{c}");
            if display_width(&next) + 2 > width {
                break;
            }
            shown = next;
        }
        shown.push_str("..");
    }
    let blanks = width.saturating_sub(display_width(&shown));
    shown.push_str(&" ".repeat(blanks));
    shown
}

/// `text` in `width` columns, blanks added on the left.
pub fn right(text: &str, width: usize) -> String {
    let blanks = width.saturating_sub(display_width(text));
    format!("{}{text}", " ".repeat(blanks))
}

/// The widest of the texts.
pub fn widest<'a>(texts: impl IntoIterator<Item = &'a str>) -> usize {
    texts.into_iter().map(display_width).max().unwrap_or(0)
}

/// `1 bar`, `7 bars`.
pub fn counted(count: u64, one: &str, many: &str) -> String {
    if count == 1 {
        format!("1 {one}")
    } else {
        format!("{count} {many}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_cut_and_filled_to_their_columns() {
        assert_eq!(left("batten", 8), "batten  ");
        assert_eq!(left("roofing batten", 8), "roofin..");
        assert_eq!(right("12", 4), "  12");
    }

    #[test]
    fn items_are_never_parted_inside() {
        let items: Vec<String> = (0..40).map(|n| format!("A{n} to A{n}")).collect();
        let shown = listing("  marks ", &items, 8);
        assert!(shown.lines().all(|line| line.len() <= PAGE));
        assert!(shown.lines().all(|line| !line.ends_with("to")), "{shown}");
    }

    #[test]
    fn even_one_long_word_stays_on_the_page() {
        let shown = paragraph("  ", &"x".repeat(300), 2);
        assert!(shown.lines().all(|line| line.len() <= PAGE));
    }
}
