//! Regions of triangles that lie on one surface.

use super::bonds::NONE;
use super::fit::{self, Kind};
use super::geo::Geo;
use super::surface::Surface;

/// How near is on the surface.
#[derive(Debug, Clone, Copy)]
pub(super) struct Measure {
    /// Farthest that a vertex of a face may lie from its form.
    pub(super) tolerance_mm: f64,
    /// How far off vertices are by rounding and noise.
    pub(super) noise_mm: f64,
}

/// A surface with its triangles.
pub(super) struct Region {
    pub(super) surface: Surface,
    pub(super) triangles: Vec<u32>,
    /// Whether the material is on the side away from the axis or centre.
    pub(super) hollow: bool,
}

/// Grows regions over triangles that no face has claimed.
pub(super) struct Grower<'a> {
    pub(super) geo: &'a Geo,
    pub(super) measure: Measure,
    /// Face of each triangle so far.
    pub(super) owner: Vec<u32>,
    /// Kinds, as bits, of the regions that were given up and hold a triangle.
    rejected: Vec<u8>,
    stamps: Vec<u32>,
    stamp: u32,
}

/// Sine of the angle by which a triangle of a flat face may turn from it, beside noise: 0.2
/// degrees. A round face of 100 mm radius with facets of 0.35 mm is then no row of flats.
const FLAT_SINE: f64 = 0.0035;

/// Cosine of the angle between a triangle and the surface below its middle: 36 degrees. With 12
/// facets a turn the corners of a facet are 15 degrees off, and triangles that run askew twice
/// as much.
const ROUND_COS: f64 = 0.81;

/// Middles of edges may lie this many times deeper below a surface than is usual on it: 9 is a
/// facet three times as wide. A flat cut along a shaft stays out.
const SAG_RATIO: f64 = 9.0;

/// Deepest usual chord error over the radius: 12 facets a turn have 0.034, a countersink of 9 has
/// 0.041. The corners of a box lie
/// on a sphere, too, but its sides are no facets of it.
const DEEPEST_SAG: f64 = 0.05;

impl<'a> Grower<'a> {
    pub(super) fn new(geo: &'a Geo, measure: Measure) -> Self {
        let count = geo.len();
        Self {
            geo,
            measure,
            owner: vec![NONE; count],
            rejected: vec![0; count],
            stamps: vec![0; count],
            stamp: 0,
        }
    }

    pub(super) fn reject(&mut self, kind: Kind, region: &[u32]) {
        for &triangle in region {
            self.rejected[triangle as usize] |= 1 << kind as u8;
        }
    }

    pub(super) fn is_rejected(&self, kind: Kind, triangle: u32) -> bool {
        self.rejected[triangle as usize] >> kind as u8 & 1 == 1
    }

    pub(super) fn is_free(&self, triangle: u32) -> bool {
        self.owner[triangle as usize] == NONE
    }

    /// Whether the last region grown holds a triangle.
    pub(super) fn in_last(&self, triangle: u32) -> bool {
        self.stamps[triangle as usize] == self.stamp
    }

    /// Triangles that hang together with the first and pass a test, at most `most` of them.
    fn flood(&mut self, from: &[u32], most: usize, test: impl Fn(&Self, u32) -> bool) -> Vec<u32> {
        self.stamp += 1;
        let mut region: Vec<u32> = Vec::new();
        for &start in from {
            self.stamps[start as usize] = self.stamp;
            region.push(start);
        }
        let mut next = 0;
        while next < region.len() && region.len() < most {
            let geo = self.geo;
            for other in geo.bonds.of(region[next]) {
                let seen = self.in_last(other) || !self.is_free(other);
                if !seen && test(self, other) {
                    self.stamps[other as usize] = self.stamp;
                    region.push(other);
                }
            }
            next += 1;
        }
        region
    }

    /// Marks a region as the last one grown.
    pub(super) fn mark(&mut self, region: &[u32]) {
        self.stamp += 1;
        for &triangle in region {
            self.stamps[triangle as usize] = self.stamp;
        }
    }

    fn on_plane(&self, plane: &Surface, triangle: u32) -> bool {
        let Surface::Plane { normal, .. } = plane else {
            return false;
        };
        let shape = &self.geo.shape[triangle as usize];
        let sine = shape.normal.cross(normal).norm();
        let facing = shape.normal.dot(normal) > 0.0;
        let blur = 4.0 * self.measure.noise_mm / shape.altitude_mm;
        let turned = sine <= FLAT_SINE + blur && (facing || blur > 1.0);
        turned && self.vertices_on(plane, triangle, self.measure.tolerance_mm)
    }

    fn vertices_on(&self, surface: &Surface, triangle: u32, tolerance_mm: f64) -> bool {
        let corners = self.geo.corners(triangle);
        corners
            .iter()
            .all(|p| surface.distance(p).abs() <= tolerance_mm)
    }

    /// The flat region round a triangle.
    pub(super) fn flat(&mut self, seed: u32) -> Option<Region> {
        let geo = self.geo;
        let mut plane = fit::plane(geo, &[seed])?;
        let mut triangles = vec![seed];
        for _ in 0..2 {
            let before = triangles.len();
            let trial = plane;
            triangles = self.flood(&[seed], usize::MAX, |this, t| this.on_plane(&trial, t));
            plane = fit::plane(geo, &triangles)?;
            if triangles.len() == before {
                break;
            }
        }
        Some(Region {
            surface: plane,
            triangles,
            hollow: false,
        })
    }

