//! Closed, outward-oriented bodies made from a few numbers: box, column, turned body.

use super::{Chord, FaultKind, Mesh};
use crate::value::cos_sin_deg;
use nalgebra::Point3;

/// Dimensions that make no body.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum SolidError {
    /// The upper corner is not above the lower one in every direction.
    #[error("the box has no volume: its upper corner must exceed the lower one in x, y and z")]
    EmptyBox,
    /// A prism needs at least three sides, a turned body three segments.
    #[error("at least 3 sides or segments are needed")]
    TooFewSides,
    /// A length that must be positive is not, or is not finite.
    #[error("every size must be positive and finite")]
    BadSize,
    /// The bore does not fit inside the column.
    #[error("the bore reaches through a side or chamfer of the column")]
    BoreTooLarge,
    /// The chamfers leave nothing of a side.
    #[error("the edge chamfers leave nothing of a side")]
    ChamferTooLarge,
    /// Heights must not fall, and the radius must be above zero except at the two ends.
    #[error("the profile must rise from end to end, with radii above zero except at the ends")]
    BadProfile,
    /// The numbers make triangles that a mesh cannot hold.
    #[error("the sizes are too small or too large to make a mesh")]
    Degenerate,
}

/// How the flat segments of a turned body stand to the round one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Roundness {
    /// Segments touch from outside: the mesh contains the round body, allowance 0.
    Circumscribed,
    /// Corners lie on the round body: the allowance says how far it bulges out.
    Inscribed,
}

/// A prism about the z axis, as carriers are: from z = 0 up, flat 1 facing +x, the others
/// following counter-clockwise seen from +z.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Column {
    /// Number of sides.
    pub sides: u32,
    /// Distance from the axis to each flat.
    pub flat_distance_mm: f64,
    /// Length along z.
    pub length_mm: f64,
    /// Width along a side that is taken off at each edge between two sides; 0 for sharp edges.
    pub edge_chamfer_mm: f64,
    /// Diameter of a round bore along the axis.
    pub bore_diameter_mm: Option<f64>,
}

/// Corners of the bore polygon; they lie on the bore, so the material is drawn larger: safe.
const BORE_SEGMENTS: u32 = 96;

/// Greatest share of the distance to a side that a bore may take: below cos(3.75 degrees), one
/// bore segment, so that faces do not fold.
const BORE_SHARE: f64 = 0.997;

/// A box between two corners.
///
/// # Errors
/// When it has no volume.
pub fn cuboid(low: Point3<f64>, high: Point3<f64>) -> Result<Mesh, SolidError> {
    if !(0..3).all(|k| low[k] < high[k]) {
        return Err(SolidError::EmptyBox);
    }
    let ring = [
        (low.x, low.y),
        (high.x, low.y),
        (high.x, high.y),
        (low.x, high.y),
    ];
    let mut triangles = Vec::new();
    let bottom = ring.map(|(x, y)| Point3::new(x, y, low.z));
    let top = ring.map(|(x, y)| Point3::new(x, y, high.z));
    wall(&bottom, &top, &mut triangles);
    for (a, b) in [(1, 2), (2, 3)] {
        triangles.push([bottom[0], bottom[b], bottom[a]]);
        triangles.push([top[0], top[a], top[b]]);
    }
    closed_mesh(&triangles, 0.0)
}

impl Column {
    /// The column as a mesh; flats are exact, so the chord allowance is 0.
    ///
    /// # Errors
    /// When the sizes make no column.
    pub fn mesh(&self) -> Result<Mesh, SolidError> {
        let outer = self.outline()?;
        let [bottom, top] = [0.0, self.length_mm].map(|z| {
            outer
                .iter()
                .map(|&[x, y]| Point3::new(x, y, z))
                .collect::<Vec<_>>()
        });
        let mut triangles = Vec::new();
        wall(&bottom, &top, &mut triangles);
        if let Some(diameter_mm) = self.bore_diameter_mm {
            let radius_mm = diameter_mm / 2.0;
            if radius_mm.is_nan() || radius_mm <= 0.0 {
                return Err(SolidError::BadSize);
            }
            if radius_mm >= inner_distance(&outer) * BORE_SHARE {
                return Err(SolidError::BoreTooLarge);
            }
            let [low, high] = [0.0, self.length_mm].map(|z| circle(BORE_SEGMENTS, radius_mm, z));
            // Swapped ends turn the wall towards the axis.
            wall(&high, &low, &mut triangles);
            ring_face(&top, &high, &mut triangles, false);
            ring_face(&bottom, &low, &mut triangles, true);
        } else {
            for k in 1..outer.len() - 1 {
                triangles.push([bottom[0], bottom[k + 1], bottom[k]]);
                triangles.push([top[0], top[k], top[k + 1]]);
            }
        }
        closed_mesh(&triangles, 0.0)
    }

