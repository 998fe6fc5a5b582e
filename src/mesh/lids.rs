//! What is not sound about a mesh, for answers that must hold all the same: lids over what is missing,
//! and shells whose sides cannot be told.

use super::Mesh;
use super::edges::EdgeTable;
use super::shells::inside_out_shells;
use super::weld::index_u32;
use nalgebra::{Point3, Vector3};
use std::collections::{BTreeMap, BTreeSet};

/// Corners of open edges this near to each other are one: what is slimmer lets no cutter through.
const NEAR_MM: f64 = 1.0e-3;

/// A rim whose corners are no farther than this off a plane is flat; off a line, it encloses nothing.
const FLAT_MM: f64 = 5.0e-3;

/// What a mesh leaves open.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Soundness {
    /// How many edges enclose something that is missing.
    pub open_edges: u64,
    /// Triangles over what is missing. They deny room that may not be there; that they stop anything
    /// is not certain.
    pub lids: Vec<[Point3<f64>; 3]>,
    /// For each shell, whether it is inside out; empty where none is.
    pub turned: Vec<bool>,
    /// For each shell, whether neighbours are turned against each other, so that its sides cannot
    /// be told; empty where none is.
    pub mixed: Vec<bool>,
}

impl Soundness {
    /// Whether nothing is left open.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        *self == Self::default()
    }

    /// Whether a shell is inside out.
    #[must_use]
    pub fn is_turned(&self, shell: u32) -> bool {
        self.turned.get(shell as usize).copied().unwrap_or_default()
    }

    /// Whether the sides of a shell cannot be told.
    #[must_use]
    pub fn is_mixed(&self, shell: u32) -> bool {
        self.mixed.get(shell as usize).copied().unwrap_or_default()
    }
}

/// Finds what a mesh leaves open.
///
/// A rim is a loop of open edges. What is missing behind it is taken to lie in the plane of a flat rim,
/// and in the box round any other. Shells whose rims lie near each other are one body; where several
/// bodies are open, or loose sheets have a rim and no inside, there is the box round all rims besides: they
/// may belong together. An open shell is inside out where its body is so with its lids.
///
/// # Guarantees
/// A lid over a flat rim covers all that the rim encloses, whatever its form. Seams narrower than a
/// micrometre have no lid. A sound mesh has none.
#[must_use]
pub fn soundness(mesh: &Mesh) -> Soundness {
    let mut found = Soundness::default();
    let turned = inside_out_shells(mesh);
    if !turned.is_empty() {
        found.turned = vec![false; mesh.shells.len()];
        turned.iter().for_each(|&shell| found.turned[shell] = true);
    }
    if mesh.shells.iter().any(|shell| !shell.closed) {
        let rims = Rims::new(mesh, &mut found);
        rims.close(mesh, &mut found);
    }
    found
}

/// An edge that an odd number of triangles has, in the direction of one of them.
struct OpenEdge {
    ends: [u32; 2],
    shell: u32,
}

/// Open edges in groups that hang together.
struct Rims {
    /// Edges that enclose something, by group.
    edges: BTreeMap<u32, Vec<OpenEdge>>,
    /// Shells with an open edge in the group.
    shells: BTreeMap<u32, Vec<u32>>,
}

impl Rims {
    /// Finds open edges; notes shells whose neighbours are turned against each other.
    fn new(mesh: &Mesh, found: &mut Soundness) -> Self {
        let mut open = Vec::new();
        let mut mixed = vec![false; mesh.shells.len()];
        EdgeTable::new(&mesh.triangles, mesh.vertices.len()).for_each(|lower, higher, uses| {
            let shell = mesh.shell_of_triangle[uses[0].triangle as usize];
            if mesh.shells[shell as usize].closed {
                return;
            }
            let forward = uses.iter().filter(|one| one.forward).count();
            let backward = uses.len() - forward;
            mixed[shell as usize] |= uses.len() > 1 && forward.abs_diff(backward) > 1;
            if uses.len() % 2 == 1 {
                let ends = if forward > backward {
                    [lower, higher]
                } else {
                    [higher, lower]
                };
                open.push(OpenEdge { ends, shell });
            }
        });
        if mixed.contains(&true) {
            found.mixed = mixed;
        }
        let name = near_corners(mesh, &open);
        for edge in &mut open {
            edge.ends = edge.ends.map(|end| name[&end]);
        }
        Self::grouped(open)
    }

    fn grouped(open: Vec<OpenEdge>) -> Self {
        let mut group: BTreeMap<u32, u32> = BTreeMap::new();
        for edge in &open {
            let [a, b] = edge.ends.map(|end| root(&mut group, end));
            group.insert(a.max(b), a.min(b));
        }
        // Edges that run opposite ways meet and are closed; those that run the same way are not.
        let mut ways: BTreeMap<[u32; 2], i64> = BTreeMap::new();
        let key = |[a, b]: [u32; 2]| [a.min(b), a.max(b)];
        let way = |[a, b]: [u32; 2]| if a < b { 1 } else { -1 };
        for edge in &open {
            *ways.entry(key(edge.ends)).or_default() += way(edge.ends);
        }
        let (mut edges, mut shells): (BTreeMap<_, Vec<_>>, BTreeMap<_, Vec<_>>) =
            (BTreeMap::new(), BTreeMap::new());
        for edge in open {
            let of = root(&mut group, edge.ends[0]);
            shells.entry(of).or_default().push(edge.shell);
            // What meets another after all, or what is a point, is closed.
            let left = ways.entry(key(edge.ends)).or_default();
            if *left * way(edge.ends) > 0 && edge.ends[0] != edge.ends[1] {
                *left -= way(edge.ends);
                edges.entry(of).or_default().push(edge);
            }
        }
        for list in shells.values_mut() {
            list.sort_unstable();
            list.dedup();
        }
        Self { edges, shells }
    }

