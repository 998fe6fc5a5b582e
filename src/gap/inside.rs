//! Whether a point lies inside a mesh, shell by shell.

use super::shape::MeshShape;
use super::tree::Tree;
use crate::mesh::Mesh;
use crate::value::Vec3;
use std::f64::consts::PI;

/// Where a point is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    Inside,
    Outside,
    Unknown,
}

impl Place {
    fn of_winding(winding: f64) -> Self {
        if winding.abs() > 0.75 {
            Self::Inside
        } else if winding.abs() < 0.25 {
            Self::Outside
        } else {
            Self::Unknown
        }
    }
}

/// Directions along no axis, plane or diagonal of usual parts; their lengths are about 1.
const DIRECTIONS: [[f64; 3]; 8] = [
    [0.577_1, 0.211_3, 0.788_9],
    [-0.312_7, 0.841_9, 0.439_7],
    [0.123_1, -0.655_7, 0.744_9],
    [-0.702_3, -0.388_1, -0.596_9],
    [0.901_7, -0.157_3, -0.402_7],
    [-0.055_9, 0.331_1, -0.941_9],
    [0.418_3, 0.877_7, 0.233_9],
    [-0.877_3, 0.276_7, 0.391_3],
];

/// Where a point (in the mesh's frame) is with respect to the solid.
///
/// Closed shells are asked by a ray with signed crossings, each for itself. Open shells are asked
/// by their solid angle, each for itself and all together; where much surface is seen without
/// a winding, rays in five directions must agree as well. A cavity is empty; every other shell is
/// solid, inside out or not.
///
/// # Shapes
/// A point outside the box of all shells counts as outside: whatever closes an open shell is taken
/// to lie within the box.
pub(super) fn place(shape: &MeshShape, point: &Vec3) -> Place {
    if !shape.tree().bounds.holds(point) {
        return Place::Outside;
    }
    let (mesh, tree) = (shape.mesh(), shape.tree());
    let places = shell_places(mesh, tree, point, None);
    let mut result = open_place(mesh, tree, point);
    for (index, shell_place) in places.iter().enumerate() {
        if shape.cavity_of()[index].is_some() || !mesh.shells[index].closed {
            continue;
        }
        let own = *shell_place;
        if own == Place::Outside {
            continue;
        }
        let cavities = shape.cavity_of().iter().zip(&places);
        let mut emptied = Place::Outside;
        for (_, cavity) in cavities.filter(|(of, _)| **of == Some(index as u32)) {
            match cavity {
                Place::Inside => emptied = Place::Inside,
                Place::Unknown if emptied == Place::Outside => emptied = Place::Unknown,
                _ => {}
            }
        }
        match (own, emptied) {
            (_, Place::Inside) => {}
            (Place::Inside, Place::Outside) => return Place::Inside,
            _ => result = worse(result, Place::Unknown),
        }
    }
    result
}

fn worse(one: Place, other: Place) -> Place {
    match (one, other) {
        (Place::Inside, _) | (_, Place::Inside) => Place::Inside,
        (Place::Unknown, _) | (_, Place::Unknown) => Place::Unknown,
        _ => Place::Outside,
    }
}

/// Where a point is with respect to each closed shell; open shells read as outside.
///
/// A shell that the point is a corner of is left out, as it would make every ray unsafe.
pub(super) fn shell_places(
    mesh: &Mesh,
    tree: &Tree,
    point: &Vec3,
    own_shell: Option<u32>,
) -> Vec<Place> {
    if !mesh.shells.iter().any(|shell| shell.closed) {
        return vec![Place::Outside; mesh.shells.len()];
    }
    for direction in DIRECTIONS {
        if let Some(crossings) = crossings(mesh, tree, point, &Vec3::from(direction), own_shell) {
            let of = |(index, count): (usize, &[i32; 2])| {
                if !mesh.shells[index].closed || count[0] == 0 {
                    Place::Outside
                } else {
                    Place::Inside
                }
            };
            return crossings.iter().enumerate().map(of).collect();
        }
    }
    mesh.shells
        .iter()
        .map(|shell| {
            if shell.closed {
                Place::Unknown
            } else {
                Place::Outside
            }
        })
        .collect()
}

/// Signed and plain crossings of each shell by a ray; `None` where one is too near an edge.
fn crossings(
    mesh: &Mesh,
    tree: &Tree,
    point: &Vec3,
    direction: &Vec3,
    own_shell: Option<u32>,
) -> Option<Vec<[i32; 2]>> {
    let mut counts = vec![[0, 0]; mesh.shells.len()];
    let (e1, e2) = across(direction);
    let mut sound = true;
    tree.visit(
        |bounds| ray_meets(bounds.centre - point, bounds.half, direction),
        |slot| {
            let shell = mesh.shell_of_triangle[tree.number(slot)];
            if Some(shell) == own_shell {
                return;
            }
            let shell = shell as usize;
            let corners = tree.triangle(mesh, slot).map(|corner| corner - point);
            match crossing(&corners, direction, &e1, &e2) {
                Some(sign) => {
                    counts[shell][0] += sign;
                    counts[shell][1] += sign.abs();
                }
                None => sound = false,
            }
        },
    );
    sound.then_some(counts)
}