    /// Corners of the outline, counter-clockwise.
    fn outline(&self) -> Result<Vec<[f64; 2]>, SolidError> {
        if self.sides < 3 {
            return Err(SolidError::TooFewSides);
        }
        let sizes_fit = [self.flat_distance_mm, self.length_mm]
            .iter()
            .all(|x| *x > 0.0)
            && self.edge_chamfer_mm >= 0.0;
        if !sizes_fit {
            return Err(SolidError::BadSize);
        }
        let step_deg = 360.0 / f64::from(self.sides);
        let half_side_mm = self.flat_distance_mm * (step_deg / 2.0).to_radians().tan();
        let half_mm = half_side_mm - self.edge_chamfer_mm;
        if half_mm <= 0.0 {
            return Err(SolidError::ChamferTooLarge);
        }
        let mut outline = Vec::new();
        for side in 0..self.sides {
            let (cos, sin) = cos_sin_deg(step_deg * f64::from(side));
            let along = |s: f64| {
                [
                    self.flat_distance_mm * cos - s * sin,
                    self.flat_distance_mm * sin + s * cos,
                ]
            };
            if self.edge_chamfer_mm > 0.0 {
                outline.push(along(-half_mm));
            }
            outline.push(along(half_mm));
        }
        Ok(outline)
    }
}

/// A body turned about the z axis from `(height, radius)` pairs in rising order, closed at both
/// ends; a radius of 0 at an end makes a point. Two pairs of equal height make a step.
///
/// # Guarantees
/// Circumscribed: contains the round body, up to rounding in the last digits. Inscribed: lies
/// inside it, and the chord allowance of the mesh is the greatest distance between the two.
///
/// # Errors
/// When the profile makes no body.
pub fn revolved(
    profile_mm: &[(f64, f64)],
    segments: u32,
    roundness: Roundness,
) -> Result<Mesh, SolidError> {
    check_profile(profile_mm, segments)?;
    let half_turn = std::f64::consts::PI / f64::from(segments);
    let widest_mm = profile_mm
        .iter()
        .fold(0.0_f64, |widest, (_, radius)| widest.max(*radius));
    let (scale, allowance_mm) = match roundness {
        Roundness::Circumscribed => (half_turn.cos().recip(), 0.0),
        Roundness::Inscribed => (1.0, widest_mm * (1.0 - half_turn.cos())),
    };
    let ring = |&(height, radius): &(f64, f64)| circle(segments, radius * scale, height);
    let rings: Vec<Vec<Point3<f64>>> = profile_mm.iter().map(ring).collect();
    let mut triangles = Vec::new();
    let (first, last) = (&rings[0], &rings[rings.len() - 1]);
    let axis_point = |ring: &[Point3<f64>]| Point3::new(0.0, 0.0, ring[0].z);
    for (k, next) in (0..first.len()).map(|k| (k, (k + 1) % first.len())) {
        // Where the radius is 0 these have no area, and are left out below.
        triangles.push([axis_point(first), first[next], first[k]]);
        triangles.push([axis_point(last), last[k], last[next]]);
    }
    for pair in rings.windows(2) {
        wall(&pair[0], &pair[1], &mut triangles);
    }
    triangles.retain(|[a, b, c]| a != b && b != c && c != a);
    closed_mesh(&triangles, allowance_mm)
}

fn check_profile(profile_mm: &[(f64, f64)], segments: u32) -> Result<(), SolidError> {
    if segments < 3 {
        return Err(SolidError::TooFewSides);
    }
    let last = profile_mm.len().saturating_sub(1);
    let rises = profile_mm
        .windows(2)
        .all(|pair| pair[0].0 <= pair[1].0 && pair[0] != pair[1]);
    let radii_fit = profile_mm
        .iter()
        .enumerate()
        .all(|(index, &(height, radius))| {
            let may_be_zero = index == 0 || index == last;
            height.is_finite() && (radius > 0.0 || (may_be_zero && radius == 0.0))
        });
    let has_height = last > 0 && profile_mm[0].0 < profile_mm[last].0;
    // A flat end with its axis point as a pair of its own would make that face twice.
    let ends_fit = last > 0
        && (profile_mm[0].1 > 0.0 || profile_mm[0].0 < profile_mm[1].0)
        && (profile_mm[last].1 > 0.0 || profile_mm[last - 1].0 < profile_mm[last].0);
    let has_radius = profile_mm.iter().any(|(_, radius)| *radius > 0.0);
    let fits = rises && radii_fit && has_height && ends_fit && has_radius;
    if fits {
        Ok(())
    } else {
        Err(SolidError::BadProfile)
    }
}

