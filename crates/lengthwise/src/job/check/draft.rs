//! The rows of one material, and what becomes of them.

use super::batches::{self, Batches};
use super::{WIDEST_CUT, fault, moves, pieces, runs, stated};
use crate::fault::{Fault, FaultKind};
use crate::job::tally::Tally;
use crate::job::{
    Bar, HandRow, Material, Note, PieceRow, Saw, Sold, SquareOff, StockRow, Supply, marks, size,
};
use crate::length::{Length, Measure, Unit};
use crate::price::Price;

/// The rows of one material.
pub(super) struct Draft<'a> {
    pub name: &'a str,
    pub pieces: Vec<&'a PieceRow>,
    pub stock: Vec<&'a StockRow>,
    pub in_hand: Vec<&'a HandRow>,
}

impl Draft<'_> {
    /// The material, unless a fault makes it meaningless.
    pub fn check(
        &self,
        saw: &Saw,
        tally: &mut Tally<'_>,
        faults: &mut Vec<Fault>,
        notes: &mut Vec<Note>,
    ) -> Option<Material> {
        if self.stock.is_empty() && self.in_hand.is_empty() {
            return None; // reported when the rows were sorted
        }
        let before = faults.len();
        if tally.too_many_pieces(&self.pieces, faults) {
            return None; // before any of them is made
        }
        let unit = self.pieces.first().map_or(Unit::Mm, |row| row.length.unit);
        let kerf = self.kerf(saw, faults);
        let priced = self.prices(faults);
        let batches = self.batches();
        let bars = self.bars(&batches, saw, faults, notes);
        self.check_kerf_fits(kerf, faults);
        self.note_assumptions(&bars, notes);
        let expanded = pieces::expanded(&self.pieces, faults, notes);
        let stated = stated::stated(&self.stock, faults);
        let (runs, course_groups) = runs::runs(&expanded, stated.shortest, faults);
        let mut pieces = marks::named(&expanded, &runs);
        batches::bind(&expanded, &batches, &mut pieces, faults);
        let material = Material {
            name: self.name.to_owned(),
            unit,
            kerf,
            per_cut: saw.per_cut,
            save_from: stated.save_from.unwrap_or(saw.save_from),
            hold: saw.hold,
            stop_reach: saw.stop_reach,
            prefer: saw.prefer,
            expansion: stated.expansion,
            course_groups,
            priced,
            batches: batches.names,
            pieces,
            bars,
        };
        self.note_batches(&material, notes);
        let origin = self.pieces.first().map(|row| &row.origin);
        size::check(&material, origin, faults);
        tally.check(&material, faults);
        moves::note_movement(&material, saw, notes);
        (faults.len() == before).then_some(material)
    }

    /// The blade that the stock rows state, else the saw's.
    fn kerf(&self, saw: &Saw, faults: &mut Vec<Fault>) -> Length {
        let mut stated = self
            .stock
            .iter()
            .filter_map(|row| row.kerf.map(|kerf| (kerf, *row)));
        let Some((kerf, first)) = stated.next() else {
            return saw.kerf;
        };
        for (other, row) in stated.filter(|(other, _)| *other != kerf) {
            let unit = row.length.unit;
            faults.push(fault(
                FaultKind::KerfDiffers,
                &row.origin,
                "kerf",
                other.text(unit),
                format!(
                    "{}, as in line {}: one blade per material",
                    kerf.text(unit),
                    first.origin.line
                ),
            ));
        }
        if kerf > WIDEST_CUT {
            let accepted = "at most 1 m";
            faults.push(fault(
                FaultKind::Range,
                &first.origin,
                "kerf",
                kerf.text(Unit::Mm),
                accepted,
            ));
        }
        kerf
    }

    fn check_kerf_fits(&self, kerf: Length, faults: &mut Vec<Fault>) {
        let bought = self.stock.iter().map(|row| (row.length, &row.origin));
        let in_hand = self.in_hand.iter().map(|row| (row.length, &row.origin));
        let longest = bought
            .chain(in_hand)
            .max_by_key(|(measure, _)| measure.length);
        let Some((Measure { length, unit }, origin)) = longest else {
            return;
        };
        let stated_by = self.stock.iter().find(|row| row.kerf.is_some());
        if kerf >= length && !length.is_zero() {
            let accepted = format!("less than the longest bar, {}", length.text(unit));
            faults.push(fault(
                FaultKind::KerfTooWide,
                stated_by.map_or(origin, |row| &row.origin),
                "kerf",
                kerf.text(unit),
                accepted,
            ));
        }
    }

    /// Whether there are prices: on all rows or on none.
    fn prices(&self, faults: &mut Vec<Fault>) -> bool {
        let first_priced = self.stock.iter().find(|row| row.price.is_some());
        if let Some(priced) = first_priced {
            for row in self.stock.iter().filter(|row| row.price.is_none()) {
                let accepted = format!(
                    "a price, as in line {}: prices on all rows of a material or on none",
                    priced.origin.line
                );
                faults.push(fault(
                    FaultKind::PricesOnSomeRows,
                    &row.origin,
                    "price",
                    "nothing",
                    accepted,
                ));
            }
        } else if !self.stock.is_empty() {
            for row in &self.in_hand {
                if let Some(worth) = row.worth {
                    let accepted = "no worth, since the stock of this material has no prices";
                    faults.push(fault(
                        FaultKind::WorthWithoutPrices,
                        &row.origin,
                        "worth",
                        worth.to_string(),
                        accepted,
                    ));
                }
            }
        }
        first_priced.is_some()
            || (self.stock.is_empty() && self.in_hand.iter().any(|row| row.worth.is_some()))
    }

    /// The usable kinds of bar; what is left out is noted, in the unit of its own row.
    fn bars(
        &self,
        batches: &Batches,
        saw: &Saw,
        faults: &mut Vec<Fault>,
        notes: &mut Vec<Note>,
    ) -> Vec<Bar> {
        let mut eaten = Vec::new();
        let mut kept = Vec::new();
        for (bar, unit) in self.all_bars(batches, saw) {
            let too_long = saw
                .longest
                .filter(|&longest| bar.length > longest && !bar.is_in_hand());
            if let Some(longest) = too_long {
                let (origin, length) = (bar.origin, bar.length);
                notes.push(Note::LongerThanCarried {
                    origin,
                    length,
                    longest,
                    unit,
                });
            } else if bar.usable().is_zero() {
                eaten.push((bar, unit));
            } else {
                note_metres(&bar, notes);
                note_breaks(&bar, notes);
                kept.push(bar);
            }
        }
        eaten.retain(|(bar, _)| !bar.length.is_zero()); // a length of zero is a fault of its own
        let nothing_left = kept.is_empty() && eaten.iter().any(|(bar, _)| !bar.is_in_hand());
        for (bar, unit) in eaten {
            if nothing_left && !bar.is_in_hand() {
                faults.push(nothing_left_of_any(&bar, unit));
            } else {
                let (origin, length) = (bar.origin, bar.length);
                notes.push(Note::NothingLeftOfBar {
                    origin,
                    length,
                    unit,
                });
            }
        }
        kept
    }

    /// Every row of stock and of bars in hand, with the unit it was written in.
    fn all_bars(&self, batches: &Batches, saw: &Saw) -> impl Iterator<Item = (Bar, Unit)> {
        let bought = self.stock.iter().map(|row| {
            let bar = Bar {
                length: row.length.length,
                square_off: row.square_off.unwrap_or(saw.square_off),
                supply: Supply::Bought {
                    price: row.price,
                    sold: row.sold,
                    available: row.available,
                },
                breaks: row.breaks.clone(),
                batch: batches.of_bar(&row.batch),
                note: row.note.clone(),
                origin: row.origin.clone(),
            };
            (bar, row.length.unit)
        });
        let in_hand = self.in_hand.iter().map(|row| {
            let bar = Bar {
                length: row.length.length,
                square_off: row.square_off.unwrap_or_default(),
                supply: Supply::InHand {
                    worth: row.worth.unwrap_or(Price::ZERO),
                    available: row.available,
                },
                breaks: Vec::new(),
                batch: batches.of_bar(&row.batch),
                note: row.note.clone(),
                origin: row.origin.clone(),
            };
            (bar, row.length.unit)
        });
        bought.chain(in_hand)
    }

    fn note_assumptions(&self, bars: &[Bar], notes: &mut Vec<Note>) {
        let squared = |bar: &&Bar| bar.square_off != SquareOff::default();
        if !bars.iter().any(|bar| squared(&bar)) {
            notes.push(Note::AssumesSquareEnds {
                material: self.name.to_owned(),
            });
        } else if bars.iter().filter(squared).any(|bar| !bar.is_in_hand())
            && let Some(row) = self.in_hand.iter().find(|row| row.square_off.is_none())
        {
            notes.push(Note::HandTakenAsSquare {
                origin: row.origin.clone(),
            });
        }
    }
}

