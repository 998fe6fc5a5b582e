//! Welding, shells, twins, seams, cavities, units.

use super::solids::{Column, cuboid};
use super::*;

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
fn shells_without_area_vanish_and_numbers_stay_right() {
    let line = [[90.0, 0.0, 0.0], [91.0, 0.0, 0.0], [93.0, 0.0, 0.0]];
    let open = moved(&brick()[1..], 50.0);
    let (mesh, faults) = meshed(
        &[
            vec![line],
            brick(),
            vec![line.map(|[x, ..]| [0.0, x, x])],
            open,
        ]
        .concat(),
    );
    assert_eq!(mesh.shells.len(), 2);
    assert!(mesh.shells[0].closed && !mesh.shells[1].closed);
    assert_eq!(
        (mesh.shells[0].first_triangle, mesh.shells[1].first_triangle),
        (0, 12)
    );
    assert_eq!(mesh.bounds().1, Point3::new(60.0, 20.0, 30.0));
    assert_fault(&faults, FaultKind::OpenEdges, Place::Shell(2), "3 edges");
    assert_fault(
        &faults,
        FaultKind::ZeroArea,
        Place::Triangle(14),
        "one line",
    );
    assert_eq!(faults.len(), 3);
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
