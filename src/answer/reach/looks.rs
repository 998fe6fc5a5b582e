//! A number for what bodies look like where they stand, however their surfaces are cut into triangles.

use super::around::{SAME_PLACE_MM, SAME_TURN, place, rounded};
use crate::answer::scene::Body;
use crate::gap::{Ring, Shape};
use crate::mesh::Mesh;
use crate::value::Pose;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};

/// Bodies in an order that depends on how they look alone, and a number that is the same for poses in which
/// they look the same: as a column with plates does after a quarter turn, however its sides are cut into
/// triangles and whichever plate has come to which side.
#[must_use]
pub fn in_order(bodies: &[Body], approach_from_group: &Pose) -> (Vec<Body>, usize) {
    let looks = bodies.iter().map(|body| look_of(body, approach_from_group));
    let mut all: Vec<(u64, &Body)> = looks.zip(bodies).collect();
    all.sort_by_key(|(look, _)| *look);
    let mut hasher = DefaultHasher::new();
    for (look, _) in &all {
        look.hash(&mut hasher);
    }
    let ordered = all.into_iter().map(|(_, body)| body.clone()).collect();
    (ordered, hasher.finish() as usize)
}

/// The same for bodies whose surfaces are the same where they stand, to some 1e-6 mm.
///
/// # Guarantees
/// Bodies with the same number look alike but for the chance that two numbers of 64 bits meet. Bodies that look
/// alike may have different numbers: where flat pieces of their surfaces have other corners.
fn look_of(body: &Body, approach_from_group: &Pose) -> u64 {
    let approach_from_body = approach_from_group * body.pose;
    let mut hasher = DefaultHasher::new();
    body.chord_allowance_mm.to_bits().hash(&mut hasher);
    match &body.shape {
        Shape::Mesh(shape) => outlines(shape.mesh(), &approach_from_body).hash(&mut hasher),
        Shape::Revolved(shape) => {
            // It looks the same however it is turned about its own axis.
            let axis = approach_from_body.rotation * nalgebra::Vector3::z();
            // By what it is, not where it is kept: what is put in order by this must be so in every run.
            for piece in shape.pieces() {
                let numbers = |ring: &Ring| [ring.radius_mm, ring.height_mm, ring.ball_mm];
                let bits = |ring: &Ring| numbers(ring).map(f64::to_bits);
                let rings: Vec<[u64; 3]> = piece.rings().iter().map(bits).collect();
                rings.hash(&mut hasher);
            }
            rounded::<3>(axis.as_slice(), SAME_TURN).hash(&mut hasher);
            place(&approach_from_body.translation.vector).hash(&mut hasher);
        }
    }
    hasher.finish()
}

/// An edge of a flat piece: its plane as rounded numbers, and its ends.
type Edge = ([i64; 4], [i64; 3], [i64; 3]);

