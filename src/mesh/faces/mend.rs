//! After the split: slivers join the face they lie on, pieces of one surface join, the rest is
//! `other`.

use super::bonds::NONE;
use super::facets::Facets;
use super::fit;
use super::grow::{Grower, Measure, Region};
use super::surface::Surface;
use crate::mesh::SMOOTH_BELOW_DEG;
use crate::mesh::weld::index_u32;
use nalgebra::Point3;
use std::collections::BTreeMap;

/// Height of a triangle, over its longest edge, below which its normal says little.
const SLIVER_RATIO: f64 = 0.02;

/// Faces with a surface, and those of no known form, as triangles.
pub(super) struct Mended {
    pub(super) pieces: Vec<Piece>,
    pub(super) others: Vec<Vec<u32>>,
}

/// A surface with its triangles.
pub(super) struct Piece {
    pub(super) surface: Surface,
    pub(super) triangles: Vec<u32>,
    pub(super) hollow: bool,
    /// How far corners that should lie on it are off.
    pub(super) fit_error_mm: f64,
}

/// Puts the pieces together.
pub(super) fn mend(mut regions: Vec<Region>, mut grower: Grower<'_>) -> Mended {
    let all = grower.all;
    release_crumbs(&mut regions, &mut grower);
    absorb(&mut regions, &mut grower);
    let regions = join(all, grower.measure, regions, &mut grower.owner);
    let others = others(all, &grower.owner);
    let mut pieces: Vec<Piece> = regions.iter().map(|region| piece(all, region)).collect();
    share_out(&grower, &regions, &mut pieces);
    pieces.retain(|piece| !piece.triangles.is_empty());
    Mended {
        pieces,
        others: others.iter().map(|facets| triangles(all, facets)).collect(),
    }
}

fn triangles(all: &Facets<'_>, facets: &[u32]) -> Vec<u32> {
    let of = facets.iter().flat_map(|facet| all.triangles(*facet));
    let mut triangles: Vec<u32> = of.copied().collect();
    triangles.sort_unstable();
    triangles
}

fn piece(all: &Facets<'_>, region: &Region) -> Piece {
    let kind = fit::kind(&region.surface);
    let corners = region.facets.iter().flat_map(|facet| all.corners(*facet));
    let sure = corners.filter(|corner| kind.is_none_or(|kind| !kind.is_loose(corner.hold)));
    let off = sure.map(|corner| region.surface.distance(&all.at(corner)).abs());
    Piece {
        surface: region.surface,
        triangles: triangles(all, &region.facets),
        hollow: region.hollow,
        fit_error_mm: off.fold(0.0, f64::max),
    }
}

/// A facet that two round faces may share has no more corners than make so many triangles.
const SHARED_MOST: usize = 8;

/// Where one round face goes over into another that bends the other way, a facet of either can lie in one
/// plane: where both have the same step, they always do. Such a facet is no flat; each face gets
/// the triangles that lie on it.
fn share_out(grower: &Grower<'_>, regions: &[Region], pieces: &mut [Piece]) {
    let all = grower.all;
    for (index, region) in regions.iter().enumerate() {
        let is_plane = matches!(region.surface, Surface::Plane { .. });
        if !is_plane || all.least_triangles(&region.facets) > SHARED_MOST {
            continue;
        }
        let beside = region.facets.iter().flat_map(|facet| all.of(*facet));
        let mut owners: Vec<u32> = beside.map(|facet| grower.owner[facet as usize]).collect();
        owners.sort_unstable();
        owners.dedup();
        owners.retain(|owner| {
            let there = regions.get(*owner as usize);
            there.is_some_and(|region| fit::kind(&region.surface).is_some())
        });
        let depths: Vec<(u32, f64)> = owners
            .into_iter()
            .map(|owner| (owner, grower.deepest(&regions[owner as usize])))
            .collect();
        let taker = |triangle: &u32| {
            let lies_on = |(owner, deepest_mm): &&(u32, f64)| {
                grower.lies_on(&regions[*owner as usize], *deepest_mm, *triangle)
            };
            depths.iter().find(lies_on).map(|(owner, _)| *owner)
        };
        let takers: Option<Vec<u32>> = pieces[index].triangles.iter().map(taker).collect();
        for owner in takers.unwrap_or_default() {
            // From the first on, in the order in which they were asked.
            let triangle = pieces[index].triangles.remove(0);
            pieces[owner as usize].triangles.push(triangle);
        }
    }
}

fn smooth_cos() -> f64 {
    SMOOTH_BELOW_DEG.to_radians().cos()
}

/// A flat this many times as large as the facets beside it is one: a bevel from one rounded corner to
/// the next, 50 times as large as a facet of these.
const CRUMB_RATIO: f64 = 4.0;

/// Flats of one or two triangles beside a surface of no form, and of the size of its facets, belong to
/// it, not to themselves.
fn release_crumbs(regions: &mut [Region], grower: &mut Grower<'_>) {
    let all = grower.all;
    for region in regions.iter_mut() {
        let is_crumb = matches!(region.surface, Surface::Plane { .. })
            && all.least_triangles(&region.facets) <= 2;
        let beside = |facet: &u32| {
            let facet = *facet;
            let goes_on = move |other: &u32| all.turn_cos(facet, *other) >= smooth_cos();
            all.of(facet).filter(goes_on)
        };
        let beside = region.facets.iter().flat_map(beside);
        let free = beside.filter(|other| grower.is_free(*other));
        let largest_mm2 = free
            .map(|f| all.shape[f as usize].area_mm2)
            .fold(0.0, f64::max);
        if is_crumb && all.area_mm2(&region.facets) <= CRUMB_RATIO * largest_mm2 {
            for facet in region.facets.drain(..) {
                grower.owner[facet as usize] = NONE;
            }
        }
    }
}

