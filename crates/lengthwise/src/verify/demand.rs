//! Every piece that is asked for is cut exactly once, and nothing else is cut.

use super::refusal::Breach;
use crate::job::Material;
use crate::length::Length;
use crate::plan::BarGroup;

/// Matches the marks in the plan with the copies of the pieces, one to one.
///
/// O(n log n) comparisons of marks, and no more memory than three words for each piece.
pub(super) fn check_demand(material: &Material, bars: &[BarGroup]) -> Result<(), Breach> {
    let mut cut: Vec<(&str, Length)> = bars
        .iter()
        .flat_map(|group| &group.cuts)
        .flat_map(|cut| cut.marks.iter().map(|mark| (mark.as_str(), cut.length)))
        .collect();
    cut.sort_unstable();
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
            let Some((&(_, length), asked)) = place
                .ok()
                .and_then(|at| cut.get(at).zip(asked.get_mut(at)))
                .filter(|(_, asked)| !**asked)
            else {
                return Err(Breach::NotCut { mark });
            };
            *asked = true;
            if length != piece.length() {
                return Err(Breach::WrongLength {
                    mark,
                    plan: length,
                    job: piece.length(),
                });
            }
        }
    }
    match cut.iter().zip(&asked).find(|(_, asked)| !**asked) {
        Some(((mark, _), _)) => Err(Breach::NoSuchPiece {
            mark: (*mark).to_owned(),
        }),
        None => Ok(()),
    }
}
