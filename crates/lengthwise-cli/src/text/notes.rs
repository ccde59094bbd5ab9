//! Notes, alike ones together, and the cautions.

use lengthwise::job::{Job, Note};

use super::layout::{paragraph, whole};

/// Short, and only what bears on the next step: buying, then cutting.
const CAUTIONS: [&str; 5] = [
    "Measure the opening before you cut, and read the blade's width off the blade. Cut one bar, offer \
     its pieces up, then cut the rest.",
    "Keep guards on and hands 300 mm clear of the blade. Never hold a piece under 300 mm by hand: \
     clamp it, or cut it from a longer bar.",
    "Only the bar you hold may touch the stop: a loose piece between stop and blade is thrown.",
    "Look after eyes, ears and lungs. Dust of treated timber and of plastics is the worst.",
    "Makers' instructions, local codes and licensed trades go first. Nothing here judges strength or \
     fire.",
];

/// The notes of a job as lines of their own, alike ones merged.
pub fn notes(job: &Job) -> Vec<String> {
    let mut lines = Vec::new();
    let assuming: Vec<&str> = job
        .notes()
        .iter()
        .filter_map(|note| match note {
            Note::AssumesSquareEnds { material } => Some(material.as_str()),
            _ => None,
        })
        .collect();
    lines.extend(square_ends(&assuming, job.materials().len()));
    let carried = merged(job, |note| match note {
        Note::LongerThanCarried {
            origin,
            length,
            unit,
            ..
        } => Some(format!("{} ({origin})", length.text(*unit))),
        _ => None,
    });
    let longest = job.notes().iter().find_map(|note| match note {
        Note::LongerThanCarried { longest, unit, .. } => Some(longest.text(*unit)),
        _ => None,
    });
    if let (Some(bars), Some(longest)) = (carried, longest) {
        lines.push(format!(
            "Left out, longer than the {longest} that can be carried: {bars}."
        ));
    }
    let spare = merged(job, |note| match note {
        Note::NotAskedFor { origin, material } => Some(format!("{material} ({origin})")),
        _ => None,
    });
    if let Some(spare) = spare {
        lines.push(format!("Left out, no piece asks for it: {spare}."));
    }
    let eaten = merged(job, |note| match note {
        Note::NothingLeftOfBar {
            origin,
            length,
            unit,
        } => Some(format!("{} ({origin})", length.text(*unit))),
        _ => None,
    });
    if let Some(eaten) = eaten {
        lines.push(format!(
            "Left out, squaring the ends leaves nothing: {eaten}."
        ));
    }
    lines.extend(job.notes().iter().filter_map(|note| match note {
        Note::AssumesSquareEnds { .. }
        | Note::LongerThanCarried { .. }
        | Note::NotAskedFor { .. }
        | Note::NothingLeftOfBar { .. } => None,
        other => Some(format!("{other}.")),
    }));
    lines
}

fn merged(job: &Job, pick: impl Fn(&Note) -> Option<String>) -> Option<String> {
    let found: Vec<String> = job
        .notes()
        .iter()
        .filter_map(pick)
        .map(|one| whole(&one))
        .collect();
    (!found.is_empty()).then(|| found.join(", "))
}

fn square_ends(assuming: &[&str], materials: usize) -> Option<String> {
    let whose = match assuming {
        [] => return None,
        all if all.len() == materials => String::new(),
        some => {
            let names: Vec<String> = some.iter().map(|name| whole(name)).collect();
            format!(" of {}", names.join(", "))
        }
    };
    Some(format!(
        "Assumes square, sound ends{whose}: no squaring allowance is given (--square-off, or the \
         column square_off)."
    ))
}

/// The notes as they stand in the plan.
pub fn note_lines(job: &Job) -> String {
    notes(job)
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
