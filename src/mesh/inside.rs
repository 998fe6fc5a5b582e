//! Winding number of a point in one shell.

use super::Mesh;
use nalgebra::Point3;

/// How often one shell winds round a point: 1 inside a sound closed shell, 0 outside, -1 inside
/// one that is inside out; a value in between near holes.
///
/// # Guarantees
/// Exact up to rounding (about 1e-12 for a thousand triangles) unless the point lies on the shell.
///
/// # Source
/// Solid angle of a triangle by van Oosterom and Strackee, 1983, equation 8 (from memory).
#[must_use]
pub fn winding_number(mesh: &Mesh, shell: u32, point: Point3<f64>) -> f64 {
    let triangles = mesh.triangles.iter().zip(&mesh.shell_of_triangle);
    let of_shell = triangles
        .filter(|(_, of)| **of == shell)
        .map(|(corners, _)| corners);
    let angle: f64 = of_shell
        .map(|corners| solid_angle(corners.map(|c| mesh.vertices[c as usize]), point))
        .sum();
    angle / (4.0 * std::f64::consts::PI)
}

fn solid_angle(corners: [Point3<f64>; 3], point: Point3<f64>) -> f64 {
    let [a, b, c] = corners.map(|corner| corner - point);
    let (la, lb, lc) = (a.norm(), b.norm(), c.norm());
    let volume = a.dot(&b.cross(&c));
    let cosine = la * lb * lc + a.dot(&b) * lc + b.dot(&c) * la + c.dot(&a) * lb;
    2.0 * volume.atan2(cosine)
}
