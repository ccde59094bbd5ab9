//! What happened, in lines that can be typed on a telephone.
//!
//! A line says one thing: a word, and what it is about. Case, commas, full stops and colons do not
//! matter; a semicolon begins a new line, and `#` a remark. See [`HELP`].

mod heard;
mod words;

use std::sync::Arc;

use lengthwise::carry_on::{Said, Statement};
use lengthwise::job::{self, SquareOff};
use lengthwise::{Ceiling, Fault, FaultKind, Length, Measure, Origin, Reading};

use self::heard::{Heard, TooMuch};
use self::words::{Token, is_between, ranges, tokens, without_remark};
use super::names::{Known, MOST_WORDS, Range, range};
use crate::ceilings::above;
use crate::read::cells::{Wrong, quoted, read_count, read_square_off, read_width};
use crate::read::{MOST_FAULTS, behind_the_last, nearest};

/// The lines that are understood, for `--help`.
pub const HELP: &str = "\
WHAT HAPPENED
  One thing a line, in a file (--done) or on the command line (--note):
  cut A1-A7 B2          bars that were cut as planned, all but their spares
  left A3 760           so much is left of a bar that was cut, or: left A3
                        nothing. Else its offcut is as planned, if it is long
                        enough to save
  begun C2 F3 F4        a bar begun: so far these pieces came off it. What is
                        left is worked out, or said: begun C2 F3 F4 left 1830
  spoiled F3 K2-04      pieces that were cut and are no good. If two materials
                        have the mark, say the bar as well: spoiled F3 from A3
  bad C1                a bar, not cut yet, that cannot be used or is not
                        there
  short C2 2870         a bar, not cut yet, that is only so long
  usable C3 1150+1720   a bar, not cut yet, of which only these stretches are
                        sound, measured between what is bad; they need no
                        squaring
  found 1850 x 2 larch  bars lying around: length, how many, and the material
                        where the job has several; then ends 0/10 if they need
                        squaring. Of two bare numbers the smaller is how many;
                        a unit makes sure. batch B12 behind it says of which
                        batch they are
  Case does not matter, nor do commas, colons and full stops. A semicolon
  begins a new line, # a remark. A1-A7 is every bar from A1 to A7. Names and
  marks are those of the plan.";

/// The words that a line may begin with: the one of [`HELP`] first.
const WORDS: [(&str, Word); 24] = [
    ("cut", Word::Cut),
    ("begun", Word::Begun),
    ("left", Word::Left),
    ("spoiled", Word::Spoiled),
    ("bad", Word::Bad),
    ("short", Word::Short),
    ("usable", Word::Usable),
    ("found", Word::Found),
    ("done", Word::Cut),
    ("sawn", Word::Cut),
    ("began", Word::Begun),
    ("begin", Word::Begun),
    ("started", Word::Begun),
    ("rest", Word::Left),
    ("spoilt", Word::Spoiled),
    ("spoil", Word::Spoiled),
    ("ruined", Word::Spoiled),
    ("unusable", Word::Bad),
    ("missing", Word::Bad),
    ("lost", Word::Bad),
    ("shorter", Word::Short),
    ("good", Word::Usable),
    ("sound", Word::Usable),
    ("have", Word::Found),
];

/// A name has no more words than this, on the average of a line.
const WORDS_PER_NAME: u64 = 4;
/// No bar has so many sound stretches.
const MOST_STRETCHES: usize = 1_000;

const ACCEPTED: &str =
    "a line that begins with cut, begun, left, spoiled, bad, short, usable or found";

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Word {
    Cut,
    Begun,
    Left,
    Spoiled,
    Bad,
    Short,
    Usable,
    Found,
}

/// What was said in one text after another.
pub struct Notes<'a> {
    known: &'a Known,
    reading: Reading,
    ceilings: &'a job::Ceilings,
    heard: Heard,
    /// Whether there are too many of them to read on.
    is_full: bool,
    /// Marks that were looked up for ranges of which some are not known.
    missed: u64,
    pub statements: Vec<Statement>,
}

