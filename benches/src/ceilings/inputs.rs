//! What the program is given: each input is as large as one ceiling allows, and small otherwise.

use std::io::{Result, Write};

/// Writes one file.
pub type Writer = fn(&mut dyn Write) -> Result<()>;

/// One run of the program.
pub struct Case {
    /// What it is called.
    pub name: &'static str,
    /// The input in words.
    pub input: &'static str,
    /// Files of the input, and what writes them.
    pub files: Vec<(String, Writer)>,
    /// What is run before, unmeasured: what writes a plan.json.
    pub before: Option<Vec<String>>,
    /// What is measured.
    pub command: Vec<String>,
    /// Whether the command takes `--limit`.
    pub takes_limit: bool,
    /// How it may end.
    pub codes: &'static [i32],
}

/// Planned, or nothing found in time.
const ENDED: &[i32] = &[0, 3];
/// Most quotes.
const QUOTES: u32 = 15;

/// Every case.
pub fn cases() -> Vec<Case> {
    let mut cases = vec![
        plan("rows", "100,000 rows of pieces, 200 lengths", rows),
        plan("bars", "3,000 kinds of bar, 1,000 pieces", few).stock(many_bars),
        plan(
            "bars in hand",
            "2,996 offcuts, no two alike, 1,000 pieces",
            few,
        )
        .file("hand.csv", many_offcuts)
        .told(&["--in-hand", "hand.csv"]),
        plan("materials", "100,000 materials, a piece of each", materials).stock(bars_of_materials),
        plan("materials, all sheets", "the same with --out", materials)
            .stock(bars_of_materials)
            .told(&["--out", "plan"]),
        plan("pieces", "1,000,000 pieces, 1 length", pieces),
        plan("lengths", "10,000 lengths, a piece of each", lengths),
        plan("lengths, setups", "the same with --prefer setups", lengths)
            .told(&["--prefer", "setups"]),
        plan(
            "pieces and lengths",
            "1,000,000 pieces, 10,000 lengths",
            pieces_and_lengths,
        ),
        plan(
            "pieces, all sheets",
            "the same with --out",
            pieces_and_lengths,
        )
        .told(&["--out", "plan"]),
        plan(
            "lengths in all",
            "100,000 lengths in 10 materials, 1,000,000 pieces",
            lengths_in_all,
        )
        .stock(bars_of_ten),
        plan("insurance", "10,000 lengths with --insure 1", lengths).told(&["--insure", "1"]),
        plan("joints", "a run with 10,000 supports", joints),
        plan(
            "joints, many used",
            "a run with 1,000 supports, joints_max 20",
            joints_max,
        ),
        plan(
            "joints listed",
            "a run with 10,000 places in one cell",
            joints_listed,
        ),
        plan(
            "joints anywhere",
            "a run of 10,000 bars, joined anywhere",
            anywhere,
        ),
        plan(
            "joints in all",
            "100 runs of 4.8 km, no two alike, joined anywhere: 100,000 joints",
            joints_in_all,
        ),
        plan("runs", "10,000 runs, no two alike, on supports", runs),
        plan(
            "runs anywhere",
            "10,000 runs, no two alike, joined anywhere",
            runs_anywhere,
        ),
        plan("walls", "100,000 walls, two batches", walls).stock(two_batches),
        plan("batches", "3,000 batches, one wall", one_wall).stock(many_batches),
        plan(
            "courses",
            "10,000 courses of 10 supports, one group",
            courses,
        ),
        plan(
            "groups of courses",
            "10,000 courses, two in each group",
            groups,
        ),
        plan("file", "a file of 64 MiB", large_file),
        plan("field", "1,000 cells of 64 KiB", large_cells),
        plan("faults", "100,000 rows, each with a fault", faults).ends(&[2]),
    ];
    cases.push(quotes());
    let saved = || plan("", "the plan of 55,000 pieces, 15 MiB", large_plan).saved();
    cases.push(Case {
        takes_limit: false,
        ..saved().named("plan.json, verify", &["verify", "plan/plan.json"])
    });
    let carry_on = ["carry-on", "plan/plan.json", "--note", "cut A1"];
    cases.push(saved().named("plan.json, carry-on", &carry_on));
    cases.push(saved().named("plan.json, plan", &["plan", "--job", "plan/plan.json"]));
    cases
}

