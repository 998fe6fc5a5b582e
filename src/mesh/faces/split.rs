//! The split: from the largest facet down, each seed becomes a flat or a round face.

use super::bonds::NONE;
use super::corners::Corner;
use super::extent::extent;
use super::facets::Facets;
use super::fit::{CURVED, Kind};
use super::grow::{Grower, Measure, Region};
use super::surface::Surface;
use crate::mesh::SMOOTH_BELOW_DEG;
use crate::mesh::weld::index_u32;
use rayon::prelude::*;

/// Facets of 8 to 11 a turn meet at more than the smooth limit and at most this.
const COARSE_BELOW_DEG: f64 = 46.0;

/// A ring of 8 to 11 facets counts as round only below this chord error: larger ones are prisms
/// that are meant. A bore of 26 mm in 8 facets has 1 mm.
const COARSE_SAG_MM: f64 = 1.0;

/// A round face must be this much larger than the flat one that its seed makes.
const GAIN: f64 = 1.3;

/// A slice of a cone near its apex is as good as a cylinder; one that reaches farther is not.
const WIDE_DEG: f64 = 45.0;

/// What the rim of a flat region looks like.
struct RimView {
    /// Length of rim over which the surface goes on smoothly, and not into a finished face.
    smooth_mm: f64,
    /// Width of the region between smooth rims.
    width_mm: f64,
    /// Width below which a region is no more than a facet of a round face with such neighbours.
    facet_mm: f64,
    /// 1 where smooth rims look all one way, 0 where they lie opposite each other.
    one_sided: f64,
    /// Whether it turns by 31 to 46 degrees somewhere.
    coarse: bool,
}

/// Regions claimed; `Grower::owner` holds the index for each facet.
pub(super) fn split<'a>(all: &'a Facets<'a>, measure: Measure) -> (Vec<Region>, Grower<'a>) {
    let mut grower = Grower::new(all, measure);
    let mut order: Vec<u32> = (0..index_u32(all.len())).collect();
    let area = |f: &u32| all.shape[*f as usize].area_mm2;
    order.par_sort_by(|a, b| area(b).total_cmp(&area(a)));
    let mut regions: Vec<Region> = Vec::new();
    let mut tried = vec![false; all.len()];
    let mut failures = 0_usize;
    for &seed in &order {
        if !grower.is_free(seed) || tried[seed as usize] {
            continue;
        }
        let Some(flat) = grower.flat(seed) else {
            continue;
        };
        match best(&mut grower, seed, flat) {
            Ok(region) => claim(&mut grower, &mut regions, region),
            Err(flat) => {
                failures += 1;
                // On a free-form surface every seed fails: look less and less closely.
                let rings = 1 + (failures / 256).ilog2_or_zero();
                let patch = grower.rings(&flat.facets, rings, smooth_cos());
                patch.iter().for_each(|t| tried[*t as usize] = true);
            }
        }
    }
    // What was looked at before its neighbours had a face may be a flat between two of them.
    for seed in order.into_iter().filter(|seed| tried[*seed as usize]) {
        if grower.is_free(seed)
            && let Some(flat) = grower.flat(seed)
            && rim_view(&mut grower, &flat).smooth_mm == 0.0
        {
            claim(&mut grower, &mut regions, flat);
        }
    }
    (regions, grower)
}

fn claim(grower: &mut Grower<'_>, regions: &mut Vec<Region>, region: Region) {
    for &facet in &region.facets {
        grower.owner[facet as usize] = index_u32(regions.len());
    }
    regions.push(region);
}

trait Log2 {
    fn ilog2_or_zero(self) -> usize;
}

impl Log2 for usize {
    fn ilog2_or_zero(self) -> usize {
        self.checked_ilog2().map_or(0, |log| log as usize + 1)
    }
}

fn smooth_cos() -> f64 {
    SMOOTH_BELOW_DEG.to_radians().cos()
}

/// The face that a seed makes; the flat region again where it makes none.
fn best(grower: &mut Grower<'_>, seed: u32, flat: Region) -> Result<Region, Region> {
    let view = rim_view(grower, &flat);
    let plain = view.smooth_mm == 0.0 || view.width_mm > 4.0 * view.facet_mm;
    if plain && !view.coarse {
        return Ok(flat);
    }
    if !plain && let Some(round) = round(grower, seed, &flat, smooth_cos(), false) {
        return Ok(round);
    }
    let coarse_cos = COARSE_BELOW_DEG.to_radians().cos();
    if view.coarse
        && let Some(round) = round(grower, seed, &flat, coarse_cos, true)
    {
        return Ok(round);
    }
    if plain || view.one_sided > 0.8 || view.width_mm > view.facet_mm {
        Ok(flat)
    } else {
        Err(flat)
    }
}

