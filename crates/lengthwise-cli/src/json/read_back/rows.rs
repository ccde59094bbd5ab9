//! The job that a plan embeds, row by row.

use std::sync::Arc;

use lengthwise::job::{
    CourseRule, Expansion, HandRow, JobInput, LaidCourse, PieceRow, Prefer, Quantity, Saw,
    SquareOff, StockRow, TemperatureRange,
};
use lengthwise::{Length, Measure, Origin, Unit};

use super::cells::{Cells, READING};
use crate::json::job::{HandJson, JobJson, PieceJson, QuantityJson, SettingsJson, StockJson};
use crate::read::cells::{
    Wrong, plain_decimal, quoted, read_expansion, read_length, read_prices, read_square_off,
    read_width,
};
use crate::read::grammar::{read_course_rule, read_end_gap, read_joints, read_quantity};

impl JobJson {
    /// Whether the plan has spares beside those that the rows ask for.
    pub fn is_insured(&self) -> bool {
        self.settings.insure > 0 || self.settings.insure_bar
    }

    pub fn input(&self, cells: &mut Cells) -> JobInput {
        let saw = self.settings.saw(cells, "job.settings");
        let pieces = self.pieces.iter().enumerate();
        let pieces = pieces
            .map(|(at, row)| row.row(cells, &format!("job.pieces[{at}]")))
            .collect();
        let stock = self.stock.iter().enumerate();
        let stock = stock
            .map(|(at, row)| row.row(cells, &format!("job.stock[{at}]")))
            .collect();
        let in_hand = self.in_hand.iter().enumerate();
        let in_hand = in_hand
            .map(|(at, row)| row.row(cells, &format!("job.in_hand[{at}]")))
            .collect();
        JobInput {
            pieces,
            stock,
            in_hand,
            saw,
        }
    }
}

impl SettingsJson {
    /// The saw; values that are wrong are reported and stand as the usual ones.
    pub fn saw(&self, cells: &mut Cells, path: &str) -> Saw {
        let at = |field: &str| format!("{path}.{field}");
        let usual = Saw::default();
        let kerf = width(cells, &self.kerf, &at("kerf"));
        let per_cut = width(cells, &self.per_cut, &at("per_cut"));
        let save_from = width(cells, &self.save_from, &at("save_from"));
        let hold = width(cells, &self.hold, &at("hold"));
        Saw {
            kerf: kerf.unwrap_or(usual.kerf),
            per_cut: per_cut.unwrap_or(usual.per_cut),
            square_off: square_off(cells, Some(&self.square_off), &at("square_off"))
                .unwrap_or_default(),
            save_from: save_from.unwrap_or(usual.save_from),
            longest: maybe(cells, self.longest.as_deref(), &at("longest")),
            temperature_range: cells.some(
                self.temperature_range.as_deref(),
                &at("temperature_range"),
                |text| {
                    let range = plain_decimal(text, false).and_then(TemperatureRange::from_decimal);
                    range.ok_or_else(|| Wrong::new(quoted(text), TemperatureRange::ACCEPTED))
                },
            ),
            hold: hold.unwrap_or(usual.hold),
            stop_reach: maybe(cells, self.stop_reach.as_deref(), &at("stop_reach")),
            prefer: cells
                .text(&self.prefer, &at("prefer"), |text| match text {
                    "offcuts" => Ok(Prefer::Offcuts),
                    "setups" => Ok(Prefer::Setups),
                    _ => Err(Wrong::new(quoted(text), "offcuts or setups")),
                })
                .unwrap_or_default(),
        }
    }
}

