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

#[test]
fn movement_that_cannot_be_checked_is_said() {
    let job = job(|job| job.stock[0].expansion = expansion("60"));
    let unchecked = Note::MovementNotChecked {
        material: String::new(),
    };
    assert!(job.notes().contains(&unchecked));
    assert!(!job.notes().contains(&Note::MovementOfHeatOnly));
}