/// Outlines of the flat pieces of a surface: edges between two triangles of one plane cancel out, and what
/// is left tells the pieces apart from all others, whichever triangles they were cut into.
/// Each with how often it runs this way round.
fn outlines(mesh: &Mesh, approach_from_body: &Pose) -> Vec<(Edge, i32)> {
    let mut edges: HashMap<Edge, i32> = HashMap::new();
    for triangle in &mesh.triangles {
        let corners = triangle.map(|corner| approach_from_body * mesh.vertices[corner as usize]);
        let [a, b, c] = corners;
        let Some(normal) = (b - a).cross(&(c - a)).try_normalize(0.0) else {
            continue;
        };
        let [x, y, z] = rounded(normal.as_slice(), SAME_TURN);
        let [offset] = rounded(&[normal.dot(&a.coords)], SAME_PLACE_MM);
        let ends = corners.map(|corner| place(&corner.coords));
        for k in 0..3 {
            let (from, to) = (ends[k], ends[(k + 1) % 3]);
            let plane = [x, y, z, offset];
            let (key, way) = match from < to {
                true => ((plane, from, to), 1),
                false => ((plane, to, from), -1),
            };
            *edges.entry(key).or_default() += way;
        }
    }
    let left = edges.into_iter().filter(|(_, ways)| *ways != 0);
    let mut left: Vec<(Edge, i32)> = left.collect();
    left.sort_unstable();
    left
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::scene::BodyId;
    use crate::gap::{MeshShape, Piece, Revolved};
    use crate::mesh::Chord;
    use crate::value::about_axis;
    use nalgebra::Point3;
    use std::sync::Arc;

    /// A square plate, its faces cut along one diagonal or the other, one corner moved.
    fn plate(cut_other_way: bool, corner_x_mm: f64) -> Body {
        let corners = [(corner_x_mm, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)];
        let vertices: Vec<Point3<f64>> = [0.0, 1.0]
            .iter()
            .flat_map(|z| corners.map(|(x, y)| Point3::new(x, y, *z)))
            .collect();
        let mut triangles = Vec::new();
        let mut quad = |a: u32, b: u32, c: u32, d: u32| match cut_other_way {
            true => triangles.extend([[a, b, d], [b, c, d]]),
            false => triangles.extend([[a, b, c], [a, c, d]]),
        };
        quad(4, 5, 6, 7);
        quad(3, 2, 1, 0);
        for k in 0..4 {
            quad(k, (k + 1) % 4, (k + 1) % 4 + 4, k + 4);
        }
        let (mesh, _) = Mesh::from_indexed(&vertices, &triangles, Chord::Stated(0.0)).unwrap();
        Body {
            id: BodyId::Carrier(0),
            name: "plate".to_owned(),
            shape: Shape::Mesh(Arc::new(MeshShape::new(Arc::new(mesh)).unwrap())),
            pose: Pose::identity(),
            chord_allowance_mm: 0.0,
            gouge_chord_mm: 0.0,
        }
    }

    #[test]
    fn a_square_plate_looks_the_same_after_a_quarter_turn() {
        let turned = |deg: f64| {
            let axis = nalgebra::Vector3::z();
            about_axis(&axis, &Point3::origin(), deg)
        };
        let look = |body: &Body, deg: f64| look_of(body, &turned(deg));
        let square = plate(false, -1.0);
        assert_eq!(look(&square, 0.0), look(&square, 90.0));
        assert_eq!(look(&square, 0.0), look(&plate(true, -1.0), 180.0));
        assert_ne!(look(&square, 0.0), look(&square, 45.0));
        let skew = plate(false, -1.001);
        assert_ne!(look(&skew, 0.0), look(&skew, 90.0));
        assert_ne!(look(&skew, 0.0), look(&square, 0.0));
    }

    #[test]
    fn plates_change_places_as_the_carrier_turns() {
        let at = |name: &str, x_mm: f64| Body {
            name: name.to_owned(),
            pose: Pose::translation(x_mm, 0.0, 0.0),
            ..plate(x_mm > 0.0, -1.0)
        };
        let seen = |deg: f64, far_mm: f64| {
            let bodies = [at("one", 5.0), at("two", -far_mm)];
            let turn = about_axis(&nalgebra::Vector3::z(), &Point3::origin(), deg);
            let (ordered, looks) = in_order(&bodies, &turn);
            let names: Vec<String> = ordered.into_iter().map(|body| body.name).collect();
            (names, looks)
        };
        let ((names, looks), (mut turned, same)) = (seen(0.0, 5.0), seen(180.0, 5.0));
        assert_eq!(looks, same);
        assert_ne!(names, turned);
        turned.reverse();
        assert_eq!(names, turned);
        assert_ne!(seen(0.0, 5.001).1, seen(180.0, 5.001).1);
        assert_ne!(looks, seen(90.0, 5.0).1);
    }

    #[test]
    fn a_turned_body_looks_as_its_profile_does() {
        let pin = |radius_mm: f64| {
            let rings = [0.0, 9.0].map(|height_mm| Ring::disc(radius_mm, height_mm));
            let pieces = vec![Piece::new(rings.to_vec()).unwrap()];
            Body {
                shape: Shape::Revolved(Arc::new(Revolved::new(pieces).unwrap())),
                ..plate(false, -1.0)
            }
        };
        let look = |radius_mm: f64| look_of(&pin(radius_mm), &Pose::identity());
        assert_eq!(look(3.0), look(3.0));
        assert_ne!(look(3.0), look(3.001));
    }
}
