//! Solids of revolution: convex pieces made of rings, with an exact support map.

use super::ask::CannotAsk;
use super::tree::Bounds;
use crate::value::Vec3;

/// A disc of `radius_mm` at `height_mm` on the axis, grown by a ball of `ball_mm`.
///
/// Cylinder and frustum are two rings; a ball end is `(0, R, R)`; a bull nose `(R - c, c, c)`; a
/// drill point `(0, 0, 0)`.
///
/// # Units
/// Millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Radius of the disc.
    pub radius_mm: f64,
    /// Height of the disc's centre along +Z.
    pub height_mm: f64,
    /// Radius of the ball that the disc is grown by.
    pub ball_mm: f64,
}

impl Ring {
    /// A plain disc.
    #[must_use]
    pub const fn disc(radius_mm: f64, height_mm: f64) -> Self {
        Self {
            radius_mm,
            height_mm,
            ball_mm: 0.0,
        }
    }

    fn sound(&self) -> bool {
        let finite =
            self.radius_mm.is_finite() && self.height_mm.is_finite() && self.ball_mm.is_finite();
        finite && self.radius_mm >= 0.0 && self.ball_mm >= 0.0
    }
}

/// A convex solid of revolution about +Z: the convex hull of its rings.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    rings: Vec<Ring>,
    core: Vec<Ring>,
    margin_mm: f64,
    slopes: Vec<Slope>,
    low_mm: f64,
    high_mm: f64,
    radius_mm: f64,
}

/// A slanted support line of the profile: `radial * r + axial * z <= reach_mm` on the whole piece.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Slope {
    pub radial: f64,
    pub axial: f64,
    pub reach_mm: f64,
}

impl Piece {
    /// A piece from its rings.
    ///
    /// # Errors
    /// [`CannotAsk::BadRing`] where there is no ring, or one is not finite or negative.
    pub fn new(rings: Vec<Ring>) -> Result<Self, CannotAsk> {
        if rings.is_empty() || !rings.iter().all(Ring::sound) {
            return Err(CannotAsk::BadRing);
        }
        let margin_mm = rings
            .iter()
            .map(|ring| ring.ball_mm)
            .fold(f64::INFINITY, f64::min);
        let shrink = |ring: &Ring| Ring {
            ball_mm: ring.ball_mm - margin_mm,
            ..*ring
        };
        let core = rings.iter().map(shrink).collect();
        let low_mm = rings
            .iter()
            .map(|ring| ring.height_mm - ring.ball_mm)
            .fold(f64::INFINITY, f64::min);
        let high_mm = rings
            .iter()
            .map(|ring| ring.height_mm + ring.ball_mm)
            .fold(f64::NEG_INFINITY, f64::max);
        let radius_mm = rings
            .iter()
            .map(|ring| ring.radius_mm + ring.ball_mm)
            .fold(0.0, f64::max);
        let slopes = slopes_of(&rings);
        Ok(Self {
            rings,
            core,
            margin_mm,
            slopes,
            low_mm,
            high_mm,
            radius_mm,
        })
    }

    /// The rings whose hull it is.
    #[must_use]
    pub fn rings(&self) -> &[Ring] {
        &self.rings
    }

    /// Lowest and highest height of any point.
    #[must_use]
    pub fn heights_mm(&self) -> (f64, f64) {
        (self.low_mm, self.high_mm)
    }

    /// Greatest radius of any point.
    #[must_use]
    pub fn radius_mm(&self) -> f64 {
        self.radius_mm
    }

    /// The ball that every ring has in common; the piece is its core grown by this.
    pub(super) fn margin_mm(&self) -> f64 {
        self.margin_mm
    }

    pub(super) fn slopes(&self) -> &[Slope] {
        &self.slopes
    }

    /// A point on the axis within the piece.
    pub(super) fn inner_point(&self) -> Vec3 {
        let ring = self.rings.first().map_or(0.0, |ring| ring.height_mm);
        Vec3::new(0.0, 0.0, ring)
    }

    /// The farthest point of the core in a direction (of any length).
    pub(super) fn core_support(&self, direction: &Vec3) -> Vec3 {
        farthest(&self.core, direction)
    }

