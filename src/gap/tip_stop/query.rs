//! The questions: how far down can the tool come, and may its tip be here?

use super::landscape::Landscape;
use super::stack::{Stack, StackPiece};
use super::triangle::triangle_stop;
use crate::value::Vec3;
use rayon::prelude::*;

/// What stops a tool: an element of the stack on a triangle of a body.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StoppedBy {
    /// Place in the list of elements.
    pub element: usize,
    /// The convex piece of that element.
    pub piece: usize,
    /// Place in the list of bodies.
    pub body: usize,
    /// Index of the triangle in the mesh.
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
/// `at_mm` are x and y in the frame of the approach, heights count along its z.
#[must_use]
pub fn tip_stop(
    stack: &Stack,
    landscape: &Landscape,
    at_mm: [f64; 2],
    tolerance_mm: f64,
) -> TipStop {
    let mut search = Search::new(stack, landscape, at_mm);
    search.tolerance_mm = tolerance_mm.max(0.0);
    search.run();
    TipStop {
        lo_mm: search.lo_mm,
        hi_mm: search.hi_mm.max(search.lo_mm),
        stopped_by: search.found.map(|found| search.named(found)),
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
    search.run();
    if search.lo_mm > tip.z {
        let found = search.found.map(|found| search.named(found));
        found.map_or(Freedom::Undecided, Freedom::Stopped)
    } else if search.hi_mm <= tip.z {
        Freedom::Free
    } else {
        Freedom::Undecided
    }
}

/// [`tip_is_free`] for many tips, on all threads; the answers are in the order of the tips.
#[must_use]
pub fn tips_are_free(stack: &Stack, landscape: &Landscape, tips: &[Vec3]) -> Vec<Freedom> {
    tips.par_iter()
        .with_min_len(64)
        .map(|tip| tip_is_free(stack, landscape, tip))
        .collect()
}

/// A node of the pyramid that is still to be looked at.
#[derive(Debug, Clone, Copy)]
struct Open {
    bound_mm: f64,
    level: u8,
    column: u16,
    row: u16,
}

struct Search<'a> {
    stack: &'a Stack,
    landscape: &'a Landscape,
    at_mm: [f64; 2],
    tolerance_mm: f64,
    /// Stops no higher than this are of no interest, one higher ends the search.
    enough_mm: f64,
    lo_mm: f64,
    hi_mm: f64,
    found: Option<(usize, u32)>,
    open: Vec<Open>,
}

impl<'a> Search<'a> {
    fn new(stack: &'a Stack, landscape: &'a Landscape, at_mm: [f64; 2]) -> Self {
        Self {
            stack,
            landscape,
            at_mm,
            tolerance_mm: 0.0,
            enough_mm: f64::NEG_INFINITY,
            lo_mm: f64::NEG_INFINITY,
            hi_mm: f64::NEG_INFINITY,
            found: None,
            open: Vec::with_capacity(32),
        }
    }

    /// What is no higher than this cannot change the answer.
    fn limit_mm(&self) -> f64 {
        self.enough_mm.max(self.lo_mm + self.tolerance_mm)
    }

    fn done(&self) -> bool {
        self.enough_mm > f64::NEG_INFINITY && self.lo_mm > self.enough_mm
    }

    fn named(&self, (piece, triangle): (usize, u32)) -> StoppedBy {
        let (body, triangle) = self.landscape.source(triangle);
        let StackPiece { element, piece, .. } = self.stack.pieces[piece];
        StoppedBy {
            element,
            piece,
            body,
            triangle,
        }
    }

    fn run(&mut self) {
        let Some(top) = self.landscape.field.levels.len().checked_sub(1) else {
            return;
        };
        self.consider(top, 0, 0);
        while let Some(open) = self.open.pop() {
            if open.bound_mm <= self.limit_mm() {
                self.hi_mm = self.hi_mm.max(open.bound_mm);
                continue;
            }
            if open.level == 0 {
                self.cell(open);
            } else {
                self.children(open);
            }
            if self.done() {
                return;
            }
        }
    }

    fn children(&mut self, open: Open) {
        let level = open.level as usize - 1;
        let below = &self.landscape.field.levels[level];
        let from = self.open.len();
        let (first, row) = (2 * open.column as usize, 2 * open.row as usize);
        for row in row..(row + 2).min(below.rows) {
            for column in first..(first + 2).min(below.columns) {
                self.consider(level, column, row);
            }
        }
        self.open[from..].sort_unstable_by(|p, q| p.bound_mm.total_cmp(&q.bound_mm));
    }

