//! Mesh against mesh at one relative pose: down both trees, the larger box first.
//!
//! Three lower values are taken for a pair of boxes: the distance of the boxes in the frame of
//! either body, and the width of the slab across the line between the nearest points known so far.
//! The last one is what ends the search along flat faces and straight edges: where the two bodies
//! can be told apart by a plane across that line, it leaves nothing but leaves in that plane.

use super::bounds::lessened;
use super::convex::Near;
use super::convex::nearest;
use super::rest::{Relative, leaf_pair};
use super::search::Search;
use super::shape::MeshShape;
use super::sweep::{Corners, Leaf};
use super::tree::{Bounds, Child, Node, WIDE};
use super::triangle_pair::{Triangle, triangle_pair};
use crate::value::{Pose, Vec3};
use nalgebra::{Matrix3, Point3};

/// A box of a tree: a child of a node, or the root.
#[derive(Debug, Clone, Copy)]
struct Place {
    node: u32,
    slot: u32,
}

impl Place {
    const ROOT: Self = Self {
        node: u32::MAX,
        slot: 0,
    };

    fn child(self, shape: &MeshShape) -> Child {
        if self.node == u32::MAX {
            return Child::Node(0);
        }
        shape.tree().nodes[self.node as usize].child(self.slot as usize)
    }

    fn bounds(self, shape: &MeshShape) -> Bounds {
        if self.node == u32::MAX {
            return shape.tree().bounds;
        }
        shape.tree().nodes[self.node as usize].bounds(self.slot as usize)
    }
}

#[derive(Debug, Clone, Copy)]
struct Pair {
    bound_mm: f64,
    one: Place,
    two: Place,
}

/// The slab across a direction: its width is `base_mm` less the reach of a box on either side.
#[derive(Debug, Clone, Copy)]
struct Slab {
    toward: [Vec3; 2],
    base_mm: f64,
}

/// A pose as it is needed for boxes.
struct Carried {
    turn: Matrix3<f64>,
    spread: Matrix3<f64>,
    shift: Vec3,
    pose: Pose,
}

impl Carried {
    fn new(pose: Pose) -> Self {
        let turn = *pose.rotation.matrix();
        Self {
            turn,
            spread: turn.abs(),
            shift: pose.translation.vector,
            pose,
        }
    }
}

struct Run<'a, 's, 'q> {
    shapes: [&'a MeshShape; 2],
    relative: &'a Relative<'a>,
    /// First from second, and second from first.
    carried: [Carried; 2],
    single: Option<Vec3>,
    slab: Option<Slab>,
    slab_hi_mm: f64,
    size_mm: f64,
    search: &'s mut Search<'q>,
}

pub(super) fn mesh_mesh(
    first: &MeshShape,
    second: &MeshShape,
    relative: &Relative<'_>,
    search: &mut Search<'_>,
) {
    let carried = [
        Carried::new(relative.first_from_second),
        Carried::new(relative.first_from_second.inverse()),
    ];
    let (low, high) = relative.sweep.corners();
    let size_mm = extent(&first.tree().bounds)
        + extent(&second.tree().bounds)
        + carried[0].shift.amax()
        + carried[1].shift.amax()
        + low.amax()
        + high.amax();
    let mut run = Run {
        shapes: [first, second],
        relative,
        carried,
        single: relative.sweep.single(),
        slab: None,
        slab_hi_mm: f64::INFINITY,
        size_mm,
        search,
    };
    run.run();
}

fn extent(bounds: &Bounds) -> f64 {
    bounds.centre.amax() + bounds.half.amax()
}

