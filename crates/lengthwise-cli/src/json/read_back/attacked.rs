//! The job of a plan.json by itself, for attacks.

use lengthwise::Fault;
use lengthwise::job::JobInput;

use super::Cells;
use crate::json::job::{JobJson, WrittenJob};

/// The rows of a job as they come back from the JSON that they are written to.
///
/// # Errors
/// What is wrong with that JSON: nothing should be.
pub fn written_and_read_back(input: &JobInput) -> Result<JobInput, Vec<Fault>> {
    let mut cells = Cells::new("attack");
    let read = serde_json::to_string(&WrittenJob::new(input))
        .and_then(|text| serde_json::from_str::<JobJson>(&text));
    let again = match read {
        Ok(job) => job.input(&mut cells),
        Err(why) => {
            cells.fault("job", why.to_string(), "a job");
            JobInput::default()
        }
    };
    if cells.faults.is_empty() {
        Ok(again)
    } else {
        Err(cells.faults)
    }
}
