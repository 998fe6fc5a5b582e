//! A tree of boxes over the triangles of a mesh, eight children to a node.

use super::triangle_pair::Triangle;
use crate::mesh::Mesh;
use crate::value::Vec3;

/// Children of a node.
pub(super) const WIDE: usize = 8;

/// A box by its centre and half edges.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bounds {
    pub centre: Vec3,
    pub half: Vec3,
}

/// What a child of a node is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Child {
    /// Another node.
    Node(u32),
    /// Slots `from .. to` of the triangle list.
    Leaf(u32, u32),
}

/// Eight boxes, rounded outward to single precision, with what is in them.
#[derive(Debug, Clone)]
pub(super) struct Node {
    pub low: [[f32; WIDE]; 3],
    pub high: [[f32; WIDE]; 3],
    pub child: [u32; WIDE],
    /// Triangles of a leaf; 0 for an inner node.
    pub count: [u8; WIDE],
    pub len: u8,
}

impl Node {
    pub(super) const EMPTY: Self = Self {
        low: [[0.0; WIDE]; 3],
        high: [[0.0; WIDE]; 3],
        child: [0; WIDE],
        count: [0; WIDE],
        len: 0,
    };

    pub(super) fn len(&self) -> usize {
        self.len as usize
    }

    pub(super) fn child(&self, index: usize) -> Child {
        let (child, count) = (self.child[index], u32::from(self.count[index]));
        if count == 0 {
            Child::Node(child)
        } else {
            Child::Leaf(child, child + count)
        }
    }

    pub(super) fn bounds(&self, index: usize) -> Bounds {
        let low = Vec3::from_fn(|axis, _| f64::from(self.low[axis][index]));
        let high = Vec3::from_fn(|axis, _| f64::from(self.high[axis][index]));
        Bounds {
            centre: (low + high) * 0.5,
            half: (high - low) * 0.5,
        }
    }
}

/// The tree, with the triangles in its order.
#[derive(Debug)]
pub(super) struct Tree {
    /// The first one is the root.
    pub nodes: Vec<Node>,
    /// Corners and number of the triangle in each slot.
    pub slots: Vec<[u32; 4]>,
    /// Box of everything.
    pub bounds: Bounds,
}

impl Tree {
    /// Builds the tree. The same mesh gives the same tree, whatever the number of threads.
    pub(super) fn build(mesh: &Mesh) -> Self {
        super::build::build(mesh)
    }

    /// The triangle in a slot.
    pub(super) fn triangle(&self, mesh: &Mesh, slot: u32) -> Triangle {
        let [a, b, c, _] = self.slots[slot as usize];
        [a, b, c].map(|corner| mesh.vertices[corner as usize].coords)
    }

    /// Number of the triangle in a slot, as the mesh counts.
    pub(super) fn number(&self, slot: u32) -> usize {
        self.slots[slot as usize][3] as usize
    }

    /// Visits every slot in the boxes that `enter` accepts.
    pub(super) fn visit(&self, enter: impl Fn(&Bounds) -> bool, mut each: impl FnMut(u32)) {
        let mut stack = vec![0_u32];
        while let Some(index) = stack.pop() {
            let node = &self.nodes[index as usize];
            for child in 0..node.len() {
                if !enter(&node.bounds(child)) {
                    continue;
                }
                match node.child(child) {
                    Child::Node(below) => stack.push(below),
                    Child::Leaf(from, to) => (from..to).for_each(&mut each),
                }
            }
        }
    }
}
