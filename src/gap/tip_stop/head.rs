//! What is not a swept piece on a triangle: meshes of the tool group, and turned bodies.

use super::super::sweep::Leaf;
use super::field::Field;
use super::landscape::Turned;
use super::pair::{Body, convex_stop};
use super::search::{Search, Touching};
use super::stack::{StackMesh, StackPiece};
use super::triangle::{Stop, face_slope};
use super::underside::GRAIN;
use crate::value::{Pose, Vec3, translation};

/// A node of a pyramid.
#[derive(Debug, Clone, Copy)]
struct Node {
    level: usize,
    column: usize,
    row: usize,
}

/// A box in plan with the greatest height over it.
#[derive(Debug, Clone, Copy)]
struct Slab {
    low: [f64; 2],
    high: [f64; 2],
    top_mm: f64,
}

impl Slab {
    fn of(field: &Field, node: Node, at_mm: [f64; 2]) -> Self {
        let level = &field.levels[node.level];
        let side = field.cell_mm * (1_u64 << node.level) as f64;
        let from = |axis: usize, place: usize| field.low[axis] + place as f64 * side + at_mm[axis];
        let low = [from(0, node.column), from(1, node.row)];
        Self {
            low,
            high: [low[0] + side, low[1] + side],
            top_mm: f64::from(level.tops_mm[node.row * level.columns + node.column]),
        }
    }

    fn apart_mm(&self, other: &Self) -> f64 {
        let away = |axis: usize| {
            let (one, two) = (
                self.low[axis] - other.high[axis],
                other.low[axis] - self.high[axis],
            );
            one.max(two).max(0.0)
        };
        away(0).hypot(away(1))
    }
}

fn root(field: &Field) -> Option<Node> {
    let level = field.levels.len().checked_sub(1)?;
    Some(Node {
        level,
        column: 0,
        row: 0,
    })
}

fn children(field: &Field, node: Node) -> impl Iterator<Item = Node> {
    let level = node.level - 1;
    let (columns, rows) = (field.levels[level].columns, field.levels[level].rows);
    (0..4)
        .map(move |child| Node {
            level,
            column: 2 * node.column + child % 2,
            row: 2 * node.row + child / 2,
        })
        .filter(move |node| node.column < columns && node.row < rows)
}

fn cell(field: &Field, node: Node) -> usize {
    node.row * field.levels[0].columns + node.column
}

/// The upper value for a mesh, turned over, on something below: their heights and the gap.
fn bound_mm(mesh: &StackMesh, upper: &Slab, lower: &Slab, grain_mm: f64) -> f64 {
    let (gap_mm, apart_mm) = (mesh.gap_mm, upper.apart_mm(lower));
    if apart_mm > gap_mm + grain_mm {
        return f64::NEG_INFINITY;
    }
    let grown = ((gap_mm - apart_mm) * (gap_mm + apart_mm)).max(0.0).sqrt();
    lower.top_mm + upper.top_mm + grown + 2.0 * grain_mm
}

