//! What every page has: its frame, its look, its margins.

use std::fmt::Write;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{PLACE, printable};
use crate::text::shown_name;

/// The look of both documents.
const STYLE: &str = include_str!("style.css");
/// What stands in the margin of a page ends after so many characters: of the widest, more would not fit.
const MARGIN_CHARACTERS: usize = 40;

/// The frame of a document, with a [`PLACE`] for its body: `heads` are what the pages of its sections say in their
/// top margin, in order.
pub fn document(title: &str, heads: &[String]) -> Markup {
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=760";
                title { (title) }
                style { (PreEscaped(STYLE)) (PreEscaped(page_rules(title, heads))) }
            }
            body { main { (PLACE) } }
        }
    }
}

/// Each section has pages of its own kind, whose margin names it: loose pages can be told apart.
fn page_rules(title: &str, heads: &[String]) -> String {
    let mut out = String::new();
    let title = css_text(title);
    let _ = writeln!(out, "@page {{ @bottom-left {{ content: {title}; }} }}");
    for (place, head) in heads.iter().enumerate() {
        let head = css_text(head);
        let _ = writeln!(
            out,
            "@page s{place} {{ @top-left {{ content: {head}; }} }}\n.s{place} {{ page: s{place}; }}"
        );
    }
    out
}

/// What the margin says of a material.
pub fn head(name: &str) -> String {
    let name = printable(shown_name(name));
    if name.chars().count() <= MARGIN_CHARACTERS {
        return name;
    }
    let kept: String = name.chars().take(MARGIN_CHARACTERS).collect();
    format!("{kept}\u{2026}")
}

/// A string of CSS, set apart like words of a user. All but letters, digits and blanks are written by
/// number, so that neither a style sheet nor the page around it can end inside.
fn css_text(text: &str) -> String {
    let mut out = String::from("\"\\2068 ");
    for c in text.chars() {
        if c.is_ascii_alphanumeric() || c == ' ' {
            out.push(c);
        } else {
            let _ = write!(out, "\\{:x} ", u32::from(c));
        }
    }
    out.push_str("\\2069 \"");
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// CSS Syntax, section 4.3.7: a blank after the digits of an escape belongs to it.
    #[test]
    fn nothing_ends_a_string_of_css() {
        assert_eq!(
            css_text("a\"</style>"),
            "\"\\2068 a\\22 \\3c \\2f style\\3e \\2069 \""
        );
    }

    #[test]
    fn a_long_name_is_cut_in_the_margin() {
        let long = "x".repeat(200);
        assert_eq!(head(&long).chars().count(), MARGIN_CHARACTERS + 1);
        assert_eq!(head(""), "All pieces");
    }
}
