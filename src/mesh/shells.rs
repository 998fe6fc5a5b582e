//! Connected shells: which triangles hang together, and what is wrong with each shell.

use super::edges::EdgeTable;
use super::fault::{FaultKind, FaultLog, Place};
use super::inside::winding_number;
use super::weld::{Soup, index_u32};
use super::{Mesh, Shell};
use nalgebra::Point3;

/// Shells of a triangle list, with the shell of each triangle.
pub(super) struct Shells {
    /// In the order of their first triangle.
    pub shells: Vec<Shell>,
    /// Shell of each triangle.
    pub shell_of_triangle: Vec<u32>,
}

/// What the edges of one shell look like.
#[derive(Debug, Default, Clone, Copy)]
struct EdgeTally {
    open: u64,
    crowded: u64,
    mixed: u64,
    unbalanced: u64,
    first_open: Option<(u32, u32)>,
    first_crowded: Option<(u32, u32)>,
    first_mixed: Option<(u32, u32)>,
}

/// Finds the shells, and notes what is wrong with each.
pub(super) fn find_shells(soup: &Soup, edges: &EdgeTable, log: &mut FaultLog) -> Shells {
    let mut forest = Forest::new(soup.triangles.len());
    let mut odd_edges = Vec::new();
    edges.for_each(|lower, higher, uses| {
        for pair in uses.windows(2) {
            forest.join(pair[0].triangle, pair[1].triangle);
        }
        let forward = uses.iter().filter(|one| one.forward).count();
        let backward = uses.len() - forward;
        if forward != 1 || backward != 1 {
            odd_edges.push((uses[0].triangle, forward, backward, (lower, higher)));
        }
    });
    let (shell_of_triangle, shell_count) = forest.label();
    let mut tallies = vec![EdgeTally::default(); shell_count];
    for (triangle, forward, backward, edge) in odd_edges {
        let shell = shell_of_triangle[triangle as usize];
        tallies[shell as usize].count(forward, backward, edge);
    }
    let shells = measure(soup, &shell_of_triangle, &tallies);
    // Shells of nothing but triangles without area will vanish, and have no number.
    let mut flat_of_shell = vec![0_usize; shell_count];
    for &triangle in &soup.flat {
        flat_of_shell[shell_of_triangle[triangle as usize] as usize] += 1;
    }
    let mut number = 0;
    for (index, tally) in tallies.iter().enumerate() {
        if flat_of_shell[index] < shells[index].triangle_count {
            number += 1;
            tally.note(Place::Shell(number), &soup.vertices, log);
        }
    }
    Shells {
        shells,
        shell_of_triangle,
    }
}

impl EdgeTally {
    /// Counts an edge that is not used once in each direction.
    fn count(&mut self, forward: usize, backward: usize, edge: (u32, u32)) {
        self.unbalanced += u64::from(forward != backward);
        let (count, first) = match forward + backward {
            1 => (&mut self.open, &mut self.first_open),
            2 => (&mut self.mixed, &mut self.first_mixed),
            _ => (&mut self.crowded, &mut self.first_crowded),
        };
        *count += 1;
        first.get_or_insert(edge);
    }

    fn is_closed(&self) -> bool {
        self.open + self.mixed + self.crowded == 0
    }

    fn note(&self, place: Place, vertices: &[Point3<f64>], log: &mut FaultLog) {
        let kinds = [
            (
                FaultKind::OpenEdges,
                self.open,
                self.first_open,
                "with only one triangle",
            ),
            (
                FaultKind::CrowdedEdges,
                self.crowded,
                self.first_crowded,
                "shared by more than two triangles",
            ),
            (
                FaultKind::MixedOrientation,
                self.mixed,
                self.first_mixed,
                "where neighbours are turned against each other",
            ),
        ];
        for (kind, count, first, what) in kinds {
            if let Some((a, b)) = first {
                let (a, b) = (vertices[a as usize], vertices[b as usize]);
                log.add(kind, place, || {
                    let edges = if count == 1 { "edge" } else { "edges" };
                    format!(
                        "{count} {edges} {what}, the first from {} to {}",
                        show(a),
                        show(b)
                    )
                });
            }
        }
    }
}

/// A point as text, for messages.
fn show(point: Point3<f64>) -> String {
    format!("({:.3}, {:.3}, {:.3})", point.x, point.y, point.z)
}

