//! Where a part stands about the rotary axis: axial position, radius and angle.
//!
//! Along a turn a point keeps its axial position and its radius, and its angle moves on by the
//! turn. So a part over an interval of the turn fills the same box in these three coordinates, only
//! wider in angle by the interval: nothing is lost to the arc, however long the interval is.

use super::tree::Bounds;
use super::triangle_pair::Triangle;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::f64::consts::PI;

/// The rotary axis with unit directions: along it, and two across that angles are counted from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub centre: Point3<f64>,
    pub along: Vec3,
    zero: Vec3,
    quarter: Vec3,
}

impl Axis {
    pub(super) fn new(centre: Point3<f64>, along: Vec3) -> Self {
        let helper = if along.x.abs() < 0.6 {
            Vec3::x()
        } else {
            Vec3::y()
        };
        let zero = along.cross(&helper).normalize();
        Self {
            centre,
            along,
            zero,
            quarter: along.cross(&zero),
        }
    }

    pub(super) fn seen_from(&self, body_from_common: &Pose) -> Self {
        let turn = &body_from_common.rotation;
        Self {
            centre: body_from_common * self.centre,
            along: turn * self.along,
            zero: turn * self.zero,
            quarter: turn * self.quarter,
        }
    }

    /// Axial position and the two coordinates across.
    fn coordinates(&self, point: &Vec3) -> [f64; 3] {
        let from = point - self.centre.coords;
        [
            from.dot(&self.along),
            from.dot(&self.zero),
            from.dot(&self.quarter),
        ]
    }
}

/// Axial interval, radius interval, and sector of angle about the rotary axis.
#[derive(Debug, Clone, Copy)]
pub(super) struct Orbit {
    pub axial: (f64, f64),
    pub radial: (f64, f64),
    /// Middle of the sector, in radians.
    pub angle: f64,
    /// Half its width; at least pi where all angles are taken.
    pub half_width: f64,
}

/// Relative allowance for rounding, in units of the coordinates that enter.
const ALLOWANCE: f64 = 1e-13;
/// Allowance for rounding of an angle, in radians.
const ANGLE_ALLOWANCE: f64 = 1e-14;

impl Orbit {
    /// Of a convex set given by its reach along unit directions, with a point to look at.
    pub(super) fn of_reach(axis: &Axis, middle: &Vec3, reach: impl Fn(&Vec3) -> f64) -> Self {
        let [_, x, y] = axis.coordinates(middle);
        let radius = x.hypot(y);
        let (cos, sin) = if radius > 1e-9 {
            (x / radius, y / radius)
        } else {
            (1.0, 0.0)
        };
        let out = axis.zero * cos + axis.quarter * sin;
        let side = axis.quarter * cos - axis.zero * sin;
        let from = |direction: &Vec3| reach(direction) - axis.centre.coords.dot(direction);
        let width = from(&side).max(from(&-side)).max(0.0);
        let (near, far) = (-from(&-out), from(&out));
        let farthest = far.abs().max(near.abs()).hypot(width);
        let slack = ALLOWANCE * (axis.centre.coords.amax() + middle.amax() + farthest);
        let half_width = if near > slack {
            (width + slack).atan2(near - slack) + ANGLE_ALLOWANCE
        } else {
            PI
        };
        Self {
            axial: (-from(&-axis.along) - slack, from(&axis.along) + slack),
            radial: ((near - slack).max(0.0), farthest + slack),
            angle: y.atan2(x),
            half_width,
        }
    }

    pub(super) fn of_bounds(axis: &Axis, bounds: &Bounds) -> Self {
        Self::of_reach(axis, &bounds.centre, |direction| bounds.along(direction).1)
    }

    /// Of a triangle: its corners tell all but the least radius, which may be on an edge or within.
    pub(super) fn of_triangle(axis: &Axis, corners: &Triangle) -> Self {
        let at = corners.map(|corner| axis.coordinates(&corner));
        let size = corners[0].amax() + corners[1].amax() + corners[2].amax();
        let slack = ALLOWANCE * (axis.centre.coords.amax() + size);
        let of = |index: usize| at.map(|point| point[index]);
        let least = |v: [f64; 3]| v[0].min(v[1]).min(v[2]);
        let most = |v: [f64; 3]| v[0].max(v[1]).max(v[2]);
        let farthest = most(at.map(|[_, x, y]| x.hypot(y)));
        let nearest = flat_radius([0, 1, 2].map(|i| [at[i][1], at[i][2]]));
        let [x, y] = [
            of(1).iter().sum::<f64>() / 3.0,
            of(2).iter().sum::<f64>() / 3.0,
        ];
        let mut half_width = PI;
        if nearest > 1e-6 * farthest + slack {
            let off = |[_, px, py]: [f64; 3]| (x * py - y * px).atan2(x * px + y * py).abs();
            half_width = most(at.map(off)) + slack / (nearest - slack) + ANGLE_ALLOWANCE;
        }
        Self {
            axial: (least(of(0)) - slack, most(of(0)) + slack),
            radial: ((nearest - slack).max(0.0), farthest + slack),
            angle: y.atan2(x),
            half_width,
        }
    }

