//! Generated bodies, and writing them.

use super::solids::{Column, Roundness, SolidError, cuboid, revolved};
use super::*;
use std::f64::consts::{PI, TAU};

#[test]
fn solids_have_their_volumes() {
    let closed = |mesh: &Mesh| mesh.shells.len() == 1 && mesh.shells[0].closed;
    let square = Column {
        sides: 4,
        flat_distance_mm: 100.0,
        length_mm: 600.0,
        edge_chamfer_mm: 0.0,
        bore_diameter_mm: None,
    };
    let mesh = square.mesh().unwrap();
    assert!(closed(&mesh));
    approx::assert_relative_eq!(mesh.volume_mm3(), 200.0 * 200.0 * 600.0, epsilon = 1e-6);
    assert_eq!(
        mesh.bounds(),
        (
            Point3::new(-100.0, -100.0, 0.0),
            Point3::new(100.0, 100.0, 600.0)
        )
    );

    for sides in [3_u32, 4, 5, 6, 8] {
        for (chamfer_mm, bore_mm) in [(0.0, 60.0), (5.0, 60.0), (0.0, 199.0), (5.0, 199.0)] {
            let column = Column {
                sides,
                edge_chamfer_mm: chamfer_mm,
                bore_diameter_mm: Some(bore_mm),
                ..square
            };
            let mesh = column.mesh().unwrap();
            assert!(closed(&mesh), "{column:?}");
            let n = f64::from(sides);
            // Each chamfer takes off an isosceles triangle of two legs at the inner angle.
            let inner = PI - TAU / n;
            let area_mm2 = n * 1e4 * (PI / n).tan() - n * 0.5 * chamfer_mm.powi(2) * inner.sin();
            let bore_mm2 = 48.0 * (bore_mm / 2.0_f64).powi(2) * (TAU / 96.0).sin();
            let volume_mm3 = (area_mm2 - bore_mm2) * 600.0;
            approx::assert_relative_eq!(mesh.volume_mm3(), volume_mm3, max_relative = 1e-12);
            // No face of an end folds over: areas, taken without sign, add up.
            let end_mm2: f64 = (0..mesh.triangles.len() as u32)
                .map(|t| mesh.corners(t))
                .filter(|t| t.iter().all(|p| p.z == 0.0))
                .map(|[a, b, c]| (b - a).cross(&(c - a)).norm() / 2.0)
                .sum();
            approx::assert_relative_eq!(end_mm2, area_mm2 - bore_mm2, max_relative = 1e-9);
        }
    }
}

#[test]
fn turned_bodies_lie_on_their_side_of_the_round_one() {
    let profile = [
        (0.0, 0.0),
        (3.0, 6.0),
        (20.0, 6.0),
        (20.0, 10.0),
        (50.0, 14.0),
    ];
    let cone = |h: f64, r: f64, s: f64| PI * h / 3.0 * (r * r + r * s + s * s);
    let round_mm3 = cone(3.0, 0.0, 6.0) + cone(17.0, 6.0, 6.0) + cone(30.0, 10.0, 14.0);
    let out = revolved(&profile, 64, Roundness::Circumscribed).unwrap();
    let within = revolved(&profile, 64, Roundness::Inscribed).unwrap();
    assert!(out.shells[0].closed && within.shells[0].closed);
    let half = PI / 64.0;
    let tangents = half.tan() / half;
    approx::assert_relative_eq!(out.volume_mm3(), round_mm3 * tangents, max_relative = 1e-12);
    let chords = (2.0 * half).sin() / (2.0 * half);
    approx::assert_relative_eq!(
        within.volume_mm3(),
        round_mm3 * chords,
        max_relative = 1e-12
    );
    assert_eq!(out.chord_allowance_mm, 0.0);
    approx::assert_relative_eq!(within.chord_allowance_mm, 14.0 * (1.0 - half.cos()));
}

#[test]
fn impossible_solids_are_refused() {
    let square = Column {
        sides: 4,
        flat_distance_mm: 100.0,
        length_mm: 600.0,
        edge_chamfer_mm: 0.0,
        bore_diameter_mm: None,
    };
    let error = |column: Column| column.mesh().unwrap_err();
    assert_eq!(
        error(Column { sides: 2, ..square }),
        SolidError::TooFewSides
    );
    assert_eq!(
        error(Column {
            length_mm: f64::NAN,
            ..square
        }),
        SolidError::BadSize
    );
    assert_eq!(
        error(Column {
            edge_chamfer_mm: 100.0,
            ..square
        }),
        SolidError::ChamferTooLarge
    );
    let bore = |d| {
        error(Column {
            bore_diameter_mm: Some(d),
            ..square
        })
    };
    assert_eq!(bore(200.0), SolidError::BoreTooLarge);
    assert_eq!(bore(-1.0), SolidError::BadSize);
    assert_eq!(
        error(Column {
            length_mm: f64::INFINITY,
            ..square
        }),
        SolidError::Degenerate
    );
    assert_eq!(
        cuboid(Point3::origin(), Point3::origin()).unwrap_err(),
        SolidError::EmptyBox
    );
    let turned = |profile: &[(f64, f64)]| revolved(profile, 16, Roundness::Inscribed).unwrap_err();
    for bad in [
        vec![],
        vec![(0.0, 1.0)],
        vec![(0.0, 1.0), (0.0, 2.0)],
        vec![(1.0, 1.0), (0.0, 1.0)],
        vec![(0.0, 0.0), (1.0, 0.0)],
        vec![(0.0, 1.0), (1.0, 0.0), (2.0, 1.0)],
        vec![(0.0, 0.0), (0.0, 1.0), (1.0, 1.0)],
        vec![(0.0, f64::NAN), (1.0, 1.0)],
    ] {
        assert_eq!(turned(&bad), SolidError::BadProfile, "{bad:?}");
    }
}

#[test]
fn writing_and_reading_brings_back_the_mesh() {
    let body = revolved(&[(0.0, 5.0), (7.3, 9.1)], 17, Roundness::Circumscribed).unwrap();
    let ascii = read(write_stl_ascii(&body, "turned\nbody")).unwrap();
    assert_eq!(ascii.solids, ["turned body"]);
    assert_eq!(
        (&ascii.mesh.vertices, &ascii.mesh.triangles),
        (&body.vertices, &body.triangles)
    );
    let binary = read(write_stl_binary(&body)).unwrap().mesh;
    assert_eq!(binary.triangles, body.triangles);
    let worst = binary
        .vertices
        .iter()
        .zip(&body.vertices)
        .map(|(a, b)| (a - b).amax());
    assert!(worst.fold(0.0, f64::max) < 1e-6);
}
