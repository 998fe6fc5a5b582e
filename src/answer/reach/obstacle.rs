//! Bodies that rest together, as heaps of cells are asked about them.

use super::heap::Heap;
use super::ladder::{Known, Ladder, ROOM_MM, Tips};
use crate::gap::{HalfSpace, Landscape};
use crate::value::Vec3;
use std::sync::Arc;

/// No tool comes from farther above.
const FAR_MM: f64 = 1e4;

/// Bodies that rest together, with the tool group that is asked against them.
#[derive(Debug, Clone)]
pub struct Obstacle<'g> {
    /// The bodies, seen along the approach.
    pub landscape: Arc<Landscape>,
    /// The landscape's frame in the approach frame.
    pub shift: Vec3,
    /// The tool group.
    pub ladder: &'g Ladder,
    /// Names of the bodies.
    pub names: Arc<Vec<String>>,
    /// Whether it is the part whose faces are asked about.
    pub is_own: bool,
    /// Whether it closes bodies where their meshes are open: it may deny, but it stops nothing.
    pub is_lid: bool,
}

impl Obstacle<'_> {
    /// Settles the tips of a heap; for a stop those of smooth faces, too. Whether they are free is
    /// asked only where they may be.
    ///
    /// # Guarantees
    /// Free: the group grown by at least the spread in plan is free at the lowest height, so that
    /// it is at every tip, and above. Stopped: made smaller by as much it meets a point of a body at
    /// the greatest height or above, where every tip comes through.
    pub(super) fn settle(&self, heap: &Heap, may_be_free: bool) -> Known {
        let tips = heap.tips().from(&self.shift);
        let beyond = self.beyond(heap, 0.0);
        if may_be_free && self.ladder.is_free(&self.landscape, &tips, beyond.as_ref()) {
            return Known::Free;
        }
        let all = heap.all_tips().from(&self.shift);
        let stop = self.ladder.stop(&self.landscape, &all);
        match stop.filter(|_| !self.is_lid) {
            Some((element, body)) => Known::Stopped(element, body),
            None => Known::Mixed,
        }
    }

    /// Whether the tool is surely free at every tip of a heap.
    pub(super) fn is_free(&self, heap: &Heap) -> bool {
        let tips = heap.tips().from(&self.shift);
        let beyond = self.beyond(heap, 0.0);
        self.ladder.is_free(&self.landscape, &tips, beyond.as_ref())
    }

    /// Whether the tool is not surely stopped at the middle of a heap's tips.
    pub(super) fn may_be_free(&self, heap: &Heap) -> bool {
        let middle = Tips {
            around_mm: 0.0,
            ..heap.tips().from(&self.shift)
        };
        self.ladder.stop(&self.landscape, &middle).is_none()
    }

    /// What the tool can meet at all at tips of cells of one plane, and at most `more_mm` from
    /// them, in the landscape's frame: it stays in front of the plane.
    pub(super) fn beyond(&self, heap: &Heap, more_mm: f64) -> Option<HalfSpace> {
        if !self.is_own {
            return None;
        }
        let normal = heap.normal?;
        let front_mm = self.ladder.keeps_in_front_mm(&normal)?;
        let along = heap.corners.iter().map(|tip| normal.dot(tip));
        let lowest_mm = along.fold(f64::INFINITY, f64::min);
        // From far above, a normal that looks down by rounding counts.
        let down_mm = (-normal.z).max(0.0) * FAR_MM;
        let offset_mm = lowest_mm + front_mm - more_mm - down_mm - ROOM_MM;
        Some(HalfSpace {
            normal,
            offset_mm: offset_mm - normal.dot(&self.shift),
        })
    }
}
