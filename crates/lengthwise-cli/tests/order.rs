//! Stages of the work, what to hold and the reach of the stop, from the files to the sheet.

mod common;

use common::Yard;

/// Three pieces that fill one bar but for 51 mm.
fn yard() -> Yard {
    let yard = Yard::with_pieces(
        "material,mark,length,qty,stage,wall\n\
         batten,L,2000,1,1,north\nbatten,M,500,1,,south\nbatten,S,200,1,1,\n",
    );
    yard.file("s.csv", "material,length,price\nbatten,2760,5\n");
    yard
}

/// 2760 - 2003 - 503 = 254 would be left to hold before the short one; 2760 - 2003 - 203 = 554.
#[test]
fn short_pieces_come_while_there_is_bar_to_hold() {
    let yard = yard();
    let run = yard.plan(&["--out", "o"]);
    run.ended(0);
    let cuts = yard.read("o/cutting-plan.csv");
    let cut = |line: &str| {
        let cells: Vec<&str> = line.split(',').collect();
        (cells[5].to_owned(), cells[19].to_owned())
    };
    let order: Vec<(String, String)> = cuts.lines().skip(1).map(cut).collect();
    let expected = [
        ("2000mm", "2000mm"),
        ("200mm", "2203mm"),
        ("500mm", "2706mm"),
    ];
    let expected = expected.map(|(stop, at)| (stop.to_owned(), at.to_owned()));
    assert_eq!(order, expected);
    assert!(run.out.contains("short: clamp it"));
    // With less to hold the longest goes first.
    let run = yard.plan(&["--hold", "200"]);
    let place = |text: &str| run.out.find(text);
    assert!(place("stop 500mm") < place("stop 200mm"), "{}", run.out);
    assert!(!run.out.contains("short: clamp it"));
}

#[test]
fn what_is_fixed_first_is_cut_first() {
    let yard = yard();
    yard.file(
        "p.csv",
        "material,mark,length,qty,stage\nbatten,L,2000,1,2\nbatten,M,500,1,1\nbatten,S,200,1,2\n",
    );
    let run = yard.plan(&["--stop-reach", "1.2m"]);
    run.ended(0);
    let place = |text: &str| run.out.find(text).unwrap_or(usize::MAX);
    assert!(place("Stage 1") < place("stop  500mm"), "{}", run.out);
    assert!(place("Stage 2") < place("tape 2000mm"), "{}", run.out);
}

#[test]
fn faults_of_the_new_cells_and_flags() {
    let yard = yard();
    yard.file("p.csv", "length,stage\n2000,0\n");
    yard.plan(&[]).is_fault(&["stage", "\"0\"", "1"]);
    yard.file("p.csv", "length,stage\n2000,1001\n");
    yard.plan(&[])
        .is_fault(&["stage", "1001", "from 1 to 1000"]);
    yard.file("p.csv", "length\n2000\n");
    let flags = ["--prefer", "short", "--hold", "-1", "--stop-reach", "far"];
    let run = yard.plan(&flags);
    run.is_fault(&["--prefer", "offcuts or setups"]);
    run.is_fault(&["--hold", "-1"])
        .is_fault(&["--stop-reach", "far"]);
}