fn rim_view(grower: &mut Grower<'_>, flat: &Region) -> RimView {
    let all = grower.all;
    grower.mark(&flat.facets);
    let tolerance_mm = grower.measure.tolerance_mm;
    let coarse_cos = COARSE_BELOW_DEG.to_radians().cos();
    let (mut smooth_mm, mut facets, mut coarse) = (0.0, 0.0, false);
    let mut outward = crate::value::Vec3::zeros();
    let this = &*grower;
    all.rims(
        &flat.facets,
        |t| this.in_last(t),
        |rim| {
            if rim.outside == NONE || !this.is_free(rim.outside) {
                return;
            }
            let (one, two) = (
                &all.shape[rim.inside as usize],
                &all.shape[rim.outside as usize],
            );
            let cosine = all.turn_cos(rim.inside, rim.outside);
            let edge = rim.to - rim.from;
            let length_mm = edge.norm();
            if cosine < smooth_cos() {
                coarse |= cosine >= coarse_cos;
                return;
            }
            let width_mm = all.width_mm(rim.outside, rim.from, rim.to);
            let turn_rad = one.normal.cross(&two.normal).norm().asin().max(1e-6);
            let radius_mm = width_mm / turn_rad;
            let by_angle = radius_mm * 0.0035;
            let flattened_mm = 2.0 * by_angle.min((2.0 * radius_mm * tolerance_mm).sqrt());
            smooth_mm += length_mm;
            facets += length_mm * (1.7 * width_mm + flattened_mm);
            outward += edge.cross(&one.normal);
        },
    );
    let long = smooth_mm.max(f64::MIN_POSITIVE);
    RimView {
        smooth_mm,
        width_mm: 2.0 * all.area_mm2(&flat.facets) / long,
        facet_mm: facets / long,
        one_sided: outward.norm() / long,
        coarse,
    }
}

/// The simplest round face round a seed, where there is one.
fn round(
    grower: &mut Grower<'_>,
    seed: u32,
    flat: &Region,
    least_cos: f64,
    coarse: bool,
) -> Option<Region> {
    let all = grower.all;
    let near = grower.rings(&flat.facets, 1, least_cos);
    let far = grower.rings(&flat.facets, 2, least_cos);
    let [half_mm, second_mm] = grower.long_mm(&flat.facets);
    let strip = grower.along_strip(&flat.facets, 4, least_cos, half_mm);
    let wide = grower.rings(&flat.facets, 5, least_cos);
    // What a round face must gain over the flat one, and a less simple one over a simpler.
    let mut least_mm2 = all.area_mm2(&flat.facets) * GAIN;
    let mut best = None;
    for kind in CURVED {
        let far = Some(&far).filter(|far| far.len() > near.len());
        let wide = Some(&wide).filter(|_| !matches!(kind, Kind::Cylinder));
        for patch in [far, Some(&near), Some(&strip), wide].into_iter().flatten() {
            // A small patch lies on any sphere or torus.
            if matches!(kind, Kind::Sphere | Kind::Torus) && all.least_triangles(patch) < 6 {
                continue;
            }
            if grower.is_rejected(kind, seed) {
                break;
            }
            let Some(region) = grower.curved(kind, seed, patch, coarse) else {
                continue;
            };
            let area_mm2 = all.area_mm2(&region.facets);
            if area_mm2 < least_mm2 {
                continue;
            }
            match evidence(grower, kind, &region, coarse) {
                Evidence::None => {
                    // Its other triangles need not try the same again.
                    grower.reject(kind, &region.facets);
                    continue;
                }
                // All vertices lie on it, not only nearly. A row of facets on a sphere lies on a
                // cone, too, so cones are held against what follows.
                Evidence::Exact { wide: true } if kind == Kind::Cylinder || coarse => {
                    return Some(region);
                }
                Evidence::Exact { .. } => {}
                Evidence::Near => {}
            }
            least_mm2 = area_mm2 * GAIN;
            best = Some(region);
            break;
        }
        if kind == Kind::Cylinder && best.is_none() && !coarse {
            let slim = grower.along_strip(&flat.facets, 4, least_cos, second_mm);
            if let Some(region) = ring(grower, seed, &slim) {
                return Some(region);
            }
        }
    }
    best
}

/// A cylinder that goes on into a fillet at one end, and ends clearly at the other. Its facets may be as high as they
/// are wide, so that all patches but that along its narrow sides hold facets of the fillet; the first of
/// these may lie on it nearly, and draw it aside.
fn ring(grower: &mut Grower<'_>, seed: u32, slim: &[u32]) -> Option<Region> {
    let usual = grower.curved(Kind::Cylinder, seed, slim, false);
    let regions = usual
        .into_iter()
        .chain(grower.curved_exactly(Kind::Cylinder, seed, slim));
    for region in regions.collect::<Vec<_>>() {
        let sure = evidence(grower, Kind::Cylinder, &region, false);
        if matches!(sure, Evidence::Exact { wide: true }) && smooth_share(grower, &region) < 0.75 {
            return Some(region);
        }
    }
    None
}

