//! What is just allowed and what is just too much; what a checked job says of its rows.

use super::*;

fn with(change: impl Fn(&mut JobInput)) -> Job {
    job(change)
}

#[test]
fn the_widest_cut_is_a_metre() {
    let wide = |kerf: Length| {
        faults(|job| {
            job.saw.kerf = kerf;
            job.pieces[0].length = mm(1);
        })
    };
    let just_more = Length::from_nm(Length::from_mm(1000).nm() + 1).unwrap();
    assert_eq!(wide(Length::from_mm(1000)), []);
    assert_ne!(wide(just_more), []);
    let by_stock = |kerf: Length| faults(|job| job.stock[0].kerf = Some(kerf));
    assert_eq!(by_stock(Length::from_mm(1000)), []);
    assert_ne!(by_stock(just_more), []);
    // Blade and reserve together.
    let both = |kerf: u32| {
        faults(|job| {
            job.saw.kerf = Length::from_mm(kerf);
            job.saw.per_cut = Length::from_mm(400);
        })
    };
    assert_eq!(both(600), []);
    assert_ne!(both(601), []);
}

#[test]
fn the_largest_quantities() {
    let there = |count: u64| faults(|job| job.stock[0].available = Some(count));
    assert_eq!(there(LARGEST_QUANTITY), []);
    assert_ne!(there(LARGEST_QUANTITY + 1), []);
    let pieces = |last: u64| {
        let mut input = plain();
        let most = MOST_PIECES / LARGEST_QUANTITY;
        let row = |line| piece(line, "", "F", 10, LARGEST_QUANTITY);
        input.pieces = (0..most).map(|line| row(2 + line)).collect();
        let more = (last > 0).then(|| piece(20, "", "G", 10, last));
        input.pieces.extend(more);
        input.validate_within(&Ceilings::HIGHEST)
    };
    assert!(pieces(0).is_ok());
    assert!(pieces(1).is_err());
}

#[test]
fn a_checked_job_says_what_its_rows_said() {
    let job = with(|job| {
        job.saw = Saw {
            hold: Length::from_mm(150),
            stop_reach: Some(Length::from_mm(2500)),
            prefer: Prefer::Setups,
            per_cut: Length::from_mm(1),
            ..Saw::default()
        };
        job.pieces[0].length.unit = Unit::M;
        job.pieces[0].leave_long = Some(Length::from_mm(20));
        job.pieces[0].note = "over the kiln".to_owned();
        job.stock[0].note = "ask for the pale ones".to_owned();
        job.stock[0].batch = "pale".to_owned();
        job.in_hand = vec![hand(2, "", 3000, 1)];
    });
    let material = &job.materials()[0];
    assert_eq!(material.unit(), Unit::M);
    assert_eq!(material.hold(), Length::from_mm(150));
    assert_eq!(material.stop_reach(), Some(Length::from_mm(2500)));
    assert_eq!(material.prefer(), Prefer::Setups);
    assert_eq!(material.batches(), ["", "pale"]);
    let piece = &material.pieces()[0];
    assert_eq!(piece.leave_long(), Length::from_mm(20));
    assert_eq!(piece.note(), "over the kiln");
    let [bought, in_hand] = material.bars() else {
        unreachable!("two kinds")
    };
    assert_eq!(bought.note(), "ask for the pale ones");
    assert_eq!(material.batch_of(bought), "pale");
    assert_eq!(material.batch_of(in_hand), "");
    let slanted = Ends {
        near: Angle::from_hundredths(3000).unwrap(),
        far: Angle::SQUARE,
    };
    let reserve = material.mitre_reserve(slanted).nm();
    assert!(reserve > 0 && reserve < material.mitre_allowance(slanted).nm());
    assert!(!slanted.are_square() && Ends::SQUARE.are_square());
    let far = Ends {
        near: Angle::SQUARE,
        far: slanted.near,
    };
    assert!(!far.are_square());
}

