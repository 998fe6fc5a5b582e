//! The measured scene: an invented tombstone with 24 housings and their clamps, a head, a tool.

use lapidary::gap::{MeshShape, Piece, Placed, Revolved, Ring};
use lapidary::mesh::{Mesh, Shell};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;
use std::collections::HashMap;
use std::sync::Arc;

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory).
pub struct Random(pub u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }
}

pub type Soup = Vec<[Vec3; 3]>;

/// A box whose faces are gridded in steps of about `step`.
pub fn block(low: Vec3, high: Vec3, step: f64) -> Soup {
    let mut soup = Soup::new();
    for axis in 0..3 {
        let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
        let counts = [u, v].map(|a| ((high[a] - low[a]) / step).ceil().max(1.0) as usize);
        let at = |i: usize, j: usize, side: f64| {
            let mut corner = Vec3::zeros();
            corner[axis] = side;
            corner[u] = low[u] + (high[u] - low[u]) * i as f64 / counts[0] as f64;
            corner[v] = low[v] + (high[v] - low[v]) * j as f64 / counts[1] as f64;
            corner
        };
        for i in 0..counts[0] {
            for j in 0..counts[1] {
                let q = |s| {
                    [
                        at(i, j, s),
                        at(i + 1, j, s),
                        at(i + 1, j + 1, s),
                        at(i, j + 1, s),
                    ]
                };
                let [a, b, c, d] = q(high[axis]);
                soup.extend([[a, b, c], [a, c, d]]);
                let [a, b, c, d] = q(low[axis]);
                soup.extend([[a, c, b], [a, d, c]]);
            }
        }
    }
    soup
}

/// A closed turned body about Z.
pub fn lathe(profile: &[(f64, f64)], sides: usize) -> Soup {
    let at = |(radius, height): (f64, f64), side: usize| {
        let angle = (side % sides) as f64 / sides as f64 * std::f64::consts::TAU;
        Vec3::new(radius * angle.cos(), radius * angle.sin(), height)
    };
    let mut soup = Soup::new();
    for pair in profile.windows(2) {
        for side in 0..sides {
            let (a, b) = (at(pair[0], side), at(pair[0], side + 1));
            let (c, d) = (at(pair[1], side + 1), at(pair[1], side));
            if pair[0].0 > 0.0 {
                soup.push([a, b, c]);
            }
            if pair[1].0 > 0.0 {
                soup.push([a, c, d]);
            }
        }
    }
    soup
}

fn shifted(soup: &Soup, by: Vec3) -> Soup {
    soup.iter().map(|t| t.map(|c| c + by)).collect()
}

/// A dome of a sensor housing, finely tessellated.
fn dome(radius: f64, rows: usize, sides: usize) -> Soup {
    let mut profile = vec![(0.0, 0.0)];
    for row in 0..=rows {
        let angle = row as f64 / rows as f64 * std::f64::consts::FRAC_PI_2;
        let r = if row == rows {
            0.0
        } else {
            radius * angle.cos()
        };
        profile.push((r, radius * angle.sin()));
    }
    lathe(&profile, sides)
}

/// A housing for a tide-gauge sensor, Z up from its seat: 39 thousand triangles.
fn housing() -> Soup {
    let mut soup = block(
        Vec3::new(-60.0, -45.0, 0.0),
        Vec3::new(60.0, 45.0, 22.0),
        2.0,
    );
    soup.extend(shifted(&dome(28.0, 48, 160), Vec3::new(-18.0, 0.0, 22.0)));
    let boss = [
        (0.0, 0.0),
        (9.0, 0.0),
        (9.0, 14.0),
        (5.0, 16.0),
        (0.0, 16.0),
    ];
    for (x, y) in [(25.0, -25.0), (25.0, 25.0), (48.0, 0.0)] {
        soup.extend(shifted(&lathe(&boss, 200), Vec3::new(x, y, 22.0)));
    }
    let mut flange = vec![(0.0, 0.0)];
    flange.extend((0..=30).map(|i| (12.0 + 2.0 * (i as f64 * 0.7).sin(), i as f64 * 0.6)));
    flange.push((0.0, 18.0));
    soup.extend(shifted(&lathe(&flange, 120), Vec3::new(40.0, 0.0, 22.0)));
    soup
}