    /// Makes lids; finds open shells that are inside out.
    fn close(&self, mesh: &Mesh, found: &mut Soundness) {
        let place = |corner: u32| mesh.vertices[corner as usize];
        let mut sides = Sides::new(mesh);
        for shells in self.shells.values() {
            sides.join(shells);
        }
        let mut corners_of: BTreeMap<u32, Vec<Point3<f64>>> = BTreeMap::new();
        for (shell, corners) in open_corners(mesh) {
            let body = root(&mut sides.body, shell);
            corners_of.entry(body).or_default().extend(corners);
        }
        let corners_of = corners_of.iter();
        let has_inside: BTreeMap<u32, bool> = corners_of
            .map(|(body, corners)| (*body, extent(corners) == Extent::Space))
            .collect();
        // A body that is closed after all has its side, too; what has no inside has none.
        for (body, _) in has_inside.iter().filter(|(_, inside)| **inside) {
            sides.lids_mm3.entry(*body).or_default();
        }
        let (mut all_rims, mut bodies, mut loose) = (Vec::new(), BTreeSet::new(), 0);
        for (group, edges) in &self.edges {
            let rim: Vec<Point3<f64>> = edges.iter().flat_map(|e| e.ends.map(place)).collect();
            let of_rim = extent(&rim);
            if of_rim == Extent::Line {
                continue;
            }
            found.open_edges += edges.len() as u64;
            all_rims.extend_from_slice(&rim);
            let body = root(&mut sides.body, self.shells[group][0]);
            bodies.insert(body);
            if !has_inside[&body] {
                loose += 1;
                continue;
            }
            let middle = middle(&rim);
            let lid = |edge: &OpenEdge| [middle, place(edge.ends[1]), place(edge.ends[0])];
            sides.add(body, edges.iter().map(lid));
            if of_rim == Extent::Plane {
                found.lids.extend(edges.iter().map(lid));
            } else {
                found.lids.extend(box_of(&rim));
            }
        }
        if bodies.len() > 1 || loose > 1 {
            found.lids.extend(box_of(&all_rims));
        }
        sides.turn(mesh, found);
    }
}

/// Volumes of open shells with their lids.
struct Sides {
    /// Shells that share a rim are one body.
    body: BTreeMap<u32, u32>,
    origin: Point3<f64>,
    lids_mm3: BTreeMap<u32, f64>,
}

impl Sides {
    fn new(mesh: &Mesh) -> Self {
        Self {
            body: BTreeMap::new(),
            origin: mesh.vertices[0],
            lids_mm3: BTreeMap::new(),
        }
    }

    fn join(&mut self, shells: &[u32]) {
        for pair in shells.windows(2) {
            let [a, b] = [pair[0], pair[1]].map(|shell| root(&mut self.body, shell));
            self.body.insert(a.max(b), a.min(b));
        }
    }

    fn add(&mut self, body: u32, lids: impl Iterator<Item = [Point3<f64>; 3]>) {
        let origin = self.origin;
        let volume_mm3: f64 = lids.map(|lid| volume_mm3(lid, &origin)).sum();
        *self.lids_mm3.entry(body).or_default() += volume_mm3;
    }

    /// Notes bodies that are inside out, unless they lie within another, as cavities do.
    fn turn(mut self, mesh: &Mesh, found: &mut Soundness) {
        let mut total_mm3: BTreeMap<u32, f64> = BTreeMap::new();
        for (shell, lids_mm3) in std::mem::take(&mut self.lids_mm3) {
            *total_mm3.entry(root(&mut self.body, shell)).or_default() += lids_mm3;
        }
        let shells = 0..index_u32(mesh.shells.len());
        let body_of: Vec<u32> = shells.map(|shell| root(&mut self.body, shell)).collect();
        for (corners, &shell) in mesh.triangles.iter().zip(&mesh.shell_of_triangle) {
            if let Some(total_mm3) = total_mm3.get_mut(&body_of[shell as usize]) {
                let corners = corners.map(|corner| mesh.vertices[corner as usize]);
                *total_mm3 += volume_mm3(corners, &self.origin);
            }
        }
        for (shell, body) in body_of.iter().enumerate() {
            let low = total_mm3
                .get(body)
                .is_some_and(|total_mm3| *total_mm3 < 0.0);
            if low && !found.is_mixed(index_u32(shell)) && !within_another(mesh, shell) {
                found.turned.resize(mesh.shells.len(), false);
                found.turned[shell] = true;
            }
        }
    }
}

