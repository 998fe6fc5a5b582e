//! Faces and features of bodies that are known, through the public interface.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on must say where"
)]

mod bodies;
mod command;
mod facets;
mod hard;

use bodies::{block, extruded, mesh, plate, rounded};
use lapidary::mesh::Mesh;
use lapidary::mesh::faces::{Face, FaceForm, FaceGround, Faces, faces};
use lapidary::mesh::features::{
    Feature, FeatureForm, HoleBottom, Pocket, RoundHole, Slot, Step, features,
};
use lapidary::mesh::solids::{Roundness, cuboid, revolved};
use lapidary::value::Vec3;
use nalgebra::Point3;

pub(crate) fn kinds(faces: &Faces) -> Vec<(&'static str, usize)> {
    let mut counts: Vec<(&'static str, usize)> = Vec::new();
    for face in &faces.faces {
        match counts
            .iter_mut()
            .find(|(kind, _)| *kind == face.form.kind())
        {
            Some((_, count)) => *count += 1,
            None => counts.push((face.form.kind(), 1)),
        }
    }
    counts
}

pub(crate) fn holes(features: &[Feature]) -> Vec<&RoundHole> {
    let hole = |feature: &'_ Feature| matches!(feature.form, FeatureForm::RoundHole(_));
    let holes = features.iter().filter(|f| hole(f));
    holes
        .map(|feature| match &feature.form {
            FeatureForm::RoundHole(hole) => hole,
            _ => unreachable!(),
        })
        .collect()
}

fn only<'a, T>(features: &'a [Feature], pick: impl Fn(&'a FeatureForm) -> Option<T>) -> T {
    let mut picked: Vec<T> = features.iter().filter_map(|f| pick(&f.form)).collect();
    assert_eq!(picked.len(), 1, "{features:#?}");
    picked.pop().unwrap()
}

fn pocket(features: &[Feature]) -> &Pocket {
    only(features, |form| match form {
        FeatureForm::Pocket(pocket) => Some(pocket),
        _ => None,
    })
}

fn slot(features: &[Feature]) -> &Slot {
    only(features, |form| match form {
        FeatureForm::Slot(slot) => Some(slot),
        _ => None,
    })
}

fn step(features: &[Feature]) -> &Step {
    only(features, |form| match form {
        FeatureForm::Step(step) => Some(step),
        _ => None,
    })
}

#[track_caller]
pub(crate) fn near(found: f64, wanted: f64, within: f64) {
    assert!((found - wanted).abs() <= within, "{found}, not {wanted}");
}

#[track_caller]
fn near_point(found: &Point3<f64>, wanted: [f64; 3]) {
    assert!(
        (found - Point3::from(wanted)).norm() < 1e-6,
        "{found}, not {wanted:?}"
    );
}

/// Every triangle has the face that names it.
#[track_caller]
pub(crate) fn assert_sound(mesh: &Mesh, faces: &Faces) {
    assert_eq!(faces.face_of_triangle.len(), mesh.triangles.len());
    let listed: usize = faces.faces.iter().map(|face| face.triangles.len()).sum();
    assert_eq!(listed, mesh.triangles.len());
    for (index, face) in faces.faces.iter().enumerate() {
        for triangle in &face.triangles {
            assert_eq!(faces.face_of_triangle[*triangle as usize] as usize, index);
        }
    }
}

#[test]
fn a_box_has_six_flats() {
    let mesh = cuboid(Point3::origin(), Point3::new(10.0, 20.0, 30.0)).unwrap();
    let (faces, features) = features(&mesh);
    assert_sound(&mesh, &faces);
    assert_eq!(kinds(&faces), [("flat", 6)]);
    let areas: Vec<f64> = faces.faces.iter().map(|face| face.area_mm2).collect();
    near(areas.iter().sum(), 2200.0, 1e-9);
    // From the top down: the first looks up.
    let FaceForm::Flat { point, normal } = faces.faces[0].form else {
        panic!()
    };
    assert_eq!(
        (faces.faces[0].name.as_str(), normal),
        ("flat-1", Vec3::z())
    );
    near_point(&point, [5.0, 10.0, 30.0]);
    assert_eq!(features.len(), 6);
    assert!(
        features
            .iter()
            .all(|f| matches!(f.form, FeatureForm::PlanarFace(_)))
    );
    assert!(features.iter().all(|f| f.access.len() == 1));
}

#[test]
fn turned_bodies_have_cones_cylinders_and_tori() {
    let mut profile = vec![(0.0, 8.0), (2.0, 10.0), (20.0, 10.0)];
    // A rounded rim of radius 3.
    for step in 1..=8 {
        let turn = std::f64::consts::FRAC_PI_2 * f64::from(step) / 8.0;
        profile.push((20.0 + 3.0 * turn.sin(), 7.0 + 3.0 * turn.cos()));
    }
    let mesh = revolved(&profile, 48, Roundness::Inscribed).unwrap();
    let faces = faces(&mesh);
    assert_sound(&mesh, &faces);
    assert_eq!(
        kinds(&faces),
        [("flat", 2), ("cylinder", 1), ("cone", 1), ("torus", 1)]
    );
    let of = |kind: &str| -> &Face { faces.faces.iter().find(|f| f.form.kind() == kind).unwrap() };
    let FaceForm::Cylinder {
        radius_mm,
        length_mm,
        turn_deg,
        hollow,
        ..
    } = of("cylinder").form
    else {
        panic!()
    };
    near(radius_mm, 10.0, 1e-7);
    near(length_mm, 18.0, 1e-7);
    near(turn_deg, 360.0, 1e-6);
    assert!(!hollow);
    let FaceForm::Cone {
        apex,
        half_angle_deg,
        ..
    } = of("cone").form
    else {
        panic!()
    };
    near(half_angle_deg, 45.0, 1e-6);
    near_point(&apex, [0.0, 0.0, -8.0]);
    let FaceForm::Torus {
        centre,
        major_radius_mm,
        minor_radius_mm,
        hollow,
        ..
    } = of("torus").form
    else {
        panic!()
    };
    near(major_radius_mm, 7.0, 1e-6);
    near(minor_radius_mm, 3.0, 1e-6);
    near_point(&centre, [0.0, 0.0, 20.0]);
    assert!(!hollow);
}

#[test]
fn a_ball_is_a_sphere() {
    let profile: Vec<(f64, f64)> = (0..=24)
        .map(|k| std::f64::consts::PI * f64::from(k) / 24.0)
        .map(|t| {
            (
                -5.0 * t.cos(),
                if t == 0.0 || t > 0.999 * std::f64::consts::PI {
                    0.0
                } else {
                    5.0 * t.sin()
                },
            )
        })
        .collect();
    let mesh = revolved(&profile, 48, Roundness::Inscribed).unwrap();
    let faces = faces(&mesh);
    assert_eq!(kinds(&faces), [("sphere", 1)]);
    let FaceForm::Sphere {
        radius_mm, hollow, ..
    } = faces.faces[0].form
    else {
        panic!()
    };
    near(radius_mm, 5.0, 1e-7);
    assert!(!hollow);
}

/// Through; blind and flat; drilled with 118 degrees; counterbored; countersunk.
pub(crate) fn five_holes() -> Vec<bodies::Hole> {
    let point = 3.0 / 59.0_f64.to_radians().tan();
    vec![
        vec![(0.0, 3.0), (15.0, 3.0)],
        vec![(0.0, 3.0), (8.0, 3.0)],
        vec![(0.0, 3.0), (8.0, 3.0), (8.0 + point, 0.0)],
        vec![(0.0, 5.5), (6.0, 5.5), (6.0, 3.0), (15.0, 3.0)],
        vec![(0.0, 6.0), (3.0, 3.0), (15.0, 3.0)],
    ]
}

#[track_caller]
pub(crate) fn assert_five_holes(features: &[Feature], within: f64) {
    let holes = holes(features);
    assert_eq!(holes.len(), 5, "{features:#?}");
    for (index, hole) in holes.iter().enumerate() {
        near(hole.opening.x, 10.0 + 20.0 * index as f64, within);
        near(hole.opening.z, 0.0, within);
        near(hole.direction.z, 1.0, 1e-6);
    }
    let steps = |k: usize| {
        let of = holes[k].steps.iter();
        of.map(|s| [s.diameter_mm, s.inner_diameter_mm, s.from_mm, s.to_mm])
            .collect::<Vec<_>>()
    };
    let wanted = [
        vec![[6.0, 6.0, 0.0, 15.0]],
        vec![[6.0, 6.0, 0.0, 8.0]],
        vec![[6.0, 6.0, 0.0, 8.0]],
        vec![[11.0, 11.0, 0.0, 6.0], [6.0, 6.0, 6.0, 15.0]],
        vec![[12.0, 6.0, 0.0, 3.0], [6.0, 6.0, 3.0, 15.0]],
    ];
    for (index, wanted) in wanted.iter().enumerate() {
        let found = steps(index);
        assert_eq!(found.len(), wanted.len(), "{:#?}", holes[index]);
        for (found, wanted) in found.iter().flatten().zip(wanted.iter().flatten()) {
            near(*found, *wanted, within);
        }
    }
    let bottoms = [0, 1, 3, 4].map(|k| holes[k].bottom);
    use HoleBottom::{Flat, Through};
    assert_eq!(bottoms, [Through, Flat, Through, Through]);
    let HoleBottom::Conical(angle_deg) = holes[2].bottom else {
        panic!("{:?}", holes[2])
    };
    // A short cone knows its angle less well than a bore its radius.
    near(angle_deg, 118.0, 1e-3_f64.max(1000.0 * within));
    let access = |k: usize| {
        features[k]
            .access
            .iter()
            .map(|d| d.z.round())
            .collect::<Vec<_>>()
    };
    assert_eq!(
        [0, 1, 3].map(access),
        [vec![1.0, -1.0], vec![1.0], vec![1.0]]
    );
}

#[test]
fn holes_have_their_steps_and_bottoms() {
    let mesh = mesh(&plate(5, 15.0, &five_holes(), 48));
    assert!(mesh.shells[0].closed && mesh.shells[0].volume_mm3 > 0.0);
    let (faces, features) = features(&mesh);
    assert_sound(&mesh, &faces);
    assert_five_holes(&features, 1e-6);
    let names: Vec<&str> = features[..5].iter().map(|f| f.name.as_str()).collect();
    assert_eq!(names, ["hole-1", "hole-2", "hole-3", "hole-4", "hole-5"]);
    // All that is left are the six sides of the plate.
    assert_eq!(features.len(), 11, "{features:#?}");
}

#[test]
fn a_closed_pocket_has_its_corners() {
    let outline = rounded([40.0, 30.0], [50.0, 30.0], 6.0, 8);
    let mesh = mesh(&block([80.0, 60.0], 20.0, outline, 12.0));
    let (_, features) = features(&mesh);
    let pocket = pocket(&features);
    near(pocket.length_mm, 50.0, 1e-6);
    near(pocket.width_mm, 30.0, 1e-6);
    near(pocket.depth_mm, 12.0, 1e-9);
    near(pocket.corner_radius_mm.unwrap(), 6.0, 1e-6);
    near_point(&pocket.opening, [40.0, 30.0, 0.0]);
    assert!(pocket.open_sides.is_empty() && pocket.is_rectangle && pocket.floor.is_some());
    assert_eq!(pocket.walls.len(), 8);
}

#[test]
fn a_window_is_a_pocket_without_floor() {
    let outline = rounded([40.0, 30.0], [50.0, 30.0], 6.0, 8);
    let mesh = mesh(&block([80.0, 60.0], 20.0, outline, 20.0));
    let (_, features) = features(&mesh);
    let pocket = pocket(&features);
    assert_eq!(pocket.floor, None);
    near(pocket.depth_mm, 20.0, 1e-9);
    near(pocket.length_mm, 50.0, 1e-6);
    near_point(&pocket.opening, [40.0, 30.0, 0.0]);
    let window = features.iter().find(|f| f.name == "pocket-1").unwrap();
    assert_eq!(window.access.len(), 2);
}

/// Whichever triangle of the walls is missing, what is left is told, and the hole in it.
#[test]
fn a_window_with_a_torn_wall() {
    let outline = rounded([40.0, 30.0], [50.0, 30.0], 6.0, 8);
    let whole = block([80.0, 60.0], 20.0, outline, 20.0);
    let stands = |t: &[Point3<f64>; 3]| t.iter().any(|p| p.z != t[0].z);
    let walls: Vec<usize> = (0..whole.len()).filter(|k| stands(&whole[*k])).collect();
    assert!(walls.len() > 60, "{}", walls.len());
    for missing in walls {
        let mut torn = whole.clone();
        torn.remove(missing);
        let (faces, _) = features(&mesh(&torn));
        assert_eq!(faces.grounds, [FaceGround::OpenEdges(3)]);
    }
}

#[test]
fn a_slot_has_two_walls_and_round_ends() {
    let outline = rounded([40.0, 30.0], [50.0, 10.0], 5.0, 8);
    let mesh = mesh(&block([80.0, 60.0], 20.0, outline, 4.0));
    let (_, features) = features(&mesh);
    let slot = slot(&features);
    near(slot.width_mm, 10.0, 1e-6);
    near(slot.depth_mm, 4.0, 1e-9);
    let mut ends: Vec<f64> = slot.points.iter().map(|p| p.x).collect();
    ends.sort_by(f64::total_cmp);
    near(ends[0], 20.0, 1e-6);
    near(ends[1], 60.0, 1e-6);
    assert!(!slot.closed && slot.open_sides.is_empty());
}

/// An L in x and z: a floor 30 wide at z 10 beside a wall 25 high.
pub(crate) fn angle_bar() -> bodies::Triangles {
    let profile = [
        [0.0, 0.0],
        [40.0, 0.0],
        [40.0, 10.0],
        [10.0, 10.0],
        [10.0, 35.0],
        [0.0, 35.0],
    ];
    extruded(
        &profile,
        &[[3, 0, 1], [3, 1, 2], [3, 4, 5], [3, 5, 0]],
        60.0,
    )
}

#[test]
fn a_step_has_one_wall_and_three_open_sides() {
    let mesh = mesh(&angle_bar());
    assert!(mesh.shells[0].closed && mesh.shells[0].volume_mm3 > 0.0);
    let (_, features) = features(&mesh);
    let step = step(&features);
    near(step.length_mm, 60.0, 1e-9);
    near(step.width_mm, 30.0, 1e-9);
    near(step.depth_mm, 25.0, 1e-9);
    near_point(&step.at, [10.0, 30.0, 35.0]);
    assert_eq!(step.direction, Vec3::z());
    // The floor lies on the side of access x along.
    near(step.direction.cross(&step.along).x, 1.0, 1e-9);
    assert_eq!(step.open_sides.len(), 3);
}

#[test]
fn a_channel_is_an_open_slot() {
    let profile = [
        [0.0, 0.0],
        [40.0, 0.0],
        [40.0, 30.0],
        [28.0, 30.0],
        [28.0, 12.0],
        [12.0, 12.0],
        [12.0, 30.0],
        [0.0, 30.0],
    ];
    let caps = [
        [0, 1, 4],
        [0, 4, 5],
        [1, 2, 3],
        [1, 3, 4],
        [0, 5, 6],
        [0, 6, 7],
    ];
    let mesh = mesh(&extruded(&profile, &caps, 60.0));
    assert!(mesh.shells[0].closed && mesh.shells[0].volume_mm3 > 0.0);
    let (_, features) = features(&mesh);
    let slot = slot(&features);
    near(slot.width_mm, 16.0, 1e-9);
    near(slot.depth_mm, 18.0, 1e-9);
    assert_eq!(slot.open_sides.len(), 2);
    let mut ends: Vec<f64> = slot.points.iter().map(|p| p.y).collect();
    ends.sort_by(f64::total_cmp);
    assert_eq!(ends, [0.0, 60.0]);
    near(slot.points[0].x, 20.0, 1e-9);
    near(slot.points[0].z, 30.0, 1e-9);
}

#[test]
fn a_boss_stands_on_its_base() {
    let profile = [(0.0, 20.0), (10.0, 20.0), (10.0, 8.0), (25.0, 8.0)];
    let mesh = revolved(&profile, 64, Roundness::Inscribed).unwrap();
    let (_, features) = features(&mesh);
    let bosses: Vec<_> = features
        .iter()
        .filter_map(|f| match &f.form {
            FeatureForm::Boss(boss) => Some((boss, f)),
            _ => None,
        })
        .collect();
    assert_eq!(bosses.len(), 2);
    let (upper, feature) = bosses[0];
    near(upper.diameter_mm, 16.0, 1e-7);
    near(upper.height_mm, 15.0, 1e-7);
    near_point(&upper.top, [0.0, 0.0, 25.0]);
    assert_eq!(feature.access.len(), 1);
    near(feature.access[0].z, 1.0, 1e-9);
}
