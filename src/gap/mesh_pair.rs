//! Mesh against mesh at one relative pose: down both trees, the larger box first.
//!
//! Three lower values are taken for a pair of boxes: the distance of the boxes in the frame of
//! either body, and the width of the slab across the line between the nearest points known so far.
//! The last one is what ends the search along flat faces and straight edges: where the two bodies
//! can be told apart by a plane across that line, it leaves nothing but leaves in that plane.

use super::bounds::lessened;
use super::build::LEAF_MAX;
use super::convex::Near;
use super::convex::nearest;
use super::rest::Relative;
use super::search::Search;
use super::shape::MeshShape;
use super::sweep::{Leaf, Plain, Swept};
use super::tree::{Bounds, Child, WIDE};
use super::triangle_pair::{Triangle, triangle_pair};
use super::wide::{Boxes, Carried, Corners, Opposite};
use crate::value::Vec3;

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

/// How far a pair is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Depth {
    /// One pair of leaves, for an upper value; no lower value comes of it.
    Probe,
    /// Everything that can matter.
    Whole,
}

/// Looks at one pair of meshes.
pub(super) fn mesh_mesh(
    first: &MeshShape,
    second: &MeshShape,
    relative: &Relative<'_>,
    depth: Depth,
    search: &mut Search<'_>,
) {
    let carried = [
        Carried::new(&relative.first_from_second),
        Carried::new(&relative.first_from_second.inverse()),
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
    match depth {
        Depth::Probe => run.probe(),
        Depth::Whole => run.run(),
    }
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
            match self.choose(&pair) {
                Some((side, index)) => self.open(&pair, side, index, &mut stack),
                None => self.leaves(&pair),
            }
        }
    }

    /// Follows the nearest children down to one pair of leaves, for an early upper value.
    fn probe(&mut self) {
        let mut stack = Vec::with_capacity(WIDE);
        let mut pair = Pair {
            bound_mm: 0.0,
            one: Place::ROOT,
            two: Place::ROOT,
        };
        while self.search.go_on(8) {
            self.refresh_slab();
            let Some((side, index)) = self.choose(&pair) else {
                return self.leaves(&pair);
            };
            stack.clear();
            self.open(&pair, side, index, &mut stack);
            match stack.pop() {
                Some(nearest) => pair = nearest,
                None => return,
            }
        }
    }

    /// Which side of a pair to open, and its node; `None` where both are leaves.
    fn choose(&self, pair: &Pair) -> Option<(usize, u32)> {
        match (
            pair.one.child(self.shapes[0]),
            pair.two.child(self.shapes[1]),
        ) {
            (Child::Leaf(..), Child::Leaf(..)) => None,
            (Child::Leaf(..), Child::Node(index)) => Some((1, index)),
            (Child::Node(index), Child::Leaf(..)) => Some((0, index)),
            (Child::Node(first), Child::Node(second)) => {
                let one = pair.one.bounds(self.shapes[0]).half.norm_squared();
                let two = pair.two.bounds(self.shapes[1]).half.norm_squared();
                Some(if one < two { (1, second) } else { (0, first) })
            }
        }
    }

    /// The side of a pair that is not opened, as it is seen from the other side.
    fn opposite(&self, place: Place, side: usize) -> Opposite {
        let shape = self.shapes[side];
        let carried = &self.carried[1 - side];
        let toward = self.slab.map_or(Vec3::zeros(), |slab| slab.toward[side]);
        let mut opposite = match place.child(shape) {
            Child::Node(_) => {
                let own = place.bounds(shape);
                let reach_mm = toward.dot(&own.centre) + toward.abs().dot(&own.half);
                Opposite {
                    own,
                    there: carried.bounds(&own),
                    reach_mm,
                }
            }
            Child::Leaf(from, to) => {
                let (mut own, mut there) = (Corners::EMPTY, Corners::EMPTY);
                let mut reach_mm = f64::NEG_INFINITY;
                for slot in from..to {
                    for corner in shape.tree().triangle(shape.mesh(), slot) {
                        own.add(&corner);
                        there.add(&carried.point(&corner));
                        reach_mm = reach_mm.max(toward.dot(&corner));
                    }
                }
                Opposite {
                    own: own.bounds(),
                    there: there.bounds(),
                    reach_mm,
                }
            }
        };
        if side == 0 && self.single.is_none() {
            let zero = Bounds {
                centre: Vec3::zeros(),
                half: Vec3::zeros(),
            };
            let grown = zero.spread(self.relative.sweep);
            opposite.own.centre += grown.centre;
            opposite.own.half += grown.half;
            opposite.there.centre += carried.turn * grown.centre;
            opposite.there.half += carried.spread * grown.half;
        }
        opposite
    }

    /// Opens one side of a pair and keeps its children that matter, the nearest on top.
    fn open(&mut self, pair: &Pair, side: usize, index: u32, stack: &mut Vec<Pair>) {
        let node = &self.shapes[side].tree().nodes[index as usize];
        let opposite = self.opposite(if side == 0 { pair.two } else { pair.one }, 1 - side);
        let mut boxes = Boxes::new(node);
        let mut bounds = [0.0; WIDE];
        if let Some(slab) = &self.slab {
            boxes.slab_mm(
                &slab.toward[side],
                slab.base_mm - opposite.reach_mm,
                &mut bounds,
            );
        }
        if side == 0 && self.single.is_none() {
            boxes.grow(self.relative.sweep);
        }
        boxes.apart_mm(&opposite, &self.carried[1 - side], &mut bounds);
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

    fn leaves(&mut self, pair: &Pair) {
        let [first, second] = self.shapes;
        let (Child::Leaf(from, to), Child::Leaf(other_from, other_to)) =
            (pair.one.child(first), pair.two.child(second))
        else {
            return;
        };
        let shift = self.single.unwrap_or_default();
        let mut ones = [Facet::EMPTY; LEAF_MAX];
        let mut twos = [Facet::EMPTY; LEAF_MAX];
        for (facet, slot) in ones.iter_mut().zip(from..to) {
            let corners = first.tree().triangle(first.mesh(), slot);
            *facet = Facet::new(corners.map(|corner| corner + shift), slot);
        }
        for (facet, slot) in twos.iter_mut().zip(other_from..other_to) {
            let corners = second.tree().triangle(second.mesh(), slot);
            *facet = Facet::new(corners.map(|corner| self.carried[0].point(&corner)), slot);
        }
        let ones = &ones[..ones.len().min((to - from) as usize)];
        let twos = &twos[..twos.len().min((other_to - other_from) as usize)];
        for two in twos {
            for one in ones {
                match self.single {
                    Some(shift) => self.plain_pair(one, two, shift),
                    None => self.swept_pair(one, two),
                }
            }
        }
    }

    fn take(&mut self, near: &Near, one: &Facet, two: &Facet) {
        let [first, second] = self.shapes;
        let (number, other) = (
            first.tree().number(one.slot),
            second.tree().number(two.slot),
        );
        self.search
            .offer(&self.relative.pairing, near, number, other);
        self.search.discard(near.lo_mm);
        self.refresh_slab();
    }

    /// Two triangles, the first one spread.
    fn swept_pair(&mut self, one: &Facet, two: &Facet) {
        let swept = Swept {
            leaf: Leaf::Triangle(one.corners),
            sweep: self.relative.sweep,
        };
        let toward = self
            .slab
            .map_or(two.corners[0] - one.corners[0], |slab| slab.toward[0]);
        let near = nearest(
            &swept,
            &Plain(two.corners),
            &toward,
            self.search.rest_limit_mm(),
        );
        self.take(&near, one, two);
    }

    /// Two triangles in closed form, unless the slab or the boxes tell enough already.
    fn plain_pair(&mut self, one: &Facet, two: &Facet, shift: Vec3) {
        let limit_mm = self.search.rest_limit_mm();
        let mut bound_mm = one.boxes_mm(two);
        if let Some(slab) = &self.slab {
            bound_mm = bound_mm.max(one.slab_mm(two, &slab.toward[0]));
        }
        let bound_mm = lessened(bound_mm, self.size_mm);
        if bound_mm >= limit_mm {
            return self.search.discard(bound_mm);
        }
        let mut near = triangle_pair(&one.corners, &two.corners, limit_mm);
        near.shift = shift;
        if near.hi_mm - near.lo_mm > 1e-7 && near.lo_mm < limit_mm {
            let direction = near.on_b - near.on_a;
            let other = nearest(
                &Plain(one.corners),
                &Plain(two.corners),
                &direction,
                limit_mm,
            );
            near.lo_mm = near.lo_mm.max(other.lo_mm).min(near.hi_mm);
        }
        self.take(&near, one, two);
    }
}

