//! Where an edge lies on another triangle or edge: whether bodies overlap there.

use super::around::{Leaf, Piece, Wedge, overlap, sides, wedges};
use super::winds::winds;
use super::{Crossings, Seeker, Tally, grain_mm};
use crate::mesh::edges::{EdgeTable, EdgeUse};
use crate::mesh::weld::Soup;
use nalgebra::Point3;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// An edge on another triangle: its ends and its own triangle, what it lies on, the piece that both have in common.
pub(super) type Seam = ([u32; 2], On, Piece, [u32; 2]);

/// What an edge lies on.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum On {
    /// A triangle, through which it goes.
    Triangle(u32),
    /// An edge, by its ends.
    Edge([u32; 2]),
    /// Nothing but the triangles of the edge itself, more than two.
    Itself,
}

/// Finds edges at which bodies overlap, all their triangles on that very edge. Asked before triangles that are
/// listed twice are left out: bodies on one grid can overlap by just these.
pub(in crate::mesh) fn at_edges(soup: &Soup, edges: &EdgeTable) -> Crossings {
    let mut found = Crossings::default();
    edges.for_each(|lower, higher, uses| {
        let flat = |one: &EdgeUse| soup.flat.binary_search(&one.triangle).is_ok();
        if uses.len() < 4 || uses.iter().any(flat) {
            return;
        }
        let piece @ [low, high] = [lower, higher].map(|v| soup.vertices[v as usize]);
        let corners = |t: u32| soup.triangles[t as usize].map(|v| soup.vertices[v as usize]);
        let leaves: Vec<Leaf> = leaves(uses, &piece, corners).collect();
        let farthest_mm = low.coords.abs().max().max(high.coords.abs().max());
        if overlap(&wedges(&leaves, &piece, grain_mm(farthest_mm))) {
            found.pairs += 1;
            found
                .place
                .get_or_insert_with(|| nalgebra::center(&low, &high));
        }
    });
    found
}

/// The triangles of an edge, about a piece of it.
fn leaves<'a>(
    uses: &'a [EdgeUse],
    piece: &'a Piece,
    corners: impl Fn(u32) -> [Point3<f64>; 3] + 'a,
) -> impl Iterator<Item = Leaf> + 'a {
    uses.iter().map(move |one| {
        let corners = corners(one.triangle);
        let corner = |k: usize| corners[(one.opposite + k) % 3];
        Leaf::new([corner(1), corner(2), corner(0)], piece)
    })
}

/// Ends of the edge of a triangle from a corner to the next, the lower first.
pub(super) fn ends(of: [u32; 3], corner: usize) -> [u32; 2] {
    let [a, b] = [of[corner], of[(corner + 1) % 3]];
    [a.min(b), a.max(b)]
}

/// Uses of edges, by their ends.
type Uses = BTreeMap<[u32; 2], Vec<EdgeUse>>;

/// Counts the seams at which bodies overlap.
pub(super) fn join(seeker: &Seeker<'_>, tally: &mut Tally) {
    let mesh = seeker.mesh;
    let mut seams = std::mem::take(&mut tally.seams);
    let all_closed = mesh.shells.iter().all(|shell| shell.closed);
    if seams.is_empty() && all_closed {
        return;
    }
    let wanted = seams.iter().flat_map(|(edge, on, ..)| match on {
        On::Edge(other) => [*edge, *other],
        _ => [*edge, *edge],
    });
    let mut uses_of: Uses = wanted.map(|ends| (ends, Vec::new())).collect();
    EdgeTable::new(&mesh.triangles, mesh.vertices.len()).for_each(|lower, higher, uses| {
        let edge = [lower, higher];
        if let Some(of_edge) = uses_of.get_mut(&edge) {
            of_edge.extend_from_slice(uses);
        }
        if uses.len() > 2 {
            uses_of.insert(edge, uses.to_vec());
            let piece = edge.map(|v| mesh.vertices[v as usize]);
            seams.push((edge, On::Itself, piece, [uses[0].triangle; 2]));
        }
    });
    seams.sort_unstable_by_key(|(edge, on, _, pair)| (*edge, *on, *pair));
    seams.dedup_by_key(|(edge, on, ..)| (*edge, *on));
    let crosses = |seam: &&Seam| {
        let (leaves, shells) = about(seeker, &uses_of, seam);
        let piece = &seam.2;
        let wedges = wedges(&leaves, piece, seeker.grain_mm);
        overlap(&wedges) || is_within_more(seeker, &wedges, piece, &shells)
    };
    let crossing: Vec<&Seam> = seams.par_iter().filter(crosses).collect();
    for (_, _, piece, pair) in crossing {
        tally.cross(*pair, nalgebra::center(&piece[0], &piece[1]));
    }
}

/// The triangles about a seam, and the shells of which they are.
fn about(seeker: &Seeker<'_>, uses_of: &Uses, seam: &Seam) -> (Vec<Leaf>, Vec<u32>) {
    let mesh = seeker.mesh;
    let (edge, on, piece, _) = seam;
    // Else some triangles meet the piece with other edges of theirs, cut otherwise along it.
    let all_are_there = |ends: &[u32; 2]| {
        let uses = &uses_of[ends];
        2 * uses.iter().filter(|one| one.forward).count() == uses.len()
    };
    let whole = match on {
        On::Edge(other) => all_are_there(edge) && all_are_there(other),
        _ => all_are_there(edge),
    };
    if !whole {
        return (Vec::new(), Vec::new());
    }
    let of = |ends: &[u32; 2]| leaves(&uses_of[ends], piece, |t| mesh.corners(t));
    let mut all: Vec<Leaf> = of(edge).collect();
    let shell = |triangle: u32| mesh.shell_of_triangle[triangle as usize];
    let mut shells: Vec<u32> = uses_of[edge]
        .iter()
        .map(|one| shell(one.triangle))
        .collect();
    match on {
        On::Triangle(triangle) => {
            all.extend(sides(&mesh.corners(*triangle), piece));
            shells.push(shell(*triangle));
        }
        On::Edge(other) => {
            all.extend(of(other));
            shells.extend(uses_of[other].iter().map(|one| shell(one.triangle)));
        }
        On::Itself => {}
    }
    shells.sort_unstable();
    shells.dedup();
    (all, shells)
}

/// Whether two shells or more, or one that is wound twice, are round one of the wedges: surfaces that lie back
/// to back can hide from their neighbours that both are within a third.
fn is_within_more(seeker: &Seeker<'_>, wedges: &[Wedge], piece: &Piece, shells: &[u32]) -> bool {
    let mesh = seeker.mesh;
    let shell = |number: u32| &mesh.shells[number as usize];
    // Where a surface ends there is no within.
    if !shells.iter().all(|one| shell(*one).balanced) {
        return false;
    }
    // A cavity is one within another shell, which need not be here; it may hang together with what is in it.
    let may_be_cavity = |one: &u32| shell(*one).volume_mm3 < 0.0 || !shell(*one).closed;
    let all = shells.iter().any(may_be_cavity);
    let of = |number: u32| (all && shell(number).balanced) || shells.contains(&number);
    let more = |point: &Point3<f64>| {
        winds(mesh, &seeker.boxes, point, of).is_some_and(|level| level.abs() > 1)
    };
    let within_more = |wedge: &Wedge| wedge.points(piece, seeker.grain_mm).iter().all(more);
    wedges.iter().any(within_more)
}
