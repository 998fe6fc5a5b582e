//! Whether two triangles of a mesh cross.

use super::around::Piece;
use crate::value::Vec3;
use nalgebra::Point3;

/// Corners of a triangle.
pub(super) type Triangle = [Point3<f64>; 3];

/// How two triangles meet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Meeting {
    /// Not at all, or by no more than a grain.
    Apart,
    /// They cross, or lie on each other the same way round; with a point where they do.
    Cross(Point3<f64>),
    /// An edge of one goes through the other, in its plane.
    Edge(Edge),
    /// They have a piece of an edge in common, each from this corner to the next.
    Edges([usize; 2], Piece),
}

/// An edge of one triangle that goes through another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Edge {
    /// Whether it is an edge of the second triangle.
    pub(super) of_second: bool,
    /// From this corner to the next.
    pub(super) corner: usize,
    /// The edge.
    pub(super) piece: Piece,
}

/// A triangle with its unit normal.
struct Flat<'a> {
    corners: &'a Triangle,
    normal: Vec3,
}

impl<'a> Flat<'a> {
    fn new(corners: &'a Triangle) -> Self {
        let [a, b, c] = corners;
        let normal = (b - a).cross(&(c - a));
        Self {
            corners,
            normal: normal / normal.norm().max(f64::MIN_POSITIVE),
        }
    }

    /// Heights of points over its plane.
    fn heights(&self, of: &Triangle) -> [f64; 3] {
        of.map(|p| (p - self.corners[0]).dot(&self.normal))
    }

    /// Over its longest edge.
    fn height(&self) -> f64 {
        let [a, b, c] = self.corners;
        let longest = self.edges().map(|edge| edge.norm()).into_iter();
        (b - a).cross(&(c - a)).norm() / longest.fold(f64::MIN_POSITIVE, f64::max)
    }

    fn edges(&self) -> [Vec3; 3] {
        let [a, b, c] = self.corners;
        [b - a, c - b, a - c]
    }
}

/// Where the corners of a triangle are to a plane.
enum Side {
    Both,
    /// All within a grain.
    On,
    /// None on one side; two corners, from this one on, within a grain.
    EdgeOn(usize),
    One,
}

fn side(heights: &[f64; 3], grain_mm: f64) -> Side {
    let above = heights.iter().any(|h| *h > grain_mm);
    let below = heights.iter().any(|h| *h < -grain_mm);
    match (above, below) {
        (true, true) => return Side::Both,
        (false, false) => return Side::On,
        _ => {}
    }
    let on = |k: usize| heights[k % 3].abs() <= grain_mm;
    match (0..3).find(|k| on(*k) && on(k + 1)) {
        Some(corner) => Side::EdgeOn(corner),
        None => Side::One,
    }
}

/// How two triangles meet that have at most one corner in common.
///
/// They cross when no shift of `grain_mm` would part them. Triangles in one plane that face
/// opposite ways only touch.
///
/// # Source
/// Own derivation: two flat convex bodies in different planes are parted by the least shift along a
/// normal of one of them or a direction square to an edge of each (faces of their Minkowski
/// difference).
pub(super) fn meeting(one: &Triangle, two: &Triangle, grain_mm: f64) -> Meeting {
    let first = Flat::new(one);
    let second = Flat::new(two);
    let of_second = first.heights(two);
    let second_side = side(&of_second, grain_mm);
    if matches!(second_side, Side::One) {
        return Meeting::Apart;
    }
    let of_first = second.heights(one);
    match (side(&of_first, grain_mm), second_side) {
        (Side::Both, Side::Both) if crosses(&first, &second, grain_mm) => {
            Meeting::Cross(middle(&first, &second, &of_first, &of_second))
        }
        (Side::EdgeOn(corner), Side::Both) => {
            edge_in(&first, corner, &second, grain_mm).map_or(Meeting::Apart, |piece| {
                Meeting::Edge(Edge {
                    of_second: false,
                    corner,
                    piece,
                })
            })
        }
        (Side::Both, Side::EdgeOn(corner)) => {
            edge_in(&second, corner, &first, grain_mm).map_or(Meeting::Apart, |piece| {
                Meeting::Edge(Edge {
                    of_second: true,
                    corner,
                    piece,
                })
            })
        }
        (Side::EdgeOn(of_one), Side::EdgeOn(of_two)) => {
            let piece = common(&first, of_one, &second, of_two, grain_mm);
            piece.map_or(Meeting::Apart, |piece| {
                Meeting::Edges([of_one, of_two], piece)
            })
        }
        (Side::On, _) if same_way(&first, &second, grain_mm) => over(&second, &first, grain_mm),
        (_, Side::On) if same_way(&first, &second, grain_mm) => over(&first, &second, grain_mm),
        _ => Meeting::Apart,
    }
}

/// So many grains high a triangle must be for its normal to say which way it faces, where all its corners may be
/// off by one.
const LEAST_GRAINS: f64 = 8.0;

/// Whether two triangles face the same way, and surely.
fn same_way(first: &Flat<'_>, second: &Flat<'_>, grain_mm: f64) -> bool {
    let least_mm = LEAST_GRAINS * grain_mm;
    let sure = first.height() > least_mm && second.height() > least_mm;
    sure && first.normal.dot(&second.normal) > 0.0
}

