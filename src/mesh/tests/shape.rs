//! Shells, twins, seams, chord allowance, units, generated bodies.

use super::solids::{Column, Roundness, SolidError, cuboid, revolved};
use super::*;
use std::f64::consts::{PI, TAU};

fn moved(triangles: &[Triangle], x: f32) -> Vec<Triangle> {
    triangles
        .iter()
        .map(|t| t.map(|[a, b, c]| [a + x, b, c]))
        .collect()
}

fn scaled(triangles: &[Triangle], by: f32) -> Vec<Triangle> {
    triangles
        .iter()
        .map(|t| t.map(|p| p.map(|x| x * by)))
        .collect()
}

fn flipped(triangles: &[Triangle]) -> Vec<Triangle> {
    triangles.iter().map(|&[a, b, c]| [a, c, b]).collect()
}

#[test]
fn minus_zero_welds_with_zero() {
    let triangles: Vec<Triangle> = brick()
        .iter()
        .enumerate()
        .map(|(i, t)| t.map(|p| p.map(|x| if x == 0.0 && i % 2 == 0 { -0.0 } else { x })))
        .collect();
    let (mesh, faults) = meshed(&triangles);
    assert_eq!((mesh.vertices.len(), faults), (8, vec![]));
    assert!(
        mesh.vertices
            .iter()
            .all(|v| v.iter().all(|x| x.is_sign_positive()))
    );
}

#[test]
fn vertices_stand_in_order_of_first_use() {
    let (mesh, _) = meshed(&brick());
    let mut next = 0;
    for corner in mesh.triangles.iter().flatten() {
        assert!(*corner <= next);
        next = next.max(corner + 1);
    }
}

#[test]
fn open_shells_say_what_it_means() {
    let (mesh, faults) = meshed(&brick()[1..]);
    assert!(!mesh.shells[0].closed && !mesh.shells[0].balanced);
    assert_fault(
        &faults,
        FaultKind::OpenEdges,
        Place::Shell(1),
        "3 edges with only one triangle",
    );
    assert!(faults[0].means.contains("`unknown`"));
}

#[test]
fn turned_neighbours_are_found() {
    let mut triangles = brick();
    let [a, b, c] = triangles[0];
    triangles[0] = [a, c, b];
    let (mesh, faults) = meshed(&triangles);
    assert!(!mesh.shells[0].closed && !mesh.shells[0].balanced);
    assert_fault(
        &faults,
        FaultKind::MixedOrientation,
        Place::Shell(1),
        "3 edges",
    );
    assert_eq!(faults.len(), 1);
}

#[test]
fn bodies_touching_along_an_edge_stay_balanced() {
    let diagonal: Vec<Triangle> = brick()
        .iter()
        .map(|t| t.map(|[x, y, z]| [x + 10.0, y + 20.0, z]))
        .collect();
    let (mesh, faults) = meshed(&[brick(), diagonal].concat());
    assert_eq!(mesh.shells.len(), 1);
    assert!(!mesh.shells[0].closed && mesh.shells[0].balanced);
    assert_fault(
        &faults,
        FaultKind::CrowdedEdges,
        Place::Shell(1),
        "1 edge shared",
    );
}

#[test]
fn bodies_touching_at_a_face_have_twins_back_to_back() {
    // Mirrored, so that the diagonals of the shared face agree.
    let mirrored: Vec<Triangle> = flipped(&brick())
        .iter()
        .map(|t| t.map(|[x, y, z]| [-x, y, z]))
        .collect();
    let (mesh, faults) = meshed(&[brick(), mirrored].concat());
    assert_eq!(mesh.triangles.len(), 24);
    assert!(mesh.shells[0].balanced && !mesh.shells[0].closed);
    assert!(
        faults
            .iter()
            .filter(|fault| fault.kind == FaultKind::BackToBack)
            .count()
            == 2
    );
}

#[test]
fn duplicates_are_dropped_and_the_shell_stays_closed() {
    let mut triangles = brick();
    let [a, b, c] = triangles[3];
    triangles.insert(1, [[1.0; 3], [1.0; 3], [2.0; 3]]);
    triangles.push([b, c, a]);
    triangles.push([c, a, b]);
    let (mesh, faults) = meshed(&triangles);
    assert_eq!((mesh.triangles.len(), mesh.vertices.len()), (12, 8));
    assert!(mesh.shells[0].closed);
    let same = "the same as triangle 5";
    assert_fault(
        &faults,
        FaultKind::DuplicateTriangle,
        Place::Triangle(14),
        same,
    );
    assert_fault(
        &faults,
        FaultKind::DuplicateTriangle,
        Place::Triangle(15),
        same,
    );
    assert_fault(
        &faults,
        FaultKind::ZeroArea,
        Place::Triangle(2),
        "same point",
    );
    assert_eq!(faults.len(), 3);
    let (whole_twice, _) = meshed(&[brick(), brick()].concat());
    approx::assert_relative_eq!(whole_twice.volume_mm3(), 6000.0, epsilon = 1e-9);
}

