//! Which shells of a mesh are cavities: closed, nested in a closed shell, and opposite to it.

use super::inside::{Place, shell_places};
use super::rest::around;
use super::tree::Tree;
use super::triangle_pair::triangle_pair;
use crate::mesh::Mesh;

/// For each shell the one whose cavity it is proved to be.
///
/// The parent of a shell is the smallest closed shell around it. A shell is a cavity where its
/// parent is solid, opposite in orientation, and does not touch it; everything else is solid.
pub(super) fn cavities(mesh: &Mesh, tree: &Tree) -> Vec<Option<u32>> {
    let count = mesh.shells.len();
    let mut cavity_of = vec![None; count];
    let closed: Vec<usize> = (0..count)
        .filter(|&shell| mesh.shells[shell].closed)
        .collect();
    let around_of: Vec<Vec<usize>> = (0..count)
        .map(|inner| shells_around(mesh, tree, inner, &closed))
        .collect();
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by_key(|&shell| around_of[shell].len());
    let volume = |shell: usize| mesh.shells[shell].volume_mm3;
    for inner in order {
        let parent = around_of[inner]
            .iter()
            .copied()
            .min_by(|&p, &q| volume(p).abs().total_cmp(&volume(q).abs()));
        let Some(parent) = parent else { continue };
        let opposite = volume(inner) * volume(parent) < 0.0;
        if opposite && cavity_of[parent].is_none() && apart(mesh, tree, inner, parent) {
            cavity_of[inner] = Some(parent as u32);
        }
    }
    cavity_of
}

/// The closed shells around a corner of a closed shell.
fn shells_around(mesh: &Mesh, tree: &Tree, inner: usize, closed: &[usize]) -> Vec<usize> {
    if !mesh.shells[inner].closed {
        return Vec::new();
    }
    let others = closed.iter().copied().filter(|&outer| outer != inner);
    let mut candidates = others
        .filter(|&outer| may_nest(mesh, inner, outer))
        .peekable();
    if candidates.peek().is_none() {
        return Vec::new();
    }
    let [corner, _, _] = mesh.triangles[mesh.shells[inner].first_triangle as usize];
    let point = mesh.vertices[corner as usize].coords;
    let places = shell_places(mesh, tree, &point, Some(inner as u32));
    candidates
        .filter(|&outer| places[outer] == Place::Inside)
        .collect()
}

/// Whether both are closed and the box of one lies within that of the other.
fn may_nest(mesh: &Mesh, inner: usize, outer: usize) -> bool {
    let (inner, outer) = (&mesh.shells[inner], &mesh.shells[outer]);
    let within = (0..3)
        .all(|axis| inner.low[axis] >= outer.low[axis] && inner.high[axis] <= outer.high[axis]);
    inner.closed && outer.closed && within && inner.volume_mm3.abs() < outer.volume_mm3.abs()
}

/// Whether no triangle of one shell touches one of the other.
fn apart(mesh: &Mesh, tree: &Tree, inner: usize, outer: usize) -> bool {
    let mut touching = false;
    for (corners, &shell) in mesh.triangles.iter().zip(&mesh.shell_of_triangle) {
        if shell as usize != inner || touching {
            continue;
        }
        let own = corners.map(|corner| mesh.vertices[corner as usize].coords);
        let own_box = around(&own);
        tree.visit(
            |bounds| bounds.apart_mm(&own_box) <= 0.0,
            |slot| {
                if mesh.shell_of_triangle[tree.number(slot)] as usize == outer {
                    touching |= triangle_pair(&own, &tree.triangle(mesh, slot), 0.0).lo_mm <= 0.0;
                }
            },
        );
    }
    !touching
}