fn across(direction: &Vec3) -> (Vec3, Vec3) {
    let e1 = direction
        .cross(&Vec3::new(direction.y, direction.z, direction.x))
        .normalize();
    (e1, direction.cross(&e1).normalize())
}

fn ray_meets(centre: Vec3, half: Vec3, direction: &Vec3) -> bool {
    let (mut enter, mut leave) = (0.0_f64, f64::INFINITY);
    let wide = 1e-9 * (1.0 + centre.amax() + half.amax());
    for axis in 0..3 {
        let reach = half[axis] + wide;
        let one = (centre[axis] - reach) / direction[axis];
        let two = (centre[axis] + reach) / direction[axis];
        enter = enter.max(one.min(two));
        leave = leave.min(one.max(two));
    }
    enter <= leave
}

/// 1, 0 or -1 for a crossing from the origin along a direction; `None` where it is not safe.
fn crossing(t: &[Vec3; 3], direction: &Vec3, e1: &Vec3, e2: &Vec3) -> Option<i32> {
    let flat = [0, 1, 2].map(|i: usize| [t[i].dot(e1), t[i].dot(e2)]);
    let size = t[0].amax() + t[1].amax() + t[2].amax();
    let edge = |i: usize, j: usize| flat[i][0] * flat[j][1] - flat[i][1] * flat[j][0];
    let near = |i: usize| flat[i][0].abs() + flat[i][1].abs();
    let mut above = false;
    let mut below = false;
    let mut doubtful = false;
    for (i, j) in [(0, 1), (1, 2), (2, 0)] {
        let value = edge(i, j);
        let doubt = 1e-13 * size * (near(i) + near(j)) + 1e-300;
        if value.abs() <= doubt {
            doubtful = true;
        } else if value > 0.0 {
            above = true;
        } else {
            below = true;
        }
    }
    if above && below {
        return Some(0);
    }
    let normal = (t[1] - t[0]).cross(&(t[2] - t[0]));
    let along = normal.dot(direction);
    let height = normal.dot(&t[0]);
    let behind = t.iter().all(|corner| corner.dot(direction) < -1e-9 * size);
    if behind {
        return Some(0);
    }
    if doubtful || height.abs() <= 1e-12 * size * normal.norm() {
        return None;
    }
    let ahead = (height > 0.0) == (along > 0.0);
    Some(if !ahead {
        0
    } else if along > 0.0 {
        1
    } else {
        -1
    })
}

/// Where a point is with respect to all open shells.
fn open_place(mesh: &Mesh, tree: &Tree, point: &Vec3) -> Place {
    if mesh.shells.iter().all(|shell| shell.closed) {
        return Place::Outside;
    }
    let mut windings = vec![0.0; mesh.shells.len()];
    let mut seen = 0.0;
    for (corners, &shell) in mesh.triangles.iter().zip(&mesh.shell_of_triangle) {
        if mesh.shells[shell as usize].closed {
            continue;
        }
        let t = corners.map(|corner| mesh.vertices[corner as usize].coords - point);
        let winding = solid_angle(&t) / (4.0 * PI);
        windings[shell as usize] += winding;
        seen += winding.abs();
    }
    let mut result = Place::of_winding(windings.iter().sum());
    for winding in windings {
        result = worse(result, Place::of_winding(winding));
    }
    if result == Place::Outside && seen > 0.75 {
        return by_parity(mesh, tree, point);
    }
    result
}

/// Solid angle of a triangle from the origin (van Oosterom and Strackee, IEEE Trans. Biomed. Eng.
/// BME-30(2), 1983).
fn solid_angle(t: &[Vec3; 3]) -> f64 {
    let [a, b, c] = [t[0].norm(), t[1].norm(), t[2].norm()];
    let volume = t[0].dot(&t[1].cross(&t[2]));
    let scale = a * b * c + t[0].dot(&t[1]) * c + t[1].dot(&t[2]) * a + t[2].dot(&t[0]) * b;
    2.0 * volume.atan2(scale)
}

/// Inside or outside only where five rays agree about the open shells.
fn by_parity(mesh: &Mesh, tree: &Tree, point: &Vec3) -> Place {
    let mut odd = 0;
    let mut asked = 0;
    for direction in DIRECTIONS {
        let Some(counts) = crossings(mesh, tree, point, &Vec3::from(direction), None) else {
            continue;
        };
        let open = counts
            .iter()
            .zip(&mesh.shells)
            .filter(|(_, shell)| !shell.closed);
        let total: i32 = open.map(|(count, _)| count[1]).sum();
        odd += total % 2;
        asked += 1;
        if asked == 5 {
            break;
        }
    }
    match (asked, odd) {
        (5, 0) => Place::Outside,
        (5, 5) => Place::Inside,
        _ => Place::Unknown,
    }
}
