//! Chord allowance: by how much the true curved surface may stand outside its facets.
//!
//! An edge between two facets of a tessellated curve turns by a small angle `t`. Over a facet of
//! width `w` (measured square to the edge) an arc that turns by `t` rises by the sagitta
//! `w/2 * tan(t/4)`. Only convex edges count: on a concave surface (a bore) the facets stand inside
//! the hole, so gaps come out too small, which is safe.
//!
//! A doubly curved triangle is bulged across each of its edges, so the rises of its three edges
//! are added. For a right triangle with legs `a`, `b` on a sphere this gives
//! `(a^2 + b^2) / 8r = R^2 / 2r` with circumradius `R`: the true rise at the circumcentre. For an
//! equilateral one it gives 9/8 of it. On a cylinder the diagonal and the rim add nothing, and the
//! sum is exactly `r (1 - cos(pi/n))`.
//!
//! What this does not promise: a lone file cannot tell a coarse curve from a designed edge that
//! turns by less than [`SMOOTH_BELOW_DEG`] (then the allowance is too large: safe), nor see a curve
//! with fewer than 12 facets a turn, nor one whose facets are split lengthwise into coplanar
//! strips, nor one whose neighbouring facets differ in width by more than [`WIDTH_RATIO`]
//! (then it is too small: state it).

use super::edges::EdgeTable;
use super::weld::{Soup, index_u32};
use nalgebra::Vector3;

/// Edges that turn by less than this count as smooth.
///
/// A full turn in 12 facets turns 30 degrees at each edge; single precision adds little. At 45
/// degrees every chamfer would count as a curve. Held by `cylinder_of_twelve`, `chamfer_is_flat`.
pub const SMOOTH_BELOW_DEG: f64 = 31.0;

/// A wider facet counts as at most this many times as wide as its neighbour.
///
/// A flat face that runs tangentially into a fillet has a facet a hundred times narrower beside it;
/// with its full width a 1 mm fillet would get an allowance of a millimetre. The tangent edge turns
/// by half the angle, so the factor 2 leaves the fillet's own value. Held by `rounded_slab`.
pub const WIDTH_RATIO: f64 = 2.0;

/// Estimates above this are pointed out; common export tolerances are finer (common practice, no
/// source).
pub const LARGE_ALLOWANCE_MM: f64 = 0.25;

/// Where a chord allowance comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Chord {
    /// It is known: 0 for flat faces.
    Stated(f64),
    /// It is estimated from the angles between facets.
    Estimated,
}

/// Greatest estimated rises of a mesh.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Rises {
    /// Of convex surfaces, over any triangle.
    pub(super) convex_mm: f64,
    /// That triangle.
    pub(super) triangle: u32,
    /// Of hollow surfaces: how far facets stand out of the true surface of a bore or fillet.
    pub(super) hollow_mm: f64,
}

/// Greatest estimated rises over any triangle.
pub(super) fn estimate(soup: &Soup, edges: &EdgeTable) -> Rises {
    let mut facets: Vec<Facet> = soup.triangles.iter().map(|t| Facet::of(soup, *t)).collect();
    edges.for_each(|lower, higher, uses| {
        if let [one, two] = uses
            && one.forward != two.forward
        {
            // The one that runs from the lower to the higher vertex comes first.
            let (one, two) = if one.forward { (one, two) } else { (two, one) };
            let [one, two] = [one, two].map(|one| one.triangle as usize);
            let edge = soup.vertices[higher as usize] - soup.vertices[lower as usize];
            let rise_mm = rise_over_edge(&facets[one], &facets[two], edge);
            for facet in [one, two] {
                facets[facet].rise_mm += rise_mm.max(0.0);
                facets[facet].hollow_mm += (-rise_mm).max(0.0);
            }
        }
    });
    let mut rises = Rises::default();
    for (triangle, facet) in facets.iter().enumerate() {
        if facet.rise_mm > rises.convex_mm {
            rises.convex_mm = facet.rise_mm;
            rises.triangle = index_u32(triangle);
        }
        rises.hollow_mm = rises.hollow_mm.max(facet.hollow_mm);
    }
    rises
}

/// What the estimate needs of a triangle, side by side in memory.
#[derive(Clone, Copy)]
struct Facet {
    normal: Vector3<f64>,
    doubled_area_mm2: f64,
    /// Sum over its convex edges so far.
    rise_mm: f64,
    /// Sum over its hollow edges so far.
    hollow_mm: f64,
}

impl Facet {
    fn of(soup: &Soup, corners: [u32; 3]) -> Self {
        let [a, b, c] = corners.map(|corner| soup.vertices[corner as usize]);
        let cross = (b - a).cross(&(c - a));
        let doubled_area_mm2 = cross.norm();
        let scale = if doubled_area_mm2 > 0.0 {
            doubled_area_mm2.recip()
        } else {
            0.0
        };
        Self {
            normal: cross * scale,
            doubled_area_mm2,
            rise_mm: 0.0,
            hollow_mm: 0.0,
        }
    }
}

/// Rise over an edge, in the direction in which `one` runs along it; negative where it is hollow.
fn rise_over_edge(one: &Facet, two: &Facet, edge: Vector3<f64>) -> f64 {
    let cosine = one.normal.dot(&two.normal);
    if cosine < SMOOTH_BELOW_DEG.to_radians().cos() {
        return 0.0;
    }
    let turn = one.normal.cross(&two.normal);
    let sine = turn.norm();
    // Below this the planes are one within rounding of single precision.
    if sine < 1.0e-7 {
        return 0.0;
    }
    // The mark of a convex edge: top (+z) to side (+x) along +y turns about +y.
    let sign = turn.dot(&edge).signum();
    let length = edge.norm();
    let (w1, w2) = (one.doubled_area_mm2 / length, two.doubled_area_mm2 / length);
    let width = w1.max(w2).min(WIDTH_RATIO * w1.min(w2));
    // tan(t/2) and then tan(t/4), without a trigonometric call.
    let tan_half = sine / (1.0 + cosine);
    let tan_quarter = tan_half / (1.0 + (1.0 + tan_half * tan_half).sqrt());
    sign * 0.5 * width * tan_quarter
}
