//! Bodies: meshes with their trees, solids of revolution, and both placed by a pose.

use super::ask::CannotAsk;
use super::piece::Revolved;
use crate::mesh::Mesh;
use crate::value::Pose;
use std::sync::Arc;

/// A mesh with its tree, built once and shared by all its instances.
#[derive(Debug)]
pub struct MeshShape {
    mesh: Arc<Mesh>,
}

impl MeshShape {
    /// Builds the tree of a mesh.
    ///
    /// # Shapes
    /// Any size, closed or not, oriented or not: what cannot be decided for a body that is
    /// not closed is answered as undecided.
    ///
    /// # Errors
    /// [`CannotAsk::BadMesh`] where there is no triangle, an index is out of range, a coordinate
    /// is not finite (or beyond 1e15 mm), or the shells do not fit the triangles.
    pub fn new(mesh: Arc<Mesh>) -> Result<Self, CannotAsk> {
        if !sound(&mesh) {
            return Err(CannotAsk::BadMesh);
        }
        Ok(Self { mesh })
    }

    /// The mesh.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }
}

fn sound(mesh: &Mesh) -> bool {
    let vertex_count = mesh.vertices.len();
    let shell_count = mesh.shells.len();
    let in_range = |corners: &[u32; 3]| corners.iter().all(|&c| (c as usize) < vertex_count);
    !mesh.triangles.is_empty()
        && mesh.triangles.len() < u32::MAX as usize / 2
        && mesh
            .vertices
            .iter()
            .all(|v| v.iter().all(|c| c.abs() < 1e15))
        && mesh.triangles.iter().all(in_range)
        && mesh.shell_of_triangle.len() == mesh.triangles.len()
        && mesh
            .shell_of_triangle
            .iter()
            .all(|&shell| (shell as usize) < shell_count)
        && mesh
            .shells
            .iter()
            .all(|shell| (shell.first_triangle as usize) < mesh.triangles.len())
}

/// The shape of a body in its own frame.
#[derive(Debug, Clone)]
pub enum Shape {
    /// A triangle mesh.
    Mesh(Arc<MeshShape>),
    /// A solid of revolution about its own +Z.
    Revolved(Arc<Revolved>),
}

/// A body: a shape with its pose in the common frame.
#[derive(Debug, Clone)]
pub struct Placed {
    /// The shape.
    pub shape: Shape,
    /// Takes the shape's frame to the common frame.
    pub common_from_body: Pose,
}

impl Placed {
    /// A mesh with its pose.
    #[must_use]
    pub fn mesh(shape: &Arc<MeshShape>, common_from_body: Pose) -> Self {
        Self {
            shape: Shape::Mesh(Arc::clone(shape)),
            common_from_body,
        }
    }

    /// A solid of revolution with its pose.
    #[must_use]
    pub fn revolved(shape: &Arc<Revolved>, common_from_body: Pose) -> Self {
        Self {
            shape: Shape::Revolved(Arc::clone(shape)),
            common_from_body,
        }
    }
}
