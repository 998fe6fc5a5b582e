//! Whether a body lies wholly inside another, both ways round, at one pose.

use super::ask::{Contained, Side};
use super::inside::{Place, place};
use super::piece::Revolved;
use super::shape::{MeshShape, Placed, Shape};
use crate::value::Pose;
use nalgebra::Point3;

/// What is known about containment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Containment {
    None,
    Found(Contained),
    Unknown,
}

/// Asks every pair of two groups.
///
/// Where no surfaces meet along a motion, a connected part of a body cannot change sides during
/// it: the set of poses is connected (a convex set of translations, an interval of angles, or
/// their product), and the side could change only through contact. So one pose speaks for all.
/// A piece against a triangle needs no test: the piece is solid in the leaf query.
pub(super) fn containment(a: &[Placed], b: &[Placed]) -> Containment {
    let mut result = Containment::None;
    for (instance_a, one) in a.iter().enumerate() {
        for (instance_b, two) in b.iter().enumerate() {
            let found = |inner| {
                Containment::Found(Contained {
                    inner,
                    instance_a,
                    instance_b,
                })
            };
            let one_from_two = one.common_from_body.inv_mul(&two.common_from_body);
            let places = match (&one.shape, &two.shape) {
                (Shape::Revolved(_), Shape::Revolved(_)) => continue,
                (Shape::Revolved(tool), Shape::Mesh(mesh)) => [
                    pieces_in(tool, mesh, &one_from_two.inverse()),
                    Place::Outside,
                ],
                (Shape::Mesh(mesh), Shape::Revolved(tool)) => {
                    [Place::Outside, pieces_in(tool, mesh, &one_from_two)]
                }
                (Shape::Mesh(one), Shape::Mesh(two)) => [
                    shells_in(one, two, &one_from_two.inverse()),
                    shells_in(two, one, &one_from_two),
                ],
            };
            match places {
                [Place::Inside, _] => return found(Side::A),
                [_, Place::Inside] => return found(Side::B),
                [Place::Unknown, _] | [_, Place::Unknown] => result = Containment::Unknown,
                _ => {}
            }
        }
    }
    result
}

fn pieces_in(tool: &Revolved, mesh: &MeshShape, mesh_from_tool: &Pose) -> Place {
    let points = tool
        .pieces()
        .iter()
        .map(|piece| Point3::from(piece.inner_point()));
    any_in(points, mesh, mesh_from_tool)
}

fn shells_in(inner: &MeshShape, outer: &MeshShape, outer_from_inner: &Pose) -> Place {
    let mesh = inner.mesh();
    let first_corner = |triangle: u32| {
        let [corner, _, _] = mesh.triangles[triangle as usize];
        mesh.vertices[corner as usize]
    };
    let points = mesh
        .shells
        .iter()
        .map(|shell| first_corner(shell.first_triangle));
    any_in(points, outer, outer_from_inner)
}

fn any_in(
    points: impl Iterator<Item = Point3<f64>>,
    mesh: &MeshShape,
    mesh_from_here: &Pose,
) -> Place {
    let mut result = Place::Outside;
    for point in points {
        match place(mesh, &(mesh_from_here * point).coords) {
            Place::Inside => return Place::Inside,
            Place::Unknown => result = Place::Unknown,
            Place::Outside => {}
        }
    }
    result
}
