//! The sheets and the picture: well-formed, safe, complete, exact.
#![allow(clippy::unwrap_used)]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::fs;

use common::{Run, Yard};
use html5ever::tendril::TendrilSink;
use html5ever::{ParseOpts, parse_document};
use markup5ever_rcdom::{Handle, NodeData, RcDom};

const SHEET: &str = "out/cutting-sheet.html";
const LIST: &str = "out/fixing-list.html";
const PICTURE: &str = "out/plan.svg";

/// A parsed page: no error is forgiven. The parser is the one of the Servo project.
fn page(text: &str) -> RcDom {
    let dom = parse_document(RcDom::default(), ParseOpts::default()).one(text);
    assert_eq!(*dom.errors.borrow(), Vec::<&str>::new(), "parse errors");
    dom
}

/// Every element below, itself included, in order.
fn elements(node: &Handle) -> Vec<Handle> {
    let mut found = Vec::new();
    let mut left = vec![node.clone()];
    while let Some(node) = left.pop() {
        left.extend(node.children.borrow().iter().rev().cloned());
        if matches!(node.data, NodeData::Element { .. }) {
            found.push(node);
        }
    }
    found
}

fn tag(node: &Handle) -> String {
    match &node.data {
        NodeData::Element { name, .. } => name.local.to_string(),
        _ => String::new(),
    }
}

fn attribute(node: &Handle, name: &str) -> Option<String> {
    let NodeData::Element { attrs, .. } = &node.data else {
        return None;
    };
    let attrs = attrs.borrow();
    let found = attrs.iter().find(|one| &*one.name.local == name);
    found.map(|one| one.value.to_string())
}

fn has_class(node: &Handle, class: &str) -> bool {
    let classes = attribute(node, "class").unwrap_or_default();
    classes.split(' ').any(|one| one == class)
}

fn of_class(node: &Handle, class: &str) -> Vec<Handle> {
    let mut found = elements(node);
    found.retain(|one| has_class(one, class));
    found
}

fn text(node: &Handle) -> String {
    let mut out = String::new();
    let mut left = vec![node.clone()];
    while let Some(node) = left.pop() {
        left.extend(node.children.borrow().iter().rev().cloned());
        if let NodeData::Text { contents } = &node.data {
            out.push_str(&contents.borrow());
        }
    }
    out
}

/// What is set apart as words of a user.
fn words(page: &RcDom) -> BTreeSet<String> {
    let all = elements(&page.document);
    let words = all.iter().filter(|one| tag(one) == "bdi").map(text);
    words.collect()
}

