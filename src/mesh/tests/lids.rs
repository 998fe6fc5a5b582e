use super::*;
use crate::mesh::Chord;

fn found(triangles: &[[Point3<f64>; 3]]) -> Soundness {
    let (mesh, _) = Mesh::from_triangles(triangles, Chord::Stated(0.0)).unwrap();
    soundness(&mesh)
}

fn cube() -> Vec<[Point3<f64>; 3]> {
    box_of(&[Point3::origin(), Point3::new(10.0, 10.0, 10.0)])
}

fn area_mm2(triangles: &[[Point3<f64>; 3]]) -> f64 {
    let area = |t: &[Point3<f64>; 3]| (t[1] - t[0]).cross(&(t[2] - t[0])).norm() * 0.5;
    triangles.iter().map(area).sum()
}

#[test]
fn a_flat_lid_where_a_face_is_missing() {
    assert!(found(&cube()).is_sound());
    let open = found(&cube()[2..]);
    assert_eq!((open.open_edges, open.turned.len()), (4, 0));
    assert!((area_mm2(&open.lids) - 100.0).abs() < 1e-9);
    assert!(open.lids.iter().flatten().all(|corner| corner.z == 0.0));
    let flipped: Vec<_> = cube()[2..].iter().map(|[a, b, c]| [*a, *c, *b]).collect();
    assert_eq!(found(&flipped).turned, vec![true]);
}

#[test]
fn a_box_where_the_rim_is_not_flat_or_all_is_loose() {
    // Without the bottom and a side.
    let open = found(&[&cube()[2..4], &cube()[6..]].concat());
    assert!((area_mm2(&open.lids) - 600.0).abs() < 1e-9);
    let loose: Vec<_> = cube()
        .iter()
        .map(|t| t.map(|p| p + (t[0] - t[1]) * 0.001 + (t[2] - t[0]) * 0.002))
        .collect();
    let all = found(&loose);
    assert!(
        all.open_edges == 36 && area_mm2(&all.lids) > 600.0,
        "{all:?}"
    );
}

#[test]
fn a_seam_of_a_micrometre_has_no_lid_and_a_turned_triangle_is_told() {
    let mut seam = cube();
    seam[0] = seam[0].map(|p| Point3::new(p.x + 5e-4, p.y, p.z));
    assert_eq!(found(&seam).lids, Vec::<[Point3<f64>; 3]>::new());
    let mut mixed = cube();
    mixed[3].swap(0, 1);
    assert_eq!(found(&mixed).mixed, vec![true]);
}

/// Whether a lid is over a place in plan.
fn covers(lids: &[[Point3<f64>; 3]], x: f64, y: f64) -> bool {
    lids.iter().any(|[a, b, c]| {
        let side =
            |a: &Point3<f64>, b: &Point3<f64>| (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x);
        let sides = [side(a, b), side(b, c), side(c, a)];
        let flat = side(a, b) + side(b, c) + side(c, a) == 0.0;
        let all = |fits: fn(&f64) -> bool| sides.iter().all(fits);
        !flat && (all(|side| *side >= 0.0) || all(|side| *side <= 0.0))
    })
}

fn moved(triangles: &[[Point3<f64>; 3]], by: [f64; 3]) -> Vec<[Point3<f64>; 3]> {
    let by = Vector3::from(by);
    triangles.iter().map(|t| t.map(|p| p + by)).collect()
}

#[test]
fn rims_of_two_copies_do_not_close_each_other() {
    let open = &cube()[2..];
    let twice = found(&[open.to_vec(), moved(open, [0.0, 0.0, 5e-4])].concat());
    assert!(covers(&twice.lids, 3.0, 4.0), "{twice:?}");
}

#[test]
fn a_flange_that_is_a_sheet_of_its_own_leaves_the_mouth_open() {
    let inner = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)];
    let outer = [(-2.0, -2.0), (12.0, -2.0), (12.0, 12.0), (-2.0, 12.0)];
    let at = |(x, y): (f64, f64)| Point3::new(x, y, -5e-4);
    let mut flange = Vec::new();
    for k in 0..4 {
        let (a, b) = (at(inner[k]), at(inner[(k + 1) % 4]));
        let (c, d) = (at(outer[(k + 1) % 4]), at(outer[k]));
        flange.extend([[a, b, c], [a, c, d]]);
    }
    let turned: Vec<_> = flange.iter().map(|[a, b, c]| [*a, *c, *b]).collect();
    for flange in [flange, turned] {
        let open = found(&[cube()[2..].to_vec(), flange].concat());
        assert!(covers(&open.lids, 3.0, 4.0), "{open:?}");
    }
}

#[test]
fn curved_sheets_apart_from_each_other_are_covered_together() {
    let mut sheets = Vec::new();
    for sheet in 0..8_u32 {
        let at = |step: u32, z: f64| {
            let seam = f64::from(step) * 1e-5 + f64::from(sheet) * 1e-9;
            let turn = (f64::from(sheet) + f64::from(step) / 4.0) * 45_f64.to_radians() - seam;
            Point3::new(110.0 * turn.cos(), 110.0 * turn.sin(), z)
        };
        for step in 0..4 {
            let [a, b] = [at(step, 0.0), at(step + 1, 0.0)];
            let [c, d] = [at(step + 1, 50.0), at(step, 50.0)];
            sheets.extend([[a, b, c], [a, c, d]]);
        }
    }
    let open = found(&sheets);
    assert!(covers(&open.lids, 3.0, 4.0), "{open:?}");
}

#[test]
fn loose_faces_near_each_other_have_sides() {
    let faces = cube();
    let mut loose = Vec::new();
    for (number, face) in faces.chunks(2).enumerate() {
        loose.extend(moved(
            face,
            [number as f64 * 7e-8, 0.0, number as f64 * 5e-8],
        ));
    }
    let good = found(&loose);
    assert_eq!((good.lids.len(), good.turned.contains(&true)), (0, false));
    let flipped: Vec<_> = loose.iter().map(|[a, b, c]| [*a, *c, *b]).collect();
    let turned = found(&flipped).turned;
    assert!(
        !turned.is_empty() && turned.iter().all(|turned| *turned),
        "{turned:?}"
    );
}
