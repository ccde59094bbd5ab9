//! The memory of processes.

use std::fs;

/// The largest resident size so far in kilobytes, where the system tells.
pub fn peak_kilobytes() -> Option<u64> {
    peak_kilobytes_of("self")
}

/// The same of a process that runs.
pub fn peak_kilobytes_of(process: &str) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let mut lines = status.lines();
    let peak = lines.find_map(|line| line.strip_prefix("VmHWM:"))?;
    peak.trim().strip_suffix("kB")?.trim().parse().ok()
}

/// The largest resident size of any child that has ended.
#[cfg(target_os = "linux")]
pub fn peak_kilobytes_of_children() -> Option<u64> {
    use nix::sys::resource::{UsageWho, getrusage};
    let usage = getrusage(UsageWho::RUSAGE_CHILDREN).ok()?;
    u64::try_from(usage.max_rss()).ok()
}

/// Other systems count in other units, or not at all.
#[cfg(not(target_os = "linux"))]
pub fn peak_kilobytes_of_children() -> Option<u64> {
    None
}