/// By how much two sets of points overlap along a direction.
fn overlap(one: &[Point3<f64>], two: &[Point3<f64>], along: &Vec3) -> f64 {
    let reach = |points: &[Point3<f64>]| {
        points
            .iter()
            .fold((f64::INFINITY, f64::NEG_INFINITY), |reach, p| {
                let at = (p - one[0]).dot(along);
                (reach.0.min(at), reach.1.max(at))
            })
    };
    let (one_low, one_high) = reach(one);
    let (two_low, two_high) = reach(two);
    (one_high - two_low).min(two_high - one_low)
}

/// Whether no direction square to an edge of each parts two triangles by a shift of a grain. Along
/// the normals they are known to overlap by more.
fn crosses(first: &Flat<'_>, second: &Flat<'_>, grain_mm: f64) -> bool {
    for one in first.edges() {
        for two in second.edges() {
            let square = one.cross(&two);
            let length = square.norm();
            // Parallel edges have no direction of their own.
            if length <= 1e-12 * one.norm() * two.norm() {
                continue;
            }
            if overlap(first.corners, second.corners, &square) <= grain_mm * length {
                return false;
            }
        }
    }
    true
}

/// Middle of the line along which two triangles cross.
fn middle(
    first: &Flat<'_>,
    second: &Flat<'_>,
    of_first: &[f64; 3],
    of_second: &[f64; 3],
) -> Point3<f64> {
    let along = first.normal.cross(&second.normal);
    let ends = |corners: &Triangle, heights: &[f64; 3]| {
        let mut ends = [(f64::INFINITY, corners[0]), (f64::NEG_INFINITY, corners[0])];
        for k in 0..3 {
            let (from, to) = (heights[k], heights[(k + 1) % 3]);
            if (from > 0.0) == (to > 0.0) {
                continue;
            }
            let point = corners[k] + (corners[(k + 1) % 3] - corners[k]) * (from / (from - to));
            let at = (point - first.corners[0]).dot(&along);
            if at < ends[0].0 {
                ends[0] = (at, point);
            }
            if at > ends[1].0 {
                ends[1] = (at, point);
            }
        }
        ends
    };
    let [one_low, one_high] = ends(first.corners, of_first);
    let [two_low, two_high] = ends(second.corners, of_second);
    let low = if one_low.0 > two_low.0 {
        one_low
    } else {
        two_low
    };
    let high = if one_high.0 < two_high.0 {
        one_high
    } else {
        two_high
    };
    nalgebra::center(&low.1, &high.1)
}

/// An edge, where it goes through a triangle, in whose plane it is.
fn edge_in(of: &Flat<'_>, corner: usize, within: &Flat<'_>, grain_mm: f64) -> Option<Piece> {
    let edge = [of.corners[corner], of.corners[(corner + 1) % 3]];
    let mut ways = within.edges().into_iter().chain([edge[1] - edge[0]]);
    ways.all(|way| {
        let square = way.cross(&within.normal);
        overlap(&edge, within.corners, &square) > grain_mm * square.norm()
    })
    .then_some(edge)
}

/// The piece that two edges have in common, each in the plane of the other's triangle.
fn common(
    first: &Flat<'_>,
    of_first: usize,
    second: &Flat<'_>,
    of_second: usize,
    grain_mm: f64,
) -> Option<Piece> {
    let ends = |of: &Flat<'_>, corner: usize| [of.corners[corner], of.corners[(corner + 1) % 3]];
    let (one, two) = (ends(first, of_first), ends(second, of_second));
    let length = (one[1] - one[0]).norm();
    let along = (one[1] - one[0]) / length;
    let places = two.map(|p| (p - one[0]).dot(&along));
    let off = |p: &Point3<f64>, at: f64| (p - one[0] - along * at).norm();
    if two.iter().zip(places).any(|(p, at)| off(p, at) > grain_mm) {
        return None;
    }
    let from = places[0].min(places[1]).max(0.0);
    let to = places[0].max(places[1]).min(length);
    (to - from > grain_mm).then(|| [from, to].map(|at| one[0] + along * at))
}

/// Two triangles in the plane of the first, facing the same way.
fn over(first: &Flat<'_>, second: &Flat<'_>, grain_mm: f64) -> Meeting {
    let mut ways = first.edges().into_iter().chain(second.edges());
    let overlaps = ways.all(|way| {
        let square = way.cross(&first.normal);
        overlap(first.corners, second.corners, &square) > grain_mm * square.norm()
    });
    if !overlaps {
        return Meeting::Apart;
    }
    // A corner of one within the other, or else somewhere between their middles.
    let mean = |[a, b, c]: &Triangle| Point3::from((a.coords + b.coords + c.coords) / 3.0);
    let holds = |of: &Flat<'_>, p: &Point3<f64>| {
        let around = of.edges().into_iter().zip(of.corners);
        around
            .map(|(edge, corner)| edge.cross(&(p - corner)).dot(&of.normal))
            .all(|turn| turn >= 0.0)
    };
    let inner = first.corners.iter().find(|p| holds(second, p));
    let inner = inner.or_else(|| second.corners.iter().find(|p| holds(first, p)));
    let between = nalgebra::center(&mean(first.corners), &mean(second.corners));
    Meeting::Cross(inner.copied().unwrap_or(between))
}