    /// Farthest extent of the whole piece along a unit direction.
    pub(super) fn reach_mm(&self, direction: &Vec3) -> f64 {
        farthest(&self.rings, direction).dot(direction)
    }
}

fn farthest(rings: &[Ring], direction: &Vec3) -> Vec3 {
    let across = direction.x.hypot(direction.y);
    let length = direction.norm();
    let mut best = f64::NEG_INFINITY;
    let mut chosen = None;
    for ring in rings {
        let reach = ring.radius_mm * across + ring.height_mm * direction.z + ring.ball_mm * length;
        if reach > best {
            best = reach;
            chosen = Some(ring);
        }
    }
    let Some(ring) = chosen else {
        return Vec3::zeros();
    };
    let mut point = Vec3::new(0.0, 0.0, ring.height_mm);
    if across > 0.0 {
        let scale = ring.radius_mm / across;
        point.x = direction.x * scale;
        point.y = direction.y * scale;
    }
    if ring.ball_mm > 0.0 && length > 0.0 {
        point += direction * (ring.ball_mm / length);
    }
    point
}

/// Support lines along the tangents of each pair of rings: exact for cones, valid for all.
fn slopes_of(rings: &[Ring]) -> Vec<Slope> {
    let mut slopes = Vec::new();
    for (index, first) in rings.iter().enumerate() {
        for second in &rings[index + 1..] {
            let rise = second.height_mm - first.height_mm;
            let run = second.radius_mm - first.radius_mm;
            let length = rise.hypot(run);
            if length < 1e-9 || rise.abs() < 1e-9 * length || run.abs() < 1e-9 * length {
                continue;
            }
            let sign = rise.signum();
            let (radial, axial) = (rise / length * sign, -run / length * sign);
            let reach_mm = rings
                .iter()
                .map(|ring| ring.radius_mm * radial + ring.height_mm * axial + ring.ball_mm)
                .fold(f64::NEG_INFINITY, f64::max);
            slopes.push(Slope {
                radial,
                axial,
                reach_mm,
            });
        }
    }
    slopes
}

/// A solid of revolution about its own +Z: convex pieces that may touch or overlap.
#[derive(Debug, Clone, PartialEq)]
pub struct Revolved {
    pieces: Vec<Piece>,
}

impl Revolved {
    /// A body from its pieces.
    ///
    /// # Errors
    /// [`CannotAsk::NoPiece`] where there is none.
    pub fn new(pieces: Vec<Piece>) -> Result<Self, CannotAsk> {
        if pieces.is_empty() {
            return Err(CannotAsk::NoPiece);
        }
        Ok(Self { pieces })
    }

    /// The pieces, in the order given; a [`super::Part`] counts in this order.
    #[must_use]
    pub fn pieces(&self) -> &[Piece] {
        &self.pieces
    }

    /// Its box in its own frame.
    pub(super) fn bounds(&self) -> Bounds {
        let mut low = Vec3::repeat(f64::INFINITY);
        let mut high = Vec3::repeat(f64::NEG_INFINITY);
        for piece in &self.pieces {
            let radius_mm = piece.radius_mm;
            low = low.inf(&Vec3::new(-radius_mm, -radius_mm, piece.low_mm));
            high = high.sup(&Vec3::new(radius_mm, radius_mm, piece.high_mm));
        }
        Bounds {
            centre: (low + high) * 0.5,
            half: (high - low) * 0.5,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn support_of_a_ball_end() {
        let ball = Piece::new(vec![Ring {
            radius_mm: 0.0,
            height_mm: 5.0,
            ball_mm: 5.0,
        }])
        .unwrap();
        let direction = Vec3::new(0.6, 0.0, -0.8);
        assert!((ball.reach_mm(&direction) - (5.0 - 4.0)).abs() < 1e-15);
        assert_eq!(ball.heights_mm(), (0.0, 10.0));
    }

    #[test]
    fn bad_rings_are_refused() {
        assert_eq!(Piece::new(vec![]), Err(CannotAsk::BadRing));
        assert_eq!(
            Piece::new(vec![Ring::disc(f64::NAN, 0.0)]),
            Err(CannotAsk::BadRing)
        );
        assert_eq!(
            Piece::new(vec![Ring::disc(-1.0, 0.0)]),
            Err(CannotAsk::BadRing)
        );
    }
}
