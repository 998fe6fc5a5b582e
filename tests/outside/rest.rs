//! Pairs at rest.

use crate::bodies::Bodies;
use lapidary::gap::{Ask, Gap, Motion, pair_gap};
use serde_json::Value;
use std::collections::BTreeMap;

/// Mesh pairs agree with coal within this.
const MESH_MM: f64 = 1e-6;
/// Brackets of solids of revolution meet the bracket of the prisms within this.
const PRISM_MM: f64 = 1e-5;
/// Touching is planted to this; an answer may be either side of it.
const TOUCH_MM: f64 = 1e-6;
/// A bracket at rest is at most this wide.
const WIDEST_MM: f64 = 1e-6;

/// Small bodies and large ones; live.py reads them in the same order.
const FILES: [&str; 5] = [
    "rest-mesh-small.json",
    "rest-mesh-large.json",
    "rest-tool-small.json",
    "rest-tool-large.json",
    "rest-tool-tool.json",
];

fn list(value: Value) -> Vec<Value> {
    match value {
        Value::Array(rows) => rows,
        other => panic!("not a list: {other}"),
    }
}

const CLASSES: [&str; 5] = ["far", "near", "touching", "overlapping", "inside"];

/// What is wrong with an answer, if anything.
fn wrong(case: &Value, gap: &Gap) -> Option<&'static str> {
    let (reference_lo, reference_hi) = (case[5].as_f64()?, case[6].as_f64()?);
    let within = if case[0] == "mesh-mesh" {
        MESH_MM
    } else {
        PRISM_MM
    };
    let class = case[7].as_str()?;
    let wide = gap.hi_mm - gap.lo_mm > WIDEST_MM;
    match class {
        _ if gap.lo_mm > gap.hi_mm => Some("bracket upside down"),
        _ if gap.lo_mm > reference_hi + within => Some("lo above the reference: a false clear"),
        _ if gap.hi_mm < reference_lo - within => Some("hi below the reference"),
        "inside" if gap.contained.is_none() || gap.hi_mm != 0.0 => Some("not told as contained"),
        "inside" => None,
        _ if gap.contained.is_some() && class != "touching" => Some("told as contained"),
        "touching" if gap.hi_mm > TOUCH_MM + within => Some("touching, but a gap is told"),
        _ if !gap.decided => Some("undecided"),
        _ if wide => Some("bracket too wide"),
        _ => None,
    }
}

#[test]
fn pairs_at_rest_agree_with_the_libraries() {
    let bodies = Bodies::load();
    let cases: Vec<Value> = FILES
        .iter()
        .flat_map(|file| list(crate::reference(file)))
        .collect();
    let mut counts: BTreeMap<(String, String), usize> = BTreeMap::new();
    let (mut answers, mut failures) = (Vec::new(), Vec::new());
    let mut largest_mm = BTreeMap::new();
    for (number, case) in cases.iter().enumerate() {
        let (a, b) = (
            bodies.placed(&case[1], &case[3]),
            bodies.placed(&case[2], &case[4]),
        );
        let (Some(a), Some(b)) = (a, b) else {
            answers.push(None);
            continue;
        };
        let gap = pair_gap(&a, &b, &Motion::rest(), &Ask::default()).unwrap();
        let key = (
            case[0].as_str().unwrap().to_owned(),
            case[7].as_str().unwrap().to_owned(),
        );
        if let Some(fault) = wrong(case, &gap) {
            failures.push(format!("case {number} {case}: {fault}: {gap:?}"));
        }
        let beyond = beyond_mm(case, &gap);
        let largest = largest_mm.entry(key.0.clone()).or_insert(0.0_f64);
        *largest = largest.max(beyond);
        *counts.entry(key).or_default() += 1;
        answers.push(Some(gap));
    }
    crate::write_answers("answers-rest.json", &answers);
    println!("pairs at rest: {counts:?}");
    println!("largest distance of a bracket from the reference, mm: {largest_mm:?}");
    for kind in ["mesh-mesh", "revolved-mesh", "revolved-revolved"] {
        for class in CLASSES {
            let count = counts.get(&(kind.to_owned(), class.to_owned()));
            assert!(count.is_some(), "no {class} case of {kind}");
        }
    }
    assert!(
        failures.is_empty(),
        "{} wrong:\n{}",
        failures.len(),
        failures.join("\n")
    );
}

/// By how much a bracket misses the reference.
fn beyond_mm(case: &Value, gap: &Gap) -> f64 {
    let (reference_lo, reference_hi) = (case[5].as_f64().unwrap(), case[6].as_f64().unwrap());
    (gap.lo_mm - reference_hi)
        .max(reference_lo - gap.hi_mm)
        .max(0.0)
}
