//! Small meshes for the tests, and a seeded generator.

use lapidary::gap::{MeshShape, Piece, Placed, Revolved, Ring};
use lapidary::mesh::{Chord, Mesh, Shell};
use lapidary::value::{Pose, Vec3};
use nalgebra::{Point3, Rotation3, Translation3, Unit};
use std::sync::Arc;

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory): small, seeded, the same everywhere.
pub struct Random(pub u64);

/// A suite's seed; the variable `LAPIDARY_SEED_SHIFT` asks other questions than usual.
pub fn shifted_seed(base: u64) -> u64 {
    let shift = std::env::var("LAPIDARY_SEED_SHIFT").ok();
    base + 1000
        * shift
            .and_then(|shift| shift.parse::<u64>().ok())
            .unwrap_or(0)
}

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

/// A mesh from triangles, welded and checked as a file is.
pub fn mesh(triangles: &[[Vec3; 3]]) -> Mesh {
    let corners: Vec<[Point3<f64>; 3]> = triangles.iter().map(|t| t.map(Point3::from)).collect();
    Mesh::from_triangles(&corners, Chord::Stated(0.0))
        .unwrap()
        .0
}

/// A mesh whose triangles share no corner: every one is a shell of its own, and open.
pub fn soup(triangles: &[[Vec3; 3]]) -> Mesh {
    let shell = |(number, t): (usize, &[Vec3; 3])| Shell {
        triangle_count: 1,
        first_triangle: number as u32,
        closed: false,
        balanced: false,
        volume_mm3: 0.0,
        low: Point3::from(t[0].inf(&t[1]).inf(&t[2])),
        high: Point3::from(t[0].sup(&t[1]).sup(&t[2])),
    };
    let count = triangles.len() as u32;
    Mesh {
        vertices: triangles
            .iter()
            .flatten()
            .copied()
            .map(Point3::from)
            .collect(),
        triangles: (0..count).map(|t| [3 * t, 3 * t + 1, 3 * t + 2]).collect(),
        shells: triangles.iter().enumerate().map(shell).collect(),
        shell_of_triangle: (0..count).collect(),
        chord_allowance_mm: 0.0,
        hollow_chord_mm: 0.0,
        crossings: None,
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

/// A rough closed body that fits in a ball of twice this radius.
pub fn lump_of(random: &mut Random, radius: f64) -> Vec<[Vec3; 3]> {
    rough(random, radius * 0.6)
}
