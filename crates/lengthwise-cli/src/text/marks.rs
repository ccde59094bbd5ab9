//! Many names in few words: `F1 to F7`, `F3-01 to F3-07`.

/// A name split into what goes before its number and the number.
#[derive(Clone, Copy, PartialEq, Eq)]
struct Numbered<'a> {
    stem: &'a str,
    digits: usize,
    number: u64,
}

/// The names in a short form, a range wherever three or more count up by one.
pub fn short_list(names: &[&str]) -> Vec<String> {
    short_list_ending(names, "")
}

/// The same of names that all go on with `ending`: `T-01.2 to T-06.2`.
fn short_list_ending(names: &[&str], ending: &str) -> Vec<String> {
    let mut shown = Vec::new();
    let mut at = 0;
    while let Some(first) = names.get(at) {
        let length = run_length(names.get(at..).unwrap_or_default());
        match names.get(at + length - 1) {
            Some(last) if length > 2 => {
                shown.push(format!("{first}{ending} to {last}{ending}"));
                at += length;
            }
            _ => {
                shown.push(format!("{first}{ending}"));
                at += 1;
            }
        }
    }
    shown
}

/// How many of the names, from the first on, count up by one; at least 1.
fn run_length(names: &[&str]) -> usize {
    let mut length = 1;
    for pair in names.windows(2) {
        let [one, next] = pair else { break };
        match (numbered(one), numbered(next)) {
            (Some(one), Some(next)) if follows(one, next) => length += 1,
            _ => break,
        }
    }
    length
}

/// Whether `next` is the name after `one`, in the same way of writing numbers.
fn follows(one: Numbered<'_>, next: Numbered<'_>) -> bool {
    let same_form = one.digits == next.digits
        || (next.digits == one.digits + 1 && next.number.to_string().len() == next.digits);
    one.stem == next.stem && same_form && one.number.checked_add(1) == Some(next.number)
}

fn numbered(name: &str) -> Option<Numbered<'_>> {
    let stem = name.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = name.get(stem.len()..)?;
    Some(Numbered {
        stem,
        digits: digits.len(),
        number: digits.parse().ok()?,
    })
}

/// The marks of equal cuts, given cut by cut with one mark per bar, in the shorter of two orders. All
/// go on with `ending`, which is left out of what is given.
pub fn marks_of_cuts(cuts: &[Vec<&str>], ending: &str) -> Vec<String> {
    let by_cut: Vec<&str> = cuts.iter().flatten().copied().collect();
    let bars = cuts.first().map_or(0, Vec::len);
    let by_bar: Vec<&str> = (0..bars)
        .flat_map(|bar| cuts.iter().filter_map(move |marks| marks.get(bar)))
        .copied()
        .collect();
    let by_cut = short_list_ending(&by_cut, ending);
    let by_bar = short_list_ending(&by_bar, ending);
    if by_bar.len() < by_cut.len() {
        by_bar
    } else {
        by_cut
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_of_names() {
        for (names, shown) in [
            (&["A1"][..], "A1"),
            (&["A1", "A2"], "A1, A2"),
            (&["A1", "A2", "A3"], "A1 to A3"),
            (&["F8", "F9", "F10", "F11"], "F8 to F11"),
            (&["F3-01", "F3-02", "F3-03", "K"], "F3-01 to F3-03, K"),
            (&["F3-98", "F3-99", "F3-100"], "F3-98 to F3-100"),
            (&["A1", "A3", "A4", "A5", "B6"], "A1, A3 to A5, B6"),
            (&["A09", "A10", "A11"], "A09 to A11"),
            (&["A9", "A010", "A011"], "A9, A010, A011"),
            (&["sill", "sill", "head"], "sill, sill, head"),
            (&["7", "8", "9"], "7 to 9"),
            (&[], ""),
        ] {
            assert_eq!(short_list(names).join(", "), shown);
        }
    }

    #[test]
    fn equal_cuts_are_read_off_in_the_shorter_order() {
        let cuts = [vec!["S1", "S3"], vec!["S2", "S4"]];
        assert_eq!(marks_of_cuts(&cuts, ""), ["S1 to S4"]);
    }

    #[test]
    fn parts_of_runs_are_counted_by_run() {
        let cuts = [vec!["T-09"], vec!["T-10"], vec!["T-11"], vec!["U"]];
        assert_eq!(marks_of_cuts(&cuts, ".2"), ["T-09.2 to T-11.2", "U.2"]);
    }
}
