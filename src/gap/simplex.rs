//! The nearest point of a simplex to the origin, with its weights.

use super::convex::Near;
use crate::value::Vec3;

/// A point of the difference of two sets, with the points it comes from.
#[derive(Debug, Clone, Copy)]
pub(super) struct Corner {
    pub at: Vec3,
    pub on_a: Vec3,
    pub on_b: Vec3,
    pub shift: Vec3,
}

/// Up to four corners with the weights of the point nearest to the origin.
#[derive(Debug, Clone, Copy)]
pub(super) struct Simplex {
    corners: [Corner; 4],
    weights: [f64; 4],
    count: usize,
    surrounds: bool,
}

impl Simplex {
    pub(super) fn new(corner: Corner) -> Self {
        Self {
            corners: [corner; 4],
            weights: [1.0, 0.0, 0.0, 0.0],
            count: 1,
            surrounds: false,
        }
    }

    pub(super) fn corner(&self, index: usize) -> Corner {
        self.corners[index]
    }

    /// Whether the origin is inside.
    pub(super) fn surrounds(&self) -> bool {
        self.surrounds
    }

    /// Whether this very corner is there already: no progress is possible then.
    pub(super) fn holds(&self, corner: &Corner) -> bool {
        self.corners[..self.count]
            .iter()
            .any(|known| known.at == corner.at)
    }

    /// The point nearest to the origin.
    pub(super) fn nearest(&self) -> Vec3 {
        self.mix(|corner| corner.at)
    }

    fn mix(&self, of: impl Fn(&Corner) -> Vec3) -> Vec3 {
        let mut sum = Vec3::zeros();
        for (corner, weight) in self.corners[..self.count].iter().zip(self.weights) {
            sum += of(corner) * weight;
        }
        sum
    }

    /// The points of the two sets, and their distance.
    pub(super) fn near(&self) -> Near {
        let on_a = self.mix(|corner| corner.on_a);
        let on_b = self.mix(|corner| corner.on_b);
        let shift = self.mix(|corner| corner.shift);
        Near {
            lo_mm: 0.0,
            hi_mm: (on_a - on_b).norm(),
            on_a,
            on_b,
            shift,
        }
    }

    /// Adds a corner and drops those that the nearest point does not need. False where it is full.
    pub(super) fn add(&mut self, corner: Corner) -> bool {
        if self.count >= 4 {
            return false;
        }
        self.corners[self.count] = corner;
        self.count += 1;
        let at = |index: usize| self.corners[index].at;
        let weights = match self.count {
            2 => {
                let [u, v] = of_segment(&at(0), &at(1));
                [u, v, 0.0, 0.0]
            }
            3 => {
                let [u, v, w] = of_triangle(&at(0), &at(1), &at(2));
                [u, v, w, 0.0]
            }
            _ => match of_tetrahedron(&[at(0), at(1), at(2), at(3)]) {
                Some(weights) => weights,
                None => {
                    self.surrounds = true;
                    self.weights = inside_weights(&[at(0), at(1), at(2), at(3)]);
                    return true;
                }
            },
        };
        self.keep(weights);
        true
    }

    fn keep(&mut self, weights: [f64; 4]) {
        let mut kept = 0;
        for (index, weight) in weights.into_iter().enumerate().take(self.count) {
            if weight > 0.0 {
                self.corners[kept] = self.corners[index];
                self.weights[kept] = weight;
                kept += 1;
            }
        }
        self.count = kept;
    }
}

/// Weights of the point of a segment nearest to the origin.
pub(super) fn of_segment(a: &Vec3, b: &Vec3) -> [f64; 2] {
    let along = b - a;
    let square = along.norm_squared();
    if square <= 0.0 {
        return [1.0, 0.0];
    }
    let share = (-a.dot(&along) / square).clamp(0.0, 1.0);
    [1.0 - share, share]
}

/// Weights of the point of a triangle nearest to the origin.
///
/// The inner region is used only where the triangle has a sound area; the edges are compared
/// otherwise, so that slivers lose nothing but the choice among equals.
pub(super) fn of_triangle(a: &Vec3, b: &Vec3, c: &Vec3) -> [f64; 3] {
    let (ab, ac) = (b - a, c - a);
    let normal = ab.cross(&ac);
    let square = normal.norm_squared();
    if square > 0.0 {
        let u = normal.dot(&b.cross(c));
        let v = normal.dot(&c.cross(a));
        let w = normal.dot(&a.cross(b));
        if u >= 0.0 && v >= 0.0 && w >= 0.0 {
            let sum = u + v + w;
            if sum > 0.0 {
                return [u / sum, v / sum, w / sum];
            }
        }
    }
    let sides = [(a, b), (b, c), (c, a)];
    let mut best = [1.0, 0.0, 0.0];
    let mut best_square = f64::INFINITY;
    for (index, (from, to)) in sides.into_iter().enumerate() {
        let [p, q] = of_segment(from, to);
        let at = from * p + to * q;
        if at.norm_squared() < best_square {
            best_square = at.norm_squared();
            best = [0.0; 3];
            best[index] = p;
            best[(index + 1) % 3] = q;
        }
    }
    best
}

const FACES: [[usize; 4]; 4] = [[0, 1, 2, 3], [0, 3, 1, 2], [0, 2, 3, 1], [1, 3, 2, 0]];

/// Weights of the point of a tetrahedron nearest to the origin; `None` where it is inside.
fn of_tetrahedron(at: &[Vec3; 4]) -> Option<[f64; 4]> {
    let volume = (at[1] - at[0])
        .cross(&(at[2] - at[0]))
        .dot(&(at[3] - at[0]));
    let size = (at[1] - at[0])
        .amax()
        .max((at[2] - at[0]).amax())
        .max((at[3] - at[0]).amax());
    let flat = volume.abs() <= 1e-14 * size * size * size;
    let mut best = None;
    let mut best_square = f64::INFINITY;
    for [i, j, k, opposite] in FACES {
        let normal = (at[j] - at[i]).cross(&(at[k] - at[i]));
        let side = normal.dot(&-at[i]);
        let inner = normal.dot(&(at[opposite] - at[i]));
        if !flat && side * inner > 0.0 {
            continue;
        }
        let [u, v, w] = of_triangle(&at[i], &at[j], &at[k]);
        let square = (at[i] * u + at[j] * v + at[k] * w).norm_squared();
        if square < best_square {
            best_square = square;
            let mut weights = [0.0; 4];
            weights[i] = u;
            weights[j] = v;
            weights[k] = w;
            best = Some(weights);
        }
    }
    best
}

/// Weights of the origin within a tetrahedron around it.
fn inside_weights(at: &[Vec3; 4]) -> [f64; 4] {
    let mut weights = [0.25; 4];
    for [i, j, k, opposite] in FACES {
        let normal = (at[j] - at[i]).cross(&(at[k] - at[i]));
        let whole = normal.dot(&(at[opposite] - at[i]));
        if whole != 0.0 {
            weights[opposite] = (normal.dot(&-at[i]) / whole).clamp(0.0, 1.0);
        }
    }
    let sum: f64 = weights.iter().sum();
    if sum > 0.0 {
        weights.map(|weight| weight / sum)
    } else {
        [0.25; 4]
    }
}
