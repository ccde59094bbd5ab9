//! The command line as it is typed: every value a text, judged later together with the files.

mod help;

use clap::{Args, Parser, Subcommand};

use crate::json::schema::Described;
use help::{ABOUT, ASK, FILES, MORE, PLAN, QUOTES, VERIFY, carry_on_help};

/// What was typed.
#[derive(Debug, Parser)]
#[command(name = "lengthwise", version, about = ABOUT, after_help = FILES)]
#[command(flatten_help = true, subcommand_required = true)]
#[command(disable_help_subcommand = true, max_term_width = 84)]
pub struct CommandLine {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Plan what to buy and how to cut it
    #[command(after_help = PLAN)]
    #[command(
        override_usage = "lengthwise plan [OPTIONS] PIECES.csv --stock STOCK.csv [--in-hand OFFCUTS.csv]\n       \
                                lengthwise plan [OPTIONS] PIECES.csv --in-hand OFFCUTS.csv\n       \
                                lengthwise plan [OPTIONS] --job JOB.json"
    )]
    Plan(PlanArgs),
    /// Read everything, report every fault and note, plan nothing
    #[command(after_help = MORE)]
    Check(CheckArgs),
    /// Compare quotes, each with its delivery, and share the materials out at the least cost
    #[command(after_help = QUOTES)]
    Quotes(QuotesArgs),
    /// Go on with a job half-way: what was cut, spoiled, found or measured anew
    #[command(after_help = carry_on_help())]
    CarryOn(CarryArgs),
    /// Prove a saved plan.json again, and refuse one that was tampered with
    #[command(after_help = VERIFY)]
    Verify(VerifyArgs),
    /// Answer in three lines how many bars it takes, without files
    #[command(after_help = ASK)]
    Ask(AskArgs),
    /// Print the JSON Schema of what is read or written as JSON
    #[command(after_help = MORE)]
    Schema(SchemaArgs),
}

/// The files and the saw.
#[derive(Debug, Args)]
pub struct JobArgs {
    /// The list of pieces to cut
    #[arg(value_name = "PIECES.csv", required_unless_present = "job")]
    pub pieces: Option<String>,
    /// Bars that can be bought (may be given several times)
    #[arg(long, value_name = "STOCK.csv", required_unless_present_any = ["in_hand", "job"])]
    pub stock: Vec<String>,
    /// Bars and offcuts that are there already (may be given several times)
    #[arg(long, value_name = "OFFCUTS.csv")]
    pub in_hand: Vec<String>,
    /// Read pieces, stock, bars in hand and settings from one JSON document instead; flags go
    /// over its settings
    #[arg(long, value_name = "JOB.json", conflicts_with_all = ["pieces", "stock", "in_hand"])]
    pub job: Option<String>,
    /// The saw.
    #[command(flatten)]
    pub saw: SawArgs,
    /// The longest bar that can be carried or stored; longer stock is left out
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub longest: Option<String>,
    /// Which of all equally cheap plans: offcuts (room for errors, then long offcuts) or
    /// setups (few ways of cutting a bar, few settings of the stop) [default: offcuts]
    #[arg(long, value_name = "WHAT", allow_hyphen_values = true)]
    pub prefer: Option<String>,
    /// So much should be left to hold after a cut, where another order leaves it
    /// [default: 300mm]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub hold: Option<String>,
    /// The longest setting of the saw's stop; longer pieces are marked by tape
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub stop_reach: Option<String>,
    /// How far the temperature of the pieces goes down and up, in kelvin; for stock with an
    /// expansion
    #[arg(long, value_name = "KELVIN", allow_hyphen_values = true)]
    pub temperature_range: Option<String>,
}

