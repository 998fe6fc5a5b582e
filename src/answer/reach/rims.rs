//! Edges at which something rises from a flat face, and how a round end stands clear of them.

use crate::mesh::Mesh;
use crate::mesh::faces::{FaceForm, Faces};
use crate::value::Vec3;
use std::collections::HashMap;

/// A neighbour that rises no more than this over a flat face does not rise.
const RISE_MM: f64 = 1e-5;

/// How often a place is pushed out of one edge after the other.
const PUSHES: u32 = 12;

/// An edge of a flat face at which something rises, in the part's frame.
#[derive(Debug, Clone, Copy)]
struct Edge {
    from: Vec3,
    along: Vec3,
    length_mm: f64,
    /// In the face's plane, across the edge, to the face.
    inward: Vec3,
}

/// All such edges, face by face.
#[derive(Debug)]
pub struct Rims(Vec<Vec<Edge>>);

impl Rims {
    /// Finds them.
    #[must_use]
    pub fn new(mesh: &Mesh, faces: &Faces) -> Self {
        let mut rims = vec![Vec::new(); faces.faces.len()];
        let mut over: HashMap<[u32; 2], usize> = HashMap::new();
        for (triangle, corners) in mesh.triangles.iter().enumerate() {
            for k in 0..3 {
                over.insert([corners[(k + 1) % 3], corners[k]], triangle);
            }
        }
        let at = |corner: u32| mesh.vertices[corner as usize].coords;
        for (triangle, corners) in mesh.triangles.iter().enumerate() {
            let face = faces.face_of_triangle[triangle];
            let FaceForm::Flat { normal, .. } = faces.faces[face as usize].form else {
                continue;
            };
            for k in 0..3 {
                let edge = [corners[k], corners[(k + 1) % 3]];
                let Some(&other) = over.get(&edge) else {
                    continue;
                };
                let far = mesh.triangles[other].map(|c| normal.dot(&(at(c) - at(edge[0]))));
                let rises = far.into_iter().any(|rise_mm| rise_mm > RISE_MM);
                let along = at(edge[1]) - at(edge[0]);
                let length_mm = along.norm();
                if faces.face_of_triangle[other] == face || !rises || length_mm == 0.0 {
                    continue;
                }
                let along = along / length_mm;
                let across = normal.cross(&along);
                // In a mesh that is inside out the triangle lies on the other side.
                let side = across.dot(&(at(corners[(k + 2) % 3]) - at(edge[0])));
                rims[face as usize].push(Edge {
                    from: at(edge[0]),
                    along,
                    length_mm,
                    inward: across * side.signum(),
                });
            }
        }
        Self(rims)
    }

    /// The place near `start`, in a face's plane, at which a disc keeps its radius from every edge: the
    /// middle of a slot as wide as the disc, as far into a corner as it goes. It is a proposal: where
    /// no such place is near, something else comes out.
    #[must_use]
    pub fn pushed_out(&self, face: u32, start: Vec3, radius_mm: f64) -> Vec3 {
        let mut place = start;
        for _ in 0..PUSHES {
            let pushes = self.0[face as usize].iter();
            let deepest = pushes
                .filter_map(|edge| edge.push(&place, radius_mm))
                .max_by(|a, b| a.norm_squared().total_cmp(&b.norm_squared()));
            match deepest {
                Some(push) if push.norm() > RISE_MM => place += push,
                _ => break,
            }
        }
        place
    }
}

impl Edge {
    /// The shift that takes a disc just off the edge.
    fn push(&self, place: &Vec3, radius_mm: f64) -> Option<Vec3> {
        let from = place - self.from;
        let on_mm = self.along.dot(&from);
        if (0.0..=self.length_mm).contains(&on_mm) {
            let off_mm = self.inward.dot(&from);
            return (off_mm.abs() < radius_mm).then(|| self.inward * (radius_mm - off_mm));
        }
        let away = from - self.along * on_mm.clamp(0.0, self.length_mm);
        let off_mm = away.norm();
        (off_mm < radius_mm && off_mm > RISE_MM).then(|| away * ((radius_mm - off_mm) / off_mm))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_disc_goes_to_the_middle_of_a_slot_and_into_a_corner() {
        let edge = |from: [f64; 2], to: [f64; 2]| {
            let (from, to) = (
                Vec3::new(from[0], from[1], 0.0),
                Vec3::new(to[0], to[1], 0.0),
            );
            let along = (to - from).normalize();
            Edge {
                from,
                along,
                length_mm: (to - from).norm(),
                inward: Vec3::z().cross(&along),
            }
        };
        // A slot 3 wide along x, closed at x = 20.
        let slot = Rims(vec![vec![
            edge([0.0, 0.0], [20.0, 0.0]),
            edge([20.0, 0.0], [20.0, 3.0]),
            edge([20.0, 3.0], [0.0, 3.0]),
        ]]);
        let found = slot.pushed_out(0, Vec3::new(5.0, 0.4, 0.0), 1.5);
        assert!((found - Vec3::new(5.0, 1.5, 0.0)).norm() < 1e-9, "{found}");
        let found = slot.pushed_out(0, Vec3::new(19.7, 2.8, 0.0), 1.5);
        assert!((found - Vec3::new(18.5, 1.5, 0.0)).norm() < 1e-9, "{found}");
        let found = slot.pushed_out(0, Vec3::new(19.9, 2.8, 0.0), 1.0);
        assert!((found - Vec3::new(19.0, 2.0, 0.0)).norm() < 1e-9, "{found}");
    }
}