    /// Least distance while `other` turns through an interval (in radians).
    pub(super) fn apart_mm(&self, other: &Self, from: f64, to: f64) -> f64 {
        let gap = |p: (f64, f64), q: (f64, f64)| (p.0 - q.1).max(q.0 - p.1).max(0.0);
        let along = gap(self.axial, other.axial);
        let middle = other.angle + (from + to) * 0.5;
        let off = (self.angle - middle).rem_euclid(2.0 * PI);
        let off = off.min(2.0 * PI - off);
        let rounding = 4.0 * ANGLE_ALLOWANCE + (from.abs() + to.abs()) * 4.0 * f64::EPSILON;
        let free = off - self.half_width - other.half_width - (to - from) * 0.5 - rounding;
        let across = if free <= 0.0 {
            gap(self.radial, other.radial)
        } else {
            sector_gap(self.radial, other.radial, free)
        };
        along.hypot(across) * (1.0 - 1e-14)
    }

    /// The angle of the turn at which the two sectors stand opposite one another.
    pub(super) fn aligned(&self, other: &Self, from: f64, to: f64) -> f64 {
        let ahead = (self.angle - other.angle - (from + to) * 0.5 + PI).rem_euclid(2.0 * PI) - PI;
        ((from + to) * 0.5 + ahead).clamp(from, to)
    }
}

/// Least distance of two points at radii within intervals and at least `free` apart in angle.
///
/// The square p p + q q - 2 p q cos is convex in (p, q); its least value over a rectangle lies
/// where one of the two is at its lower end and the other as near to the foot as it can be.
fn sector_gap(one: (f64, f64), other: (f64, f64), free: f64) -> f64 {
    let cos = free.min(PI).cos() + 1e-15;
    if cos <= 0.0 {
        return one.0.hypot(other.0);
    }
    let at = |p: f64, q: f64| (p * p + q * q - 2.0 * p * q * cos).max(0.0).sqrt();
    let by_first = at(one.0, (one.0 * cos).max(other.0).min(other.1));
    let by_second = at((other.0 * cos).max(one.0).min(one.1), other.0);
    by_first.min(by_second)
}

/// Distance of the origin from a triangle in a plane.
fn flat_radius(at: [[f64; 2]; 3]) -> f64 {
    let mut least = f64::INFINITY;
    let (mut left, mut right) = (true, true);
    for i in 0..3 {
        let (p, q) = (at[i], at[(i + 1) % 3]);
        let along = [q[0] - p[0], q[1] - p[1]];
        let square = along[0] * along[0] + along[1] * along[1];
        let dot = -(p[0] * along[0] + p[1] * along[1]);
        let share = if square > 0.0 {
            (dot / square).clamp(0.0, 1.0)
        } else {
            0.0
        };
        least = least.min((p[0] + along[0] * share).hypot(p[1] + along[1] * share));
        let turn = along[1] * p[0] - along[0] * p[1];
        left &= turn >= 0.0;
        right &= turn <= 0.0;
    }
    let [a, b, c] = at;
    let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
    if area != 0.0 && (left || right) {
        0.0
    } else {
        least
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn triangle(corner: impl Fn(f64) -> [f64; 3]) -> Triangle {
        [0.0, 1.0, 2.0].map(|number| Vec3::from(corner(number)))
    }

    /// Points of two triangles at many angles are never nearer than the bound.
    #[test]
    fn the_bound_holds_at_every_angle() {
        let axis = Axis::new(Point3::new(1.0, 2.0, -3.0), Vec3::x());
        for case in 0..40 {
            let c = f64::from(case);
            let still = triangle(|n| [c + n, 30.0 * (c + n).sin(), 20.0 * (c * 0.3 + n).cos()]);
            let turning = triangle(|n| [n * n - c, 25.0 * (c * 0.7 - n).cos(), 9.0 + 2.0 * n]);
            let (one, two) = (
                Orbit::of_triangle(&axis, &still),
                Orbit::of_triangle(&axis, &turning),
            );
            let (from, to) = (c * 0.1 - 2.0, c * 0.1 - 2.0 + 0.05 * c);
            let bound = one.apart_mm(&two, from, to);
            for step in 0..=20 {
                let angle = from + (to - from) * f64::from(step) / 20.0;
                let turn = crate::value::about_axis(&axis.along, &axis.centre, angle.to_degrees());
                let moved = turning.map(|corner| (turn * Point3::from(corner)).coords);
                let real =
                    super::super::triangle_pair::triangle_pair(&still, &moved, f64::INFINITY);
                assert!(bound <= real.hi_mm + 1e-9, "{case}: {bound} {real:?}");
            }
        }
    }

    #[test]
    fn sectors_apart_use_the_law_of_cosines() {
        let gap = sector_gap((3.0, 4.0), (3.0, 4.0), PI / 3.0);
        assert!((gap - 3.0).abs() < 1e-9, "{gap}");
        assert!((sector_gap((3.0, 9.0), (4.0, 9.0), PI * 0.5) - 5.0).abs() < 1e-9);
    }
}