impl<'a> Notes<'a> {
    pub fn new(known: &'a Known, reading: Reading, ceilings: &'a job::Ceilings) -> Notes<'a> {
        Notes {
            known,
            reading,
            ceilings,
            heard: Heard::default(),
            is_full: false,
            missed: 0,
            statements: Vec::new(),
        }
    }

    /// Most words of a line: more than those that name as many bars and pieces as may be named.
    fn most_words(&self) -> u64 {
        let names = self.ceilings.rows.saturating_add(MOST_WORDS as u64); // widening
        names.saturating_mul(WORDS_PER_NAME)
    }

    /// Whether nothing more is read: as much was said, or is wrong, as may be.
    fn is_over(&self, faults: &[Fault]) -> bool {
        self.is_full || faults.len() >= MOST_FAULTS
    }

    /// Reads all lines of a text; every fault goes to `faults`.
    pub fn read(&mut self, text: &str, source: &Arc<str>, faults: &mut Vec<Fault>) {
        for (number, line) in (1..).zip(text.lines()) {
            let origin = Origin {
                source: Arc::clone(source),
                line: number,
            };
            let line = without_remark(line);
            let (mut from, mut column) = (0, 1);
            for part in line.split(';') {
                if self.is_over(faults) {
                    if !std::mem::replace(&mut self.is_full, true) {
                        let origin = Some(origin);
                        faults.push(Fault {
                            origin,
                            ..behind_the_last()
                        });
                    }
                    return;
                }
                let mut one = Line {
                    text: line,
                    tokens: tokens(from, part, column, self.most_words()),
                    origin: &origin,
                    notes: self,
                    faults,
                };
                one.read();
                from += part.len() + 1;
                column += part.chars().count() + 1;
            }
        }
    }
}

/// One line on its way to statements.
struct Line<'a, 'n, 'k> {
    text: &'a str,
    tokens: Vec<Token<'a>>,
    origin: &'n Origin,
    notes: &'n mut Notes<'k>,
    faults: &'n mut Vec<Fault>,
}

fn word_of(token: &Token<'_>) -> Option<Word> {
    let lower = token.text.to_lowercase();
    WORDS
        .iter()
        .find(|(word, _)| *word == lower)
        .map(|(_, word)| *word)
}

impl<'a> Line<'a, '_, '_> {
    fn read(&mut self) {
        let Some(&first) = self.tokens.first() else {
            return;
        };
        let most = self.notes.most_words();
        if self.tokens.len() as u64 > most {
            let too_much = TooMuch {
                ceiling: Ceiling::Rows,
                found: format!("a line of more than {most} words"),
                most: self.notes.ceilings.rows,
            };
            return self.give_up(first.column, too_much);
        }
        // The word may stand behind the bar as well: C3 usable 1150+1720.
        if word_of(&first).is_none()
            && self.notes.known.bars.has(first.text)
            && self
                .tokens
                .get(1)
                .is_some_and(|token| word_of(token).is_some())
        {
            self.tokens.swap(0, 1);
        }
        let word = self.tokens.first().copied();
        let Some((token, word)) = word.and_then(|token| Some((token, word_of(&token)?))) else {
            let words = WORDS.iter().take(8).map(|(word, _)| *word);
            let (close, _) = nearest(&first.text.to_lowercase(), words);
            let found = format!("{}; did you mean \"{close}\"?", quoted(first.text));
            self.fault(first.column, Wrong::new(found, ACCEPTED));
            return;
        };
        let rest: Vec<Token<'a>> = self.tokens.iter().skip(1).copied().collect();
        if rest.is_empty() {
            let found = format!("{} and nothing behind it", quoted(token.text));
            let accepted = format!("such as: {}", example(word));
            self.fault(token.column, Wrong::new(found, accepted));
            return;
        }
        match word {
            Word::Cut => self.bars(&rest, |bar| Said::Cut { bar }),
            Word::Bad => self.bars(&rest, |bar| Said::Bad { bar }),
            Word::Begun => self.begun(token, &rest),
            Word::Spoiled => self.spoiled(&rest),
            Word::Found => self.found(token, &rest),
            Word::Left | Word::Short | Word::Usable => self.bar_and_lengths(word, token, &rest),
        }
    }

    fn fault(&mut self, column: usize, wrong: Wrong) {
        self.faults.push(Fault {
            kind: FaultKind::Value,
            origin: Some(self.origin.clone()),
            column: Some(format!("column {column}")),
            found: wrong.found,
            accepted: wrong.accepted,
        });
    }

    /// Tells what is above a ceiling; nothing more is read.
    fn give_up(&mut self, column: usize, too_much: TooMuch) {
        self.notes.is_full = true;
        let TooMuch {
            ceiling,
            found,
            most,
        } = too_much;
        let column = Some(format!("column {column}"));
        self.faults
            .push(above(ceiling, self.origin, column, &found, most));
    }

