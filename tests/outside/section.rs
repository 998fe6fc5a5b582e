//! Plane sections of meshes against trimesh.

use crate::bodies::Bodies;
use lapidary::gap::section;
use lapidary::value::Pose;
use std::collections::BTreeMap;

/// Area and length agree within this share.
const SHARE: f64 = 1e-6;

/// Source: trimesh 5.2.0, `intersections.mesh_plane`, on random planes (`cases_section.py`).
#[test]
fn sections_agree_with_trimesh() {
    let (bodies, cases) = (Bodies::load(), crate::references(&["section.json"]));
    let mut counts: BTreeMap<String, usize> = BTreeMap::new();
    let mut worst: f64 = 0.0;
    for case in &cases {
        let Some(body) = bodies.placed(&case[0], &case[1]) else {
            continue;
        };
        if !bodies.comparable([&case[0], &case[0]]) {
            continue;
        }
        let lines = section(&body, &Pose::identity(), 1e-3);
        assert!(lines.iter().all(|line| line.closed), "open: {case}");
        let area_mm2: f64 = lines.iter().map(|line| line.area_mm2()).sum();
        let length_mm: f64 = lines.iter().map(|line| line.length_mm()).sum();
        for (ours, theirs) in [(area_mm2, &case[2]), (length_mm, &case[3])] {
            let theirs = theirs.as_f64().unwrap();
            let off = (ours - theirs).abs() / theirs.abs().max(1e-3);
            assert!(off <= SHARE, "{ours} and {theirs}: {case}");
            worst = worst.max(off);
        }
        *counts
            .entry(case[0].as_str().unwrap().to_owned())
            .or_default() += 1;
    }
    println!("sections compared: {counts:?}; farthest apart: {worst:.1e} of the value");
    assert!(counts.values().sum::<usize>() >= 100);
}
