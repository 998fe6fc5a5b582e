//! Small meshes for the tests, with their shells found by shared edges, and a seeded generator.

use lapidary::gap::{MeshShape, Piece, Placed, Revolved, Ring};
use lapidary::mesh::{Mesh, Shell};
use lapidary::value::{Pose, Vec3};
use nalgebra::{Point3, Rotation3, Translation3, Unit};
use std::collections::HashMap;
use std::sync::Arc;

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory): small, seeded, the same everywhere.
pub struct Random(pub u64);

impl Random {
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    pub fn vector(&mut self, reach: f64) -> Vec3 {
        Vec3::from_fn(|_, _| self.within(-reach, reach))
    }

    pub fn direction(&mut self) -> Vec3 {
        loop {
            let vector = self.vector(1.0);
            if (0.01..1.0).contains(&vector.norm()) {
                return vector.normalize();
            }
        }
    }

    pub fn pose(&mut self, reach: f64) -> Pose {
        let axis = Unit::new_normalize(self.direction());
        let turn = match self.below(3) {
            0 => Rotation3::identity(),
            _ => Rotation3::from_axis_angle(&axis, self.within(-3.0, 3.0)),
        };
        Pose::from_parts(Translation3::from(self.vector(reach)), turn)
    }
}

/// A mesh from triangles: corners welded when equal, shells joined by shared edges.
pub fn mesh(triangles: &[[Vec3; 3]]) -> Mesh {
    let mut vertices: Vec<Point3<f64>> = Vec::new();
    let mut known: HashMap<[u64; 3], u32> = HashMap::new();
    let mut indexed = Vec::new();
    for corners in triangles {
        let index = corners.map(|corner| {
            let key = [corner.x, corner.y, corner.z].map(|c| (c + 0.0).to_bits());
            *known.entry(key).or_insert_with(|| {
                vertices.push(Point3::from(corner));
                vertices.len() as u32 - 1
            })
        });
        indexed.push(index);
    }
    let mut edges: HashMap<(u32, u32), Vec<usize>> = HashMap::new();
    for (number, index) in indexed.iter().enumerate() {
        for i in 0..3 {
            let (p, q) = (index[i], index[(i + 1) % 3]);
            edges.entry((p.min(q), p.max(q))).or_default().push(number);
        }
    }
    let mut shell_of_triangle = vec![u32::MAX; indexed.len()];
    let mut shells = Vec::new();
    for start in 0..indexed.len() {
        if shell_of_triangle[start] != u32::MAX {
            continue;
        }
        let number = shells.len() as u32;
        let mut stack = vec![start];
        shell_of_triangle[start] = number;
        let mut members = Vec::new();
        while let Some(triangle) = stack.pop() {
            members.push(triangle);
            for i in 0..3 {
                let (p, q) = (indexed[triangle][i], indexed[triangle][(i + 1) % 3]);
                for &other in &edges[&(p.min(q), p.max(q))] {
                    if shell_of_triangle[other] == u32::MAX {
                        shell_of_triangle[other] = number;
                        stack.push(other);
                    }
                }
            }
        }
        shells.push(shell(&vertices, &indexed, &members));
    }
    Mesh {
        vertices,
        triangles: indexed,
        shells,
        shell_of_triangle,
        chord_allowance_mm: 0.0,
        hollow_chord_mm: 0.0,
        crossings: None,
    }
}

fn shell(vertices: &[Point3<f64>], indexed: &[[u32; 3]], members: &[usize]) -> Shell {
    let mut directed: HashMap<(u32, u32), i32> = HashMap::new();
    let (mut low, mut high) = (
        Point3::from(Vec3::repeat(f64::INFINITY)),
        Point3::from(Vec3::repeat(f64::NEG_INFINITY)),
    );
    let mut volume_mm3 = 0.0;
    for &member in members {
        let corners = indexed[member];
        let [a, b, c] = corners.map(|corner| vertices[corner as usize]);
        volume_mm3 += a.coords.dot(&b.coords.cross(&c.coords)) / 6.0;
        for corner in [a, b, c] {
            low = low.inf(&corner);
            high = high.sup(&corner);
        }
        for i in 0..3 {
            *directed
                .entry((corners[i], corners[(i + 1) % 3]))
                .or_default() += 1;
        }
    }
    let closed = directed
        .iter()
        .all(|(&(p, q), &count)| count == 1 && directed.get(&(q, p)) == Some(&1));
    Shell {
        triangle_count: members.len(),
        first_triangle: *members.iter().min().unwrap() as u32,
        closed,
        balanced: closed,
        volume_mm3,
        low,
        high,
    }
}

/// The twelve triangles of a box, seen counter-clockwise from outside.
pub fn box_triangles(low: Vec3, high: Vec3) -> Vec<[Vec3; 3]> {
    let at = |i: usize| {
        Vec3::new(
            if i & 1 == 0 { low.x } else { high.x },
            if i & 2 == 0 { low.y } else { high.y },
            if i & 4 == 0 { low.z } else { high.z },
        )
    };
    let quads = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    quads
        .iter()
        .flat_map(|q| {
            [
                [at(q[0]), at(q[1]), at(q[2])],
                [at(q[0]), at(q[2]), at(q[3])],
            ]
        })
        .collect()
}

