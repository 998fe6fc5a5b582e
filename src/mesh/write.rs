//! Writes STL: single precision binary, and ASCII with all digits.

use super::Mesh;
use nalgebra::{Point3, Vector3};
use std::fmt::Write as _;

/// The mesh as binary STL in millimetres, rounded to single precision.
#[must_use]
pub fn write_stl_binary(mesh: &Mesh) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(84 + 50 * mesh.triangles.len());
    let mut header = [0_u8; 80];
    let text = b"lapidary, units mm";
    header[..text.len()].copy_from_slice(text);
    bytes.extend_from_slice(&header);
    bytes.extend_from_slice(&(mesh.triangles.len() as u32).to_le_bytes());
    for triangle in &mesh.triangles {
        let corners = triangle.map(|corner| mesh.vertices[corner as usize]);
        let normal = normal(corners);
        for vector in [
            normal,
            corners[0].coords,
            corners[1].coords,
            corners[2].coords,
        ] {
            for value in vector.iter() {
                bytes.extend_from_slice(&(*value as f32).to_le_bytes());
            }
        }
        bytes.extend_from_slice(&[0, 0]);
    }
    bytes
}

/// The mesh as ASCII STL in millimetres, with as many digits as bring back the same numbers.
#[must_use]
pub fn write_stl_ascii(mesh: &Mesh, name: &str) -> String {
    let name = name.replace(char::is_control, " ");
    let mut text = format!("solid {name}\n");
    for triangle in &mesh.triangles {
        let corners = triangle.map(|corner| mesh.vertices[corner as usize]);
        let n = normal(corners);
        // Writing to a string cannot fail.
        let _ = writeln!(
            text,
            "facet normal {:e} {:e} {:e}\nouter loop",
            n.x, n.y, n.z
        );
        for p in corners {
            let _ = writeln!(text, "vertex {:e} {:e} {:e}", p.x, p.y, p.z);
        }
        text.push_str("endloop\nendfacet\n");
    }
    let _ = writeln!(text, "endsolid {name}");
    text
}

fn normal([a, b, c]: [Point3<f64>; 3]) -> Vector3<f64> {
    (b - a)
        .cross(&(c - a))
        .try_normalize(0.0)
        .unwrap_or_default()
}
