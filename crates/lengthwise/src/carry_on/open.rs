//! Bars that have room for what has lost its place.

use std::collections::VecDeque;
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
    rows: Vec<(HandRow, VecDeque<Source>)>,
}

impl OpenBars {
    pub fn add(
        &mut self,
        stick: &Stick,
        length: Length,
        square_off: SquareOff,
        worth: Option<Price>,
        source: Source,
    ) {
        let alike = self.rows.iter_mut().find(|(row, _)| {
            row.batch == stick.batch
                && (row.length.length, row.square_off, row.worth)
                    == (length, Some(square_off), worth)
        });
        if let Some((row, sources)) = alike {
            row.available += 1;
            sources.push_back(source);
            return;
        }
        let origin = Origin {
            source: Arc::from(""),
            line: self.rows.len() as u64 + 1, // widening on every platform
        };
        let row = HandRow {
            origin,
            material: String::new(),
            length: Measure {
                length,
                unit: stick.length.unit,
            },
            available: 1,
            square_off: Some(square_off),
            worth,
            batch: stick.batch.clone(),
            note: String::new(),
        };
        self.rows.push((row, VecDeque::from([source])));
    }

    pub fn rows(&self, material: &str) -> Vec<HandRow> {
        let rows = self.rows.iter();
        rows.map(|(row, _)| HandRow {
            material: material.to_owned(),
            ..row.clone()
        })
        .collect()
    }

    pub fn take(&mut self, origin: &Origin) -> Option<Source> {
        let mut rows = self.rows.iter_mut();
        let (_, sources) = rows.find(|(row, _)| row.origin == *origin)?;
        sources.pop_front()
    }
}