impl Search<'_> {
    /// Meshes of the tool group against everything, turned bodies against everything.
    pub(super) fn others(&mut self) {
        let (stack, landscape) = (self.stack, self.landscape);
        for turned in &landscape.turned {
            for (number, piece) in stack.pieces.iter().enumerate() {
                self.piece_on_turned(number, piece, turned);
            }
        }
        for (number, mesh) in stack.meshes.iter().enumerate() {
            self.mesh_on_field(number, mesh);
            for turned in &landscape.turned {
                self.mesh_on_turned(number, mesh, turned);
            }
        }
    }

    fn grain_for(&self, mesh: &StackMesh) -> f64 {
        let at = self.at_mm[0].abs() + self.at_mm[1].abs();
        4.0 * GRAIN * (self.landscape.field.size_mm + mesh.field.size_mm + mesh.gap_mm + at)
    }

    fn piece_on_turned(&mut self, number: usize, piece: &StackPiece, turned: &Turned) {
        let away = |axis: usize| {
            let at = self.at_mm[axis];
            (turned.low[axis] - at).max(at - turned.high[axis]).max(0.0)
        };
        let apart_mm = away(0).hypot(away(1));
        let bound_mm = turned.top_mm - piece.underside.least_beyond_mm(apart_mm);
        if self.is_low(bound_mm + 1e-12 * (turned.top_mm.abs() + self.stack.size_mm)) {
            return;
        }
        let upper = Body {
            leaf: Leaf::Piece(&piece.convex),
            pose: Pose::identity(),
            grown_mm: 0.0,
            size_mm: piece.underside.size_mm,
        };
        let stop = convex_stop(&upper, &turned.as_body(self.at_mm), self.limit_mm());
        self.offer(
            stop,
            Touching::Turned {
                element: piece.element,
                piece: self.stack.pieces[number].piece,
                body: turned.body,
                number: turned.number,
            },
        );
    }

    /// The upper value for a mesh on all triangles below.
    fn roots_mm(&self, mesh: &StackMesh, above: Node, below: Node) -> f64 {
        let upper = Slab::of(&mesh.field, above, self.at_mm);
        let lower = Slab::of(&self.landscape.field, below, [0.0; 2]);
        bound_mm(mesh, &upper, &lower, self.grain_for(mesh))
    }

    /// Whether a mesh is surely above or beside all triangles.
    pub(super) fn mesh_is_far(&self, mesh: &StackMesh) -> bool {
        match (root(&mesh.field), root(&self.landscape.field)) {
            (Some(above), Some(below)) => self.roots_mm(mesh, above, below) <= self.enough_mm,
            _ => true,
        }
    }

    fn mesh_on_field(&mut self, number: usize, mesh: &StackMesh) {
        let field = &self.landscape.field;
        let (Some(above), Some(below)) = (root(&mesh.field), root(field)) else {
            return;
        };
        let grain_mm = self.grain_for(mesh);
        let bound = self.roots_mm(mesh, above, below);
        if self.is_low(bound) {
            return;
        }
        let mut open = vec![(bound, above, below)];
        while let Some((bound, above, below)) = open.pop() {
            if self.done() {
                return;
            }
            if self.is_low(bound) {
                continue;
            }
            if above.level == 0 && below.level == 0 {
                self.cell_on_cell(number, mesh, above, below, grain_mm);
                continue;
            }
            let sides = [&mesh.field, field].map(|f| f.cell_mm);
            let side = |cell_mm: f64, node: Node| cell_mm * (1_u64 << node.level) as f64;
            let upper_first = below.level == 0
                || (above.level > 0 && side(sides[0], above) >= side(sides[1], below));
            let from = open.len();
            let mut consider = |above: Node, below: Node| {
                let upper = Slab::of(&mesh.field, above, self.at_mm);
                let lower = Slab::of(field, below, [0.0; 2]);
                let bound = bound_mm(mesh, &upper, &lower, grain_mm);
                if !self.is_low(bound) {
                    open.push((bound, above, below));
                }
            };
            if upper_first {
                children(&mesh.field, above).for_each(|node| consider(node, below));
            } else {
                children(field, below).for_each(|node| consider(above, node));
            }
            open[from..].sort_unstable_by(|p, q| p.0.total_cmp(&q.0));
        }
    }

    fn cell_on_cell(
        &mut self,
        number: usize,
        mesh: &StackMesh,
        above: Node,
        below: Node,
        grain_mm: f64,
    ) {
        let field = &self.landscape.field;
        for over in mesh.field.items(cell(&mesh.field, above)) {
            for under in field.items(cell(field, below)) {
                let tops_mm = f64::from(over.top_mm) + f64::from(under.top_mm);
                if self.is_low(tops_mm + mesh.gap_mm + 2.0 * grain_mm) {
                    break;
                }
                let shift = Vec3::new(-self.at_mm[0], -self.at_mm[1], 0.0);
                let lower = Body {
                    leaf: Leaf::Triangle(field.triangle(under.triangle).map(|c| c + shift)),
                    pose: Pose::identity(),
                    grown_mm: 0.0,
                    size_mm: field.size_mm + shift.amax(),
                };
                let stop = self.on_leaf(mesh, over.triangle, &lower);
                self.offer(
                    stop,
                    Touching::Mesh {
                        mesh: number,
                        own: over.triangle,
                        triangle: under.triangle,
                    },
                );
                if self.done() {
                    return;
                }
            }
        }
    }

    /// A triangle of a mesh of the tool group on a convex body.
    fn on_leaf(&self, mesh: &StackMesh, own: u32, lower: &Body<'_>) -> Stop {
        let corners = mesh.triangle(own);
        let upper = Body {
            leaf: Leaf::Triangle(corners),
            pose: translation(Vec3::zeros()),
            grown_mm: mesh.gap_mm,
            size_mm: mesh.field.size_mm,
        };
        let size_mm = upper.size_mm + lower.size_mm + mesh.gap_mm;
        let faces = [
            face_slope(&corners),
            match &lower.leaf {
                Leaf::Triangle(t) => face_slope(t),
                _ => None,
            },
        ];
        // The planes of the two faces part most pairs.
        for [x, y] in faces.into_iter().flatten() {
            let away = Vec3::new(-x, -y, 1.0).normalize();
            let hi_mm = super::pair::plane_mm(&upper, lower, &away, size_mm);
            if hi_mm <= self.limit_mm() {
                return Stop {
                    lo_mm: f64::NEG_INFINITY,
                    hi_mm,
                };
            }
        }
        convex_stop(&upper, lower, self.limit_mm())
    }

    fn mesh_on_turned(&mut self, number: usize, mesh: &StackMesh, turned: &Turned) {
        let Some(above) = root(&mesh.field) else {
            return;
        };
        let grain_mm = self.grain_for(mesh) + 1e-12 * turned.top_mm.abs();
        let lower = Slab {
            low: turned.low,
            high: turned.high,
            top_mm: turned.top_mm,
        };
        let mut open = vec![above];
        while let Some(node) = open.pop() {
            let upper = Slab::of(&mesh.field, node, self.at_mm);
            if self.done() || self.is_low(bound_mm(mesh, &upper, &lower, grain_mm)) {
                continue;
            }
            if node.level > 0 {
                open.extend(children(&mesh.field, node));
                continue;
            }
            for item in mesh.field.items(cell(&mesh.field, node)) {
                let stop = self.on_leaf(mesh, item.triangle, &turned.as_body(self.at_mm));
                self.offer(
                    stop,
                    Touching::MeshTurned {
                        mesh: number,
                        own: item.triangle,
                        body: turned.body,
                        number: turned.number,
                    },
                );
            }
        }
    }
}