/// The saw, and how lengths are written.
#[derive(Debug, Args)]
pub struct SawArgs {
    /// Width of the blade where the stock states none [default: 3mm]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub kerf: Option<String>,
    /// Reserve for errors at every cut [default: 0]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub per_cut: Option<String>,
    /// Taken off the ends of bars where the stock states nothing, as 10 or 0/10 [default: 0]
    #[arg(long, value_name = "ENDS", allow_hyphen_values = true)]
    pub square_off: Option<String>,
    /// Offcuts from this length up are saved [default: 300mm]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub save_from: Option<String>,
    /// Unit of bare numbers, here and in files: mm, cm, m, in or ft [default: mm]
    #[arg(long, value_name = "UNIT", allow_hyphen_values = true)]
    pub unit: Option<String>,
    /// Another ceiling for rows, pieces, lengths, joints, bars or courses of a job, or for the bytes
    /// of a file or field, such as rows=200000 (may be given several times)
    #[arg(long, value_name = "NAME=COUNT", allow_hyphen_values = true)]
    pub ceiling: Vec<String>,
}

/// How long to search, and how to print.
#[derive(Debug, Args)]
pub struct SearchArgs {
    /// Stop the whole run after so many seconds, such as 20 or 0.5, with the best plan
    /// so far
    #[arg(long, value_name = "SECONDS", allow_hyphen_values = true)]
    pub limit: Option<String>,
    /// Stop each material after so much work (one is about a nanosecond)
    #[arg(long, value_name = "COUNT", allow_hyphen_values = true)]
    pub work_limit: Option<String>,
    /// Print the plan as JSON, for programs
    #[arg(long)]
    pub json: bool,
}

/// The pieces, the quotes and the saw.
#[derive(Debug, Args)]
pub struct QuotesArgs {
    /// The list of pieces to cut
    #[arg(value_name = "PIECES.csv")]
    pub pieces: String,
    /// Bars that can be bought, with prices (once for each quote, 15 at most)
    #[arg(long, value_name = "QUOTE.csv", required = true)]
    pub quote: Vec<String>,
    /// Bars and offcuts that are there already (may be given several times)
    #[arg(long, value_name = "OFFCUTS.csv")]
    pub in_hand: Vec<String>,
    /// The longest bar that can be carried or stored; longer stock is left out
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub longest: Option<String>,
    /// The saw.
    #[command(flatten)]
    pub saw: SawArgs,
    /// The search.
    #[command(flatten)]
    pub search: SearchArgs,
}

/// The job, how long to search, and where the plan goes.
#[derive(Debug, Args)]
pub struct PlanArgs {
    /// The files and the saw.
    #[command(flatten)]
    pub job: JobArgs,
    /// The search.
    #[command(flatten)]
    pub search: SearchArgs,
    /// Plan spares so that so many spoiled pieces of every material can be cut again, and say
    /// what that costs; shorter spares of the list give way to them
    #[arg(long, value_name = "COUNT", allow_hyphen_values = true)]
    pub insure: Option<String>,
    /// Plan so that one bar of every material may be bad, of the longest kind that pieces are
    /// cut from, and say what that costs
    #[arg(long)]
    pub insure_bar: bool,
    /// Also write the plan as files into this directory
    #[arg(long, value_name = "DIR")]
    pub out: Option<String>,
}

/// The job, and how to print it.
#[derive(Debug, Args)]
pub struct CheckArgs {
    /// The files and the saw.
    #[command(flatten)]
    pub job: JobArgs,
    /// Print the job as JSON: a JOB.json
    #[arg(long)]
    pub json: bool,
}

/// Which schema.
#[derive(Debug, Args)]
pub struct SchemaArgs {
    /// The document to describe
    #[arg(value_name = "DOCUMENT")]
    pub of: Described,
}

