//! Every piece that is asked for is cut exactly once, and nothing else is cut.

use super::facts::{length, nm};
use super::refusal::Breach;
use crate::job::{Material, Piece};
use crate::plan::{BarGroup, Cut};

/// Matches the marks in the plan with the copies of the pieces, one to one.
///
/// O(n log n) comparisons of marks, and no more memory than three words for each piece.
pub(super) fn check_demand(material: &Material, bars: &[BarGroup]) -> Result<(), Breach> {
    let mut cut: Vec<(&str, &Cut)> = bars
        .iter()
        .flat_map(|group| &group.cuts)
        .flat_map(|cut| cut.marks.iter().map(move |mark| (mark.as_str(), cut)))
        .collect();
    cut.sort_unstable_by_key(|(mark, _)| *mark);
    let twice = cut.iter().zip(cut.iter().skip(1));
    if let Some(((mark, _), _)) = twice.into_iter().find(|(one, next)| one.0 == next.0) {
        return Err(Breach::CutTwice {
            mark: (*mark).to_owned(),
        });
    }
    let mut asked = vec![false; cut.len()];
    for piece in material.pieces() {
        for copy in 0..piece.qty() {
            let mark = piece.copy_mark(copy);
            let place = cut.binary_search_by(|(other, _)| (*other).cmp(mark.as_str()));
            let Some((&(_, cut), asked)) = place
                .ok()
                .and_then(|at| cut.get(at).zip(asked.get_mut(at)))
                .filter(|(_, asked)| !**asked)
            else {
                return Err(Breach::NotCut { mark });
            };
            *asked = true;
            check_cut(piece, mark, cut)?;
        }
    }
    match cut.iter().zip(&asked).find(|(_, asked)| !**asked) {
        Some(((mark, _), _)) => Err(Breach::NoSuchPiece {
            mark: (*mark).to_owned(),
        }),
        None => Ok(()),
    }
}

/// Whether a piece is cut as it is asked for: the opening less its gaps, its ends, as a spare or not.
fn check_cut(piece: &Piece, mark: String, cut: &Cut) -> Result<(), Breach> {
    let gap = piece.end_gap();
    let asked = nm(piece.opening()) - nm(gap.near) - nm(gap.far);
    if nm(cut.length) != asked {
        return Err(Breach::WrongLength {
            mark,
            plan: cut.length,
            job: length(asked)?,
        });
    }
    if cut.ends != piece.ends() {
        return Err(Breach::WrongEnds {
            mark,
            plan: cut.ends,
            job: piece.ends(),
        });
    }
    match (cut.spare, piece.is_spare()) {
        (true, false) => Err(Breach::SpareNotAsked { mark }),
        (false, true) => Err(Breach::SpareNotSaid { mark }),
        _ => Ok(()),
    }
}
