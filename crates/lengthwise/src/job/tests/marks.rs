//! The marks of copies.

use super::*;

/// The mark of a copy is told from any other without writing all of them.
#[test]
fn a_copy_is_known_by_its_mark() {
    let input = JobInput {
        pieces: vec![
            piece(2, "", "F", 900, 12),
            piece(3, "", "F-1", 900, 1),
            piece(4, "", "F", 800, 3),
        ],
        stock: vec![stock(2, "", 3000)],
        ..JobInput::default()
    };
    let job = input.validate().unwrap();
    let pieces = job.materials()[0].pieces();
    let marks: Vec<(usize, String)> = pieces
        .iter()
        .enumerate()
        .flat_map(|(at, piece)| (0..piece.qty()).map(move |copy| (at, piece.copy_mark(copy))))
        .collect();
    assert_eq!(marks.len(), 16);
    for (place, piece) in pieces.iter().enumerate() {
        for (at, mark) in &marks {
            assert_eq!(piece.has_copy(mark), place == *at, "{mark}");
        }
        let others = [
            "F", "F-", "F-1", "F-001", "F-+1", "F-16", "F-00", "G-01", "",
        ];
        for other in others {
            let is_own = other == "F-1" && piece.mark() == "F-1";
            assert_eq!(piece.has_copy(other), is_own, "{other}");
        }
    }
}
