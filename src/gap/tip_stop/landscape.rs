//! Bodies seen along one direction of approach.

use super::super::ask::CannotAsk;
use super::super::shape::{Placed, Shape};
use super::field::Field;
use crate::value::{Pose, Vec3};

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
    approach_from_common: Pose,
}

impl Landscape {
    /// Bodies in a common frame, seen along the z axis of the approach frame, which points from the
    /// work to the spindle.
    ///
    /// # Errors
    /// [`CannotAsk::BadPose`] where a pose is not a finite rotation with a shift, or a body is a
    /// solid of revolution; [`CannotAsk::BadMesh`] for 2^31 triangles or more in all.
    pub fn new(bodies: &[Placed], common_from_approach: &Pose) -> Result<Self, CannotAsk> {
        let approach_from_common = common_from_approach.inverse();
        let mut corners: Vec<Vec3> = Vec::new();
        let mut triangles: Vec<[u32; 3]> = Vec::new();
        let mut firsts = Vec::new();
        for (number, body) in bodies.iter().enumerate() {
            let Shape::Mesh(shape) = &body.shape else {
                return Err(CannotAsk::BadPose);
            };
            let approach_from_body = approach_from_common * body.common_from_body;
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
        if !corners.iter().all(|corner| corner.amax() < 1e15) {
            return Err(CannotAsk::BadPose);
        }
        Ok(Self {
            field: Field::new(corners, triangles),
            firsts,
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
