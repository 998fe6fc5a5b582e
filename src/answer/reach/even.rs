//! What rounding of vertices does to normals, taken back: planes are even, cylinders are straight.

use crate::mesh::Mesh;
use crate::mesh::faces::{Face, FaceForm, Faces};
use crate::value::Vec3;

/// A flat face whose corners are no farther from its plane than this is that plane: single precision, or few
/// decimals, let its triangles lean, thin ones much. A tip that touches the plane is then at most this deep
/// in a triangle, or off it, which counts as gouge like any other.
const EVEN_MM: f64 = 1e-3;

/// In a less even face the triangles whose normals are no farther off than this lie in its plane.
const SAME_PLANE: f64 = 1e-6;

/// Vertices are no better known than this share of the largest coordinate: eight times what single precision
/// rounds away.
const ROUNDING: f64 = 1.0 / (1 << 20) as f64;

/// A normal's component that is no more than this is none, however large the face,
pub const LEAST_LEVEL: f64 = 1e-6;

/// and one that is more is one, however small.
const MOST_LEVEL: f64 = 1e-4;

/// Normals of a mesh that was split into faces.
pub struct Even {
    /// Of each triangle.
    pub normals: Vec<Vec3>,
    /// For each triangle its face, where it lies in the plane of a flat one; else a number of its own.
    pub planes: Vec<u32>,
    /// For each face, up to where a component of its normal is none.
    pub level: Vec<f64>,
}

impl Even {
    /// From the triangles' own normals.
    #[must_use]
    pub fn new(mesh: &Mesh, faces: &Faces, mut normals: Vec<Vec3>) -> Self {
        let largest_mm = mesh.vertices.iter().map(|at| at.coords.amax());
        let rounding_mm = ROUNDING * largest_mm.fold(0.0, f64::max);
        let mut planes = Vec::with_capacity(normals.len());
        for (triangle, normal) in normals.iter_mut().enumerate() {
            let number = faces.face_of_triangle[triangle];
            let face = &faces.faces[number as usize];
            if let FaceForm::Cylinder { direction, .. } = face.form {
                let along = mesh.corners(triangle as u32);
                let along = along.map(|corner| direction.dot(&corner.coords));
                let length_mm = along.iter().copied().fold(f64::MIN, f64::max)
                    - along.iter().copied().fold(f64::MAX, f64::min);
                *normal = upright(normal, &direction, rounding_mm / length_mm);
            }
            // Numbers of faces and of lone triangles do not meet.
            planes.push(match lies_in(face, normal) {
                true => number,
                false => faces.faces.len() as u32 + triangle as u32,
            });
        }
        let level = |face: &Face| level(mesh, face, rounding_mm);
        Self {
            normals,
            planes,
            level: faces.faces.iter().map(level).collect(),
        }
    }
}

/// Whether a triangle of a face lies in its plane.
fn lies_in(face: &Face, of_triangle: &Vec3) -> bool {
    match face.form {
        FaceForm::Flat { normal, .. } if face.fit_error_mm <= EVEN_MM => {
            normal.dot(of_triangle) > 0.0
        }
        FaceForm::Flat { normal, .. } => (normal - of_triangle).norm() <= SAME_PLANE,
        _ => false,
    }
}

/// A facet's normal without the component along its cylinder's axis, where that is no more than rounding.
fn upright(normal: &Vec3, direction: &Vec3, rounding: f64) -> Vec3 {
    let along = normal.dot(direction);
    let across = normal - direction * along;
    match across.try_normalize(0.5) {
        Some(across) if along.abs() <= rounding => across,
        _ => *normal,
    }
}

/// How far a component of a face's normal may be off because its vertices are rounded.
fn level(mesh: &Mesh, face: &Face, rounding_mm: f64) -> f64 {
    let breadth_mm = match face.form {
        FaceForm::Flat { .. } => {
            let triangles = face.triangles.iter();
            let corners = triangles.flat_map(|triangle| mesh.corners(*triangle));
            let away = corners.map(|corner| (corner - face.centre).norm());
            face.area_mm2 / away.fold(0.0, f64::max)
        }
        FaceForm::Cylinder { length_mm, .. } => length_mm,
        _ => return LEAST_LEVEL,
    };
    let off_mm = rounding_mm.max(face.fit_error_mm.min(EVEN_MM));
    (off_mm / breadth_mm).clamp(LEAST_LEVEL, MOST_LEVEL)
}
