//! Lines, index moves and areas of positions.

use crate::bodies::{Bodies, numbers, vector};
use lapidary::gap::{Ask, Gap, Motion, Spread, Turn, pair_gap};
use lapidary::value::Vec3;
use nalgebra::Point3;
use serde_json::Value;
use std::collections::BTreeMap;

/// A lower value may be above a sampled one by this: the libraries' own error.
const SLACK_MM: f64 = 1e-6;
/// A case may be left undecided in this share of the cases.
const UNDECIDED_SHARE: f64 = 0.01;

/// Small bodies, then a score of full size; live.py reads them in the same order.
const FILES: [&str; 7] = [
    "motion-line.json",
    "motion-line-tool.json",
    "motion-turn.json",
    "motion-turn-tool.json",
    "motion-area.json",
    "motion-area-tool.json",
    "motion-full.json",
];

fn motion_of(case: &Value) -> (&'static str, Motion) {
    if let Some(ends) = case.get("line") {
        return ("line", Motion::line(vector(&ends[0]), vector(&ends[1])));
    }
    if let Some(turn) = case.get("turn") {
        let turn = Turn {
            centre: Point3::from(vector(&turn["centre"])),
            direction: vector(&turn["direction"]),
            from_deg: turn["from"].as_f64().unwrap(),
            to_deg: turn["to"].as_f64().unwrap(),
        };
        return ("index move", Motion::turn(turn));
    }
    let offsets_mm = case["offsets"]
        .as_array()
        .unwrap()
        .iter()
        .map(vector)
        .collect();
    let Some(radius) = case.get("disc") else {
        return ("area", Motion::spread(offsets_mm));
    };
    let spread = Spread {
        offsets_mm,
        disc_radius_mm: radius.as_f64().unwrap(),
        disc_normal: Vec3::from_column_slice(&numbers(&case["normal"])),
    };
    ("disc", Motion { spread, turn: None })
}

/// What is wrong with an answer, if anything.
fn wrong(case: &Value, gap: &Gap, tolerance_mm: f64) -> Option<&'static str> {
    let (sampled_lo, sampled_hi) = (case["lo"].as_f64()?, case["hi"].as_f64()?);
    if gap.lo_mm > gap.hi_mm {
        return Some("bracket upside down");
    }
    if gap.lo_mm > sampled_hi + SLACK_MM {
        return Some("lo above a sampled gap: a false clear");
    }
    if gap.hi_mm < sampled_lo - SLACK_MM {
        return Some("hi below what sampling allows");
    }
    if gap.decided && gap.hi_mm - gap.lo_mm > tolerance_mm + SLACK_MM {
        return Some("bracket too wide");
    }
    let exact = case.get("exact").and_then(Value::as_f64)?;
    if gap.lo_mm > exact + SLACK_MM || gap.hi_mm < exact - SLACK_MM {
        return Some("misses the exact gap of the swept triangles");
    }
    None
}

#[test]
fn motions_agree_with_sampled_libraries() {
    let (bodies, cases) = (Bodies::load(), crate::references(&FILES));
    let ask = Ask::default();
    let mut counts: BTreeMap<(&str, String, &str), usize> = BTreeMap::new();
    let (mut answers, mut failures, mut undecided) = (Vec::new(), Vec::new(), 0_usize);
    for (number, case) in cases.iter().enumerate() {
        let a = bodies.placed(&case["a"], &case["pose_a"]);
        let b = bodies.placed(&case["b"], &case["pose_b"]);
        let (Some(a), Some(b)) = (a, b) else {
            answers.push(None);
            continue;
        };
        let (kind, motion) = motion_of(case);
        let gap = pair_gap(&a, &b, &motion, &ask).unwrap();
        answers.push(Some(gap));
        if !bodies.comparable([&case["a"], &case["b"]]) {
            continue;
        }
        if let Some(fault) = wrong(case, &gap, ask.tolerance_mm) {
            failures.push(format!("case {number} {case}: {fault}: {gap:?}"));
        }
        undecided += usize::from(!gap.decided);
        let class = if case["hi"] == 0.0 {
            "contact"
        } else {
            "apart"
        };
        *counts
            .entry((kind, case["set"].as_str().unwrap().to_owned(), class))
            .or_default() += 1;
    }
    crate::write_answers("answers-motion.json", &answers);
    println!("motions: {counts:?}, undecided: {undecided}");
    assert!(
        failures.is_empty(),
        "{} wrong:\n{}",
        failures.len(),
        failures.join("\n")
    );
    let total = answers.iter().flatten().count();
    assert!(
        undecided as f64 <= UNDECIDED_SHARE * total as f64,
        "{undecided} of {total} undecided"
    );
}
