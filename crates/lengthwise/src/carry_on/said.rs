//! What was said of bars and pieces, held against the plan and against itself.

use std::collections::HashMap;

use super::pieces::{CutFrom, Pieces, Remark, State};
use super::sticks::{Fate, Stick, Sticks};
use super::{Happened, Said, Statement};
use crate::fault::{Fault, FaultKind};
use crate::job::{Job, LARGEST_QUANTITY, name_key, some_of};
use crate::length::Length;

impl Statement {
    fn fault(&self, found: impl Into<String>, accepted: impl Into<String>) -> Fault {
        Fault {
            kind: FaultKind::Value,
            origin: Some(self.origin.clone()),
            column: Some(format!("column {}", self.column)),
            found: found.into(),
            accepted: accepted.into(),
        }
    }
}

/// What became of each bar, in the order of the bars; marks what is cut, and adds what was found.
pub(super) fn fates(
    sticks: &mut Sticks,
    pieces: &mut Pieces,
    job: &Job,
    happened: &Happened,
    faults: &mut Vec<Fault>,
) -> Vec<Fate> {
    let names = job.materials().iter().enumerate();
    let mut hearing = Hearing {
        job,
        materials: names.map(|(at, one)| (name_key(one.name()), at)).collect(),
        pieces,
        fates: vec![Fate::Uncut; sticks.all.len()],
        said_by: HashMap::new(),
        faults,
    };
    for statement in &happened.statements {
        hearing.bar(sticks, statement);
    }
    for statement in &happened.statements {
        hearing.left(sticks, statement);
    }
    hearing.cut_as_planned(sticks);
    for statement in &happened.statements {
        hearing.found(sticks, statement);
    }
    hearing.fates
}

struct Hearing<'a> {
    job: &'a Job,
    /// The places of the materials by their names.
    materials: HashMap<String, usize>,
    pieces: &'a mut Pieces,
    fates: Vec<Fate>,
    /// Who said it of each bar.
    said_by: HashMap<usize, &'a Statement>,
    faults: &'a mut Vec<Fault>,
}

impl<'a> Hearing<'a> {
    /// What is said of one bar, but for what is left of it.
    fn bar(&mut self, sticks: &Sticks, statement: &'a Statement) {
        let bar = match &statement.said {
            Said::Cut { bar }
            | Said::Begun { bar, .. }
            | Said::Bad { bar }
            | Said::Short { bar, .. }
            | Said::Stretches { bar, .. } => bar,
            Said::Left { .. } | Said::Spoiled { .. } | Said::Found { .. } => return,
        };
        let Some((at, stick)) = self.stick(sticks, statement, bar) else {
            return;
        };
        let fate = match &statement.said {
            Said::Cut { .. } if stick.planned.iter().all(|cut| cut.for_bar) => {
                let found = format!("{bar}, from which the plan cuts nothing");
                let accepted = format!("begun {bar}, and the pieces that were cut from it");
                self.faults.push(statement.fault(found, accepted));
                return;
            }
            Said::Cut { .. } => Some(Fate::Cut(None)),
            Said::Bad { .. } => Some(Fate::Bad),
            Said::Short { length, .. } => self.short(statement, stick, *length),
            Said::Stretches { lengths, .. } => self.stretches(statement, stick, lengths),
            Said::Begun { pieces, left, .. } => self.begun(statement, stick, pieces, *left),
            Said::Left { .. } | Said::Spoiled { .. } | Said::Found { .. } => None,
        };
        if let Some(fate) = fate {
            self.settle(statement, (at, bar), fate);
        }
    }

