//! Notes, alike ones together, and the cautions.

use lengthwise::job::{Job, Note};

use super::layout::{loose, paragraph, whole};

/// Short, and only what bears on the next step: buying, then cutting.
const CAUTIONS: [&str; 5] = [
    "Measure the opening before you cut, and read the blade's width off the blade. Cut one bar, offer \
     its pieces up, then cut the rest.",
    "Keep guards on and hands 300 mm (a foot) clear of the blade. Never hold a shorter piece by \
     hand: clamp it, or cut it from a longer bar.",
    "Only the bar you hold may touch the stop: a loose piece between stop and blade is thrown.",
    "Look after eyes, ears and lungs. Dust of treated timber and of plastics is the worst.",
    "Makers' instructions, local codes and licensed trades go first. Nothing here judges strength or \
     fire.",
];

/// The notes of a job, each on one line however long.
pub fn plain(job: &Job) -> Vec<String> {
    plain_of(job.notes(), job.materials().len())
}

/// Notes about so many materials, each on one line however long.
pub fn plain_of(notes: &[Note], materials: usize) -> Vec<String> {
    worded(notes, materials)
        .iter()
        .map(|note| loose(note))
        .collect()
}

/// Notes about so many materials, alike ones merged, with places that must not be parted when wrapped.
fn worded(notes: &[Note], materials: usize) -> Vec<String> {
    let mut lines: Vec<String> = square_ends(notes, materials).into_iter().collect();
    lines.extend(longer_than_carried(notes));
    let asked = |note: &Note| match note {
        Note::NotAskedFor { origin, material } => Some(format!("{material} ({origin})")),
        _ => None,
    };
    lines.extend(merged(notes, "Left out, no piece asks for it", asked));
    let eaten = |note: &Note| match note {
        Note::NothingLeftOfBar {
            origin,
            length,
            unit,
        } => Some(format!("{} ({origin})", length.text(*unit))),
        _ => None,
    };
    lines.extend(merged(
        notes,
        "Left out, squaring the ends leaves nothing",
        eaten,
    ));
    lines.extend(notes.iter().filter_map(|note| match note {
        Note::AssumesSquareEnds { .. }
        | Note::LongerThanCarried { .. }
        | Note::NotAskedFor { .. }
        | Note::NothingLeftOfBar { .. } => None,
        other => Some(format!("{other}.")),
    }));
    lines
}

/// One line for all notes that `pick` words, each kept whole when the line is wrapped.
fn merged(notes: &[Note], lead: &str, pick: impl Fn(&Note) -> Option<String>) -> Option<String> {
    let picked = notes.iter().filter_map(pick);
    let found: Vec<String> = picked.map(|one| whole(&one)).collect();
    (!found.is_empty()).then(|| format!("{lead}: {}.", found.join(", ")))
}

fn longer_than_carried(notes: &[Note]) -> Option<String> {
    // One --longest holds for the whole job.
    let longest = notes.iter().find_map(|note| match note {
        Note::LongerThanCarried { longest, unit, .. } => Some(longest.text(*unit)),
        _ => None,
    })?;
    let lead = format!("Left out, longer than the {longest} that can be carried");
    merged(notes, &lead, |note| match note {
        Note::LongerThanCarried {
            origin,
            length,
            unit,
            ..
        } => Some(format!("{} ({origin})", length.text(*unit))),
        _ => None,
    })
}

fn square_ends(notes: &[Note], materials: usize) -> Option<String> {
    let assuming = notes.iter().filter_map(|note| match note {
        Note::AssumesSquareEnds { material } => Some(whole(material)),
        _ => None,
    });
    let assuming: Vec<String> = assuming.collect();
    let whose = match assuming.len() {
        0 => return None,
        all if all == materials => String::new(),
        _ => format!(" of {}", assuming.join(", ")),
    };
    Some(format!(
        "Assumes square, sound ends{whose}: no squaring allowance is given (--square-off, or the \
         column square_off)."
    ))
}

/// The notes as they stand in the plan.
pub fn note_lines(job: &Job) -> String {
    worded(job.notes(), job.materials().len())
        .iter()
        .map(|note| paragraph("  - ", note, 4))
        .collect()
}

/// The cautions as they stand below every plan.
pub fn caution_lines() -> String {
    CAUTIONS
        .iter()
        .map(|caution| paragraph("  - ", caution, 4))
        .collect()
}
