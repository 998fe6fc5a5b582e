//! Triangles near each other: a tree of boxes over triangles of the same mesh.
//!
//! The engine's tree (`gap`) stands above this layer, and is made for questions from outside; here
//! every triangle asks about all others, so leaves ask for their triangles together.

use crate::mesh::Mesh;
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use nalgebra::Point3;
use rayon::prelude::*;

/// Triangles of a leaf, and boxes below a box.
const WIDE: usize = 8;

/// Bits of the place of a triangle along each axis.
const PLACE_BITS: u32 = 16;

/// A box along the axes, rounded outward.
#[derive(Clone, Copy)]
pub(super) struct Bound {
    low: [f32; 3],
    high: [f32; 3],
}

impl Bound {
    fn of([a, b, c]: &[Point3<f64>; 3]) -> Self {
        let (low, high) = (a.inf(b).inf(c), a.sup(b).sup(c));
        Self {
            low: [0, 1, 2].map(|k| round_down(low[k])),
            high: [0, 1, 2].map(|k| round_up(high[k])),
        }
    }

    /// Round all of some boxes.
    fn round(boxes: &[Self]) -> Self {
        let joined = |all: Self, one: &Self| Self {
            low: [0, 1, 2].map(|k| all.low[k].min(one.low[k])),
            high: [0, 1, 2].map(|k| all.high[k].max(one.high[k])),
        };
        boxes[1..].iter().fold(boxes[0], joined)
    }

    /// Larger by a length on every side.
    pub(super) fn grown(&self, by_mm: f64) -> Self {
        Self {
            low: self.low.map(|c| round_down(f64::from(c) - by_mm)),
            high: self.high.map(|c| round_up(f64::from(c) + by_mm)),
        }
    }

    /// Whether a ray, in a direction along no axis, meets it.
    fn is_met(&self, from: &Point3<f64>, way: &Vec3) -> bool {
        let (mut enter, mut leave) = (0.0_f64, f64::INFINITY);
        for k in 0..3 {
            let ends = [self.low[k], self.high[k]].map(|c| (f64::from(c) - from[k]) / way[k]);
            enter = enter.max(ends[0].min(ends[1]));
            leave = leave.min(ends[0].max(ends[1]));
        }
        // Boxes of flat triangles have no depth.
        enter <= leave + 1e-9
    }

    /// Whether two boxes have a point in common.
    pub(super) fn meets(&self, other: &Self) -> bool {
        let meets = |k: usize| (self.low[k] <= other.high[k]) & (other.low[k] <= self.high[k]);
        meets(0) & meets(1) & meets(2)
    }
}

fn round_down(value: f64) -> f32 {
    let near = value as f32;
    if f64::from(near) > value {
        near.next_down()
    } else {
        near
    }
}

fn round_up(value: f64) -> f32 {
    -round_down(-value)
}

/// The tree: leaves in an order in which neighbours lie together, eight boxes in each box above them.
pub(super) struct Boxes {
    order: Vec<u32>,
    /// Boxes of the triangles in their order.
    triangles: Vec<Bound>,
    /// Boxes of the leaves first, then of these, up to one box round all.
    levels: Vec<Vec<Bound>>,
}

impl Boxes {
    pub(super) fn new(mesh: &Mesh) -> Self {
        let (low, high) = mesh.bounds();
        let cells = f64::from((1_u32 << PLACE_BITS) - 1);
        let key = |triangle: u32| {
            let [a, b, c] = mesh.corners(triangle);
            let place = |k: usize| {
                let share = ((a[k] + b[k] + c[k]) / 3.0 - low[k]) / (high[k] - low[k]);
                // A flat mesh has no extent along some axis.
                (share.clamp(0.0, 1.0) * cells) as u64
            };
            (woven([place(0), place(1), place(2)]), triangle)
        };
        let all = 0..index_u32(mesh.triangles.len());
        let mut keyed: Vec<(u64, u32)> = all.into_par_iter().map(key).collect();
        keyed.par_sort_unstable();
        let order: Vec<u32> = keyed.into_iter().map(|(_, triangle)| triangle).collect();
        let bound = |triangle: &u32| Bound::of(&mesh.corners(*triangle));
        let triangles: Vec<Bound> = order.par_iter().map(bound).collect();
        let mut levels: Vec<Vec<Bound>> =
            vec![triangles.par_chunks(WIDE).map(Bound::round).collect()];
        while let Some(below) = levels.last().filter(|level| level.len() > 1) {
            let above = below.chunks(WIDE).map(Bound::round).collect();
            levels.push(above);
        }
        Self {
            order,
            triangles,
            levels,
        }
    }

    /// How many leaves there are.
    pub(super) fn len(&self) -> usize {
        self.levels[0].len()
    }

    /// Triangles of a leaf with their boxes.
    pub(super) fn leaf(&self, leaf: usize) -> (&[u32], &[Bound]) {
        let range = leaf * WIDE..self.order.len().min((leaf + 1) * WIDE);
        (&self.order[range.clone()], &self.triangles[range])
    }

    /// Visits the leaf itself and those after it whose boxes meet its own, grown by a length.
    pub(super) fn near(&self, leaf: usize, by_mm: f64, mut visit: impl FnMut(usize)) {
        let own = self.levels[0][leaf].grown(by_mm);
        let mut stack = vec![(self.levels.len() - 1, 0_usize)];
        while let Some((level, index)) = stack.pop() {
            if level == 0 {
                visit(index);
                continue;
            }
            let below = &self.levels[level - 1];
            let last = below.len().min((index + 1) * WIDE);
            // The leaves before this one have asked about it.
            let first = (leaf / WIDE.pow(index_u32(level - 1))).max(index * WIDE);
            let meeting = (first..last).filter(|child| own.meets(&below[*child]));
            stack.extend(meeting.map(|child| (level - 1, child)));
        }
    }

    /// Visits the triangles whose boxes a ray meets.
    pub(super) fn along(&self, from: &Point3<f64>, way: &Vec3, mut visit: impl FnMut(u32)) {
        let mut stack = vec![(self.levels.len() - 1, 0_usize)];
        while let Some((level, index)) = stack.pop() {
            if !self.levels[level][index].is_met(from, way) {
                continue;
            }
            let below = if level == 0 {
                self.order.len()
            } else {
                self.levels[level - 1].len()
            };
            let within = index * WIDE..below.min((index + 1) * WIDE);
            if level > 0 {
                stack.extend(within.map(|child| (level - 1, child)));
            } else {
                let met = within.filter(|k| self.triangles[*k].is_met(from, way));
                met.for_each(|k| visit(self.order[k]));
            }
        }
    }
}

/// One number of three, bit by bit in turn: near numbers are near places.
fn woven(places: [u64; 3]) -> u64 {
    let bit = |k: u32| {
        let of_axis = |axis: usize| (places[axis] >> k & 1) << (3 * k + axis as u32);
        of_axis(0) | of_axis(1) | of_axis(2)
    };
    (0..PLACE_BITS).map(bit).sum()
}
