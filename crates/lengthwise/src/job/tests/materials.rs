//! What the stock states for its material, and movement with heat.

use super::*;
use crate::fault::FaultKind::{Range, RowsDiffer};

fn expansion(text: &str) -> Option<Expansion> {
    Expansion::from_decimal(text.parse().unwrap())
}

fn range(text: &str) -> Option<TemperatureRange> {
    TemperatureRange::from_decimal(text.parse().unwrap())
}

#[test]
fn stated_alike_or_not_at_all() {
    let other_row = |change: fn(&mut StockRow, u32)| {
        move |job: &mut JobInput| {
            job.stock.push(stock(3, "", 4000));
            job.stock.push(stock(4, "", 4800));
            change(&mut job.stock[0], 2);
            change(&mut job.stock[2], 3);
        }
    };
    for (column, change) in [
        (
            "shortest",
            (|row, n| row.shortest = Some(Length::from_mm(n))) as fn(&mut StockRow, u32),
        ),
        ("save_from", |row, n| {
            row.save_from = Some(Length::from_mm(n))
        }),
        ("expansion", |row, n| {
            row.expansion = Expansion::from_decimal(n.into())
        }),
    ] {
        one_fault(RowsDiffer, "stock", 4, column, other_row(change));
    }
    one_fault(Range, "stock", 2, "shortest", |job| {
        job.stock[0].shortest = Some(Length::ZERO);
    });
    let job = job(|job| {
        job.saw.save_from = Length::from_mm(500);
        job.stock[0].save_from = Some(Length::from_mm(100));
        job.stock[0].expansion = expansion("60");
        job.stock.push(stock(3, "", 4000));
        job.pieces.push(piece(3, "ash", "G", 100, 1));
        job.pieces[0].material = "oak".into();
        for row in &mut job.stock {
            row.material = "oak".into();
        }
        job.stock.push(stock(4, "ash", 3000));
    });
    let saved: Vec<Length> = job.materials().iter().map(Material::save_from).collect();
    assert_eq!(saved, [100, 500].map(Length::from_mm));
    assert_eq!(job.materials()[0].expansion(), expansion("60"));
}

#[test]
fn numbers_of_heat() {
    for (text, shown) in [
        ("0", "0"),
        ("60", "60"),
        ("12.50", "12.5"),
        ("0.001", "0.001"),
        ("1000", "1000"),
    ] {
        assert_eq!(
            expansion(text).map(|it| it.to_string()).as_deref(),
            Some(shown)
        );
    }
    for wrong in ["-1", "1000.001", "0.0001", "79228162514264337593543950335"] {
        assert_eq!(expansion(wrong), None, "{wrong}");
        assert_eq!(range(wrong), None, "{wrong}");
    }
    assert_eq!(range("0"), None);
    // Rounded up to a nanometre: 1 nm x 0.001 x 0.001 K is far below one.
    let least = expansion("0.001")
        .unwrap()
        .movement(Length::from_nm(1).unwrap(), range("0.001").unwrap());
    assert_eq!(least.nm(), 1);
    let most = expansion("1000")
        .unwrap()
        .movement(Length::MAX, range("1000").unwrap());
    assert_eq!(most, Length::MAX); // 10^-3 x 10^3 of it
}

/// The job of one piece of 5000 with these gaps, in a plastic of 60 over 40 K: 12 mm.
fn heated(near: u32, far: u32) -> Vec<String> {
    let job = job(|job| {
        job.stock[0].length = mm(6000);
        job.stock[0].expansion = expansion("60");
        job.saw.temperature_range = range("40");
        let end_gap = EndGap {
            near: Length::from_mm(near),
            far: Length::from_mm(far),
        };
        job.pieces = vec![PieceRow {
            end_gap,
            ..piece(2, "", "S", 5000 + near + far, 2)
        }];
    });
    job.notes().iter().map(ToString::to_string).collect()
}

#[test]
fn gaps_smaller_than_the_movement_are_pointed_out() {
    let warning = "pieces, line 2: S-01 of 5000mm moves 12mm over 40 K, and its end gaps leave 10mm; \
                   the maker's table goes first";
    assert!(heated(5, 5).contains(&warning.to_owned()));
    assert!(heated(0, 11).iter().any(|note| note.contains("leave 11mm")));
    assert!(heated(0, 0).iter().any(|note| note.contains("leave 0mm")));
    assert!(!heated(6, 6).iter().any(|note| note.contains(" moves 12mm")));
    // Timber's moisture is named either way.
    assert!(
        heated(6, 6)
            .iter()
            .any(|note| note.contains("moisture, which is not covered"))
    );
}

/// Two boards of a rake, 5000 and 5010: the longer one moves 12.024 mm, said of the row once.
#[test]
fn the_longest_of_a_row_is_told_rounded_up() {
    let job = job(|job| {
        job.stock[0].length = mm(6000);
        job.stock[0].expansion = expansion("60");
        job.saw.temperature_range = range("40");
        let raked = PieceRow {
            to: Some(mm(5010)),
            ..piece(2, "", "S", 5000, 2)
        };
        job.pieces = vec![raked, piece(3, "", "T", 2500, 1)];
    });
    let notes = job.notes().iter().map(ToString::to_string);
    let moves: Vec<String> = notes.filter(|note| note.contains(" over 40 K")).collect();
    let words = [
        "pieces, line 2: S-02 of 5010mm moves 12.1mm over 40 K, and its end gaps leave 0mm; the \
         maker's table goes first",
        "pieces, line 3: T of 2500mm moves 6mm over 40 K, and its end gaps leave 0mm; the maker's \
         table goes first",
    ];
    assert_eq!(moves, words);
}

