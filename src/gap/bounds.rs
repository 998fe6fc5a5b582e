//! Lower values for the distance of boxes and solids of revolution.
//!
//! All of them are valid for any pose; each is reduced by more than its rounding error.

use super::piece::{Piece, Revolved};
use super::sweep::Sweep;
use super::tree::Bounds;
use crate::value::{Pose, Vec3};
use nalgebra::{Matrix3, Point3};

/// Relative rounding allowance of a bound, in units of the coordinates that enter it.
const ALLOWANCE: f64 = 1e-13;

pub(super) fn lessened(bound_mm: f64, size_mm: f64) -> f64 {
    (bound_mm - size_mm * ALLOWANCE).max(0.0)
}

impl Bounds {
    /// The box in another frame.
    pub(super) fn moved(&self, to_from_here: &Pose) -> Self {
        let turn = to_from_here.rotation.matrix().abs();
        let centre = to_from_here * Point3::from(self.centre);
        Self {
            centre: centre.coords,
            half: turn * self.half,
        }
    }

    /// Grown by the box of a spread.
    pub(super) fn spread(&self, sweep: &Sweep) -> Self {
        let (low, high) = sweep.corners();
        Self {
            centre: self.centre + (low + high) * 0.5,
            half: self.half + (high - low) * 0.5,
        }
    }

    /// Distance of two boxes in one frame.
    pub(super) fn apart_mm(&self, other: &Self) -> f64 {
        let between = (self.centre - other.centre).abs() - self.half - other.half;
        let size = self.centre.amax() + other.centre.amax() + self.half.amax() + other.half.amax();
        lessened(between.map(|side| side.max(0.0)).norm(), size)
    }

    pub(super) fn holds(&self, point: &Vec3) -> bool {
        let beyond = (point - self.centre).abs() - self.half;
        beyond.max() <= 1e-9 * (1.0 + self.centre.amax() + self.half.amax())
    }

    /// Interval along a unit direction.
    pub(super) fn along(&self, direction: &Vec3) -> (f64, f64) {
        let (middle, reach) = (self.centre.dot(direction), self.half.dot(&direction.abs()));
        (middle - reach, middle + reach)
    }

    /// Radius of the sphere around it.
    pub(super) fn radius_mm(&self) -> f64 {
        self.half.norm()
    }
}

/// Distance of two boxes in two frames, by their boxes in either frame.
pub(super) fn box_box_mm(a: &Bounds, b: &Bounds, a_from_b: &Pose, b_from_a: &Pose) -> f64 {
    a.apart_mm(&b.moved(a_from_b))
        .max(b.apart_mm(&a.moved(b_from_a)))
}

/// A solid of revolution with its spread, prepared for bounds in its own frame.
#[derive(Debug)]
pub(super) struct Envelope<'a> {
    pub pieces: &'a [Piece],
    outline: Vec<[f64; 2]>,
    disc_mm: f64,
    heights_mm: (f64, f64),
    size_mm: f64,
}

impl<'a> Envelope<'a> {
    pub(super) fn new(body: &'a Revolved, sweep: &Sweep) -> Self {
        let (low, high) = sweep.corners();
        let tilt = sweep.normal.x.hypot(sweep.normal.y);
        let flat = sweep.disc_mm * tilt * 1.000_001;
        let outline = outline(&sweep.shifts);
        let heights_mm = (low.z.min(low.z - flat), high.z.max(high.z + flat));
        let size_mm =
            low.amax() + high.amax() + body.pieces().iter().map(piece_size_mm).fold(0.0, f64::max);
        Self {
            pieces: body.pieces(),
            outline,
            disc_mm: sweep.disc_mm,
            heights_mm,
            size_mm,
        }
    }

    /// Radius and heights of a box as seen from the axis, wherever in the spread the body is.
    pub(super) fn seen(&self, bounds: &Bounds, turn: &Matrix3<f64>, shift: &Vec3) -> Seen {
        let centre = turn * bounds.centre + shift;
        let axial = turn.m31.abs() * bounds.half.x
            + turn.m32.abs() * bounds.half.y
            + turn.m33.abs() * bounds.half.z;
        let near = nearest_in_outline(&self.outline, [centre.x, centre.y]);
        let (dx, dy) = (centre.x - near[0], centre.y - near[1]);
        let radius = (dx * dx + dy * dy).sqrt();
        let mut radius_mm = 0.0;
        if radius > 0.0 {
            let (ux, uy) = (dx / radius, dy / radius);
            let reach = (ux * turn.m11 + uy * turn.m21).abs() * bounds.half.x
                + (ux * turn.m12 + uy * turn.m22).abs() * bounds.half.y
                + (ux * turn.m13 + uy * turn.m23).abs() * bounds.half.z;
            radius_mm =
                (radius - self.outline_excess(near, ux, uy) - reach - self.disc_mm).max(0.0);
        }
        Seen {
            radius_mm,
            low_mm: centre.z - axial - self.heights_mm.1,
            high_mm: centre.z + axial - self.heights_mm.0,
            size_mm: self.size_mm + centre.amax() + bounds.half.amax(),
        }
    }

