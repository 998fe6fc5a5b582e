//! A million triangles: counts are checked; times are printed by the release build.

use super::solids::{Roundness, revolved};
use super::*;
use std::time::Instant;

/// A wavy turned body of about this many triangles.
fn large(triangles: u32) -> Mesh {
    let segments = 500;
    let rings = triangles / (2 * segments);
    let wave = |k: u32| 60.0 + 5.0 * (f64::from(k) * 0.05).sin();
    let profile: Vec<(f64, f64)> = (0..=rings).map(|k| (f64::from(k) * 0.2, wave(k))).collect();
    revolved(&profile, segments, Roundness::Inscribed).unwrap()
}

#[test]
fn a_large_body_reads_whole() {
    let count = if cfg!(debug_assertions) {
        100_000
    } else {
        1_000_000
    };
    let mesh = large(count);
    let bytes = write_stl_binary(&mesh);
    let start = Instant::now();
    let again = read(&bytes).unwrap();
    println!(
        "read {} triangles, binary: {:?}",
        again.mesh.triangles.len(),
        start.elapsed()
    );
    assert_eq!(again.mesh.triangles.len(), mesh.triangles.len());
    assert_eq!(again.mesh.vertices.len(), mesh.vertices.len());
    assert!(again.mesh.shells.len() == 1 && again.mesh.shells[0].closed);
    assert_eq!(again.faults, []);
    let start = Instant::now();
    let found = envelope_of_revolution(
        &again.mesh,
        Point3::origin(),
        nalgebra::Vector3::z_axis(),
        0.05,
    );
    println!("envelope of {} pairs: {:?}", found.len(), start.elapsed());
    let text = write_stl_ascii(&mesh, "large");
    let start = Instant::now();
    let again = read(text).unwrap();
    println!("the same, ASCII: {:?}", start.elapsed());
    assert_eq!(again.mesh.vertices, mesh.vertices);
}