/// What is said of the heat of a run of this length without gaps, of 60 over 40 K, which is 2.4 mm for each metre;
/// the bars are of so many millimetres, and there are so many, or as many as wanted.
fn heat_of_run(row: PieceRow, bars: &[(u32, Option<u64>)]) -> Option<String> {
    let job = job(|job| {
        let bar = |&(length, available): &(u32, Option<u64>)| StockRow {
            expansion: expansion("60"),
            available,
            ..stock(2, "", length)
        };
        job.stock = bars.iter().map(bar).collect();
        job.saw.temperature_range = range("40");
        job.pieces = vec![row];
    });
    let mut notes = job.notes().iter().map(ToString::to_string);
    let note = notes.find(|note| note.contains(" over 40 K"))?;
    assert!(notes.all(|note| !note.contains(" over 40 K")));
    Some(note.split(" over ").next()?.replace("pieces, line 2: ", ""))
}

fn run(length: u32) -> PieceRow {
    PieceRow {
        joints: Some(Joints::Anywhere),
        ..piece(2, "", "R", length, 1)
    }
}

/// A run that has to be joined moves part by part; one that a bar holds moves as a whole.
#[test]
fn parts_of_runs_move_by_themselves() {
    let of = |length, bars: &[_]| heat_of_run(run(length), bars).unwrap();
    let (whole, parts) = (
        |length, moves| format!("R of {length}mm moves {moves}mm"),
        |part, moves| format!("a part of R, up to {part}mm long, moves {moves}mm"),
    );
    assert_eq!(of(5000, &[(3000, None)]), parts(3000, "7.2"));
    assert_eq!(of(3000, &[(3000, None)]), whole(3000, "7.2"));
    assert_eq!(of(3001, &[(3001, None), (2000, None)]), whole(3001, "7.3"));
    // A longer bar that is scarce may give a part; whole it is only where all bars are scarce.
    let scarce = [(3000, None), (4000, Some(1))];
    assert_eq!(of(5000, &scarce), parts(4000, "9.6"));
    assert_eq!(of(3500, &scarce), parts(3500, "8.4"));
    let all = [(3000, Some(2)), (4000, Some(1))];
    assert_eq!(of(3500, &all), whole(3500, "8.4"));
    assert_eq!(of(4500, &all), parts(4000, "9.6"));
    // One that cannot be had is none.
    let none = [(3000, None), (9000, Some(0))];
    assert_eq!(of(5000, &none), parts(3000, "7.2"));
    assert_eq!(
        of(3500, &[(3000, Some(2)), (9000, Some(0))]),
        parts(3000, "7.2")
    );
    // Joined wherever it is told to be; and with mitred ends no bar of its length holds it.
    let told = PieceRow {
        joints_max: Some(2),
        ..run(2500)
    };
    assert_eq!(heat_of_run(told, &[(3000, None)]), Some(parts(2500, "6")));
    let mitred = PieceRow {
        ends: Ends {
            near: Angle::from_hundredths(3000).unwrap(),
            far: Angle::SQUARE,
        },
        ..run(3000)
    };
    assert_eq!(
        heat_of_run(mitred, &[(3000, None)]),
        Some(parts(3000, "7.2"))
    );
}

/// Parts of 3000 move 7.2 mm: gaps of that are enough, at the joints and at the ends.
#[test]
fn gaps_of_runs_are_held_against_their_parts() {
    let tenths = |tenths: i64| Length::from_nm(tenths * 100_000).unwrap();
    let said = |joint: i64, near: i64, far: i64| {
        let end_gap = EndGap {
            near: tenths(near),
            far: tenths(far),
        };
        let job = job(|job| {
            job.stock[0].expansion = expansion("60");
            job.saw.temperature_range = range("40");
            job.pieces = vec![PieceRow {
                joint_gap: Some(tenths(joint)),
                end_gap,
                ..run(5000)
            }];
        });
        let mut notes = job.notes().iter();
        notes.find_map(|note| match note {
            Note::PartsMoveMoreThanTheirGaps {
                at_joints, at_ends, ..
            } => Some((*at_joints, *at_ends)),
            _ => None,
        })
    };
    assert_eq!(said(72, 36, 36), None);
    let (joint, ends) = (Some(tenths(71)), Some(tenths(71)));
    assert_eq!(said(71, 36, 36), Some((joint, None)));
    assert_eq!(said(72, 36, 35), Some((None, ends)));
    assert_eq!(said(71, 35, 36), Some((joint, ends)));
}

#[test]
fn movement_that_cannot_be_checked_is_said() {
    let job = job(|job| job.stock[0].expansion = expansion("60"));
    let unchecked = Note::MovementNotChecked {
        material: String::new(),
    };
    assert!(job.notes().contains(&unchecked));
    assert!(!job.notes().contains(&Note::MovementOfHeatOnly));
}
