//! Corners of facets: which vertices must lie on the surface that the facets stand for.

use super::bonds::NONE;
use super::facets::{Facets, Lists};
use crate::mesh::SMOOTH_BELOW_DEG;
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use rayon::prelude::*;

/// A corner of a facet.
#[derive(Clone, Copy)]
pub(super) struct Corner {
    pub(super) vertex: u32,
    pub(super) hold: Hold,
}

/// How well a facet's corner is held by the round surface that the facet may be a piece of.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Hold {
    /// Among facets that go on smoothly: it lies on the surface.
    Inner,
    /// An edge to a smooth neighbour ends here at something else: on a surface with straight
    /// lines it lies on it, on others it may lie on a chord.
    Rim,
    /// All other facets here meet this one at an edge: it may lie anywhere on the chord, as where
    /// the edge of one bore's facets meets a facet of a bore across.
    Cut,
}

/// An edge of a facet at one of its ends.
#[derive(Clone, Copy)]
struct End {
    facet: u32,
    /// Facet behind the edge.
    behind: u32,
    /// Its other end.
    other: u32,
    smooth: bool,
}

/// Cosine of the turn up to which two edges are one: two facets meet in a straight line, whatever
/// rounding does to the ends of its pieces.
const ONE_LINE: f64 = 0.9;

/// The same where nothing lies behind an edge, so that it may be any line.
const ONE_OPEN_LINE: f64 = 0.999_99;

/// The corners of every facet.
pub(super) fn corners(facets: &Facets<'_>) -> Lists<Corner> {
    let ends = ends(facets);
    let vertices = 0..index_u32(facets.geo.canon.vertices.len());
    let at = |vertex: u32| corners_at(facets, vertex, ends.of(vertex));
    let found: Vec<(u32, Corner)> = vertices.into_par_iter().flat_map_iter(at).collect();
    Lists::new(facets.len(), &found)
}

/// Facets that have a corner at a vertex, with that corner; `here` are the edges that end there.
fn corners_at<'a>(
    facets: &Facets<'_>,
    vertex: u32,
    here: &'a [End],
) -> impl Iterator<Item = (u32, Corner)> + use<'a> {
    let here = if is_idle(facets, vertex, here) {
        &[]
    } else {
        here
    };
    let all_smooth = here.iter().all(|end| end.smooth);
    let is_first = move |&(index, end): &(usize, &End)| {
        here[..index].iter().all(|before| before.facet != end.facet)
    };
    let corner = move |(_, end): (usize, &End)| {
        let mut own = here.iter().filter(|e| e.facet == end.facet);
        let hold = if all_smooth {
            Hold::Inner
        } else if own.any(|e| e.smooth) {
            Hold::Rim
        } else {
            Hold::Cut
        };
        (end.facet, Corner { vertex, hold })
    };
    here.iter().enumerate().filter(is_first).map(corner)
}

/// The edges of facets by the vertices at which they end.
fn ends(facets: &Facets<'_>) -> Lists<End> {
    let smooth_cos = SMOOTH_BELOW_DEG.to_radians().cos();
    let of_facet = |facet: u32| {
        facets.outline(facet).flat_map(move |(behind, from, to)| {
            let smooth = behind != NONE && facets.turn_cos(facet, behind) >= smooth_cos;
            [(from, to), (to, from)].map(|(vertex, other)| {
                let end = End {
                    facet,
                    behind,
                    other,
                    smooth,
                };
                (vertex, end)
            })
        })
    };
    let all = (0..index_u32(facets.len())).into_par_iter();
    let ends: Vec<(u32, End)> = all.flat_map_iter(of_facet).collect();
    Lists::new(facets.geo.canon.vertices.len(), &ends)
}

/// Whether a vertex is no corner: on a straight edge between two facets, or of one.
fn is_idle(facets: &Facets<'_>, vertex: u32, here: &[End]) -> bool {
    let at = |v: u32| facets.geo.canon.vertices[v as usize];
    let toward = |end: &End| -> Vec3 { (at(end.other) - at(vertex)).normalize() };
    let [first, ..] = here else {
        return true;
    };
    let mut own = here.iter().filter(|end| end.facet == first.facet);
    let (Some(one), Some(two), None) = (own.next(), own.next(), own.next()) else {
        return false;
    };
    if one.behind != two.behind {
        return false;
    }
    let (most, least_cos) = if one.behind == NONE {
        (2, ONE_OPEN_LINE)
    } else {
        (4, ONE_LINE)
    };
    let only = here.len() == most
        && here
            .iter()
            .all(|end| end.facet == first.facet || end.facet == one.behind);
    only && toward(one).dot(&toward(two)) <= -least_cos
}
