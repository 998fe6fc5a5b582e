//! Random small cases against slow, independent methods.

use crate::models::{Random, placed, random_tool, rough};
use lapidary::gap::{Ask, Gap, Motion, Placed, Shape, Turn, Witness, pair_gap};
use lapidary::value::{Pose, about_axis};
use nalgebra::Point3;
use parry3d_f64::math::Pose as ParryPose;
use parry3d_f64::query::distance;
use parry3d_f64::shape::Triangle;

fn rest(a: &Placed, b: &Placed) -> Gap {
    pair_gap(a, b, &Motion::rest(), &Ask::default()).unwrap()
}

fn triangles(body: &Placed) -> Vec<Triangle> {
    let Shape::Mesh(shape) = &body.shape else {
        return Vec::new();
    };
    let mesh = shape.mesh();
    let corner = |index: u32| {
        let at = body.common_from_body * mesh.vertices[index as usize];
        parry3d_f64::math::Vector::new(at.x, at.y, at.z)
    };
    let all = mesh.triangles.iter();
    all.map(|[a, b, c]| Triangle::new(corner(*a), corner(*b), corner(*c)))
        .collect()
}

/// All triangle pairs by parry3d-f64 0.31 (GJK).
fn brute(a: &Placed, b: &Placed) -> f64 {
    let identity = ParryPose::IDENTITY;
    let (one, two) = (triangles(a), triangles(b));
    let pairs = one.iter().flat_map(|p| two.iter().map(move |q| (p, q)));
    pairs
        .map(|(p, q)| distance(&identity, p, &identity, q).unwrap().distance)
        .fold(f64::INFINITY, f64::min)
}

pub fn check_witness(gap: &Gap, a: &Placed, b: &Placed, turn: Option<&Turn>) {
    let Some(Witness {
        point_a, point_b, ..
    }) = gap.witness
    else {
        return;
    };
    let apart = (point_a - point_b).norm();
    assert!(
        (apart - gap.hi_mm).abs() < 1e-6 || gap.hi_mm == 0.0,
        "{gap:?}"
    );
    let _ = (a, b, turn);
}

#[test]
fn mesh_pairs_agree_with_all_triangle_pairs() {
    let mut random = Random(11);
    for case in 0..400 {
        let mut a = placed(&rough(&mut random, 10.0));
        let mut b = placed(&rough(&mut random, 10.0));
        let reach = [5.0, 20.0, 40.0][random.below(3)];
        a.common_from_body = random.pose(reach);
        b.common_from_body = random.pose(reach);
        let gap = rest(&a, &b);
        let slow = brute(&a, &b);
        if gap.contained.is_none() {
            assert!(
                gap.lo_mm <= slow + 1e-6 && slow <= gap.hi_mm + 1e-6,
                "{case}: {gap:?} {slow}"
            );
        }
        assert!(
            gap.decided && gap.hi_mm - gap.lo_mm <= 1e-6,
            "{case}: {gap:?} {slow}"
        );
        check_witness(&gap, &a, &b, None);
    }
}

/// Samples a turn by the rule of the design guide and compares.
fn check_turn(case: usize, a: &Placed, b: &Placed, turn: &Turn, gap: &Gap) {
    let steps = 720;
    let mut sampled = f64::INFINITY;
    for step in 0..=steps {
        let angle = turn.from_deg + (turn.to_deg - turn.from_deg) * step as f64 / steps as f64;
        let pose: Pose = about_axis(&turn.direction, &turn.centre, angle) * b.common_from_body;
        let turned = Placed {
            shape: b.shape.clone(),
            common_from_body: pose,
        };
        sampled = sampled.min(rest(a, &turned).hi_mm);
    }
    let step_rad = ((turn.to_deg - turn.from_deg) / steps as f64)
        .to_radians()
        .abs();
    let radius = 100.0;
    assert!(gap.lo_mm <= sampled + 1e-6, "{case}: {gap:?} {sampled}");
    assert!(
        sampled - radius * step_rad / 2.0 <= gap.hi_mm,
        "{case}: {gap:?} {sampled}"
    );
    assert!(
        gap.hi_mm - gap.lo_mm <= 1.001e-3,
        "{case}: {gap:?} {sampled}"
    );
}

#[test]
fn turns_agree_with_sampling() {
    let mut random = Random(12);
    for case in 0..40 {
        let mut a = placed(&rough(&mut random, 10.0));
        if random.below(2) == 0 {
            a = random_tool(&mut random, Pose::identity());
        }
        let mut b = placed(&rough(&mut random, 10.0));
        if random.below(4) == 0 {
            b = random_tool(&mut random, Pose::identity());
        }
        a.common_from_body = random.pose(25.0);
        b.common_from_body = random.pose(25.0);
        let turn = Turn {
            centre: Point3::from(random.vector(10.0)),
            direction: random.direction(),
            from_deg: random.within(-200.0, 200.0),
            to_deg: random.within(-200.0, 200.0),
        };
        let gap = pair_gap(&a, &b, &Motion::turn(turn.clone()), &Ask::default()).unwrap();
        check_turn(case, &a, &b, &turn, &gap);
        check_witness(&gap, &a, &b, Some(&turn));
    }
}
