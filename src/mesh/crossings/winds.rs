//! How often shells of a mesh wind round a point.

use super::boxes::Boxes;
use crate::mesh::Mesh;
use crate::value::Vec3;
use nalgebra::Point3;

/// Directions of rays; where one passes too near an edge the next is tried. None is along an axis or a diagonal.
const WAYS: [[f64; 3]; 6] = [
    [0.435, 0.627, 0.646],
    [-0.713, 0.261, 0.651],
    [0.197, -0.853, -0.483],
    [-0.388, -0.341, 0.856],
    [0.921, 0.164, -0.353],
    [0.059, 0.549, -0.834],
];

/// Share of a triangle's size within which a ray counts as passing its edge.
const BESIDE: f64 = 1e-9;

/// The winding number of some shells about a point off their surfaces; `None` where every ray meets an edge.
///
/// # Shapes
/// Shells whose edges run both ways as often ([`crate::mesh::Shell::balanced`]).
///
/// # Source
/// Signed crossings of a ray; each by the volumes of three tetrahedra (own derivation).
pub(super) fn winds(
    mesh: &Mesh,
    boxes: &Boxes,
    point: &Point3<f64>,
    of: impl Fn(u32) -> bool,
) -> Option<i32> {
    WAYS.iter()
        .find_map(|way| along(mesh, boxes, point, &Vec3::from(*way), &of))
}

fn along(
    mesh: &Mesh,
    boxes: &Boxes,
    point: &Point3<f64>,
    way: &Vec3,
    of: impl Fn(u32) -> bool,
) -> Option<i32> {
    let mut level = Some(0);
    boxes.along(point, way, |triangle| {
        if of(mesh.shell_of_triangle[triangle as usize]) {
            let passes = passes(&mesh.corners(triangle).map(|p| p - point), way);
            level = level.zip(passes).map(|(level, passes)| level + passes);
        }
    });
    level
}

/// How a ray from the origin passes a triangle: 1 out of it, -1 into it, 0 beside it.
fn passes([a, b, c]: &[Vec3; 3], way: &Vec3) -> Option<i32> {
    let volumes = [(a, b), (b, c), (c, a)].map(|(p, q)| p.cross(q).dot(way));
    let normal = (b - a).cross(&(c - a));
    let size = normal.norm();
    if volumes
        .iter()
        .any(|v| v.abs() <= BESIDE * size.max(a.norm() * (b - a).norm()))
    {
        // Near the line of an edge, and perhaps not near the edge: either way another ray is surer, unless all is
        // behind.
        let behind = [a, b, c].iter().all(|p| p.dot(way) < 0.0);
        return behind.then_some(0);
    }
    let out = volumes.iter().all(|v| *v > 0.0);
    let into = volumes.iter().all(|v| *v < 0.0);
    if !(out || into) {
        return Some(0);
    }
    // In front, where the plane is met ahead of the origin.
    let ahead = a.dot(&normal) * normal.dot(way) > 0.0;
    Some(match (ahead, out) {
        (false, _) => 0,
        (true, true) => 1,
        (true, false) => -1,
    })
}
