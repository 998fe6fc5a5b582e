//! A spread in one frame, and the convex sets that the leaf queries compare.

use super::ask::Spread;
use super::convex::Convex;
use super::piece::Piece;
use super::tree::Bounds;
use super::triangle_pair::Triangle;
use crate::value::{Pose, Vec3};
use nalgebra::Rotation3;

/// The convex hull of some shifts, grown by a disc.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sweep {
    pub shifts: Vec<Vec3>,
    pub disc_mm: f64,
    pub normal: Vec3,
}

impl Sweep {
    pub(super) fn new(spread: &Spread) -> Self {
        let length = spread.disc_normal.norm();
        let normal = if length > 0.0 {
            spread.disc_normal / length
        } else {
            Vec3::z()
        };
        Self {
            shifts: spread.offsets_mm.clone(),
            disc_mm: spread.disc_radius_mm,
            normal,
        }
    }

    /// Nothing but the zero shift.
    pub(super) fn none() -> Self {
        Self {
            shifts: vec![Vec3::zeros()],
            disc_mm: 0.0,
            normal: Vec3::z(),
        }
    }

    /// Whether it is nothing but the zero shift.
    pub(super) fn is_none(&self) -> bool {
        self.single() == Some(Vec3::zeros())
    }

    /// The same in a frame that is turned by `to_from_here`.
    pub(super) fn turned(&self, to_from_here: &Rotation3<f64>) -> Self {
        Self {
            shifts: self
                .shifts
                .iter()
                .map(|shift| to_from_here * shift)
                .collect(),
            disc_mm: self.disc_mm,
            normal: to_from_here * self.normal,
        }
    }

    /// Mirrored in the origin.
    pub(super) fn negated(&self) -> Self {
        Self {
            shifts: self.shifts.iter().map(|shift| -shift).collect(),
            ..self.clone()
        }
    }

    /// The one shift, where there is but one and no disc.
    pub(super) fn single(&self) -> Option<Vec3> {
        match self.shifts.as_slice() {
            [shift] if self.disc_mm <= 0.0 => Some(*shift),
            _ => None,
        }
    }

    pub(super) fn support(&self, direction: &Vec3) -> Vec3 {
        let mut best = self.shifts.first().copied().unwrap_or_default();
        let mut reach = best.dot(direction);
        for shift in self.shifts.iter().skip(1) {
            let along = shift.dot(direction);
            if along > reach {
                reach = along;
                best = *shift;
            }
        }
        if self.disc_mm > 0.0 {
            best += self.out_of_axis(direction) * self.disc_mm;
        }
        best
    }

    /// Lower and upper corner of its box.
    pub(super) fn corners(&self) -> (Vec3, Vec3) {
        let mut low = Vec3::repeat(f64::INFINITY);
        let mut high = Vec3::repeat(f64::NEG_INFINITY);
        for shift in &self.shifts {
            low = low.inf(shift);
            high = high.sup(shift);
        }
        // From the other two components: 1 - c * c loses all digits near the normal.
        let [x, y, z] = [self.normal.x, self.normal.y, self.normal.z];
        let disc = Vec3::new(y.hypot(z), z.hypot(x), x.hypot(y)) * self.disc_mm;
        (low - disc, high + disc)
    }

    /// Unit direction within the disc nearest to a direction; zero where that is along the normal.
    ///
    /// From two directions across the normal, so that it never leaves the disc: taking the
    /// normal's part off instead leaves rounding that points anywhere, along the normal as well,
    /// and grown to the radius of the disc it gave lower values that were too large.
    fn out_of_axis(&self, direction: &Vec3) -> Vec3 {
        let helper = if self.normal.x.abs() < 0.6 {
            Vec3::x()
        } else {
            Vec3::y()
        };
        let one = self.normal.cross(&helper).normalize();
        let other = self.normal.cross(&one).normalize();
        let across = one * one.dot(direction) + other * other.dot(direction);
        across.try_normalize(0.0).unwrap_or_default()
    }
}

/// A convex leaf of a body in its own frame.
#[derive(Debug, Clone, Copy)]
pub(super) enum Leaf<'a> {
    Triangle(Triangle),
    Piece(&'a Piece),
    /// A box around something: for lower values only.
    Box(Bounds),
}

