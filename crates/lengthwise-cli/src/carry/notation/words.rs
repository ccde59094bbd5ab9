//! The words of a line, and what stands between them.

use crate::carry::names::is_between_words;

/// A word of a line and where it begins, in characters from 1.
#[derive(Clone, Copy, Debug)]
pub struct Token<'a> {
    pub text: &'a str,
    pub column: usize,
    /// Where it stands in the line, in bytes.
    pub from: usize,
    pub to: usize,
}

/// What stands before a `#` that begins a word, so that a mark may hold one.
pub fn without_remark(line: &str) -> &str {
    let begins = |&(at, _): &(usize, &str)| {
        line.get(..at)
            .is_some_and(|before| before.is_empty() || before.ends_with(char::is_whitespace))
    };
    let at = line.match_indices('#').find(begins).map(|(at, _)| at);
    at.and_then(|at| line.get(..at)).unwrap_or(line)
}

/// The words of a stretch of a line, without what only parts or ends them: where it begins, in bytes, and at
/// which character. No more than one beyond `most` of them.
pub fn tokens(from: usize, stretch: &str, first: usize, most: u64) -> Vec<Token<'_>> {
    let mut tokens = Vec::new();
    let mut start = None;
    let ends = stretch.char_indices().chain([(stretch.len(), ' ')]);
    for (column, (at, c)) in (first..).zip(ends) {
        if tokens.len() as u64 > most {
            break; // widening
        }
        match (start, is_between_words(c)) {
            (None, false) => start = Some((at, column)),
            (Some((begun, column)), true) => {
                let word = stretch.get(begun..at).unwrap_or_default();
                let word = word.trim_end_matches([':', '.', '!']);
                if !word.is_empty() {
                    let begins = from + begun;
                    tokens.push(Token {
                        text: word,
                        column,
                        from: begins,
                        to: begins + word.len(),
                    });
                }
                start = None;
            }
            _ => {}
        }
    }
    tokens
}

/// Words that only join names.
pub fn is_between(token: &Token<'_>) -> bool {
    ["and", "&", "+", "of", "the"].contains(&token.text.to_lowercase().as_str())
}

/// Names and ranges of names, each with its column; blanks around the sign of a range do not matter.
pub fn ranges(tokens: &[Token<'_>]) -> Vec<(usize, String)> {
    let mut all = Vec::new();
    let mut rest = tokens;
    while let Some((first, behind)) = rest.split_first() {
        rest = behind;
        if is_between(first) {
            continue;
        }
        let is_sign = |text: &str| ["-", "\u{2013}", "\u{2014}", "..", "to"].contains(&text);
        let (typed, behind) = match behind {
            [sign, last, after @ ..] if is_sign(&sign.text.to_lowercase()) => {
                (format!("{}-{}", first.text, last.text), after)
            }
            _ => (first.text.to_owned(), behind),
        };
        rest = behind;
        all.push((first.column, typed));
    }
    all
}