fn plan(name: &'static str, input: &'static str, pieces: Writer) -> Case {
    let case = Case {
        name,
        input,
        files: Vec::new(),
        before: None,
        command: Vec::new(),
        takes_limit: true,
        codes: ENDED,
    };
    let command = ["plan", "pieces.csv", "--stock", "stock.csv"];
    case.file("pieces.csv", pieces)
        .file("stock.csv", few_bars)
        .told(&command)
}

fn quotes() -> Case {
    let mut case = plan("quotes", "15 quotes, 1,000 materials", many_of_materials);
    case.command = ["quotes", "pieces.csv"].map(str::to_owned).into();
    for quote in 1..=QUOTES {
        let name = format!("{quote}.csv");
        let prices: Writer = if quote % 2 == 0 {
            quote_even
        } else {
            quote_odd
        };
        case = case.file(&name, prices).told(&["--quote", &name]);
    }
    case
}

impl Case {
    fn file(mut self, name: &str, writer: Writer) -> Case {
        self.files.push((name.to_owned(), writer));
        self
    }

    fn stock(mut self, writer: Writer) -> Case {
        self.files.retain(|(name, _)| name != "stock.csv");
        self.file("stock.csv", writer)
    }

    fn told(mut self, arguments: &[&str]) -> Case {
        self.command
            .extend(arguments.iter().map(|&argument| argument.to_owned()));
        self
    }

    fn ends(self, codes: &'static [i32]) -> Case {
        Case { codes, ..self }
    }

    /// What was the command is run before, and saves its plan.
    fn saved(self) -> Case {
        let mut before = self.command.clone();
        before.extend(["--out", "plan"].map(str::to_owned));
        Case {
            before: Some(before),
            ..self
        }
    }

    fn named(self, name: &'static str, command: &[&str]) -> Case {
        let command = command.iter().map(|&word| word.to_owned()).collect();
        Case {
            name,
            command,
            ..self
        }
    }
}

/// Four kinds of bar, dearer by the metre the longer.
fn few_bars(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,price")?;
    writeln!(out, "3000,7.80\n3600,9.50\n4200,11.20\n4800,13.10")
}

fn two_batches(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,price,batch")?;
    writeln!(out, "3000,7.80,north kiln\n4200,11.20,south kiln")
}

fn many_batches(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,price,batch")?;
    (0..3_000).try_for_each(|row| writeln!(out, "{},7.80,B{row}", 3000 + row % 1800))
}

fn many_bars(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,price")?;
    // From 3000.00 mm in steps of 0.02, some up to 9 hundredths dearer.
    let price = |row: u32| 780 + row * 52 / 10_000 + row % 10;
    (0..3_000).try_for_each(|row: u32| {
        let (length, price) = (300_000 + 2 * row, price(row));
        writeln!(out, "{},{}", hundredths(length), hundredths(price))
    })
}

fn many_offcuts(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length")?;
    (0..2_996).try_for_each(|row| writeln!(out, "{}", hundredths(40_000 + 20 * row)))
}

fn bars_of_materials(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "material,length,price")?;
    (0..100_000).try_for_each(|row| writeln!(out, "M{row},3000,7.80"))
}

fn rows(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length")?;
    (0..100_000).try_for_each(|row| writeln!(out, "{}", 500 + 7 * (row % 200)))
}

fn few(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,qty")?;
    (0..100).try_for_each(|row| writeln!(out, "{},10", 500 + 13 * row))
}

fn materials(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "material,length")?;
    (0..100_000).try_for_each(|row| writeln!(out, "M{row},{}", 500 + row % 2000))
}

