//! The tip height at which a convex piece that comes down last touches a triangle, as a bracket.
//!
//! The piece touches a point `(q, z)` at `f = z - L(|q|)`, which is concave over the triangle, as
//! the underside `L` is convex. So the stop is the greatest `f`, at a corner, on an edge or in the
//! face, each in closed form (on an edge under a torus: a root in a bracket). That gives the lower
//! value: a point that is really there. The upper value does not rest on it: for *every* slope
//! `s` (two numbers) `L(|q|) >= s . q - reach(|s|)`, hence
//!
//! ```text
//! stop <= greatest over the corners of (z - s . q) + reach(|s|)
//! ```
//!
//! which is the plane of slope `s` between triangle and piece. The slope of `L` at the touching
//! point makes it tight.
//!
//! # Source
//! Own derivation (weak duality of a concave maximum; Fenchel's conjugate of the underside).

use super::super::triangle_pair::Triangle;
use super::edge::{Edge, edge_foot_mm};
use super::underside::{Form, GRAIN, Underside};
use crate::value::Vec3;

/// Length of two numbers: coordinates are far from where `hypot` would be needed.
pub(super) fn length(x: f64, y: f64) -> f64 {
    (x * x + y * y).sqrt()
}

/// A bracket of a stop: nothing above `hi_mm`, a touching point at `lo_mm`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stop {
    pub lo_mm: f64,
    pub hi_mm: f64,
}

impl Stop {
    pub(super) const NONE: Self = Self {
        lo_mm: f64::NEG_INFINITY,
        hi_mm: f64::NEG_INFINITY,
    };
}

/// How far a stop is of interest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Aim {
    /// Wholly, unless the upper value is at most this.
    Over(f64),
    /// Only whether it is above this.
    Beats(f64),
}

/// The stop at a triangle, given relative to the axis of the piece, as far as it is of interest.
///
/// # Guarantees
/// At every tip height above `hi_mm` piece and triangle are apart; at `lo_mm` they touch or
/// overlap. `size_mm` is the greatest coordinate that the corners were computed from.
pub(super) fn triangle_stop(
    underside: &Underside,
    corners: &Triangle,
    size_mm: f64,
    aim: Aim,
) -> Stop {
    let (Aim::Over(beat_mm) | Aim::Beats(beat_mm)) = aim;
    let reach = Reach {
        underside,
        corners,
        grain_mm: GRAIN * (size_mm + underside.size_mm),
        inner_mm: 0.0,
    }
    .within_rim();
    if reach.is_far() {
        return Stop::NONE;
    }
    let face = face_slope(corners);
    let mut hi_mm = reach.over([0.0, 0.0]);
    if let Some(slope) = face {
        hi_mm = hi_mm.min(reach.over(slope));
    }
    let only_upper = |hi_mm: f64| Stop {
        lo_mm: f64::NEG_INFINITY,
        hi_mm,
    };
    if hi_mm <= beat_mm {
        return only_upper(hi_mm);
    }
    let near = nearest_to_axis(corners);
    let apart_mm = length(near[0], near[1]);
    if apart_mm > underside.radius_mm && reach.beside(near, apart_mm) {
        return Stop::NONE;
    }
    // Nothing of the triangle is higher than its highest corner, nor nearer to the axis than this.
    let highest = corners[0].z.max(corners[1].z).max(corners[2].z);
    let inward_mm = (apart_mm - reach.grain_mm).max(0.0);
    hi_mm = hi_mm.min(highest - underside.least_beyond_mm(inward_mm) + 2.0 * reach.grain_mm);
    if hi_mm <= beat_mm {
        return only_upper(hi_mm);
    }
    let some = reach.some_point(near, face);
    if let Some(some) = &some {
        // A slope that shows the triangle to be low spares the roots, and so does a high point.
        hi_mm = reach.lowest_over(some, hi_mm);
        if hi_mm <= beat_mm {
            return only_upper(hi_mm);
        }
        let lo_mm = reach.real_mm(some).min(hi_mm);
        if matches!(aim, Aim::Beats(_)) && lo_mm > beat_mm {
            return Stop { lo_mm, hi_mm };
        }
    }
    let stop = reach.edges_stop(some, aim, hi_mm);
    let answered = stop.lo_mm > beat_mm || stop.hi_mm <= beat_mm;
    if answered || matches!(aim, Aim::Over(_)) {
        stop
    } else {
        // A point that answered for its edge left the triangle open.
        reach.edges_stop(some, Aim::Over(beat_mm), hi_mm)
    }
}