/// A wall of one piece may come from any batch, unless it is a run; a row that says which leaves nothing open.
#[test]
fn walls_that_need_a_batch() {
    let open = |change: fn(&mut PieceRow)| {
        let job = with(|job| {
            job.pieces[0].qty = 1.into();
            job.pieces[0].wall = "north".to_owned();
            change(&mut job.pieces[0]);
            let mut pale = stock(3, "", 3000);
            pale.batch = "pale".to_owned();
            job.stock.push(pale);
        });
        job.materials()[0].open_walls().len()
    };
    assert_eq!(open(|_| {}), 0);
    assert_eq!(open(|row| row.qty = 2.into()), 1);
    assert_eq!(open(|row| row.joints = Some(Joints::Anywhere)), 1);
    let bound = |row: &mut PieceRow| {
        row.qty = 2.into();
        row.batch = "pale".to_owned();
    };
    assert_eq!(open(bound), 0);
    let unnamed = |row: &mut PieceRow| {
        row.qty = 2.into();
        row.batch = NO_BATCH.to_owned();
    };
    assert_eq!(open(unnamed), 0);
}

/// The batches that there are stand in the fault, also that of bars that name none.
#[test]
fn a_batch_that_no_bar_is_of() {
    let mut input = plain();
    input.pieces[0].batch = "dark".to_owned();
    let mut pale = stock(3, "", 3000);
    pale.batch = "pale".to_owned();
    input.stock.push(pale);
    let Err(Faults(faults)) = input.validate() else {
        unreachable!("there is no such batch")
    };
    assert!(
        faults[0].accepted.contains("\"unnamed\", \"pale\""),
        "{faults:?}"
    );
}

/// The batch that the first row of a wall asks for stands in the fault of the next.
#[test]
fn a_wall_that_asks_for_two_batches() {
    let mut input = plain();
    input.stock = vec![stock(2, "", 3000), stock(3, "", 3000)];
    input.stock[0].batch = "pale".to_owned();
    input.pieces.push(piece(3, "", "G", 500, 1));
    for (row, batch) in input.pieces.iter_mut().zip([NO_BATCH, "pale"]) {
        row.wall = "north".to_owned();
        row.batch = batch.to_owned();
    }
    let accepted = |input: &JobInput| {
        let Err(Faults(faults)) = input.clone().validate() else {
            unreachable!("two batches")
        };
        assert_eq!(faults[0].kind, FaultKind::RowsDiffer);
        faults[0].accepted.clone()
    };
    assert_eq!(
        accepted(&input),
        "\"unnamed\", as in line 2: one batch per wall"
    );
    input.pieces[0].batch = "pale".to_owned();
    input.pieces[1].batch = NO_BATCH.to_owned();
    assert_eq!(
        accepted(&input),
        "\"pale\", as in line 2: one batch per wall"
    );
}

#[test]
fn what_a_source_charges_for_delivery() {
    let with = |first: &str, second: &str| {
        let mut input = plain();
        input.stock[0].delivery = Some(price(first));
        let mut other = stock(3, "", 2500);
        other.delivery = Some(price(second));
        input.stock.push(other);
        input.validate()
    };
    let charges = |first: &str, second: &str| {
        let job = with(first, second).unwrap();
        let notes = job.notes().iter().filter_map(|note| match note {
            Note::DeliveryNotCounted { charge, .. } => Some(charge.to_string()),
            _ => None,
        });
        notes.collect::<Vec<_>>()
    };
    assert_eq!(charges("45.00", "45.00").len(), 1);
    assert_eq!(charges("0", "0").len(), 0);
    let Err(Faults(faults)) = with("45.00", "40.00") else {
        unreachable!("two charges")
    };
    assert_eq!(faults[0].kind, FaultKind::RowsDiffer);
    assert_eq!(faults[0].column.as_deref(), Some("delivery"));
}

