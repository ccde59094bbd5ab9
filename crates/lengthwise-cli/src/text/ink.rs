//! Colour and weight; the same text without them is complete.

use anstyle::{AnsiColor, Style};

/// How to set off words.
#[derive(Clone, Copy, Debug)]
pub struct Ink {
    on: bool,
}

impl Ink {
    /// With escape sequences; the stream strips them where they are not wanted.
    pub const fn colour() -> Ink {
        Ink { on: true }
    }

    /// Without.
    pub const fn plain() -> Ink {
        Ink { on: false }
    }

    fn with(self, style: Style, text: &str) -> String {
        let body = text.trim_end_matches('\n');
        if self.on && !body.is_empty() {
            let ends = text.get(body.len()..).unwrap_or_default();
            format!("{style}{body}{style:#}{ends}")
        } else {
            text.to_owned()
        }
    }

    /// A heading, or the number to set the stop to.
    pub fn strong(self, text: &str) -> String {
        self.with(Style::new().bold(), text)
    }

    /// Something proven.
    pub fn good(self, text: &str) -> String {
        self.with(AnsiColor::Green.on_default().bold(), text)
    }

    /// Something to know.
    pub fn warn(self, text: &str) -> String {
        self.with(AnsiColor::Yellow.on_default(), text)
    }

    /// Something wrong.
    pub fn bad(self, text: &str) -> String {
        self.with(AnsiColor::Red.on_default().bold(), text)
    }

    /// Something that is no piece.
    pub fn faint(self, text: &str) -> String {
        self.with(Style::new().dimmed(), text)
    }
}
