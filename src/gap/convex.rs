//! Distance of two convex sets given by their support maps, as a certified bracket.
//!
//! The method is that of Gilbert, Johnson and Keerthi (IEEE J. Robotics and Automation 4(2),
//! 1988), with a bracket in place of a verdict: the upper value is the distance of two points
//! really in the sets, the lower value the width of a slab found between them. Where the
//! iteration stalls the bracket is left wide; nothing is claimed.

use super::simplex::{Corner, Simplex};
use crate::value::Vec3;

/// A convex set, known by its farthest points.
pub(super) trait Convex {
    /// A farthest point in a direction of any length, and the shift that is part of it.
    fn support(&self, direction: &Vec3) -> (Vec3, Vec3);
}

/// A bracket of a distance with the points of the upper value.
#[derive(Debug, Clone, Copy)]
pub(super) struct Near {
    pub lo_mm: f64,
    pub hi_mm: f64,
    pub on_a: Vec3,
    pub on_b: Vec3,
    /// The part of `on_a` that is a shift of the first body.
    pub shift: Vec3,
}

impl Near {
    /// Both sets grown by balls whose radii add to `margin_mm`, the first by `of_a_mm` of it.
    pub(super) fn grown(mut self, margin_mm: f64, of_a_mm: f64) -> Self {
        if margin_mm <= 0.0 {
            return self;
        }
        if self.hi_mm.is_finite() && self.hi_mm > 0.0 {
            let direction = (self.on_b - self.on_a) / self.hi_mm;
            let shared = self.hi_mm.min(margin_mm);
            let moved_a = shared * of_a_mm / margin_mm;
            self.on_a += direction * moved_a;
            self.on_b -= direction * (shared - moved_a);
        }
        self.hi_mm = (self.hi_mm - margin_mm).max(0.0);
        self.lo_mm = (self.lo_mm - margin_mm).max(0.0);
        self
    }
}

/// Most steps before the bracket is left as it is; the seeded campaigns found no case that needs more.
const STEPS_MAX: usize = 60;

/// Width of the bracket at which the iteration ends.
pub(super) const WIDTH_MM: f64 = 1e-8;

/// Distance, in units of the coordinates, at which two points within a simplex are the same.
const MEETING: f64 = 1e-12;

/// Rounding error that a lower value may carry, at least ten times over.
///
/// A support plane is a dot product of coordinates: its error is some 4 units in the last place of
/// the greatest coordinate.
pub(super) fn slack_mm(size_mm: f64) -> f64 {
    size_mm * (64.0 * f64::EPSILON) + 1e-300
}

/// Distance of `a` and `b`; ends early once the lower value reaches `beat_mm`.
///
/// # Guarantees
/// `lo_mm` is never above the true distance, `hi_mm` never below it but for rounding.
pub(super) fn nearest(
    a: &impl Convex,
    b: &impl Convex,
    first_direction: &Vec3,
    beat_mm: f64,
) -> Near {
    let corner = |direction: &Vec3| {
        let (on_a, shift) = a.support(direction);
        let (on_b, _) = b.support(&-direction);
        Corner {
            at: on_a - on_b,
            on_a,
            on_b,
            shift,
        }
    };
    let mut simplex = Simplex::new(corner(first_direction));
    let mut lo_mm = 0.0_f64;
    let mut best = simplex.near();
    let mut size_mm = 0.0_f64;
    let first_length = first_direction.norm();
    if first_length > 0.0 {
        let plane_mm = -simplex.nearest().dot(first_direction) / first_length;
        size_mm = size(&simplex.corner(0));
        lo_mm = lo_mm.max(plane_mm - slack_mm(size_mm));
        if lo_mm >= beat_mm {
            best.lo_mm = lo_mm;
            return best;
        }
    }
    for _ in 0..STEPS_MAX {
        let toward = simplex.nearest();
        let length = toward.norm();
        if length <= slack_mm(size_mm) {
            break;
        }
        let next = corner(&-toward);
        size_mm = size_mm.max(size(&next));
        let plane_mm = toward.dot(&next.at) / length - slack_mm(size_mm);
        lo_mm = lo_mm.max(plane_mm);
        if lo_mm >= beat_mm || best.hi_mm - lo_mm <= WIDTH_MM || simplex.holds(&next) {
            break;
        }
        if !simplex.add(next) {
            break;
        }
        let found = simplex.near();
        if simplex.surrounds() {
            // Where the simplex is nearly flat its weights are poor: then only what is measured
            // between the two points counts.
            if lo_mm <= 0.0 && found.hi_mm < best.hi_mm {
                best = found;
                if found.hi_mm <= MEETING * size_mm {
                    best.hi_mm = 0.0;
                }
            }
            break;
        }
        if found.hi_mm >= best.hi_mm {
            break;
        }
        best = found;
    }
    if best.hi_mm <= slack_mm(size_mm) {
        best.hi_mm = 0.0;
    }
    best.lo_mm = lo_mm.min(best.hi_mm);
    best
}

fn size(corner: &Corner) -> f64 {
    corner.on_a.amax() + corner.on_b.amax() + corner.shift.amax()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gap::piece::{Piece, Ring};
    use crate::gap::sweep::{Leaf, Plain, Sweep, Swept};

    fn bracket(shift: Vec3, beat_mm: f64) -> Near {
        let rings = vec![Ring::disc(5.0, 0.0), Ring::disc(2.0, 12.0)];
        let piece = Piece::new(rings).unwrap();
        let sweep = Sweep::none();
        let swept = Swept {
            leaf: Leaf::Piece(&piece),
            sweep: &sweep,
        };
        let corners = [
            Vec3::new(-3.0, 1.0, 0.5),
            Vec3::new(4.0, 2.0, -1.0),
            Vec3::new(0.0, 6.0, 3.0),
        ];
        let triangle = Plain(corners.map(|corner| corner + shift));
        nearest(&swept, &triangle, &Vec3::new(0.3, 0.2, -1.0), beat_mm)
    }

    #[test]
    fn an_early_end_keeps_the_bracket() {
        let mut early_ends = 0;
        for step in 0..60 {
            let angle = f64::from(step) * 0.7;
            let shift = Vec3::new(
                30.0 * angle.cos(),
                30.0 * angle.sin(),
                f64::from(step) - 30.0,
            );
            let whole = bracket(shift, f64::INFINITY);
            assert!(whole.hi_mm - whole.lo_mm < 1e-6, "{whole:?}");
            for share in [0.01, 0.5, 0.9] {
                let early = bracket(shift, whole.hi_mm * share);
                assert!(
                    early.lo_mm <= whole.hi_mm && early.hi_mm >= whole.lo_mm,
                    "{early:?}"
                );
                assert!(early.lo_mm >= whole.hi_mm * share);
                early_ends += usize::from(early.hi_mm > whole.hi_mm + 1e-3);
            }
        }
        assert!(early_ends > 20, "{early_ends}");
    }

    #[test]
    fn overlap_is_zero() {
        let near = bracket(Vec3::new(0.0, -3.0, 5.0), f64::INFINITY);
        assert_eq!((near.lo_mm, near.hi_mm), (0.0, 0.0));
    }
}
