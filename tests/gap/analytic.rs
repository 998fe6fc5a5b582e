//! Answers known by geometry (own derivations).

use crate::models::{box_triangles, cube, cylinder, flipped, lathe, placed, tool};
use lapidary::gap::{
    Ask, CannotAsk, Decision, Gap, MeshShape, Motion, Placed, Ring, Shape, Side, Spread, Turn,
    at_least, group_gap, pair_gap,
};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;
use std::slice::from_ref;
use std::sync::Arc;

fn rest(a: &Placed, b: &Placed) -> Gap {
    pair_gap(a, b, &Motion::rest(), &Ask::default()).unwrap()
}

fn assert_gap(gap: &Gap, wanted: f64, width: f64) {
    assert!(
        gap.lo_mm <= wanted + 1e-9 && gap.hi_mm >= wanted - 1e-9,
        "{gap:?}, wanted {wanted}"
    );
    assert!(gap.hi_mm - gap.lo_mm <= width, "{gap:?}, wanted {wanted}");
    assert!(gap.decided);
}

fn turn(from_deg: f64, to_deg: f64) -> Motion {
    let (centre, direction) = (Point3::origin(), Vec3::x());
    Motion::turn(Turn {
        centre,
        direction,
        from_deg,
        to_deg,
    })
}

#[test]
fn boxes_at_rest() {
    let a = cube([0.0; 3], [10.0; 3]);
    assert_gap(&rest(&a, &cube([13.0, 0.0, 0.0], [20.0; 3])), 3.0, 1e-9);
    assert_gap(&rest(&a, &cube([13.0, 14.0, 0.0], [20.0; 3])), 5.0, 1e-9);
    assert_gap(&rest(&a, &cube([5.0; 3], [20.0; 3])), 0.0, 0.0);
    assert_gap(&rest(&a, &cube([10.0, 0.0, 0.0], [20.0; 3])), 0.0, 0.0);
}

#[test]
fn tools_against_a_box() {
    let block = cube([-50.0, -50.0, -20.0], [50.0, 50.0, 0.0]);
    let up = |height: f64| translation(Vec3::new(3.0, 4.0, height));
    assert_gap(&rest(&cylinder(5.0, 0.0, 30.0, up(2.0)), &block), 2.0, 1e-7);
    let ball = Ring {
        radius_mm: 0.0,
        height_mm: 4.0,
        ball_mm: 4.0,
    };
    assert_gap(
        &rest(&tool(&[&[ball, Ring::disc(4.0, 30.0)]], up(0.5)), &block),
        0.5,
        1e-6,
    );
    assert_gap(&rest(&block, &tool(&[&[ball]], up(0.5))), 0.5, 1e-7);
    let point = [
        Ring::disc(0.0, 0.0),
        Ring::disc(5.0, 2.0),
        Ring::disc(5.0, 30.0),
    ];
    assert_gap(&rest(&tool(&[&point], up(1.25)), &block), 1.25, 1e-7);
    assert_gap(&rest(&tool(&[&point], up(-1.0)), &block), 0.0, 0.0);
    let beside = translation(Vec3::new(60.0, 0.0, -30.0));
    assert_gap(&rest(&cylinder(5.0, 0.0, 50.0, beside), &block), 5.0, 1e-7);
}

#[test]
fn solids_of_revolution_against_each_other() {
    let a = cylinder(5.0, 0.0, 30.0, Pose::identity());
    let b = cylinder(3.0, 0.0, 30.0, translation(Vec3::new(6.0, 8.0, 0.0)));
    assert_gap(&rest(&a, &b), 2.0, 1e-6);
    let inside = cylinder(1.0, 5.0, 6.0, Pose::identity());
    assert_gap(&rest(&a, &inside), 0.0, 0.0);
}

