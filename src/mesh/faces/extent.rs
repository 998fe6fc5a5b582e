//! How far a round region reaches round its axis and along it.

use super::surface::{about, across};
use crate::value::Vec3;
use nalgebra::Point3;
use std::f64::consts::TAU;

/// Reach of a region about an axis.
pub(super) struct Extent {
    /// Least height over the axis point.
    pub(super) low_mm: f64,
    /// Greatest height over it.
    pub(super) high_mm: f64,
    /// How far the pieces cover the turn.
    pub(super) turn_deg: f64,
    /// Different angles at which vertices stand.
    pub(super) lines: usize,
    /// Widest step from line to line over the narrowest, within what is covered.
    pub(super) step_ratio: f64,
}

/// Steps beyond this are a gap between pieces, not a facet: half a turn in three.
const WIDEST_STEP: f64 = TAU / 7.5;

/// Measures a region, given by the corners of its pieces; `grain_rad` is the angle below which two
/// lines are one. Corners that are not `true` only tell how far it reaches: no line is there.
pub(super) fn extent<Piece: Iterator<Item = (Point3<f64>, bool)>>(
    pieces: impl Iterator<Item = Piece>,
    (point, axis): (Point3<f64>, Vec3),
    grain_rad: f64,
) -> Extent {
    let [u, v] = across(&axis);
    let (mut low_mm, mut high_mm) = (f64::INFINITY, f64::NEG_INFINITY);
    let mut arcs: Vec<[f64; 2]> = Vec::new();
    let mut angles = Vec::new();
    let mut of_piece: Vec<f64> = Vec::new();
    for piece in pieces {
        of_piece.clear();
        for (corner, is_line) in piece {
            let (height, reach, away) = about(&point, &axis, &corner);
            low_mm = low_mm.min(height);
            high_mm = high_mm.max(height);
            // The apex of a cone has no angle.
            if reach > 1e-3 {
                let angle = away.dot(&v).atan2(away.dot(&u)).rem_euclid(TAU);
                of_piece.push(angle);
                if is_line {
                    angles.push(angle);
                }
            }
        }
        arcs.extend(arc(&mut of_piece));
    }
    let (lines, step_ratio) = lines(&mut angles, grain_rad);
    Extent {
        low_mm,
        high_mm,
        turn_deg: covered(arcs).to_degrees().min(360.0),
        lines,
        step_ratio,
    }
}

/// The shortest arc over some angles.
fn arc(angles: &mut [f64]) -> Option<[f64; 2]> {
    angles.sort_unstable_by(f64::total_cmp);
    let count = angles.len();
    let gap = |k: usize| (angles[(k + 1) % count] - angles[k]).rem_euclid(TAU);
    let widest = (0..count).max_by(|a, b| gap(*a).total_cmp(&gap(*b)))?;
    let from = angles[(widest + 1) % count];
    let length = (angles[widest] - from).rem_euclid(TAU);
    Some([from, from + length])
}

/// How much of the turn arcs cover together.
fn covered(mut arcs: Vec<[f64; 2]>) -> f64 {
    let over: Vec<[f64; 2]> = arcs
        .iter()
        .filter(|arc| arc[1] > TAU)
        .map(|arc| [0.0, arc[1] - TAU])
        .collect();
    arcs.extend(over);
    arcs.sort_unstable_by(|a, b| a[0].total_cmp(&b[0]));
    let (mut sum, mut end) = (0.0, 0.0_f64);
    for [from, to] in arcs {
        let to = to.min(TAU);
        if to > end {
            sum += to - from.max(end).min(to);
            end = to;
        }
    }
    sum
}

/// How many different angles there are, and how even the steps between them.
fn lines(angles: &mut [f64], grain_rad: f64) -> (usize, f64) {
    angles.sort_unstable_by(f64::total_cmp);
    let mut kept: Vec<f64> = Vec::new();
    for angle in angles.iter() {
        if kept.last().is_none_or(|last| angle - last > grain_rad) {
            kept.push(*angle);
        }
    }
    if kept.len() > 1 && kept[0] + TAU - kept[kept.len() - 1] <= grain_rad {
        kept.pop();
    }
    let count = kept.len();
    let steps = (0..count).map(|k| (kept[(k + 1) % count] - kept[k]).rem_euclid(TAU));
    let (mut least, mut most) = (f64::INFINITY, 0.0_f64);
    for step in steps.filter(|step| *step > 0.0 && *step < WIDEST_STEP) {
        least = least.min(step);
        most = most.max(step);
    }
    (count, most / least)
}
