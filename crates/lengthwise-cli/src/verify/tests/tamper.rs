//! Every change of one value, one entry or one key of a tree.

use std::fmt::Write;

use crate::json::tree::Tree;

/// A tree with one thing changed.
pub struct Change {
    pub tree: Tree,
    /// As `materials[0].bars[2]`.
    pub path: String,
    /// As `materials[].bars[]`.
    pub kind: String,
    /// What was done.
    pub how: &'static str,
    /// Whether one text took the place of another.
    pub is_text: bool,
    steps: Vec<usize>,
}

/// Where every value stands: the places of entries and fields from the top.
fn places(tree: &Tree, above: &mut Vec<usize>, all: &mut Vec<Vec<usize>>) {
    all.push(above.clone());
    let mut below = |place: usize, tree: &Tree| {
        above.push(place);
        places(tree, above, all);
        above.pop();
    };
    match tree {
        Tree::List(items) => (0..)
            .zip(items)
            .for_each(|(place, item)| below(place, item)),
        Tree::Fields(fields) => (0..)
            .zip(fields)
            .for_each(|(place, (_, item))| below(place, item)),
        _ => {}
    }
}

fn at_mut<'t>(tree: &'t mut Tree, steps: &[usize]) -> &'t mut Tree {
    let Some((&step, rest)) = steps.split_first() else {
        return tree;
    };
    match tree {
        Tree::List(items) => at_mut(&mut items[step], rest),
        Tree::Fields(fields) => at_mut(&mut fields[step].1, rest),
        _ => panic!("no such place"),
    }
}

fn named(mut tree: &Tree, steps: &[usize]) -> (String, String) {
    let (mut path, mut kind) = (String::new(), String::new());
    for &step in steps {
        match tree {
            Tree::List(items) => {
                write!(path, "[{step}]").unwrap();
                kind.push_str("[]");
                tree = &items[step];
            }
            Tree::Fields(fields) => {
                let (key, below) = &fields[step];
                for text in [&mut path, &mut kind] {
                    let dot = if text.is_empty() { "" } else { "." };
                    write!(text, "{dot}{key}").unwrap();
                }
                tree = below;
            }
            _ => panic!("no such place"),
        }
    }
    (path, kind)
}

/// All changes of one thing, one after the other.
pub fn changes(tree: &Tree) -> impl Iterator<Item = Change> {
    let mut all = Vec::new();
    places(tree, &mut Vec::new(), &mut all);
    all.into_iter().flat_map(move |steps| {
        let (path, kind) = named(tree, &steps);
        let mut copy = tree.clone();
        let here = at_mut(&mut copy, &steps).clone();
        let others = others(&here, steps.is_empty());
        let steps_of = steps.clone();
        others.into_iter().map(move |(how, other)| {
            let is_text = matches!((&here, &other), (Tree::Text(_), Tree::Text(_)));
            let mut tree = tree.clone();
            *at_mut(&mut tree, &steps_of) = other;
            Change {
                tree,
                path: path.clone(),
                kind: kind.clone(),
                how,
                is_text,
                steps: steps_of.clone(),
            }
        })
    })
}

/// The same tree with this number instead of what was changed; `None` where that is no number.
pub fn with_number(tree: &Tree, change: &Change, number: &str) -> Option<Tree> {
    let mut copy = tree.clone();
    let here = at_mut(&mut copy, &change.steps);
    matches!(here, Tree::Number(_)).then(|| *here = Tree::Number(number.to_owned()))?;
    Some(copy)
}

/// What may stand in place of a value.
fn others(here: &Tree, is_top: bool) -> Vec<(&'static str, Tree)> {
    let mut others = Vec::new();
    match here {
        Tree::Null => {
            others.push(("changed", Tree::Number("1".to_owned())));
            others.push(("changed", Tree::Text("1mm".to_owned())));
            others.push(("changed", Tree::Text("1.00".to_owned())));
        }
        Tree::Flag(flag) => others.push(("changed", Tree::Flag(!flag))),
        Tree::Number(number) => {
            for by in [1, -1] {
                others.push(("changed", Tree::Number(moved(number, by))));
            }
        }
        Tree::Text(text) => {
            others.push(("changed", Tree::Text(format!("{text}x"))));
            if let Some(text) = other_digit(text) {
                others.push(("changed", Tree::Text(text)));
            }
        }
        Tree::List(items) => {
            for place in 0..items.len() {
                let mut less = items.clone();
                less.remove(place);
                others.push(("an entry less", Tree::List(less)));
                let mut more = items.clone();
                more.insert(place, items[place].clone());
                others.push(("an entry twice", Tree::List(more)));
            }
        }
        Tree::Fields(fields) => {
            for place in 0..fields.len() {
                let mut less = fields.clone();
                less.remove(place);
                others.push(("a field less", Tree::Fields(less)));
            }
            let mut more = fields.clone();
            more.push(("more".to_owned(), Tree::Number("1".to_owned())));
            others.push(("a field more", Tree::Fields(more)));
        }
    }
    if !is_top && !matches!(here, Tree::Null) {
        others.push(("null", Tree::Null));
    }
    others
}

/// A number whose last digit stands for so much more.
fn moved(number: &str, by: i128) -> String {
    let decimals = number
        .split_once('.')
        .map_or(0, |(_, decimals)| decimals.len());
    let moved: i128 = number.replace('.', "").parse::<i128>().unwrap() + by;
    if decimals == 0 {
        return moved.to_string();
    }
    let digits = format!("{:0width$}", moved.abs(), width = decimals + 1);
    let (whole, part) = digits.split_at(digits.len() - decimals);
    let sign = if moved < 0 { "-" } else { "" };
    format!("{sign}{whole}.{part}")
}

/// The text with its last digit changed; `None` without digits.
fn other_digit(text: &str) -> Option<String> {
    let at = text.rfind(|c: char| c.is_ascii_digit())?;
    let digit = if text[at..].starts_with('3') {
        "4"
    } else {
        "3"
    };
    Some(format!("{}{digit}{}", &text[..at], &text[at + 1..]))
}

/// A tree as JSON.
pub fn to_json(tree: &Tree) -> String {
    let mut out = String::new();
    write(tree, &mut out);
    out
}

fn write(tree: &Tree, out: &mut String) {
    match tree {
        Tree::Null => out.push_str("null"),
        Tree::Flag(flag) => write!(out, "{flag}").unwrap(),
        Tree::Number(number) => out.push_str(number),
        Tree::Text(text) => out.push_str(&serde_json::to_string(text).unwrap()),
        Tree::List(items) => {
            out.push('[');
            for (place, item) in items.iter().enumerate() {
                out.push_str(if place > 0 { "," } else { "" });
                write(item, out);
            }
            out.push(']');
        }
        Tree::Fields(fields) => {
            out.push('{');
            for (place, (key, item)) in fields.iter().enumerate() {
                out.push_str(if place > 0 { "," } else { "" });
                out.push_str(&serde_json::to_string(key).unwrap());
                out.push(':');
                write(item, out);
            }
            out.push('}');
        }
    }
}