fn note_metres(bar: &Bar, notes: &mut Vec<Note>) {
    if let Supply::Bought {
        sold: Sold::PerMetre,
        available: Some(metres),
        ..
    } = bar.supply
    {
        let bars = bar.bars_available().unwrap_or(0);
        let offered = Length::from_mm(1000).checked_mul(metres);
        if bar.length.checked_mul(bars) != offered {
            notes.push(Note::MetresCutToBars {
                origin: bar.origin.clone(),
                metres,
                bars,
            });
        }
    }
}

/// Breaks that start above what there is.
fn note_breaks(bar: &Bar, notes: &mut Vec<Note>) {
    let last = bar.breaks.last().map(|at| at.from);
    let there = bar.tiers().last().map_or(0, |tier| tier.place);
    if let Some(from) = last
        && there < bar.breaks.len()
    {
        notes.push(Note::BreakOutOfReach {
            origin: bar.origin.clone(),
            from: bar.breaks.get(there).map_or(from, |at| at.from),
        });
    }
}

fn nothing_left_of_any(bar: &Bar, unit: Unit) -> Fault {
    let SquareOff { near, far } = bar.square_off;
    fault(
        FaultKind::AllowancesEatEveryBar,
        &bar.origin,
        "square_off",
        format!(
            "{} and {} off a bar of {}",
            near.text(unit),
            far.text(unit),
            bar.length.text(unit)
        ),
        "allowances that leave something of at least one bar",
    )
}