#[test]
fn a_seam_closed_by_a_triangle_without_area_is_closed() {
    // One corner of the brick is split: the middle of an edge on one side only.
    let mut triangles = brick();
    let index = triangles
        .iter()
        .position(|t| t.contains(&[0.0; 3]))
        .unwrap();
    let mut corners = triangles.remove(index);
    while corners[0] != [0.0; 3] {
        corners.rotate_left(1);
    }
    let [a, b, c] = corners;
    let middle = [0, 1, 2].map(|k| f32::midpoint(a[k], b[k]));
    let halves = [[a, middle, c], [middle, b, c]];
    let (open, faults) = meshed(&[triangles.clone(), halves.to_vec()].concat());
    assert!(!open.shells[0].closed);
    assert_fault(&faults, FaultKind::OpenEdges, Place::Shell(1), "3 edges");

    let seam = [a, b, middle];
    let (mesh, faults) = meshed(&[triangles, halves.to_vec(), vec![seam]].concat());
    assert_eq!((mesh.triangles.len(), mesh.shells.len()), (13, 1));
    assert_eq!(mesh.shells[0].triangle_count, 13);
    assert!(mesh.shells[0].closed);
    assert_fault(
        &faults,
        FaultKind::ZeroArea,
        Place::Triangle(14),
        "on one line",
    );
    assert_eq!(faults.len(), 1);
}

#[test]
fn inside_out_is_told_from_a_cavity() {
    let (mesh, faults) = meshed(&flipped(&brick()));
    assert!(mesh.shells[0].closed && mesh.shells[0].volume_mm3 < 0.0);
    assert_fault(
        &faults,
        FaultKind::InsideOut,
        Place::Shell(1),
        "-6000.000 mm3",
    );

    let big = scaled(&brick(), 3.0);
    let hole: Vec<Triangle> = flipped(&brick())
        .iter()
        .map(|t| t.map(|p| p.map(|x| x + 5.0)))
        .collect();
    let (mesh, faults) = meshed(&[hole, big.clone()].concat());
    assert_eq!((mesh.shells.len(), faults), (2, vec![]));
    approx::assert_relative_eq!(mesh.volume_mm3(), 26.0 * 6000.0, epsilon = 1e-8);

    let outside = moved(&flipped(&brick()), -50.0);
    let (_, faults) = meshed(&[big, outside].concat());
    assert_fault(
        &faults,
        FaultKind::InsideOut,
        Place::Shell(2),
        "-6000.000 mm3",
    );
}

#[test]
fn a_box_round_the_shell_alone_makes_no_cavity() {
    // Turned inside out and in the hole of a ring: within its box, but not within its material.
    let ring = Column {
        sides: 4,
        flat_distance_mm: 50.0,
        length_mm: 80.0,
        edge_chamfer_mm: 0.0,
        bore_diameter_mm: Some(80.0),
    }
    .mesh()
    .unwrap();
    let plug = cuboid(Point3::new(-5.0, -5.0, 20.0), Point3::new(5.0, 5.0, 40.0)).unwrap();
    let (mesh, faults) = meshed(&[single(&ring), flipped(&single(&plug))].concat());
    assert_eq!(mesh.shells.len(), 2);
    assert_fault(
        &faults,
        FaultKind::InsideOut,
        Place::Shell(2),
        "-2000.000 mm3",
    );
}

#[test]
fn winding_number_counts() {
    let (mesh, _) = meshed(&brick());
    let at = |x, y, z| winding_number(&mesh, 0, Point3::new(x, y, z));
    approx::assert_relative_eq!(at(1.0, 2.0, 3.0), 1.0, epsilon = 1e-12);
    approx::assert_relative_eq!(at(-1.0, 2.0, 3.0), 0.0, epsilon = 1e-12);
    let (inverted, _) = meshed(&flipped(&brick()));
    let point = Point3::new(1.0, 2.0, 3.0);
    approx::assert_relative_eq!(winding_number(&inverted, 0, point), -1.0, epsilon = 1e-12);
}

