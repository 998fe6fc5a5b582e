//! One question on its way: the bracket so far, and the search down the pyramid.

use super::super::ask::HalfSpace;
use super::landscape::Landscape;
use super::query::StoppedBy;
use super::stack::{Stack, StackPiece};
use super::triangle::{Aim, Stop, length, triangle_stop};
use super::underside::GRAIN;
use crate::value::Vec3;

/// What touches what.
#[derive(Debug, Clone, Copy)]
pub(super) enum Touching {
    /// A piece of the stack, by its place in it, on a triangle of the field.
    Piece { piece: usize, triangle: u32 },
    /// A piece of an element on a piece of a turned body.
    Turned {
        element: usize,
        piece: usize,
        body: usize,
        number: usize,
    },
    /// A triangle of a mesh of the stack on a triangle of the field.
    Mesh {
        mesh: usize,
        own: u32,
        triangle: u32,
    },
    /// A triangle of a mesh of the stack on a piece of a turned body.
    MeshTurned {
        mesh: usize,
        own: u32,
        body: usize,
        number: usize,
    },
}

/// A node of the pyramid that is still to be looked at.
#[derive(Debug, Clone, Copy)]
struct Open {
    bound_mm: f64,
    level: u8,
    column: u16,
    row: u16,
}

/// A half-space, outside of which nothing counts.
#[derive(Debug, Clone, Copy)]
pub(super) struct Beyond {
    half: HalfSpace,
    grain_mm: f64,
}

impl Beyond {
    pub(super) fn new(half: &HalfSpace, landscape: &Landscape) -> Self {
        let size_mm = landscape.field.size_mm + half.offset_mm.abs();
        Self {
            half: *half,
            grain_mm: 16.0 * GRAIN * size_mm,
        }
    }

    /// Whether all that is no higher than `top_mm` over a square in plan lies outside.
    fn is_over(&self, low: [f64; 2], side_mm: f64, top_mm: f64) -> bool {
        let normal = &self.half.normal;
        let most = |axis: usize| normal[axis] * low[axis] + (normal[axis] * side_mm).max(0.0);
        normal.z >= 0.0
            && most(0) + most(1) + normal.z * top_mm + self.grain_mm <= self.half.offset_mm
    }
}

pub(super) struct Search<'a> {
    pub stack: &'a Stack,
    pub landscape: &'a Landscape,
    pub at_mm: [f64; 2],
    pub tolerance_mm: f64,
    /// Stops no higher than this are of no interest, one higher ends the search.
    pub enough_mm: f64,
    /// Only what is in here counts.
    pub beyond: Option<Beyond>,
    pub lo_mm: f64,
    pub hi_mm: f64,
    found: Option<Touching>,
    open: Vec<Open>,
    /// Triangles looked at lately: most lie over several cells.
    seen: [u32; SEEN],
}

/// Room for the triangles of some ten cells.
const SEEN: usize = 64;

impl<'a> Search<'a> {
    pub(super) fn new(stack: &'a Stack, landscape: &'a Landscape, at_mm: [f64; 2]) -> Self {
        Self {
            stack,
            landscape,
            at_mm,
            tolerance_mm: 0.0,
            enough_mm: f64::NEG_INFINITY,
            beyond: None,
            lo_mm: f64::NEG_INFINITY,
            hi_mm: f64::NEG_INFINITY,
            found: None,
            open: Vec::new(),
            seen: [super::field::NOTHING; SEEN],
        }
    }

    /// What is no higher than this cannot change the answer.
    pub(super) fn limit_mm(&self) -> f64 {
        self.enough_mm.max(self.lo_mm + self.tolerance_mm)
    }

    pub(super) fn done(&self) -> bool {
        self.enough_mm > f64::NEG_INFINITY && self.lo_mm > self.enough_mm
    }

    fn aim(&self) -> Aim {
        if self.enough_mm > f64::NEG_INFINITY {
            Aim::Beats(self.limit_mm())
        } else {
            Aim::Over(self.limit_mm())
        }
    }

    /// Whether an upper value cannot change the answer; it is kept in mind.
    pub(super) fn is_low(&mut self, bound_mm: f64) -> bool {
        let low = bound_mm <= self.limit_mm();
        if low {
            self.hi_mm = self.hi_mm.max(bound_mm);
        }
        low
    }

    /// Takes the bracket of a pair.
    pub(super) fn offer(&mut self, stop: Stop, touching: Touching) {
        self.hi_mm = self.hi_mm.max(stop.hi_mm);
        if stop.lo_mm > self.lo_mm {
            self.lo_mm = stop.lo_mm;
            self.found = Some(touching);
        }
    }