fn pieces(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,qty\n893,1000000")
}

fn lengths(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length")?;
    (0..10_000).try_for_each(|row| writeln!(out, "{}", hundredths(50_000 + 20 * row)))
}

fn pieces_and_lengths(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,qty")?;
    (0..10_000).try_for_each(|row| writeln!(out, "{},100", hundredths(50_000 + 20 * row)))
}

fn lengths_in_all(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "material,length,to,qty")?;
    (0..10).try_for_each(|row| (0..10).try_for_each(|_| writeln!(out, "M{row},500,2499.8,10000")))
}

fn bars_of_ten(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "material,length,price")?;
    (0..10).try_for_each(|row| writeln!(out, "M{row},3000,7.80\nM{row},4200,11.20"))
}

fn joints(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,joints\n100005,every 10")
}

fn joints_max(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,joints,joints_max\n10005,every 10,20")
}

fn joints_listed(out: &mut dyn Write) -> Result<()> {
    write!(out, "length,joints\n100005,at")?;
    (1..=10_000).try_for_each(|place| write!(out, " {}", 10 * place))?;
    writeln!(out)
}

fn anywhere(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,joints\n48000000,anywhere")
}

fn joints_in_all(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,joints")?;
    (0..100).try_for_each(|row| writeln!(out, "{},anywhere", 4_799_000 + 9 * row))
}

fn runs(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,joints")?;
    (0..10_000).try_for_each(|row| writeln!(out, "{},every 600", hundredths(600_000 + 20 * row)))
}

fn runs_anywhere(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,joints")?;
    (0..10_000).try_for_each(|row| writeln!(out, "{},anywhere", hundredths(600_000 + 20 * row)))
}

fn walls(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,wall")?;
    (0..100_000).try_for_each(|row| writeln!(out, "{},wall {row}", 500 + 7 * (row % 200)))
}

fn one_wall(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,wall")?;
    (0..100).try_for_each(|row| writeln!(out, "{},north", 500 + 13 * row))
}

fn courses(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,qty,joints,course_group,course")?;
    writeln!(out, "6300,10000,every 600,north slope,1")
}

fn groups(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,qty,joints,course_group,course")?;
    (0..5_000).try_for_each(|row| writeln!(out, "6300,2,every 600,slope {row},1"))
}

fn large_file(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,note")?;
    let note = "by the clay store ".repeat(36);
    (0..100_000).try_for_each(|row| writeln!(out, "{},{note}", 500 + 7 * (row % 200)))
}

fn large_cells(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,note")?;
    let note = "x".repeat(65_000);
    (0..1_000).try_for_each(|row| writeln!(out, "{},{note}", 500 + 7 * (row % 200)))
}

fn faults(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length")?;
    (0..100_000).try_for_each(|row| writeln!(out, "{row}x45"))
}

fn many_of_materials(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "material,length,qty")?;
    (0..10_000).try_for_each(|row| writeln!(out, "M{},{},3", row / 10, 500 + 37 * (row % 50)))
}

fn quote_odd(out: &mut dyn Write) -> Result<()> {
    quote(out, 0)
}

fn quote_even(out: &mut dyn Write) -> Result<()> {
    quote(out, 1)
}

/// A quote for every material, each second one of which is cheaper than in the other.
fn quote(out: &mut dyn Write, cheaper: u32) -> Result<()> {
    writeln!(out, "material,length,price,delivery")?;
    (0..1_000).try_for_each(|row: u32| {
        let price = if row % 2 == cheaper { 740 } else { 780 };
        writeln!(out, "M{row},3000,{},25", hundredths(price))
    })
}

fn large_plan(out: &mut dyn Write) -> Result<()> {
    writeln!(out, "length,qty")?;
    (0..1_000).try_for_each(|row| writeln!(out, "{},55", 500 + 2 * row))
}

/// 1234 as 12.34.
fn hundredths(number: u32) -> String {
    format!("{}.{:02}", number / 100, number % 100)
}
