//! A place in a tree: its values, each wrong one reported with its path.

use std::str::FromStr;

use lengthwise::job::Ends;
use lengthwise::{Length, Price};

use crate::json::read_back::cells::Cells;
use crate::json::tree::Tree;
use crate::read::cells::quoted;

/// A value and where it stands.
#[derive(Clone, Debug)]
pub struct At<'t> {
    tree: &'t Tree,
    path: String,
}

impl<'t> At<'t> {
    pub fn top(tree: &'t Tree) -> At<'t> {
        At {
            tree,
            path: String::new(),
        }
    }

    pub fn path(&self) -> &str {
        &self.path
    }

    /// A field that there must be.
    pub fn get(&self, name: &str, cells: &mut Cells) -> Option<At<'t>> {
        let path = match self.path.as_str() {
            "" => name.to_owned(),
            path => format!("{path}.{name}"),
        };
        let Some(tree) = self.tree.field(name) else {
            cells.misshapen(
                &path,
                "no such field".to_owned(),
                "the fields of a plan.json",
            );
            return None;
        };
        Some(At { tree, path })
    }

    /// A field that may be null.
    pub fn get_some(&self, name: &str, cells: &mut Cells) -> Option<At<'t>> {
        let field = self.get(name, cells)?;
        (*field.tree != Tree::Null).then_some(field)
    }

    /// Whether there is a field of this name.
    pub fn has(&self, name: &str) -> bool {
        self.tree.field(name).is_some()
    }

    /// What a list holds.
    pub fn items(&self, cells: &mut Cells) -> Vec<At<'t>> {
        let Tree::List(items) = self.tree else {
            return self.misshapen("a list", cells).unwrap_or_default();
        };
        let items = items.iter().enumerate();
        items
            .map(|(place, tree)| At {
                tree,
                path: format!("{}[{place}]", self.path),
            })
            .collect()
    }

    pub fn is_null(&self) -> bool {
        *self.tree == Tree::Null
    }

    pub fn text(&self, cells: &mut Cells) -> Option<&'t str> {
        match self.tree {
            Tree::Text(text) => Some(text),
            _ => self.misshapen("a text", cells),
        }
    }

    pub fn flag(&self, cells: &mut Cells) -> Option<bool> {
        match self.tree {
            Tree::Flag(flag) => Some(*flag),
            _ => self.misshapen("true or false", cells),
        }
    }

    pub fn whole<T: FromStr>(&self, cells: &mut Cells) -> Option<T> {
        let read = match self.tree {
            Tree::Number(number) => number.parse().ok(),
            _ => None,
        };
        read.or_else(|| self.misshapen("a whole number within its range", cells))
    }

    pub fn mm(&self, cells: &mut Cells) -> Option<Length> {
        match self.tree {
            Tree::Number(number) => cells.digits(number, &self.path),
            _ => self.misshapen("a number of millimetres", cells),
        }
    }

    /// An amount that was computed.
    pub fn amount(&self, cells: &mut Cells) -> Option<Price> {
        let text = self.text(cells)?;
        cells.amount(Some(text), &self.path)
    }

    /// Angles, or null where both are square.
    pub fn ends(&self, cells: &mut Cells) -> Ends {
        if self.is_null() {
            return Ends::SQUARE;
        }
        let text = self.text(cells);
        cells.ends(text, &self.path)
    }

    /// One of some words.
    pub fn word<T: Copy>(&self, words: &[(T, &str)], cells: &mut Cells) -> Option<T> {
        let text = self.text(cells)?;
        let known = words.iter().find(|(_, word)| *word == text);
        if known.is_none() {
            let words: Vec<_> = words.iter().map(|(_, word)| *word).collect();
            cells.fault(&self.path, quoted(text), words.join(", "));
        }
        known.map(|(word, _)| *word)
    }

    /// Reports that something else is here.
    pub fn misshapen<T>(&self, accepted: &str, cells: &mut Cells) -> Option<T> {
        cells.misshapen(&self.path, self.tree.shown(), accepted);
        None
    }
}
