//! Bodies whose faces and features are known: plates with holes, blocks with a pocket, extruded
//! profiles. Corners of round walls lie on the true circle.

use lapidary::mesh::{Chord, Mesh};
use nalgebra::Point3;
use std::f64::consts::{FRAC_PI_2, TAU};

pub type Triangles = Vec<[Point3<f64>; 3]>;

/// Side of a square cell of a plate.
pub const CELL_MM: f64 = 20.0;

/// A hole from the top down: (depth, radius) pairs; radius 0 at the end closes it in a point. A
/// hole whose last depth is the plate's thickness goes through.
pub type Hole = Vec<(f64, f64)>;

pub fn mesh(triangles: &Triangles) -> Mesh {
    Mesh::from_triangles(triangles, Chord::Estimated)
        .expect("the triangles are sound")
        .0
}

fn at([x, y]: [f64; 2], z: f64) -> Point3<f64> {
    Point3::new(x, y, z)
}

/// Corners of a circle, counter-clockwise; the first a little off the x axis.
pub fn circle(centre: [f64; 2], radius: f64, count: u32) -> Vec<[f64; 2]> {
    let point = |k: u32| {
        let turn = TAU * (f64::from(k) + 0.25) / f64::from(count);
        [
            centre[0] + radius * turn.cos(),
            centre[1] + radius * turn.sin(),
        ]
    };
    (0..count).map(point).collect()
}

/// A rectangle about a centre with rounded corners, `steps` facets to each.
pub fn rounded(centre: [f64; 2], size: [f64; 2], radius: f64, steps: u32) -> Vec<[f64; 2]> {
    let (hx, hy) = (size[0] / 2.0 - radius, size[1] / 2.0 - radius);
    let mut outline = Vec::new();
    for (quarter, (sx, sy)) in [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)]
        .into_iter()
        .enumerate()
    {
        for step in 0..=steps {
            let turn = FRAC_PI_2 * (quarter as f64 + f64::from(step) / f64::from(steps));
            let point = [
                centre[0] + sx * hx + radius * turn.cos(),
                centre[1] + sy * hy + radius * turn.sin(),
            ];
            // A rounding as wide as the rectangle leaves no straight between two corners.
            let same = |p: &[f64; 2]| (p[0] - point[0]).hypot(p[1] - point[1]) < 1e-9;
            let again = outline.len() > 3 && same(&outline[0]);
            if !(again || outline.last().is_some_and(same)) {
                outline.push(point);
            }
        }
    }
    outline
}

/// The flat ring between a rectangle and a convex outline in it, both counter-clockwise, at a
/// height; looking up or down.
fn ring(outer: &[[f64; 2]], inner: &[[f64; 2]], z: f64, up: bool, out: &mut Triangles) {
    let centre = outer.iter().fold([0.0, 0.0], |s, p| {
        [
            s[0] + p[0] / outer.len() as f64,
            s[1] + p[1] / outer.len() as f64,
        ]
    });
    let turn = |p: &[f64; 2]| (p[1] - centre[1]).atan2(p[0] - centre[0]).rem_euclid(TAU);
    let sorted = |ring: &[[f64; 2]]| {
        let mut ring: Vec<[f64; 2]> = ring.to_vec();
        ring.sort_by(|a, b| turn(a).total_cmp(&turn(b)));
        ring
    };
    let (outer, inner) = (sorted(outer), sorted(inner));
    let middle = |ring: &[[f64; 2]], k: usize| {
        let (a, b) = (
            turn(&ring[k % ring.len()]),
            turn(&ring[(k + 1) % ring.len()]),
        );
        (k / ring.len()) as f64 * TAU + a + (b - a).rem_euclid(TAU) / 2.0
    };
    let (mut i, mut j) = (0, 0);
    while i < outer.len() || j < inner.len() {
        let step_outer =
            j == inner.len() || (i < outer.len() && middle(&outer, i) <= middle(&inner, j));
        let (a, b) = (outer[i % outer.len()], inner[j % inner.len()]);
        let c = if step_outer {
            i += 1;
            outer[i % outer.len()]
        } else {
            j += 1;
            inner[j % inner.len()]
        };
        let [p, q, r] = [a, c, b].map(|p| at(p, z));
        out.push(if up { [p, q, r] } else { [p, r, q] });
    }
}

/// A wall of quads between two outlines that look inward when `hollow`.
fn wall(top: &[Point3<f64>], low: &[Point3<f64>], hollow: bool, out: &mut Triangles) {
    for k in 0..top.len() {
        let n = (k + 1) % top.len();
        for [a, b, c] in [[low[k], low[n], top[n]], [low[k], top[n], top[k]]] {
            if a != b && b != c && c != a {
                out.push(if hollow { [a, c, b] } else { [a, b, c] });
            }
        }
    }
}

