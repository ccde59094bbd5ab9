//! Exit codes: a promise to scripts.

use std::process::ExitCode;

/// How a run ended; the order is the precedence when several apply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// Planned, or nothing at fault.
    Done,
    /// Some material is proven impossible.
    Impossible,
    /// No plan found before the stop, or the output could not be written.
    Stopped,
    /// The input or the command line is wrong.
    BadInput,
}

impl Exit {
    /// The number that the caller of the program sees.
    pub const fn code(self) -> u8 {
        match self {
            Exit::Done => 0,
            Exit::Impossible => 1,
            Exit::BadInput => 2,
            Exit::Stopped => 3,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> ExitCode {
        ExitCode::from(exit.code())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_goes_before_three_before_one() {
        assert_eq!(Exit::Impossible.max(Exit::Stopped).code(), 3);
        assert_eq!(Exit::Stopped.max(Exit::BadInput).code(), 2);
        assert_eq!(Exit::Done.max(Exit::Impossible).code(), 1);
    }
}
