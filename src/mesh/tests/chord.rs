//! Chord allowance against bodies whose true rise is known.

use super::solids::{Column, Roundness, revolved};
use super::*;
use std::f64::consts::{PI, TAU};

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
fn facets_of_a_bore_stand_out_of_it_by_the_sagitta() {
    let column = Column {
        sides: 4,
        flat_distance_mm: 80.0,
        length_mm: 100.0,
        edge_chamfer_mm: 0.0,
        bore_diameter_mm: Some(60.0),
    };
    let mesh = read(write_stl_binary(&column.mesh().unwrap()))
        .unwrap()
        .mesh;
    let bore: Vec<_> = mesh
        .vertices
        .iter()
        .filter(|v| v.x.hypot(v.y) < 35.0)
        .collect();
    let n = bore.len() as f64 / 2.0;
    let sagitta_mm = 30.0 * (1.0 - (PI / n).cos());
    assert_eq!(mesh.chord_allowance_mm, 0.0);
    approx::assert_relative_eq!(mesh.hollow_chord_mm, sagitta_mm, max_relative = 1e-2);
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
