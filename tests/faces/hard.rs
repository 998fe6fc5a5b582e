//! What must not break it: any order, coarse circles, noise, slivers, seams, open and inverted
//! meshes.

use super::{assert_five_holes, assert_sound, five_holes, holes, kinds, near};
use crate::bodies::{Random, Triangles, mesh, plate};
use lapidary::mesh::faces::{FaceGround, faces};
use lapidary::mesh::features::{FeatureForm, features};
use lapidary::mesh::solids::{Roundness, revolved};
use nalgebra::Point3;

/// The same triangles in another order, each beginning with another corner.
fn shuffled(triangles: &Triangles, seed: u64) -> Triangles {
    let mut random = Random(seed);
    let mut keyed: Vec<(f64, [Point3<f64>; 3])> =
        triangles.iter().map(|t| (random.share(), *t)).collect();
    keyed.sort_by(|a, b| a.0.total_cmp(&b.0));
    let turned = |(key, mut triangle): (f64, [Point3<f64>; 3])| {
        triangle.rotate_left((key * 3e6) as usize % 3);
        triangle
    };
    keyed.into_iter().map(turned).collect()
}

#[test]
fn any_order_gives_the_same_names_and_values() {
    let triangles = plate(5, 15.0, &five_holes(), 24);
    let one = mesh(&triangles);
    let (first, first_features) = features(&one);
    for seed in [7, 99, 12_345] {
        let other = mesh(&shuffled(&triangles, seed));
        assert_ne!(one.vertices, other.vertices, "the order must be another");
        let (faces, features) = features(&other);
        assert_sound(&other, &faces);
        // To the last bit, and with the same names.
        assert_eq!(features, first_features, "seed {seed}");
        for (a, b) in faces.faces.iter().zip(&first.faces) {
            assert_eq!((&a.name, a.form, a.area_mm2), (&b.name, b.form, b.area_mm2));
            assert_eq!(a.triangles.len(), b.triangles.len());
        }
        assert_eq!(faces.faces.len(), first.faces.len());
    }
}

#[test]
fn eight_facets_a_turn_are_enough() {
    for segments in [8, 9, 10, 11, 12, 13, 16, 20, 200] {
        let mesh = mesh(&plate(5, 15.0, &five_holes(), segments));
        let (_, features) = features(&mesh);
        assert_eq!(
            holes(&features).len(),
            5,
            "{segments} segments: {features:#?}"
        );
        assert_five_holes(&features, 1e-6);
    }
}

#[test]
fn a_hexagon_is_no_hole_and_a_large_octagon_is_none() {
    let hexagon = mesh(&plate(1, 15.0, &[vec![(0.0, 5.0), (10.0, 5.0)]], 6));
    assert!(holes(&features(&hexagon).1).is_empty());
    // 60 mm across, 2.3 mm of chord error: a carrier, not a coarse cylinder.
    let octagon = revolved(&[(0.0, 30.0), (50.0, 30.0)], 8, Roundness::Inscribed).unwrap();
    assert_eq!(kinds(&faces(&octagon)), [("flat", 10)]);
}

#[test]
fn noise_of_a_few_micrometres_is_borne() {
    for (amplitude_mm, within) in [(1e-4, 5e-4), (1e-3, 5e-3)] {
        let mut random = Random(4711);
        let mut moved = std::collections::BTreeMap::new();
        let mut triangles = plate(5, 15.0, &five_holes(), 32);
        for corner in triangles.iter_mut().flatten() {
            let key = corner.coords.map(f64::to_bits);
            let shift = moved
                .entry([key.x, key.y, key.z])
                .or_insert_with(|| [0; 3].map(|_| amplitude_mm * (2.0 * random.share() - 1.0)));
            *corner += nalgebra::Vector3::from(*shift);
        }
        let mesh = mesh(&triangles);
        let (_, features) = features(&mesh);
        assert_five_holes(&features, within);
    }
}

#[test]
fn rounding_to_single_precision_far_out_is_borne() {
    let mut triangles = plate(5, 15.0, &five_holes(), 32);
    for corner in triangles.iter_mut().flatten() {
        *corner = (*corner + nalgebra::Vector3::new(0.0, 900.0, 0.0)).map(|x| f64::from(x as f32));
    }
    let (_, features) = features(&mesh(&triangles));
    let found = holes(&features);
    assert_eq!(found.len(), 5);
    near(found[0].steps[0].diameter_mm, 6.0, 2e-4);
}

