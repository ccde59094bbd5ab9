//! What the first line of a table says: which column is where, and what was meant by a name that is not known.

use std::collections::BTreeMap;

use lengthwise::{Fault, FaultKind};

use super::super::cells::quoted;
use super::{Layout, Row};

/// How alike (0 to 1, by Jaro and Winkler) an unknown heading must be to a known one to be read as
/// that: "lenght" for "length" has 0.97, "len" 0.88, "pieces" for "price" 0.77, "type" for "qty" 0.72.
/// Lower, and cells are blamed for a wrong guess; higher, and their own faults take a second run.
const CLOSE_ENOUGH: f64 = 0.8;

/// The headings on their way to columns.
pub(super) struct Headings<'a> {
    header: &'a Row,
    layout: &'a Layout,
    pub columns: BTreeMap<&'static str, usize>,
    pub unnamed: Vec<usize>,
    pub guessed: Vec<&'static str>,
    pub odd: bool,
}

impl<'a> Headings<'a> {
    pub fn new(header: &'a Row, layout: &'a Layout) -> Headings<'a> {
        Headings {
            header,
            layout,
            columns: BTreeMap::new(),
            unnamed: Vec::new(),
            guessed: Vec::new(),
            odd: false,
        }
    }

    pub fn read(&mut self, faults: &mut Vec<Fault>) {
        let mut unknown = Vec::new();
        for (place, written) in self.header.cells.iter().enumerate() {
            let name = written.trim().to_lowercase();
            if name.is_empty() {
                self.unnamed.push(place);
            } else if let Some(&known) = self.layout.known.iter().find(|&&known| known == name) {
                self.place(known, place, faults);
            } else {
                unknown.push((place, written, name));
            }
        }
        let required = self.layout.known.first().copied().unwrap_or_default();
        let had_required = self.columns.contains_key(required);
        // What is known by another word goes before what only looks alike.
        let meant = |name: &str| {
            let (_, known) = OTHER_WORDS.iter().find(|(other, _)| *other == name)?;
            self.layout.known.iter().copied().find(|one| one == known)
        };
        let (by_word, alike): (Vec<_>, Vec<_>) = unknown
            .into_iter()
            .map(|(place, written, name)| (place, written, meant(&name), name))
            .partition(|(_, _, meant, _)| meant.is_some());
        let free = |columns: &BTreeMap<&str, usize>, known: &&str| !columns.contains_key(known);
        for (place, written, meant, _) in by_word {
            let meant = meant.filter(|known| free(&self.columns, known));
            self.unknown(place, written, meant, faults);
        }
        for (place, written, _, name) in alike {
            let (known, score) = nearest(&name, self.layout.known.iter().copied());
            let close = score >= CLOSE_ENOUGH;
            self.odd |= !close;
            let known = Some(known).filter(|known| close && free(&self.columns, known));
            self.unknown(place, written, known, faults);
        }
        if !had_required {
            let found = format!("no column \"{required}\"");
            let accepted = format!("a column \"{required}\"; it is required");
            self.fault(required, found, accepted, faults);
        }
    }

    fn place(&mut self, known: &'static str, place: usize, faults: &mut Vec<Fault>) {
        if let Some(first) = self.columns.get(known) {
            let found = format!(
                "{} twice, as columns {} and {}",
                quoted(known),
                first + 1,
                place + 1
            );
            self.fault(known, found, "each column once".to_owned(), faults);
        } else {
            self.columns.insert(known, place);
        }
    }

    /// Offers the name that is meant, and reads the column as that one, so that its cells are checked in the
    /// same run.
    fn unknown(
        &mut self,
        place: usize,
        written: &str,
        meant: Option<&'static str>,
        faults: &mut Vec<Fault>,
    ) {
        let mut found = format!("the unknown column {}", quoted(written.trim()));
        if let Some(known) = meant {
            self.columns.insert(known, place);
            self.guessed.push(known);
            found.push_str(&format!("; did you mean \"{known}\"?"));
        }
        let accepted = format!("the columns {}", self.layout.known.join(", "));
        self.fault(written, found, accepted, faults);
    }

    fn fault(&self, column: &str, found: String, accepted: String, faults: &mut Vec<Fault>) {
        faults.push(Fault {
            kind: FaultKind::Heading,
            origin: Some(self.header.origin.clone()),
            column: Some(column_name(column)),
            found,
            accepted,
        });
    }
}

pub(super) fn column_name(written: &str) -> String {
    let shown = quoted(written.trim());
    shown.trim_matches('"').to_owned()
}

/// What people call a column, and what it is called here. It is offered, and the heading stays a fault.
pub(super) const OTHER_WORDS: [(&str, &str); 21] = [
    ("piece", "mark"),
    ("part", "mark"),
    ("name", "mark"),
    ("label", "mark"),
    ("item", "mark"),
    ("quantity", "qty"),
    ("count", "qty"),
    ("amount", "qty"),
    ("pieces", "qty"),
    ("pcs", "qty"),
    ("size", "length"),
    ("cut", "length"),
    ("board", "material"),
    ("profile", "material"),
    ("species", "material"),
    ("timber", "material"),
    ("wood", "material"),
    ("type", "material"),
    ("cost", "price"),
    ("blade", "kerf"),
    ("comment", "note"),
];

/// The known name that is most like one that is not known, and how much so: 1 is the same.
pub fn nearest<'k>(name: &str, known: impl Iterator<Item = &'k str>) -> (&'k str, f64) {
    let scored = known.map(|known| (known, strsim::jaro_winkler(name, known)));
    let best = scored.max_by(|(_, a), (_, b)| a.total_cmp(b));
    best.unwrap_or_default()
}