#[test]
fn lines_and_areas() {
    let post = cube([-1.0, -1.0, -50.0], [1.0, 1.0, 0.0]);
    let mill = cylinder(5.0, 0.0, 30.0, translation(Vec3::new(0.0, 0.0, 0.75)));
    let over = Motion::line(Vec3::new(-80.0, 3.0, 0.0), Vec3::new(90.0, 3.0, 0.0));
    assert_gap(
        &pair_gap(&mill, &post, &over, &Ask::default()).unwrap(),
        0.75,
        1e-6,
    );
    assert_gap(
        &pair_gap(&post, &mill, &over, &Ask::default()).unwrap(),
        0.75,
        1e-6,
    );
    let corner = |x: f64, y: f64| Vec3::new(x, y, -10.0);
    let pocket = Motion::spread(vec![
        corner(10.0, -40.0),
        corner(60.0, -40.0),
        corner(60.0, 40.0),
        corner(10.0, 40.0),
    ]);
    assert_gap(
        &pair_gap(&mill, &post, &pocket, &Ask::default()).unwrap(),
        4.0,
        1e-6,
    );
    let disc = Motion {
        spread: Spread {
            offsets_mm: vec![corner(20.0, 0.0)],
            disc_radius_mm: 6.0,
            disc_normal: Vec3::z() * 3.0,
        },
        turn: None,
    };
    assert_gap(
        &pair_gap(&mill, &post, &disc, &Ask::default()).unwrap(),
        8.0,
        1e-6,
    );
    let crash = Motion::line(Vec3::new(-80.0, 3.0, -5.0), Vec3::new(90.0, 3.0, -5.0));
    let gap = pair_gap(&mill, &post, &crash, &Ask::default()).unwrap();
    assert_gap(&gap, 0.0, 0.0);
    assert!(gap.witness.is_some());
}

#[test]
fn a_square_bar_turns_under_a_tool() {
    let bar = cube([-100.0, -30.0, -30.0], [100.0, 30.0, 30.0]);
    let corner = 30.0 * 2.0_f64.sqrt();
    let above = |height: f64| cylinder(4.0, 0.0, 50.0, translation(Vec3::new(0.0, 0.0, height)));
    for (from, to) in [
        (0.0, 90.0),
        (90.0, 0.0),
        (0.0, -90.0),
        (0.0, 720.0),
        (10.0, 47.0),
    ] {
        let gap = pair_gap(&above(50.0), &bar, &turn(from, to), &Ask::default()).unwrap();
        assert_gap(&gap, 50.0 - corner, 1.001e-3);
        let angle = gap.witness.unwrap().angle_deg.rem_euclid(90.0);
        assert!((angle - 45.0).abs() < 6.0, "{angle}");
    }
    let gap = pair_gap(&above(50.0), &bar, &turn(0.0, 0.0), &Ask::default()).unwrap();
    assert_gap(&gap, 20.0, 1e-6);
    let gap = pair_gap(&above(42.0), &bar, &turn(0.0, 90.0), &Ask::default()).unwrap();
    assert_eq!((gap.lo_mm, gap.hi_mm), (0.0, 0.0), "{gap:?}");
}

#[test]
fn a_concentric_bar_has_a_flat_minimum() {
    let bar = lathe(
        &[(0.0, -50.0), (40.0, -50.0), (40.0, 50.0), (0.0, 50.0)],
        90,
    );
    let lying = about_axis(&Vec3::y(), &Point3::origin(), 90.0);
    let bar = Placed {
        common_from_body: lying,
        ..placed(&bar)
    };
    let mill = cylinder(6.0, 0.0, 60.0, translation(Vec3::new(0.0, 0.0, 45.0)));
    let gap = pair_gap(&mill, &bar, &turn(0.0, 90.0), &Ask::default()).unwrap();
    assert_gap(&gap, 5.0, 1.001e-3);
    let decision = at_least(
        from_ref(&mill),
        from_ref(&bar),
        &turn(0.0, 90.0),
        4.9,
        &Ask::default(),
    )
    .unwrap();
    assert_eq!(decision, Decision::Yes);
    let decision = at_least(&[mill], &[bar], &turn(0.0, 90.0), 5.1, &Ask::default()).unwrap();
    assert!(matches!(decision, Decision::No(gap) if gap.hi_mm < 5.1));
}