impl Leaf<'_> {
    /// The farthest point of the core.
    pub(super) fn core_support(&self, direction: &Vec3) -> Vec3 {
        match self {
            Self::Triangle(t) => {
                let [a, b, c] = [0, 1, 2].map(|i: usize| t[i].dot(direction));
                if a >= b && a >= c {
                    t[0]
                } else if b >= c {
                    t[1]
                } else {
                    t[2]
                }
            }
            Self::Piece(piece) => piece.core_support(direction),
            Self::Box(b) => b.centre + b.half.zip_map(direction, |half, d| half.copysign(d)),
        }
    }

    /// How far it reaches along a unit direction, margin included.
    pub(super) fn reach_mm(&self, direction: &Vec3) -> f64 {
        self.core_support(direction).dot(direction) + self.margin_mm()
    }

    /// By how much the body is larger than its core, all around.
    pub(super) fn margin_mm(&self) -> f64 {
        match self {
            Self::Triangle(_) | Self::Box(_) => 0.0,
            Self::Piece(piece) => piece.margin_mm(),
        }
    }

    /// A point within.
    pub(super) fn inner_point(&self) -> Vec3 {
        match self {
            Self::Triangle(t) => (t[0] + t[1] + t[2]) / 3.0,
            Self::Piece(piece) => piece.inner_point(),
            Self::Box(bounds) => bounds.centre,
        }
    }
}

/// The core of a leaf in its own frame, spread.
pub(super) struct Swept<'a> {
    pub leaf: Leaf<'a>,
    pub sweep: &'a Sweep,
}

impl Convex for Swept<'_> {
    fn support(&self, direction: &Vec3) -> (Vec3, Vec3) {
        let shift = self.sweep.support(direction);
        (self.leaf.core_support(direction) + shift, shift)
    }
}

/// The core of a leaf at a pose.
pub(super) struct Posed<'a> {
    pub leaf: Leaf<'a>,
    pub pose: Pose,
}

impl Convex for Posed<'_> {
    fn support(&self, direction: &Vec3) -> (Vec3, Vec3) {
        let own = self.pose.rotation.inverse_transform_vector(direction);
        (
            self.pose.rotation * self.leaf.core_support(&own) + self.pose.translation.vector,
            Vec3::zeros(),
        )
    }
}

/// The core of a leaf at a pose, spread.
pub(super) struct PosedSwept<'a> {
    pub posed: Posed<'a>,
    pub sweep: &'a Sweep,
}

impl Convex for PosedSwept<'_> {
    fn support(&self, direction: &Vec3) -> (Vec3, Vec3) {
        let shift = self.sweep.support(direction);
        (self.posed.support(direction).0 + shift, shift)
    }
}

/// The hull of a leaf at two poses.
pub(super) struct Ends<'a> {
    pub first: Posed<'a>,
    pub last: Posed<'a>,
}

impl Convex for Ends<'_> {
    fn support(&self, direction: &Vec3) -> (Vec3, Vec3) {
        let (first, last) = (
            self.first.support(direction).0,
            self.last.support(direction).0,
        );
        let chosen = if last.dot(direction) > first.dot(direction) {
            last
        } else {
            first
        };
        (chosen, Vec3::zeros())
    }
}

/// A plain triangle.
pub(super) struct Plain(pub Triangle);

impl Convex for Plain {
    fn support(&self, direction: &Vec3) -> (Vec3, Vec3) {
        (
            Leaf::Triangle(self.0).core_support(direction),
            Vec3::zeros(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Directions along the normal, to the last bits and a little off: the case that once gave a
    /// false `clear`, with a normal longer than 1 by one bit.
    #[test]
    fn a_support_point_never_leaves_the_disc() {
        let tilts = [0.0, 1e-17, 1e-16, 1e-12, 1e-6, 1.0];
        for number in 0..500 {
            let n = f64::from(number);
            let given = Vec3::new((n * 0.7).sin(), (n * 1.3).cos(), (n * 0.37).sin() + 0.1);
            let sweep = Sweep::new(&Spread {
                disc_radius_mm: 48.0,
                disc_normal: given * (1.0 + n),
                ..Spread::default()
            });
            for normal in [sweep.normal, sweep.normal * (1.0 + f64::EPSILON)] {
                let sweep = Sweep {
                    normal,
                    ..sweep.clone()
                };
                for tilt in tilts {
                    for sign in [1.0, -1.0] {
                        let direction = normal * sign + Vec3::new(-0.3, 0.9, 0.2) * tilt;
                        let point = sweep.support(&direction);
                        assert!(
                            point.dot(&normal).abs() < 1e-12,
                            "{number} {tilt}: {point:?}"
                        );
                        assert!(point.norm() < 48.0 + 1e-12, "{number} {tilt}: {point:?}");
                        assert!(point.dot(&direction) > -1e-12, "{number} {tilt}: {point:?}");
                    }
                }
            }
        }
    }
}