/// Free facets whose corners lie on the surface of a neighbour join it.
fn absorb(regions: &mut [Region], grower: &mut Grower<'_>) {
    let all = grower.all;
    let mut queue: Vec<u32> = (0..index_u32(all.len()))
        .filter(|f| grower.is_free(*f))
        .collect();
    while !queue.is_empty() {
        let mut joined: Vec<(u32, u32)> = Vec::new();
        for &facet in &queue {
            let owners = all.of(facet).map(|other| grower.owner[other as usize]);
            let found = owners
                .filter(|owner| *owner != NONE)
                .filter(|owner| belongs(grower, &regions[*owner as usize], facet))
                .min();
            joined.extend(found.map(|owner| (facet, owner)));
        }
        for &(facet, owner) in &joined {
            grower.owner[facet as usize] = owner;
            regions[owner as usize].facets.push(facet);
        }
        let beside = joined.iter().flat_map(|(facet, _)| all.of(*facet));
        let mut next: Vec<u32> = beside.filter(|other| grower.is_free(*other)).collect();
        next.sort_unstable();
        next.dedup();
        queue = next;
    }
}

fn belongs(grower: &Grower<'_>, region: &Region, facet: u32) -> bool {
    let all = grower.all;
    let Measure {
        tolerance_mm,
        noise_mm,
        ..
    } = grower.measure;
    let mut corners = all.points(facet);
    if !corners.all(|p| region.surface.distance(&p).abs() <= tolerance_mm) {
        return false;
    }
    let shape = &all.shape[facet as usize];
    let longest_mm = 2.0 * shape.area_mm2 / shape.altitude_mm.max(f64::MIN_POSITIVE);
    let sliver =
        shape.altitude_mm < SLIVER_RATIO * longest_mm || shape.altitude_mm < 20.0 * noise_mm;
    sliver && grower.sag(&region.surface, facet) <= 10.0 * tolerance_mm
}

/// Neighbouring regions of one kind that lie on one surface become one.
fn join(
    all: &Facets<'_>,
    measure: Measure,
    regions: Vec<Region>,
    owner: &mut [u32],
) -> Vec<Region> {
    let mut parent: Vec<u32> = (0..index_u32(regions.len())).collect();
    let mut pairs: Vec<(u32, u32)> = Vec::new();
    for facet in 0..index_u32(all.len()) {
        let own = owner[facet as usize];
        let others = all.of(facet).map(|other| owner[other as usize]);
        pairs.extend(
            others
                .filter(|o| own != NONE && *o != NONE && own < *o)
                .map(|o| (own, o)),
        );
    }
    pairs.sort_unstable();
    pairs.dedup();
    for (a, b) in pairs {
        if same_surface(all, measure, &regions[a as usize], &regions[b as usize]) {
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
        let mut facets: Vec<u32> = members
            .iter()
            .flat_map(|index| regions[*index as usize].facets.iter().copied())
            .collect();
        if facets.is_empty() {
            continue;
        }
        facets.sort_unstable();
        let Region {
            mut surface,
            hollow,
            ..
        } = regions[first as usize];
        let fitted = match surface {
            Surface::Plane { .. } => fit::plane(all, &facets),
            _ if members.len() > 1 => {
                let points = corner_points(all, &surface, &facets);
                Some(surface.refined(&points, 10.0 * measure.tolerance_mm))
            }
            _ => None,
        };
        surface = fitted.unwrap_or(surface);
        for &facet in &facets {
            owner[facet as usize] = index_u32(joined.len());
        }
        joined.push(Region {
            surface,
            facets,
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

fn same_surface(all: &Facets<'_>, measure: Measure, a: &Region, b: &Region) -> bool {
    let same_kind = std::mem::discriminant(&a.surface) == std::mem::discriminant(&b.surface);
    if !same_kind || a.hollow != b.hollow || a.facets.is_empty() || b.facets.is_empty() {
        return false;
    }
    if let (Surface::Plane { normal: one, .. }, Surface::Plane { normal: two, .. }) =
        (&a.surface, &b.surface)
        && one.dot(two) < 0.999_99
    {
        return false;
    }
    let (large, small) = if a.facets.len() >= b.facets.len() {
        (a, b)
    } else {
        (b, a)
    };
    let points = corner_points(all, &small.surface, &small.facets);
    points
        .iter()
        .all(|p| large.surface.distance(p).abs() <= measure.tolerance_mm)
}

/// Corners of a region that should lie on a surface.
fn corner_points(all: &Facets<'_>, surface: &Surface, facets: &[u32]) -> Vec<Point3<f64>> {
    match fit::kind(surface) {
        Some(kind) => fit::points(all, kind, facets),
        None => facets.iter().flat_map(|facet| all.points(*facet)).collect(),
    }
}

/// Free facets that hang together smoothly.
fn others(all: &Facets<'_>, owner: &[u32]) -> Vec<Vec<u32>> {
    let mut seen = vec![false; all.len()];
    let mut others = Vec::new();
    for start in 0..index_u32(all.len()) {
        if owner[start as usize] != NONE || seen[start as usize] {
            continue;
        }
        seen[start as usize] = true;
        let mut piece = vec![start];
        let mut next = 0;
        while next < piece.len() {
            for other in all.of(piece[next]) {
                let free = owner[other as usize] == NONE && !seen[other as usize];
                if free && all.turn_cos(piece[next], other) >= smooth_cos() {
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
