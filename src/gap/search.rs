//! The state of one question: the bracket so far, the limit of interest, and the work done.

use super::ask::{Ask, Contained, Gap, Part, Witness};
use super::convex::Near;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::atomic::Ordering;

/// Which bodies a leaf query belongs to, and how its frame stands in the common frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pairing {
    pub instance_a: usize,
    pub instance_b: usize,
    pub common_from_first: Pose,
    /// Whether the first body of the query is of the second group.
    pub swapped: bool,
    pub angle_deg: f64,
    /// The shift that the pose of the first group's body holds already.
    pub shift: Vec3,
}

impl Pairing {
    fn witness(&self, near: &Near, first: usize, second: usize) -> Witness {
        let moved = self.common_from_first.rotation * near.shift;
        let on_first = self.common_from_first * Point3::from(near.on_a);
        let on_second = self.common_from_first * Point3::from(near.on_b);
        let part_of_a = |element| Part {
            instance: self.instance_a,
            element,
        };
        let part_of_b = |element| Part {
            instance: self.instance_b,
            element,
        };
        let angle_deg = self.angle_deg;
        if self.swapped {
            Witness {
                point_a: on_second - moved,
                point_b: on_first - moved,
                angle_deg,
                offset_mm: self.shift - moved,
                part_a: part_of_a(second),
                part_b: part_of_b(first),
            }
        } else {
            Witness {
                point_a: on_first,
                point_b: on_second,
                angle_deg,
                offset_mm: self.shift + moved,
                part_a: part_of_a(first),
                part_b: part_of_b(second),
            }
        }
    }
}

/// One question on its way.
#[derive(Debug)]
pub(super) struct Search<'a> {
    pub ask: &'a Ask<'a>,
    lo_mm: f64,
    hi_mm: f64,
    found: Option<Witness>,
    work: u64,
    next_look: u64,
    halted: bool,
}

/// Width of the bracket that a rest pose may leave: a tenth of what agrees with other libraries.
pub(super) const REST_WIDTH_MM: f64 = 1e-7;

/// Work between two looks at the stop flag.
const LOOK_EVERY: u64 = 4096;

impl<'a> Search<'a> {
    pub(super) fn new(ask: &'a Ask<'a>) -> Self {
        Self {
            ask,
            lo_mm: f64::INFINITY,
            hi_mm: f64::INFINITY,
            found: None,
            work: 0,
            next_look: 0,
            halted: false,
        }
    }

    /// Pairs at least this far apart cannot change the answer.
    pub(super) fn limit_mm(&self) -> f64 {
        self.hi_mm
            .min(self.ask.cap_mm)
            .min(self.ask.enough_mm.unwrap_or(f64::INFINITY))
    }

    /// As [`Self::limit_mm`], less the width of the bracket that a rest pose may leave.
    pub(super) fn rest_limit_mm(&self) -> f64 {
        self.limit_mm().min(self.hi_mm - REST_WIDTH_MM)
    }

    /// Unit direction from the first to the second group across the least gap so far.
    pub(super) fn direction(&self) -> Option<Vec3> {
        self.found
            .and_then(|found| (found.point_b - found.point_a).try_normalize(1e-12))
    }

    /// Angle of the least gap so far.
    pub(super) fn angle_deg(&self) -> Option<f64> {
        self.found.map(|found| found.angle_deg)
    }

    /// The upper value so far.
    pub(super) fn hi_mm(&self) -> f64 {
        self.hi_mm
    }

    /// A set of pairs will not be looked at further: all are at least this far apart.
    pub(super) fn discard(&mut self, lo_mm: f64) {
        self.lo_mm = self.lo_mm.min(lo_mm);
    }

    /// Counts work; false where the search must end.
    pub(super) fn go_on(&mut self, work: u64) -> bool {
        self.work += work;
        if self.work >= self.next_look {
            self.next_look = self.work + LOOK_EVERY;
            let stopped = self
                .ask
                .stop
                .is_some_and(|stop| stop.load(Ordering::Relaxed));
            self.halted |= stopped || self.work > self.ask.budget;
        }
        !self.halted && self.hi_mm > 0.0 && self.ask.less_mm.is_none_or(|less| self.hi_mm >= less)
    }

    /// Takes an upper value where it is the least so far. The lower value is left alone.
    pub(super) fn offer(&mut self, pairing: &Pairing, near: &Near, first: usize, second: usize) {
        if near.hi_mm < self.hi_mm {
            self.hi_mm = near.hi_mm;
            self.found = Some(pairing.witness(near, first, second));
        }
    }

    /// The bracket, before containment is looked at.
    pub(super) fn surface_gap(&self) -> Gap {
        let hi_mm = self.hi_mm;
        let lo_mm = self.lo_mm.min(hi_mm).min(self.ask.cap_mm).max(0.0);
        Gap {
            lo_mm,
            hi_mm,
            witness: self.found,
            contained: None,
            decided: self.decided(lo_mm),
        }
    }

    fn decided(&self, lo_mm: f64) -> bool {
        self.hi_mm <= 0.0
            || self.ask.enough_mm.is_some_and(|enough| lo_mm >= enough)
            || self.ask.less_mm.is_some_and(|less| self.hi_mm < less)
            || lo_mm >= self.ask.cap_mm
            || self.hi_mm - lo_mm <= self.ask.tolerance_mm
    }
}

/// The answer where a body lies in another.
pub(super) fn contained_gap(contained: Contained) -> Gap {
    Gap {
        lo_mm: 0.0,
        hi_mm: 0.0,
        witness: None,
        contained: Some(contained),
        decided: true,
    }
}