/// A point of the triangle with the height at which the piece touches it.
#[derive(Debug, Clone, Copy)]
struct Touch {
    at: Vec3,
    tip_mm: f64,
}

/// The one of two at which the piece touches first; a height that is not finite is none.
fn higher(best: Option<Touch>, touch: Touch) -> Option<Touch> {
    if touch.tip_mm > best.map_or(f64::NEG_INFINITY, |best| best.tip_mm) {
        Some(touch)
    } else {
        best
    }
}

struct Reach<'a> {
    underside: &'a Underside,
    corners: &'a Triangle,
    grain_mm: f64,
    /// The radius less some rounding: a touching point is sought within it, so that it is real.
    inner_mm: f64,
}

impl Reach<'_> {
    fn within_rim(self) -> Self {
        let inner_mm = (self.underside.radius_mm - 4.0 * self.grain_mm).max(0.0);
        Self { inner_mm, ..self }
    }

    /// Whether the triangle's box in plan is beside the piece.
    fn is_far(&self) -> bool {
        let [a, b, c] = self.corners;
        let away = |a: f64, b: f64, c: f64| a.min(b).min(c).max(-a.max(b).max(c)).max(0.0);
        let (x, y) = (away(a.x, b.x, c.x), away(a.y, b.y, c.y));
        let limit_mm = self.underside.radius_mm + self.grain_mm;
        x * x + y * y > limit_mm * limit_mm * (1.0 + 1e-12)
    }

    /// Whether a line across the axis's view parts the triangle from the piece.
    fn beside(&self, near: [f64; 2], apart_mm: f64) -> bool {
        let out = [near[0] / apart_mm, near[1] / apart_mm];
        let limit_mm = self.underside.radius_mm + self.grain_mm;
        let beyond = |corner: &Vec3| corner.x * out[0] + corner.y * out[1] > limit_mm;
        self.corners.iter().all(beyond)
    }

    /// The upper value by one slope.
    fn over(&self, slope: [f64; 2]) -> f64 {
        let steep = length(slope[0], slope[1]);
        let above = |corner: &Vec3| corner.z - slope[0] * corner.x - slope[1] * corner.y;
        let [a, b, c] = self.corners;
        let bound_mm = above(a).max(above(b)).max(above(c)) + self.underside.reach_mm(steep);
        if bound_mm.is_finite() {
            bound_mm + self.grain_mm * (1.0 + steep)
        } else {
            f64::INFINITY
        }
    }

    fn touch(&self, at: Vec3) -> Touch {
        let tip_mm = at.z - self.underside.height_mm(length(at.x, at.y));
        Touch { at, tip_mm }
    }

    /// The touch height less what rounding may have added; none where the point may be beside.
    fn real_mm(&self, touch: &Touch) -> f64 {
        let radius = length(touch.at.x, touch.at.y) + self.grain_mm;
        touch.at.z - self.underside.height_mm(radius) - 2.0 * self.grain_mm
    }

    /// Where the greatest `f` of corners and face is.
    fn some_point(&self, near: [f64; 2], face: Option<[f64; 2]>) -> Option<Touch> {
        let mut best: Option<Touch> = None;
        let mut offer = |touch: Touch| best = higher(best, touch);
        if let Some(slope) = face {
            for at in self.face_points(slope).into_iter().flatten() {
                if inside(self.corners, at) {
                    offer(self.touch(self.on_face(at, slope)));
                }
            }
            if inside(self.corners, near) {
                offer(self.touch(self.on_face(near, slope)));
            }
        }
        for corner in self.corners {
            offer(self.touch(*corner));
        }
        best
    }

    /// The bracket by the edges, or by a point elsewhere that is higher, below what is known.
    fn edges_stop(&self, some: Option<Touch>, aim: Aim, hi_mm: f64) -> Stop {
        let Some(best) = self.on_edges(some, aim) else {
            return Stop {
                lo_mm: f64::NEG_INFINITY,
                hi_mm,
            };
        };
        let hi_mm = self.lowest_over(&best, hi_mm);
        Stop {
            lo_mm: self.real_mm(&best).min(hi_mm),
            hi_mm,
        }
    }

    /// Where the greatest `f` is, on an edge or at the best point elsewhere.
    fn on_edges(&self, mut best: Option<Touch>, aim: Aim) -> Option<Touch> {
        for i in 0..3 {
            let (a, b) = (&self.corners[i], &self.corners[(i + 1) % 3]);
            // An edge that cannot beat what is known needs no root.
            let most_mm = a.z.max(b.z) - self.lowest_over_edge_mm(a, b);
            if best.is_some_and(|best| most_mm <= best.tip_mm) {
                continue;
            }
            if let Some(touch) = self.on_edge(a, b, aim).map(|at| self.touch(at)) {
                best = higher(best, touch);
                if matches!(aim, Aim::Beats(beat_mm) if self.real_mm(&touch) > beat_mm) {
                    break;
                }
            }
        }
        best
    }

    /// The underside where an edge is nearest to the axis.
    fn lowest_over_edge_mm(&self, a: &Vec3, b: &Vec3) -> f64 {
        let near = nearest_on_edge(a, b);
        self.underside.height_mm(length(near[0], near[1]))
    }

    fn on_face(&self, at: [f64; 2], slope: [f64; 2]) -> Vec3 {
        let a = &self.corners[0];
        let z = a.z + slope[0] * (at[0] - a.x) + slope[1] * (at[1] - a.y);
        Vec3::new(at[0], at[1], z)
    }

    /// Points where the underside is as steep as the face: both ends of the stretch.
    fn face_points(&self, slope: [f64; 2]) -> [Option<[f64; 2]>; 2] {
        let steep = length(slope[0], slope[1]);
        if steep <= 0.0 {
            return [Some([0.0, 0.0]), None];
        }
        let (from_mm, to_mm) = radii_of_slope(self.underside, steep, self.inner_mm);
        let at = |radius: f64| [slope[0] / steep * radius, slope[1] / steep * radius];
        let other = (to_mm > from_mm).then(|| at(to_mm));
        [Some(at(from_mm)), other]
    }

    /// Where the piece touches an edge last; a point that answers the question will do.
    fn on_edge(&self, a: &Vec3, b: &Vec3, aim: Aim) -> Option<Vec3> {
        let (run_x, run_y) = (b.x - a.x, b.y - a.y);
        let length = length(run_x, run_y);
        if length <= self.grain_mm {
            return None;
        }
        let along = [run_x / length, run_y / length];
        let start = a.x * along[0] + a.y * along[1];
        let apart_mm = (a.x * along[1] - a.y * along[0]).abs();
        if apart_mm > self.inner_mm {
            return None;
        }
        let rise = (b.z - a.z) / length;
        let edge = Edge {
            apart_mm,
            rise: rise.abs(),
            // Height over the plan where the edge's line is nearest to the axis, and both ends.
            base_mm: a.z - rise * start,
            ends_mm: if rise < 0.0 {
                [-(start + length), -start]
            } else {
                [start, start + length]
            },
        };
        let out = edge_foot_mm(self.underside, &edge, aim);
        let farthest = ((self.inner_mm - apart_mm) * (self.inner_mm + apart_mm)).sqrt();
        let out = out.min(farthest) * rise.signum();
        let share = ((out - start) / length).clamp(0.0, 1.0);
        Some(a + (b - a) * share)
    }

    /// The least upper value by slopes that the underside has at the touching point.
    fn lowest_over(&self, best: &Touch, known_mm: f64) -> f64 {
        let mut hi_mm = known_mm;
        let radius = length(best.at.x, best.at.y);
        let edges = [0, 1, 2].map(|i| self.corners[(i + 1) % 3] - self.corners[i]);
        if radius <= 64.0 * self.grain_mm {
            for edge in &edges {
                let square = edge.x * edge.x + edge.y * edge.y;
                if square > 0.0 {
                    let scale = edge.z / square;
                    hi_mm = hi_mm.min(self.over([edge.x * scale, edge.y * scale]));
                }
            }
            return hi_mm;
        }
        let out = [best.at.x / radius, best.at.y / radius];
        let (mut least, mut most) = self.underside.slopes(radius, 16.0 * self.grain_mm);
        let (flattest, steepest) = (least, most);
        for corner in self.corners {
            let beyond = (corner.x - best.at.x) * out[0] + (corner.y - best.at.y) * out[1];
            let rise = corner.z - best.at.z;
            if beyond > self.grain_mm {
                least = least.max(rise / beyond);
            } else if beyond < -self.grain_mm {
                most = most.min(rise / beyond);
            }
        }
        for slope in [least, most, flattest, (least + most) * 0.5] {
            let slope = slope.clamp(flattest, steepest);
            if slope.is_finite() {
                hi_mm = hi_mm.min(self.over([out[0] * slope, out[1] * slope]));
            }
        }
        hi_mm
    }
}

