//! Plane sections of placed bodies: exact for triangles, to a chord for round bodies.
//!
//! | file | job |
//! |---|---|
//! | `mesh` | segments of triangles, chained into outlines |
//! | `revolved` | each convex piece of a solid of revolution |

mod mesh;
mod revolved;

use super::shape::{Placed, Shape};
use crate::value::Pose;

/// A line of a section in the plane's own x and y.
#[derive(Debug, Clone, PartialEq)]
pub struct Outline {
    /// Corners in order; a closed line does not repeat its first.
    pub points_mm: Vec<[f64; 2]>,
    /// Whether the last corner joins the first. Open lines come from meshes with holes only.
    pub closed: bool,
}

impl Outline {
    /// Signed area: positive where the line runs counter-clockwise; 0 for an open line.
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        if !self.closed {
            return 0.0;
        }
        // About the first corner: coordinates far from zero would cost digits.
        let Some(&[x0, y0]) = self.points_mm.first() else {
            return 0.0;
        };
        let cross = |[[ax, ay], [bx, by]]: [[f64; 2]; 2]| {
            (ax - x0).mul_add(by - y0, -((bx - x0) * (ay - y0)))
        };
        self.edges().map(cross).sum::<f64>() / 2.0
    }

    /// Length of the line, the closing edge included.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        let length = |[[ax, ay], [bx, by]]: [[f64; 2]; 2]| (bx - ax).hypot(by - ay);
        self.edges().map(length).sum()
    }

    fn edges(&self) -> impl Iterator<Item = [[f64; 2]; 2]> + '_ {
        let points = &self.points_mm;
        let last = if self.closed {
            points.len()
        } else {
            points.len().saturating_sub(1)
        };
        (0..last).map(move |at| [points[at], points[(at + 1) % points.len()]])
    }
}

/// The section of a body with the plane z = 0 of a plane frame.
///
/// # Units
/// Millimetres; points in x and y of the plane.
///
/// # Shapes
/// Any mesh. A solid of revolution gives one closed line for each convex piece that is cut; their
/// union is the section.
///
/// # Guarantees
/// The section of triangles is exact to rounding; a round piece's line lies within the true
/// section, nowhere farther from its border than `chord_mm` (and some rounding). A vertex or face
/// that lies in the plane counts as above it: the section is that of a plane an infinitely small
/// step below, so a closed mesh always gives closed lines. Lines round material run
/// counter-clockwise, lines round a hole of an oriented mesh clockwise. The same body and plane give
/// the same lines in the same order.
///
/// # Source
/// Own derivation. Held against trimesh in `tests/outside` and closed formulae beside the code.
#[must_use]
pub fn section(body: &Placed, plane_from_common: &Pose, chord_mm: f64) -> Vec<Outline> {
    let plane_from_body = plane_from_common * body.common_from_body;
    match &body.shape {
        Shape::Mesh(shape) => mesh::section(shape.mesh(), &plane_from_body),
        Shape::Revolved(solid) => solid
            .pieces()
            .iter()
            .filter_map(|piece| revolved::section(piece, &plane_from_body, chord_mm))
            .collect(),
    }
}

/// The half profile of a convex piece: `[radius, height]` from the axis at its foot, round the
/// piece, to the axis at its top.
///
/// # Guarantees
/// Exact where no ring has a ball; arcs are replaced by chords no farther off than `chord_mm`.
#[must_use]
pub fn half_profile(piece: &super::Piece, chord_mm: f64) -> Vec<[f64; 2]> {
    revolved::half_profile(piece.rings(), chord_mm)
}