    /// Opens a node, or discards it by its bound.
    fn consider(&mut self, level: usize, column: usize, row: usize) {
        let field = &self.landscape.field;
        let layer = &field.levels[level];
        let place = row * layer.columns + column;
        let top_mm = f64::from(layer.tops_mm[place]);
        let apart_mm = self.apart_mm(level, column, row);
        let bound_mm = top_mm - self.stack.lowest_beyond_mm(apart_mm);
        if bound_mm == f64::NEG_INFINITY {
            return;
        }
        let bound_mm = bound_mm + super::underside::GRAIN * (field.size_mm + self.stack.size_mm);
        if bound_mm <= self.limit_mm() {
            self.hi_mm = self.hi_mm.max(bound_mm);
            return;
        }
        self.peak(layer.peaks[place]);
        self.open.push(Open {
            bound_mm,
            level: level as u8,
            column: column as u16,
            row: row as u16,
        });
    }

    /// Distance in plan from the axis to a node.
    fn apart_mm(&self, level: usize, column: usize, row: usize) -> f64 {
        let field = &self.landscape.field;
        let side = field.cell_mm * (1_u64 << level) as f64;
        let away = |axis: usize, place: usize| {
            let from = field.low[axis] + place as f64 * side;
            let at = self.at_mm[axis];
            (from - at).max(at - from - side).max(0.0)
        };
        let (x, y) = (away(0, column), away(1, row));
        (x * x + y * y).sqrt()
    }

    /// The highest vertex of a node: a point that is really there.
    fn peak(&mut self, corner: u32) {
        let field = &self.landscape.field;
        let Some(at) = field.corners.get(corner as usize) else {
            return;
        };
        let grain = super::underside::GRAIN * (field.size_mm + self.stack.size_mm);
        let radius = (at.x - self.at_mm[0]).hypot(at.y - self.at_mm[1]);
        let lo_mm = at.z - self.stack.real_mm(radius) - 2.0 * grain;
        if lo_mm > self.lo_mm {
            let height = |piece: &StackPiece| piece.underside.height_mm(radius + grain);
            let lowest = |p: &usize, q: &usize| {
                let pieces = &self.stack.pieces;
                height(&pieces[*p]).total_cmp(&height(&pieces[*q]))
            };
            let piece = (0..self.stack.pieces.len())
                .min_by(lowest)
                .unwrap_or_default();
            self.lo_mm = lo_mm;
            self.found = Some((piece, field.triangle_of_corner[corner as usize]));
        }
    }

    fn cell(&mut self, open: Open) {
        let field = &self.landscape.field;
        let (column, row) = (open.column as usize, open.row as usize);
        let apart_mm = self.apart_mm(0, column, row);
        let lowest_mm = self.stack.lowest_beyond_mm(apart_mm);
        let size_mm = field.size_mm + self.at_mm[0].abs() + self.at_mm[1].abs();
        let grain_mm = super::underside::GRAIN * (size_mm + self.stack.size_mm);
        for item in field.items(row * field.levels[0].columns + column) {
            let bound_mm = f64::from(item.top_mm) - lowest_mm + grain_mm;
            if bound_mm <= self.limit_mm() {
                // The rest of the cell is lower.
                self.hi_mm = self.hi_mm.max(bound_mm);
                break;
            }
            self.triangle(item.triangle, size_mm);
            if self.done() {
                return;
            }
        }
    }

    fn triangle(&mut self, triangle: u32, size_mm: f64) {
        let shift = Vec3::new(self.at_mm[0], self.at_mm[1], 0.0);
        let corners = self
            .landscape
            .field
            .triangle(triangle)
            .map(|corner| corner - shift);
        for (number, piece) in self.stack.pieces.iter().enumerate() {
            let highest = corners[0].z.max(corners[1].z).max(corners[2].z);
            let bound_mm = highest - piece.underside.low_mm;
            let grain_mm = super::underside::GRAIN * (size_mm + self.stack.size_mm);
            if bound_mm + grain_mm <= self.limit_mm() {
                self.hi_mm = self.hi_mm.max(bound_mm + grain_mm);
                continue;
            }
            let stop = triangle_stop(&piece.underside, &corners, size_mm, self.limit_mm());
            self.hi_mm = self.hi_mm.max(stop.hi_mm);
            if stop.lo_mm > self.lo_mm {
                self.lo_mm = stop.lo_mm;
                self.found = Some((number, triangle));
                if self.done() {
                    return;
                }
            }
        }
    }
}
