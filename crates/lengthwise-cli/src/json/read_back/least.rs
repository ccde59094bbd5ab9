//! Whether a plan.json can have as many rows as it has: each is written with all of its fields.
//!
//! Read back, a field that is left out stands as the usual one. Rows that say next to nothing would then take far
//! more memory than their bytes, and are never those that were written.

use std::fmt;

use serde::de::{DeserializeSeed, Deserializer, IgnoredAny, MapAccess, SeqAccess, Visitor};

/// Bytes of a row of pieces, at the least: 273 are written on one line of a row that says nothing but `1'`, without
/// a source. A test measures each of these.
const PIECE: u64 = 250;
/// The same of a piece that is done, with the bar that it was cut from: 303.
const DONE: u64 = 280;
/// Of a row of stock: 184.
const STOCK: u64 = 170;
/// Of a row of bars in hand: 105.
const IN_HAND: u64 = 95;

/// How many rows a plan.json has.
#[derive(Debug, Default, PartialEq, Eq)]
struct Rows {
    pieces: u64,
    stock: u64,
    in_hand: u64,
    done: u64,
}

impl Rows {
    fn count(&self) -> u64 {
        let all = [self.pieces, self.stock, self.in_hand, self.done];
        all.into_iter().fold(0, u64::saturating_add)
    }

    /// The bytes that they take at the least.
    fn bytes(&self) -> u64 {
        let all = [
            (self.pieces, PIECE),
            (self.stock, STOCK),
            (self.in_hand, IN_HAND),
            (self.done, DONE),
        ];
        let bytes = all
            .into_iter()
            .map(|(rows, each)| rows.saturating_mul(each));
        bytes.fold(0, u64::saturating_add)
    }
}

/// What is wrong with the rows of a plan.json, before anything is made of them.
#[derive(Debug, PartialEq, Eq)]
pub struct TooMany {
    pub found: String,
    /// `None` where the file is none.
    pub accepted: Option<String>,
}

/// Counts the rows of a plan.json. What is no JSON is left to who reads it.
///
/// # Errors
/// More rows than its bytes can hold as they are written, or a value where an object or a list has to be.
pub fn check(text: &str) -> Result<(), TooMany> {
    let mut rows = Rows::default();
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let fields = Fields {
        place: Place::Plan,
        rows: &mut rows,
    };
    let read = fields.deserialize(&mut deserializer);
    // Widening on every platform.
    if rows.bytes() > text.len() as u64 {
        return Err(TooMany {
            found: format!("{} rows in {} bytes", rows.count(), text.len()),
            accepted: Some(format!(
                "rows with all of their fields, as they are written: at least {PIECE} bytes for each of pieces, \
                 {DONE} of what is done, {STOCK} of stock, {IN_HAND} of bars in hand"
            )),
        });
    }
    match read {
        Err(why) if why.is_data() => Err(TooMany {
            found: why.to_string(),
            accepted: None,
        }),
        _ => Ok(()),
    }
}

#[derive(Clone, Copy)]
enum Place {
    Plan,
    Job,
    CarriedOn,
}

/// The fields of an object that has lists of rows, or has objects with some. Nothing else is taken in its place.
struct Fields<'r> {
    place: Place,
    rows: &'r mut Rows,
}

impl<'de> DeserializeSeed<'de> for Fields<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_map(self)
    }
}

impl<'de> Visitor<'de> for Fields<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self.place {
            Place::Plan => "a plan",
            Place::Job => "an object as job",
            Place::CarriedOn => "an object as carried_on",
        })
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<(), A::Error> {
        let Fields { place, rows } = self;
        while let Some(key) = map.next_key::<String>()? {
            let within = |place, rows| Fields { place, rows };
            match (place, key.as_str()) {
                (Place::Plan, "job") => map.next_value_seed(within(Place::Job, &mut *rows))?,
                (Place::Plan, "carried_on") => {
                    map.next_value_seed(within(Place::CarriedOn, &mut *rows))?;
                }
                (Place::Job, "pieces") => map.next_value_seed(Count(&mut rows.pieces))?,
                (Place::Job, "stock") => map.next_value_seed(Count(&mut rows.stock))?,
                (Place::Job, "in_hand") => map.next_value_seed(Count(&mut rows.in_hand))?,
                (Place::CarriedOn, "done") => map.next_value_seed(Count(&mut rows.done))?,
                _ => {
                    map.next_value::<IgnoredAny>()?;
                }
            }
        }
        Ok(())
    }
}

/// Counts the items of a list.
struct Count<'r>(&'r mut u64);