/// Batches are for walls; and bars that name none are of a batch of their own.
#[test]
fn batches_that_cannot_do_what_they_are_for_are_noted() {
    let notes = |batches: &[&str], change: fn(&mut PieceRow)| {
        let job = with(|job| {
            job.stock = batches.iter().map(|_| stock(2, "", 3000)).collect();
            for (row, batch) in job.stock.iter_mut().zip(batches) {
                row.batch = (*batch).to_owned();
            }
            change(&mut job.pieces[0]);
        });
        let of = |note: &Note| match note {
            Note::BatchesWithoutWalls { .. } => Some("without walls"),
            Note::NoBatchNamed { .. } => Some("none named"),
            _ => None,
        };
        job.notes().iter().filter_map(of).collect::<Vec<_>>()
    };
    let wall = |row: &mut PieceRow| row.wall = "north".to_owned();
    assert_eq!(notes(&["pale", "pale"], |_| {}), Vec::<&str>::new());
    assert_eq!(notes(&["pale", "dark"], |_| {}), ["without walls"]);
    assert_eq!(notes(&["pale", "dark"], wall), Vec::<&str>::new());
    let asked = |row: &mut PieceRow| row.batch = "pale".to_owned();
    assert_eq!(notes(&["pale", "dark"], asked), Vec::<&str>::new());
    assert_eq!(notes(&["pale", ""], wall), ["none named"]);
}

/// By the name of the material, where it has one.
#[test]
fn notes_name_the_bars() {
    let note = |material: &str| {
        let job = job(|job| {
            job.pieces[0].material = material.to_owned();
            job.stock = vec![stock(2, material, 3000), stock(3, material, 3000)];
            job.stock[0].batch = "pale".to_owned();
        });
        job.notes().iter().find_map(|note| match note {
            Note::BatchesWithoutWalls { .. } => Some(note.to_string()),
            _ => None,
        })
    };
    let words =
        "are of several batches and no piece names its wall, so nothing is kept to one batch";
    assert_eq!(note(""), Some(format!("Bars {words}")));
    assert_eq!(note("larch"), Some(format!("larch: bars {words}")));
}

#[test]
fn courses_that_are_laid() {
    let with = |laid: &[(u64, &[u32])]| {
        let laid = laid.iter().map(|(course, joints)| LaidCourse {
            course: *course,
            joints: joints.iter().map(|&joint| Length::from_mm(joint)).collect(),
        });
        let row = PieceRow {
            joints: Some(Joints::At(vec![Length::from_mm(1000)])),
            course_group: "north".to_owned(),
            course: Some(3),
            laid: laid.collect(),
            ..piece(2, "", "T", 2500, 2)
        };
        faults(|job| job.pieces = vec![row])
    };
    let fault = |kind, column: &str| vec![(kind, "pieces".to_owned(), 2, column.to_owned())];
    assert_eq!(with(&[(1, &[1000]), (2, &[])]), []);
    assert_eq!(with(&[(2, &[500, 1000])]), []);
    let range = fault(FaultKind::Range, "laid");
    assert_eq!(with(&[(2, &[]), (2, &[1000])]), range);
    assert_eq!(with(&[(0, &[])]), range);
    assert_eq!(with(&[(2, &[1000, 500])]), range);
    assert_eq!(with(&[(2, &[1000, 1000])]), range);
    assert_eq!(with(&[(2, &[0, 1000])]), range);
    // Courses 3 and 4 are still to be cut.
    assert_eq!(with(&[(5, &[])]), []);
    assert_eq!(with(&[(4, &[])]), fault(FaultKind::RowsDiffer, "course"));
}

/// A joint a nanometre before the right end is inside the run, one at it is not.
#[test]
fn places_up_to_the_end() {
    let every = |from: i64| Joints::Every {
        spacing: Length::from_mm(5000),
        from: Length::from_nm(from).unwrap(),
    };
    let run = Length::from_mm(1000);
    assert_eq!(every(run.nm() - 1).count(run), Some(1));
    assert_eq!(every(run.nm()).count(run), Some(0));
    let text = |from: u32| every(Length::from_mm(from).nm()).text(Unit::Mm);
    assert_eq!(text(0), "every 5000mm");
    assert_eq!(text(400), "every 5000mm from 400mm");
}

#[test]
fn the_most_spares_of_one_row() {
    let spares = |count: u64| faults(|job| job.pieces[0].spare = count);
    assert_ne!(spares(LARGEST_QUANTITY + 1), []);
    let kinds = |count: u64| {
        let all = spares(count).into_iter();
        all.map(|fault| fault.3).collect::<Vec<_>>()
    };
    assert!(!kinds(LARGEST_QUANTITY).contains(&"spare".to_owned()));
}