#[test]
fn bodies_inside_bodies() {
    let outer = box_triangles(Vec3::repeat(-50.0), Vec3::repeat(50.0));
    let small = cube([-1.0; 3], [1.0; 3]);
    let pin = cylinder(1.0, 0.0, 2.0, Pose::identity());
    for body in [placed(&outer), placed(&flipped(&outer))] {
        for guest in [&small, &pin] {
            let gap = rest(guest, &body);
            assert_eq!(gap.contained.map(|c| c.inner), Some(Side::A), "{gap:?}");
            let gap = rest(&body, guest);
            assert_eq!(gap.contained.map(|c| c.inner), Some(Side::B), "{gap:?}");
            assert_eq!((gap.lo_mm, gap.hi_mm, gap.decided), (0.0, 0.0, true));
        }
    }
    let capped = Ask {
        cap_mm: 2.0,
        ..Ask::default()
    };
    let gap = pair_gap(&pin, &placed(&outer), &turn(0.0, 90.0), &capped).unwrap();
    assert!(gap.contained.is_some(), "{gap:?}");
    let decision = at_least(
        &[pin],
        &[placed(&outer)],
        &Motion::rest(),
        2.0,
        &Ask::default(),
    )
    .unwrap();
    assert!(matches!(decision, Decision::No(_)));
}

#[test]
fn a_cavity_is_empty_only_where_it_is_one() {
    let outer = box_triangles(Vec3::repeat(-50.0), Vec3::repeat(50.0));
    let hole = box_triangles(Vec3::repeat(-20.0), Vec3::repeat(20.0));
    let pin = cylinder(1.0, 0.0, 2.0, Pose::identity());
    let hollow: Vec<_> = outer.iter().copied().chain(flipped(&hole)).collect();
    assert_gap(&rest(&pin, &placed(&hollow)), 18.0, 1e-6);
    let doubled: Vec<_> = outer.iter().copied().chain(hole.clone()).collect();
    assert!(rest(&pin, &placed(&doubled)).contained.is_some());
    let crossing = box_triangles(Vec3::new(-20.0, -20.0, -20.0), Vec3::new(20.0, 20.0, 50.0));
    let touching: Vec<_> = outer.iter().copied().chain(flipped(&crossing)).collect();
    assert!(rest(&pin, &placed(&touching)).hi_mm <= 0.0);
}

#[test]
fn a_missing_triangle_leaves_it_undecided() {
    let mut outer = box_triangles(Vec3::repeat(-50.0), Vec3::repeat(50.0));
    outer.pop();
    let near_hole = translation(Vec3::new(48.0, 20.0, 20.0));
    let pin = cylinder(0.5, 0.0, 1.0, near_hole);
    let gap = rest(&pin, &placed(&outer));
    assert!(gap.lo_mm <= 0.0, "{gap:?}");
    let deep = rest(&cylinder(0.5, 0.0, 1.0, Pose::identity()), &placed(&outer));
    assert!(deep.lo_mm <= 0.0, "{deep:?}");
    let outside = translation(Vec3::new(60.0, 20.0, 20.0));
    assert!(rest(&cylinder(0.5, 0.0, 1.0, outside), &placed(&outer)).lo_mm > 1.0);
}

#[test]
fn groups_share_one_bracket() {
    let a = [
        cube([0.0; 3], [10.0; 3]),
        cube([100.0, 0.0, 0.0], [110.0, 10.0, 10.0]),
    ];
    let b = [
        cube([17.0, 0.0, 0.0], [30.0; 3]),
        cube([80.0, 0.0, 0.0], [98.0, 5.0, 5.0]),
    ];
    let gap = group_gap(&a, &b, &Motion::rest(), &Ask::default()).unwrap();
    assert_gap(&gap, 2.0, 1e-9);
    let witness = gap.witness.unwrap();
    assert_eq!((witness.part_a.instance, witness.part_b.instance), (1, 1));
    let capped = Ask {
        cap_mm: 1.0,
        ..Ask::default()
    };
    let gap = group_gap(&a, &b, &Motion::rest(), &capped).unwrap();
    assert_eq!((gap.lo_mm, gap.decided), (1.0, true));
    let empty = group_gap(&[], &b, &Motion::rest(), &capped).unwrap();
    assert_eq!((empty.lo_mm, empty.decided), (1.0, true));
}

/// Quads that share no corner: twelve open shells of one or two triangles.
fn soup(low: Vec3, high: Vec3) -> Vec<[Vec3; 3]> {
    let nudge = |number: usize| Vec3::repeat(1e-7 * number as f64);
    let sides = box_triangles(low, high);
    sides
        .iter()
        .enumerate()
        .map(|(number, t)| t.map(|c| c + nudge(number)))
        .collect()
}