fn within_another(mesh: &Mesh, shell: usize) -> bool {
    let inner = &mesh.shells[shell];
    let holds = |outer: &super::Shell| {
        let apart = |k: usize| outer.low[k] < inner.low[k] && inner.high[k] < outer.high[k];
        outer.closed && outer.volume_mm3 > 0.0 && (0..3).all(apart)
    };
    mesh.shells.iter().any(holds)
}

fn volume_mm3([a, b, c]: [Point3<f64>; 3], origin: &Point3<f64>) -> f64 {
    (a - origin).cross(&(b - origin)).dot(&(c - origin)) / 6.0
}

/// The least member of a set, by a map from each member to a lesser one.
fn root(above: &mut BTreeMap<u32, u32>, member: u32) -> u32 {
    let mut least = member;
    while let Some(&next) = above.get(&least).filter(|next| **next != least) {
        least = next;
    }
    above.insert(member, least);
    least
}

/// For each end of an open edge, the least end that is near, or near to a near one.
fn near_corners(mesh: &Mesh, open: &[OpenEdge]) -> BTreeMap<u32, u32> {
    let mut ends: Vec<u32> = open.iter().flat_map(|edge| edge.ends).collect();
    ends.sort_unstable();
    ends.dedup();
    let place = |end: u32| mesh.vertices[end as usize];
    let cell = |end: u32| place(end).coords.map(|c| (c / NEAR_MM).floor() as i64);
    let mut in_cell: BTreeMap<[i64; 3], Vec<u32>> = BTreeMap::new();
    for &end in &ends {
        in_cell.entry(cell(end).into()).or_default().push(end);
    }
    let mut name: BTreeMap<u32, u32> = BTreeMap::new();
    for &end in &ends {
        let at = cell(end);
        for step in 0..27_i64 {
            let step = Vector3::new(step % 3 - 1, step / 3 % 3 - 1, step / 9 - 1);
            for &other in in_cell
                .get::<[i64; 3]>(&(at + step).into())
                .into_iter()
                .flatten()
            {
                if other < end && (place(other) - place(end)).norm() <= NEAR_MM {
                    let [a, b] = [end, other].map(|corner| root(&mut name, corner));
                    name.insert(a.max(b), a.min(b));
                }
            }
        }
    }
    ends.into_iter()
        .map(|end| (end, root(&mut name, end)))
        .collect()
}

/// Corners of each shell that is not closed.
fn open_corners(mesh: &Mesh) -> BTreeMap<u32, Vec<Point3<f64>>> {
    let mut corners_of: BTreeMap<u32, Vec<Point3<f64>>> = BTreeMap::new();
    for (corners, &shell) in mesh.triangles.iter().zip(&mesh.shell_of_triangle) {
        if !mesh.shells[shell as usize].closed {
            let corners = corners.map(|corner| mesh.vertices[corner as usize]);
            corners_of.entry(shell).or_default().extend(corners);
        }
    }
    corners_of
}

/// What holds points.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Extent {
    Line,
    Plane,
    Space,
}

fn extent(points: &[Point3<f64>]) -> Extent {
    let farthest = |off: &dyn Fn(&Point3<f64>) -> f64| {
        let far = points.iter().max_by(|a, b| off(a).total_cmp(&off(b)));
        far.map_or((0.0, Point3::origin()), |far| (off(far), *far))
    };
    let Some(&from) = points.first() else {
        return Extent::Line;
    };
    let (length_mm, end) = farthest(&|p| (p - from).norm());
    let along = (end - from) / length_mm.max(f64::MIN_POSITIVE);
    let off_line = |p: &Point3<f64>| (p - from) - along * along.dot(&(p - from));
    let (width_mm, side) = farthest(&|p| off_line(p).norm());
    if width_mm <= FLAT_MM {
        return Extent::Line;
    }
    let normal = along.cross(&off_line(&side)).normalize();
    let (off_mm, _) = farthest(&|p| normal.dot(&(p - from)).abs());
    if off_mm <= FLAT_MM {
        Extent::Plane
    } else {
        Extent::Space
    }
}

fn middle(points: &[Point3<f64>]) -> Point3<f64> {
    let sum: Vector3<f64> = points.iter().map(|point| point.coords).sum();
    Point3::from(sum / points.len() as f64)
}

/// The box round points.
fn box_of(points: &[Point3<f64>]) -> Vec<[Point3<f64>; 3]> {
    let (mut low, mut high) = (points[0], points[0]);
    for point in points {
        (low, high) = (low.inf(point), high.sup(point));
    }
    let at = |k: usize| {
        let pick = |axis: usize| {
            if k & (1 << axis) == 0 {
                low[axis]
            } else {
                high[axis]
            }
        };
        Point3::new(pick(0), pick(1), pick(2))
    };
    let quads = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    let halves = quads
        .iter()
        .flat_map(|q| [[q[0], q[1], q[2]], [q[0], q[2], q[3]]]);
    halves.map(|corners| corners.map(at)).collect()
}

#[cfg(test)]
#[path = "tests/lids.rs"]
mod tests;
