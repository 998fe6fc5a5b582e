//! A tool group as it comes down: its elements' undersides, and tables of their lowest heights.

use super::super::ask::CannotAsk;
use super::super::piece::Piece;
use super::super::shape::Shape;
use super::field::Field;
use super::underside::{GRAIN, Underside};
use crate::value::{Pose, Vec3};
use nalgebra::Point3;

/// An element of a tool group.
#[derive(Debug, Clone)]
pub struct StackElement {
    /// Its shape. A turned one must stand on the axis of the tool; a mesh may stand anywhere.
    pub shape: Shape,
    /// Its place: the tip at the origin, z toward the spindle.
    pub tool_from_body: Pose,
    /// The element is grown by this all round; below 0 it is made smaller (a gouge tolerance,
    /// for turned elements only).
    pub wanted_gap_mm: f64,
}

/// A tool group: flutes, shank, holder, nose, head, each with its wanted gap.
///
/// # Units
/// Millimetres, in the tool's frame: tip at the origin, z toward the spindle.
///
/// # Guarantees
/// A wanted gap of 0 or more grows the element exactly. One below 0 moves the underside and the
/// walls of each convex piece inward, each piece taken as reaching up without end; a piece that
/// would not keep a clean outline stays whole, which is the careful side.
#[derive(Debug)]
pub struct Stack {
    pub(super) pieces: Vec<StackPiece>,
    pub(super) meshes: Vec<StackMesh>,
    /// For steps of the radius, a lower value of all undersides from there outward.
    lowest_mm: Vec<f64>,
    /// For steps of the radius, a height that is really in some piece.
    real_mm: Vec<f64>,
    steps_per_mm: f64,
    pub(super) size_mm: f64,
}

/// A convex piece with the element that it is of.
#[derive(Debug, Clone)]
pub(super) struct StackPiece {
    pub underside: Underside,
    /// The rings of the underside as a convex body.
    pub convex: Piece,
    pub element: usize,
    pub piece: usize,
}

/// A mesh of the tool group, turned over: seen from below, as bodies are seen from above.
#[derive(Debug)]
pub(super) struct StackMesh {
    /// Its triangles in the tool frame with z negated.
    pub field: Field,
    pub gap_mm: f64,
    pub element: usize,
}

impl StackMesh {
    /// The corners of a triangle in the tool frame.
    pub(super) fn triangle(&self, number: u32) -> [Vec3; 3] {
        let over = |corner: Vec3| Vec3::new(corner.x, corner.y, -corner.z);
        self.field.triangle(number).map(over)
    }
}

/// Steps of the tables: 16 kB, which stay near the processor.
const STEPS: usize = 1024;

impl Stack {
    /// A tool group from its elements; a stop names them by their place in this list.
    ///
    /// # Errors
    /// [`CannotAsk::BadPose`] where a pose is not finite or a turned element does not stand on the
    /// axis; [`CannotAsk::BadLimit`] where a wanted gap is not finite, or below 0 for a mesh.
    pub fn new(elements: &[StackElement]) -> Result<Self, CannotAsk> {
        let (mut pieces, mut meshes) = (Vec::new(), Vec::new());
        for (element, given) in elements.iter().enumerate() {
            let gap_mm = given.wanted_gap_mm;
            if gap_mm.is_nan() || gap_mm.abs() >= 1e6 {
                return Err(CannotAsk::BadLimit);
            }
            match &given.shape {
                Shape::Revolved(body) => {
                    let place = on_axis(&given.tool_from_body).ok_or(CannotAsk::BadPose)?;
                    for (number, piece) in body.pieces().iter().enumerate() {
                        pieces.push(StackPiece::new(piece, place, gap_mm, element, number)?);
                    }
                }
                Shape::Mesh(_) if gap_mm < 0.0 => return Err(CannotAsk::BadLimit),
                Shape::Mesh(shape) => {
                    let over = |vertex: &Point3<f64>| {
                        let at = (given.tool_from_body * vertex).coords;
                        Vec3::new(at.x, at.y, -at.z)
                    };
                    let mesh = shape.mesh();
                    let corners: Vec<Vec3> = mesh.vertices.iter().map(over).collect();
                    if !corners.iter().all(|corner| corner.amax() < 1e15) {
                        return Err(CannotAsk::BadPose);
                    }
                    meshes.push(StackMesh {
                        field: Field::new(corners, mesh.triangles.clone()),
                        gap_mm,
                        element,
                    });
                }
            }
        }
        Ok(Self::of(pieces, meshes))
    }

    fn of(pieces: Vec<StackPiece>, meshes: Vec<StackMesh>) -> Self {
        let undersides = || pieces.iter().map(|piece| &piece.underside);
        let radius_mm = undersides().map(|u| u.radius_mm).fold(0.0, f64::max);
        let size_mm = undersides().map(|u| u.size_mm).fold(0.0, f64::max);
        let steps_per_mm = STEPS as f64 / (radius_mm * (1.0 + 1e-9) + 1e-6);
        let mut lowest_mm = Vec::with_capacity(STEPS);
        let mut real_mm = Vec::with_capacity(STEPS);
        for step in 0..STEPS {
            let (from, to) = (
                step as f64 / steps_per_mm - TABLE_GRAIN_MM,
                (step as f64 + 1.0) / steps_per_mm + TABLE_GRAIN_MM,
            );
            let least = |u: &Underside| u.least_beyond_mm(from.max(0.0));
            let real = |u: &Underside| u.height_mm(to + GRAIN * u.size_mm);
            lowest_mm.push(undersides().map(least).fold(f64::INFINITY, f64::min));
            real_mm.push(undersides().map(real).fold(f64::INFINITY, f64::min));
        }
        Self {
            lowest_mm,
            real_mm,
            steps_per_mm,
            size_mm,
            pieces,
            meshes,
        }
    }

    /// A lower value of the undersides from a radius outward; infinite beyond all.
    pub(super) fn lowest_beyond_mm(&self, radius: f64) -> f64 {
        let step = (radius * self.steps_per_mm) as usize;
        self.lowest_mm.get(step).copied().unwrap_or(f64::INFINITY)
    }

    /// A height really in some piece at a radius, or infinite.
    pub(super) fn real_mm(&self, radius: f64) -> f64 {
        let step = (radius * self.steps_per_mm) as usize;
        self.real_mm.get(step).copied().unwrap_or(f64::INFINITY)
    }
}

impl StackPiece {
    fn new(
        piece: &Piece,
        (flipped, shift_mm): (bool, f64),
        gap_mm: f64,
        element: usize,
        number: usize,
    ) -> Result<Self, CannotAsk> {
        let underside = Underside::new(piece, flipped, shift_mm, gap_mm);
        Ok(Self {
            convex: Piece::new(underside.rings.clone())?,
            underside,
            element,
            piece: number,
        })
    }
}

/// What the edges of a table's steps may be off by.
const TABLE_GRAIN_MM: f64 = 1e-9;

/// Whether a pose stands upright on the axis: upside down or not, and how far up.
fn on_axis(pose: &Pose) -> Option<(bool, f64)> {
    let matrix = pose.rotation.matrix();
    let shift = pose.translation.vector;
    let upright = [matrix.m13, matrix.m23, matrix.m31, matrix.m32]
        .iter()
        .all(|entry| entry.abs() < 1e-15);
    // A pose with a NaN fails here as well.
    let on_it = shift.x == 0.0 && shift.y == 0.0 && shift.z.abs() < 1e6;
    let upright = upright && (matrix.m33.abs() - 1.0).abs() < 1e-9;
    (upright && on_it).then_some((matrix.m33 < 0.0, shift.z))
}
