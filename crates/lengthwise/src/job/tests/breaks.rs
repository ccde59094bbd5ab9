//! Price breaks: which can be had, what is bought at them, and rows that make no sense.

use super::*;
use crate::job::breaks::MOST_BREAKS;

fn breaks(of: &[(u64, &str)]) -> Vec<PriceBreak> {
    let of = of.iter().map(|&(from, text)| PriceBreak {
        from,
        price: price(text),
    });
    of.collect()
}

/// Pieces of 900 and one row of stock.
fn with(row: StockRow) -> Job {
    job(|job| {
        job.pieces = vec![piece(2, "", "F", 900, 4)];
        job.stock = vec![row];
    })
}

fn row(length: u32, first: &str, sold: Sold, there: Option<u64>, of: &[(u64, &str)]) -> StockRow {
    StockRow {
        price: Some(price(first)),
        sold,
        available: there,
        breaks: breaks(of),
        ..stock(2, "", length)
    }
}

/// Place and least sales of each price that can be had.
fn tiers(row: StockRow) -> Vec<(usize, u64)> {
    let job = with(row);
    let tiers = job.materials()[0].bars()[0].tiers();
    tiers.iter().map(|tier| (tier.place, tier.sales)).collect()
}

#[test]
fn prices_that_can_be_had() {
    let two = [(3, "8"), (5, "7")];
    let each = |there| tiers(row(1000, "9", Sold::Each, there, &two));
    assert_eq!(each(None), [(0, 0), (1, 3), (2, 5)]);
    assert_eq!(each(Some(5)), [(0, 0), (1, 3), (2, 5)]);
    assert_eq!(each(Some(4)), [(0, 0), (1, 3)]);
    let packs = |there| tiers(row(1000, "9", Sold::Pack(2), Some(there), &two));
    assert_eq!(packs(5), [(0, 0), (1, 3), (2, 5)]);
    assert_eq!(packs(4), [(0, 0), (1, 3)]);
}

/// By the metre whole bars count: 4.2 m make one, 21 m just five, 22 m six.
#[test]
fn prices_by_the_metre_hold_from_whole_bars() {
    let metres = |of: &[(u64, &str)]| tiers(row(4200, "3", Sold::PerMetre, None, of));
    assert_eq!(metres(&[(21, "2")]), [(0, 0), (1, 5)]);
    assert_eq!(metres(&[(22, "2")]), [(0, 0), (1, 6)]);
    // One bar is enough for the lower price, so the other is never paid.
    assert_eq!(metres(&[(4, "2")]), [(1, 0)]);
    // Both take two bars, and the second is lower.
    assert_eq!(metres(&[(5, "2"), (8, "1")]), [(0, 0), (2, 2)]);
    assert_eq!(metres(&[(5, "2"), (9, "1")]), [(0, 0), (1, 2), (2, 3)]);
    // What the first bar has holds for no bar too.
    let none = |of: &[(u64, &str)]| tiers(row(4200, "3", Sold::PerMetre, Some(0), of));
    assert_eq!(none(&[(4, "2"), (5, "1")]), [(1, 0)]);
}

#[test]
fn the_cheapest_way_to_so_many_bars() {
    let cheapest = |of: &[(u64, &str)], bars: u64| {
        let job = with(row(1000, "9", Sold::Each, None, of));
        job.materials()[0].bars()[0].cheapest_sales(bars)
    };
    let of = [(3, "5")];
    assert_eq!(cheapest(&of, 0), Some((0, price("9"), price("0"))));
    assert_eq!(cheapest(&of, 1), Some((1, price("9"), price("9"))));
    assert_eq!(cheapest(&of, 2), Some((3, price("5"), price("15"))));
    assert_eq!(cheapest(&of, 4), Some((4, price("5"), price("20"))));
    // At the same cost the fewest.
    assert_eq!(cheapest(&[(3, "6")], 2), Some((2, price("9"), price("18"))));
}

#[test]
fn breaks_that_make_no_sense() {
    let range = |change: fn(&mut StockRow)| {
        faults(|job| {
            job.stock[0].price = Some(price("9"));
            change(&mut job.stock[0]);
        })
    };
    let one = vec![(FaultKind::Range, "stock".to_owned(), 2, "price".to_owned())];
    let many = |count: usize| {
        let of = (0..count).map(|place| PriceBreak {
            from: 2 + place as u64,
            price: Price::from_decimal(Decimal::new(800 - place as i64, 2)).unwrap(),
        });
        of.collect::<Vec<_>>()
    };
    // Each is the last that is allowed, and the first that is not.
    assert_eq!(range(|row| row.breaks = breaks(&[(2, "8")])), []);
    assert_eq!(range(|row| row.breaks = breaks(&[(1, "8")])), one);
    let largest = |count: u64| {
        faults(|job| {
            job.stock[0].price = Some(price("9"));
            job.stock[0].breaks = breaks(&[(count, "8")]);
        })
    };
    assert_eq!(largest(LARGEST_QUANTITY), []);
    assert_eq!(largest(LARGEST_QUANTITY + 1), one);
    assert_eq!(range(|row| row.breaks = breaks(&[(3, "8"), (4, "7")])), []);
    assert_eq!(range(|row| row.breaks = breaks(&[(3, "8"), (3, "7")])), one);
    assert_eq!(range(|row| row.breaks = breaks(&[(3, "8"), (4, "8")])), one);
    assert_eq!(range(|row| row.breaks = breaks(&[(3, "9")])), one);
    let several = |count: usize| {
        faults(|job| {
            job.stock[0].price = Some(price("9"));
            job.stock[0].breaks = many(count);
        })
    };
    assert_eq!(several(MOST_BREAKS), []);
    assert_eq!(several(MOST_BREAKS + 1), one);
    assert_eq!(faults(|job| job.stock[0].breaks = breaks(&[(3, "8")])), one);
}

#[test]
fn breaks_from_more_than_there_is_are_noted() {
    let out_of_reach = |there: u64| {
        let job = with(row(
            1000,
            "9",
            Sold::Each,
            Some(there),
            &[(5, "8"), (7, "6")],
        ));
        let notes = job.notes().iter().filter_map(|note| match note {
            Note::BreakOutOfReach { from, .. } => Some(*from),
            _ => None,
        });
        notes.collect::<Vec<_>>()
    };
    assert_eq!(out_of_reach(7), Vec::<u64>::new());
    assert_eq!(out_of_reach(6), [7]);
    assert_eq!(out_of_reach(4), [5]);
}