#[test]
fn unwelded_and_unoriented_bodies_still_hold_their_guests() {
    let pin = cylinder(1.0, 0.0, 2.0, translation(Vec3::new(3.0, -2.0, 1.0)));
    let loose = soup(Vec3::repeat(-50.0), Vec3::repeat(50.0));
    assert!(rest(&pin, &placed(&loose)).lo_mm <= 0.0);
    assert!(rest(&pin, &placed(&loose)).contained.is_some());
    let mixed = loose.iter().enumerate().map(|(i, [a, b, c])| {
        if i % 2 == 0 {
            [*a, *b, *c]
        } else {
            [*a, *c, *b]
        }
    });
    let mixed = placed(&mixed.collect::<Vec<_>>());
    assert!(rest(&pin, &mixed).lo_mm <= 0.0);
    let beside = cylinder(1.0, 0.0, 2.0, translation(Vec3::new(60.0, 0.0, 0.0)));
    assert_gap(&rest(&beside, &mixed), 9.0 - 1.1e-6, 1e-6);
}

#[test]
fn slivers_and_far_coordinates() {
    let mut random = crate::models::Random(77);
    let (mut wide, mut seen) = (0, 0);
    for _ in 0..300 {
        let far = Vec3::repeat([0.0, 1e4][random.below(2)]);
        let mut sliver = || {
            let (from, along) = (random.vector(20.0) + far, random.direction() * 50.0);
            let thin = along.cross(&random.direction()).normalize() * 5e-5;
            [
                from,
                from + along,
                from + along * random.within(0.0, 1.0) + thin,
            ]
        };
        let (one, two) = (sliver(), sliver());
        let gap = rest(&placed(&[one]), &placed(&[two]));
        for _ in 0..200 {
            let mut on = |t: &[Vec3; 3]| {
                let (u, v) = (random.within(0.0, 1.0), random.within(0.0, 1.0));
                let (u, v) = if u + v > 1.0 {
                    (1.0 - u, 1.0 - v)
                } else {
                    (u, v)
                };
                t[0] + (t[1] - t[0]) * u + (t[2] - t[0]) * v
            };
            assert!(gap.lo_mm <= (on(&one) - on(&two)).norm() + 1e-9);
        }
        seen += 1;
        wide += usize::from(gap.hi_mm - gap.lo_mm > 1e-6);
    }
    assert!(wide * 100 <= seen, "{wide} of {seen}");
}

#[test]
fn unsound_questions_are_refused() {
    let a = cube([0.0; 3], [1.0; 3]);
    let mut bad = a.clone();
    bad.common_from_body.translation.vector.x = f64::NAN;
    assert_eq!(
        pair_gap(&a, &bad, &Motion::rest(), &Ask::default()),
        Err(CannotAsk::BadPose)
    );
    let none = Motion::spread(Vec::new());
    assert_eq!(
        pair_gap(&a, &a, &none, &Ask::default()),
        Err(CannotAsk::BadMotion)
    );
    let ask = Ask {
        cap_mm: f64::NAN,
        ..Ask::default()
    };
    assert_eq!(
        pair_gap(&a, &a, &Motion::rest(), &ask),
        Err(CannotAsk::BadLimit)
    );
    let Shape::Mesh(shape) = &a.shape else { return };
    let mut mesh = shape.mesh().clone();
    mesh.vertices[0].x = f64::INFINITY;
    assert!(MeshShape::new(Arc::new(mesh)).is_err());
}

#[test]
fn a_stopped_search_claims_nothing() {
    let stop = std::sync::atomic::AtomicBool::new(true);
    let ask = Ask {
        stop: Some(&stop),
        ..Ask::default()
    };
    let (a, b) = (cube([0.0; 3], [1.0; 3]), cube([3.0; 3], [4.0; 3]));
    for motion in [Motion::rest(), turn(0.0, 90.0)] {
        let gap = pair_gap(&a, &b, &motion, &ask).unwrap();
        assert!(!gap.decided && gap.lo_mm <= 12.0_f64.sqrt(), "{gap:?}");
    }
}