#[test]
fn from_indexed_checks_its_indices() {
    let vertices = [
        Point3::origin(),
        Point3::new(1.0, 0.0, 0.0),
        Point3::new(0.0, 1.0, 0.0),
    ];
    let error = Mesh::from_indexed(&vertices, &[[0, 1, 2], [0, 1, 3]], Chord::Estimated);
    let faults = error.unwrap_err().faults;
    assert_fault(
        &faults,
        FaultKind::BadIndex,
        Place::Triangle(2),
        "there are 3 vertices",
    );
    let (mesh, _) = Mesh::from_indexed(&vertices, &[[0, 1, 2]], Chord::Stated(0.5)).unwrap();
    assert_eq!((mesh.triangles.len(), mesh.chord_allowance_mm), (1, 0.5));
    assert!(
        Mesh::from_triangles(&[], Chord::Estimated)
            .unwrap_err()
            .has(FaultKind::ZeroTriangles)
    );
}

/// Estimated allowance of a mesh, through single precision as from a file.
fn estimated(mesh: &Mesh) -> f64 {
    read(write_stl_binary(mesh))
        .unwrap()
        .mesh
        .chord_allowance_mm
}

#[test]
fn cylinder_of_twelve_and_finer() {
    for n in [12, 13, 24, 36, 64, 180] {
        let radius_mm = 25.0;
        let mesh = revolved(
            &[(0.0, radius_mm), (80.0, radius_mm)],
            n,
            Roundness::Inscribed,
        )
        .unwrap();
        let sagitta_mm = radius_mm * (1.0 - (PI / f64::from(n)).cos());
        approx::assert_relative_eq!(mesh.chord_allowance_mm, sagitta_mm, epsilon = 1e-12);
        approx::assert_relative_eq!(
            estimated(&mesh),
            sagitta_mm,
            max_relative = 1e-3,
            epsilon = 1e-5
        );
    }
}

/// A torus about z (ring radius, tube radius) as a grid of split quads.
fn torus(ring_mm: f64, tube_mm: f64, ring_n: u32, tube_n: u32) -> Mesh {
    let point = |i: u32, j: u32| {
        let (u, v) = (
            TAU * f64::from(i % ring_n) / f64::from(ring_n),
            TAU * f64::from(j % tube_n) / f64::from(tube_n),
        );
        let r = ring_mm + tube_mm * v.cos();
        Point3::new(r * u.cos(), r * u.sin(), tube_mm * v.sin())
    };
    let mut triangles = Vec::new();
    for (i, j) in (0..ring_n).flat_map(|i| (0..tube_n).map(move |j| (i, j))) {
        let (a, b, c, d) = (
            point(i, j),
            point(i + 1, j),
            point(i + 1, j + 1),
            point(i, j + 1),
        );
        triangles.extend([[a, b, c], [a, c, d]]);
    }
    Mesh::from_triangles(&triangles, Chord::Estimated)
        .unwrap()
        .0
}

/// Greatest distance from the triangles to a surface given by its signed distance (own oracle:
/// dense sampling of every triangle).
fn sampled_rise(mesh: &Mesh, outside_mm: impl Fn(Point3<f64>) -> f64) -> f64 {
    let mut rise: f64 = 0.0;
    for triangle in 0..mesh.triangles.len() as u32 {
        let [a, b, c] = mesh.corners(triangle);
        for (i, j) in (0..=12).flat_map(|i| (0..=12 - i).map(move |j| (i, j))) {
            let (s, t) = (f64::from(i) / 12.0, f64::from(j) / 12.0);
            rise = rise.max(-outside_mm(a + (b - a) * s + (c - a) * t));
        }
    }
    rise
}

#[test]
fn spheres_and_tori_are_not_underestimated() {
    for n in [12_u32, 16, 24, 48] {
        let radius_mm = 30.0;
        let profile: Vec<(f64, f64)> = (0..=n / 2)
            .map(|k| {
                let angle = PI * f64::from(k) / f64::from(n / 2);
                let ends = k == 0 || k == n / 2;
                (
                    -radius_mm * angle.cos(),
                    if ends { 0.0 } else { radius_mm * angle.sin() },
                )
            })
            .collect();
        let sphere = revolved(&profile, n, Roundness::Inscribed).unwrap();
        let truth_mm = sampled_rise(&sphere, |p| p.coords.norm() - radius_mm);
        let found_mm = estimated(&sphere);
        assert!(
            found_mm >= truth_mm && found_mm < 1.6 * truth_mm,
            "{n}: {found_mm} {truth_mm}"
        );

        let (ring_mm, tube_mm) = (60.0, 15.0);
        let torus = torus(ring_mm, tube_mm, 2 * n, n);
        let truth_mm = sampled_rise(&torus, |p| (p.x.hypot(p.y) - ring_mm).hypot(p.z) - tube_mm);
        let found_mm = estimated(&torus);
        assert!(
            found_mm >= truth_mm && found_mm < 1.6 * truth_mm,
            "{n}: {found_mm} {truth_mm}"
        );
    }
}