/// Counts, boxes and signed volumes.
fn measure(soup: &Soup, shell_of_triangle: &[u32], tallies: &[EdgeTally]) -> Vec<Shell> {
    let mut shells: Vec<Shell> = tallies
        .iter()
        .map(|tally| Shell {
            triangle_count: 0,
            first_triangle: 0,
            closed: tally.is_closed(),
            balanced: tally.unbalanced == 0,
            volume_mm3: 0.0,
            low: Point3::from([f64::INFINITY; 3]),
            high: Point3::from([f64::NEG_INFINITY; 3]),
        })
        .collect();
    let mut origins = vec![Point3::origin(); shells.len()];
    for (triangle, corners) in soup.triangles.iter().enumerate() {
        let index = shell_of_triangle[triangle] as usize;
        let shell = &mut shells[index];
        let [a, b, c] = corners.map(|corner| soup.vertices[corner as usize]);
        if shell.triangle_count == 0 {
            shell.first_triangle = index_u32(triangle);
            // A near origin keeps the digits of a small body far out.
            origins[index] = a;
        }
        shell.triangle_count += 1;
        for corner in [a, b, c] {
            shell.low = shell.low.inf(&corner);
            shell.high = shell.high.sup(&corner);
        }
        let from = origins[index];
        shell.volume_mm3 += (a - from).cross(&(b - from)).dot(&(c - from)) / 6.0;
    }
    shells
}

/// Most point-against-triangle tests spent on telling cavities from bodies inside out.
///
/// A test takes some 40 ns, so this is about a second on a file that is hopeless anyway.
const MOST_WINDING_TESTS: usize = 20_000_000;

/// Most box-against-box tests for the same; beyond it a shell counts as no cavity, and is noted.
const MOST_BOX_TESTS: usize = 50_000_000;

/// Notes closed shells of negative volume that do not lie inside another closed shell.
pub(super) fn note_inside_out(mesh: &Mesh, log: &mut FaultLog) {
    for index in inside_out_shells(mesh) {
        log.add(FaultKind::InsideOut, Place::Shell(index as u64 + 1), || {
            let volume_mm3 = mesh.shells[index].volume_mm3;
            format!("the closed shell has a volume of {volume_mm3:.3} mm3")
        });
    }
}

/// Closed shells of negative volume that do not lie inside another closed shell, ascending.
#[must_use]
pub fn inside_out_shells(mesh: &Mesh) -> Vec<usize> {
    let mut winding_budget = MOST_WINDING_TESTS;
    let mut box_budget = MOST_BOX_TESTS;
    let numbered = || mesh.shells.iter().enumerate();
    let bodies: Vec<(usize, &Shell)> = numbered()
        .filter(|(_, shell)| shell.closed && shell.volume_mm3 > 0.0)
        .collect();
    let mut found = Vec::new();
    for (index, shell) in numbered().filter(|(_, s)| s.closed && s.volume_mm3 < 0.0) {
        let is_within = box_budget >= bodies.len()
            && bodies.iter().any(|(body_index, body)| {
                if !box_within(shell, body) || winding_budget < mesh.triangles.len() {
                    return box_within(shell, body);
                }
                winding_budget -= mesh.triangles.len();
                let first = mesh.corners(shell.first_triangle)[0];
                winding_number(mesh, index_u32(*body_index), first) > 0.75
            });
        box_budget = box_budget.saturating_sub(bodies.len());
        if !is_within {
            found.push(index);
        }
    }
    found
}

fn box_within(inner: &Shell, outer: &Shell) -> bool {
    (0..3).all(|k| outer.low[k] < inner.low[k] && inner.high[k] < outer.high[k])
}

/// Disjoint sets of triangles.
struct Forest {
    parent: Vec<u32>,
}

impl Forest {
    fn new(count: usize) -> Self {
        Self {
            parent: (0..index_u32(count)).collect(),
        }
    }

    fn root(&mut self, mut node: u32) -> u32 {
        while self.parent[node as usize] != node {
            let above = self.parent[self.parent[node as usize] as usize];
            self.parent[node as usize] = above;
            node = above;
        }
        node
    }

    /// The lower index becomes the root, so the first triangle names its shell.
    fn join(&mut self, a: u32, b: u32) {
        let (a, b) = (self.root(a), self.root(b));
        self.parent[a.max(b) as usize] = a.min(b);
    }

    /// The set of each triangle, numbered by first triangle, and how many there are.
    fn label(mut self) -> (Vec<u32>, usize) {
        let mut set_of_root = vec![u32::MAX; self.parent.len()];
        let mut next = 0;
        let labels: Vec<u32> = (0..index_u32(self.parent.len()))
            .map(|triangle| {
                let root = self.root(triangle) as usize;
                if set_of_root[root] == u32::MAX {
                    set_of_root[root] = next;
                    next += 1;
                }
                set_of_root[root]
            })
            .collect();
        (labels, next as usize)
    }
}