/// A plan half-way, and what happened since.
#[derive(Debug, Args)]
pub struct CarryArgs {
    /// The plan.json that is being cut, as --out wrote it
    #[arg(value_name = "PLAN.json")]
    pub plan: String,
    /// What happened, one thing a line (may be given several times; - for standard input)
    #[arg(long, value_name = "NOTES.txt")]
    pub done: Vec<String>,
    /// One line of what happened (may be given several times)
    #[arg(long, value_name = "LINE", allow_hyphen_values = true)]
    pub note: Vec<String>,
    /// Pieces that were measured anew (may be given several times)
    #[arg(long, value_name = "MEASURED.csv")]
    pub pieces: Vec<String>,
    /// Unit of bare numbers: mm, cm, m, in or ft [default: that of the plan]
    #[arg(long, value_name = "UNIT", allow_hyphen_values = true)]
    pub unit: Option<String>,
    /// Another ceiling for the rows or bytes of a file, the bytes of a field, or for pieces,
    /// lengths, joints, bars or courses of the plan, such as file=200000000 (may be given several
    /// times)
    #[arg(long, value_name = "NAME=COUNT", allow_hyphen_values = true)]
    pub ceiling: Vec<String>,
    /// The search.
    #[command(flatten)]
    pub search: SearchArgs,
    /// Also write the plan of the rest as files into this directory
    #[arg(long, value_name = "DIR")]
    pub out: Option<String>,
}

/// A saved plan, and how long to search again.
#[derive(Debug, Args)]
pub struct VerifyArgs {
    /// The plan.json, as --out wrote it (- for standard input)
    #[arg(value_name = "PLAN.json")]
    pub plan: String,
    /// Solve again the materials of which something rests on a search
    #[arg(long)]
    pub again: bool,
    /// Stop solving again after so many seconds
    #[arg(
        long,
        value_name = "SECONDS",
        allow_hyphen_values = true,
        requires = "again"
    )]
    pub limit: Option<String>,
    /// Stop solving each material again after so much work (one is about a nanosecond)
    #[arg(
        long,
        value_name = "COUNT",
        allow_hyphen_values = true,
        requires = "again"
    )]
    pub work_limit: Option<String>,
    /// Another ceiling for the bytes of the file, or for pieces, lengths, joints, bars or courses
    /// of its job, such as file=50000000 (may be given several times)
    #[arg(long, value_name = "NAME=COUNT", allow_hyphen_values = true)]
    pub ceiling: Vec<String>,
    /// Print what was found as JSON, for programs
    #[arg(long)]
    pub json: bool,
}

/// A question without files.
#[derive(Debug, Args)]
pub struct AskArgs {
    /// What is needed: "6 x 3.1m", "3.1m" alone for one; several, or parted by + or comma
    #[arg(value_name = "PIECES", required = true)]
    pub terms: Vec<String>,
    /// A bar that can be bought, such as 3m or 3m=5.90 (may be given several times)
    #[arg(
        long,
        value_name = "LENGTH[=PRICE]",
        required = true,
        allow_hyphen_values = true
    )]
    pub from: Vec<String>,
    /// The pieces may be joined: anywhere, "every 600", "every 600 from 50" or "at 600 1200"
    #[arg(long, value_name = "PLACES", allow_hyphen_values = true)]
    pub joints: Option<String>,
    /// Left open at each joint [default: 0]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub joint_gap: Option<String>,
    /// Any number of joints in a piece up to this [default: as few as it takes]
    #[arg(long, value_name = "COUNT", allow_hyphen_values = true)]
    pub joints_max: Option<String>,
    /// The shortest part of a joined piece [default: 50mm]
    #[arg(long, value_name = "LENGTH", allow_hyphen_values = true)]
    pub shortest: Option<String>,
    /// Left open at the ends of every piece, as 5 or 0/10 [default: 0]
    #[arg(long, value_name = "ENDS", allow_hyphen_values = true)]
    pub end_gap: Option<String>,
    /// The saw.
    #[command(flatten)]
    pub saw: SawArgs,
    /// The search.
    #[command(flatten)]
    pub search: SearchArgs,
}

#[cfg(test)]
mod tests {
    use super::help::CARRY_ON;
    use super::*;
    use crate::carry::notation::HELP;

    /// A terminal of 80 columns shows every line as it is written.
    #[test]
    fn help_fits_a_narrow_terminal() {
        for text in [FILES, PLAN, MORE, ASK, QUOTES, CARRY_ON, VERIFY, HELP] {
            for line in text.lines() {
                assert!(line.chars().count() <= 80, "{line}");
            }
        }
    }
}