/// Splits the first triangle's longest edge without its neighbour: a seam of one long edge and two
/// short ones.
#[test]
fn seams_of_long_and_short_edges_hold_together() {
    let triangles = plate(2, 15.0, &five_holes()[..2], 32);
    let (whole, _) = features(&mesh(&triangles));
    let mut split = Vec::new();
    for (index, [a, b, c]) in triangles.iter().enumerate() {
        let flat = a.z == 0.0 && b.z == 0.0 && c.z == 0.0;
        if flat && index % 3 == 0 {
            let middle = nalgebra::center(a, b);
            split.extend([[*a, middle, *c], [middle, *b, *c]]);
        } else {
            split.push([*a, *b, *c]);
        }
    }
    assert!(split.len() > triangles.len());
    let seamed = mesh(&split);
    assert!(!seamed.shells.iter().all(|shell| shell.closed));
    let (faces, features) = features(&seamed);
    assert_sound(&seamed, &faces);
    assert_eq!(kinds(&faces), kinds(&whole));
    assert_eq!(holes(&features).len(), 2);
}

#[test]
fn corners_a_hair_apart_hold_together() {
    // Every triangle with corners of its own, off by a fraction of a micrometre: nothing is welded.
    let mut random = Random(31);
    let mut triangles = plate(2, 15.0, &five_holes()[..2], 32);
    for corner in triangles.iter_mut().flatten() {
        for k in 0..3 {
            corner[k] += 1e-8 * random.share();
        }
    }
    let soup = mesh(&triangles);
    assert!(soup.shells.len() > 100);
    let (faces, features) = features(&soup);
    assert_eq!(holes(&features).len(), 2, "{:?}", kinds(&faces));
    assert!(faces.grounds.is_empty());
}

#[test]
fn slivers_and_twins_change_nothing() {
    let triangles = plate(5, 15.0, &five_holes(), 32);
    let mut hard = triangles.clone();
    // Every wall triangle cut by a sliver that is a micrometre wide.
    for [a, b, c] in &triangles {
        let share = 1e-3 / (b - a).norm();
        let near = a + (b - a) * share;
        hard.retain(|t| t != &[*a, *b, *c]);
        hard.extend([[*a, near, *c], [near, *b, *c]]);
    }
    hard.extend(triangles.iter().take(20).copied().collect::<Vec<_>>());
    let (_, features) = features(&mesh(&hard));
    assert_eq!(holes(&features).len(), 5);
}

#[test]
fn an_open_mesh_says_what_it_rests_on() {
    let mut triangles = plate(5, 15.0, &five_holes(), 32);
    // A piece of the underside is missing.
    let under = triangles
        .iter()
        .position(|t| t.iter().all(|p| p.z == -15.0))
        .unwrap();
    triangles.remove(under);
    let (faces, features) = features(&mesh(&triangles));
    assert_eq!(faces.grounds, [FaceGround::OpenEdges(3)]);
    assert_eq!(holes(&features).len(), 5);
}

#[test]
fn a_mesh_inside_out_is_turned_and_said_to_be() {
    let mut triangles = plate(5, 15.0, &five_holes(), 32);
    triangles.iter_mut().for_each(|t| t.swap(1, 2));
    let (faces, features) = features(&mesh(&triangles));
    assert_eq!(faces.grounds, [FaceGround::InsideOut(1)]);
    assert_five_holes(&features, 1e-6);
}

#[test]
fn a_mixed_mesh_is_said_to_be() {
    let mut triangles = plate(5, 15.0, &five_holes(), 32);
    triangles[3].swap(1, 2);
    let (faces, _) = features(&mesh(&triangles));
    assert!(
        matches!(faces.grounds[..], [FaceGround::MixedEdges(3)]),
        "{:?}",
        faces.grounds
    );
}

#[test]
fn a_hole_in_two_lugs_is_two_holes() {
    // Two plates, one over the other: the lower looks like the upper, 30 below.
    let mut triangles = plate(1, 10.0, &[vec![(0.0, 3.0), (10.0, 3.0)]], 32);
    let lower: Triangles = triangles
        .iter()
        .map(|t| t.map(|p| p - nalgebra::Vector3::new(0.0, 0.0, 30.0)))
        .collect();
    triangles.extend(lower);
    let (_, features) = features(&mesh(&triangles));
    assert_eq!(holes(&features).len(), 2);
    let through = |f: &&lapidary::mesh::features::Feature| {
        matches!(f.form, FeatureForm::RoundHole(_)) && f.access.len() == 2
    };
    // Along the axis nothing stands in the way of either.
    assert_eq!(features.iter().filter(through).count(), 2);
}