/// The radii between which the underside is as steep as `steep`; the rim where it never is.
fn radii_of_slope(underside: &Underside, steep: f64, inner_mm: f64) -> (f64, f64) {
    let within = |from: f64, to: f64| (from.min(inner_mm), to.min(inner_mm));
    for span in &underside.spans {
        match span.form {
            Form::Line { slope, .. } => {
                if slope > steep {
                    return within(span.from_mm, span.from_mm);
                }
                if slope == steep {
                    return within(span.from_mm, span.to_mm);
                }
            }
            Form::Arc {
                radius_mm, ball_mm, ..
            } => {
                let out = ball_mm * (steep / (1.0 + steep * steep).sqrt());
                let radius = (radius_mm + out).max(span.from_mm);
                if radius < span.to_mm {
                    return within(radius, radius);
                }
            }
        }
    }
    (inner_mm, inner_mm)
}

/// Slope of the plane of a triangle; none where it stands upright.
pub(super) fn face_slope(corners: &Triangle) -> Option<[f64; 2]> {
    let normal = (corners[1] - corners[0]).cross(&(corners[2] - corners[0]));
    let slope = [-normal.x / normal.z, -normal.y / normal.z];
    (slope[0].abs().max(slope[1].abs()) < 1e9).then_some(slope)
}

