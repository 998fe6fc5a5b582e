//! The bodies of a group as a turn sees them: their parts, opened as far as the search needs.

use super::orbit::{Axis, Orbit};
use super::rest::around;
use super::shape::{Placed, Shape};
use super::sweep::{Leaf, Sweep};
use super::tree::{Bounds, Child};
use super::triangle_pair::Triangle;
use crate::value::Vec3;

/// What a part is.
#[derive(Debug, Clone, Copy)]
pub(super) enum What {
    Inner(u32),
    Triangle(u32),
    Piece(u32),
}

/// A part of a body, as far as it has been opened.
#[derive(Debug, Clone, Copy)]
pub(super) struct Item<'a> {
    pub body: u32,
    pub what: What,
    /// Its box in the frame of the body, without the spread.
    pub bounds: Bounds,
    pub orbit: Orbit,
    /// The thing itself where it is a leaf, else its box.
    pub solid: Leaf<'a>,
}

impl Item<'_> {
    pub(super) fn is_leaf(&self) -> bool {
        !matches!(self.what, What::Inner(_))
    }
}

/// A group prepared for the search.
pub(super) struct Team<'a> {
    pub bodies: &'a [Placed],
    axes: Vec<Axis>,
    pub sweeps: Vec<Sweep>,
    pub items: Vec<Item<'a>>,
    /// Where the children of an opened item are.
    opened: Vec<Option<(u32, u32)>>,
}

impl<'a> Team<'a> {
    pub(super) fn new(bodies: &'a [Placed], axis: &Axis, sweep: &Sweep) -> Self {
        let mut axes = Vec::new();
        let mut sweeps = Vec::new();
        for body in bodies {
            let body_from_common = body.common_from_body.inverse();
            axes.push(axis.seen_from(&body_from_common));
            let own = sweep.turned(&body_from_common.rotation);
            sweeps.push(own);
        }
        let mut team = Self {
            bodies,
            axes,
            sweeps,
            items: Vec::new(),
            opened: Vec::new(),
        };
        for (index, body) in bodies.iter().enumerate() {
            let index = index as u32;
            match &body.shape {
                Shape::Mesh(mesh) => team.add(index, What::Inner(0), mesh.tree().bounds),
                Shape::Revolved(tool) => {
                    (0..tool.pieces().len() as u32).for_each(|piece| team.add_piece(index, piece))
                }
            }
        }
        team
    }

    fn add(&mut self, body: u32, what: What, bounds: Bounds) {
        let index = body as usize;
        let spread = bounds.spread(&self.sweeps[index]);
        let orbit = Orbit::of_bounds(&self.axes[index], &spread);
        self.push(Item {
            body,
            what,
            bounds,
            orbit,
            solid: Leaf::Box(bounds),
        });
    }

    fn add_piece(&mut self, body: u32, number: u32) {
        let index = body as usize;
        let bodies: &'a [Placed] = self.bodies;
        let Shape::Revolved(tool) = &bodies[index].shape else {
            return;
        };
        let piece = &tool.pieces()[number as usize];
        let (low, high) = piece.heights_mm();
        let (middle, half, r) = ((low + high) * 0.5, (high - low) * 0.5, piece.radius_mm());
        let bounds = Bounds {
            centre: Vec3::new(0.0, 0.0, middle),
            half: Vec3::new(r, r, half),
        };
        let sweep = &self.sweeps[index];
        let spread = bounds.spread(sweep);
        let reach = |along: &Vec3| piece.reach_mm(along) + sweep.support(along).dot(along);
        let orbit = Orbit::of_reach(&self.axes[index], &spread.centre, reach);
        self.push(Item {
            body,
            what: What::Piece(number),
            bounds,
            orbit,
            solid: Leaf::Piece(piece),
        });
    }

    fn add_triangle(&mut self, body: u32, slot: u32, corners: &Triangle) {
        let (axis, sweep) = (&self.axes[body as usize], &self.sweeps[body as usize]);
        let bounds = around(corners);
        let orbit = if sweep.is_none() {
            Orbit::of_triangle(axis, corners)
        } else {
            let reach = |along: &Vec3| {
                let own = Leaf::Triangle(*corners).core_support(along);
                (own + sweep.support(along)).dot(along)
            };
            Orbit::of_reach(axis, &bounds.spread(sweep).centre, reach)
        };
        self.push(Item {
            body,
            what: What::Triangle(slot),
            bounds,
            orbit,
            solid: Leaf::Triangle(*corners),
        });
    }

    fn push(&mut self, item: Item<'a>) {
        self.items.push(item);
        self.opened.push(None);
    }

    /// The children of an inner item.
    pub(super) fn open(&mut self, index: u32) -> (u32, u32) {
        if let Some(range) = self.opened[index as usize] {
            return range;
        }
        let from = self.items.len() as u32;
        let item = self.items[index as usize];
        if let (What::Inner(node), Shape::Mesh(mesh)) =
            (item.what, &self.bodies[item.body as usize].shape)
        {
            let node = &mesh.tree().nodes[node as usize];
            for slot in 0..node.len() {
                match node.child(slot) {
                    Child::Node(below) => {
                        self.add(item.body, What::Inner(below), node.bounds(slot));
                    }
                    Child::Leaf(first, end) => {
                        for triangle in first..end {
                            let corners = mesh.tree().triangle(mesh.mesh(), triangle);
                            self.add_triangle(item.body, triangle, &corners);
                        }
                    }
                }
            }
        }
        let range = (from, self.items.len() as u32);
        self.opened[index as usize] = Some(range);
        range
    }

    /// The number of a leaf, as its body counts.
    pub(super) fn number(&self, item: &Item<'_>) -> usize {
        match (&self.bodies[item.body as usize].shape, item.what) {
            (Shape::Mesh(mesh), What::Triangle(slot)) => mesh.tree().number(slot),
            (_, What::Inner(number) | What::Triangle(number) | What::Piece(number)) => {
                number as usize
            }
        }
    }
}