impl Run<'_, '_, '_> {
    fn run(&mut self) {
        let mut stack = Vec::with_capacity(128);
        stack.push(Pair {
            bound_mm: 0.0,
            one: Place::ROOT,
            two: Place::ROOT,
        });
        while let Some(pair) = stack.pop() {
            if pair.bound_mm >= self.search.rest_limit_mm() || !self.search.go_on(8) {
                self.search.discard(pair.bound_mm);
                continue;
            }
            self.refresh_slab();
            let children = [
                pair.one.child(self.shapes[0]),
                pair.two.child(self.shapes[1]),
            ];
            let side = match children {
                [Child::Leaf(from, to), Child::Leaf(other_from, other_to)] => {
                    self.leaves(from..to, other_from..other_to);
                    continue;
                }
                [Child::Leaf(..), Child::Node(_)] => 1,
                [Child::Node(_), Child::Leaf(..)] => 0,
                _ => {
                    let radius = |side: usize| self.bounds(&pair, side).half.norm_squared();
                    usize::from(radius(0) < radius(1))
                }
            };
            if let Child::Node(index) = children[side] {
                self.open(&pair, side, index, &mut stack);
            }
        }
    }

    fn bounds(&self, pair: &Pair, side: usize) -> Bounds {
        let place = if side == 0 { pair.one } else { pair.two };
        let bounds = place.bounds(self.shapes[side]);
        if side == 0 && self.single.is_none() {
            bounds.spread(self.relative.sweep)
        } else {
            bounds
        }
    }

    /// Opens one side of a pair and keeps its children that matter, the nearest on top.
    fn open(&mut self, pair: &Pair, side: usize, index: u32, stack: &mut Vec<Pair>) {
        let node = &self.shapes[side].tree().nodes[index as usize];
        let other = self.bounds(pair, 1 - side);
        let grown = (side == 0 && self.single.is_none()).then(|| {
            let none = Bounds {
                centre: Vec3::zeros(),
                half: Vec3::zeros(),
            };
            none.spread(self.relative.sweep)
        });
        let boxes = Boxes::new(node, grown.as_ref());
        let mut bounds = boxes.apart_mm(&other, &self.carried[1 - side], &self.carried[side]);
        if let Some(slab) = &self.slab {
            let toward = slab.toward[1 - side];
            let other_mm = toward.dot(&other.centre) + toward.abs().dot(&other.half);
            boxes.slab_mm(&slab.toward[side], slab.base_mm - other_mm, &mut bounds);
        }
        let limit_mm = self.search.rest_limit_mm();
        let from = stack.len();
        for (slot, bound) in bounds.into_iter().enumerate().take(node.len()) {
            let bound_mm = lessened(bound, self.size_mm).max(pair.bound_mm);
            if bound_mm >= limit_mm {
                self.search.discard(bound_mm);
                continue;
            }
            let mut below = Pair { bound_mm, ..*pair };
            let place = Place {
                node: index,
                slot: slot as u32,
            };
            if side == 0 {
                below.one = place;
            } else {
                below.two = place;
            }
            stack.push(below);
        }
        stack[from..].sort_unstable_by(|p, q| q.bound_mm.total_cmp(&p.bound_mm));
    }

    /// Takes the direction of the least gap so far, from whichever pair of bodies it is.
    fn refresh_slab(&mut self) {
        if self.search.hi_mm() >= self.slab_hi_mm {
            return;
        }
        self.slab_hi_mm = self.search.hi_mm();
        let Some(direction) = self.search.direction() else {
            return;
        };
        let common_from_first = &self.relative.pairing.common_from_first.rotation;
        let toward = common_from_first.inverse_transform_vector(&direction);
        let back = -(self.carried[0].turn.transpose() * toward);
        let shift = self.relative.sweep.support(&toward);
        let base_mm = toward.dot(&(self.carried[0].shift - shift));
        self.slab = Some(Slab {
            toward: [toward, back],
            base_mm,
        });
    }

    fn leaves(&mut self, ones: std::ops::Range<u32>, twos: std::ops::Range<u32>) {
        let [first, second] = self.shapes;
        for j in twos {
            let own = second.tree().triangle(second.mesh(), j);
            let pose = &self.carried[0].pose;
            let two = own.map(|corner| (pose * Point3::from(corner)).coords);
            for i in ones.clone() {
                let one = first.tree().triangle(first.mesh(), i);
                let near = match self.single {
                    Some(shift) => self.plain_pair(&one.map(|c| c + shift), &two, shift),
                    None => {
                        let leaves = (Leaf::Triangle(one), Leaf::Triangle(own));
                        let beat_mm = self.search.rest_limit_mm();
                        Some(leaf_pair(leaves.0, leaves.1, self.relative, beat_mm))
                    }
                };
                let Some(near) = near else { continue };
                let (number, other) = (first.tree().number(i), second.tree().number(j));
                self.search
                    .offer(&self.relative.pairing, &near, number, other);
                self.search.discard(near.lo_mm);
                self.refresh_slab();
            }
        }
    }

    /// Two triangles in closed form; `None` where the slab or the boxes tell enough already.
    fn plain_pair(&mut self, one: &Triangle, two: &Triangle, shift: Vec3) -> Option<Near> {
        let limit_mm = self.search.rest_limit_mm();
        let mut bound_mm = boxes_mm(one, two);
        if let Some(slab) = &self.slab {
            bound_mm = bound_mm.max(slab_of(one, two, &slab.toward[0]));
        }
        let bound_mm = lessened(bound_mm, self.size_mm);
        if bound_mm >= limit_mm {
            self.search.discard(bound_mm);
            return None;
        }
        let mut near = triangle_pair(one, two);
        near.shift = shift;
        if near.hi_mm - near.lo_mm > 1e-7 && near.lo_mm < limit_mm {
            let direction = near.on_b - near.on_a;
            let other = nearest(&Corners(*one), &Corners(*two), &direction, limit_mm);
            near.lo_mm = near.lo_mm.max(other.lo_mm).min(near.hi_mm);
        }
        Some(near)
    }
}