/// A triangle of a leaf with its box.
#[derive(Debug, Clone, Copy)]
struct Facet {
    corners: Triangle,
    low: Vec3,
    high: Vec3,
    slot: u32,
}

impl Facet {
    const EMPTY: Self = {
        let zero = Vec3::new(0.0, 0.0, 0.0);
        Self {
            corners: [zero; 3],
            low: zero,
            high: zero,
            slot: 0,
        }
    };

    fn new(corners: Triangle, slot: u32) -> Self {
        let [a, b, c] = corners;
        Self {
            corners,
            low: a.inf(&b).inf(&c),
            high: a.sup(&b).sup(&c),
            slot,
        }
    }

    /// Distance of the boxes.
    fn boxes_mm(&self, other: &Self) -> f64 {
        let apart = |axis: usize| {
            (self.low[axis] - other.high[axis])
                .max(other.low[axis] - self.high[axis])
                .max(0.0)
        };
        let [x, y, z] = [apart(0), apart(1), apart(2)];
        (x * x + y * y + z * z).sqrt()
    }

    /// Width of the slab across a unit direction.
    fn slab_mm(&self, other: &Self, toward: &Vec3) -> f64 {
        let p = self.corners.map(|corner| corner.dot(toward));
        let q = other.corners.map(|corner| corner.dot(toward));
        q[0].min(q[1]).min(q[2]) - p[0].max(p[1]).max(p[2])
    }
}
