//! Which triangles hang together: over shared edges, and over seams that do not quite meet.

use super::FaceGround;
use crate::mesh::edges::EdgeTable;
use crate::mesh::weld::index_u32;
use nalgebra::Point3;
use std::collections::{BTreeMap, HashMap};

/// No triangle.
pub(in crate::mesh) const NONE: u32 = u32::MAX;

/// Neighbours of each triangle.
pub(in crate::mesh) struct Bonds {
    /// Over the edge from corner `k` to the next; [`NONE`] where the surface ends.
    over_edge: Vec<[u32; 3]>,
    /// Over seams where one long edge meets several short ones.
    over_seam: BTreeMap<u32, Vec<u32>>,
    /// What is not sound about the edges.
    pub(in crate::mesh) grounds: Vec<FaceGround>,
}

/// An edge with one triangle.
struct OpenEdge {
    triangle: u32,
    ends: [u32; 2],
}

impl Bonds {
    /// Finds the neighbours. Corners of open edges count as one where they are within `weld_mm`.
    pub(in crate::mesh) fn new(
        vertices: &[Point3<f64>],
        triangles: &[[u32; 3]],
        weld_mm: f64,
    ) -> Self {
        let mut bonds = Self {
            over_edge: vec![[NONE; 3]; triangles.len()],
            over_seam: BTreeMap::new(),
            grounds: Vec::new(),
        };
        let open = bonds.join_shared(triangles, vertices.len());
        if !open.is_empty() {
            let left = bonds.join_near(vertices, triangles, &open, weld_mm);
            bonds.join_seams(vertices, &left, weld_mm);
            let still = left
                .iter()
                .filter(|edge| !bonds.over_seam.contains_key(&edge.triangle));
            let count = still.count() as u64;
            if count > 0 {
                bonds.grounds.insert(0, FaceGround::OpenEdges(count));
            }
        }
        bonds
    }

    /// Neighbour over the edge from corner `corner` to the next.
    pub(in crate::mesh) fn over(&self, triangle: u32, corner: usize) -> u32 {
        self.over_edge[triangle as usize][corner]
    }

    /// Neighbours over seams.
    pub(in crate::mesh) fn over_seam(&self, triangle: u32) -> &[u32] {
        self.over_seam.get(&triangle).map_or(&[], Vec::as_slice)
    }

