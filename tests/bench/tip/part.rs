//! The measured part: an invented sensor housing of one welded mesh of any density, and the tools.

use crate::scene::{Soup, block, lathe, weld};
use lapidary::gap::{Piece, Revolved, Ring, Shape, StackElement};
use lapidary::mesh::Mesh;
use lapidary::value::{Pose, Vec3};
use std::sync::Arc;

fn shifted(soup: Soup, by: Vec3) -> Soup {
    soup.into_iter().map(|t| t.map(|c| c + by)).collect()
}

/// A round bar with a groove, or a dome, from its profile points.
fn turned(points: impl Iterator<Item = (f64, f64)>, sides: usize) -> Soup {
    lathe(&points.collect::<Vec<_>>(), sides)
}

/// A housing of 90 x 70 x 46: block, dome, three bosses, and a flange with two grooves. `fine` is
/// the length of an edge on the block.
pub fn housing(fine: f64) -> Mesh {
    let mut soup = block(
        Vec3::new(-45.0, -35.0, 0.0),
        Vec3::new(45.0, 35.0, 22.0),
        fine,
    );
    let sides = |radius: f64| ((radius * std::f64::consts::TAU / fine) as usize).max(12);
    let rows = (34.0 / fine).ceil() as usize;
    let dome = (0..=rows).map(|row| {
        let angle = row as f64 / rows as f64 * std::f64::consts::FRAC_PI_2;
        if row == rows {
            (0.0, 22.0)
        } else {
            (22.0 * angle.cos(), 22.0 * angle.sin())
        }
    });
    let dome = std::iter::once((0.0, 0.0)).chain(dome);
    soup.extend(shifted(
        turned(dome, sides(22.0)),
        Vec3::new(-18.0, 0.0, 22.0),
    ));
    for (x, y) in [(22.0, -22.0), (22.0, 22.0)] {
        let rows = (14.0 / fine).ceil() as usize;
        let wall = (0..=rows).map(|row| (6.0, 14.0 * row as f64 / rows as f64));
        let boss = std::iter::once((0.0, 0.0))
            .chain(wall)
            .chain([(4.0, 16.0), (0.0, 16.0)]);
        soup.extend(shifted(turned(boss, sides(6.0)), Vec3::new(x, y, 22.0)));
    }
    let rows = (40.0 / fine).ceil() as usize;
    let flange = (0..=rows).map(|row| {
        let height = 24.0 * row as f64 / rows as f64;
        (11.0 + 2.5 * (height * 0.8).sin(), height)
    });
    let flange = std::iter::once((0.0, 0.0))
        .chain(flange)
        .chain([(0.0, 24.0)]);
    soup.extend(shifted(
        turned(flange, sides(11.0)),
        Vec3::new(27.0, 0.0, 22.0),
    ));
    weld(&soup)
}

/// Directions spread evenly over the sphere (Fibonacci lattice).
pub fn directions(count: usize) -> Vec<Vec3> {
    let golden = std::f64::consts::PI * (3.0 - 5_f64.sqrt());
    (0..count)
        .map(|number| {
            let z = 1.0 - (2 * number + 1) as f64 / count as f64;
            let (sin, cos) = (golden * number as f64).sin_cos();
            let across = (1.0 - z * z).sqrt();
            Vec3::new(across * cos, across * sin, z)
        })
        .collect()
}

/// Normals of the vertices, weighted by the area of their triangles.
pub fn normals(mesh: &Mesh) -> Vec<Vec3> {
    let mut normals = vec![Vec3::zeros(); mesh.vertices.len()];
    for triangle in &mesh.triangles {
        let [a, b, c] = triangle.map(|corner| mesh.vertices[corner as usize]);
        let normal = (b - a).cross(&(c - a));
        for &corner in triangle {
            normals[corner as usize] += normal;
        }
    }
    normals
        .iter()
        .map(|normal| normal.try_normalize(1e-12).unwrap_or_else(Vec3::z))
        .collect()
}

/// Radius of the cutters.
pub const CUTTER_MM: f64 = 3.0;

/// What a cutter's end is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    Ball,
    Flat,
}

/// Flutes that may enter by 0.01 mm, shank, holder of two steps and nose with 2 mm to keep.
pub fn tool(end: End) -> Vec<StackElement> {
    let disc = Ring::disc;
    let foot = match end {
        End::Flat => disc(CUTTER_MM, 0.0),
        End::Ball => Ring {
            radius_mm: 0.0,
            height_mm: CUTTER_MM,
            ball_mm: CUTTER_MM,
        },
    };
    let element = |pieces: Vec<Vec<Ring>>, wanted_gap_mm: f64| {
        let pieces = pieces
            .into_iter()
            .map(|rings| Piece::new(rings).expect("sound rings"));
        let body = Revolved::new(pieces.collect()).expect("there are pieces");
        StackElement {
            shape: Shape::Revolved(Arc::new(body)),
            tool_from_body: Pose::identity(),
            wanted_gap_mm,
        }
    };
    vec![
        element(vec![vec![foot, disc(CUTTER_MM, 16.0)]], -0.01),
        element(vec![vec![disc(2.9, 16.0), disc(2.9, 38.0)]], 0.05),
        element(
            vec![
                vec![disc(9.0, 38.0), disc(13.0, 60.0)],
                vec![disc(20.0, 60.0), disc(20.0, 95.0)],
            ],
            2.0,
        ),
        element(vec![vec![disc(31.5, 95.0), disc(31.5, 120.0)]], 2.0),
    ]
}

/// The tip at which a cutter touches a vertex, its normal being given in the approach frame.
pub fn touching_tip(end: End, vertex: Vec3, normal: Vec3) -> Vec3 {
    match end {
        End::Ball => vertex + (normal - Vec3::z()) * CUTTER_MM,
        End::Flat => {
            let across = Vec3::new(normal.x, normal.y, 0.0);
            vertex + across.try_normalize(1e-9).unwrap_or_default() * CUTTER_MM
        }
    }
}
