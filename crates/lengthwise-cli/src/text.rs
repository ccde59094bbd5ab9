//! The plan as people read it: 80 columns, plain characters.

pub mod answer;
pub mod buying;
pub mod carried;
pub mod digest;
mod drawing;
pub mod figures;
pub mod ink;
pub mod joints;
pub mod layout;
pub mod marks;
pub mod measure;
pub mod mishaps;
pub mod notes;
mod openings;
pub mod preferred;
pub mod quotes;
pub mod sheet;
#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests;
pub mod verified;
pub mod walls;
pub mod words;

use std::io::{self, Write};

use lengthwise::job::{Job, Material};
use lengthwise::plan::{Cutting, MaterialPlan, Outcome, Plan, Proof};

use crate::insurance::Cover;
use ink::Ink;
pub use joints::copy_mark;
pub use marks::short_list;

/// What a material without a name is called.
const NO_NAME: &str = "All pieces";

/// The name of a material as people read it.
fn name_of(plan: &MaterialPlan) -> &str {
    shown_name(&plan.name)
}

/// A name of a material, or what it is called without one.
pub fn shown_name(name: &str) -> &str {
    if name.is_empty() { NO_NAME } else { name }
}

/// The whole plan as one text.
#[cfg(any(test, fuzzing))]
pub fn plan_text(job: &Job, plan: &Plan, cover: &Cover, ink: Ink) -> String {
    let mut out = Vec::new();
    let _ = write_plan(job, plan, cover, ink, &mut out); // into memory
    String::from_utf8_lossy(&out).into_owned()
}

/// Writes the whole plan, with what insures it, material by material: that of a large job does not fit into
/// memory at once.
///
/// # Errors
/// What the writer refuses.
pub fn write_plan(
    job: &Job,
    plan: &Plan,
    cover: &Cover,
    ink: Ink,
    out: &mut dyn Write,
) -> io::Result<()> {
    let both = job.materials().iter().zip(&plan.materials);
    for (place, (material, plan)) in both.enumerate() {
        if place > 0 {
            writeln!(out)?;
        }
        out.write_all(material_text(material, plan, ink).as_bytes())?;
        if let Some(insured) = cover.materials.get(place) {
            let insured = mishaps::insured(insured, cover.insurance, plan.unit, ink);
            out.write_all(insured.as_bytes())?;
        }
    }
    if plan.materials.len() > 1 {
        writeln!(out)?;
        let total =
            mishaps::total(&cover.materials).map(|total| layout::paragraph("  ", &total, 2));
        let job = figures::whole_job(plan, ink) + &total.unwrap_or_default();
        out.write_all((title("Whole job", ink) + &job).as_bytes())?;
    }
    let notes = notes::note_lines(job);
    if !notes.is_empty() {
        out.write_all((sheet::heading("Notes", "", ink) + &notes).as_bytes())?;
    }
    let planned = |plan: &MaterialPlan| matches!(plan.outcome, Outcome::Planned(_));
    if plan.materials.iter().any(planned) {
        let heading = sheet::heading("Before the first cut", "", ink);
        out.write_all((heading + &notes::caution_lines()).as_bytes())?;
    }
    Ok(())
}

/// A name with a rule below it.
fn title(name: &str, ink: Ink) -> String {
    let name = layout::left(name, textwrap::core::display_width(name).min(layout::PAGE));
    let rule = "=".repeat(textwrap::core::display_width(&name));
    format!("{}\n{rule}\n", ink.strong(&name))
}

fn material_text(material: &Material, plan: &MaterialPlan, ink: Ink) -> String {
    let mut out = title(name_of(plan), ink);
    out.push_str(&summary(material, plan));
    match &plan.outcome {
        Outcome::Planned(cutting) => out.push_str(&cutting_text(material, plan, cutting, ink)),
        Outcome::Impossible(reason) => {
            let why = words::impossible(reason, plan.unit);
            out.push_str(&ink.bad(&layout::paragraph("", &format!("No plan. {why}"), 0)));
        }
        Outcome::Unknown(stop) => {
            let why = words::unknown(*stop);
            out.push_str(&ink.warn(&layout::paragraph("", &why, 0)));
        }
    }
    out
}

/// How much there is to cut, and with what blade.
fn summary(material: &Material, plan: &MaterialPlan) -> String {
    let (count, total) = digest::pieces_and_length(material);
    let pieces = layout::counted(count, "piece", "pieces") + &digest::of_them(material);
    let total = total.map_or_else(String::new, |total| {
        format!(", {} in all", total.text(plan.unit))
    });
    let reserve = if plan.per_cut.is_zero() {
        String::new()
    } else {
        format!(
            ", and {} reserve at every cut",
            plan.per_cut.text(plan.unit)
        )
    };
    let blade = plan.kerf.text(plan.unit);
    layout::paragraph("", &format!("{pieces}{total}; blade {blade}{reserve}"), 0)
}

fn cutting_text(material: &Material, plan: &MaterialPlan, cutting: &Cutting, ink: Ink) -> String {
    let verdict = layout::paragraph("", &words::verdict(cutting, plan.unit), 0);
    let verdict = match cutting.proof {
        Proof::Optimal => ink.good(&verdict),
        _ => ink.warn(&verdict),
    };
    let preferred = preferred::preferred(cutting, material, plan.unit);
    let preferred = preferred.map_or_else(String::new, |text| layout::paragraph("", &text, 0));
    let walls = walls::walls(cutting, plan.unit);
    let walls = walls.map_or_else(String::new, |text| layout::paragraph("", &text, 0));
    [
        buying::buying_list(cutting, material, plan.unit, ink),
        sheet::stops(cutting, material, plan.unit, ink),
        sheet::bars(cutting, material, plan.unit, ink),
        joints::joints(cutting, material, plan.unit, ink),
        openings::openings(material, plan.unit, ink),
        figures::figures(cutting, plan.unit, ink),
        mishaps::mishaps(cutting, material, plan.unit, ink),
        "\n".to_owned(),
        verdict,
        walls,
        preferred,
    ]
    .concat()
}
