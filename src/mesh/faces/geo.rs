//! What the split needs of every triangle, worked out once.

use super::bonds::Bonds;
use super::canon::Canon;
use crate::value::Vec3;
use nalgebra::Point3;
use rayon::prelude::*;

/// Triangles in canonical order with their sizes and neighbours.
pub(in crate::mesh) struct Geo {
    pub(in crate::mesh) canon: Canon,
    pub(in crate::mesh) bonds: Bonds,
    pub(in crate::mesh) shape: Vec<Shape>,
}

/// Sizes of a triangle.
#[derive(Clone, Copy)]
pub(in crate::mesh) struct Shape {
    pub(in crate::mesh) normal: Vec3,
    pub(in crate::mesh) area_mm2: f64,
    /// Height over the longest edge.
    pub(in crate::mesh) altitude_mm: f64,
}

/// An edge of a region, seen from inside.
pub(in crate::mesh) struct Rim {
    pub(in crate::mesh) from: Point3<f64>,
    pub(in crate::mesh) to: Point3<f64>,
    pub(in crate::mesh) inside: u32,
    /// What is behind it; `bonds::NONE` where the surface ends.
    pub(in crate::mesh) outside: u32,
}

impl Geo {
    pub(in crate::mesh) fn new(canon: Canon, weld_mm: f64) -> Self {
        let bonds = Bonds::new(&canon.vertices, &canon.triangles, weld_mm);
        let shape = |corners: &[u32; 3]| {
            let [a, b, c] = corners.map(|corner| canon.vertices[corner as usize]);
            let cross = (b - a).cross(&(c - a));
            let doubled = cross.norm();
            let longest = (b - a).norm().max((c - b).norm()).max((a - c).norm());
            Shape {
                normal: cross / doubled.max(f64::MIN_POSITIVE),
                area_mm2: doubled / 2.0,
                altitude_mm: doubled / longest.max(f64::MIN_POSITIVE),
            }
        };
        let shape = canon.triangles.par_iter().map(shape).collect();
        Self {
            canon,
            bonds,
            shape,
        }
    }

    pub(in crate::mesh) fn len(&self) -> usize {
        self.canon.triangles.len()
    }

    pub(in crate::mesh) fn corners(&self, triangle: u32) -> [Point3<f64>; 3] {
        let [a, b, c] = self.canon.triangles[triangle as usize];
        let at = |vertex: u32| self.canon.vertices[vertex as usize];
        [at(a), at(b), at(c)]
    }

    pub(in crate::mesh) fn centre(&self, triangle: u32) -> Point3<f64> {
        let [a, b, c] = self.corners(triangle);
        Point3::from((a.coords + b.coords + c.coords) / 3.0)
    }
}