    /// All neighbours of a triangle.
    pub(in crate::mesh) fn of(&self, triangle: u32) -> impl Iterator<Item = u32> + '_ {
        let seam = self.over_seam(triangle).iter().copied();
        let edges = self.over_edge[triangle as usize].into_iter();
        edges.filter(|other| *other != NONE).chain(seam)
    }

    fn join_shared(&mut self, triangles: &[[u32; 3]], vertex_count: usize) -> Vec<OpenEdge> {
        let (mut open, mut crowded, mut mixed) = (Vec::new(), 0, 0);
        EdgeTable::new(triangles, vertex_count).for_each(|lower, higher, uses| match uses {
            [one] => open.push(OpenEdge {
                triangle: one.triangle,
                ends: if one.forward {
                    [lower, higher]
                } else {
                    [higher, lower]
                },
            }),
            [one, two] if one.forward != two.forward => {
                self.over_edge[one.triangle as usize][(one.opposite + 1) % 3] = two.triangle;
                self.over_edge[two.triangle as usize][(two.opposite + 1) % 3] = one.triangle;
            }
            [_, _] => mixed += 1,
            _ => crowded += 1,
        });
        if crowded > 0 {
            self.grounds.push(FaceGround::CrowdedEdges(crowded));
        }
        if mixed > 0 {
            self.grounds.push(FaceGround::MixedEdges(mixed));
        }
        open
    }

    /// Joins open edges whose ends are nearly the same; returns those that stay open.
    fn join_near(
        &mut self,
        vertices: &[Point3<f64>],
        triangles: &[[u32; 3]],
        open: &[OpenEdge],
        weld_mm: f64,
    ) -> Vec<OpenEdge> {
        let near = near_vertices(vertices, open, weld_mm);
        let name = |vertex: u32| near.get(&vertex).copied().unwrap_or(vertex);
        let mut waiting: HashMap<(u32, u32), u32> = HashMap::new();
        let mut joined = vec![false; open.len()];
        for (index, edge) in open.iter().enumerate() {
            let [from, to] = edge.ends.map(name);
            if let Some(other) = waiting.remove(&(to, from)) {
                let other_index = other as usize;
                (joined[index], joined[other_index]) = (true, true);
                self.set(triangles, edge, open[other_index].triangle);
                self.set(triangles, &open[other_index], edge.triangle);
            } else {
                waiting.insert((from, to), index_u32(index));
            }
        }
        let left = open.iter().zip(joined).filter(|(_, joined)| !joined);
        left.map(|(edge, _)| OpenEdge {
            triangle: edge.triangle,
            ends: edge.ends.map(name),
        })
        .collect()
    }

    fn set(&mut self, triangles: &[[u32; 3]], edge: &OpenEdge, neighbour: u32) {
        let corners = &triangles[edge.triangle as usize];
        if let Some(corner) = corners.iter().position(|corner| *corner == edge.ends[0]) {
            self.over_edge[edge.triangle as usize][corner] = neighbour;
        }
    }

    /// Joins a long open edge with the short ones that lie along it the other way.
    fn join_seams(&mut self, vertices: &[Point3<f64>], open: &[OpenEdge], weld_mm: f64) {
        let place = |vertex: u32| vertices[vertex as usize];
        let lengths = open
            .iter()
            .map(|e| (place(e.ends[1]) - place(e.ends[0])).norm());
        let mean_mm = lengths.sum::<f64>() / open.len().max(1) as f64;
        let cell_mm = mean_mm.max(weld_mm * 4.0);
        let mut grid: HashMap<[i64; 3], Vec<u32>> = HashMap::new();
        for (index, edge) in open.iter().enumerate() {
            let middle = nalgebra::center(&place(edge.ends[0]), &place(edge.ends[1]));
            grid.entry(cell(&middle, cell_mm))
                .or_default()
                .push(index_u32(index));
        }
        for (index, edge) in open.iter().enumerate() {
            let [from, to] = edge.ends.map(place);
            let long = to - from;
            let length_mm = long.norm();
            // A hopeless soup is not searched for long.
            let steps = (length_mm / cell_mm).ceil().min(SEAM_CELLS);
            let mut seen: Vec<[i64; 3]> = Vec::new();
            for step in 0..=steps as u32 {
                let at = from + long * (f64::from(step) / steps.max(1.0));
                let home = cell(&at, cell_mm);
                for near in around(home)
                    .filter(|near| !seen.contains(near))
                    .collect::<Vec<_>>()
                {
                    seen.push(near);
                    for other in grid.get(&near).into_iter().flatten() {
                        let short = &open[*other as usize];
                        let lies = lies_along([from, to], short.ends.map(place), weld_mm);
                        if *other as usize != index && short.triangle != edge.triangle && lies {
                            self.over_seam
                                .entry(edge.triangle)
                                .or_default()
                                .push(short.triangle);
                            self.over_seam
                                .entry(short.triangle)
                                .or_default()
                                .push(edge.triangle);
                        }
                    }
                }
            }
        }
        for list in self.over_seam.values_mut() {
            list.sort_unstable();
            list.dedup();
        }
    }
}

/// Most cells of the grid that are searched along one open edge.
const SEAM_CELLS: f64 = 64.0;

/// Whether the second edge runs the other way on the line of the first and shares a piece of it.
fn lies_along(edge: [Point3<f64>; 2], other: [Point3<f64>; 2], weld_mm: f64) -> bool {
    let along = edge[1] - edge[0];
    let length_mm = along.norm();
    let unit = along / length_mm.max(f64::MIN_POSITIVE);
    let reach = other.map(|end| (end - edge[0]).dot(&unit));
    let off = other.map(|end| (end - edge[0]).cross(&unit).norm());
    off.iter().all(|off| *off <= weld_mm)
        && reach[0] > reach[1]
        && reach[0].min(length_mm) - reach[1].max(0.0) > weld_mm
}

fn cell(point: &Point3<f64>, size_mm: f64) -> [i64; 3] {
    // Coordinates are at most a kilometre.
    [point.x, point.y, point.z].map(|x| (x / size_mm).floor() as i64)
}

fn around([x, y, z]: [i64; 3]) -> impl Iterator<Item = [i64; 3]> {
    (0..27).map(move |k| [x + k % 3 - 1, y + k / 3 % 3 - 1, z + k / 9 - 1])
}

/// Names corners of open edges by the first of those that are within `weld_mm` of each other.
fn near_vertices(vertices: &[Point3<f64>], open: &[OpenEdge], weld_mm: f64) -> HashMap<u32, u32> {
    let mut used: Vec<u32> = open.iter().flat_map(|edge| edge.ends).collect();
    used.sort_unstable();
    used.dedup();
    let mut grid: HashMap<[i64; 3], Vec<u32>> = HashMap::new();
    let mut name = HashMap::new();
    for vertex in used {
        let point = vertices[vertex as usize];
        let home = cell(&point, weld_mm * 2.0);
        let found = around(home)
            .filter_map(|near| grid.get(&near))
            .flatten()
            .find(|other| (vertices[**other as usize] - point).norm() <= weld_mm)
            .copied();
        if let Some(other) = found {
            name.insert(vertex, other);
        } else {
            grid.entry(home).or_default().push(vertex);
        }
    }
    name
}
