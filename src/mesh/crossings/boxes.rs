//! Triangles near each other: a tree of boxes over triangles of the same mesh.
//!
//! The engine's tree (`gap`) stands above this layer, and is made for questions from outside; here
//! every triangle asks about all others, so leaves ask for their triangles together.

use crate::mesh::Mesh;
use crate::mesh::weld::index_u32;
use nalgebra::Point3;
use rayon::prelude::*;

/// Triangles of a leaf: with 4 the demo's meshes took 1.3 times as long, with 16 as long.
const LEAF: usize = 8;

/// Bits of the place of a triangle along each axis.
const PLACE_BITS: u32 = 16;

/// A box along the axes.
#[derive(Clone, Copy)]
pub(super) struct Bound {
    low: Point3<f64>,
    high: Point3<f64>,
}

impl Bound {
    fn of(points: &[Point3<f64>; 3]) -> Self {
        let [a, b, c] = points;
        Self {
            low: a.inf(b).inf(c),
            high: a.sup(b).sup(c),
        }
    }

    /// Of a triangle.
    pub(super) fn of_triangle(mesh: &Mesh, triangle: u32) -> Self {
        Self::of(&mesh.corners(triangle))
    }

    fn joined(&self, other: &Self) -> Self {
        Self {
            low: self.low.inf(&other.low),
            high: self.high.sup(&other.high),
        }
    }

    /// Larger by a length on every side.
    pub(super) fn grown(&self, by_mm: f64) -> Self {
        let by = nalgebra::Vector3::repeat(by_mm);
        Self {
            low: self.low - by,
            high: self.high + by,
        }
    }

    /// Whether two boxes have a point in common.
    pub(super) fn meets(&self, other: &Self) -> bool {
        (0..3).all(|k| self.low[k] <= other.high[k] && other.low[k] <= self.high[k])
    }
}

/// The tree: leaves in an order in which neighbours lie together, pairs of boxes above them.
pub(super) struct Boxes {
    order: Vec<u32>,
    /// Boxes of the leaves first, then of pairs of these, up to one box round all.
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
        let of_leaf = |leaf: &[u32]| {
            let first = Bound::of_triangle(mesh, leaf[0]);
            let others = leaf[1..].iter().map(|t| Bound::of_triangle(mesh, *t));
            others.fold(first, |all, one| all.joined(&one))
        };
        let mut levels: Vec<Vec<Bound>> = vec![order.par_chunks(LEAF).map(of_leaf).collect()];
        while let Some(below) = levels.last().filter(|level| level.len() > 1) {
            let above = |pair: &[Bound]| pair[1..].iter().fold(pair[0], |all, one| all.joined(one));
            let above = below.chunks(2).map(above).collect();
            levels.push(above);
        }
        Self { order, levels }
    }

    /// How many leaves there are.
    pub(super) fn len(&self) -> usize {
        self.levels[0].len()
    }

    /// Triangles of a leaf.
    pub(super) fn leaf(&self, leaf: usize) -> &[u32] {
        let from = leaf * LEAF;
        &self.order[from..self.order.len().min(from + LEAF)]
    }

    /// Visits the leaf itself and those after it whose boxes meet its own, grown by a length.
    pub(super) fn near(&self, leaf: usize, by_mm: f64, mut visit: impl FnMut(usize)) {
        let own = self.levels[0][leaf].grown(by_mm);
        let mut stack = vec![(self.levels.len() - 1, 0_usize)];
        while let Some((level, index)) = stack.pop() {
            let last = ((index + 1) << level) - 1;
            if last < leaf || !own.meets(&self.levels[level][index]) {
                continue;
            }
            if level == 0 {
                visit(index);
                continue;
            }
            let below = [2 * index, 2 * index + 1];
            let there = below
                .into_iter()
                .filter(|i| *i < self.levels[level - 1].len());
            stack.extend(there.map(|i| (level - 1, i)));
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
