//! Pieces that move more with heat than their gaps leave room for.

use crate::job::{Bar, Expansion, Material, Note, Piece, Run, Saw, TemperatureRange};
use crate::length::Length;

/// Notes every row whose longest piece, or the longest part of it, moves more than its gaps leave.
pub(super) fn note_movement(material: &Material, saw: &Saw, notes: &mut Vec<Note>) {
    let Some(expansion) = material.expansion else {
        return;
    };
    let Some(range) = saw.temperature_range else {
        notes.push(Note::MovementNotChecked {
            material: material.name.clone(),
        });
        return;
    };
    if !notes.contains(&Note::MovementOfHeatOnly) {
        notes.push(Note::MovementOfHeatOnly);
    }
    let rows = material.pieces.chunk_by(|one, next| one.row == next.row);
    // Its gaps are those of the row, so the longest lacks most.
    let longest = rows.filter_map(|row| row.iter().max_by_key(|piece| piece.length));
    for piece in longest {
        let joined = piece
            .run
            .as_ref()
            .filter(|run| may_be_parted(material, piece, run));
        let note = match joined {
            Some(run) => note_of_run(material, piece, run, expansion, range),
            None => note_of_piece(material, piece, expansion, range),
        };
        notes.extend(note);
    }
}

fn note_of_piece(
    material: &Material,
    piece: &Piece,
    expansion: Expansion,
    range: TemperatureRange,
) -> Option<Note> {
    let movement = expansion.movement(piece.length, range);
    (piece.end_gap.total() < movement).then(|| Note::MovesMoreThanItsGaps {
        origin: piece.origin.clone(),
        mark: piece.copy_mark(0),
        length: piece.length,
        gaps: piece.end_gap.total(),
        movement,
        range,
        unit: material.unit,
    })
}

/// A gap at a joint is shared by the parts on both sides and takes half of each; at the ends it takes
/// half of a part as well, so both ends together are compared with one part.
fn note_of_run(
    material: &Material,
    piece: &Piece,
    run: &Run,
    expansion: Expansion,
    range: TemperatureRange,
) -> Option<Note> {
    let part = piece.length.min(longest_bar(material, |_| true)?);
    let movement = expansion.movement(part, range);
    let too_small = |gap: Length| (gap < movement).then_some(gap);
    let (at_joints, at_ends) = (too_small(run.joint_gap), too_small(piece.end_gap.total()));
    (at_joints.is_some() || at_ends.is_some()).then(|| Note::PartsMoveMoreThanTheirGaps {
        origin: piece.origin.clone(),
        mark: piece.copy_mark(0),
        part,
        at_joints,
        at_ends,
        movement,
        range,
        unit: material.unit,
    })
}

/// Whether a plan may join it at all: its rule says so, or no bar that can be had without limit, or no
/// bar at all where all are scarce, holds it.
fn may_be_parted(material: &Material, piece: &Piece, run: &Run) -> bool {
    let takes = piece
        .length
        .checked_add(material.mitre_allowance(piece.ends));
    let whole = longest_bar(material, |bar| bar.bars_available().is_none())
        .or_else(|| longest_bar(material, |_| true));
    run.joints_max.is_some() || takes.is_none_or(|takes| whole.is_none_or(|whole| takes > whole))
}

/// The longest usable length of the bars that can be had and are `such`.
fn longest_bar(material: &Material, such: impl Fn(&Bar) -> bool) -> Option<Length> {
    let bars = material.bars.iter();
    let there = bars.filter(|bar| bar.bars_available() != Some(0) && such(bar));
    there.map(Bar::usable).max()
}
