//! Distance of two triangles in closed form.

use super::convex::{Near, slack_mm};
use super::simplex::of_triangle;
use crate::value::Vec3;

/// Corners of a triangle.
pub(super) type Triangle = [Vec3; 3];

/// Distance of two triangles: 0 where they touch, else over all edge pairs and corner-face pairs.
///
/// Ends early once the lower value reaches `beat_mm`.
///
/// # Guarantees
/// `hi_mm` is the distance of two points really on the triangles. `lo_mm` is the width of the slab
/// across the line between them; on slivers it may be less than `hi_mm`, never too large.
///
/// # Source
/// Own derivation: two triangles that do not meet are nearest either at two edges or at a corner
/// and a face; two that meet have an edge of one through the face of the other. Segment pairs by
/// clamping (Ericson, Real-Time Collision Detection, 2005, section 5.1.9, from memory).
pub(super) fn triangle_pair(a: &Triangle, b: &Triangle, beat_mm: f64) -> Near {
    let mut best = Best {
        square: f64::INFINITY,
        beat_mm,
        ..Best::default()
    };
    for i in 0..3 {
        for j in 0..3 {
            let (on_a, on_b) = segment_pair(&a[i], &a[(i + 1) % 3], &b[j], &b[(j + 1) % 3]);
            if best.offer(on_a, on_b) && best.sure(a, b) {
                return best.near();
            }
        }
    }
    for i in 0..3 {
        if best.offer(a[i], on_triangle(&a[i], b)) && best.sure(a, b) {
            return best.near();
        }
        if best.offer(on_triangle(&b[i], a), b[i]) && best.sure(a, b) {
            return best.near();
        }
    }
    if let Some(at) = meeting_point(a, b).or_else(|| meeting_point(b, a)) {
        let zero = Vec3::zeros();
        return Near {
            lo_mm: 0.0,
            hi_mm: 0.0,
            on_a: at,
            on_b: at,
            shift: zero,
        };
    }
    best.near()
}

/// The nearest points so far, with the width of the slab between them.
#[derive(Default)]
struct Best {
    square: f64,
    beat_mm: f64,
    lo_mm: f64,
    on_a: Vec3,
    on_b: Vec3,
}

impl Best {
    fn offer(&mut self, on_a: Vec3, on_b: Vec3) -> bool {
        let square = (on_a - on_b).norm_squared();
        let better = square < self.square;
        if better {
            (self.square, self.on_a, self.on_b) = (square, on_a, on_b);
        }
        better
    }

    /// Whether the slab confirms that nothing is nearer, or that this is of no interest.
    fn sure(&mut self, a: &Triangle, b: &Triangle) -> bool {
        self.lo_mm = self.lo_mm.max(slab_mm(a, b, &(self.on_b - self.on_a)));
        let closed = self.square.sqrt() - self.lo_mm <= SURE_MM;
        self.lo_mm > 0.0 && (closed || self.lo_mm >= self.beat_mm)
    }

    fn near(&self) -> Near {
        let hi_mm = self.square.sqrt();
        let (on_a, on_b) = (self.on_a, self.on_b);
        Near {
            lo_mm: self.lo_mm.clamp(0.0, hi_mm),
            hi_mm,
            on_a,
            on_b,
            shift: Vec3::zeros(),
        }
    }
}

/// Width of the bracket at which the search among features ends.
const SURE_MM: f64 = 1e-9;

/// Width of the slab between two triangles across a direction, less the rounding error.
pub(super) fn slab_mm(a: &Triangle, b: &Triangle, direction: &Vec3) -> f64 {
    let length = direction.norm();
    if length <= 0.0 {
        return 0.0;
    }
    let reach = |t: &Triangle| {
        [
            t[0].dot(direction),
            t[1].dot(direction),
            t[2].dot(direction),
        ]
    };
    let (of_a, of_b) = (reach(a), reach(b));
    let width = of_b[0].min(of_b[1]).min(of_b[2]) - of_a[0].max(of_a[1]).max(of_a[2]);
    width / length - slack_mm(a[0].amax() + b[0].amax() + edge_mm(a) + edge_mm(b))
}

fn edge_mm(t: &Triangle) -> f64 {
    (t[1] - t[0]).amax().max((t[2] - t[0]).amax())
}

/// The point of a triangle nearest to a point.
pub(super) fn on_triangle(point: &Vec3, t: &Triangle) -> Vec3 {
    let [u, v, w] = of_triangle(&(t[0] - point), &(t[1] - point), &(t[2] - point));
    t[0] * u + t[1] * v + t[2] * w
}

/// The nearest points of two segments.
pub(super) fn segment_pair(p0: &Vec3, p1: &Vec3, q0: &Vec3, q1: &Vec3) -> (Vec3, Vec3) {
    let (along_p, along_q, apart) = (p1 - p0, q1 - q0, p0 - q0);
    let (pp, qq, pq) = (
        along_p.norm_squared(),
        along_q.norm_squared(),
        along_p.dot(&along_q),
    );
    let (p_apart, q_apart) = (along_p.dot(&apart), along_q.dot(&apart));
    let square = |length: f64| if length > 0.0 { 1.0 / length } else { 0.0 };
    let (pp_inverse, qq_inverse) = (square(pp), square(qq));
    let denominator = pp * qq - pq * pq;
    let mut s = 0.0;
    if denominator > 1e-14 * pp * qq {
        s = ((pq * q_apart - p_apart * qq) / denominator).clamp(0.0, 1.0);
    }
    let mut t = (pq * s + q_apart) * qq_inverse;
    if t < 0.0 {
        t = 0.0;
        s = (-p_apart * pp_inverse).clamp(0.0, 1.0);
    } else if t > 1.0 {
        t = 1.0;
        s = ((pq - p_apart) * pp_inverse).clamp(0.0, 1.0);
    }
    (p0 + along_p * s, q0 + along_q * t)
}

/// Where an edge of `a` goes through the face of `b`.
fn meeting_point(a: &Triangle, b: &Triangle) -> Option<Vec3> {
    let normal = (b[1] - b[0]).cross(&(b[2] - b[0]));
    let heights = [0, 1, 2].map(|i| normal.dot(&(a[i] - b[0])));
    let all_above = heights.iter().all(|&height| height > 0.0);
    let all_below = heights.iter().all(|&height| height < 0.0);
    if all_above || all_below {
        return None;
    }
    for i in 0..3 {
        let j = (i + 1) % 3;
        if heights[i] * heights[j] > 0.0 || heights[i] == heights[j] {
            continue;
        }
        let at = a[i] + (a[j] - a[i]) * (heights[i] / (heights[i] - heights[j]));
        let within =
            |from: usize, to: usize| normal.dot(&(b[to] - b[from]).cross(&(at - b[from]))) >= 0.0;
        if within(0, 1) && within(1, 2) && within(2, 0) {
            return Some(at);
        }
    }
    None
}
