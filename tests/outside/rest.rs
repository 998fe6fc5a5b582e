//! Pairs at rest.

use crate::bodies::Bodies;
use lapidary::gap::{Ask, Gap, Motion, pair_gap};
use serde_json::Value;
use std::collections::BTreeMap;

/// Mesh pairs agree with coal within this.
const MESH_MM: f64 = 1e-6;
/// Brackets of solids of revolution meet the bracket of the prisms within this.
const PRISM_MM: f64 = 1e-5;
/// A bracket of two meshes is at most this wide.
const WIDEST_MESH_MM: f64 = 1e-6;
/// A bracket with a solid of revolution is at most this wide. The widest seen is 1.5e-5, for a
/// chamfer cutter that touches a clamp; a fiftieth of the default tolerance of a motion.
const WIDEST_REVOLVED_MM: f64 = 2e-5;

/// Small bodies and large ones; live.py reads them in the same order.
const FILES: [&str; 5] = [
    "rest-mesh-small.json",
    "rest-mesh-large.json",
    "rest-tool-small.json",
    "rest-tool-large.json",
    "rest-tool-tool.json",
];

const CLASSES: [&str; 5] = ["far", "near", "touching", "overlapping", "inside"];

/// What is wrong with an answer, if anything.
fn wrong(case: &Value, gap: &Gap) -> Option<&'static str> {
    let (reference_lo, reference_hi) = (case[5].as_f64()?, case[6].as_f64()?);
    let meshes = case[0] == "mesh-mesh";
    let within = if meshes { MESH_MM } else { PRISM_MM };
    let widest = if meshes {
        WIDEST_MESH_MM
    } else {
        WIDEST_REVOLVED_MM
    };
    let class = case[7].as_str()?;
    match class {
        _ if gap.lo_mm > gap.hi_mm => Some("bracket upside down"),
        _ if gap.lo_mm > reference_hi + within => Some("lo above the reference: a false clear"),
        _ if gap.hi_mm < reference_lo - within => Some("hi below the reference"),
        _ if gap.hi_mm - gap.lo_mm > widest => Some("bracket too wide"),
        // A piece of a tool is solid: what is in it simply overlaps it.
        "inside" if meshes && gap.contained.is_none() => Some("not told as contained"),
        "inside" if gap.hi_mm != 0.0 => Some("inside, but a gap is told"),
        // Planted within 1e-6 of contact: neither side of it is wrong, nor is undecided.
        "inside" | "touching" => None,
        _ if gap.contained.is_some() => Some("told as contained"),
        _ if !gap.decided => Some("undecided"),
        _ => None,
    }
}

#[test]
fn pairs_at_rest_agree_with_the_libraries() {
    let (bodies, cases) = (Bodies::load(), crate::references(&FILES));
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
        answers.push(Some(gap));
        if !bodies.comparable([&case[1], &case[2]]) {
            continue;
        }
        if let Some(fault) = wrong(case, &gap) {
            failures.push(format!("case {number} {case}: {fault}: {gap:?}"));
        }
        let beyond = beyond_mm(case, &gap);
        let largest = largest_mm.entry(key.0.clone()).or_insert(0.0_f64);
        *largest = largest.max(beyond);
        *counts.entry(key).or_default() += 1;
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