    /// Free triangles round a region: so many rings over edges that turn by less than the smooth
    /// limit.
    pub(super) fn rings(&mut self, region: &[u32], rings: usize, least_cos: f64) -> Vec<u32> {
        self.mark(region);
        let geo = self.geo;
        let mut patch = region.to_vec();
        let mut first = 0;
        for _ in 0..rings {
            let last = patch.len();
            for index in first..last {
                for other in geo.bonds.of(patch[index]) {
                    let seen = self.in_last(other) || !self.is_free(other);
                    if !seen && geo.turn_cos(patch[index], other) >= least_cos {
                        self.stamps[other as usize] = self.stamp;
                        patch.push(other);
                    }
                }
            }
            first = last;
        }
        patch
    }

    /// Free triangles beside a region over its long edges, and on over theirs: along a strip of
    /// narrow facets, past what meets them at their ends.
    pub(super) fn along_strip(&mut self, region: &[u32], rings: usize, least_cos: f64) -> Vec<u32> {
        self.mark(region);
        let geo = self.geo;
        let square = |t: u32, corner: usize| {
            let corners = geo.corners(t);
            (corners[(corner + 1) % 3] - corners[corner]).norm_squared()
        };
        let edges = region
            .iter()
            .flat_map(|t| (0..3).map(|corner| square(*t, corner)));
        // Half the length of the longest.
        let long = 0.25 * edges.fold(0.0, f64::max);
        let mut patch = region.to_vec();
        let mut first = 0;
        for _ in 0..rings {
            let last = patch.len();
            for index in first..last {
                let triangle = patch[index];
                for corner in 0..3 {
                    let other = geo.bonds.over(triangle, corner);
                    let open = other == NONE || self.in_last(other) || !self.is_free(other);
                    let smooth = !open && geo.turn_cos(triangle, other) >= least_cos;
                    if smooth && square(triangle, corner) >= long {
                        self.stamps[other as usize] = self.stamp;
                        patch.push(other);
                    }
                }
            }
            first = last;
        }
        patch
    }

    /// The region of a curved surface round a seed, from a patch that should lie on it.
    pub(super) fn curved(
        &mut self,
        kind: Kind,
        seed: u32,
        patch: &[u32],
        coarse: bool,
    ) -> Option<Region> {
        let geo = self.geo;
        let tolerance_mm = self.measure.tolerance_mm;
        let mut surface = fit::curved(geo, kind, patch, 10.0 * tolerance_mm)?;
        if !patch
            .iter()
            .all(|t| self.vertices_on(&surface, *t, 2.0 * tolerance_mm))
        {
            return None;
        }
        let hollow = self.is_hollow(&surface, patch);
        let sag_mm = self.usual_sag(&surface, patch);
        if sag_mm > DEEPEST_SAG * surface.bend_mm() * if coarse { 3.0 } else { 1.0 } {
            return None;
        }
        let mut most = (patch.len() * 4).max(48);
        // While few triangles are known the surface may be a little off farther out.
        let mut slack = 2.0;
        let mut triangles = Vec::new();
        for _ in 0..12 {
            let trial = surface;
            let test = |this: &Self, t: u32| this.on_round(&trial, t, hollow, sag_mm, slack);
            if !test(self, seed) {
                return None;
            }
            let before = triangles.len();
            triangles = self.flood(&[seed], most, test);
            let complete = triangles.len() < most;
            if complete && slack <= 1.0 && triangles.len() == before {
                break;
            }
            surface = surface.refined(&fit::points(geo, &triangles), 10.0 * tolerance_mm);
            if !surface.is_sound() {
                return None;
            }
            if complete {
                slack = 1.0;
            }
            most = most.saturating_mul(8);
        }
        Some(Region {
            surface,
            triangles,
            hollow,
        })
    }

    fn is_hollow(&self, surface: &Surface, patch: &[u32]) -> bool {
        let outward = |t: &u32| {
            let shape = &self.geo.shape[*t as usize];
            surface.gradient(&self.geo.centre(*t)).dot(&shape.normal) * shape.area_mm2
        };
        patch.iter().map(outward).sum::<f64>() < 0.0
    }

    /// How deep the edges of a triangle lie below a surface.
    pub(super) fn sag(&self, surface: &Surface, triangle: u32) -> f64 {
        let [a, b, c] = self.geo.corners(triangle);
        [(a, b), (b, c), (c, a)]
            .map(|(p, q)| surface.distance(&nalgebra::center(&p, &q)).abs())
            .into_iter()
            .fold(0.0, f64::max)
    }

    fn usual_sag(&self, surface: &Surface, patch: &[u32]) -> f64 {
        let mut sags: Vec<f64> = patch.iter().map(|t| self.sag(surface, *t)).collect();
        sags.sort_unstable_by(f64::total_cmp);
        sags[sags.len() / 2].max(self.measure.tolerance_mm / SAG_RATIO)
    }

    fn on_round(
        &self,
        surface: &Surface,
        triangle: u32,
        hollow: bool,
        sag_mm: f64,
        slack: f64,
    ) -> bool {
        if !self.vertices_on(surface, triangle, self.measure.tolerance_mm * slack) {
            return false;
        }
        let shape = &self.geo.shape[triangle as usize];
        let facing = surface
            .gradient(&self.geo.centre(triangle))
            .dot(&shape.normal);
        let facing = if hollow { -facing } else { facing };
        let blurred = shape.altitude_mm < 20.0 * self.measure.noise_mm;
        (facing >= ROUND_COS || blurred) && self.sag(surface, triangle) <= sag_mm * SAG_RATIO
    }
}
