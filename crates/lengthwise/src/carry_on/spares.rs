//! Spares in the place of spoiled pieces.

use super::pieces::{Piece, Pieces, Remark, State};
use super::sticks::{Fate, Sticks};
use super::walls::may_come_from;
use crate::job::{Job, Shape, name_key};
use crate::length::Length;

/// What the mark of a spare has behind that of its row.
const ENDING: &str = "-spare";

/// A spare that is cut serves; else one that is not cut yet gives up its place.
///
/// A spare serves if it is as long as the piece, or longer and of the same row. One that fits is taken
/// before one that must be trimmed. With `any`, one that is not cut yet gives way to any piece it holds.
pub(super) fn take_their_places(pieces: &mut Pieces, any: bool) {
    let spoiled = pieces.all.iter().enumerate();
    let spoiled = spoiled.filter(|(_, piece)| piece.spoiled && piece.is_to_do());
    let spoiled: Vec<usize> = spoiled.map(|(at, _)| at).collect();
    for at in spoiled {
        let Some(piece) = pieces.all.get(at).cloned() else {
            continue;
        };
        let is_done = |spare: &Piece| matches!(spare.state, State::Done(_));
        if let Some(spare) = best(pieces, &piece, false, is_done) {
            serve(pieces, at, &piece, spare);
        } else if let Some(spare) = best(pieces, &piece, any, Piece::is_to_do) {
            give_way(pieces, at, &piece, spare);
        }
    }
}

/// The spare that serves best.
fn best(
    pieces: &Pieces,
    piece: &Piece,
    any: bool,
    is_so: impl Fn(&Piece) -> bool,
) -> Option<usize> {
    let serves = |spare: &Piece| {
        let (asked, there): (Shape, Shape) = (piece.shape, spare.shape);
        let may_be_longer = any || family(spare.mark()) == family(piece.mark());
        let ends = asked.ends == there.ends || any && asked.ends.are_square();
        let is_of_its_wall = !pieces.batched.contains(&piece.material)
            || name_key(&spare.row.wall) == name_key(&piece.row.wall);
        // Of one that is not cut yet the place is given up, and it need not be on the same bar.
        let is_of_another_batch = |spare: &Piece| match &spare.state {
            State::Done(from) => !may_come_from(&piece.row, &from.batch),
            _ => false,
        };
        spare.is_spare()
            && is_of_its_wall
            && !is_of_another_batch(spare)
            && spare.material == piece.material
            && !is_for_a_bar(spare)
            && ends
            && (asked.length == there.length || asked.length < there.length && may_be_longer)
    };
    let spares = pieces.all.iter().enumerate();
    let spares = spares.filter(|(_, spare)| is_so(spare) && serves(spare));
    let best = spares.min_by_key(|(at, spare)| {
        let is_other = family(spare.mark()) != family(piece.mark());
        let fits = spare.shape.length == piece.shape.length;
        (!fits && is_other, spare.shape.length, *at)
    });
    best.map(|(at, _)| at)
}

/// The mark of the row that a copy or a spare of it is named after.
fn family(mark: &str) -> &str {
    let head = match mark.rsplit_once('-') {
        Some((head, digits))
            if !digits.is_empty() && digits.bytes().all(|byte| byte.is_ascii_digit()) =>
        {
            head
        }
        _ => mark,
    };
    // A mark that was taken already got a prime behind the ending.
    let spare = head.trim_end_matches('\'').strip_suffix(ENDING);
    spare.unwrap_or(head)
}

/// Whether a spare stands for a whole bar.
pub(super) fn is_for_a_bar(spare: &Piece) -> bool {
    spare.is_spare() && spare.row.for_bar
}

/// Of each material with a bad bar one spare for a whole bar is not needed any more.
pub(super) fn stand_in_for_bars(pieces: &mut Pieces, sticks: &Sticks, fates: &[Fate], job: &Job) {
    for (place, material) in job.materials().iter().enumerate() {
        let both = sticks.all.iter().zip(fates);
        let mut of_material = both.filter(|(stick, _)| stick.material == place);
        if !of_material.any(|(_, fate)| *fate == Fate::Bad) {
            continue;
        }
        let mut all = pieces.all.iter_mut();
        let spare = all.find(|spare| {
            spare.material == material.name() && spare.is_to_do() && is_for_a_bar(spare)
        });
        if let Some(spare) = spare {
            spare.state = State::Gone;
            let spare = spare.mark().to_owned();
            pieces.remarks.push(Remark::InPlaceOfBar { spare });
        }
    }
}

fn serve(pieces: &mut Pieces, at: usize, piece: &Piece, by: usize) {
    let Some(spare) = pieces.all.get_mut(by) else {
        return;
    };
    let state = std::mem::replace(&mut spare.state, State::UsedUp);
    let trim = spare.shape.length.checked_sub(piece.shape.length);
    let remark = Remark::SpareServes {
        piece: piece.mark().to_owned(),
        spare: spare.mark().to_owned(),
        trim: trim.unwrap_or(Length::ZERO),
        unit: piece.row.length.unit,
    };
    pieces.remarks.push(remark);
    if let Some(piece) = pieces.all.get_mut(at) {
        piece.state = state;
    }
}

/// The piece is cut where the spare was going to be. A spare run is not needed as a whole then.
fn give_way(pieces: &mut Pieces, at: usize, piece: &Piece, by: usize) {
    let Some(spare) = pieces.all.get(by) else {
        return;
    };
    let remark = Remark::InPlaceOfSpare {
        piece: piece.mark().to_owned(),
        spare: spare.mark().to_owned(),
    };
    let parts = match &spare.part {
        None => vec![by],
        Some((_, run)) => match pieces.runs.get(*run) {
            Some(run) if pieces.is_free(run) => run.parts.clone(),
            // Of a spare run that is cut in part the other parts are pieces of their own.
            _ => vec![by],
        },
    };
    for part in parts {
        if let Some(part) = pieces.all.get_mut(part) {
            part.state = State::Gone;
        }
    }
    if let Some(spare) = pieces.all.get_mut(by) {
        spare.replaced_by = Some(at);
    }
    pieces.remarks.push(remark);
}

#[cfg(test)]
mod tests {
    use super::family;

    #[test]
    fn copies_and_spares_are_named_after_their_row() {
        for (mark, row) in [
            ("LS-05", "LS"),
            ("LS-spare", "LS"),
            ("LS-spare-02", "LS"),
            ("LS-spare'", "LS"),
            ("bar-spare'-02", "bar"),
            ("wall 3", "wall 3"),
            ("K-2b", "K-2b"),
        ] {
            assert_eq!(family(mark), row);
        }
    }
}
