//! Regions of facets that lie on one surface.

use super::bonds::NONE;
use super::corners::Corner;
use super::facets::Facets;
use super::fit::{self, Kind};
use super::surface::{Surface, about};
use nalgebra::Point3;

/// How near is on the surface.
#[derive(Debug, Clone, Copy)]
pub(super) struct Measure {
    /// Farthest that a vertex of a face may lie from its form.
    pub(super) tolerance_mm: f64,
    /// How far off vertices are by rounding and noise.
    pub(super) noise_mm: f64,
    /// Largest radius of a torus.
    pub(super) largest_mm: f64,
}

impl Measure {
    /// What lies on a surface to the last, and not only nearly, is no farther off.
    pub(super) fn exact_mm(&self) -> f64 {
        (3.0 * self.noise_mm).max(0.1 * self.tolerance_mm)
    }
}

/// A surface with its facets.
pub(super) struct Region {
    pub(super) surface: Surface,
    pub(super) facets: Vec<u32>,
    /// Whether the material is on the side away from the axis or centre.
    pub(super) hollow: bool,
}

/// Grows regions over facets that no face has claimed.
pub(super) struct Grower<'a> {
    pub(super) all: &'a Facets<'a>,
    pub(super) measure: Measure,
    /// Face of each facet so far.
    pub(super) owner: Vec<u32>,
    /// Kinds, as bits, of the regions that were given up and hold a facet.
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

/// So many facets tell how deep facets of a surface usually lie.
const SAGS: usize = 32;

/// Deepest usual chord error over the radius: 12 facets a turn have 0.034, a countersink of 9 has
/// 0.041. The corners of a box lie
/// on a sphere, too, but its sides are no facets of it.
const DEEPEST_SAG: f64 = 0.05;

impl<'a> Grower<'a> {
    pub(super) fn new(all: &'a Facets<'a>, measure: Measure) -> Self {
        let count = all.len();
        Self {
            all,
            measure,
            owner: vec![NONE; count],
            rejected: vec![0; count],
            stamps: vec![0; count],
            stamp: 0,
        }
    }

    pub(super) fn reject(&mut self, kind: Kind, region: &[u32]) {
        for &facet in region {
            self.rejected[facet as usize] |= 1 << kind as u8;
        }
    }

    pub(super) fn is_rejected(&self, kind: Kind, facet: u32) -> bool {
        self.rejected[facet as usize] >> kind as u8 & 1 == 1
    }

    pub(super) fn is_free(&self, facet: u32) -> bool {
        self.owner[facet as usize] == NONE
    }

    /// Whether the last region grown holds a facet.
    pub(super) fn in_last(&self, facet: u32) -> bool {
        self.stamps[facet as usize] == self.stamp
    }