#[test]
fn a_bore_needs_no_allowance() {
    let column = Column {
        sides: 4,
        flat_distance_mm: 50.0,
        length_mm: 80.0,
        edge_chamfer_mm: 3.0,
        bore_diameter_mm: Some(60.0),
    };
    assert_eq!(estimated(&column.mesh().unwrap()), 0.0);
}

#[test]
fn chamfer_is_flat() {
    let column = Column {
        sides: 4,
        flat_distance_mm: 50.0,
        length_mm: 80.0,
        edge_chamfer_mm: 3.0,
        bore_diameter_mm: None,
    };
    assert_eq!(estimated(&column.mesh().unwrap()), 0.0);
}

/// A bar 100 x 40 with its four long edges rounded: the wide flats run tangentially into narrow
/// facets, and do not blow up the estimate.
#[test]
fn rounded_slab() {
    let (radius_mm, quarter) = (1.0, 8_u32);
    let mut ring = Vec::new();
    for (corner, (x, y)) in [(49.0, 19.0), (-49.0, 19.0), (-49.0, -19.0), (49.0, -19.0)]
        .iter()
        .enumerate()
    {
        for k in 0..=quarter {
            let angle = PI / 2.0 * (corner as f64 + f64::from(k) / f64::from(quarter));
            ring.push((x + radius_mm * angle.cos(), y + radius_mm * angle.sin()));
        }
    }
    let at = |k: usize, z: f64| {
        let (x, y) = ring[k % ring.len()];
        Point3::new(x, y, z)
    };
    let mut triangles = Vec::new();
    for k in 0..ring.len() {
        triangles.push([at(k, 0.0), at(k + 1, 0.0), at(k + 1, 60.0)]);
        triangles.push([at(k, 0.0), at(k + 1, 60.0), at(k, 60.0)]);
        triangles.push([Point3::origin(), at(k + 1, 0.0), at(k, 0.0)]);
        triangles.push([Point3::new(0.0, 0.0, 60.0), at(k, 60.0), at(k + 1, 60.0)]);
    }
    let (mesh, faults) = Mesh::from_triangles(&triangles, Chord::Estimated).unwrap();
    assert_eq!(faults, []);
    let sagitta_mm = radius_mm * (1.0 - (PI / 4.0 / f64::from(quarter)).cos());
    assert!(
        mesh.chord_allowance_mm >= sagitta_mm * 0.999_999,
        "{}",
        mesh.chord_allowance_mm
    );
    assert!(
        mesh.chord_allowance_mm < 1.1 * sagitta_mm,
        "{} {sagitta_mm}",
        mesh.chord_allowance_mm
    );
}

#[test]
fn a_large_estimate_is_pointed_out() {
    let coarse = revolved(&[(0.0, 100.0), (80.0, 100.0)], 12, Roundness::Inscribed).unwrap();
    let read = read(write_stl_binary(&coarse)).unwrap();
    let fault = read
        .faults
        .iter()
        .find(|f| f.kind == FaultKind::LargeChordAllowance)
        .unwrap();
    assert!(fault.message.contains("3.407 mm"), "{fault}");
}

#[test]
fn inches_read_as_millimetres_are_suspected() {
    let (mesh, _) = meshed(&brick());
    let suspicion = |expected_mm: f64| unit_suspicion(&mesh, expected_mm);
    for expected_mm in [30.0, 3.0, 200.0, 380.0, 2.4, 0.0, -1.0, f64::NAN] {
        assert_eq!(suspicion(expected_mm), None, "{expected_mm}");
    }
    let small = suspicion(762.0).unwrap();
    assert_eq!(small.factor, Some(25.4));
    assert!(
        small.fault.message.contains("inches read as millimetres"),
        "{}",
        small.fault
    );
    assert!(small.fault.remedy.contains("unit"));
    assert_eq!(suspicion(30.0 / 25.4).unwrap().factor, Some(1.0 / 25.4));
    assert_eq!(suspicion(30_000.0).unwrap().factor, Some(1000.0));
    assert_eq!(suspicion(0.03).unwrap().factor, Some(0.001));
    let odd = suspicion(30.0 * 200.0).unwrap();
    assert_eq!(odd.factor, None);
    assert!(
        odd.fault.message.contains("no common unit"),
        "{}",
        odd.fault
    );
}

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
