//! Measures reach in bulk: for every vertex of a part and many directions, may a tool touch it?
//!
//! `cargo bench --bench tip`; `-- --triangles 100000` for one density only. Beside the time by the
//! clock stands the processor time of all threads, where the system tells it (Linux): on a busy
//! machine that is what can be compared; on two idle cores the clock shows about half of it.

#[path = "../clock.rs"]
mod clock;
mod part;
#[path = "../gap/scene.rs"]
#[allow(
    dead_code,
    reason = "the scene of the other bench; here only its solids"
)]
mod scene;

use clock::processor_seconds;
use lapidary::gap::{Freedom, Landscape, MeshShape, Placed, Stack, tip_is_free, tip_stop};
use lapidary::value::{Pose, Vec3, frame_from_z_and_hint};
use nalgebra::Translation3;
use part::End;
use rayon::prelude::*;
use std::sync::Arc;
use std::time::{Duration, Instant};

const DIRECTIONS: usize = 102;

/// A part with its tree and its normals.
struct Part {
    body: Placed,
    vertices: Vec<Vec3>,
    normals: Vec<Vec3>,
    triangles: usize,
}

#[derive(Debug, Default, Clone, Copy)]
struct Count {
    free: usize,
    stopped: usize,
    undecided: usize,
    landscape: Duration,
    asked: Duration,
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let number = |name: &str| {
        let at = arguments.iter().position(|argument| argument == name)?;
        arguments.get(at + 1)?.parse::<usize>().ok()
    };
    let only = number("--triangles");
    // 7,300 vertices; then 10k, 100k and 1M triangles, asked at as many of their vertices.
    for (fine, vertices_max) in [
        (1.97, usize::MAX),
        (2.4, 7300),
        (0.745, 7300),
        (0.2345, 7300),
    ] {
        let part = make(fine);
        let near = |wanted: usize| part.triangles.abs_diff(wanted) * 3 < wanted;
        if only.is_some_and(|wanted| !near(wanted)) {
            continue;
        }
        for end in [End::Ball, End::Flat] {
            measure(&part, end, vertices_max);
        }
    }
}

fn make(fine: f64) -> Part {
    let mesh = Arc::new(part::housing(fine));
    let shape = Arc::new(MeshShape::new(Arc::clone(&mesh)).expect("a sound mesh"));
    Part {
        body: Placed::mesh(&shape, Pose::identity()),
        vertices: mesh.vertices.iter().map(|vertex| vertex.coords).collect(),
        normals: part::normals(&mesh),
        triangles: mesh.triangles.len(),
    }
}

/// The frame whose z is the direction.
fn approach(direction: &Vec3) -> Pose {
    let hint = if direction.x.abs() < 0.6 {
        Vec3::x()
    } else {
        Vec3::y()
    };
    let turn = frame_from_z_and_hint(direction, &hint).expect("not along the hint");
    Pose::from_parts(Translation3::identity(), turn)
}

/// Best of three runs over all directions, on all threads, and the counts.
fn measure(part: &Part, end: End, vertices_max: usize) {
    let stack = Stack::new(&part::tool(end)).expect("a sound tool");
    let step = part
        .vertices
        .len()
        .div_ceil(vertices_max.min(part.vertices.len()));
    let directions = part::directions(DIRECTIONS);
    let (mut best, mut best_used) = (f64::INFINITY, f64::INFINITY);
    let mut sum = Count::default();
    for _ in 0..3 {
        let (begun, used) = (Instant::now(), processor_seconds());
        let counts: Vec<Count> = directions
            .par_iter()
            .map(|direction| one_direction(part, &stack, end, direction, step))
            .collect();
        best = best.min(begun.elapsed().as_secs_f64());
        best_used = best_used.min(processor_seconds() - used);
        sum = counts.iter().fold(Count::default(), |mut sum, count| {
            sum.free += count.free;
            sum.stopped += count.stopped;
            sum.undecided += count.undecided;
            sum.landscape += count.landscape;
            sum.asked += count.asked;
            sum
        });
    }
    let asked = sum.free + sum.stopped + sum.undecided;
    println!(
        "{end:?} end, {} triangles, {} vertices, every {step}th, {DIRECTIONS} directions: \
         {asked} tips in {best:.3} s, processor {best_used:.2} s ({:.2} us each); landscapes take \
         {:.0} % of it; free {} stopped {} undecided {}",
        part.triangles,
        part.vertices.len(),
        best_used * 1e6 / asked as f64,
        100.0 * sum.landscape.as_secs_f64()
            / (sum.landscape.as_secs_f64() + sum.asked.as_secs_f64()),
        sum.free,
        sum.stopped,
        sum.undecided,
    );
    heights(part, &stack, &directions[..6]);
}

fn one_direction(part: &Part, stack: &Stack, end: End, direction: &Vec3, step: usize) -> Count {
    let common_from_approach = approach(direction);
    let begun = Instant::now();
    let landscape = Landscape::new(std::slice::from_ref(&part.body), &common_from_approach)
        .expect("a sound body");
    let landscape_time = begun.elapsed();
    let turn = common_from_approach.rotation.inverse();
    let mut count = Count {
        landscape: landscape_time,
        ..Count::default()
    };
    let begun = Instant::now();
    for (vertex, normal) in part.vertices.iter().zip(&part.normals).step_by(step) {
        let tip = part::touching_tip(end, turn * vertex, turn * normal);
        match tip_is_free(stack, &landscape, &tip) {
            Freedom::Free => count.free += 1,
            Freedom::Stopped(_) => count.stopped += 1,
            Freedom::Undecided => count.undecided += 1,
        }
    }
    count.asked = begun.elapsed();
    count
}

/// The stop itself, over a grid of places.
fn heights(part: &Part, stack: &Stack, directions: &[Vec3]) {
    let (mut asked, mut widest, mut spent) = (0_u32, 0.0_f64, Duration::ZERO);
    for direction in directions {
        let landscape = Landscape::new(std::slice::from_ref(&part.body), &approach(direction))
            .expect("a sound body");
        let begun = Instant::now();
        for row in -12..=12 {
            for column in -12..=12 {
                let at = [f64::from(column) * 4.0, f64::from(row) * 4.0];
                let stop = tip_stop(stack, &landscape, at, 1e-6);
                asked += 1;
                if stop.lo_mm.is_finite() {
                    widest = widest.max(stop.hi_mm - stop.lo_mm);
                }
            }
        }
        spent += begun.elapsed();
    }
    println!(
        "  tip stop: {:.2} us each over {asked} places, one thread, widest bracket {widest:.1e} mm",
        spent.as_secs_f64() * 1e6 / f64::from(asked)
    );
}
