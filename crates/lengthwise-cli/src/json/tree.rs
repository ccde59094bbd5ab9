//! JSON as it was written: numbers digit by digit, no key twice.

use std::collections::HashSet;
use std::fmt;

use serde::de::{Deserializer as _, MapAccess, Visitor};
use serde_json::value::RawValue;

/// Nested deeper than this is no file of ours, and would take the stack.
const DEEPEST: usize = 64;

/// A value with everything below it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Tree {
    Null,
    Flag(bool),
    /// Digit by digit.
    Number(String),
    Text(String),
    List(Vec<Tree>),
    /// In the order of the file.
    Fields(Vec<(String, Tree)>),
}

/// Why a text is no tree, and where.
#[derive(Debug, PartialEq, Eq)]
pub struct Unfit {
    pub line: usize,
    pub column: usize,
    pub why: String,
}

impl fmt::Display for Unfit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Unfit { line, column, why } = self;
        write!(f, "{why} at line {line} column {column}")
    }
}

impl Tree {
    /// Reads a text.
    ///
    /// # Errors
    /// What is no JSON, a key that stands twice in one object, and what is nested too deep.
    pub fn read(text: &str) -> Result<Tree, Unfit> {
        let read = Read { text };
        read.tree(read.whole()?, 0)
    }

    /// The field of this name.
    pub fn field(&self, name: &str) -> Option<&Tree> {
        let Tree::Fields(fields) = self else {
            return None;
        };
        let mut fields = fields.iter();
        fields.find(|(key, _)| key == name).map(|(_, value)| value)
    }

    /// The same without a field.
    #[cfg(test)]
    #[must_use]
    pub fn without(self, name: &str) -> Tree {
        match self {
            Tree::Fields(mut fields) => {
                fields.retain(|(key, _)| key != name);
                Tree::Fields(fields)
            }
            other => other,
        }
    }

    /// Shortened to what fits a line.
    pub fn shown(&self) -> String {
        match self {
            Tree::Null => "null".to_owned(),
            Tree::Flag(flag) => flag.to_string(),
            Tree::Number(number) => number.chars().take(40).collect(),
            Tree::Text(text) => crate::read::cells::quoted(text),
            Tree::List(items) => format!("a list of {}", items.len()),
            Tree::Fields(fields) => format!("an object of {} fields", fields.len()),
        }
    }
}