/// A closed solid of revolution about Z through (radius, height) points, the ends on the axis.
pub fn lathe(profile: &[(f64, f64)], sides: usize) -> Vec<[Vec3; 3]> {
    let at = |(radius, height): (f64, f64), side: usize| {
        let angle = (side % sides) as f64 / sides as f64 * std::f64::consts::TAU;
        if radius == 0.0 {
            return Vec3::new(0.0, 0.0, height);
        }
        Vec3::new(radius * angle.cos(), radius * angle.sin(), height)
    };
    let mut triangles = Vec::new();
    for pair in profile.windows(2) {
        for side in 0..sides {
            let (a, b) = (at(pair[0], side), at(pair[0], side + 1));
            let (c, d) = (at(pair[1], side + 1), at(pair[1], side));
            if a != b {
                triangles.push([a, b, c]);
            }
            if c != d {
                triangles.push([a, c, d]);
            }
        }
    }
    triangles
}

pub fn flipped(triangles: &[[Vec3; 3]]) -> Vec<[Vec3; 3]> {
    triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect()
}

pub fn shape(triangles: &[[Vec3; 3]]) -> Arc<MeshShape> {
    Arc::new(MeshShape::new(Arc::new(mesh(triangles))).unwrap())
}

pub fn placed(triangles: &[[Vec3; 3]]) -> Placed {
    Placed::mesh(&shape(triangles), Pose::identity())
}

pub fn cube(low: [f64; 3], high: [f64; 3]) -> Placed {
    placed(&box_triangles(Vec3::from(low), Vec3::from(high)))
}

pub fn tool(pieces: &[&[Ring]], pose: Pose) -> Placed {
    let pieces = pieces
        .iter()
        .map(|rings| Piece::new(rings.to_vec()).unwrap())
        .collect();
    Placed::revolved(&Arc::new(Revolved::new(pieces).unwrap()), pose)
}

pub fn cylinder(radius: f64, low: f64, high: f64, pose: Pose) -> Placed {
    tool(
        &[&[Ring::disc(radius, low), Ring::disc(radius, high)]],
        pose,
    )
}

/// A closed body with a rough surface, star-shaped about its middle.
pub fn rough(random: &mut Random, radius: f64) -> Vec<[Vec3; 3]> {
    let rows = 2 + random.below(4);
    let sides = 3 + random.below(7);
    let grow = random.within(0.0, 0.6);
    let mut rim = Vec::new();
    for row in 1..rows {
        let polar = row as f64 / rows as f64 * std::f64::consts::PI;
        let ring: Vec<Vec3> = (0..sides)
            .map(|side| {
                let turn = side as f64 / sides as f64 * std::f64::consts::TAU;
                let out = Vec3::new(
                    polar.sin() * turn.cos(),
                    polar.sin() * turn.sin(),
                    -polar.cos(),
                );
                out * radius * (1.0 + random.within(-grow, grow))
            })
            .collect();
        rim.push(ring);
    }
    let (bottom, top) = (Vec3::new(0.0, 0.0, -radius), Vec3::new(0.0, 0.0, radius));
    let mut triangles = Vec::new();
    for side in 0..sides {
        let next = (side + 1) % sides;
        triangles.push([bottom, rim[0][next], rim[0][side]]);
        triangles.push([top, rim[rim.len() - 1][side], rim[rim.len() - 1][next]]);
        for pair in rim.windows(2) {
            triangles.push([pair[0][side], pair[0][next], pair[1][next]]);
            triangles.push([pair[0][side], pair[1][next], pair[1][side]]);
        }
    }
    let stretch = Vec3::new(
        random.within(0.2, 2.0),
        random.within(0.2, 2.0),
        random.within(0.2, 2.0),
    );
    triangles
        .iter()
        .map(|t| t.map(|c| c.component_mul(&stretch)))
        .collect()
}

/// A tool of one to four pieces with discs, cones, ball ends and bull noses, the tip at 0.
pub fn random_tool(random: &mut Random, pose: Pose) -> Placed {
    let r = random.within(0.5, 8.0);
    let tip = match random.below(4) {
        0 => vec![
            Ring {
                radius_mm: 0.0,
                height_mm: r,
                ball_mm: r,
            },
            Ring::disc(r, 3.0 * r),
        ],
        1 => {
            let c = r * random.within(0.05, 0.9);
            vec![
                Ring {
                    radius_mm: r - c,
                    height_mm: c,
                    ball_mm: c,
                },
                Ring::disc(r, 2.0 * r),
            ]
        }
        2 => vec![
            Ring::disc(0.0, 0.0),
            Ring::disc(r, r * 0.4),
            Ring::disc(r, 20.0),
        ],
        _ => vec![Ring::disc(r, 0.0), Ring::disc(r, random.within(1.0, 40.0))],
    };
    let mut pieces = vec![tip];
    for _ in 0..random.below(4) {
        let low = random.within(5.0, 40.0);
        let high = low + random.within(0.0, 30.0);
        let (one, two) = (random.within(0.0, 20.0), random.within(0.0, 20.0));
        pieces.push(vec![Ring::disc(one, low), Ring::disc(two, high)]);
    }
    let slices: Vec<&[Ring]> = pieces.iter().map(Vec::as_slice).collect();
    tool(&slices, pose)
}
