//! Bodies: meshes with their trees, solids of revolution, and both placed by a pose.

use super::ask::CannotAsk;
use super::piece::Revolved;
use super::sweep::Leaf;
use super::tree::{Bounds, Tree};
use crate::mesh::Mesh;
use crate::value::Pose;
use std::sync::Arc;

/// A mesh with its tree, built once and shared by all its instances.
#[derive(Debug)]
pub struct MeshShape {
    mesh: Arc<Mesh>,
    tree: Tree,
    cavity_of: Vec<Option<u32>>,
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
        let tree = Tree::build(&mesh);
        let cavity_of = super::cavity::cavities(&mesh, &tree);
        Ok(Self {
            mesh,
            tree,
            cavity_of,
        })
    }

    /// The mesh.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }

    pub(super) fn tree(&self) -> &Tree {
        &self.tree
    }

    /// For each shell that is proved to be a cavity, the shell whose cavity it is.
    pub(super) fn cavity_of(&self) -> &[Option<u32>] {
        &self.cavity_of
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

impl Shape {
    /// Its box in its own frame.
    pub(super) fn bounds(&self) -> Bounds {
        match self {
            Self::Mesh(mesh) => mesh.tree().bounds,
            Self::Revolved(body) => body.bounds(),
        }
    }
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

    /// A triangle or a piece by its number.
    pub(super) fn leaf(&self, element: usize) -> Option<Leaf<'_>> {
        match &self.shape {
            Shape::Revolved(body) => body.pieces().get(element).map(Leaf::Piece),
            Shape::Mesh(shape) => {
                let corners = shape.mesh().triangles.get(element)?;
                let corner = |index: u32| shape.mesh().vertices[index as usize].coords;
                Some(Leaf::Triangle(corners.map(corner)))
            }
        }
    }
}
