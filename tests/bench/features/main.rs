//! Time to find faces and features: `cargo bench --bench features`.
//!
//! Plates of square cells, each with a hole of one of five kinds (through, blind, drilled,
//! counterbored, countersunk) in 96 facets, of 10,000 to 1,000,000 triangles; and the finished
//! housing of the demo, whose lettering is free-form. Best of five; reading the file is not in it.

#![allow(
    clippy::expect_used,
    reason = "a measurement that cannot go on must say where"
)]

#[path = "../../faces/bodies.rs"]
#[allow(dead_code, reason = "the tests of faces use more of it")]
mod bodies;

use lapidary::mesh::faces::faces;
use lapidary::mesh::features::features;
use lapidary::mesh::{Mesh, ReadOptions, read_stl};
use std::time::{Duration, Instant};

const SEGMENTS: u32 = 96;

fn holes(count: usize) -> Vec<bodies::Hole> {
    let point = 3.0 / 59.0_f64.to_radians().tan();
    let kinds = [
        vec![(0.0, 3.0), (15.0, 3.0)],
        vec![(0.0, 3.0), (8.0, 3.0)],
        vec![(0.0, 3.0), (8.0, 3.0), (8.0 + point, 0.0)],
        vec![(0.0, 5.5), (6.0, 5.5), (6.0, 3.0), (15.0, 3.0)],
        vec![(0.0, 6.0), (3.0, 3.0), (15.0, 3.0)],
    ];
    kinds.into_iter().cycle().take(count).collect()
}

/// A plate of about so many triangles.
fn plate(triangles: usize) -> Mesh {
    let per_cell = bodies::plate(5, 15.0, &holes(25), SEGMENTS).len() / 25;
    let columns = ((triangles / per_cell) as f64).sqrt().round().max(1.0) as usize;
    bodies::mesh(&bodies::plate(
        columns as u32,
        15.0,
        &holes(columns * columns),
        SEGMENTS,
    ))
}

fn best(mut run: impl FnMut()) -> Duration {
    let once = |_| {
        let start = Instant::now();
        run();
        start.elapsed()
    };
    (0..5).map(once).min().expect("five runs")
}

fn measure(name: &str, mesh: &Mesh) {
    let (split, found) = features(mesh);
    let split_time = best(|| drop(faces(mesh)));
    let whole = best(|| drop(features(mesh)));
    println!(
        "{name:<22} {:>9} triangles {:>6} faces {:>5} features: faces alone {:>8.1} ms, \
         with features {:>8.1} ms, {:.2} us a triangle",
        mesh.triangles.len(),
        split.faces.len(),
        found.len(),
        split_time.as_secs_f64() * 1e3,
        whole.as_secs_f64() * 1e3,
        whole.as_secs_f64() * 1e6 / mesh.triangles.len() as f64
    );
}

fn main() {
    for triangles in [10_000, 100_000, 200_000, 1_000_000] {
        measure(&format!("plate {triangles}"), &plate(triangles));
    }
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/demo-models/meshes/housing-finished.stl"
    );
    let bytes = std::fs::read(path).expect("the demo has its meshes");
    let read = read_stl(&bytes, &ReadOptions::new(1.0)).expect("the demo's meshes are sound");
    measure("housing-finished", &read.mesh);
}
