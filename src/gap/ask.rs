//! What is asked and what is answered: motions, options, brackets, witnesses.

use crate::value::Vec3;
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

/// Why a question could not be asked at all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CannotAsk {
    /// A ring is missing, not finite, or has a negative size.
    #[error("a piece needs at least one ring, all finite and none negative")]
    BadRing,
    /// A solid of revolution has no piece.
    #[error("a solid of revolution needs at least one piece")]
    NoPiece,
    /// A mesh has no triangle, an index out of range, or a coordinate that is not finite.
    #[error("a mesh needs at least one triangle, indices in range and finite coordinates")]
    BadMesh,
    /// A pose is not finite or not a rotation with a shift.
    #[error("a pose is not finite, or not a rotation with a shift")]
    BadPose,
    /// The motion has no offset, is not finite, or has a direction without length.
    #[error("a motion needs finite offsets and angles, and directions with a length")]
    BadMotion,
    /// A limit of the question is not a number, or negative.
    #[error("a limit of the question is not a number, or negative")]
    BadLimit,
}

/// The first group occupies every translation in the convex hull of `offsets_mm`, and all around
/// each of them within a disc.
///
/// One offset is a rest pose, two a straight line, more an area or a prism of positions.
///
/// # Units
/// Millimetres, in the common frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Translations whose convex hull is covered; at least one.
    pub offsets_mm: Vec<Vec3>,
    /// Radius of the disc about each translation; 0 for none.
    pub disc_radius_mm: f64,
    /// Normal of the disc, of any length but zero; the tool's axis as a rule.
    pub disc_normal: Vec3,
}

impl Default for Spread {
    fn default() -> Self {
        Self {
            offsets_mm: vec![Vec3::zeros()],
            disc_radius_mm: 0.0,
            disc_normal: Vec3::z(),
        }
    }
}

/// The second group turns about a line, from one angle to another.
///
/// # Units
/// Degrees, right-handed about `direction`; `to_deg` may be less than `from_deg`. A span over 360
/// degrees is a full turn.
#[derive(Debug, Clone, PartialEq)]
pub struct Turn {
    /// A point of the rotary axis.
    pub centre: Point3<f64>,
    /// Direction of the rotary axis, of any length but zero.
    pub direction: Vec3,
    /// Angle at the start; 0 is the pose that the bodies are given in.
    pub from_deg: f64,
    /// Angle at the end.
    pub to_deg: f64,
}

/// A motion of a pair of groups: the first is spread, the second may turn at the same time.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Motion {
    /// Where the first group is.
    pub spread: Spread,
    /// How the second group turns; `None` where it rests.
    pub turn: Option<Turn>,
}

impl Motion {
    /// Both groups rest.
    #[must_use]
    pub fn rest() -> Self {
        Self::default()
    }

    /// The first group moves in a straight line.
    #[must_use]
    pub fn line(from_mm: Vec3, to_mm: Vec3) -> Self {
        Self::spread(vec![from_mm, to_mm])
    }

    /// The first group occupies the convex hull of some translations.
    #[must_use]
    pub fn spread(offsets_mm: Vec<Vec3>) -> Self {
        Self {
            spread: Spread {
                offsets_mm,
                ..Spread::default()
            },
            turn: None,
        }
    }

    /// The second group turns while the first rests.
    #[must_use]
    pub fn turn(turn: Turn) -> Self {
        Self {
            spread: Spread::default(),
            turn: Some(turn),
        }
    }
}

/// All points with `normal . point > offset_mm`, in the common frame.
///
/// # Units
/// Millimetres; `normal` is a unit vector.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HalfSpace {
    /// Unit normal, into the half-space.
    pub normal: Vec3,
    /// Distance of its boundary from the origin, along the normal.
    pub offset_mm: f64,
}

impl HalfSpace {
    /// Whether none of some points is in it.
    #[must_use]
    pub fn holds_none_of(&self, points: &[Vec3]) -> bool {
        let outside = |point: &Vec3| self.normal.dot(point) <= self.offset_mm;
        points.iter().all(outside)
    }
}

/// Options of a question.
#[derive(Debug, Clone, Copy)]
pub struct Ask<'a> {
    /// Stop as soon as the gap is proved to be at least this.
    pub enough_mm: Option<f64>,
    /// Stop as soon as a gap less than this has really been found.
    pub less_mm: Option<f64>,
    /// Beyond this only `lo_mm` is told, and it is this.
    pub cap_mm: f64,
    /// Greatest width of the bracket that a turn may leave.
    pub tolerance_mm: f64,
    /// The witness of a question alike, asked before: saves time, changes no bracket unlawfully.
    pub hint: Option<Witness>,
    /// Greatest number of bounds and leaf queries before the answer is left undecided.
    pub budget: u64,
    /// Set from outside to leave the answer undecided.
    pub stop: Option<&'a AtomicBool>,
    /// Where solids of revolution meet a resting mesh, triangles with no corner in this half-space
    /// need not be asked about: the caller knows that the first group keeps away from them.
    pub beyond: Option<HalfSpace>,
}

impl Default for Ask<'_> {
    fn default() -> Self {
        Self {
            enough_mm: None,
            less_mm: None,
            cap_mm: f64::INFINITY,
            tolerance_mm: 1e-3,
            hint: None,
            budget: 200_000_000,
            stop: None,
            beyond: None,
        }
    }
}

/// A part of a group: which body, and which triangle (or piece) of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Part {
    /// Index of the body in its group.
    pub instance: usize,
    /// Index of the triangle in its mesh, or of the piece in its solid of revolution.
    pub element: usize,
}

/// Two points really at the upper value from one another, and when and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Witness {
    /// A point on (or in) the first group, in the common frame at that moment.
    pub point_a: Point3<f64>,
    /// A point on (or in) the second group, in the common frame at that moment.
    pub point_b: Point3<f64>,
    /// Angle of the turn at that moment; 0 without a turn.
    pub angle_deg: f64,
    /// Position within the spread at that moment (the disc included).
    pub offset_mm: Vec3,
    /// The part of the first group.
    pub part_a: Part,
    /// The part of the second group.
    pub part_b: Part,
}

/// One of the two groups.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The first group.
    A,
    /// The second group.
    B,
}

/// A body that lies wholly inside another, without contact of surfaces.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Contained {
    /// Which group the inner body is of.
    pub inner: Side,
    /// Index of the body in the first group.
    pub instance_a: usize,
    /// Index of the body in the second group.
    pub instance_b: usize,
}

/// A bracket of the least gap over a motion.
///
/// # Guarantees
/// The true least gap between the solids is at least `lo_mm` and at most `hi_mm`; it is 0 where
/// they overlap or one holds the other. `lo_mm` comes from certified lower values only, `hi_mm`
/// from points that are really there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Certified lower value; never negative.
    pub lo_mm: f64,
    /// Upper value; infinite where only the lower value is known.
    pub hi_mm: f64,
    /// Where the upper value was found.
    pub witness: Option<Witness>,
    /// Set where a body lies wholly inside another; then both values are 0.
    pub contained: Option<Contained>,
    /// Whether the question was answered as finely as it was asked.
    pub decided: bool,
}

/// Whether a gap is at least the one wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Decision {
    /// Proved.
    Yes,
    /// Disproved, by this bracket: a smaller gap, an overlap or a body inside another.
    No(Gap),
    /// Not decided, with what is known.
    Unknown(Gap),
}
