//! Where a cutter touches a surface: tip positions relative to a point, from the surface's normal.

use crate::setup::model::{Profile, ProfileRing};
use crate::value::Vec3;

/// A component of a normal below this counts as none: a wall is upright, a floor level.
const LEVEL: f64 = 1e-9;

/// Two rings whose reach toward a surface differs by no more than this touch it both.
const TIE_MM: f64 = 1e-6;

/// Tip positions, relative to a point of the surface, at which the flutes touch that point.
#[derive(Debug, Clone, PartialEq)]
pub enum Contacts {
    /// The surface looks away from the spindle.
    None,
    /// One position.
    One(Vec3),
    /// All positions between two: a cone lies on the surface along a line.
    Line(Vec3, Vec3),
    /// All positions within a disc across the axis: the flat end lies on the surface.
    Disc {
        /// Centre.
        centre: Vec3,
        /// Radius.
        radius_mm: f64,
    },
}

impl Contacts {
    /// How far the positions lie from their middle, across the approach and along it.
    #[must_use]
    pub fn spread_mm(&self) -> [f64; 2] {
        match self {
            Self::None | Self::One(_) => [0.0, 0.0],
            Self::Line(first, last) => {
                let half = (last - first) * 0.5;
                [half.xy().norm(), half.z.abs()]
            }
            Self::Disc { radius_mm, .. } => [*radius_mm, 0.0],
        }
    }
}

/// Where flutes touch a surface with outward unit normal `normal`, in a frame whose z points to
/// the spindle.
///
/// # Guarantees
/// At each position the convex hull of the flutes has the tangent plane as a support plane. For a
/// wall the highest of all positions is given: whatever a lower one reaches, this one does,
/// as every other gap only grows on the way up, and every way down comes through it.
///
/// # Source
/// Own derivation: support point of a solid of revolution in the direction `-normal`.
#[must_use]
pub fn contacts(flutes: &Profile, normal: &Vec3) -> Contacts {
    let across = normal.xy().norm();
    if normal.z < -LEVEL || flutes.pieces.is_empty() {
        return Contacts::None;
    }
    let upright = normal.z <= LEVEL;
    let axial = if upright { 0.0 } else { normal.z };
    let reach =
        |ring: &ProfileRing| ring.radius_mm * across - ring.height_mm * axial + ring.ball_mm;
    let rings = || flutes.pieces.iter().flat_map(|piece| &piece.rings);
    let farthest = rings().map(reach).fold(f64::NEG_INFINITY, f64::max);
    let mut touching: Vec<ProfileRing> = rings()
        .filter(|ring| reach(ring) >= farthest - TIE_MM)
        .copied()
        .collect();
    touching.sort_by(|a, b| a.height_mm.total_cmp(&b.height_mm));
    let toward = if across > LEVEL {
        Vec3::new(normal.x / across, normal.y / across, 0.0)
    } else {
        Vec3::zeros()
    };
    let tip = |ring: &ProfileRing| {
        toward * ring.radius_mm - Vec3::z() * ring.height_mm + normal * ring.ball_mm
    };
    let (lowest, highest) = (touching[0], touching[touching.len() - 1]);
    if across <= LEVEL {
        let level = touching
            .iter()
            .map(|ring| ring.radius_mm)
            .fold(0.0, f64::max);
        let centre = tip(&ProfileRing {
            radius_mm: 0.0,
            ..lowest
        });
        return if level > 0.0 {
            Contacts::Disc {
                centre,
                radius_mm: level,
            }
        } else {
            Contacts::One(centre)
        };
    }
    let (first, last) = (tip(&lowest), tip(&highest));
    if upright || (first - last).norm() <= TIE_MM {
        Contacts::One(first)
    } else {
        Contacts::Line(first, last)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::model::ProfilePiece;

    fn profile(rings: &[(f64, f64, f64)]) -> Profile {
        let rings = rings
            .iter()
            .map(|&(radius_mm, height_mm, ball_mm)| ProfileRing {
                radius_mm,
                height_mm,
                ball_mm,
            })
            .collect();
        Profile {
            pieces: vec![ProfilePiece { rings }],
            chord_allowance_mm: 0.0,
        }
    }

    #[test]
    fn ball_touches_a_slope_with_its_centre_one_radius_off() {
        let ball = profile(&[(0.0, 5.0, 5.0), (5.0, 30.0, 0.0)]);
        let normal = Vec3::new(0.6, 0.0, 0.8);
        // Centre at 5 n over the point, tip 5 below the centre.
        assert_eq!(
            contacts(&ball, &normal),
            Contacts::One(Vec3::new(3.0, 0.0, -1.0))
        );
    }

    #[test]
    fn flat_end_covers_a_floor_and_touches_a_slope_with_its_rim() {
        let flat = profile(&[(6.0, 0.0, 0.0), (6.0, 30.0, 0.0)]);
        assert_eq!(
            contacts(&flat, &Vec3::z()),
            Contacts::Disc {
                centre: Vec3::zeros(),
                radius_mm: 6.0
            }
        );
        assert_eq!(
            contacts(&flat, &Vec3::new(0.0, 0.8, 0.6)),
            Contacts::One(Vec3::new(0.0, 6.0, 0.0))
        );
        assert_eq!(
            contacts(&flat, &Vec3::new(-1.0, 0.0, 0.0)),
            Contacts::One(Vec3::new(-6.0, 0.0, 0.0))
        );
        assert_eq!(contacts(&flat, &Vec3::new(0.0, 0.8, -0.6)), Contacts::None);
    }

    #[test]
    fn cone_lies_on_a_chamfer_of_its_own_angle() {
        let cone = profile(&[(0.0, 0.0, 0.0), (6.0, 6.0, 0.0)]);
        let normal = Vec3::new(1.0, 0.0, 1.0).normalize();
        let Contacts::Line(first, last) = contacts(&cone, &normal) else {
            panic!("a line was expected");
        };
        assert_eq!(first, Vec3::zeros());
        assert_eq!(last, Vec3::new(6.0, 0.0, -6.0));
    }
}
