//! The same surface cut into other triangles: the same faces and features. Facets with vertices in
//! them and on their edges, bores that cross, a slot across a bore, a countersink, slivers.

use super::{assert_five_holes, assert_sound, five_holes, holes, kinds, near};
use crate::bodies::{Triangles, mesh, plate};
use lapidary::mesh::faces::{Face, FaceForm};
use lapidary::mesh::features::{Feature, FeatureForm, HoleBottom, RoundHole, features};
use lapidary::mesh::solids::{Roundness, revolved};
use lapidary::mesh::{Mesh, ReadOptions, read_stl};
use lapidary::value::Vec3;
use nalgebra::{Point3, center};
use std::collections::HashMap;

type Key = [u64; 3];

fn key(point: &Point3<f64>) -> Key {
    // Zero has two signs.
    [point.x, point.y, point.z].map(|x| (x + 0.0).to_bits())
}

fn normal([a, b, c]: &[Point3<f64>; 3]) -> Vec3 {
    (b - a).cross(&(c - a)).normalize()
}

/// Splits every edge that is chosen by the cosine between its triangles, at a share of its length;
/// no triangle twice.
fn split(triangles: &Triangles, share: f64, chosen: impl Fn(f64) -> bool) -> Triangles {
    let mut by_edge: HashMap<(Key, Key), usize> = HashMap::new();
    for (index, corners) in triangles.iter().enumerate() {
        for k in 0..3 {
            by_edge.insert((key(&corners[k]), key(&corners[(k + 1) % 3])), index);
        }
    }
    let mut out: Vec<Triangles> = triangles.iter().map(|t| vec![*t]).collect();
    for index in 0..triangles.len() {
        for k in 0..3 {
            let [a, b, c] = [0, 1, 2].map(|n| triangles[index][(k + n) % 3]);
            let other = by_edge[&(key(&b), key(&a))];
            let cosine = normal(&triangles[index]).dot(&normal(&triangles[other]));
            let whole = out[index].len() == 1 && out[other].len() == 1;
            if !(whole && index < other && chosen(cosine)) {
                continue;
            }
            let far = triangles[other];
            let d = far.iter().find(|p| **p != a && **p != b).unwrap();
            let middle = a + (b - a) * share;
            out[index] = vec![[a, middle, c], [middle, b, c]];
            out[other] = vec![[b, middle, *d], [middle, a, *d]];
        }
    }
    out.into_iter().flatten().collect()
}

/// As a file holds them.
fn single(triangles: &Triangles) -> Triangles {
    let rounded = |t: &[Point3<f64>; 3]| t.map(|p| p.map(|x| f64::from(x as f32)));
    triangles.iter().map(rounded).collect()
}

/// Nothing but holes and flat sides.
#[track_caller]
fn assert_nothing_else(features: &[Feature], sides: usize) {
    let other = |f: &&Feature| {
        let form = &f.form;
        !matches!(form, FeatureForm::RoundHole(_) | FeatureForm::PlanarFace(_))
    };
    let bogus: Vec<_> = features.iter().filter(other).collect();
    assert!(bogus.is_empty(), "{bogus:#?}");
    let planar = |f: &&Feature| matches!(f.form, FeatureForm::PlanarFace(_));
    assert_eq!(features.iter().filter(planar).count(), sides);
}

#[test]
fn vertices_in_facets_and_on_their_edges_change_nothing() {
    for segments in [12, 32, 64, 96] {
        let plain = single(&plate(5, 15.0, &five_holes(), segments));
        let (whole, _) = features(&mesh(&plain));
        for share in [0.5, 1e-3] {
            // In facets; on straight edges of the wall; on rims.
            let inside = split(&plain, share, |cosine| cosine > 1.0 - 1e-9);
            let along = split(&plain, share, |cosine| cosine < 1.0 - 1e-9 && cosine > 0.8);
            let rims = split(&plain, share, |cosine| cosine < 0.8);
            for (place, triangles) in [("inside", inside), ("along", along), ("rims", rims)] {
                assert!(triangles.len() > plain.len(), "{place} splits nothing");
                let mesh = mesh(&single(&triangles));
                assert!(mesh.shells.iter().all(|shell| shell.closed));
                let (faces, features) = features(&mesh);
                assert_sound(&mesh, &faces);
                assert_eq!(kinds(&faces), kinds(&whole), "{segments} {share} {place}");
                assert_five_holes(&features, 1e-4);
                assert_nothing_else(&features, 6);
            }
        }
    }
}

