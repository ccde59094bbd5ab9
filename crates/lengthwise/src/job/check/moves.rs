//! Pieces that move more with heat than their gaps leave room for.

use crate::job::{Material, Note, Piece, Saw};

/// Notes every row whose longest piece moves more than its gaps leave.
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
        let movement = expansion.movement(piece.length, range);
        let Piece {
            origin,
            length,
            end_gap,
            ..
        } = piece;
        if end_gap.total() < movement {
            notes.push(Note::MovesMoreThanItsGaps {
                origin: origin.clone(),
                mark: piece.copy_mark(0),
                length: *length,
                gaps: end_gap.total(),
                movement,
                range,
                unit: material.unit,
            });
        }
    }
}