impl<'de> DeserializeSeed<'de> for Count<'_> {
    type Value = ();

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<(), D::Error> {
        deserializer.deserialize_seq(self)
    }
}

impl<'de> Visitor<'de> for Count<'_> {
    type Value = ();

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a list of rows")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut items: A) -> Result<(), A::Error> {
        while items.next_element::<IgnoredAny>()?.is_some() {
            *self.0 = self.0.saturating_add(1);
        }
        Ok(())
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use std::sync::Arc;

    use lengthwise::carry_on::{DonePiece, UnderWay};
    use lengthwise::job::{HandRow, JobInput, PieceRow, StockRow};
    use lengthwise::plan::Plan;
    use lengthwise::{Measure, Origin, Reading, Unit};
    use serde_json::Value;

    use super::*;
    use crate::json::StandAlone;
    use crate::read::cells::read_length;

    /// Every row with as little in it as there can be.
    fn smallest() -> UnderWay {
        let foot = Reading {
            unit: Unit::Ft,
            ..Reading::default()
        };
        let foot: Measure = read_length("1'", foot).unwrap();
        let origin = Origin {
            source: Arc::from(""),
            line: 0,
        };
        let row = PieceRow::new(origin.clone(), foot);
        UnderWay {
            input: JobInput {
                pieces: vec![row.clone()],
                stock: vec![StockRow::new(origin.clone(), foot)],
                in_hand: vec![HandRow {
                    origin,
                    material: String::new(),
                    length: foot,
                    available: 1,
                    square_off: None,
                    worth: None,
                    batch: String::new(),
                    note: String::new(),
                }],
                ..JobInput::default()
            },
            materials: Vec::new(),
            done: vec![DonePiece {
                bar: String::new(),
                batch: String::new(),
                row,
            }],
            names_taken: Vec::new(),
            insured: false,
        }
    }

    #[test]
    fn no_row_that_is_written_takes_less() {
        let under_way = smallest();
        let plan = Plan {
            materials: Vec::new(),
        };
        let alone = StandAlone::carried(&plan, &under_way).unwrap();
        let text = serde_json::to_string(&alone).unwrap();
        assert_eq!(check(&text), Ok(()));
        let json: Value = serde_json::from_str(&text).unwrap();
        let of = |row: &Value| row.to_string().len() as u64;
        let job = &json["job"];
        let written = [
            of(&job["pieces"][0]),
            of(&json["carried_on"]["done"][0]),
            of(&job["stock"][0]),
            of(&job["in_hand"][0]),
        ];
        assert_eq!(written, [273, 303, 184, 105]);
        let least = [PIECE, DONE, STOCK, IN_HAND];
        assert!(
            least
                .iter()
                .zip(&written)
                .all(|(least, written)| least < written)
        );
    }

    #[test]
    fn rows_that_say_too_little_are_too_many() {
        let found = |text: &str| check(text).map_err(|wrong| wrong.found);
        let rows = |count: usize| vec!["{\"length\":\"9\"}"; count].join(",");
        for (text, count) in [
            (format!("{{\"job\":{{\"pieces\":[{}]}}}}", rows(40)), 40),
            (format!("{{\"job\":{{\"stock\":[{}]}}}}", rows(40)), 40),
            (format!("{{\"job\":{{\"in_hand\":[{}]}}}}", rows(40)), 40),
            (
                format!("{{\"carried_on\":{{\"done\":[{}]}}}}", rows(40)),
                40,
            ),
            // Twice, and behind them what is no JSON.
            (
                format!("{{\"job\":{{\"pieces\":[{0}],\"pieces\":[{0}],", rows(9)),
                18,
            ),
        ] {
            let said = format!("{count} rows in {} bytes", text.len());
            assert_eq!(found(&text), Err(said), "{text}");
        }
        let room = " ".repeat(250);
        assert_eq!(
            found(&format!("{{\"job\":{{\"pieces\":[{}]}}}}{room}", rows(1))),
            Ok(())
        );
    }

    /// A list can be read as an object whose fields have no names: it could hide what is to be counted.
    #[test]
    fn a_list_is_no_object() {
        for text in [
            "[[],{}]",
            "{\"job\":[[],[{}]]}",
            "{\"carried_on\":[[],false,[],[]]}",
        ] {
            let wrong = check(text).unwrap_err();
            assert!(
                wrong.found.starts_with("invalid type: sequence"),
                "{wrong:?}"
            );
            assert_eq!(wrong.accepted, None);
        }
        assert_eq!(check("{\"job\":{\"pieces\":["), Ok(()));
    }
}
