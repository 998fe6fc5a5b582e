//! The questions: how far down can the tool come, and may its tip be here?

use super::super::ask::HalfSpace;
use super::landscape::Landscape;
use super::search::{Beyond, Search};
use super::stack::Stack;
use crate::value::Vec3;
use rayon::prelude::*;

/// What stops a tool: an element of the stack on a triangle of a body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StoppedBy {
    /// Place in the list of elements.
    pub element: usize,
    /// The convex piece of that element, or the triangle where the element is a mesh.
    pub piece: usize,
    /// Place in the list of bodies.
    pub body: usize,
    /// Index of the triangle in the mesh, or of the piece where the body is a solid of revolution.
    pub triangle: usize,
}

/// A bracket of the lowest tip height at which the tool, there and everywhere above, touches nothing.
///
/// # Guarantees
/// With the tip at `hi_mm` or above the tool is certainly clear of all bodies (each element by its
/// wanted gap). With the tip at `lo_mm` it really touches or overlaps. Both are minus infinity
/// where nothing is below the tool.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TipStop {
    /// Where it touches.
    pub lo_mm: f64,
    /// Where, and above which, it is free.
    pub hi_mm: f64,
    /// What touches at `lo_mm`.
    pub stopped_by: Option<StoppedBy>,
}

/// Whether a tip may be somewhere, the way down to it from far above included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Freedom {
    /// Proved: nothing is touched there, nor anywhere above.
    Free,
    /// Disproved: this touches there or on the way.
    Stopped(StoppedBy),
    /// Within rounding of touching.
    Undecided,
}

/// The lowest tip height at a place, as a bracket no wider than `tolerance_mm` (but for rounding).
///
/// `at_mm` are x and y in the frame of the approach, heights count along its z. A place that is
/// not finite gives a bracket without ends.
#[must_use]
pub fn tip_stop(
    stack: &Stack,
    landscape: &Landscape,
    at_mm: [f64; 2],
    tolerance_mm: f64,
) -> TipStop {
    if !at_mm.iter().all(|c| c.is_finite()) {
        return TipStop {
            lo_mm: f64::NEG_INFINITY,
            hi_mm: f64::INFINITY,
            stopped_by: None,
        };
    }
    let mut search = Search::new(stack, landscape, at_mm);
    search.tolerance_mm = tolerance_mm.max(0.0);
    search.run();
    TipStop {
        lo_mm: search.lo_mm,
        hi_mm: search.hi_mm.max(search.lo_mm),
        stopped_by: search.stopped_by(),
    }
}

/// Whether the tip may be at a point of the frame of the approach, the way down to it included.
#[must_use]
pub fn tip_is_free(stack: &Stack, landscape: &Landscape, tip: &Vec3) -> Freedom {
    if !tip.iter().all(|c| c.is_finite()) {
        return Freedom::Undecided;
    }
    let mut search = Search::new(stack, landscape, [tip.x, tip.y]);
    search.enough_mm = tip.z;
    if search.is_far() {
        return Freedom::Free;
    }
    search.run();
    if search.lo_mm > tip.z {
        search
            .stopped_by()
            .map_or(Freedom::Undecided, Freedom::Stopped)
    } else if search.hi_mm <= tip.z {
        Freedom::Free
    } else {
        Freedom::Undecided
    }
}

/// Whether the tip is proved free at a point, the way down included, where triangles with no corner in
/// `beyond` need not be asked about: the caller knows that the tool keeps away from them.
#[must_use]
pub fn tip_is_free_beyond(
    stack: &Stack,
    landscape: &Landscape,
    tip: &Vec3,
    beyond: &HalfSpace,
) -> bool {
    if !tip.iter().all(|c| c.is_finite()) {
        return false;
    }
    let mut search = Search::new(stack, landscape, [tip.x, tip.y]);
    search.enough_mm = tip.z;
    if search.is_far() {
        return true;
    }
    search.beyond = Some(Beyond::new(beyond, landscape));
    search.run();
    search.lo_mm <= tip.z && search.hi_mm <= tip.z
}

/// [`tip_is_free`] for many tips, on all threads; the answers are in the order of the tips.
#[must_use]
pub fn tips_are_free(stack: &Stack, landscape: &Landscape, tips: &[Vec3]) -> Vec<Freedom> {
    tips.par_iter()
        .with_min_len(64)
        .map(|tip| tip_is_free(stack, landscape, tip))
        .collect()
}
