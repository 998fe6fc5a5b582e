//! Faces and how they meet: rims, loops, neighbours.

use crate::mesh::faces::bonds::NONE;
use crate::mesh::faces::geo::Geo;
use crate::mesh::faces::{Face, FaceForm, Faces};
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use nalgebra::Point3;
use std::collections::{BTreeMap, BTreeSet};

/// A piece of the rim of a face.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rim {
    /// Vertex where it begins; the face is on the left, seen from outside the material.
    pub(super) from: u32,
    /// Vertex where it ends.
    pub(super) to: u32,
    /// Triangle of the face.
    pub(super) inside: u32,
    /// Triangle of the neighbour; none at the end of an open surface, and where more than two triangles meet.
    pub(super) outside: Option<u32>,
}

/// Faces with their rims, in canonical order of triangles.
pub(super) struct Graph<'a> {
    pub(super) geo: &'a Geo,
    pub(super) faces: &'a [Face],
    /// Face of each canonical triangle.
    pub(super) face_of: Vec<u32>,
    /// Rims of each face.
    pub(super) rims: Vec<Vec<Rim>>,
    /// Neighbours of each face, each with the length over which they meet in a hollow and in an
    /// outer edge.
    pub(super) neighbours: Vec<BTreeMap<u32, [f64; 2]>>,
    /// Canonical triangles of each face.
    pub(super) triangles: Vec<Vec<u32>>,
    /// Lengths below this say nothing.
    pub(super) grain_mm: f64,
}

impl<'a> Graph<'a> {
    pub(super) fn new(geo: &'a Geo, faces: &'a Faces) -> Self {
        let of = |original: &u32| faces.face_of_triangle[*original as usize];
        let face_of: Vec<u32> = geo.canon.original.iter().map(of).collect();
        let count = faces.faces.len();
        let mut graph = Self {
            geo,
            faces: &faces.faces,
            rims: vec![Vec::new(); count],
            neighbours: vec![BTreeMap::new(); count],
            triangles: vec![Vec::new(); count],
            grain_mm: (4.0 * faces.tolerance_mm).max(0.01),
            face_of,
        };
        for triangle in 0..index_u32(geo.len()) {
            graph.add(triangle);
        }
        graph
    }

    fn add(&mut self, inside: u32) {
        let face = self.face_of[inside as usize];
        self.triangles[face as usize].push(inside);
        let corners = self.geo.canon.triangles[inside as usize];
        for corner in 0..3 {
            let bonds = &self.geo.bonds;
            let over = Some(bonds.over(inside, corner)).filter(|other| *other != NONE);
            let mut seam = bonds.of(inside).filter(|o| !self.over_edge(inside, *o));
            let outside = over.or_else(|| seam.next());
            let beside = outside.map(|outside| self.face_of[outside as usize]);
            if beside == Some(face) {
                continue;
            }
            let rim = Rim {
                from: corners[corner],
                to: corners[(corner + 1) % 3],
                inside,
                outside,
            };
            self.rims[face as usize].push(rim);
            if let Some(other) = beside {
                let length_mm = (self.at(rim.to) - self.at(rim.from)).norm();
                let falls = usize::from(self.lean(&rim) > 0.0);
                let entry = self.neighbours[face as usize]
                    .entry(other)
                    .or_insert([0.0; 2]);
                entry[falls] += length_mm;
            }
        }
    }

    fn over_edge(&self, triangle: u32, other: u32) -> bool {
        (0..3).any(|corner| self.geo.bonds.over(triangle, corner) == other)
    }

    pub(super) fn at(&self, vertex: u32) -> Point3<f64> {
        self.geo.canon.vertices[vertex as usize]
    }

    /// Unit vector out of the face, in it, across a rim.
    pub(super) fn outward(&self, rim: &Rim) -> Vec3 {
        let edge = self.at(rim.to) - self.at(rim.from);
        let normal = self.geo.shape[rim.inside as usize].normal;
        edge.cross(&normal)
            .try_normalize(1e-12)
            .unwrap_or_else(Vec3::zeros)
    }

    /// The face behind a rim.
    pub(super) fn behind(&self, rim: &Rim) -> Option<u32> {
        rim.outside.map(|outside| self.face_of[outside as usize])
    }

    /// How the neighbour leans: below 0 it rises (a hollow edge), above 0 it falls away.
    pub(super) fn lean(&self, rim: &Rim) -> f64 {
        rim.outside.map_or(1.0, |outside| {
            let normal = &self.geo.shape[outside as usize].normal;
            normal.dot(&self.outward(rim))
        })
    }

    pub(super) fn form(&self, face: u32) -> &'a FaceForm {
        &self.faces[face as usize].form
    }

    /// Neighbours of a face that are met over more than the grain.
    pub(super) fn beside(&self, face: u32) -> BTreeSet<u32> {
        let long = |(_, lengths): &(&u32, &[f64; 2])| lengths[0] + lengths[1] > self.grain_mm;
        self.neighbours[face as usize]
            .iter()
            .filter(long)
            .map(|(other, _)| *other)
            .collect()
    }

    /// All corners of a face.
    pub(super) fn corners(&self, face: u32) -> impl Iterator<Item = Point3<f64>> + '_ {
        self.triangles[face as usize]
            .iter()
            .flat_map(|t| self.geo.corners(*t))
    }

    /// Rims of a face chained into loops; where vertices are met twice, in the order of the file's
    /// canonical triangles.
    pub(super) fn loops(&self, face: u32) -> Vec<Vec<Rim>> {
        let rims = &self.rims[face as usize];
        let mut starting: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (index, rim) in rims.iter().enumerate().rev() {
            starting.entry(rim.from).or_default().push(index);
        }
        let mut used = vec![false; rims.len()];
        let mut loops = Vec::new();
        for first in 0..rims.len() {
            if used[first] {
                continue;
            }
            let (mut chain, mut next) = (Vec::new(), Some(first));
            while let Some(index) = next {
                used[index] = true;
                chain.push(rims[index]);
                if rims[index].to == rims[first].from {
                    break;
                }
                let waiting = starting.get_mut(&rims[index].to);
                next = waiting.and_then(|list| {
                    list.retain(|index| !used[*index]);
                    list.pop()
                });
            }
            loops.push(chain);
        }
        loops
    }

    /// Signed area of a loop seen along `normal`: positive for the outer one.
    pub(super) fn loop_area(&self, chain: &[Rim], normal: &Vec3) -> f64 {
        let Some(first) = chain.first() else {
            return 0.0;
        };
        let origin = self.at(first.from);
        let cross = |rim: &Rim| (self.at(rim.from) - origin).cross(&(self.at(rim.to) - origin));
        chain.iter().map(cross).sum::<Vec3>().dot(normal) / 2.0
    }

    pub(super) fn length(&self, chain: &[Rim]) -> f64 {
        chain
            .iter()
            .map(|rim| (self.at(rim.to) - self.at(rim.from)).norm())
            .sum()
    }
}
