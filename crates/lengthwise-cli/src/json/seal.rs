//! A digest over a whole plan.json: that nothing was changed since it was written.
//!
//! It says nothing about whether the plan is right: whoever changes a plan can write a new digest too.

use sha2::{Digest, Sha256};

use super::tree::{Unfit, canonical};

/// The field that holds it.
pub const FIELD: &str = "digest";

/// What a person may change: words that nothing is computed from. The digest leaves them out.
pub const FREE_TEXT: [&str; 4] = [
    "job.pieces[].note",
    "job.stock[].note",
    "job.in_hand[].note",
    "carried_on.done[].piece.note",
];

/// The digest of everything but itself and the free text, however it is laid out.
///
/// # Errors
/// Why the text is no plan.json.
pub fn digest(plan: &str) -> Result<String, Unfit> {
    let skip = |kind: &str| kind == FIELD || FREE_TEXT.contains(&kind);
    let mut sum = Sha256::new();
    canonical(plan, &skip, &mut |part| sum.update(part))?;
    let sum = sum.finalize();
    let hex = sum.iter().map(|byte| format!("{byte:02x}"));
    Ok(format!("sha256:{}", hex.collect::<String>()))
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    /// SHA-256 of `{}` from another program, coreutils `sha256sum`.
    #[test]
    fn as_another_program_computes_it() {
        let sum = "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a";
        assert_eq!(digest("{ }").unwrap(), format!("sha256:{sum}"));
        let sealed = digest("{\"digest\": \"sha256:0\"}").unwrap();
        assert_eq!(sealed, format!("sha256:{sum}"));
    }
}
