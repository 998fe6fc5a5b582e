//! A mesh in an order of its own: the same for any order of its triangles and vertices.

use crate::mesh::Mesh;
use crate::mesh::weld::index_u32;
use nalgebra::Point3;
use rayon::prelude::*;

/// Vertices by x, y and z; triangles by their corners, the lowest corner first.
///
/// All that follows works in this order, so nothing can depend on the order of the file.
pub(in crate::mesh) struct Canon {
    pub(in crate::mesh) vertices: Vec<Point3<f64>>,
    pub(in crate::mesh) triangles: Vec<[u32; 3]>,
    /// Triangle of the mesh for each of `triangles`.
    pub(in crate::mesh) original: Vec<u32>,
}

impl Canon {
    /// Brings a mesh into order; shells in `flipped` are turned inside out.
    pub(in crate::mesh) fn of(mesh: &Mesh, flipped: &[bool]) -> Self {
        // Zero has two signs, which compare as different in a total order.
        let plain = |p: &Point3<f64>| Point3::new(p.x + 0.0, p.y + 0.0, p.z + 0.0);
        let mut order: Vec<(Point3<f64>, u32)> =
            mesh.vertices.iter().map(plain).zip(0_u32..).collect();
        order.par_sort_unstable_by(|a, b| before(&a.0, &b.0).then(a.1.cmp(&b.1)));
        let mut vertices: Vec<Point3<f64>> = Vec::with_capacity(order.len());
        let mut new_vertex = vec![0_u32; order.len()];
        for (point, old) in order {
            if vertices.last() != Some(&point) {
                vertices.push(point);
            }
            new_vertex[old as usize] = index_u32(vertices.len() - 1);
        }
        let renamed = |(index, corners): (usize, &[u32; 3])| {
            let [a, b, c] = corners.map(|corner| new_vertex[corner as usize]);
            let shell = mesh.shell_of_triangle.get(index);
            let flip = shell.is_some_and(|shell| flipped[*shell as usize]);
            (
                lowest_first(if flip { [a, c, b] } else { [a, b, c] }),
                index_u32(index),
            )
        };
        let mut triangles: Vec<([u32; 3], u32)> =
            mesh.triangles.par_iter().enumerate().map(renamed).collect();
        triangles.par_sort_unstable();
        let (triangles, original) = triangles.into_iter().unzip();
        Self {
            vertices,
            triangles,
            original,
        }
    }
}

fn before(a: &Point3<f64>, b: &Point3<f64>) -> std::cmp::Ordering {
    a.x.total_cmp(&b.x)
        .then(a.y.total_cmp(&b.y))
        .then(a.z.total_cmp(&b.z))
}

/// The same triangle, beginning with its lowest corner.
pub(in crate::mesh) fn lowest_first([a, b, c]: [u32; 3]) -> [u32; 3] {
    if a < b && a < c {
        [a, b, c]
    } else if b < c {
        [b, c, a]
    } else {
        [c, a, b]
    }
}