/// A strap clamp with a stud.
fn clamp() -> Soup {
    let mut soup = block(
        Vec3::new(-25.0, -8.0, 24.0),
        Vec3::new(25.0, 8.0, 36.0),
        3.0,
    );
    let stud = [
        (0.0, 0.0),
        (5.0, 0.0),
        (5.0, 50.0),
        (4.0, 52.0),
        (0.0, 52.0),
    ];
    soup.extend(lathe(&stud, 300));
    let nut = [(0.0, 36.0), (9.0, 36.0), (9.0, 45.0), (0.0, 45.0)];
    soup.extend(lathe(&nut, 300));
    soup
}

/// The head: nose, housing and coolant ring, Z up from the gauge line: some 4,500 triangles.
fn head() -> Soup {
    let nose = [
        (0.0, 4.0),
        (45.0, 4.0),
        (60.0, 40.0),
        (60.0, 90.0),
        (0.0, 90.0),
    ];
    let mut soup = lathe(&nose, 120);
    let mut ring = vec![(0.0, 42.0)];
    ring.extend((0..=8).map(|i| {
        (
            70.0 + 6.0 * (f64::from(i) * 0.39).sin(),
            42.0 + f64::from(i),
        )
    }));
    ring.push((0.0, 50.0));
    soup.extend(lathe(&ring, 96));
    soup.extend(block(
        Vec3::new(-110.0, -90.0, 90.0),
        Vec3::new(110.0, 260.0, 400.0),
        30.0,
    ));
    soup
}

/// Welds equal corners and finds the shells.
pub fn weld(soup: &Soup) -> Mesh {
    let mut vertices: Vec<Point3<f64>> = Vec::new();
    let mut known: HashMap<[u64; 3], u32> = HashMap::new();
    let mut triangles = Vec::new();
    for corners in soup {
        triangles.push(corners.map(|corner| {
            let key = [corner.x, corner.y, corner.z].map(|c| ((c * 1e6).round() + 0.0).to_bits());
            *known.entry(key).or_insert_with(|| {
                vertices.push(Point3::from(corner));
                vertices.len() as u32 - 1
            })
        }));
    }
    let (shell_of_triangle, count) = shells_of(&triangles, vertices.len());
    let shells = (0..count)
        .map(|s| shell(&vertices, &triangles, &shell_of_triangle, s))
        .collect();
    Mesh {
        vertices,
        triangles,
        shells,
        shell_of_triangle,
        chord_allowance_mm: 0.0,
        hollow_chord_mm: 0.0,
        crossings: None,
    }
}

fn shells_of(triangles: &[[u32; 3]], vertex_count: usize) -> (Vec<u32>, u32) {
    let mut parent: Vec<u32> = (0..vertex_count as u32).collect();
    fn root(parent: &mut [u32], mut at: u32) -> u32 {
        while parent[at as usize] != at {
            parent[at as usize] = parent[parent[at as usize] as usize];
            at = parent[at as usize];
        }
        at
    }
    for t in triangles {
        let first = root(&mut parent, t[0]);
        for corner in [t[1], t[2]] {
            let other = root(&mut parent, corner);
            parent[other as usize] = first;
        }
    }
    let mut numbers = HashMap::new();
    let mut of = Vec::with_capacity(triangles.len());
    for t in triangles {
        let next = numbers.len() as u32;
        of.push(*numbers.entry(root(&mut parent, t[0])).or_insert(next));
    }
    (of, numbers.len() as u32)
}