/// Share of the rim of a region over which the surface goes on smoothly: all of it round a row of facets of a torus.
fn smooth_share(grower: &mut Grower<'_>, region: &Region) -> f64 {
    let all = grower.all;
    grower.mark(&region.facets);
    let (mut all_mm, mut smooth_mm) = (0.0, 0.0);
    let this = &*grower;
    all.rims(
        &region.facets,
        |t| this.in_last(t),
        |rim| {
            let length_mm = (rim.to - rim.from).norm();
            all_mm += length_mm;
            if rim.outside != NONE && all.turn_cos(rim.inside, rim.outside) >= smooth_cos() {
                smooth_mm += length_mm;
            }
        },
    );
    smooth_mm / all_mm.max(f64::MIN_POSITIVE)
}

/// How sure it is that a region is a face.
enum Evidence {
    None,
    /// Within the tolerance.
    Near,
    /// Within the noise of the mesh; `wide` where it reaches far round its axis.
    Exact {
        wide: bool,
    },
}

/// Whether so much evidence is there that the region is no chance.
fn evidence(grower: &mut Grower<'_>, kind: Kind, region: &Region, coarse: bool) -> Evidence {
    let all = grower.all;
    let facets = &region.facets;
    let tolerance_mm = grower.measure.tolerance_mm;
    // A corner that lies on a chord says nothing of the surface.
    let off = |v: u32| {
        region
            .surface
            .distance(&all.geo.canon.vertices[v as usize])
            .abs()
    };
    let counts = |c: &Corner| !kind.is_loose(c.hold) || off(c.vertex) <= tolerance_mm;
    let corners = facets.iter().flat_map(|f| all.corners(*f));
    let mut vertices: Vec<u32> = corners.filter(|c| counts(c)).map(|c| c.vertex).collect();
    vertices.sort_unstable();
    vertices.dedup();
    let mut wide = false;
    let enough = match region.surface {
        Surface::Cylinder { radius, .. } | Surface::Cone { radius, .. } => {
            let Some(axis) = region.surface.axis() else {
                return Evidence::None;
            };
            let grain_rad = (4.0 * tolerance_mm / radius).clamp(2e-4, 0.05);
            let piece = |f: &u32| all.corners(*f).iter().map(|c| (all.at(c), counts(c)));
            let extent = extent(facets.iter().map(piece), axis, grain_rad);
            if coarse {
                let sags = facets.iter().map(|f| grower.sag(&region.surface, *f));
                let ring = extent.turn_deg > 359.0
                    && (8..12).contains(&extent.lines)
                    && extent.step_ratio < 1.05
                    && sags.fold(0.0, f64::max) <= COARSE_SAG_MM;
                return if ring {
                    Evidence::Exact { wide: true }
                } else {
                    Evidence::None
                };
            }
            // Three vertices more than it has sizes: fewer lie on some cylinder or cone by chance.
            wide = extent.turn_deg > WIDE_DEG;
            let is_cone = matches!(region.surface, Surface::Cone { .. });
            let redundant = vertices.len() >= if is_cone { 9 } else { 8 };
            let even = extent.lines == 4 && !is_cone && extent.step_ratio < 2.5;
            redundant && (extent.lines >= 5 || even)
        }
        Surface::Sphere { .. } => all.least_triangles(facets) >= 6 && vertices.len() >= 8,
        Surface::Torus { .. } => all.least_triangles(facets) >= 10 && vertices.len() >= 12,
        Surface::Plane { .. } => true,
    };
    if !enough || coarse {
        return Evidence::None;
    }
    let worst_mm = vertices.iter().map(|v| off(*v)).fold(0.0, f64::max);
    if worst_mm <= grower.measure.exact_mm() {
        Evidence::Exact { wide }
    } else if ends_clearly(grower, region) {
        Evidence::Near
    } else {
        Evidence::None
    }
}

/// Whether the surface goes on beside the region in another way, and not only by a little more
/// than the tolerance: then the region is a piece of something else.
fn ends_clearly(grower: &mut Grower<'_>, region: &Region) -> bool {
    let all = grower.all;
    grower.mark(&region.facets);
    let near_mm = 8.0 * grower.measure.tolerance_mm;
    let (mut all_mm, mut near) = (0.0, 0.0);
    let this = &*grower;
    all.rims(
        &region.facets,
        |t| this.in_last(t),
        |rim| {
            let length_mm = (rim.to - rim.from).norm();
            all_mm += length_mm;
            if rim.outside == NONE
                || !this.is_free(rim.outside)
                || all.turn_cos(rim.inside, rim.outside) < smooth_cos()
            {
                return;
            }
            let mut corners = all.points(rim.outside);
            if corners.all(|p| region.surface.distance(&p).abs() <= near_mm) {
                near += length_mm;
            }
        },
    );
    near <= 0.25 * all_mm
}