/// Whether a point of the plan is in the plan of the triangle.
fn inside(t: &Triangle, at: [f64; 2]) -> bool {
    let side = |a: &Vec3, b: &Vec3| (b.x - a.x) * (at[1] - a.y) - (b.y - a.y) * (at[0] - a.x);
    let sides = [side(&t[0], &t[1]), side(&t[1], &t[2]), side(&t[2], &t[0])];
    sides.iter().all(|&side| side >= 0.0) || sides.iter().all(|&side| side <= 0.0)
}

/// The point of a triangle's plan that is nearest to the axis.
fn nearest_to_axis(t: &Triangle) -> [f64; 2] {
    if inside(t, [0.0, 0.0]) && plan_area(t) != 0.0 {
        return [0.0, 0.0];
    }
    let mut best = [f64::INFINITY, f64::INFINITY];
    let mut best_square = f64::INFINITY;
    for i in 0..3 {
        let at = nearest_on_edge(&t[i], &t[(i + 1) % 3]);
        let apart = at[0] * at[0] + at[1] * at[1];
        if apart < best_square {
            best_square = apart;
            best = at;
        }
    }
    best
}

/// The point of an edge's plan that is nearest to the axis.
fn nearest_on_edge(a: &Vec3, b: &Vec3) -> [f64; 2] {
    let (x, y) = (b.x - a.x, b.y - a.y);
    let square = x * x + y * y;
    let share = if square > 0.0 {
        (-(a.x * x + a.y * y) / square).clamp(0.0, 1.0)
    } else {
        0.0
    };
    [a.x + x * share, a.y + y * share]
}

fn plan_area(t: &Triangle) -> f64 {
    (t[1].x - t[0].x) * (t[2].y - t[0].y) - (t[1].y - t[0].y) * (t[2].x - t[0].x)
}