fn shell(vertices: &[Point3<f64>], triangles: &[[u32; 3]], of: &[u32], number: u32) -> Shell {
    let (mut low, mut high) = (
        Point3::from(Vec3::repeat(f64::INFINITY)),
        Point3::from(Vec3::repeat(f64::NEG_INFINITY)),
    );
    let mut directed: HashMap<(u32, u32), i32> = HashMap::new();
    let mut own = Vec::new();
    let mut volume_mm3 = 0.0;
    for (index, t) in triangles
        .iter()
        .enumerate()
        .filter(|(index, _)| of[*index] == number)
    {
        own.push(index as u32);
        let [a, b, c] = t.map(|corner| vertices[corner as usize]);
        volume_mm3 += a.coords.dot(&b.coords.cross(&c.coords)) / 6.0;
        for corner in [a, b, c] {
            low = low.inf(&corner);
            high = high.sup(&corner);
        }
        for i in 0..3 {
            *directed.entry((t[i], t[(i + 1) % 3])).or_default() += 1;
        }
    }
    let paired =
        |(&(p, q), &count): (&(u32, u32), &i32)| count == 1 && directed.get(&(q, p)) == Some(&1);
    let closed = directed.iter().all(paired);
    let first_triangle = own.first().copied().unwrap_or_default();
    Shell {
        triangle_count: own.len(),
        first_triangle,
        closed,
        balanced: closed,
        volume_mm3,
        low,
        high,
    }
}

/// One distinct mesh and where it stands.
pub struct Model {
    pub name: &'static str,
    pub soup: Soup,
    pub poses: Vec<Pose>,
}

/// Carrier, plate, 24 housings and 25 clamps, in the frame of the carrier; the axis is X.
pub fn work_models() -> Vec<Model> {
    let bar = block(
        Vec3::new(-300.0, -100.0, -100.0),
        Vec3::new(300.0, 100.0, 100.0),
        4.0,
    );
    let plate = block(
        Vec3::new(300.0, -140.0, -140.0),
        Vec3::new(330.0, 140.0, 140.0),
        6.0,
    );
    let mut seats = Vec::new();
    let mut clamps = Vec::new();
    for side in 0..4 {
        let turn = about_axis(&Vec3::x(), &Point3::origin(), f64::from(side) * 90.0);
        for column in 0..3 {
            for row in 0..2 {
                let at = Vec3::new(
                    f64::from(column - 1) * 195.0,
                    f64::from(row) * 98.0 - 49.0,
                    100.0,
                );
                seats.push(turn * translation(at));
                clamps.push(turn * translation(at + Vec3::new(82.0, 0.0, 0.0)));
            }
        }
    }
    let at = |name, soup, poses| Model { name, soup, poses };
    vec![
        at("bar", bar, vec![Pose::identity()]),
        at("plate", plate, vec![Pose::identity()]),
        at("housing", housing(), seats),
        at("clamp", clamp(), clamps),
    ]
}

pub fn head_model() -> Model {
    Model {
        name: "head",
        soup: head(),
        poses: vec![Pose::identity()],
    }
}

pub fn place(model: &Model) -> Vec<Placed> {
    let shape = MeshShape::new(Arc::new(weld(&model.soup))).expect("the scene's meshes are sound");
    let shape = Arc::new(shape);
    model
        .poses
        .iter()
        .map(|pose| Placed::mesh(&shape, *pose))
        .collect()
}

/// (radius below, radius above, from, to) of each piece of the tool, tip at 0.
pub const TOOL: [(f64, f64, f64, f64); 6] = [
    (6.0, 6.0, 0.0, 26.0),
    (5.8, 5.8, 26.0, 45.0),
    (14.0, 18.0, 45.0, 75.0),
    (25.0, 25.0, 75.0, 110.0),
    (31.5, 31.5, 110.0, 120.0),
    (22.0, 27.0, 120.0, 140.0),
];

pub fn tool() -> Arc<Revolved> {
    let piece = |&(below, above, from, to): &(f64, f64, f64, f64)| {
        Piece::new(vec![Ring::disc(below, from), Ring::disc(above, to)])
            .expect("the tool's rings are sound")
    };
    Arc::new(Revolved::new(TOOL.iter().map(piece).collect()).expect("the tool has pieces"))
}
