//! After the split: slivers join the face they lie on, pieces of one surface join, the rest is
//! `other`.

use super::bonds::NONE;
use super::fit;
use super::geo::Geo;
use super::grow::{Grower, Measure, Region};
use super::surface::Surface;
use crate::mesh::SMOOTH_BELOW_DEG;
use crate::mesh::weld::index_u32;
use std::collections::BTreeMap;

/// Height of a triangle, over its longest edge, below which its normal says little.
const SLIVER_RATIO: f64 = 0.02;

/// Regions with a surface, and those of no known form.
pub(super) struct Mended {
    pub(super) regions: Vec<Region>,
    pub(super) others: Vec<Vec<u32>>,
}

/// Puts the pieces together.
pub(super) fn mend(mut regions: Vec<Region>, mut grower: Grower<'_>) -> Mended {
    let geo = grower.geo;
    release_crumbs(&mut regions, &mut grower);
    absorb(&mut regions, &mut grower);
    let regions = join(geo, grower.measure, regions, &mut grower.owner);
    let others = others(geo, &grower.owner);
    Mended { regions, others }
}

fn smooth_cos() -> f64 {
    SMOOTH_BELOW_DEG.to_radians().cos()
}

/// Flats of one or two triangles beside a surface of no form belong to it, not to themselves.
fn release_crumbs(regions: &mut [Region], grower: &mut Grower<'_>) {
    let geo = grower.geo;
    for region in regions.iter_mut() {
        let is_crumb =
            matches!(region.surface, Surface::Plane { .. }) && region.triangles.len() <= 2;
        let goes_on = |t: &u32| {
            let free = |other: &u32| grower.owner[*other as usize] == NONE;
            geo.bonds
                .of(*t)
                .filter(free)
                .any(|other| geo.turn_cos(*t, other) >= smooth_cos())
        };
        if is_crumb && region.triangles.iter().any(goes_on) {
            for triangle in region.triangles.drain(..) {
                grower.owner[triangle as usize] = NONE;
            }
        }
    }
}

/// Free triangles whose corners lie on the surface of a neighbour join it.
fn absorb(regions: &mut [Region], grower: &mut Grower<'_>) {
    let geo = grower.geo;
    let mut queue: Vec<u32> = (0..index_u32(geo.len()))
        .filter(|t| grower.owner[*t as usize] == NONE)
        .collect();
    while !queue.is_empty() {
        let mut joined: Vec<(u32, u32)> = Vec::new();
        for &triangle in &queue {
            let owners = geo
                .bonds
                .of(triangle)
                .map(|other| grower.owner[other as usize]);
            let found = owners
                .filter(|owner| *owner != NONE)
                .filter(|owner| belongs(grower, &regions[*owner as usize], triangle))
                .min();
            joined.extend(found.map(|owner| (triangle, owner)));
        }
        let mut next = Vec::new();
        for &(triangle, owner) in &joined {
            grower.owner[triangle as usize] = owner;
            regions[owner as usize].triangles.push(triangle);
        }
        for &(triangle, _) in &joined {
            next.extend(
                geo.bonds
                    .of(triangle)
                    .filter(|other| grower.is_free(*other)),
            );
        }
        next.sort_unstable();
        next.dedup();
        queue = next;
    }
}

fn belongs(grower: &Grower<'_>, region: &Region, triangle: u32) -> bool {
    let geo = grower.geo;
    let Measure {
        tolerance_mm,
        noise_mm,
    } = grower.measure;
    let corners = geo.corners(triangle);
    if !corners
        .iter()
        .all(|p| region.surface.distance(p).abs() <= tolerance_mm)
    {
        return false;
    }
    let shape = &geo.shape[triangle as usize];
    let longest_mm = 2.0 * shape.area_mm2 / shape.altitude_mm.max(f64::MIN_POSITIVE);
    let sliver =
        shape.altitude_mm < SLIVER_RATIO * longest_mm || shape.altitude_mm < 20.0 * noise_mm;
    sliver && grower.sag(&region.surface, triangle) <= 10.0 * tolerance_mm
}