impl PieceJson {
    /// The row; values that are wrong are reported and stand as harmless ones.
    pub fn row(&self, cells: &mut Cells, path: &str) -> PieceRow {
        let at = |field: &str| format!("{path}.{field}");
        let length = measure(cells, &self.length, &at("length"));
        let laid = self.laid.iter().map(|laid| LaidCourse {
            course: laid.course,
            joints: laid
                .joints
                .iter()
                .filter_map(|joint| width(cells, joint, &at("laid")))
                .collect(),
        });
        let laid = laid.collect();
        PieceRow {
            material: self.material.clone(),
            mark: self.mark.clone(),
            qty: match &self.qty {
                QuantityJson::Count(count) => Quantity::Count(*count),
                QuantityJson::Width(width) => cells
                    .text(width, &at("qty"), |text| read_quantity(text, READING))
                    .unwrap_or_default(),
            },
            to: cells.some(self.to.as_deref(), &at("to"), |text| {
                read_length(text, READING)
            }),
            step: maybe(cells, self.step.as_deref(), &at("step")),
            end_gap: cells
                .some(self.end_gap.as_deref(), &at("end_gap"), |text| {
                    read_end_gap(text, READING)
                })
                .unwrap_or_default(),
            ends: cells.ends(self.ends.as_deref(), &at("ends")),
            spare: self.spare,
            joints: cells.some(self.joints.as_deref(), &at("joints"), |text| {
                read_joints(text, READING)
            }),
            joint_gap: maybe(cells, self.joint_gap.as_deref(), &at("joint_gap")),
            joints_max: self.joints_max,
            shortest: maybe(cells, self.shortest.as_deref(), &at("shortest")),
            course_group: self.course_group.clone(),
            course: self.course,
            course_rule: self.course_rule(cells, &at("course_rule")),
            stage: self.stage,
            wall: self.wall.clone(),
            batch: self.batch.clone(),
            leave_long: maybe(cells, self.leave_long.as_deref(), &at("leave_long")),
            spares_only: self.spares_only,
            for_bar: self.for_bar,
            laid,
            note: self.note.clone(),
            ..PieceRow::new(origin(&self.source, self.line), length)
        }
    }

    fn course_rule(&self, cells: &mut Cells, path: &str) -> Option<CourseRule> {
        cells.some(self.course_rule.as_deref(), path, read_course_rule)
    }
}

impl StockJson {
    /// As [`PieceJson::row`].
    pub fn row(&self, cells: &mut Cells, path: &str) -> StockRow {
        let at = |field: &str| format!("{path}.{field}");
        let length = measure(cells, &self.length, &at("length"));
        let prices = cells.some(self.price.as_deref(), &at("price"), |text| {
            read_prices(text, READING)
        });
        StockRow {
            material: self.material.clone(),
            price: prices.as_ref().map(|(price, _)| *price),
            breaks: prices.map(|(_, breaks)| breaks).unwrap_or_default(),
            delivery: cells.price(self.delivery.as_deref(), &at("delivery")),
            sold: cells.sold(&self.sold, &at("sold")).unwrap_or_default(),
            available: self.available,
            kerf: maybe(cells, self.kerf.as_deref(), &at("kerf")),
            square_off: square_off(cells, self.square_off.as_deref(), &at("square_off")),
            shortest: maybe(cells, self.shortest.as_deref(), &at("shortest")),
            save_from: maybe(cells, self.save_from.as_deref(), &at("save_from")),
            expansion: self.expansion(cells, &at("expansion")),
            batch: self.batch.clone(),
            note: self.note.clone(),
            ..StockRow::new(origin(&self.source, self.line), length)
        }
    }

    fn expansion(&self, cells: &mut Cells, path: &str) -> Option<Expansion> {
        cells.some(self.expansion.as_deref(), path, |text| {
            read_expansion(text, READING)
        })
    }
}

impl HandJson {
    /// As [`PieceJson::row`].
    pub fn row(&self, cells: &mut Cells, path: &str) -> HandRow {
        let at = |field: &str| format!("{path}.{field}");
        HandRow {
            origin: origin(&self.source, self.line),
            material: self.material.clone(),
            length: measure(cells, &self.length, &at("length")),
            available: self.available,
            square_off: square_off(cells, self.square_off.as_deref(), &at("square_off")),
            worth: cells.price(self.worth.as_deref(), &at("worth")),
            batch: self.batch.clone(),
            note: self.note.clone(),
        }
    }
}

fn origin(source: &str, line: u64) -> Origin {
    Origin {
        source: Arc::from(source),
        line,
    }
}

fn measure(cells: &mut Cells, text: &str, path: &str) -> Measure {
    let read = cells.text(text, path, |text| read_length(text, READING));
    read.unwrap_or(Measure {
        length: Length::from_mm(1),
        unit: Unit::Mm,
    })
}

fn width(cells: &mut Cells, text: &str, path: &str) -> Option<Length> {
    let read = cells.text(text, path, |text| read_width(text, READING));
    read.map(|width| width.length)
}

fn maybe(cells: &mut Cells, text: Option<&str>, path: &str) -> Option<Length> {
    width(cells, text?, path)
}

fn square_off(cells: &mut Cells, text: Option<&str>, path: &str) -> Option<SquareOff> {
    cells.some(text, path, |text| read_square_off(text, READING))
}