/// Distance of the boxes of two triangles.
fn boxes_mm(one: &Triangle, two: &Triangle) -> f64 {
    let mut square = 0.0;
    for axis in 0..3 {
        let (p, q) = (one.map(|c| c[axis]), two.map(|c| c[axis]));
        let low = |v: [f64; 3]| v[0].min(v[1]).min(v[2]);
        let high = |v: [f64; 3]| v[0].max(v[1]).max(v[2]);
        let apart = (low(p) - high(q)).max(low(q) - high(p)).max(0.0);
        square += apart * apart;
    }
    square.sqrt()
}

fn slab_of(one: &Triangle, two: &Triangle, toward: &Vec3) -> f64 {
    let (p, q) = (one.map(|c| c.dot(toward)), two.map(|c| c.dot(toward)));
    q[0].min(q[1]).min(q[2]) - p[0].max(p[1]).max(p[2])
}

/// The eight boxes of a node, side by side.
struct Boxes {
    centre: [[f64; WIDE]; 3],
    half: [[f64; WIDE]; 3],
}

impl Boxes {
    fn new(node: &Node, grown: Option<&Bounds>) -> Self {
        let mut boxes = Self {
            centre: [[0.0; WIDE]; 3],
            half: [[0.0; WIDE]; 3],
        };
        for axis in 0..3 {
            for slot in 0..WIDE {
                let (low, high) = (
                    f64::from(node.low[axis][slot]),
                    f64::from(node.high[axis][slot]),
                );
                boxes.centre[axis][slot] = (low + high) * 0.5;
                boxes.half[axis][slot] = (high - low) * 0.5;
            }
            if let Some(grown) = grown {
                for slot in 0..WIDE {
                    boxes.centre[axis][slot] += grown.centre[axis];
                    boxes.half[axis][slot] += grown.half[axis];
                }
            }
        }
        boxes
    }

    /// Distance from another box, in either frame.
    fn apart_mm(
        &self,
        other: &Bounds,
        other_from_here: &Carried,
        here_from_other: &Carried,
    ) -> [f64; WIDE] {
        let centre = here_from_other.turn * other.centre + here_from_other.shift;
        let half = here_from_other.spread * other.half;
        let mut here = [0.0; WIDE];
        let mut there = [0.0; WIDE];
        for axis in 0..3 {
            for slot in 0..WIDE {
                let between = (self.centre[axis][slot] - centre[axis]).abs();
                let apart = (between - self.half[axis][slot] - half[axis]).max(0.0);
                here[slot] += apart * apart;
            }
        }
        let (turn, spread) = (&other_from_here.turn, &other_from_here.spread);
        for axis in 0..3 {
            let (r0, r1, r2) = (turn[(axis, 0)], turn[(axis, 1)], turn[(axis, 2)]);
            let (s0, s1, s2) = (spread[(axis, 0)], spread[(axis, 1)], spread[(axis, 2)]);
            let away = other_from_here.shift[axis] - other.centre[axis];
            let reach = other.half[axis];
            for slot in 0..WIDE {
                let at = r0 * self.centre[0][slot]
                    + r1 * self.centre[1][slot]
                    + r2 * self.centre[2][slot]
                    + away;
                let wide =
                    s0 * self.half[0][slot] + s1 * self.half[1][slot] + s2 * self.half[2][slot];
                let apart = (at.abs() - wide - reach).max(0.0);
                there[slot] += apart * apart;
            }
        }
        let mut bounds = [0.0; WIDE];
        for slot in 0..WIDE {
            bounds[slot] = here[slot].max(there[slot]).sqrt();
        }
        bounds
    }

    /// Raises the bounds to the width of a slab.
    fn slab_mm(&self, toward: &Vec3, base_mm: f64, bounds: &mut [f64; WIDE]) {
        let spread = toward.abs();
        for slot in 0..WIDE {
            let reach = toward.x * self.centre[0][slot]
                + toward.y * self.centre[1][slot]
                + toward.z * self.centre[2][slot]
                + spread.x * self.half[0][slot]
                + spread.y * self.half[1][slot]
                + spread.z * self.half[2][slot];
            bounds[slot] = bounds[slot].max(base_mm - reach);
        }
    }
}
