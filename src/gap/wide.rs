//! Lower values for the eight boxes of a node at once, written so that they run side by side.

use super::sweep::Sweep;
use super::tree::{Bounds, Node, WIDE};
use crate::value::{Pose, Vec3};
use nalgebra::Matrix3;

/// A pose as it is needed for boxes.
pub(super) struct Carried {
    pub turn: Matrix3<f64>,
    pub spread: Matrix3<f64>,
    pub shift: Vec3,
}

impl Carried {
    pub(super) fn new(pose: &Pose) -> Self {
        let turn = *pose.rotation.matrix();
        Self {
            turn,
            spread: turn.abs(),
            shift: pose.translation.vector,
        }
    }

    pub(super) fn point(&self, point: &Vec3) -> Vec3 {
        self.turn * point + self.shift
    }

    pub(super) fn bounds(&self, bounds: &Bounds) -> Bounds {
        Bounds {
            centre: self.point(&bounds.centre),
            half: self.spread * bounds.half,
        }
    }
}

/// The side that is not opened: its box in its own frame and in the other, and its reach across
/// the slab. A leaf is taken by its corners, which is closer than its box.
pub(super) struct Opposite {
    pub own: Bounds,
    pub there: Bounds,
    pub reach_mm: f64,
}

/// Grows to the box of some points.
pub(super) struct Corners {
    low: Vec3,
    high: Vec3,
}

impl Corners {
    pub(super) const EMPTY: Self = Self {
        low: Vec3::new(f64::INFINITY, f64::INFINITY, f64::INFINITY),
        high: Vec3::new(f64::NEG_INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY),
    };

    pub(super) fn add(&mut self, point: &Vec3) {
        self.low = self.low.inf(point);
        self.high = self.high.sup(point);
    }

    pub(super) fn bounds(&self) -> Bounds {
        Bounds {
            centre: (self.low + self.high) * 0.5,
            half: (self.high - self.low) * 0.5,
        }
    }
}

/// The eight boxes of a node, side by side.
pub(super) struct Boxes {
    centre: [[f64; WIDE]; 3],
    half: [[f64; WIDE]; 3],
}

// The loops below index several arrays at the same place, which is what lets them run side by side.
#[allow(clippy::needless_range_loop)]
impl Boxes {
    pub(super) fn new(node: &Node) -> Self {
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
        }
        boxes
    }

    /// Grown by the box of a spread.
    pub(super) fn grow(&mut self, sweep: &Sweep) {
        let grown = Bounds {
            centre: Vec3::zeros(),
            half: Vec3::zeros(),
        }
        .spread(sweep);
        for axis in 0..3 {
            for slot in 0..WIDE {
                self.centre[axis][slot] += grown.centre[axis];
                self.half[axis][slot] += grown.half[axis];
            }
        }
    }

    /// Raises the bounds to the distance from the opposite side, in either frame.
    pub(super) fn apart_mm(
        &self,
        opposite: &Opposite,
        carried: &Carried,
        bounds: &mut [f64; WIDE],
    ) {
        let (there_box, other) = (&opposite.there, &opposite.own);
        let mut here = [0.0; WIDE];
        let mut there = [0.0; WIDE];
        for axis in 0..3 {
            let (centre, half) = (there_box.centre[axis], there_box.half[axis]);
            for slot in 0..WIDE {
                let between = (self.centre[axis][slot] - centre).abs();
                let apart = (between - self.half[axis][slot] - half).max(0.0);
                here[slot] += apart * apart;
            }
        }
        let (turn, spread) = (&carried.turn, &carried.spread);
        for axis in 0..3 {
            let (r0, r1, r2) = (turn[(axis, 0)], turn[(axis, 1)], turn[(axis, 2)]);
            let (s0, s1, s2) = (spread[(axis, 0)], spread[(axis, 1)], spread[(axis, 2)]);
            let away = carried.shift[axis] - other.centre[axis];
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
        for slot in 0..WIDE {
            bounds[slot] = bounds[slot].max(here[slot].max(there[slot]).sqrt());
        }
    }

    /// Raises the bounds to the width of a slab.
    pub(super) fn slab_mm(&self, toward: &Vec3, base_mm: f64, bounds: &mut [f64; WIDE]) {
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