/// Points of a circle, counter-clockwise seen from +z, the first on +x; quarter turns are exact.
fn circle(segments: u32, radius_mm: f64, z_mm: f64) -> Vec<Point3<f64>> {
    let point = |k: u32| {
        let (cos, sin) = cos_sin_deg(360.0 * f64::from(k) / f64::from(segments));
        Point3::new(radius_mm * cos, radius_mm * sin, z_mm)
    };
    (0..segments).map(point).collect()
}

/// Two triangles for each step between two rings; outward for a counter-clockwise ring going up.
fn wall(lower: &[Point3<f64>], upper: &[Point3<f64>], triangles: &mut Vec<[Point3<f64>; 3]>) {
    for k in 0..lower.len() {
        let next = (k + 1) % lower.len();
        triangles.push([lower[k], lower[next], upper[next]]);
        triangles.push([lower[k], upper[next], upper[k]]);
    }
}

/// Distance from the axis to the nearest side of a convex outline round it.
fn inner_distance(outline: &[[f64; 2]]) -> f64 {
    let ends = outline.iter().zip(outline.iter().cycle().skip(1));
    ends.map(|(a, b)| (a[0] * b[1] - a[1] * b[0]) / (b[0] - a[0]).hypot(b[1] - a[1]))
        .fold(f64::INFINITY, f64::min)
}

/// The flat face between two counter-clockwise rings round the axis.
///
/// Stepping where the middle of the next side comes first keeps every triangle clear of the hole:
/// a corner at radius R sees the hole of radius r as far as acos(r/R) to either side, and half a
/// side is less, as long as the hole is within [`BORE_SHARE`] of the sides.
fn ring_face(
    outer: &[Point3<f64>],
    inner: &[Point3<f64>],
    triangles: &mut Vec<[Point3<f64>; 3]>,
    facing_down: bool,
) {
    let turn = std::f64::consts::TAU;
    let start = outer[0].y.atan2(outer[0].x);
    let past_start = |p: &Point3<f64>| (p.y.atan2(p.x) - start).rem_euclid(turn);
    let mut inner = inner.to_vec();
    let nearest = (0..inner.len())
        .min_by(|&a, &b| past_start(&inner[a]).total_cmp(&past_start(&inner[b])))
        .unwrap_or(0);
    inner.rotate_left(nearest);
    let middles = |ring: &[Point3<f64>]| {
        let mut angles: Vec<f64> = ring.iter().map(past_start).collect();
        angles[0] %= turn;
        angles.push(angles[0] + turn);
        angles
            .windows(2)
            .map(|pair| f64::midpoint(pair[0], pair[1]))
            .collect::<Vec<_>>()
    };
    let (outer_middles, inner_middles) = (middles(outer), middles(&inner));
    let (mut i, mut j) = (0, 0);
    while i < outer.len() || j < inner.len() {
        let steps_outer =
            j == inner.len() || (i < outer.len() && outer_middles[i] <= inner_middles[j]);
        let (a, b) = (outer[i % outer.len()], inner[j % inner.len()]);
        let triangle = if steps_outer {
            i += 1;
            [a, outer[i % outer.len()], b]
        } else {
            j += 1;
            [a, inner[j % inner.len()], b]
        };
        let [p, q, r] = triangle;
        triangles.push(if facing_down { [p, r, q] } else { triangle });
    }
}

fn closed_mesh(triangles: &[[Point3<f64>; 3]], allowance_mm: f64) -> Result<Mesh, SolidError> {
    let (mesh, faults) = Mesh::from_triangles(triangles, Chord::Stated(allowance_mm))
        .map_err(|_| SolidError::Degenerate)?;
    let sound = faults
        .iter()
        .all(|fault| fault.kind == FaultKind::CoarseCoordinates)
        && mesh.shells.iter().all(|shell| shell.closed);
    if sound {
        Ok(mesh)
    } else {
        Err(SolidError::Degenerate)
    }
}
