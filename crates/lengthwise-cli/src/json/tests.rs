//! What hand-made plans look like, so that no search stands behind it.

use lengthwise::Length;
use lengthwise::job::{Ends, JobInput};
use lengthwise::plan::{
    Anywhere, BarGroup, Certificate, Cut, Cutting, Effort, Figures, MaterialPlan, Outcome, Plan,
    Proof, RunPart, Stop, Value, Window,
};
use lengthwise::{Price, Unit};
use serde_json::json;

use super::{PlanJson, StandAlone};

fn part(copy: u64, places: (u32, u32), part: u32, supports: (Option<u32>, Option<u32>)) -> RunPart {
    RunPart {
        mark: "T".to_owned(),
        copy,
        part,
        of: 2,
        from: Length::from_mm(places.0),
        to: Length::from_mm(places.1),
        from_support: supports.0,
        to_support: supports.1,
    }
}

fn cut(length: u32, marks: &[&str], parts: Vec<RunPart>) -> Cut {
    Cut {
        length: Length::from_mm(length),
        ends: Ends::SQUARE,
        marks: marks.iter().map(|&mark| mark.to_owned()).collect(),
        spare: false,
        for_bar: false,
        stage: 1,
        parts,
    }
}

fn bars(names: &[&str], cuts: Vec<Cut>) -> BarGroup {
    BarGroup {
        names: names.iter().map(|&name| name.to_owned()).collect(),
        bar: 0,
        stock: Length::from_mm(3000),
        in_hand: false,
        cuts,
        blade: Length::ZERO,
        reserve: Length::ZERO,
        square: Length::ZERO,
        offcut: Length::ZERO,
        offcut_rough: Length::ZERO,
        saved: false,
    }
}

/// Two runs of 3100, joined on the fifth support, and an ordinary piece on two bars.
fn plan() -> Plan {
    let first = |copy| part(copy, (0, 3000), 1, (None, Some(5)));
    let second = |copy| part(copy, (3000, 3100), 2, (Some(5), None));
    let cutting = Cutting {
        walls: None,
        proof: Proof::Gap(Stop::JointsTried),
        value: Value::Money(Price::parse("15", false).unwrap()),
        bound: Value::Money(Price::parse("10", false).unwrap()),
        buy: vec![],
        bars: vec![
            bars(
                &["A1", "A2"],
                vec![cut(3000, &["T-01.1", "T-02.1"], vec![first(1), first(2)])],
            ),
            bars(
                &["B1"],
                vec![
                    cut(100, &["T-01.2"], vec![second(1)]),
                    cut(100, &["T-02.2"], vec![second(2)]),
                    cut(90, &["K"], vec![]),
                ],
            ),
            bars(&["C1", "C2"], vec![cut(2000, &["S-01", "S-02"], vec![])]),
        ],
        uncut: vec![],
        figures: Figures::default(),
        hand_proof: Proof::Optimal,
        preference: lengthwise::plan::Preference::AsFound,
        certificate: Certificate {
            scale: 8,
            windows: vec![(
                Window {
                    group: 0,
                    first: 3,
                    place: Length::from_mm(600),
                },
                5,
            )],
            anywhere: Some(Anywhere::ByLength {
                unit: Length::from_nm(500_000).unwrap(),
                price: 7,
            }),
            ..Certificate::default()
        },
    };
    Plan {
        materials: vec![MaterialPlan {
            name: String::new(),
            unit: Unit::Mm,
            kerf: Length::from_mm(3),
            per_cut: Length::ZERO,
            outcome: Outcome::Planned(Box::new(cutting)),
            effort: Effort::default(),
        }],
    }
}

/// The form that the specification gives for a part of a run, and one entry for each bar with parts.
#[test]
fn parts_of_runs() {
    let shown = serde_json::to_value(PlanJson::new(&plan()).unwrap()).unwrap();
    let bars = shown["materials"][0]["bars"].as_array().unwrap();
    let names: Vec<_> = bars.iter().map(|bars| bars["names"].clone()).collect();
    let names_expected = [
        json!(["A1"]),
        json!(["A2"]),
        json!(["B1"]),
        json!(["C1", "C2"]),
    ];
    assert_eq!(names, names_expected);
    assert_eq!(
        bars[1]["cuts"],
        json!([{
            "length_mm": 3000, "ends": null, "marks": ["T-02.1"], "spare": false, "stage": 1,
            "run": {
                "mark": "T", "copy": 2, "part": 1, "of": 2, "from_mm": 0, "to_mm": 3000,
                "from_support": null, "to_support": 5,
            },
        }])
    );
    assert_eq!(bars[2]["cuts"][1]["run"]["from_support"], 5);
    assert_eq!(bars[2]["cuts"][2]["run"], json!(null));
    assert_eq!(bars[3]["cuts"][0]["marks"], json!(["S-01", "S-02"]));
}

#[test]
fn joint_places_that_were_tried_are_said() {
    let shown = serde_json::to_value(PlanJson::new(&plan()).unwrap()).unwrap();
    let material = &shown["materials"][0];
    assert_eq!(material["proof"], "gap");
    assert_eq!(
        material["why"],
        "Proved cheapest for the joint places tried; wherever joints fall, no plan costs less than 10.00."
    );
}

#[test]
fn certificates_of_runs() {
    let both = |plan: &Plan| {
        let input = JobInput::default();
        let alone = StandAlone::new(plan, &input).unwrap();
        let shown = serde_json::to_value(alone).unwrap();
        let certificate = &shown["certificates"][0];
        (
            certificate["windows"].clone(),
            certificate["anywhere"].clone(),
        )
    };
    let mut plan = plan();
    let windows = json!([{"group": 0, "first": 3, "place_mm": 600, "price": 5}]);
    assert_eq!(both(&plan), (windows, json!({"unit_mm": 0.5, "price": 7})));
    if let Outcome::Planned(cutting) = &mut plan.materials[0].outcome {
        cutting.certificate = Certificate::default();
    }
    assert_eq!(both(&plan), (json!([]), json!(null)));
}