    fn say(&mut self, column: usize, said: Said) {
        if self.notes.is_full {
            return;
        }
        if let Err(too_much) = self.notes.heard.count(&said, self.notes.ceilings) {
            return self.give_up(column, too_much);
        }
        self.notes.statements.push(Statement {
            origin: self.origin.clone(),
            column,
            said,
        });
    }

    /// Names of bars and ranges of them.
    fn bars(&mut self, rest: &[Token<'a>], said: impl Fn(String) -> Said) {
        for (column, typed) in ranges(rest) {
            let Some(names) = range(&typed) else {
                match self.notes.known.bars.find(&typed, "bar") {
                    Ok(bar) => self.say(column, said(bar)),
                    Err(wrong) => self.fault(column, wrong),
                }
                continue;
            };
            // One slip in a range would otherwise be thousands of faults.
            for name in names {
                if self.notes.is_full {
                    return;
                }
                match self.notes.known.bars.find(&name, "bar") {
                    Ok(bar) => self.say(column, said(bar)),
                    Err(wrong) => {
                        self.fault(column, wrong);
                        break;
                    }
                }
            }
        }
    }

    fn bar(&mut self, token: &Token<'_>) -> Option<String> {
        match self.notes.known.bars.find(token.text, "bar") {
            Ok(bar) => Some(bar),
            Err(wrong) => {
                self.fault(token.column, wrong);
                None
            }
        }
    }

    /// Marks, which may hold blanks: the most words that are a mark together are one.
    fn marks(&mut self, rest: &[Token<'a>]) -> Vec<(usize, String)> {
        let mut marks = Vec::new();
        let mut at = 0;
        while let Some(first) = rest.get(at) {
            if is_between(first) {
                at += 1;
                continue;
            }
            let of_words = |words: &usize| {
                let last = rest.get(at + words - 1)?;
                let text = self.text.get(first.from..last.to)?;
                self.notes.known.pieces.has(text).then_some((*words, text))
            };
            let most = self.notes.known.pieces.most_words();
            let longest = (1..=most.min(rest.len() - at))
                .rev()
                .find_map(|words| of_words(&words));
            let (words, names) = match longest {
                Some((words, text)) => (words, vec![text.to_owned()]),
                None => {
                    let all = range(first.text).and_then(|all| self.if_known(first.column, all));
                    (1, all.unwrap_or_else(|| vec![first.text.to_owned()]))
                }
            };
            let column = first.column;
            for name in names {
                match self.notes.known.pieces.find(&name, "piece") {
                    Ok(mark) => marks.push((column, mark)),
                    Err(wrong) => self.fault(column, wrong),
                }
            }
            at += words;
            // More than may be said are not counted to the end.
            let most = self.notes.ceilings.rows;
            if marks.len() as u64 > most || self.notes.is_over(self.faults) {
                break;
            }
        }
        marks
    }

    /// The marks of a range, where there are all of them. Those that are looked up in vain have a ceiling.
    fn if_known(&mut self, column: usize, all: Range) -> Option<Vec<String>> {
        let known = self.notes.known;
        let mut is_known = true;
        let marks = all.take_while(|mark| {
            is_known = known.pieces.has(mark);
            is_known
        });
        let marks: Vec<String> = marks.collect();
        if is_known {
            return Some(marks);
        }
        let (missed, most) = (&mut self.notes.missed, self.notes.ceilings.rows);
        *missed = missed.saturating_add(1 + marks.len() as u64); // widening
        if *missed > most {
            let too_much = TooMuch {
                ceiling: Ceiling::Rows,
                found: format!("{missed} marks looked up for ranges that are not known to the end"),
                most,
            };
            self.give_up(column, too_much);
        }
        None
    }

    fn begun(&mut self, token: Token<'a>, rest: &[Token<'a>]) {
        let Some((bar, rest)) = rest.split_first() else {
            return;
        };
        let is_left = |token: &Token<'_>| word_of(token) == Some(Word::Left);
        let at = rest.iter().position(is_left).unwrap_or(rest.len());
        let (pieces, behind) = rest.split_at(at);
        let before = self.faults.len();
        let bar = self.bar(bar);
        let marks = self.marks(pieces);
        let left = match behind.split_first() {
            None => None,
            Some((word, length)) => self.amount(word, length),
        };
        if self.faults.len() > before {
            return;
        }
        if let Some(bar) = bar {
            let pieces = marks.into_iter().map(|(_, mark)| mark).collect();
            self.say(token.column, Said::Begun { bar, pieces, left });
        }
    }

    fn spoiled(&mut self, rest: &[Token<'a>]) {
        let is_from = |token: &Token<'_>| {
            let lower = token.text.to_lowercase();
            lower == "from" || lower == "off"
        };
        let at = rest.iter().position(is_from).unwrap_or(rest.len());
        let (marks, behind) = rest.split_at(at);
        let bar = match behind {
            [] => None,
            [_, bar] => match self.bar(bar) {
                Some(bar) => Some(bar),
                None => return,
            },
            [from, ..] => {
                let found = format!("{} and not one bar behind it", quoted(from.text));
                self.fault(
                    from.column,
                    Wrong::new(found, "such as: spoiled F3 from A3"),
                );
                return;
            }
        };
        for (column, mark) in self.marks(marks) {
            let bar = bar.clone();
            self.say(column, Said::Spoiled { mark, bar });
        }
    }

    /// A bar, and a length or some.
    fn bar_and_lengths(&mut self, word: Word, token: Token<'a>, rest: &[Token<'a>]) {
        let Some((bar, lengths)) = rest.split_first() else {
            return;
        };
        let bar = self.bar(bar);
        if lengths.is_empty() {
            let found = "a bar and no length".to_owned();
            let accepted = format!("such as: {}", example(word));
            self.fault(token.column, Wrong::new(found, accepted));
            return;
        }
        let said = match word {
            Word::Usable => {
                let lengths = self.stretches(lengths);
                lengths
                    .zip(bar)
                    .map(|(lengths, bar)| Said::Stretches { bar, lengths })
            }
            Word::Left => {
                let left = self.amount(&token, lengths);
                left.zip(bar).map(|(left, bar)| Said::Left { bar, left })
            }
            _ => {
                let length = self.amount(&token, lengths);
                length
                    .zip(bar)
                    .map(|(length, bar)| Said::Short { bar, length })
            }
        };
        if let Some(said) = said {
            self.say(token.column, said);
        }
    }

