//! Convex pieces of a plane of the surface, cut where the edge of what is reached is expected.

use super::cells::Cell;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;

/// A piece with more corners is halved before it is cut elsewhere.
const MOST_CORNERS: usize = 8;

/// A plane through the surface, in the frame of the approach: a guess at where the edge of what is reached
/// runs. Nothing rests on it but how soon pieces are decided.
#[derive(Debug, Clone, Copy)]
pub struct Edge {
    /// Normal.
    pub normal: Vec3,
    /// Its product with each point of the plane.
    pub offset_mm: f64,
}

/// A convex piece of one plane, in the frame of the part.
#[derive(Debug, Clone)]
pub struct Patch {
    /// Corners, in the order round.
    pub corners: Vec<Vec3>,
    /// A triangle of the same plane and face.
    pub cell: Cell,
}

impl From<&Cell> for Patch {
    fn from(cell: &Cell) -> Self {
        Self {
            corners: cell.corners.to_vec(),
            cell: *cell,
        }
    }
}

impl Patch {
    /// Area.
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        let first = self.corners[0];
        let pairs = self.corners[1..].windows(2);
        let doubled: Vec3 = pairs
            .map(|pair| (pair[0] - first).cross(&(pair[1] - first)))
            .sum();
        doubled.norm() * 0.5
    }

    /// Greatest distance of two corners.
    #[must_use]
    pub fn longest_mm(&self) -> f64 {
        self.longest().norm()
    }

    /// From one to the other of the two corners that are farthest apart.
    fn longest(&self) -> Vec3 {
        let from = self.corners.iter();
        let all = from.flat_map(|from| self.corners.iter().map(move |to| to - from));
        all.fold(Vec3::zeros(), |longest, next| {
            if next.norm_squared() > longest.norm_squared() {
                next
            } else {
                longest
            }
        })
    }

    /// Both halves across the longest way through.
    #[must_use]
    pub fn halved(&self) -> Vec<Self> {
        let across = self.longest();
        let middle = self.corners.iter().sum::<Vec3>() / self.corners.len() as f64;
        self.cut_by(&across, across.dot(&middle))
    }

    /// The pieces on either side of an edge.
    #[must_use]
    pub fn cut(&self, edge: &Edge, approach_from_part: &Pose) -> Vec<Self> {
        if self.corners.len() > MOST_CORNERS {
            return self.halved();
        }
        let part_from_approach = approach_from_part.inverse();
        let normal = part_from_approach.rotation * edge.normal;
        let on_edge = Point3::from(edge.normal * (edge.offset_mm / edge.normal.norm_squared()));
        let offset_mm = normal.dot(&(part_from_approach * on_edge).coords);
        let pieces = self.cut_by(&normal, offset_mm);
        // An edge that misses the piece would be found again.
        if pieces.len() < 2 {
            return self.halved();
        }
        pieces
    }

    fn cut_by(&self, normal: &Vec3, offset_mm: f64) -> Vec<Self> {
        let mut sides: [Vec<Vec3>; 2] = Default::default();
        let count = self.corners.len();
        for k in 0..count {
            let (from, to) = (self.corners[k], self.corners[(k + 1) % count]);
            let (at, next) = (normal.dot(&from) - offset_mm, normal.dot(&to) - offset_mm);
            if at <= 0.0 {
                sides[0].push(from);
            }
            if at >= 0.0 {
                sides[1].push(from);
            }
            if at * next < 0.0 {
                let crossing = from + (to - from) * (at / (at - next));
                sides.iter_mut().for_each(|side| side.push(crossing));
            }
        }
        let piece = |corners: Vec<Vec3>| Self {
            corners,
            cell: self.cell,
        };
        let pieces = sides.into_iter().filter(|side| side.len() > 2);
        pieces.map(piece).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn triangle() -> Patch {
        let corners = [Vec3::zeros(), Vec3::x() * 4.0, Vec3::y() * 3.0];
        Patch::from(&Cell {
            corners,
            normal: Vec3::z(),
            tip_from_corner: [Vec3::zeros(); 3],
            smooth: None,
            face: 0,
            plane: 0,
            grain_mm: 1.0,
            grain_mm2: 0.0,
        })
    }

    #[test]
    fn pieces_have_the_area_of_the_whole_and_lie_on_their_side() {
        let pose = Pose::rotation(Vec3::z() * 0.7);
        let normal = Vec3::new(1.0, 2.0, 0.5);
        for offset_mm in [0.5, 1.0, 3.0, 4.0] {
            let edge = Edge { normal, offset_mm };
            let pieces = triangle().cut(&edge, &pose);
            let areas: f64 = pieces.iter().map(Patch::area_mm2).sum();
            assert!((areas - 6.0).abs() < 1e-12);
            let seen = |piece: &Patch| {
                let corners = piece.corners.iter();
                let at = corners.map(|corner| normal.dot(&(pose.rotation * corner)) - offset_mm);
                at.collect::<Vec<_>>()
            };
            assert_eq!(pieces.len(), 2);
            assert!(seen(&pieces[0]).iter().all(|at| *at < 1e-12));
            assert!(seen(&pieces[1]).iter().all(|at| *at > -1e-12));
        }
    }

    #[test]
    fn an_edge_that_misses_halves() {
        let edge = Edge {
            normal: Vec3::x(),
            offset_mm: 9.0,
        };
        let pieces = triangle().cut(&edge, &Pose::identity());
        assert_eq!(pieces.len(), 2);
        let longest = pieces.iter().map(Patch::longest_mm);
        assert!(longest.fold(0.0, f64::max) < 5.0);
    }
}