/// Neighbouring regions of one kind that lie on one surface become one.
fn join(geo: &Geo, measure: Measure, regions: Vec<Region>, owner: &mut [u32]) -> Vec<Region> {
    let mut parent: Vec<u32> = (0..index_u32(regions.len())).collect();
    let mut pairs: Vec<(u32, u32)> = Vec::new();
    for triangle in 0..index_u32(geo.len()) {
        let own = owner[triangle as usize];
        let others = geo.bonds.of(triangle).map(|other| owner[other as usize]);
        pairs.extend(
            others
                .filter(|o| own != NONE && *o != NONE && own < *o)
                .map(|o| (own, o)),
        );
    }
    pairs.sort_unstable();
    pairs.dedup();
    for (a, b) in pairs {
        if same_surface(geo, measure, &regions[a as usize], &regions[b as usize]) {
            let (a, b) = (root(&parent, a), root(&parent, b));
            parent[a.max(b) as usize] = a.min(b);
        }
    }
    let mut groups: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for index in 0..index_u32(regions.len()) {
        groups.entry(root(&parent, index)).or_default().push(index);
    }
    let mut joined = Vec::new();
    for (first, members) in groups {
        let mut triangles: Vec<u32> = members
            .iter()
            .flat_map(|index| regions[*index as usize].triangles.iter().copied())
            .collect();
        if triangles.is_empty() {
            continue;
        }
        triangles.sort_unstable();
        let Region {
            mut surface,
            hollow,
            ..
        } = regions[first as usize];
        let fitted = match surface {
            Surface::Plane { .. } => fit::plane(geo, &triangles),
            _ if members.len() > 1 => {
                Some(surface.refined(&fit::points(geo, &triangles), 10.0 * measure.tolerance_mm))
            }
            _ => None,
        };
        surface = fitted.unwrap_or(surface);
        for &triangle in &triangles {
            owner[triangle as usize] = index_u32(joined.len());
        }
        joined.push(Region {
            surface,
            triangles,
            hollow,
        });
    }
    joined
}

fn root(parent: &[u32], mut index: u32) -> u32 {
    while parent[index as usize] != index {
        index = parent[index as usize];
    }
    index
}

fn same_surface(geo: &Geo, measure: Measure, a: &Region, b: &Region) -> bool {
    let same_kind = std::mem::discriminant(&a.surface) == std::mem::discriminant(&b.surface);
    if !same_kind || a.hollow != b.hollow || a.triangles.is_empty() || b.triangles.is_empty() {
        return false;
    }
    if let (Surface::Plane { normal: one, .. }, Surface::Plane { normal: two, .. }) =
        (&a.surface, &b.surface)
        && one.dot(two) < 0.999_99
    {
        return false;
    }
    let (large, small) = if a.triangles.len() >= b.triangles.len() {
        (a, b)
    } else {
        (b, a)
    };
    let points = fit::points(geo, &small.triangles);
    points
        .iter()
        .all(|p| large.surface.distance(p).abs() <= measure.tolerance_mm)
}

/// Free triangles that hang together smoothly.
fn others(geo: &Geo, owner: &[u32]) -> Vec<Vec<u32>> {
    let mut seen = vec![false; geo.len()];
    let mut others = Vec::new();
    for start in 0..index_u32(geo.len()) {
        if owner[start as usize] != NONE || seen[start as usize] {
            continue;
        }
        seen[start as usize] = true;
        let mut piece = vec![start];
        let mut next = 0;
        while next < piece.len() {
            for other in geo.bonds.of(piece[next]) {
                let free = owner[other as usize] == NONE && !seen[other as usize];
                if free && geo.turn_cos(piece[next], other) >= smooth_cos() {
                    seen[other as usize] = true;
                    piece.push(other);
                }
            }
            next += 1;
        }
        piece.sort_unstable();
        others.push(piece);
    }
    others
}
