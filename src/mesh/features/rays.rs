//! The first triangle that a ray meets: a tree of boxes over triangles in Morton order.

use crate::mesh::faces::geo::Geo;
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use nalgebra::Point3;

/// Triangles in a leaf.
const LEAF: usize = 8;

/// A tree over the triangles of a mesh.
pub(super) struct Rays<'a> {
    geo: &'a Geo,
    order: Vec<u32>,
    /// Boxes of a complete binary tree: children of `k` are `2k + 1` and `2k + 2`.
    boxes: Vec<[Point3<f64>; 2]>,
    leaves: usize,
}

/// Where a ray meets a triangle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Hit {
    pub(super) distance_mm: f64,
    pub(super) triangle: u32,
}

impl<'a> Rays<'a> {
    pub(super) fn new(geo: &'a Geo) -> Self {
        let mut low = Point3::from([f64::INFINITY; 3]);
        let mut high = Point3::from([f64::NEG_INFINITY; 3]);
        for vertex in &geo.canon.vertices {
            low = low.inf(vertex);
            high = high.sup(vertex);
        }
        let size = (high - low).max().max(f64::MIN_POSITIVE);
        let mut keyed: Vec<(u64, u32)> = (0..index_u32(geo.len()))
            .map(|t| (morton((geo.centre(t) - low) / size), t))
            .collect();
        keyed.sort_unstable();
        let order: Vec<u32> = keyed.into_iter().map(|(_, triangle)| triangle).collect();
        let leaves = order.len().div_ceil(LEAF).next_power_of_two();
        let empty = [
            Point3::from([f64::INFINITY; 3]),
            Point3::from([f64::NEG_INFINITY; 3]),
        ];
        let mut boxes = vec![empty; 2 * leaves - 1];
        for (leaf, triangles) in order.chunks(LEAF).enumerate() {
            let bounds = &mut boxes[leaves - 1 + leaf];
            for corner in triangles.iter().flat_map(|t| geo.corners(*t)) {
                *bounds = [bounds[0].inf(&corner), bounds[1].sup(&corner)];
            }
        }
        for node in (0..leaves - 1).rev() {
            let (one, two) = (boxes[2 * node + 1], boxes[2 * node + 2]);
            boxes[node] = [one[0].inf(&two[0]), one[1].sup(&two[1])];
        }
        Self {
            geo,
            order,
            boxes,
            leaves,
        }
    }

    /// The nearest triangle along a ray beyond `least_mm`.
    pub(super) fn first(&self, from: &Point3<f64>, along: &Vec3, least_mm: f64) -> Option<Hit> {
        let mut best: Option<Hit> = None;
        let mut stack = vec![0_usize];
        while let Some(node) = stack.pop() {
            let limit_mm = best.map_or(f64::INFINITY, |hit| hit.distance_mm);
            if !meets(&self.boxes[node], from, along, limit_mm) {
                continue;
            }
            if node + 1 < self.leaves {
                stack.extend([2 * node + 1, 2 * node + 2]);
                continue;
            }
            let first = (node + 1 - self.leaves) * LEAF;
            let end = (first + LEAF).min(self.order.len());
            for &triangle in &self.order[first.min(end)..end] {
                let limit_mm = best.map_or(f64::INFINITY, |hit| hit.distance_mm);
                let found = distance(&self.geo.corners(triangle), from, along);
                if let Some(distance_mm) = found.filter(|d| *d > least_mm && *d < limit_mm) {
                    best = Some(Hit {
                        distance_mm,
                        triangle,
                    });
                }
            }
        }
        best
    }

    /// Whether nothing stands along a ray.
    pub(super) fn is_free(&self, from: &Point3<f64>, along: &Vec3) -> bool {
        self.first(from, along, 1e-6).is_none()
    }
}

/// Ten bits of each coordinate, interleaved.
fn morton(share: Vec3) -> u64 {
    let spread = |x: f64| {
        let cell = (x * 1023.0).clamp(0.0, 1023.0) as u64;
        (0..10).fold(0, |sum, bit| sum | (cell >> bit & 1) << (3 * bit))
    };
    spread(share.x) | spread(share.y) << 1 | spread(share.z) << 2
}

/// Whether a ray enters a box before a distance.
///
/// # Source
/// The slab test, from memory.
fn meets([low, high]: &[Point3<f64>; 2], from: &Point3<f64>, along: &Vec3, limit: f64) -> bool {
    let (mut enter, mut leave) = (0.0_f64, limit);
    for k in 0..3 {
        let inverse = along[k].recip();
        let (a, b) = ((low[k] - from[k]) * inverse, (high[k] - from[k]) * inverse);
        // A ray within a slab's plane gives NaN, which `min` and `max` pass over.
        enter = enter.max(a.min(b) - 1e-9);
        leave = leave.min(a.max(b) + 1e-9);
    }
    enter <= leave
}

/// Distance along a ray to a triangle, from either side.
///
/// # Source
/// Moeller and Trumbore 1997, from memory.
fn distance(corners: &[Point3<f64>; 3], from: &Point3<f64>, along: &Vec3) -> Option<f64> {
    let (one, two) = (corners[1] - corners[0], corners[2] - corners[0]);
    let cross = along.cross(&two);
    let scale = one.dot(&cross);
    if scale.abs() < 1e-300 {
        return None;
    }
    let offset = from - corners[0];
    let u = offset.dot(&cross) / scale;
    let turned = offset.cross(&one);
    let v = along.dot(&turned) / scale;
    let inside = u >= -1e-12 && v >= -1e-12 && u + v <= 1.0 + 1e-12;
    inside
        .then(|| two.dot(&turned) / scale)
        .filter(|d| d.is_finite())
}
