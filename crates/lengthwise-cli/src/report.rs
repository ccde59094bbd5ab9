//! Faults and notes as people read them.

use std::io::Write;

use lengthwise::Fault;

use crate::text::ink::Ink;

/// Writes every fault on a line of its own; a closed standard error is no reason to stop.
pub fn print_faults(faults: &[Fault]) {
    print_all(faults, "nothing was planned");
}

/// The same where a plan was to be verified.
pub fn print_unread(faults: &[Fault]) {
    print_all(faults, "nothing was verified");
}

fn print_all(faults: &[Fault], done: &str) {
    let mut out = anstream::stderr().lock();
    let ink = Ink::colour();
    let many = match faults.len() {
        1 => format!("1 fault in the input; {done}."),
        n => format!("{n} faults in the input; {done}."),
    };
    let _ = writeln!(out, "{}", ink.bad(&many));
    for fault in faults {
        let _ = writeln!(out, "  {}", crate::ceilings::shown(fault));
    }
    let _ = writeln!(out, "See lengthwise --help for files, columns and units.");
}

/// Writes a line about something that went wrong outside the input.
pub fn print_error(text: &str) {
    let mut out = anstream::stderr().lock();
    let _ = writeln!(out, "{} {text}", Ink::colour().bad("lengthwise:"));
}

/// Writes a plain line.
pub fn print_line(text: &str) {
    let _ = writeln!(anstream::stderr().lock(), "{text}");
}
