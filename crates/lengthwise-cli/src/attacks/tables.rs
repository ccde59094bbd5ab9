//! Tables: from any bytes to rows, or to faults that have their place; what was read without a fault is
//! written as the job of a plan.json, and read back as the same.

use std::sync::Arc;

use lengthwise::job::Quantity;
use lengthwise::{Fault, JobInput, Unit};

use super::{are_sound, origin};
use crate::ceilings::Ceilings;
use crate::json::read_back::attacked::written_and_read_back;
use crate::read::attacked::{self as rows, Layout, Table, Within, read_table, text_of};

const UNITS: [Unit; 5] = [Unit::Mm, Unit::Cm, Unit::M, Unit::In, Unit::Ft];

/// Any bytes as a table; the unit is decided by their number.
fn table(bytes: &[u8], layout: &Layout, faults: &mut Vec<Fault>) -> Option<Table> {
    let source = Arc::from("attack");
    let within = Within {
        unit: UNITS[bytes.len() % UNITS.len()],
        ceilings: &Ceilings::default(),
    };
    match text_of(bytes, &origin()) {
        Ok(text) => {
            let table = read_table(&text, &source, layout, within, faults);
            assert!(table.is_some() || !faults.is_empty());
            table
        }
        Err(fault) => {
            faults.push(fault);
            None
        }
    }
}

fn check(bytes: &[u8], faults: &[Fault], input: JobInput) {
    are_sound(faults, bytes);
    if let Err(more) = input.clone().validate() {
        are_sound(&more.0, bytes);
    }
    if faults.is_empty() {
        let again = written_and_read_back(&input);
        assert_eq!(again.map(as_written), Ok(as_written(input)));
    }
}

/// Parts of a width that are less than a foot are printed in inches, and are in inches then.
fn as_written(mut input: JobInput) -> JobInput {
    for row in &mut input.pieces {
        match &mut row.qty {
            Quantity::Boards { width, cover, gap } => {
                for part in [width, cover, gap] {
                    part.unit = Unit::In;
                }
            }
            Quantity::Members { width, spacing, .. } => {
                for part in [width, spacing] {
                    part.unit = Unit::In;
                }
            }
            _ => {}
        }
    }
    input
}

/// A list of pieces.
pub fn pieces(bytes: &[u8]) {
    let mut faults = Vec::new();
    let table = table(bytes, &rows::PIECES, &mut faults);
    let pieces = table.map_or_else(Vec::new, |table| rows::pieces(&table, &mut faults));
    let input = JobInput {
        pieces,
        ..JobInput::default()
    };
    check(bytes, &faults, input);
}

/// A list of stock.
pub fn stock(bytes: &[u8]) {
    let mut faults = Vec::new();
    let table = table(bytes, &rows::STOCK, &mut faults);
    let stock = table.map_or_else(Vec::new, |table| rows::stock(&table, &mut faults));
    let input = JobInput {
        stock,
        ..JobInput::default()
    };
    check(bytes, &faults, input);
}

/// A list of what is in hand.
pub fn in_hand(bytes: &[u8]) {
    let mut faults = Vec::new();
    let table = table(bytes, &rows::IN_HAND, &mut faults);
    let in_hand = table.map_or_else(Vec::new, |table| rows::in_hand(&table, &mut faults));
    let input = JobInput {
        in_hand,
        ..JobInput::default()
    };
    check(bytes, &faults, input);
}

/// Whether what the program wrote can be read as a list of what is in hand.
pub fn is_in_hand(bytes: &[u8]) {
    let mut faults = Vec::new();
    if let Some(table) = table(bytes, &rows::IN_HAND, &mut faults) {
        rows::in_hand(&table, &mut faults);
    }
    assert_eq!(faults, []);
}

fn bytes(texts: &[&str]) -> Vec<Vec<u8>> {
    texts.iter().map(|text| text.as_bytes().to_vec()).collect()
}

pub fn all_pieces() -> Vec<Vec<u8>> {
    bytes(&[
        "material,mark,length,qty,note\nroof batten,F,2210,7,\nsill,S,600,2,\n",
        "material;mark;length;qty;note\nlarch board 20x145;NL;1944,5;14;north wall by the clay store\n",
        "length\tqty\n2210\t7\n",
        "length\r\n2210\r\n\r\n600\r\n",
        "\u{feff}length,mark\n\"7' 3 1/4\"\"\",\"a\nb\"\n",
        include_str!("../../../../data/drying-loft/pieces.csv"),
        "material,mark,length,to,step,qty,end_gap,ends,spare,joints,joint_gap,joints_max,shortest,course_group,\
         course,course_rule,stage,wall,leave_long,note\n\
         b,BN,6300,,,10,,,,every 600 from 150,2,3,1200,north,1,1/4,2,north,,x\n\
         b,LS,1480,1905,2,2400/145+6,0/10,45/90,1,,,,,,,,1,,5,y\n\
         b,G,6300,,,2,5,,,anywhere,10,,600,,,,,,,\nb,H,6300,,,1,,,,at 600 1200,,1,,,,,,,,\n",
    ])
}

pub fn all_stock() -> Vec<Vec<u8>> {
    bytes(&[
        "material,length,price,sold,available,kerf,square_off,note\nroof batten,3000,5.90,,,,,\n\
         sill,2400,8.40,each,,3,10,\n",
        "length;price;kerf\n3000;5,90;3,2\n4800;\"9,20; 9 from 20\";\n",
        "length,price\n3000,5.90; 5.40 from 20; 5.10 from 50\n",
        include_str!("../../../../data/drying-loft/stock.csv"),
        "material,length,price,sold,available,delivery,kerf,square_off,shortest,save_from,expansion,note\n\
         a,3600,0.70,per m,60,12,3,0/10,200,250,60,n\na,4.2m,9,pack of 8,2,,3,,,,,\n",
    ])
}

pub fn all_in_hand() -> Vec<Vec<u8>> {
    bytes(&[
        include_str!("../../../../data/kiln-shed/in-hand.csv"),
        "length\n2330\n",
        "material,length,available,square_off,worth,note\n",
    ])
}