    /// By how much the outline goes beyond its own nearest point (rounding only).
    fn outline_excess(&self, near: [f64; 2], ux: f64, uy: f64) -> f64 {
        let beyond = |p: &[f64; 2]| (p[0] - near[0]) * ux + (p[1] - near[1]) * uy;
        self.outline.iter().map(beyond).fold(0.0, f64::max)
    }

    /// Lower value over all pieces.
    pub(super) fn apart_mm(&self, seen: &Seen) -> f64 {
        self.pieces
            .iter()
            .map(|piece| piece_apart_mm(piece, seen))
            .fold(f64::INFINITY, f64::min)
    }
}

fn piece_size_mm(piece: &Piece) -> f64 {
    let (low, high) = piece.heights_mm();
    piece.radius_mm() + low.abs().max(high.abs())
}

/// What a box looks like from an axis: no point nearer than `radius_mm`, none outside the heights.
#[derive(Debug, Clone, Copy)]
pub(super) struct Seen {
    pub radius_mm: f64,
    pub low_mm: f64,
    pub high_mm: f64,
    pub size_mm: f64,
}

/// Lower value of the distance of a piece from all that looks like `seen`.
pub(super) fn piece_apart_mm(piece: &Piece, seen: &Seen) -> f64 {
    let (low, high) = piece.heights_mm();
    let across = (seen.radius_mm - piece.radius_mm()).max(0.0);
    let along = (seen.low_mm - high).max(low - seen.high_mm).max(0.0);
    let mut apart = (across * across + along * along).sqrt();
    for slope in piece.slopes() {
        let height = if slope.axial >= 0.0 {
            seen.low_mm
        } else {
            seen.high_mm
        };
        let reach = slope.radial * seen.radius_mm + slope.axial * height - slope.reach_mm;
        apart = apart.max(reach);
    }
    lessened(apart, seen.size_mm)
}

/// Convex outline of the shifts seen along Z, counter-clockwise (monotone chain, Andrew 1979).
fn outline(shifts: &[Vec3]) -> Vec<[f64; 2]> {
    let mut points: Vec<[f64; 2]> = shifts.iter().map(|shift| [shift.x, shift.y]).collect();
    points.sort_by(|p, q| p[0].total_cmp(&q[0]).then(p[1].total_cmp(&q[1])));
    points.dedup();
    if points.len() < 3 {
        return points;
    }
    let turns_left = |o: &[f64; 2], p: &[f64; 2], q: &[f64; 2]| {
        (p[0] - o[0]) * (q[1] - o[1]) - (p[1] - o[1]) * (q[0] - o[0]) > 0.0
    };
    let half = |points: &mut dyn Iterator<Item = [f64; 2]>| {
        let mut chain: Vec<[f64; 2]> = Vec::new();
        for point in points {
            while let [.., o, p] = chain.as_slice() {
                if turns_left(o, p, &point) {
                    break;
                }
                chain.pop();
            }
            chain.push(point);
        }
        chain.pop();
        chain
    };
    let mut chain = half(&mut points.iter().copied());
    chain.extend(half(&mut points.iter().rev().copied()));
    chain
}

/// The point of the outline (with its inside) nearest to a point.
fn nearest_in_outline(outline: &[[f64; 2]], point: [f64; 2]) -> [f64; 2] {
    let mut best = outline.first().copied().unwrap_or_default();
    if outline.len() < 2 {
        return best;
    }
    let mut best_square = f64::INFINITY;
    let mut inside = outline.len() > 2;
    for (index, from) in outline.iter().enumerate() {
        let to = outline[(index + 1) % outline.len()];
        let (along, away) = (
            [to[0] - from[0], to[1] - from[1]],
            [point[0] - from[0], point[1] - from[1]],
        );
        let square = along[0] * along[0] + along[1] * along[1];
        inside &= along[0] * away[1] - along[1] * away[0] >= 0.0;
        let dot = along[0] * away[0] + along[1] * away[1];
        let share = if square > 0.0 {
            (dot / square).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let at = [from[0] + along[0] * share, from[1] + along[1] * share];
        let apart = (point[0] - at[0]).powi(2) + (point[1] - at[1]).powi(2);
        if apart < best_square {
            best_square = apart;
            best = at;
        }
    }
    if inside { point } else { best }
}