/// The rows of the table of cuts: bar, and all but the columns of runs.
fn rows(yard: &Yard) -> Vec<BTreeMap<String, String>> {
    let text = yard.read("out/cutting-plan.csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let rows = reader.deserialize().map(Result::unwrap);
    rows.collect()
}

fn planned(yard: &Yard, more: &[&str]) -> Run {
    let run = yard.plan(&[&["--out", "out"], more].concat());
    run.ended(0);
    run
}

/// Boxes to tick in tables of one class.
fn boxes(page: &RcDom, class: &str) -> usize {
    let tables = of_class(&page.document, class);
    tables.iter().map(|one| of_class(one, "tick").len()).sum()
}

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/kiln-shed/");
const LOFT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/drying-loft/");

fn demonstration() -> Yard {
    let yard = Yard::new();
    for name in ["pieces.csv", "stock.csv", "in-hand.csv"] {
        yard.file(name, fs::read(format!("{DEMO}{name}")).unwrap());
    }
    let run = yard.run(&[
        "plan",
        "pieces.csv",
        "--stock",
        "stock.csv",
        "--in-hand",
        "in-hand.csv",
        "--out",
        "out",
    ]);
    run.ended(0);
    yard
}

fn loft() -> Yard {
    let yard = Yard::new();
    for name in ["pieces.csv", "stock.csv"] {
        yard.file(name, fs::read(format!("{LOFT}{name}")).unwrap());
    }
    let run = yard.run(&["plan", "pieces.csv", "--stock", "stock.csv", "--out", "out"]);
    run.ended(0);
    yard
}

/// Everything that holds for all three files of any plan.
#[track_caller]
fn is_sound(yard: &Yard) -> (RcDom, RcDom) {
    let sheet = page(&yard.read(SHEET));
    let list = page(&yard.read(LIST));
    let picture = yard.read(PICTURE);
    let svg = roxmltree::Document::parse(&picture).unwrap();
    assert_eq!(svg.root_element().tag_name().name(), "svg");
    let first = svg.root_element().first_element_child().unwrap();
    assert_eq!(first.tag_name().name(), "title");
    for page in [&sheet, &list] {
        let all = elements(&page.document);
        let html = all.iter().find(|one| tag(one) == "html").unwrap();
        assert_eq!(attribute(html, "lang").as_deref(), Some("en"));
        for one in &all {
            let tag = tag(one);
            let loads = [
                "script", "link", "img", "iframe", "object", "embed", "base", "image", "use",
            ];
            assert!(!loads.contains(&tag.as_str()), "{tag} is loaded or run");
            for name in ["src", "href", "srcset", "onload", "onclick"] {
                assert_eq!(attribute(one, name), None, "{tag} {name}");
            }
            if tag == "th" {
                assert!(attribute(one, "scope").is_some(), "{}", text(one));
            }
            if tag == "table" {
                let inside = elements(one);
                assert!(inside.iter().any(|one| self::tag(one) == "caption"));
            }
            if tag == "svg" {
                assert_eq!(attribute(one, "role").as_deref(), Some("img"));
                let inside: Vec<String> = elements(one).iter().map(self::tag).collect();
                assert!(inside.contains(&"title".to_owned()));
                assert!(inside.contains(&"desc".to_owned()));
            }
        }
    }
    for name in [SHEET, LIST, PICTURE] {
        let text = yard.read(name).replace("http://www.w3.org/2000/svg", "");
        for outside in ["http:", "https:", "//", "url(", "@import"] {
            assert!(!text.contains(outside), "{name} has {outside}");
        }
    }
    (sheet, list)
}

/// As many boxes at the stops and on the wall as there are cuts, one for each bar, and every mark on
/// both sheets; in the picture too.
#[track_caller]
fn is_complete(yard: &Yard) {
    let (sheet, list) = is_sound(yard);
    let rows = rows(yard);
    assert_eq!(boxes(&sheet, "stops"), rows.len());
    assert_eq!(boxes(&list, "pieces"), rows.len());
    let bars: BTreeSet<&str> = rows.iter().map(|row| row["bar"].as_str()).collect();
    assert_eq!(boxes_of_bars(&sheet), bars.len());
    let picture = yard.read(PICTURE);
    let svg = roxmltree::Document::parse(&picture).unwrap();
    let lines: Vec<&str> = svg
        .descendants()
        .filter(|node| node.is_text())
        .filter_map(|node| node.text())
        .collect();
    // Long marks are broken at the end of a line.
    let lines: String = lines.concat().split_whitespace().collect();
    for row in &rows {
        let mark = row["mark"].as_str();
        assert!(words(&sheet).contains(mark), "{mark} is not on the sheet");
        assert!(words(&list).contains(mark), "{mark} is not on the list");
        let closed: String = mark.split_whitespace().collect();
        assert!(lines.contains(&closed), "{mark} is not in the picture");
    }
}

fn boxes_of_bars(sheet: &RcDom) -> usize {
    let blocks = of_class(&sheet.document, "bar");
    blocks.iter().map(|one| of_class(one, "tick").len()).sum()
}

/// The places of the cuts on the sheet, bar by bar, beside what the blade and the pieces before them
/// take: recomputed from the table of cuts.
#[track_caller]
fn places_are_exact(yard: &Yard, kerf_nm: i64) {
    let (sheet, _) = is_sound(yard);
    let mut lengths: BTreeMap<String, Vec<i64>> = BTreeMap::new();
    for row in rows(yard) {
        let length = lengthwise::Length::parse(&row["length"], lengthwise::Unit::Mm).unwrap();
        let bar = lengths.entry(row["bar"].clone()).or_default();
        bar.push(length.length.nm());
    }
    let mut seen = 0;
    for block in of_class(&sheet.document, "bar") {
        let places = elements(&block);
        let places = places.iter().filter(|one| tag(one) == "data");
        let places = places.map(|one| attribute(one, "value").unwrap().parse::<i64>().unwrap());
        let places: Vec<i64> = places.collect();
        let name = text(&of_class(&block, "name")[0]);
        let first = name.split([' ', ',']).next().unwrap();
        let mut at = 0;
        let expected: Vec<i64> = lengths[first]
            .iter()
            .map(|length| {
                at += length;
                let end = at;
                at += kerf_nm;
                end
            })
            .collect();
        assert_eq!(places, expected, "bar {first}");
        seen += places.len();
    }
    assert!(seen > 0);
}

#[test]
fn the_demonstration_is_sound_and_complete() {
    is_complete(&demonstration());
    is_complete(&loft());
}

#[test]
fn every_cut_lies_where_pieces_and_blade_put_it() {
    let yard = Yard::new();
    yard.file("p.csv", "mark,length,qty\nA,1100,3\nB,730.5,4\nC,333,5\n");
    yard.file(
        "s.csv",
        "length,square_off,kerf\n3000,12/7,3.2\n2400,5,3.2\n",
    );
    planned(&yard, &[]);
    places_are_exact(&yard, 3_200_000);
    let sheet = yard.read(SHEET);
    assert!(sheet.contains("first square off 12mm") || sheet.contains("first square off 5mm"));
    yard.file(
        "p.csv",
        "mark,length,qty\nA,\"3' 7 5/16\"\"\",3\nB,\"1' 1/64\"\"\",7\n",
    );
    yard.file("s.csv", "length,kerf\n\"12'\",\"1/8\"\"\"\n");
    planned(&yard, &[]);
    places_are_exact(&yard, 3_175_000);
}

/// Marks that would be markup, attributes or entities if they were not escaped.
#[test]
fn words_of_users_are_never_markup() {
    let yard = Yard::new();
    let marks = [
        "<script>alert(1)</script>",
        "\"&'",
        "</style></title></svg><b>",
        "&lt;b&gt;",
        "]]>-->",
    ];
    let quoted = |mark: &str| format!("\"{}\"", mark.replace('"', "\"\""));
    let mut text = String::from("material,mark,length,qty,wall,note\n");
    for (place, mark) in marks.iter().enumerate() {
        let (mark, length) = (quoted(mark), 500 + 100 * place);
        text += &format!(
            "{0},{mark},{length},2,{mark},{mark}\n",
            quoted("<i>oak</i>\"&'")
        );
        text += &format!("{mark},{mark}x,{length},1,{mark},{mark}\n");
    }
    yard.file("p.csv", text);
    let mut stock = String::from("material,length\n");
    for mark in marks.iter().chain([&"<i>oak</i>\"&'"]) {
        stock += &format!("{},3000\n", quoted(mark));
    }
    yard.file("s.csv", stock);
    planned(&yard, &[]);
    is_complete(&yard);
    for name in [SHEET, LIST, PICTURE] {
        let text = yard.read(name);
        for raw in [
            "<script",
            "alert(1)</script>",
            "<i>",
            "</style></title>",
            "&'\"",
        ] {
            assert!(!text.contains(raw), "{name} has {raw}");
        }
    }
}

#[test]
fn long_marks_and_marks_from_right_to_left() {
    let yard = Yard::new();
    let long = "M".repeat(200);
    let hebrew = "\u{5e7}\u{5d9}\u{5e8} \u{5e6}\u{5e4}\u{5d5}\u{5e0}\u{5d9}";
    let arabic = "\u{62c}\u{62f}\u{627}\u{631} \u{634}\u{645}\u{627}\u{644}\u{64a} 12";
    yard.file(
        "p.csv",
        format!(
            "mark,length,qty,wall\n{long},700,3,{long}\n{hebrew},800,2,{hebrew}\n{arabic},650,1,\n"
        ),
    );
    yard.file("s.csv", "length\n3000\n");
    planned(&yard, &[]);
    is_complete(&yard);
    let style = yard.read(SHEET);
    assert!(style.contains("overflow-wrap: anywhere"));
}

#[test]
fn two_thousand_pieces() {
    let yard = Yard::new();
    let mut text = String::from("mark,length,qty\n");
    for row in 0..40 {
        text += &format!("W{row},{},50\n", 300 + 37 * row);
    }
    yard.file("p.csv", text);
    yard.file("s.csv", "length,price\n3000,6\n4200,8.10\n");
    planned(&yard, &["--work-limit", "20000000"]);
    assert_eq!(rows(&yard).len(), 2000);
    is_complete_by_sets(&yard);
    for name in [SHEET, LIST, PICTURE] {
        assert!(yard.read(name).len() < 3_000_000, "{name}");
    }
}

/// The same as [`is_complete`] where looking for each mark by itself takes long.
#[track_caller]
fn is_complete_by_sets(yard: &Yard) {
    let (sheet, list) = is_sound(yard);
    let rows = rows(yard);
    let marks: BTreeSet<String> = rows.iter().map(|row| row["mark"].clone()).collect();
    let bars: BTreeSet<&str> = rows.iter().map(|row| row["bar"].as_str()).collect();
    assert_eq!(marks.len(), rows.len());
    assert!(marks.is_subset(&words(&sheet)));
    assert!(marks.is_subset(&words(&list)));
    assert_eq!(boxes(&sheet, "stops"), rows.len());
    assert_eq!(boxes(&list, "pieces"), rows.len());
    assert_eq!(boxes_of_bars(&sheet), bars.len());
}

#[test]
fn short_pieces_and_those_beyond_the_stop_are_pointed_out_at_their_cut() {
    let yard = Yard::with_pieces("mark,length,qty\nlong,2210,1\nmid,900,1\nbit,240,1\n");
    yard.file("s.csv", "length\n4000\n");
    planned(&yard, &["--stop-reach", "2m"]);
    let (sheet, _) = is_sound(&yard);
    let at = |class: &str, mark: &str| {
        let cuts = &of_class(&sheet.document, "cuts")[0];
        let all = elements(cuts);
        let row = all
            .iter()
            .find(|one| tag(one) == "tr" && text(one).contains(mark));
        let warnings = of_class(row.unwrap(), class);
        warnings.iter().map(text).collect::<String>()
    };
    assert!(at("warn", "long").contains("by tape"));
    assert_eq!(at("warn", "mid"), "");
    assert!(at("warn", "bit").contains("short"));
    planned(&yard, &["--hold", "200"]);
    assert!(!yard.read(SHEET).contains("short: hands off"));
}

/// What is fixed first is cut first, and the sheet says so where the stop is set.
#[test]
fn stages_head_their_stops() {
    let yard = Yard::with_pieces("mark,length,qty,stage\nlate,900,2,2\nfirst,500,3,1\n");
    yard.file("s.csv", "length\n3000\n");
    planned(&yard, &[]);
    is_complete(&yard);
    let (sheet, _) = is_sound(&yard);
    let stages = of_class(&sheet.document, "stage");
    let stages: Vec<String> = stages.iter().map(text).collect();
    assert_eq!(stages, ["Stage 1", "Stage 2"]);
}

#[test]
fn a_material_without_a_plan_is_named_with_the_reason_on_all_of_them() {
    let yard =
        Yard::with_pieces("material,mark,length,qty\nbatten,F,2210,2\nbeam & <post>,G,9000,2\n");
    yard.file(
        "s.csv",
        "material,length\nbatten,3000\nbeam & <post>,4000\n",
    );
    yard.plan(&["--out", "out"]).ended(1);
    let (sheet, list) = is_sound(&yard);
    for page in [&sheet, &list] {
        let said = of_class(&page.document, "noplan");
        let said: String = said.iter().map(text).collect();
        assert!(
            said.contains("beam & <post>") && said.contains("9000mm"),
            "{said}"
        );
    }
    assert!(yard.read(PICTURE).contains("No plan."));
    // Its pieces stand on the list all the same, without a bar.
    assert_eq!(boxes(&list, "pieces"), 4);
}

/// Walls in the order in which the pieces name them; pieces without one last.
#[test]
fn every_wall_has_a_list_of_its_own() {
    let yard = Yard::with_pieces(
        "material,mark,length,qty,wall\nb,A,500,2,south\nb,B,600,1,\nb,C,700,1,north\nc,D,800,3,south\n",
    );
    yard.file("s.csv", "material,length\nb,3000\nc,3000\n");
    planned(&yard, &[]);
    let (_, list) = is_sound(&yard);
    let walls: Vec<(String, usize)> = of_class(&list.document, "wall")
        .iter()
        .map(|wall| {
            let all = elements(wall);
            let head = all.iter().find(|one| tag(one) == "h2").map(text);
            (head.unwrap(), of_class(wall, "tick").len())
        })
        .collect();
    let expected = [("south", 5), ("north", 1), ("Pieces without a wall", 1)];
    let expected = expected.map(|(name, count)| (name.to_owned(), count));
    assert_eq!(walls, expected);
}

/// Courses go up in their order, whatever the order of the rows; parts from left to right.
#[test]
fn courses_go_up_in_order() {
    let yard = Yard::with_pieces(
        "mark,length,qty,joints,course_group,course\n\
         T,3100,2,every 600,north,3\nS,3100,2,every 600,north,1\n",
    );
    yard.file("s.csv", "length\n3000\n2400\n");
    planned(&yard, &[]);
    let (_, list) = is_sound(&yard);
    let runs = of_class(&list.document, "run-name");
    let runs: Vec<String> = runs
        .iter()
        .map(|one| text(&of_class(one, "mark")[0]))
        .collect();
    assert_eq!(runs, ["S-01", "S-02", "T-01", "T-02"]);
    let marks = of_class(&list.document, "run");
    let first: Vec<String> = of_class(&marks[0], "mark").iter().map(text).collect();
    assert_eq!(first, ["S-01", "S-01.1", "S-01.2"]);
}

#[test]
fn the_sheet_of_the_demonstration_is_no_large_file() {
    assert!(demonstration().read(SHEET).len() < 1_000_000);
}

/// Two pieces of 1000 with one end of 45 degrees: the slanted slot of 3 mm takes 3 times the root of 2, 4.242641 mm,
/// and lies behind its piece with the cut, on the sheet as in the table.
#[test]
fn a_mitred_piece_ends_where_its_length_does() {
    let yard = Yard::with_pieces("mark,length,qty,ends\nA,1000,2,90/45\n");
    yard.file("s.csv", "length,kerf\n3000,3\n");
    planned(&yard, &[]);
    let table = yard.read("out/cutting-plan.csv");
    let mut rows = table.lines();
    let place = rows
        .next()
        .unwrap()
        .split(',')
        .position(|name| name == "position");
    let ends: Vec<&str> = rows
        .map(|row| row.split(',').nth(place.unwrap()).unwrap())
        .collect();
    assert_eq!(ends, ["1000mm", "2007.242641mm"]);
    let sheet = yard.read(SHEET);
    assert!(
        sheet.contains("1000mm") && sheet.contains("2007.2mm"),
        "{sheet}"
    );
}