    /// What stops the tool at the lower value.
    pub(super) fn stopped_by(&self) -> Option<StoppedBy> {
        let of_mesh = |mesh: usize| self.stack.meshes[mesh].element;
        self.found.map(|found| match found {
            Touching::Piece { piece, triangle } => {
                let (body, triangle) = self.landscape.source(triangle);
                let StackPiece { element, piece, .. } = &self.stack.pieces[piece];
                let (element, piece) = (*element, *piece);
                StoppedBy {
                    element,
                    piece,
                    body,
                    triangle,
                }
            }
            Touching::Turned {
                element,
                piece,
                body,
                number,
            } => StoppedBy {
                element,
                piece,
                body,
                triangle: number,
            },
            Touching::Mesh {
                mesh,
                own,
                triangle,
            } => {
                let (body, triangle) = self.landscape.source(triangle);
                StoppedBy {
                    element: of_mesh(mesh),
                    piece: own as usize,
                    body,
                    triangle,
                }
            }
            Touching::MeshTurned {
                mesh,
                own,
                body,
                number,
            } => StoppedBy {
                element: of_mesh(mesh),
                piece: own as usize,
                body,
                triangle: number,
            },
        })
    }

    /// Whether all meshes are surely low or beside, and there is nothing else: most often so, and told
    /// at once.
    pub(super) fn is_far(&self) -> bool {
        let meshes = &self.stack.meshes;
        let top = self.landscape.field.levels.len().checked_sub(1);
        self.landscape.turned.is_empty()
            && top.is_none_or(|top| self.bound_mm(top, 0, 0) <= self.enough_mm)
            && meshes.iter().all(|mesh| self.mesh_is_far(mesh))
    }

    /// The upper value by a node.
    fn bound_mm(&self, level: usize, column: usize, row: usize) -> f64 {
        let field = &self.landscape.field;
        let layer = &field.levels[level];
        let top_mm = f64::from(layer.tops_mm[row * layer.columns + column]);
        let apart_mm = self.apart_mm(level, column, row);
        let bound_mm = top_mm - self.stack.lowest_beyond_mm(apart_mm);
        bound_mm + GRAIN * (field.size_mm + self.stack.size_mm)
    }

    /// Looks at everything until the bracket is narrow, or the question answered.
    pub(super) fn run(&mut self) {
        self.pyramid();
        if !self.done() {
            self.others();
        }
    }

    fn pyramid(&mut self) {
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
        let bound_mm = self.bound_mm(level, column, row);
        if bound_mm == f64::NEG_INFINITY {
            return;
        }
        if bound_mm <= self.limit_mm() {
            self.hi_mm = self.hi_mm.max(bound_mm);
            return;
        }
        if self.beyond.is_some_and(|beyond| {
            let side_mm = field.cell_mm * (1_u64 << level) as f64;
            let low = [
                field.low[0] + column as f64 * side_mm,
                field.low[1] + row as f64 * side_mm,
            ];
            beyond.is_over(low, side_mm, f64::from(layer.tops_mm[place]))
        }) {
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
        length(x, y)
    }

    /// The highest vertex of a node: a point that is really there.
    fn peak(&mut self, corner: u32) {
        let field = &self.landscape.field;
        let Some(at) = field.corners.get(corner as usize) else {
            return;
        };
        if self
            .beyond
            .is_some_and(|beyond| beyond.half.holds_none_of(&[*at]))
        {
            return;
        }
        let grain = GRAIN * (field.size_mm + self.stack.size_mm);
        let radius = length(at.x - self.at_mm[0], at.y - self.at_mm[1]);
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
            let triangle = field.triangle_of_corner[corner as usize];
            self.found = Some(Touching::Piece { piece, triangle });
        }
    }

    fn cell(&mut self, open: Open) {
        let field = &self.landscape.field;
        let (column, row) = (open.column as usize, open.row as usize);
        let apart_mm = self.apart_mm(0, column, row);
        let lowest_mm = self.stack.lowest_beyond_mm(apart_mm);
        let size_mm = field.size_mm + self.at_mm[0].abs() + self.at_mm[1].abs();
        let grain_mm = GRAIN * (size_mm + self.stack.size_mm);
        for item in field.items(row * field.levels[0].columns + column) {
            let bound_mm = f64::from(item.top_mm) - lowest_mm + grain_mm;
            if bound_mm <= self.limit_mm() {
                // The rest of the cell is lower.
                self.hi_mm = self.hi_mm.max(bound_mm);
                break;
            }
            let seen = &mut self.seen[item.triangle as usize % SEEN];
            if *seen == item.triangle {
                continue;
            }
            *seen = item.triangle;
            self.triangle(item.triangle, size_mm);
            if self.done() {
                return;
            }
        }
    }

    fn triangle(&mut self, triangle: u32, size_mm: f64) {
        let shift = Vec3::new(self.at_mm[0], self.at_mm[1], 0.0);
        let corners = self.landscape.field.triangle(triangle);
        if self
            .beyond
            .is_some_and(|beyond| beyond.half.holds_none_of(&corners))
        {
            return;
        }
        let corners = corners.map(|corner| corner - shift);
        for (number, piece) in self.stack.pieces.iter().enumerate() {
            let highest = corners[0].z.max(corners[1].z).max(corners[2].z);
            let bound_mm = highest - piece.underside.low_mm;
            let grain_mm = GRAIN * (size_mm + self.stack.size_mm);
            if bound_mm + grain_mm <= self.limit_mm() {
                self.hi_mm = self.hi_mm.max(bound_mm + grain_mm);
                continue;
            }
            let stop = triangle_stop(&piece.underside, &corners, size_mm, self.aim());
            let piece = number;
            self.offer(stop, Touching::Piece { piece, triangle });
            if self.done() {
                return;
            }
        }
    }
}