#[test]
fn every_triangle_in_four_changes_nothing() {
    for segments in [12, 32, 96] {
        let plain = plate(5, 15.0, &five_holes(), segments);
        let quarters = |[a, b, c]: &[Point3<f64>; 3]| {
            let (ab, bc, ca) = (center(a, b), center(b, c), center(c, a));
            [[*a, ab, ca], [ab, *b, bc], [ca, bc, *c], [ab, bc, ca]]
        };
        let mesh = mesh(&single(&plain.iter().flat_map(quarters).collect()));
        let (whole, _) = features(&self::mesh(&plain));
        let (faces, features) = features(&mesh);
        assert_eq!(kinds(&faces), kinds(&whole));
        assert_five_holes(&features, 1e-4);
        assert_nothing_else(&features, 6);
    }
}

/// A plate of 100 x 80 x 30 mm, cut by mesh booleans: corners of one facet lie on the chords of
/// others.
///
/// Source: made with manifold3d 3.5.4 and trimesh 5.2.0; all sizes are those that went in.
fn cut(bytes: &[u8]) -> Mesh {
    read_stl(bytes, &ReadOptions::new(1.0)).unwrap().mesh
}

#[track_caller]
fn assert_steps(hole: &RoundHole, wanted: &[[f64; 4]]) {
    assert_eq!(hole.steps.len(), wanted.len(), "{hole:#?}");
    for (step, [outer, inner, from, to]) in hole.steps.iter().zip(wanted) {
        near(step.diameter_mm, *outer, 1e-4);
        near(step.inner_diameter_mm, *inner, 1e-4);
        near(step.from_mm, *from, 1e-3);
        near(step.to_mm, *to, 1e-3);
    }
}

#[test]
fn a_bore_across_a_larger_one_leaves_both_whole() {
    for bytes in [
        &include_bytes!("cut/crossing-24.stl")[..],
        include_bytes!("cut/crossing-96.stl"),
    ] {
        let (faces, features) = features(&cut(bytes));
        // 16 mm down, 10 mm across, on either side of it.
        assert_eq!(kinds(&faces), [("flat", 6), ("cylinder", 3)]);
        let holes = holes(&features);
        assert_eq!(holes.len(), 3);
        assert_steps(holes[0], &[[16.0, 16.0, 0.0, 30.0]]);
        for side in [holes[1], holes[2]] {
            // From the plate's end at 50 to where the two meet: sqrt(8^2 - 5^2) from the middle,
            // by at most the chord error of 24 facets.
            let inner = 50.0 - (64.0_f64 - 25.0).sqrt();
            near(side.depth_mm, inner, 0.1);
            near(side.steps[0].diameter_mm, 10.0, 1e-4);
        }
        assert_nothing_else(&features, 6);
    }
}

#[test]
fn drill_point_and_countersink_of_other_facets_are_found() {
    for bytes in [
        &include_bytes!("cut/countersunk-24.stl")[..],
        include_bytes!("cut/countersunk-96.stl"),
    ] {
        let (faces, features) = features(&cut(bytes));
        assert_eq!(kinds(&faces), [("flat", 6), ("cylinder", 2), ("cone", 2)]);
        let holes = holes(&features);
        assert_eq!(holes.len(), 2);
        assert_steps(holes[0], &[[10.0, 10.0, 0.0, 18.0]]);
        // atan((5 - 0.0001) / (5 tan 31)) as it was modelled.
        let half = (4.9999 / (5.0 * 31.0_f64.to_radians().tan())).atan();
        let HoleBottom::Conical(angle_deg) = holes[0].bottom else {
            panic!("{:?}", holes[0])
        };
        near(angle_deg, 2.0 * half.to_degrees(), 1e-2);
        let wanted = [[13.8, 6.0, 0.0, 3.9], [6.0, 6.0, 3.9, 30.0]];
        assert_steps(holes[1], &wanted);
        assert_nothing_else(&features, 6);
    }
}

#[test]
fn a_slot_across_a_bore_leaves_it_round() {
    let (faces, features) = features(&cut(include_bytes!("cut/slotted-48.stl")));
    let round = |face: &Face| match face.form {
        FaceForm::Cylinder {
            radius_mm,
            turn_deg,
            ..
        } => Some((radius_mm, turn_deg)),
        _ => None,
    };
    let round: Vec<_> = faces.faces.iter().filter_map(round).collect();
    assert_eq!(round.len(), 1, "{round:?}");
    near(round[0].0, 8.0, 1e-5);
    near(round[0].1, 360.0, 1e-6);
    let widths: Vec<f64> = features
        .iter()
        .filter_map(|feature| match &feature.form {
            FeatureForm::Slot(slot) => Some(slot.width_mm),
            _ => None,
        })
        .collect();
    assert_eq!(widths.len(), 2, "{widths:?}");
    widths.iter().for_each(|width| near(*width, 10.0, 1e-4));
    assert_steps(holes(&features)[0], &[[16.0, 16.0, 0.0, 30.0]]);
}