    /// Facets that hang together with the first and pass a test, at most `most` of them.
    fn flood(&mut self, from: &[u32], most: usize, test: impl Fn(&Self, u32) -> bool) -> Vec<u32> {
        self.stamp += 1;
        let mut region: Vec<u32> = Vec::new();
        for &start in from {
            self.stamps[start as usize] = self.stamp;
            region.push(start);
        }
        let mut next = 0;
        while next < region.len() && region.len() < most {
            let all = self.all;
            for other in all.of(region[next]) {
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
        for &facet in region {
            self.stamps[facet as usize] = self.stamp;
        }
    }

    fn on_plane(&self, plane: &Surface, facet: u32) -> bool {
        let Surface::Plane { normal, .. } = plane else {
            return false;
        };
        let shape = &self.all.shape[facet as usize];
        let sine = shape.normal.cross(normal).norm();
        let facing = shape.normal.dot(normal) > 0.0;
        let blur = 4.0 * self.measure.noise_mm / shape.altitude_mm;
        let turned = sine <= FLAT_SINE + blur && (facing || blur > 1.0);
        let tolerance_mm = self.measure.tolerance_mm;
        let mut corners = self.all.points(facet);
        turned && corners.all(|p| plane.distance(&p).abs() <= tolerance_mm)
    }

    /// Whether the corners of a facet lie on a round surface. Where its edge was cut by something
    /// else they may lie on the chord, no deeper than `chord_mm`.
    fn corners_on(&self, round: &Round, facet: u32, tolerance_mm: f64) -> bool {
        let on = |corner: &Corner| {
            let off_mm = round.surface.distance(&self.all.at(corner));
            let chord_mm = round.chord_mm.max(tolerance_mm);
            // Inside a circle the chord is nearer to the middle; across a saddle it is not.
            match round.surface {
                _ if !round.kind.is_loose(corner.hold) => off_mm.abs() <= tolerance_mm,
                Surface::Torus { .. } => off_mm.abs() <= chord_mm,
                _ => off_mm <= tolerance_mm && off_mm >= -chord_mm,
            }
        };
        self.all.corners(facet).iter().all(on)
    }

    /// The flat region round a facet.
    pub(super) fn flat(&mut self, seed: u32) -> Option<Region> {
        let all = self.all;
        let mut plane = fit::plane(all, &[seed])?;
        let mut facets = vec![seed];
        for _ in 0..2 {
            let before = facets.len();
            let trial = plane;
            facets = self.flood(&[seed], usize::MAX, |this, f| this.on_plane(&trial, f));
            plane = fit::plane(all, &facets)?;
            if facets.len() == before {
                break;
            }
        }
        Some(Region {
            surface: plane,
            facets,
            hollow: false,
        })
    }

    /// Free facets round a region: so many rings over edges that turn by less than the smooth
    /// limit.
    pub(super) fn rings(&mut self, region: &[u32], rings: usize, least_cos: f64) -> Vec<u32> {
        self.mark(region);
        let all = self.all;
        let mut patch = region.to_vec();
        let mut first = 0;
        for _ in 0..rings {
            let last = patch.len();
            for index in first..last {
                for other in all.of(patch[index]) {
                    let seen = self.in_last(other) || !self.is_free(other);
                    if !seen && all.turn_cos(patch[index], other) >= least_cos {
                        self.stamps[other as usize] = self.stamp;
                        patch.push(other);
                    }
                }
            }
            first = last;
        }
        patch
    }

    /// Which edges of a region are long: half the longest, and nearly the second longest.
    pub(super) fn long_mm(&self, region: &[u32]) -> [f64; 2] {
        let links = region.iter().flat_map(|facet| self.all.links(*facet));
        let longest = links.fold([0.0, 0.0], |[first, second]: [f64; 2], link| {
            let shorter = first.min(link.length_mm);
            [first.max(link.length_mm), second.max(shorter)]
        });
        [0.5 * longest[0], 0.99 * longest[1]]
    }

    /// Free facets beside a region over its long edges, and on over theirs: along a strip of
    /// narrow facets, past what meets them at their ends. Long is what is no shorter than `long_mm`.
    pub(super) fn along_strip(
        &mut self,
        region: &[u32],
        rings: usize,
        least_cos: f64,
        long_mm: f64,
    ) -> Vec<u32> {
        self.mark(region);
        let all = self.all;
        let mut patch = region.to_vec();
        let mut first = 0;
        for _ in 0..rings {
            let last = patch.len();
            for index in first..last {
                let facet = patch[index];
                for link in all.links(facet) {
                    let other = link.facet;
                    let open = self.in_last(other) || !self.is_free(other);
                    let smooth = !open && all.turn_cos(facet, other) >= least_cos;
                    if smooth && link.length_mm >= long_mm {
                        self.stamps[other as usize] = self.stamp;
                        patch.push(other);
                    }
                }
            }
            first = last;
        }
        patch
    }

    /// The same as [`Self::curved`] without what lies on the surface only nearly: the first facets of a
    /// fine fillet beside it, which would draw it aside.
    pub(super) fn curved_exactly(
        &mut self,
        kind: Kind,
        seed: u32,
        patch: &[u32],
    ) -> Option<Region> {
        let usual_mm = self.measure.tolerance_mm;
        // Less than is judged by: the last fit moves the surface a little.
        self.measure.tolerance_mm = 0.4 * self.measure.exact_mm();
        let region = self.curved(kind, seed, patch, false);
        self.measure.tolerance_mm = usual_mm;
        region
    }

    /// The region of a curved surface round a seed, from a patch that should lie on it.
    pub(super) fn curved(
        &mut self,
        kind: Kind,
        seed: u32,
        patch: &[u32],
        coarse: bool,
    ) -> Option<Region> {
        let tolerance_mm = self.measure.tolerance_mm;
        let surface = fit::curved(self.all, kind, patch, 10.0 * tolerance_mm)?;
        let sag_mm = self.usual_sag(&surface, patch);
        let mut round = Round {
            kind,
            surface,
            hollow: self.is_hollow(&surface, patch),
            chord_mm: if coarse { 0.0 } else { sag_mm * SAG_RATIO },
            sag_mm,
        };
        let on = |facet: &u32| self.corners_on(&round, *facet, 2.0 * tolerance_mm);
        if !patch.iter().all(on) {
            return None;
        }
        let bend_mm = self.bend_mm(&surface, patch);
        if sag_mm > DEEPEST_SAG * bend_mm * if coarse { 3.0 } else { 1.0 } {
            return None;
        }
        let mut most = (patch.len() * 4).max(48);
        // While few facets are known the surface may be a little off farther out.
        let mut slack = 2.0;
        let mut facets = Vec::new();
        for _ in 0..12 {
            let trial = round;
            let test = |this: &Self, f: u32| this.on_round(&trial, f, slack);
            if !test(self, seed) {
                return None;
            }
            let before = facets.len();
            facets = self.flood(&[seed], most, test);
            let complete = facets.len() < most;
            if complete && slack <= 1.0 && facets.len() == before {
                break;
            }
            let points = fit::points(self.all, kind, &facets);
            round.surface = round.surface.refined(&points, 10.0 * tolerance_mm);
            if !self.is_sound(&round.surface) {
                return None;
            }
            if complete {
                slack = 1.0;
            }
            most = most.saturating_mul(8);
        }
        Some(Region {
            surface: round.surface,
            facets,
            hollow: round.hollow,
        })
    }

    /// Whether a surface is one, and none that is far larger than the part: a torus so large is a
    /// cylinder with something wrong.
    fn is_sound(&self, surface: &Surface) -> bool {
        let major_mm = match surface {
            Surface::Torus { major, .. } => *major,
            _ => 0.0,
        };
        surface.is_sound() && major_mm <= self.measure.largest_mm
    }

    /// Smaller radius of a surface where a patch lies. Two rings of corners lie on a torus with a
    /// tube of any size, so that it is also held against how far from its axis they are; facets of a cone
    /// are deepest where it is widest.
    fn bend_mm(&self, surface: &Surface, patch: &[u32]) -> f64 {
        let Some((point, axis)) = surface.axis() else {
            return surface.bend_mm();
        };
        let points = patch.iter().flat_map(|facet| self.all.points(*facet));
        let reaches = points.map(|p| about(&point, &axis, &p).1);
        let farthest_mm = reaches.fold(0.0, f64::max);
        match surface {
            Surface::Torus { .. } => surface.bend_mm().min(farthest_mm),
            Surface::Cone { half_angle, .. } => farthest_mm / half_angle.cos(),
            _ => surface.bend_mm(),
        }
    }

    fn is_hollow(&self, surface: &Surface, patch: &[u32]) -> bool {
        let outward = |f: &u32| {
            let shape = &self.all.shape[*f as usize];
            surface.gradient(&self.all.centre(*f)).dot(&shape.normal) * shape.area_mm2
        };
        patch.iter().map(outward).sum::<f64>() < 0.0
    }

    /// How deep a facet lies below a surface.
    pub(super) fn sag(&self, surface: &Surface, facet: u32) -> f64 {
        let geo = self.all.geo;
        let deepest = |triangle: &u32| {
            let [a, b, c] = geo.corners(*triangle);
            let middles = [(a, b), (b, c), (c, a)].map(|(p, q)| nalgebra::center(&p, &q));
            let depths = middles.map(|p| surface.distance(&p).abs());
            depths.into_iter().fold(0.0, f64::max)
        };
        let triangles = self.all.triangles(facet).iter();
        triangles.map(deepest).fold(0.0, f64::max)
    }

    /// How deep facets of a patch lie below a surface: half of them deeper. Of many an even sample tells.
    fn usual_sag(&self, surface: &Surface, patch: &[u32]) -> f64 {
        let some = patch.iter().step_by((patch.len() / SAGS).max(1));
        let mut sags: Vec<f64> = some.map(|f| self.sag(surface, *f)).collect();
        let middle = sags.len() / 2;
        let (_, usual_mm, _) = sags.select_nth_unstable_by(middle, f64::total_cmp);
        usual_mm.max(self.measure.tolerance_mm / SAG_RATIO)
    }

    /// How deep facets of a round face may lie below it.
    pub(super) fn deepest(&self, region: &Region) -> f64 {
        self.usual_sag(&region.surface, &region.facets) * SAG_RATIO
    }

    /// Whether a triangle can be a piece of a facet of a round face: its corners lie on it, or below it and
    /// no deeper than facets do.
    pub(super) fn lies_on(&self, region: &Region, deepest_mm: f64, triangle: u32) -> bool {
        let (geo, surface) = (self.all.geo, &region.surface);
        let on = |corner: &Point3<f64>| {
            let off_mm = surface.distance(corner);
            (-deepest_mm..=self.measure.tolerance_mm).contains(&off_mm)
        };
        let middle = geo.centre(triangle);
        let facing = surface
            .gradient(&middle)
            .dot(&geo.shape[triangle as usize].normal);
        let facing = if region.hollow { -facing } else { facing };
        facing >= ROUND_COS && geo.corners(triangle).iter().all(on)
    }

    fn on_round(&self, round: &Round, facet: u32, slack: f64) -> bool {
        if !self.corners_on(round, facet, self.measure.tolerance_mm * slack) {
            return false;
        }
        let shape = &self.all.shape[facet as usize];
        let facing = round
            .surface
            .gradient(&self.all.centre(facet))
            .dot(&shape.normal);
        let facing = if round.hollow { -facing } else { facing };
        let blurred = shape.altitude_mm < 20.0 * self.measure.noise_mm;
        let deepest_mm = round.sag_mm * SAG_RATIO;
        (facing >= ROUND_COS || blurred) && self.sag(&round.surface, facet) <= deepest_mm
    }
}

/// A round surface that facets are held against.
#[derive(Clone, Copy)]
struct Round {
    kind: Kind,
    surface: Surface,
    hollow: bool,
    /// How deep facets usually lie below it.
    sag_mm: f64,
    /// How deep a corner may lie where a facet's edge was cut.
    chord_mm: f64,
}
