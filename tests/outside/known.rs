//! Published values and handbook geometry, asked of the engine and the mesh code.

use lapidary::answer::kinematics::Kinematics;
use lapidary::gap::{Ask, MeshShape, Motion, Piece, Placed, Revolved, Ring, Turn, pair_gap};
use lapidary::mesh::solids::cuboid;
use lapidary::value::{Pose, Vec3, translation};
use nalgebra::Point3;
use std::sync::Arc;

/// A ball whose lowest point stands on the z axis at a known radius from the x axis.
fn probe_at(radius_mm: f64) -> Placed {
    let ball = Ring {
        radius_mm: 0.0,
        height_mm: 0.0,
        ball_mm: 0.5,
    };
    let probe = Arc::new(Revolved::new(vec![Piece::new(vec![ball]).unwrap()]).unwrap());
    Placed::revolved(&probe, translation(Vec3::new(0.0, 0.0, radius_mm + 0.5)))
}

/// Radius that a box sweeps about the x axis, as the engine finds it: the radius of a probe
/// less the certified gap over a full turn.
fn swept_radius_mm(low: [f64; 3], high: [f64; 3]) -> (f64, f64) {
    let mesh = cuboid(Point3::from(low), Point3::from(high)).unwrap();
    let work = Placed::mesh(
        &Arc::new(MeshShape::new(Arc::new(mesh)).unwrap()),
        Pose::identity(),
    );
    let turn = Turn {
        centre: Point3::origin(),
        direction: Vec3::x(),
        from_deg: 0.0,
        to_deg: 360.0,
    };
    let probe_mm = 400.0;
    let ask = Ask {
        tolerance_mm: 1e-4,
        ..Ask::default()
    };
    let gap = pair_gap(&probe_at(probe_mm), &work, &Motion::turn(turn), &ask).unwrap();
    assert!(gap.decided && gap.hi_mm - gap.lo_mm <= 1e-4 + 1e-9);
    (probe_mm - gap.hi_mm, probe_mm - gap.lo_mm)
}

fn assert_swept(low: [f64; 3], high: [f64; 3], published_mm: f64) {
    let (least_mm, most_mm) = swept_radius_mm(low, high);
    let rounded = |value: f64| (value * 100.0).round() / 100.0;
    assert_eq!(rounded(least_mm), published_mm, "{least_mm} to {most_mm}");
    assert_eq!(rounded(most_mm), published_mm, "{least_mm} to {most_mm}");
}

/// Source: geometry, own recomputation: half diagonals of the section across the rotary axis.
#[test]
fn swept_radii_are_the_half_diagonals() {
    // A carrier 200 across flats.
    assert_swept([-5.0, -100.0, -100.0], [5.0, 100.0, 100.0], 141.42);
    // A part 120 wide that stands 50 proud on it.
    assert_swept([-5.0, -60.0, 100.0], [5.0, 60.0, 150.0], 161.55);
    // The demo's nut, 24 across, top 60 above a pad 90 from the axis.
    assert_swept([-5.0, -12.0, 130.0], [5.0, 12.0, 150.0], 150.48);
    // The demo's stock, 70 wide, top 49 above that pad.
    assert_swept([-5.0, -35.0, 90.0], [5.0, 35.0, 139.0], 143.34);
}

/// Source: 7:24 taper, gauge diameter 44.45 (ISO 7388-1, from memory); small end = D - 7/24 L:
/// 25.375 at 65.4. A probe ball beside the small end measures the cone.
#[test]
fn taper_7_24_has_its_small_end() {
    let (gauge_mm, length_mm) = (44.45, 65.4);
    let slope = 7.0 / 24.0;
    // Only the gauge diameter and the taper go in: a cone down to its apex.
    let apex_mm = gauge_mm / slope;
    let cone = Piece::new(vec![
        Ring::disc(gauge_mm / 2.0, 0.0),
        Ring::disc(0.0, apex_mm),
    ])
    .unwrap();
    let taper = Placed::revolved(
        &Arc::new(Revolved::new(vec![cone]).unwrap()),
        Pose::identity(),
    );
    // A ball whose nearest point on the cone is the published small end.
    let cos = (1.0 + slope * slope / 4.0).sqrt().recip();
    let normal = Vec3::new(cos, 0.0, cos * slope / 2.0);
    let rim = Vec3::new(25.375 / 2.0, 0.0, length_mm);
    let ball = Ring {
        radius_mm: 0.0,
        height_mm: 0.0,
        ball_mm: 1.0,
    };
    let ball = Arc::new(Revolved::new(vec![Piece::new(vec![ball]).unwrap()]).unwrap());
    let probe = Placed::revolved(&ball, translation(rim + normal * 3.0));
    let gap = pair_gap(&taper, &probe, &Motion::rest(), &Ask::default()).unwrap();
    assert!(
        (gap.lo_mm - 2.0).abs() < 1e-9 && (gap.hi_mm - 2.0).abs() < 1e-9,
        "{gap:?}"
    );
}

/// Source: NISTIR 6556 (RS274/NGC interpreter, Kramer, Proctor, Messina 2000) 2.1.2.2, from
/// memory: a positive rotary axis turns right-handed about its linear axis as seen from the work.
/// Check value by own recomputation: at A+90 the point Y 40, Z 50 from the rotary centre of a
/// table goes to Y 50, Z -40.
#[test]
fn work_turns_as_the_standard_says() {
    let job = crate::root().join("demo-models/vertical.toml");
    let read = |path: &std::path::Path| std::fs::read(path);
    let setup = lapidary::setup::load(&job, &read).unwrap().setup;
    let kinematics = Kinematics::new(&setup.machine).unwrap();
    let at = |angle_deg| {
        kinematics
            .table_from_carrier(&setup.carrier, angle_deg)
            .unwrap()
    };
    let centre = setup.machine.rotary.centre;
    let turned = at(90.0) * at(0.0).inverse() * (centre + Vec3::new(7.0, 40.0, 50.0));
    assert_eq!(turned, centre + Vec3::new(7.0, 50.0, -40.0));
}
