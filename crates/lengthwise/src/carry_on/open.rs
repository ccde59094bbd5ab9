//! Bars that have room for what has lost its place.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

use super::sticks::Stick;
use crate::fault::Origin;
use crate::job::{HandRow, SquareOff};
use crate::length::{Length, Measure};
use crate::price::Price;

/// Where a bar comes from that is offered for what is loose.
#[derive(Clone, Copy, Debug)]
pub(super) enum Source {
    /// What a kept bar leaves: its place among the kept ones.
    Kept(usize),
    /// A bar without a plan: its place among the sticks.
    Free(usize),
}

/// Bars offered for what is loose, alike ones in one row.
#[derive(Default)]
pub(super) struct OpenBars {
    rows: Vec<HandRow>,
    /// Where the bars of each row come from, and how many.
    sources: HashMap<Origin, VecDeque<(Source, u64)>>,
    /// The place of a row by what its bars are.
    places: HashMap<Likeness, usize>,
}

/// Length, allowances, worth and batch.
type Likeness = (Length, SquareOff, Option<String>, String);

impl OpenBars {
    /// So many bars like a stick, but as long and as good as said.
    pub fn add(
        &mut self,
        stick: &Stick,
        length: Length,
        square_off: SquareOff,
        worth: Option<Price>,
        (source, count): (Source, u64),
    ) {
        let worth_text = worth.map(|worth| worth.to_string());
        let likeness = (length, square_off, worth_text, stick.batch.clone());
        let at = *self.places.entry(likeness).or_insert_with(|| {
            let origin = Origin {
                source: Arc::from(""),
                line: self.rows.len() as u64 + 1, // widening on every platform
            };
            self.rows.push(HandRow {
                origin,
                material: String::new(),
                length: Measure {
                    length,
                    unit: stick.length.unit,
                },
                available: 0,
                square_off: Some(square_off),
                worth,
                batch: stick.batch.clone(),
                note: String::new(),
            });
            self.rows.len() - 1
        });
        if let Some(row) = self.rows.get_mut(at) {
            row.available = row.available.saturating_add(count);
            let sources = self.sources.entry(row.origin.clone()).or_default();
            sources.push_back((source, count));
        }
    }

    pub fn rows(&self, material: &str) -> Vec<HandRow> {
        let rows = self.rows.iter();
        rows.map(|row| HandRow {
            material: material.to_owned(),
            ..row.clone()
        })
        .collect()
    }

    /// Takes a bar of a row.
    pub fn take(&mut self, origin: &Origin) -> Option<Source> {
        let sources = self.sources.get_mut(origin)?;
        let (source, count) = sources.front_mut()?;
        let source = *source;
        *count = count.checked_sub(1)?;
        if *count == 0 {
            sources.pop_front();
        }
        Some(source)
    }
}