/// A JSON string: quotation marks and what could break out of them are escaped.
fn escaped(text: &str) -> String {
    use std::fmt::Write;
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => {
                out.push('\\');
                out.push(c);
            }
            c if c.is_control() => {
                let _ = write!(out, "\\u{{{:x}}}", u32::from(c));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// The message without the place, which counts from the wrong start where a part was read.
pub fn without_place(why: &serde_json::Error) -> String {
    let text = why.to_string();
    match text.rfind(" at line ") {
        Some(at) => text.get(..at).unwrap_or_default().to_owned(),
        None => text,
    }
}

/// One text for all ways of writing a JSON text with other spaces and another order of fields, handed on piece by
/// piece: the whole of it need not fit into memory twice. What `skip` says of its kind of place, such as
/// `job.pieces[].note`, is left out.
///
/// # Errors
/// As [`Tree::read`].
pub fn canonical(
    text: &str,
    skip: &dyn Fn(&str) -> bool,
    out: &mut dyn FnMut(&str),
) -> Result<(), Unfit> {
    let read = Read { text };
    read.canonical(read.whole()?, &mut String::new(), 0, skip, out)
}

/// A value, with the texts of what stands in it.
enum Part<'t> {
    Null,
    Flag(bool),
    Number(&'t str),
    Text(String),
    List(Vec<&'t RawValue>),
    Fields(Vec<(String, &'t RawValue)>),
}

struct Read<'t> {
    text: &'t str,
}

impl<'t> Read<'t> {
    fn whole(&self) -> Result<&'t RawValue, Unfit> {
        serde_json::from_str(self.text).map_err(|why| Unfit {
            line: why.line(),
            column: why.column(),
            why: without_place(&why),
        })
    }

    fn part(&self, raw: &'t RawValue, depth: usize) -> Result<Part<'t>, Unfit> {
        let text = raw.get();
        if depth > DEEPEST {
            return Err(self.unfit(text, format!("nested deeper than {DEEPEST}")));
        }
        let part = |why: serde_json::Error| self.unfit(text, without_place(&why));
        Ok(match text.as_bytes().first() {
            Some(b'{') => {
                let mut part_reader = serde_json::Deserializer::from_str(text);
                let pairs = part_reader.deserialize_map(Pairs).map_err(part)?;
                let mut seen = HashSet::new();
                let twice = pairs.iter().find(|(key, _)| !seen.insert(key.as_str()));
                if let Some((key, value)) = twice {
                    let key = crate::read::cells::quoted(key);
                    return Err(self.unfit(value.get(), format!("the field {key} twice")));
                }
                Part::Fields(pairs)
            }
            Some(b'[') => Part::List(serde_json::from_str(text).map_err(part)?),
            Some(b'"') => Part::Text(serde_json::from_str(text).map_err(part)?),
            Some(b't') => Part::Flag(true),
            Some(b'f') => Part::Flag(false),
            Some(b'n') => Part::Null,
            _ => Part::Number(text),
        })
    }

    fn tree(&self, raw: &'t RawValue, depth: usize) -> Result<Tree, Unfit> {
        Ok(match self.part(raw, depth)? {
            Part::Null => Tree::Null,
            Part::Flag(flag) => Tree::Flag(flag),
            Part::Number(number) => Tree::Number(number.to_owned()),
            Part::Text(text) => Tree::Text(text),
            Part::List(items) => {
                // No more room than they take: collected, one alone would get room for four.
                let mut all = Vec::with_capacity(items.len());
                for item in items {
                    all.push(self.tree(item, depth + 1)?);
                }
                Tree::List(all)
            }
            Part::Fields(pairs) => {
                let mut all = Vec::with_capacity(pairs.len());
                for (key, value) in pairs {
                    all.push((key, self.tree(value, depth + 1)?));
                }
                Tree::Fields(all)
            }
        })
    }

    fn canonical(
        &self,
        raw: &'t RawValue,
        kind: &mut String,
        depth: usize,
        skip: &dyn Fn(&str) -> bool,
        out: &mut dyn FnMut(&str),
    ) -> Result<(), Unfit> {
        match self.part(raw, depth)? {
            Part::Null => out("null"),
            Part::Flag(flag) => out(if flag { "true" } else { "false" }),
            Part::Number(number) => out(number),
            Part::Text(text) => out(&escaped(&text)),
            Part::List(items) => {
                let above = kind.len();
                kind.push_str("[]");
                out("[");
                for item in items {
                    self.canonical(item, kind, depth + 1, skip, out)?;
                    out(",");
                }
                out("]");
                kind.truncate(above);
            }
            Part::Fields(mut fields) => {
                fields.sort_unstable_by(|(one, _), (other, _)| one.cmp(other));
                out("{");
                for (key, value) in fields {
                    let above = kind.len();
                    push_key(kind, &key);
                    if !skip(kind) {
                        out(&escaped(&key));
                        out(":");
                        self.canonical(value, kind, depth + 1, skip, out)?;
                        out(",");
                    }
                    kind.truncate(above);
                }
                out("}");
            }
        }
        Ok(())
    }

    /// Something wrong where this part of the text begins.
    fn unfit(&self, part: &str, why: String) -> Unfit {
        let offset = part.as_ptr().addr().checked_sub(self.text.as_ptr().addr());
        let before = offset.and_then(|offset| self.text.get(..offset));
        let before = before.unwrap_or_default();
        let last = before.rsplit('\n').next().unwrap_or_default();
        Unfit {
            line: before.split('\n').count(),
            column: last.chars().count() + 1,
            why,
        }
    }
}

/// The fields of an object, those that stand twice too.
struct Pairs;

impl<'de> Visitor<'de> for Pairs {
    type Value = Vec<(String, &'de RawValue)>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("an object")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let mut pairs = Vec::new();
        while let Some(pair) = map.next_entry()? {
            pairs.push(pair);
        }
        Ok(pairs)
    }
}

/// A place where two trees differ.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// As `materials[0].bars[2].stock_mm`.
    pub path: String,
    /// In the one, as a phrase.
    pub found: String,
    /// In the other.
    pub expected: String,
}

/// Where two trees differ, in the order of the second; no more than `most` places. The first may have a field
/// `but` at the top that the second has not.
pub fn differences(found: &Tree, expected: &Tree, but: &str, most: usize) -> Vec<Difference> {
    let mut all = Differences {
        all: Vec::new(),
        but,
        most,
    };
    all.compare(found, expected, &mut String::new());
    all.all
}

struct Differences<'b> {
    all: Vec<Difference>,
    but: &'b str,
    most: usize,
}

impl Differences<'_> {
    fn compare(&mut self, found: &Tree, expected: &Tree, path: &mut String) {
        if self.all.len() >= self.most {
            return;
        }
        match (found, expected) {
            (Tree::Fields(one), Tree::Fields(other)) => {
                for (key, expected) in other {
                    let known = found.field(key);
                    self.below(known, Some(expected), path, |path| push_key(path, key));
                }
                for (key, value) in one {
                    let may_be = path.is_empty() && key == self.but;
                    if !may_be && expected.field(key).is_none() {
                        self.below(Some(value), None, path, |path| push_key(path, key));
                    }
                }
            }
            (Tree::List(one), Tree::List(other)) => {
                if one.len() != other.len() {
                    self.push(path, found.shown(), expected.shown());
                }
                for (place, (found, expected)) in one.iter().zip(other).enumerate() {
                    self.below(Some(found), Some(expected), path, |path| {
                        path.push_str(&format!("[{place}]"));
                    });
                }
            }
            _ if found == expected => {}
            _ => self.push(path, found.shown(), expected.shown()),
        }
    }

    fn below(
        &mut self,
        found: Option<&Tree>,
        expected: Option<&Tree>,
        path: &mut String,
        push: impl FnOnce(&mut String),
    ) {
        let above = path.len();
        push(path);
        match (found, expected) {
            (Some(found), Some(expected)) => self.compare(found, expected, path),
            (None, Some(expected)) => self.push(path, "no such field".to_owned(), expected.shown()),
            (Some(found), None) => self.push(path, found.shown(), "no such field".to_owned()),
            (None, None) => {}
        }
        path.truncate(above);
    }

    fn push(&mut self, path: &str, found: String, expected: String) {
        if self.all.len() < self.most {
            self.all.push(Difference {
                path: path.to_owned(),
                found,
                expected,
            });
        }
    }
}

fn push_key(path: &mut String, key: &str) {
    if !path.is_empty() {
        path.push('.');
    }
    path.push_str(key);
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// All of the canonical text.
    fn joined(text: &str, skip: &dyn Fn(&str) -> bool) -> String {
        let mut out = String::new();
        canonical(text, skip, &mut |part| out.push_str(part)).unwrap();
        out
    }

    #[test]
    fn other_spaces_and_another_order_are_the_same_text() {
        let nothing = |_: &str| false;
        let one = "{\"b\": [1, 2.50], \"a\": null}";
        let other = "{\"a\":null,\n\"b\":[1,2.50]}";
        assert_eq!(joined(one, &nothing), joined(other, &nothing));
        let less = "{\"a\":null,\"b\":[1,2.5]}";
        assert_ne!(joined(one, &nothing), joined(less, &nothing));
        let skip = |kind: &str| kind == "b[].x";
        let one = "{\"b\": [{\"x\": 1, \"y\": 2}]}";
        let other = "{\"b\": [{\"y\": 2}]}";
        assert_eq!(joined(one, &skip), joined(other, &skip));
        assert_ne!(joined(one, &nothing), joined(other, &nothing));
    }

    /// Texts that could be mistaken for what stands around them.
    #[test]
    fn no_two_trees_have_one_text() {
        let texts = [
            r#"["a","b"]"#,
            r#"["a\",\"b"]"#,
            r#"["a",["b"]]"#,
            r#"[["a"],"b"]"#,
            r#"["a\\","b"]"#,
            r#"["null",null]"#,
            r#"[null,"null"]"#,
            r#"["1",1]"#,
            r#"[1,"1"]"#,
            r#"{"a":"b"}"#,
            "[]",
            "{}",
        ];
        let canonical = texts.map(|text| joined(text, &|_| false));
        let distinct: HashSet<_> = canonical.iter().collect();
        assert_eq!(distinct.len(), texts.len());
    }

    #[test]
    fn what_is_no_tree_is_told_with_its_place() {
        let unfit = |text: &str| Tree::read(text).unwrap_err().to_string();
        assert_eq!(
            unfit("{\"a\": 1,\n  \"b\": {\"c\": 1, \"c\": 2}}"),
            "the field \"c\" twice at line 2 column 22"
        );
        assert_eq!(unfit("{\"a\": }"), "expected value at line 1 column 7");
        let deep = "[".repeat(100_000) + &"]".repeat(100_000);
        assert!(unfit(&deep).starts_with("nested deeper than 64"));
        let open = "{\"a\":".repeat(100_000);
        assert!(unfit(&open).contains("EOF"));
        assert!(unfit("[\"\\ud800\"]").contains("line 1 column 2"));
        let twice = "{\"a\": 1,\n  \"b\": {\"c\": 1, \"c\": 2}}";
        let told = canonical(twice, &|_| false, &mut |_| ()).unwrap_err();
        assert_eq!(told.to_string(), unfit(twice));
    }

    #[test]
    fn differences_have_their_path() {
        let one = Tree::read(r#"{"a": [1, {"b": "x"}], "c": 1, "e": []}"#).unwrap();
        let other = Tree::read(r#"{"a": [1, {"b": "y"}], "d": 1, "e": [1]}"#).unwrap();
        let paths = |most| -> Vec<String> {
            let all = differences(&one, &other, "f", most).into_iter();
            all.map(|one| format!("{}: {}, {}", one.path, one.found, one.expected))
                .collect()
        };
        assert_eq!(
            paths(9),
            [
                "a[1].b: \"x\", \"y\"",
                "d: no such field, 1",
                "e: a list of 0, a list of 1",
                "c: 1, no such field",
            ]
        );
        assert_eq!(paths(2).len(), 2);
        assert_eq!(differences(&one, &one, "f", 9), []);
        // Left out at the top, and nowhere else.
        let sealed = Tree::read(r#"{"f": 1, "a": {"f": 1}}"#).unwrap();
        let bare = Tree::read(r#"{"a": {}}"#).unwrap();
        let told = differences(&sealed, &bare, "f", 9);
        let paths: Vec<&str> = told.iter().map(|one| one.path.as_str()).collect();
        assert_eq!(paths, ["a.f"]);
    }
}