/// An outline in x and z, along y, with its ends; counter-clockwise seen along -y, and all of it seen from its
/// first corner.
fn bar(outline: &[[f64; 2]], width_mm: f64) -> Triangles {
    let at = |k: usize, y: f64| {
        let [x, z] = outline[k % outline.len()];
        Point3::new(x, y, z)
    };
    let mut triangles = Vec::new();
    for k in 0..outline.len() {
        let [a, b] = [at(k, 0.0), at(k + 1, 0.0)];
        let [c, d] = [at(k, width_mm), at(k + 1, width_mm)];
        triangles.extend([[a, b, d], [a, d, c]]);
        if k > 0 && k + 1 < outline.len() {
            triangles.push([at(0, 0.0), b, a]);
            triangles.push([at(0, width_mm), c, d]);
        }
    }
    triangles
}

fn flats(faces: &[Face]) -> Vec<(f64, Vec3)> {
    let flat = |face: &Face| match face.form {
        FaceForm::Flat { normal, .. } => Some((face.area_mm2, normal)),
        _ => None,
    };
    faces.iter().filter_map(flat).collect()
}

/// A chamfer beside a plane is a face of its own, however shallow, down to the 0.2 degrees by which a
/// flat face may bend.
#[test]
fn a_shallow_chamfer_is_no_part_of_the_plane_beside_it() {
    for angle_deg in [0.3_f64, 0.5, 1.0, 5.0] {
        for width_mm in [1.0, 6.0] {
            let drop_mm = width_mm * angle_deg.to_radians().tan();
            let outline = [
                [0.0, 0.0],
                [60.0, 0.0],
                [60.0, 20.0 - drop_mm],
                [60.0 - width_mm, 20.0],
                [0.0, 20.0],
            ];
            let plain = bar(&outline, 40.0);
            let inside = split(&plain, 0.3, |cosine| cosine > 1.0 - 1e-9);
            for triangles in [&plain, &inside] {
                let mesh = mesh(&single(triangles));
                let (faces, _) = features(&mesh);
                assert_sound(&mesh, &faces);
                let what = format!("{angle_deg} degrees, {width_mm} mm");
                assert_eq!(kinds(&faces), [("flat", 7)], "{what}");
                let leaning = flats(&faces.faces)
                    .into_iter()
                    .filter(|(_, normal)| normal.x > 1e-4 && normal.z > 1e-4);
                let leaning: Vec<_> = leaning.collect();
                assert_eq!(leaning.len(), 1, "{what}: {leaning:?}");
                let exact = 40.0 * width_mm.hypot(drop_mm);
                near(leaning[0].0, exact, 1e-4 * exact);
                near(leaning[0].1.x.asin().to_degrees(), angle_deg, 2e-3);
            }
        }
    }
}

/// Facets of one degree, the first of which goes on from a plane by half a degree: each stays a facet of
/// the fillet, and the plane its own size.
#[test]
fn facets_of_one_degree_stay_out_of_the_plane_beside_them() {
    let (radius_mm, turn) = (10.0, |degrees: f64| degrees.to_radians().sin_cos());
    let mut outline = vec![[0.0, 0.0], [60.0, 0.0]];
    outline.extend((0..=90).map(|degrees| {
        let (sin, cos) = turn(f64::from(degrees));
        [50.0 + radius_mm * cos, 30.0 + radius_mm * sin]
    }));
    outline.push([0.0, 40.0]);
    let plain = bar(&outline, 40.0);
    let mesh = mesh(&single(&plain));
    let (faces, _) = features(&mesh);
    assert_sound(&mesh, &faces);
    assert_eq!(kinds(&faces), [("flat", 6), ("cylinder", 1)]);
    let rounded = faces.faces.iter().find_map(|face| match face.form {
        FaceForm::Cylinder {
            radius_mm,
            turn_deg,
            ..
        } => Some((radius_mm, turn_deg, face.triangles.len())),
        _ => None,
    });
    let (radius, turn_deg, triangles) = rounded.unwrap();
    near(radius, radius_mm, 1e-4);
    near(turn_deg, 90.0, 1e-3);
    assert_eq!(triangles, 180);
    let top = flats(&faces.faces)
        .into_iter()
        .find(|flat| flat.1.z > 0.999);
    near(top.unwrap().0, 50.0 * 40.0, 1e-3);
}

