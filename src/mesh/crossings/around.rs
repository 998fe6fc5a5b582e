//! What stands round a line: triangles with an edge on it, and the wedges between them.

use crate::value::Vec3;
use nalgebra::Point3;
use std::f64::consts::{FRAC_PI_2, TAU};

/// A triangle with an edge on a line, seen along the line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leaf {
    /// From the line to the corner off it, square to the line.
    out: Vec3,
    /// Whether the triangle runs along the line, or against it.
    forward: bool,
    /// How many times farther off than the line's own ends the corner may be.
    leverage: f64,
}

impl Leaf {
    /// A triangle with an edge from `from` to `to`, and its third corner, about a piece of that edge.
    pub(super) fn new([from, to, third]: [Point3<f64>; 3], piece: &Piece) -> Self {
        let edge = to - from;
        let along = edge / edge.norm();
        let off = third - from;
        let line = piece[1] - piece[0];
        let place = (third - piece[0]).dot(&line) / line.norm_squared();
        // What lies past the ends of a short piece is known the less, the farther off it is.
        let beyond = (-place).max(place - 1.0).max(0.0);
        Self {
            out: off - along * off.dot(&along),
            forward: edge.dot(&line) > 0.0,
            leverage: 1.0 + 2.0 * beyond,
        }
    }
}

/// The two sides of a triangle through which a line goes: as if it were cut along the line.
pub(super) fn sides(corners: &[Point3<f64>; 3], piece: &Piece) -> [Leaf; 2] {
    let [a, b, c] = corners;
    let normal = (b - a).cross(&(c - a)).normalize();
    let line = piece[1] - piece[0];
    let across = normal.cross(&line.normalize());
    let places = corners.map(|p| (p - piece[0]).dot(&across));
    [true, false].map(|forward| {
        let side = if forward { 1.0 } else { -1.0 };
        let reach_mm = places.map(|at| side * at).into_iter().fold(0.0, f64::max);
        Leaf {
            out: across * (side * reach_mm),
            forward,
            leverage: 1.0,
        }
    })
}

/// A piece of a line: its ends.
pub(super) type Piece = [Point3<f64>; 2];

/// A wedge between two leaves.
pub(super) struct Wedge {
    /// How many more bodies are in it than in the first.
    pub(super) level: i32,
    /// Angle between its leaves.
    rad: f64,
    /// Along the first leaf, and square to it and the line, into the wedge.
    ways: [Vec3; 2],
}

/// Where points of a wedge lie: share of its angle, and distance to its leaves, in grains. No two are on one
/// plane through the line.
const POINTS: [(f64, f64); 3] = [(0.5, 4.0), (0.31, 6.0), (0.72, 9.0)];

impl Wedge {
    /// Points in it, off its leaves. What is off by rounding along a plane through the line holds one of them
    /// at most.
    pub(super) fn points(&self, piece: &Piece, grain_mm: f64) -> [Point3<f64>; 3] {
        let middle = nalgebra::center(&piece[0], &piece[1]);
        POINTS.map(|(share, grains)| {
            let rad = self.rad * share;
            let nearest_rad = rad.min(self.rad - rad).min(FRAC_PI_2);
            let way = self.ways[0] * rad.cos() + self.ways[1] * rad.sin();
            middle + way * (grains * grain_mm / nearest_rad.sin())
        })
    }
}

/// The wedges about a line.
///
/// From one wedge to the next the number of bodies changes by one at each triangle.
///
/// # Shapes
/// Leaves with an area; in any order. Where they do not run both ways as often, some are missing, and
/// there are no wedges.
///
/// # Guarantees
/// A wedge counts only where it is wider at the ends of its leaves than it may be by a shift of `grain_mm` of the
/// ends of the piece.
///
/// # Source
/// Own derivation: the winding number of a closed surface drops by one where a way leaves through it.
pub(super) fn wedges(leaves: &[Leaf], piece: &Piece, grain_mm: f64) -> Vec<Wedge> {
    let forward = leaves.iter().filter(|leaf| leaf.forward).count();
    if forward * 2 != leaves.len() || leaves.len() < 4 {
        return Vec::new();
    }
    let start = leaves[0].out.normalize();
    let turned = (piece[1] - piece[0]).normalize().cross(&start);
    let angle = |leaf: &Leaf| leaf.out.dot(&turned).atan2(leaf.out.dot(&start));
    let mut round: Vec<(f64, Leaf)> = leaves.iter().map(|leaf| (angle(leaf), *leaf)).collect();
    round.sort_unstable_by(|one, two| one.0.total_cmp(&two.0));
    round.push((round[0].0 + TAU, round[0].1));
    let mut level = 0;
    let mut wedges = Vec::with_capacity(leaves.len());
    for ends in round.windows(2) {
        let [(from, leaf), (to, next)] = [ends[0], ends[1]];
        level += if leaf.forward { -1 } else { 1 };
        let height_mm = leaf.out.norm().min(next.out.norm());
        let width_mm = (to - from).min(FRAC_PI_2).sin() * height_mm;
        if width_mm > grain_mm * (leaf.leverage + next.leverage) {
            wedges.push(Wedge {
                level,
                rad: to - from,
                ways: [
                    start * from.cos() + turned * from.sin(),
                    turned * from.cos() - start * from.sin(),
                ],
            });
        }
    }
    wedges
}

/// Whether bodies overlap about a line, from their wedges alone.
///
/// A surface that does not cross itself has but two numbers of bodies, for within and without. Where each triangle
/// is there as many times as each other there are two numbers as well: that is one surface several times, and
/// told as such.
pub(super) fn overlap(wedges: &[Wedge]) -> bool {
    let mut levels: Vec<i32> = wedges.iter().map(|wedge| wedge.level).collect();
    levels.sort_unstable();
    levels.dedup();
    levels.len() > 2
}