    fn stick<'s>(
        &mut self,
        sticks: &'s Sticks,
        statement: &Statement,
        bar: &str,
    ) -> Option<(usize, &'s Stick)> {
        let at = sticks.named(bar);
        let found = at.and_then(|at| Some((at, sticks.all.get(at)?)));
        if found.is_none() {
            let found = format!("the bar \"{bar}\", which is not there");
            let accepted = "the name of a bar that is there, as the plan has it";
            self.faults.push(statement.fault(found, accepted));
        }
        found
    }

    /// One thing may be said of a bar; that it is cut also twice.
    fn settle(&mut self, statement: &'a Statement, (at, bar): (usize, &str), fate: Fate) {
        let Some(known) = self.fates.get_mut(at) else {
            return;
        };
        if *known == Fate::Uncut {
            *known = fate;
            self.said_by.insert(at, statement);
        } else if !(matches!(known, Fate::Cut(_)) && matches!(fate, Fate::Cut(_))) {
            let found = format!("{bar} {}, which is also {}", word(&fate), word(known));
            let accepted = "one of the two";
            self.faults.push(statement.fault(found, accepted));
        }
    }

    fn short(&mut self, statement: &Statement, stick: &Stick, length: Length) -> Option<Fate> {
        let unit = stick.length.unit;
        if length.is_zero() || length >= stick.length.length {
            let found = format!("{} of a bar of {}", length.text(unit), stick.length);
            let accepted = "a length above 0 and below that of the bar";
            self.faults.push(statement.fault(found, accepted));
            return None;
        }
        Some(Fate::Short(length))
    }

    fn stretches(
        &mut self,
        statement: &Statement,
        stick: &Stick,
        lengths: &[Length],
    ) -> Option<Fate> {
        let unit = stick.length.unit;
        let sum = lengths
            .iter()
            .try_fold(Length::ZERO, |sum, one| sum.checked_add(*one));
        let fits = sum.is_some_and(|sum| sum <= stick.length.length);
        if !fits || lengths.is_empty() || lengths.iter().any(|length| length.is_zero()) {
            let lengths: Vec<String> = lengths.iter().map(|one| one.text(unit)).collect();
            let found = format!("{} on a bar of {}", lengths.join("+"), stick.length);
            let accepted = "lengths above 0 that are together no longer than the bar";
            self.faults.push(statement.fault(found, accepted));
            return None;
        }
        Some(Fate::Stretches(lengths.to_vec()))
    }

    /// A bar of which some pieces are cut, which are done from now on.
    fn begun(
        &mut self,
        statement: &Statement,
        stick: &Stick,
        marks: &[String],
        left: Option<Length>,
    ) -> Option<Fate> {
        let material = self.job.materials().get(stick.material)?;
        let bar = stick.name.clone().unwrap_or_default();
        let mut cut = Vec::new();
        let before = self.faults.len();
        for mark in marks {
            match self.pieces.planned(material.name(), mark) {
                None => {
                    let found = format!("the piece \"{mark}\", which is not to be cut from {bar}");
                    let accepted = "the mark of a piece of the same material, as the plan has it";
                    self.faults.push(statement.fault(found, accepted));
                }
                Some(at) => match self.do_piece(at, stick) {
                    Ok(()) => cut.push(at),
                    Err(other) => self.faults.push(twice(statement, mark, &bar, &other)),
                },
            }
        }
        if self.faults.len() > before {
            return None;
        }
        if marks.is_empty() && left.is_none() {
            let found = format!("{bar} begun, and nothing else");
            let accepted = "the pieces that were cut from it, or what is left of it, or both";
            self.faults.push(statement.fault(found, accepted));
            return None;
        }
        let shapes = cut
            .iter()
            .filter_map(|&at| Some(self.pieces.all.get(at)?.shape));
        let computed = stick.after_cuts(shapes, material);
        let computed = computed.map(|left| left.offcut);
        let too_much = match left {
            Some(left) => left > stick.length.length,
            None => computed.is_none(),
        };
        if too_much {
            let found = match left {
                Some(left) => format!("{} left of {}", left.text(stick.length.unit), stick.length),
                None => format!("pieces that do not fit {bar}, a bar of {}", stick.length),
            };
            let accepted = "pieces that the bar holds, and no more left than it was long";
            self.faults.push(statement.fault(found, accepted));
            return None;
        }
        Some(Fate::Begun(computed.unwrap_or(Length::ZERO), left))
    }

    /// Marks a piece as done; the bar that it is from where it was done before.
    fn do_piece(&mut self, at: usize, stick: &Stick) -> Result<(), String> {
        let Some(piece) = self.pieces.all.get_mut(at) else {
            return Ok(());
        };
        if let State::Done(other) = &piece.state {
            return Err(other.bar.clone());
        }
        piece.state = State::Done(CutFrom {
            bar: stick.name.clone().unwrap_or_default(),
            batch: stick.batch.clone(),
        });
        Ok(())
    }

    fn left(&mut self, sticks: &Sticks, statement: &'a Statement) {
        let Said::Left { bar, left } = &statement.said else {
            return;
        };
        let Some((at, stick)) = self.stick(sticks, statement, bar) else {
            return;
        };
        let unit = stick.length.unit;
        if *left > stick.length.length {
            let found = format!("{} left of {}", left.text(unit), stick.length);
            let accepted = "no more than the bar was long";
            self.faults.push(statement.fault(found, accepted));
            return;
        }
        match self.fates.get_mut(at) {
            Some(Fate::Cut(known) | Fate::Begun(_, known))
                if known.is_none_or(|known| known == *left) =>
            {
                *known = Some(*left);
            }
            Some(Fate::Cut(known) | Fate::Begun(_, known)) => {
                let known = known.unwrap_or(Length::ZERO).text(unit);
                let found = format!("{} left of {bar}, and also {known}", left.text(unit));
                self.faults.push(statement.fault(found, "one of the two"));
            }
            _ => {
                let found = format!("what is left of {bar}, which is not said to be cut");
                let accepted = format!("cut {bar}, or begun {bar} with its pieces, as well");
                self.faults.push(statement.fault(found, accepted));
            }
        }
    }

    /// What is cut of bars that were cut as planned.
    fn cut_as_planned(&mut self, sticks: &Sticks) {
        for (at, stick) in sticks.all.iter().enumerate() {
            let Some(Fate::Cut(measured)) = self.fates.get(at).cloned() else {
                continue;
            };
            let (Some(material), Some(statement), Some(bar)) = (
                self.job.materials().get(stick.material),
                self.said_by.get(&at).copied(),
                &stick.name,
            ) else {
                continue;
            };
            let (cuts, _) = stick.cut_as_planned(measured, material);
            for cut in &cuts {
                let Some(piece) = self.pieces.planned(material.name(), &cut.mark) else {
                    continue;
                };
                if let Err(other) = self.do_piece(piece, stick) {
                    let fault = twice(statement, &cut.mark, bar, &other);
                    self.faults.push(fault);
                }
            }
        }
    }

    fn found(&mut self, sticks: &mut Sticks, statement: &Statement) {
        let Said::Found {
            material,
            length,
            count,
            square_off,
            batch,
        } = &statement.said
        else {
            return;
        };
        let place = match material {
            Some(name) => self.materials.get(&name_key(name)).copied(),
            None => (self.materials.len() == 1).then_some(0),
        };
        let Some(place) = place else {
            let found = match material {
                Some(name) => format!("\"{name}\", of which nothing is left to cut"),
                None => "no material".to_owned(),
            };
            let names = self.job.materials().iter().map(|one| one.name());
            let accepted = format!("a material that is still cut: {}", some_of(names));
            self.faults.push(statement.fault(found, accepted));
            return;
        };
        if length.length.is_zero() || !(1..=LARGEST_QUANTITY).contains(count) {
            let found = format!("{count} of {length}");
            let accepted = format!("1 to {LARGEST_QUANTITY} bars of a length above 0");
            self.faults.push(statement.fault(found, accepted));
            return;
        }
        sticks.all.push(Stick {
            name: None,
            count: *count,
            material: place,
            length: *length,
            square_off: *square_off,
            worth: None,
            batch: batch.trim().to_owned(),
            note: "found".to_owned(),
            planned: Vec::new(),
            is_altered: false,
        });
    }
}

