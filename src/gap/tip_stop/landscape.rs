//! Bodies seen along one direction of approach.

use super::super::ask::CannotAsk;
use super::super::group::rigid;
use super::super::piece::Piece;
use super::super::shape::{Placed, Shape};
use super::super::sweep::Leaf;
use super::field::Field;
use super::pair::Body;
use crate::value::{Pose, Vec3, translation};

/// The bodies that a tool comes down on, seen along the direction of approach.
///
/// # Shapes
/// Meshes of any kind: their triangles count, closed or not, whichever way they face. A tool that comes
/// down from above a closed body must cross its skin, so that what is inside needs no other test.
#[derive(Debug)]
pub struct Landscape {
    pub(super) field: Field,
    /// First triangle in the field of each mesh, and which body it is.
    firsts: Vec<(u32, usize)>,
    pub(super) turned: Vec<Turned>,
    approach_from_common: Pose,
}

/// A convex piece of a solid of revolution among the bodies.
#[derive(Debug)]
pub(super) struct Turned {
    pub body: usize,
    pub number: usize,
    piece: Piece,
    approach_from_body: Pose,
    /// Its box in plan.
    pub low: [f64; 2],
    pub high: [f64; 2],
    pub top_mm: f64,
    size_mm: f64,
}

impl Turned {
    fn new(body: usize, number: usize, piece: &Piece, approach_from_body: Pose) -> Self {
        let (low, high) = piece.heights_mm();
        let own_mm = piece.radius_mm() + low.abs().max(high.abs());
        let mut turned = Self {
            body,
            number,
            piece: piece.clone(),
            approach_from_body,
            low: [0.0; 2],
            high: [0.0; 2],
            top_mm: 0.0,
            size_mm: own_mm + approach_from_body.translation.vector.amax(),
        };
        let grain_mm = 1e-12 * turned.size_mm;
        let reach = |direction: &Vec3| turned.as_body([0.0; 2]).reach_mm(direction) + grain_mm;
        let high = [reach(&Vec3::x()), reach(&Vec3::y())];
        let low = [-reach(&-Vec3::x()), -reach(&-Vec3::y())];
        let top_mm = reach(&Vec3::z());
        (turned.low, turned.high, turned.top_mm) = (low, high, top_mm);
        turned
    }

    /// As a convex body relative to a place in plan.
    pub(super) fn as_body(&self, at_mm: [f64; 2]) -> Body<'_> {
        let shift = translation(Vec3::new(-at_mm[0], -at_mm[1], 0.0));
        Body {
            leaf: Leaf::Piece(&self.piece),
            pose: shift * self.approach_from_body,
            grown_mm: 0.0,
            size_mm: self.size_mm + at_mm[0].abs() + at_mm[1].abs(),
        }
    }
}

impl Landscape {
    /// Bodies in a common frame, seen along the z axis of the approach frame, which points from the
    /// work to the spindle.
    ///
    /// # Errors
    /// [`CannotAsk::BadPose`] where a pose is not finite or not a rotation with a shift;
    /// [`CannotAsk::BadMesh`] for 2^31 triangles or more in all.
    pub fn new(bodies: &[Placed], common_from_approach: &Pose) -> Result<Self, CannotAsk> {
        let approach_from_common = common_from_approach.inverse();
        let mut corners: Vec<Vec3> = Vec::new();
        let mut triangles: Vec<[u32; 3]> = Vec::new();
        let (mut firsts, mut turned) = (Vec::new(), Vec::new());
        for (number, body) in bodies.iter().enumerate() {
            let approach_from_body = approach_from_common * body.common_from_body;
            if !rigid(&approach_from_body) {
                return Err(CannotAsk::BadPose);
            }
            let shape = match &body.shape {
                Shape::Mesh(shape) => shape,
                Shape::Revolved(solid) => {
                    let piece =
                        |(place, piece)| Turned::new(number, place, piece, approach_from_body);
                    turned.extend(solid.pieces().iter().enumerate().map(piece));
                    continue;
                }
            };
            let mesh = shape.mesh();
            let count = triangles.len() + mesh.triangles.len();
            if count.max(corners.len() + mesh.vertices.len()) > (u32::MAX / 2) as usize {
                return Err(CannotAsk::BadMesh);
            }
            firsts.push((triangles.len() as u32, number));
            let base = corners.len() as u32;
            corners.extend(
                mesh.vertices
                    .iter()
                    .map(|v| (approach_from_body * v).coords),
            );
            triangles.extend(mesh.triangles.iter().map(|t| t.map(|corner| corner + base)));
        }
        Ok(Self {
            field: Field::new(corners, triangles),
            firsts,
            turned,
            approach_from_common,
        })
    }

    /// Takes the common frame to the frame of the approach.
    #[must_use]
    pub fn approach_from_common(&self) -> &Pose {
        &self.approach_from_common
    }

    /// The body, and its triangle, that a triangle of the field is.
    pub(super) fn source(&self, triangle: u32) -> (usize, usize) {
        let after = self.firsts.partition_point(|&(first, _)| first <= triangle);
        let (first, body) = self.firsts[after - 1];
        (body, (triangle - first) as usize)
    }
}