/// A cone of 12 facets that gets eight times as narrow: its facets are as deep as 12 a turn have it where it is
/// wide, however they are cut.
#[test]
fn a_coarse_cone_with_a_narrow_tip_is_a_cone() {
    for segments in [12, 13, 16] {
        for tip_mm in [0.5, 0.05] {
            let plain = plate(1, 15.0, &[vec![(0.0, 4.0), (15.0, tip_mm)]], segments);
            let inside = split(&plain, 0.4, |cosine| cosine > 1.0 - 1e-9);
            for triangles in [&plain, &inside] {
                let (faces, _) = features(&mesh(&single(triangles)));
                let what = format!("{segments} {tip_mm}");
                assert_eq!(kinds(&faces), [("flat", 6), ("cone", 1)], "{what}");
            }
        }
    }
}

/// A ring that goes on into a fine fillet: the first facets of the fillet lie on the ring but for some micrometres, and
/// its two rows of corners lie on a sphere, too.
#[test]
fn a_ring_with_a_fine_fillet_is_a_cylinder() {
    let fillet = (1..=30).map(|k| {
        let (sin, cos) = (f64::from(k) * 3.0).to_radians().sin_cos();
        (9.0 + sin, 30.0 + cos)
    });
    let profile: Vec<(f64, f64)> = [(0.0, 31.0), (9.0, 31.0)]
        .into_iter()
        .chain(fillet)
        .collect();
    let body = revolved(&profile, 110, Roundness::Inscribed).unwrap();
    let triangles: Triangles = (0..body.triangles.len() as u32)
        .map(|t| body.corners(t))
        .collect();
    let (faces, _) = features(&mesh(&single(&triangles)));
    assert_eq!(kinds(&faces), [("flat", 2), ("cylinder", 1), ("torus", 1)]);
}

/// Two fillets that bend opposite ways and go over into each other: with the same step the facets on either
/// side of their common edge lie in one plane, and belong to one fillet each, not to a flat.
#[test]
fn fillets_of_an_s_curve_keep_all_their_facets() {
    for steps in [6, 24] {
        let arc = |centre: [f64; 2], radius: f64, from_deg: f64, to_deg: f64| {
            let at = move |k: i32| {
                let share = f64::from(k) / f64::from(steps);
                let (sin, cos) = (from_deg + (to_deg - from_deg) * share)
                    .to_radians()
                    .sin_cos();
                [centre[0] + radius * cos, centre[1] + radius * sin]
            };
            (0..=steps).map(at)
        };
        // Down the slope: hollow of 5 mm first, then outer of 4 mm.
        let mut outline = vec![[0.0, 0.0], [60.0, 0.0], [60.0, 20.0]];
        outline.extend(arc([35.0, 25.0], 5.0, 270.0, 180.0));
        outline.extend(arc([26.0, 25.0], 4.0, 0.0, 90.0).skip(1));
        outline.push([0.0, 29.0]);
        let plain = bar(&outline, 40.0);
        let inside = split(&plain, 0.4, |cosine| cosine > 1.0 - 1e-9);
        for triangles in [&plain, &inside] {
            let mesh = mesh(&single(triangles));
            let (faces, _) = features(&mesh);
            assert_sound(&mesh, &faces);
            assert_eq!(kinds(&faces), [("flat", 7), ("cylinder", 2)], "{steps}");
            for face in &faces.faces {
                if let FaceForm::Cylinder {
                    turn_deg,
                    radius_mm,
                    hollow,
                    ..
                } = face.form
                {
                    near(turn_deg, 90.0, 1e-3);
                    near(radius_mm, if hollow { 5.0 } else { 4.0 }, 1e-4);
                }
            }
        }
    }
}

/// A bevel between two rounded corners of no known form stays a flat; so does a small one between two cones.
#[test]
fn a_flat_between_rounded_corners_is_flat() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-models/meshes/head.stl");
    let bytes = std::fs::read(path).unwrap();
    let (faces, _) = features(&cut(&bytes));
    // The corners of three bevelled covers, scaled by a share: neither cones nor tori.
    let others: Vec<&Face> = faces
        .faces
        .iter()
        .filter(|face| matches!(face.form, FaceForm::Other))
        .collect();
    assert_eq!(others.len(), 12, "{others:#?}");
    // sqrt(1.2^2 + 0.8^2) across, 334 - 2 x 0.9 long on one side and 0.99 of that on the other.
    let bevels = flats(&faces.faces);
    let bevels = bevels
        .iter()
        .filter(|(area, _)| (area - 479.294).abs() < 0.01);
    assert_eq!(bevels.count(), 6);
}
