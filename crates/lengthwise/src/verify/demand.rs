//! Every piece that is asked for is cut exactly once, and nothing else is cut.

use super::facts::{Facts, length, nm};
use super::joined::{check_alike, check_runs, check_spare};
use super::refusal::{Breach, RunBreach};
use crate::job::Piece;
use crate::plan::{BarGroup, Cut, RunPart};

/// What a plan cuts by its marks, and what was asked for so far.
pub(super) struct Marked<'p> {
    /// By mark.
    cut: Vec<(&'p str, &'p Cut, Option<&'p RunPart>)>,
    asked: Vec<bool>,
}

impl<'p> Marked<'p> {
    fn of(bars: &'p [BarGroup]) -> Result<Marked<'p>, Breach> {
        let cuts = bars.iter().flat_map(|group| &group.cuts);
        let marks = cuts.flat_map(|cut| {
            // No parts, or one for each mark.
            let parts = cut.parts.iter().map(Some);
            let parts = parts.chain(std::iter::repeat(None));
            let both = cut.marks.iter().zip(parts);
            both.map(move |(mark, part)| (mark.as_str(), cut, part))
        });
        let mut cut: Vec<_> = marks.collect();
        cut.sort_unstable_by_key(|(mark, ..)| *mark);
        let twice = cut.iter().zip(cut.iter().skip(1));
        if let Some(((mark, ..), _)) = twice.into_iter().find(|(one, next)| one.0 == next.0) {
            return Err(Breach::CutTwice {
                mark: (*mark).to_owned(),
            });
        }
        let asked = vec![false; cut.len()];
        Ok(Marked { cut, asked })
    }

    /// The cut with this mark, unless it was taken.
    pub fn take(&mut self, mark: &str) -> Option<(&'p Cut, Option<&'p RunPart>)> {
        let place = self.cut.binary_search_by(|(other, ..)| (*other).cmp(mark));
        let at = place.ok()?;
        let asked = self.asked.get_mut(at).filter(|asked| !**asked)?;
        *asked = true;
        self.cut.get(at).map(|&(_, cut, part)| (cut, part))
    }

    /// A mark that nobody took.
    fn left(&self) -> Option<&'p str> {
        let both = self.cut.iter().zip(&self.asked);
        let mut left = both.filter(|(_, asked)| !**asked);
        left.next().map(|((mark, ..), _)| *mark)
    }
}

/// Matches the marks in the plan with the copies of the pieces, one to one, and the parts of runs with
/// what their rules allow.
///
/// O(n log n) comparisons of marks, and no more memory than four words for each piece.
pub(super) fn check_demand(facts: &Facts<'_>, bars: &[BarGroup]) -> Result<(), Breach> {
    for group in bars {
        check_alike(group)?;
    }
    let mut marked = Marked::of(bars)?;
    let pieces = facts.material.pieces().iter();
    for piece in pieces.filter(|piece| piece.run().is_none()) {
        for copy in 0..piece.qty() {
            let mark = piece.copy_mark(copy);
            let Some((cut, part)) = marked.take(&mark) else {
                return Err(Breach::NotCut { mark });
            };
            if part.is_some() {
                return Err(RunBreach::PartOfNoRun { mark }.into());
            }
            check_cut(piece, mark, cut)?;
        }
    }
    check_runs(facts, &mut marked)?;
    match marked.left() {
        Some(mark) => Err(Breach::NoSuchPiece {
            mark: mark.to_owned(),
        }),
        None => Ok(()),
    }
}

/// Whether a piece is cut as it is asked for: the opening less its gaps and
/// what is left long, its ends, as a spare or not.
fn check_cut(piece: &Piece, mark: String, cut: &Cut) -> Result<(), Breach> {
    let gap = piece.end_gap();
    let asked = nm(piece.opening()) - nm(gap.near) - nm(gap.far) + nm(piece.leave_long());
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
    check_spare(piece, mark, cut)
}
