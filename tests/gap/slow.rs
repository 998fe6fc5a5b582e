//! Slow methods that share no code with the engine.

use lapidary::gap::{Piece, Placed, Ring, Shape, Turn};
use nalgebra::Point3;

/// Least of a convex function over 0 ..= 1 (golden section).
fn least(of: &dyn Fn(f64) -> f64, steps: usize) -> f64 {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (0.0, 1.0);
    let (mut p, mut q) = (1.0 - golden, golden);
    let (mut at_p, mut at_q) = (of(p), of(q));
    for _ in 0..steps {
        if at_p < at_q {
            (high, q, at_q) = (q, p, at_p);
            p = high - golden * (high - low);
            at_p = of(p);
        } else {
            (low, p, at_p) = (p, q, at_q);
            q = low + golden * (high - low);
            at_q = of(q);
        }
    }
    at_p.min(at_q).min(of(0.0)).min(of(1.0))
}

/// Distance of (radius, height) from the half-profile of a piece: the nearest tapered capsule of
/// two rings, or 0 within the polygon of the rings' centres.
fn profile(rings: &[Ring], radius: f64, height: f64) -> f64 {
    let mut centres: Vec<Ring> = rings.to_vec();
    centres.extend(rings.iter().map(|ring| Ring {
        radius_mm: 0.0,
        ..*ring
    }));
    let mut best = f64::INFINITY;
    for one in &centres {
        for two in &centres {
            let at = |t: f64| {
                let lerp = |p: f64, q: f64| p + (q - p) * t;
                let r = radius - lerp(one.radius_mm, two.radius_mm);
                let h = height - lerp(one.height_mm, two.height_mm);
                r.hypot(h) - lerp(one.ball_mm, two.ball_mm)
            };
            best = best.min(least(&at, 24));
        }
    }
    if within(&centres, radius, height) {
        0.0
    } else {
        best.max(0.0)
    }
}

/// Whether a point lies in the hull of some points: in one of their triangles.
fn within(centres: &[Ring], radius: f64, height: f64) -> bool {
    let at = |ring: &Ring| (ring.radius_mm - radius, ring.height_mm - height);
    let cross = |p: (f64, f64), q: (f64, f64)| p.0 * q.1 - p.1 * q.0;
    for (i, one) in centres.iter().enumerate() {
        for (j, two) in centres.iter().enumerate().skip(i + 1) {
            for three in &centres[j + 1..] {
                let (a, b, c) = (at(one), at(two), at(three));
                let signs = [cross(a, b), cross(b, c), cross(c, a)];
                let flat = (signs[0] + signs[1] + signs[2]).abs() < 1e-12;
                let same = signs.iter().all(|&s| s >= 0.0) || signs.iter().all(|&s| s <= 0.0);
                if same && !flat {
                    return true;
                }
            }
        }
    }
    false
}

/// The distance from a piece is convex over a triangle: two searches, one in the other.
fn triangle(piece: &Piece, corners: &[Point3<f64>; 3]) -> f64 {
    let [a, b, c] = corners;
    let along = |s: f64| {
        let (from, to) = (a + (b - a) * s, a + (c - a) * s);
        let across = |t: f64| {
            let point = from + (to - from) * t;
            profile(piece.rings(), point.x.hypot(point.y), point.z)
        };
        least(&across, 24)
    };
    least(&along, 24)
}

pub fn slow_tool_mesh(tool: &Placed, mesh: &Placed) -> f64 {
    let (Shape::Revolved(body), Shape::Mesh(shape)) = (&tool.shape, &mesh.shape) else {
        return f64::NAN;
    };
    let tool_from_mesh = tool.common_from_body.inverse() * mesh.common_from_body;
    let mut best = f64::INFINITY;
    for corners in &shape.mesh().triangles {
        let at = corners.map(|corner| tool_from_mesh * shape.mesh().vertices[corner as usize]);
        for piece in body.pieces() {
            let (low, high) = piece.heights_mm();
            let middle = Point3::new(0.0, 0.0, (low + high) * 0.5);
            let reach = (high - low) * 0.5 + piece.radius_mm();
            let spread = (at[1] - at[0]).norm().max((at[2] - at[0]).norm());
            if (at[0] - middle).norm() - reach - spread < best {
                best = best.min(triangle(piece, &at));
            }
        }
    }
    best
}

/// Least of samples of a turn, halved wherever the bound of motion leaves room below the best.
pub fn slow_turn(turn: &Turn, width: f64, hi: f64, at: &dyn Fn(f64) -> f64) -> f64 {
    const RADIUS: f64 = 260.0;
    let span = (turn.to_deg - turn.from_deg).clamp(-360.0, 360.0);
    let mut best = at(turn.from_deg).min(at(turn.from_deg + span));
    let mut stack = vec![(turn.from_deg, span)];
    let mut left = 20_000;
    while let Some((from, length)) = stack.pop() {
        let value = at(from + length / 2.0);
        best = best.min(value);
        let moved = RADIUS * (length.abs() / 2.0).to_radians();
        left -= 1;
        if value - moved < best.min(hi) - width && left > 0 {
            stack.push((from, length / 2.0));
            stack.push((from + length / 2.0, length / 2.0));
        }
    }
    best
}
