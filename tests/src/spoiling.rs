//! Spoiled cuts played out as a game, by trying everything: you say which piece to cut from which bar
//! next, an opponent says whether the cut is spoiled, so many times at the most.
//!
//! Nothing of the theory of spares is in here, and no code of the library: only bars that get shorter.

use std::collections::HashMap;

use crate::exhaustive::counts_money;
use crate::small::{SmallJob, SmallSold};

/// What can still be cut, what must be, and how often the opponent may spoil it.
type State = (Vec<i64>, Vec<i64>, u64);

/// Whether all pieces can be had from bars of which so much can be used, whatever is spoiled. A piece
/// is spoiled as a whole, and so may be what is cut in its place.
pub fn survives(bars: &[i64], pieces: &[i64], spoils: u64, cut: i64) -> bool {
    let (mut bars, mut pieces) = (bars.to_vec(), pieces.to_vec());
    bars.sort_unstable();
    pieces.sort_unstable();
    play((bars, pieces, spoils), cut, &mut HashMap::new())
}

fn play(state: State, cut: i64, known: &mut HashMap<State, bool>) -> bool {
    let (bars, pieces, spoils) = &state;
    if pieces.is_empty() {
        return true;
    }
    if let Some(&known) = known.get(&state) {
        return known;
    }
    let mut wins = false;
    'moves: for (at, &piece) in pieces.iter().enumerate() {
        if at > 0 && pieces[at - 1] == piece {
            continue;
        }
        for (on, &bar) in bars.iter().enumerate() {
            if bar < piece || (on > 0 && bars[on - 1] == bar) {
                continue;
            }
            let mut after = bars.clone();
            // What the blade finds too little of, it takes.
            after[on] = (bar - piece - cut).max(0);
            after.sort_unstable();
            let mut left = pieces.clone();
            left.remove(at);
            let good = play((after.clone(), left, *spoils), cut, known);
            let spoiled = || *spoils == 0 || play((after, pieces.clone(), *spoils - 1), cut, known);
            if good && spoiled() {
                wins = true;
                break 'moves;
            }
        }
    }
    known.insert(state, wins);
    wins
}

/// The least that bars cost with which a job survives, by trying every mix of bars in the order of their
/// cost; in the units of [`Best`](crate::exhaustive::Best). `None` where there is none. For jobs whose
/// bars are sold singly.
///
/// # Panics
/// Where bars are sold otherwise.
pub fn least_to_survive(job: &SmallJob, spoils: u64) -> Option<i128> {
    let money = counts_money(job);
    let pieces: Vec<i64> = job
        .pieces
        .iter()
        .flat_map(|&(length, qty)| (0..qty).map(move |_| length))
        .collect();
    let most = pieces.len() as u64 + spoils;
    // Usable length, cost, how many.
    let bought = job.stock.iter().map(|bar| {
        assert_eq!(bar.sold, SmallSold::Each, "bars are sold singly here");
        let cost = if money {
            i128::from(bar.pence) * 1_000_000_000
        } else {
            i128::from(bar.length) * i128::from(job.grain_nm)
        };
        let usable = bar.length - job.square.0 - job.square.1;
        (usable, cost, bar.available.unwrap_or(most))
    });
    let in_hand = job.in_hand.iter().map(|bar| {
        let worth = if money { bar.worth.unwrap_or(0) } else { 0 };
        let usable = bar.length - bar.square.0 - bar.square.1;
        (usable, i128::from(worth) * 1_000_000_000, bar.available)
    });
    let mut mixes: Vec<(i128, Vec<i64>)> = vec![(0, vec![])];
    for (usable, cost, count) in bought.chain(in_hand).filter(|(usable, ..)| *usable > 0) {
        let with = |(so_far, bars): &(i128, Vec<i64>)| -> Vec<(i128, Vec<i64>)> {
            (0..=count.min(most))
                .map(|count| {
                    let more = std::iter::repeat_n(usable, count as usize); // small numbers
                    let bars = bars.iter().copied().chain(more).collect();
                    (so_far + cost * i128::from(count), bars)
                })
                .collect()
        };
        mixes = mixes.iter().flat_map(with).collect();
    }
    mixes.sort_unstable();
    let cut = job.kerf + job.per_cut;
    let needed: i64 = pieces.iter().sum();
    mixes
        .into_iter()
        .filter(|(_, bars)| bars.iter().sum::<i64>() >= needed)
        .find(|(_, bars)| survives(bars, &pieces, spoils, cut))
        .map(|(cost, _)| cost)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Arithmetic: two of 50 from 100 leave nothing for a spoiled one; 153 do with a blade of 1.
    #[test]
    fn small_games() {
        assert!(survives(&[100], &[50, 50], 0, 0));
        assert!(!survives(&[100], &[50, 50], 1, 0));
        assert!(survives(&[152], &[50, 50], 1, 1));
        assert!(!survives(&[151], &[50, 50], 1, 1));
        // What is left of the long one makes good the short one, but nothing makes good the long one.
        assert!(!survives(&[100], &[60, 30], 1, 0));
        assert!(survives(&[100, 60], &[60, 30], 1, 0));
        assert!(!survives(&[100, 60], &[60, 30], 2, 0));
    }
}