fn square(low: [f64; 2], high: [f64; 2]) -> Vec<[f64; 2]> {
    vec![low, [high[0], low[1]], high, [low[0], high[1]]]
}

/// One cell of a plate: top from z 0 down to `-thick`, without its outer sides.
fn cell(
    low: [f64; 2],
    high: [f64; 2],
    thick: f64,
    levels: &[(f64, Vec<[f64; 2]>)],
    out: &mut Triangles,
) {
    let outer = square(low, high);
    let corner = |k: usize, z: f64| at(outer[k], z);
    ring(&outer, &levels[0].1, 0.0, true, out);
    for pair in levels.windows(2) {
        let lift = |(depth, outline): &(f64, Vec<[f64; 2]>)| -> Vec<Point3<f64>> {
            outline.iter().map(|p| at(*p, -depth)).collect()
        };
        if pair[0].0 == pair[1].0 {
            // A shoulder: a flat ring that looks up.
            wall(&lift(&pair[0]), &lift(&pair[1]), true, out);
        } else {
            wall(&lift(&pair[0]), &lift(&pair[1]), true, out);
        }
    }
    let (depth, last) = &levels[levels.len() - 1];
    if *depth >= thick {
        ring(&outer, last, -thick, false, out);
        return;
    }
    // A flat bottom, unless the last outline is a point.
    for k in 1..last.len() - 1 {
        let triangle = [last[0], last[k], last[k + 1]].map(|p| at(p, -depth));
        if triangle[0] != triangle[1] && triangle[1] != triangle[2] {
            out.push(triangle);
        }
    }
    for [a, b, c] in [[0, 2, 1], [0, 3, 2]] {
        out.push([corner(a, -thick), corner(b, -thick), corner(c, -thick)]);
    }
}

/// The four outer sides of a plate of cells.
fn sides(columns: u32, rows: u32, size: [f64; 2], thick: f64, out: &mut Triangles) {
    let (w, h) = (size[0], size[1]);
    let mut rim = Vec::new();
    rim.extend((0..columns).map(|k| [w * f64::from(k), 0.0]));
    rim.extend((0..rows).map(|k| [w * f64::from(columns), h * f64::from(k)]));
    rim.extend(
        (0..columns)
            .rev()
            .map(|k| [w * f64::from(k + 1), h * f64::from(rows)]),
    );
    rim.extend((0..rows).rev().map(|k| [0.0, h * f64::from(k + 1)]));
    let lift = |z: f64| rim.iter().map(|p| at(*p, z)).collect::<Vec<_>>();
    wall(&lift(0.0), &lift(-thick), false, out);
}

/// A plate of square cells, a hole in the middle of each, `segments` facets a turn.
pub fn plate(columns: u32, thick: f64, holes: &[Hole], segments: u32) -> Triangles {
    let mut out = Vec::new();
    let rows = (holes.len() as u32).div_ceil(columns);
    for (index, hole) in holes.iter().enumerate() {
        let (column, row) = (index as u32 % columns, index as u32 / columns);
        let low = [CELL_MM * f64::from(column), CELL_MM * f64::from(row)];
        let high = [low[0] + CELL_MM, low[1] + CELL_MM];
        let centre = [low[0] + CELL_MM / 2.0, low[1] + CELL_MM / 2.0];
        let level = |(depth, radius): &(f64, f64)| (*depth, circle(centre, *radius, segments));
        let levels: Vec<_> = hole.iter().map(level).collect();
        cell(low, high, thick, &levels, &mut out);
    }
    sides(columns, rows, [CELL_MM, CELL_MM], thick, &mut out);
    out
}

/// A block with one pocket of a convex outline about its middle.
pub fn block(size: [f64; 2], thick: f64, outline: Vec<[f64; 2]>, depth: f64) -> Triangles {
    let mut out = Vec::new();
    let levels = [(0.0, outline.clone()), (depth, outline)];
    cell([0.0, 0.0], size, thick, &levels, &mut out);
    sides(1, 1, size, thick, &mut out);
    out
}

/// A profile in x and z, counter-clockwise seen from -y, drawn along y; `caps` are its triangles.
pub fn extruded(profile: &[[f64; 2]], caps: &[[usize; 3]], length: f64) -> Triangles {
    let mut out = Vec::new();
    let lift = |y: f64| {
        profile
            .iter()
            .map(|p| Point3::new(p[0], y, p[1]))
            .collect::<Vec<_>>()
    };
    let (near, far) = (lift(0.0), lift(length));
    for &[a, b, c] in caps {
        out.push([near[a], near[b], near[c]]);
        out.push([far[a], far[c], far[b]]);
    }
    wall(&near, &far, false, &mut out);
    out
}

/// A seeded generator of numbers from 0 to 1.
///
/// Source: the 64-bit xorshift of Marsaglia 2003, from memory.
pub struct Random(pub u64);

impl Random {
    pub fn share(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }
}