fn twice(statement: &Statement, mark: &str, bar: &str, other: &str) -> Fault {
    let found = if bar == other {
        format!("{mark} cut from {bar} twice")
    } else {
        format!("{mark} cut from {bar}, and also from {other}")
    };
    let accepted =
        "each piece from one bar; a bar that was not cut as planned is begun, with its pieces";
    statement.fault(found, accepted)
}

fn word(fate: &Fate) -> &'static str {
    match fate {
        Fate::Uncut => "not cut",
        Fate::Cut(_) => "cut",
        Fate::Begun(..) => "begun",
        Fate::Bad => "bad",
        Fate::Short(_) => "short",
        Fate::Stretches(_) => "usable in stretches",
    }
}

/// Pieces that are cut and spoiled are to be cut again.
pub(super) fn spoil(pieces: &mut Pieces, happened: &Happened, faults: &mut Vec<Fault>) {
    for statement in &happened.statements {
        if let Said::Spoiled { mark, bar } = &statement.said
            && let Err(fault) = spoil_one(pieces, statement, mark, bar.as_deref())
        {
            faults.push(fault);
        }
    }
}

fn spoil_one(
    pieces: &mut Pieces,
    statement: &Statement,
    mark: &str,
    bar: Option<&str>,
) -> Result<(), Fault> {
    let marked: Vec<usize> = pieces.marked(mark).to_vec();
    let done = |&at: &usize| match pieces.all.get(at).map(|piece| &piece.state) {
        Some(State::Done(from)) => bar.is_none_or(|bar| bar == from.bar),
        _ => false,
    };
    let cut: Vec<usize> = marked.iter().copied().filter(done).collect();
    match cut.as_slice() {
        [one] => {
            if let Some(piece) = pieces.all.get_mut(*one) {
                piece.spoiled = true;
                piece.state = if piece.is_spare() {
                    let spare = piece.mark().to_owned();
                    pieces.remarks.push(Remark::SpareSpoiled { spare });
                    State::UsedUp
                } else {
                    State::ToDo
                };
            }
            Ok(())
        }
        [] => Err(not_cut(pieces, statement, &marked, mark, bar)),
        _ => {
            let found = format!("\"{mark}\", which pieces of several materials are called");
            let accepted = format!("the bar as well, as in spoiled {mark} from A1");
            Err(statement.fault(found, accepted))
        }
    }
}

fn not_cut(
    pieces: &Pieces,
    statement: &Statement,
    marked: &[usize],
    mark: &str,
    bar: Option<&str>,
) -> Fault {
    let first = marked.first().and_then(|&at| pieces.all.get(at));
    let (found, accepted) = match first {
        None => {
            let part = format!("{mark}.1");
            let accepted = if pieces.marked(&part).is_empty() {
                "the mark of a piece that is cut, as the plan has it".to_owned()
            } else {
                format!("which part of it, such as {part}")
            };
            let found = format!("the piece \"{mark}\", which the plan does not have");
            (found, accepted)
        }
        Some(piece) if piece.spoiled => (
            format!("{mark} spoiled twice"),
            "each spoiled piece once".to_owned(),
        ),
        Some(_) => {
            let from = bar.map_or_else(String::new, |bar| format!(" from {bar}"));
            (
                format!("{mark} spoiled, which is not said to be cut{from}"),
                format!(
                    "the bar that it was cut from as well, in a line of its own: cut BAR where all of \
                     the bar is cut, else begun BAR {mark}"
                ),
            )
        }
    };
    statement.fault(found, accepted)
}