    /// The text from the first of some words to the last.
    fn joined(&self, tokens: &[Token<'a>]) -> &'a str {
        let ends = tokens.first().zip(tokens.last());
        let text = ends.and_then(|(first, last)| self.text.get(first.from..last.to));
        text.unwrap_or_default()
    }

    /// A length, or nothing.
    fn amount(&mut self, word: &Token<'a>, tokens: &[Token<'a>]) -> Option<Length> {
        let text = self.joined(tokens);
        let column = tokens.first().map_or(word.column, |token| token.column);
        if ["nothing", "none", "gone"].contains(&text.to_lowercase().as_str()) {
            return Some(Length::ZERO);
        }
        match read_width(text, self.notes.reading) {
            Ok(measure) => Some(measure.length),
            Err(wrong) => {
                self.fault(column, wrong);
                None
            }
        }
    }

    /// Lengths with a plus between.
    fn stretches(&mut self, tokens: &[Token<'a>]) -> Option<Vec<Length>> {
        let text = self.joined(tokens).replace(" and ", "+");
        let column = tokens.first().map_or(1, |token| token.column);
        let stretches = text.split('+').count();
        if stretches > MOST_STRETCHES {
            let accepted = format!("at most {MOST_STRETCHES} of one bar");
            self.fault(column, Wrong::new(format!("{stretches} lengths"), accepted));
            return None;
        }
        let read = text
            .split('+')
            .map(|one| read_width(one.trim(), self.notes.reading));
        match read.collect::<Result<Vec<Measure>, Wrong>>() {
            Ok(lengths) => Some(lengths.into_iter().map(|one| one.length).collect()),
            Err(wrong) => {
                let accepted = format!(
                    "lengths with + between, such as 1150+1720: {}",
                    wrong.accepted
                );
                self.fault(column, Wrong::new(wrong.found, accepted));
                None
            }
        }
    }

    /// The batch that these words begin with, and how many of them name it: most that are one which is
    /// known, else one word.
    fn batch(&self, rest: &[Token<'a>]) -> Option<(usize, String)> {
        let of_words = |words: usize| rest.get(..words).map(|name| (words, self.joined(name)));
        let most = self.notes.known.batches.most_words().min(rest.len());
        let mut longest_first = (1..=most).rev().filter_map(of_words);
        let known = longest_first.find(|(_, name)| self.notes.known.batches.has(name));
        let (words, name) = known.or_else(|| of_words(1).filter(|(_, name)| !name.is_empty()))?;
        Some((words, name.to_owned()))
    }

    /// How many of what length, the ends, the batch, and of which material.
    fn found(&mut self, token: Token<'a>, rest: &[Token<'a>]) {
        let is_ends = |token: &&Token<'_>| token.text.eq_ignore_ascii_case("ends");
        let is_batch = |token: &Token<'_>| token.text.eq_ignore_ascii_case("batch");
        let mut rest: Vec<Token<'a>> = rest.to_vec();
        let mut square_off = SquareOff::default();
        let mut batch = String::new();
        if let Some(at) = rest.iter().position(is_batch) {
            let Some((words, name)) = self.batch(rest.split_at(at + 1).1) else {
                let wrong = Wrong::new(
                    "batch and nothing behind it".to_owned(),
                    "its name, such as: batch B12; a new one in one word",
                );
                self.fault(token.column, wrong);
                return;
            };
            batch = name;
            rest.drain(at..=at + words);
        }
        if let Some(at) = rest.iter().position(|token| is_ends(&token)) {
            let Some(value) = rest.get(at + 1).copied() else {
                let wrong = Wrong::new(
                    "ends and nothing behind it".to_owned(),
                    "such as: ends 0/10",
                );
                self.fault(token.column, wrong);
                return;
            };
            match read_square_off(value.text, self.notes.reading) {
                Ok(read) => square_off = read,
                Err(wrong) => return self.fault(value.column, wrong),
            }
            rest.drain(at..at + 2);
        }
        let reading = self.notes.reading;
        let amounts = (1..=rest.len().min(MOST_WORDS)).rev().find_map(|words| {
            let (amount, _) = rest.split_at(words);
            let text: Vec<&str> = amount.iter().map(|token| token.text).collect();
            Some((words, count_and_length(&text.join(" "), reading)?))
        });
        let Some((words, (count, length))) = amounts else {
            let found = quoted(self.joined(&rest));
            let wrong = Wrong::new(found, format!("such as: {}", example(Word::Found)));
            self.fault(
                rest.first().map_or(token.column, |token| token.column),
                wrong,
            );
            return;
        };
        let (_, name) = rest.split_at(words);
        let name: Vec<Token<'a>> = name
            .iter()
            .copied()
            .skip_while(|one| is_between(one))
            .collect();
        let material = match name.first() {
            None => None,
            Some(first) => match self
                .notes
                .known
                .materials
                .find(self.joined(&name), "material")
            {
                Ok(material) => Some(material),
                Err(wrong) => return self.fault(first.column, wrong),
            },
        };
        let said = Said::Found {
            material,
            length,
            count,
            square_off,
            batch,
        };
        self.say(token.column, said);
    }
}

/// `1850 x 2`, `2 x 1850`, `2 of 1850` or `1850`. Of two bare numbers the smaller one counts.
fn count_and_length(text: &str, reading: Reading) -> Option<(u64, Measure)> {
    let length = |text: &str| {
        let read = read_width(text.trim(), reading).ok();
        read.filter(|measure| !measure.length.is_zero())
    };
    if let Some(length) = length(text) {
        return Some((1, length));
    }
    let lower = text
        .to_lowercase()
        .replace(['\u{d7}', '*'], "x")
        .replace(" of ", "x");
    let (one, other) = lower.split_once('x')?;
    let count = |text: &str| read_count(text.trim(), 1).ok();
    let this_way = count(one).zip(length(other));
    let other_way = count(other).zip(length(one));
    match (this_way, other_way) {
        (Some(this), Some(other)) => Some(if this.0 <= other.0 { this } else { other }),
        (this, other) => this.or(other),
    }
}

fn example(word: Word) -> &'static str {
    match word {
        Word::Cut => "cut A1-A7 B2",
        Word::Begun => "begun C2 F3 F4, or begun C2 F3 left 1830",
        Word::Left => "left A3 760, or left A3 nothing",
        Word::Spoiled => "spoiled F3 K2-04",
        Word::Bad => "bad C1",
        Word::Short => "short C2 2870",
        Word::Usable => "usable C3 1150+1720",
        Word::Found => "found 1850 x 2 larch",
    }
}
