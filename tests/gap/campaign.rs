//! Seeded random cases in bulk. `LAPIDARY_GAP_CASES=3000` widens the campaign; the seed is printed.

use crate::models::{Random, placed, random_tool, rough};
use crate::slow::{slow_tool_mesh, slow_turn};
use lapidary::gap::{
    Ask, Decision, Gap, Motion, Placed, Shape, Spread, Turn, Witness, at_least, pair_gap,
};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;
use std::slice::from_ref;

fn cases(usual: usize) -> usize {
    std::env::var("LAPIDARY_GAP_CASES")
        .ok()
        .and_then(|n| n.parse().ok())
        .unwrap_or(usual)
}

fn body(random: &mut Random) -> Placed {
    let mut body = match random.below(2) {
        0 => placed(&rough(random, 10.0)),
        _ => random_tool(random, Pose::identity()),
    };
    let reach = [8.0, 25.0, 60.0][random.below(3)];
    body.common_from_body = random.pose(reach);
    body
}

fn turn(random: &mut Random) -> Turn {
    let from_deg = random.within(-200.0, 200.0);
    let width = [0.0, 5.0, 90.0, 180.0, 400.0][random.below(5)];
    let direction = match random.below(2) {
        0 => Vec3::x(),
        _ => random.direction() * 2.0,
    };
    Turn {
        centre: Point3::from(random.vector(15.0)),
        direction,
        from_deg,
        to_deg: from_deg + random.within(-1.0, 1.0) * width,
    }
}

fn spread(random: &mut Random) -> Spread {
    let count = 1 + random.below(6);
    let reach = [3.0, 30.0][random.below(2)];
    Spread {
        offsets_mm: (0..count).map(|_| random.vector(reach)).collect(),
        disc_radius_mm: [0.0, 0.0, 2.0][random.below(3)],
        disc_normal: random.direction(),
    }
}

fn at(body: &Placed, turn: Option<&Turn>, angle_deg: f64) -> Placed {
    let Some(turn) = turn else {
        return body.clone();
    };
    let by = about_axis(&turn.direction.normalize(), &turn.centre, angle_deg);
    Placed {
        shape: body.shape.clone(),
        common_from_body: by * body.common_from_body,
    }
}

/// The gap with the first body at one offset and the second at one angle.
fn sample(a: &Placed, b: &Placed, offset: Vec3, turn: Option<&Turn>, angle_deg: f64) -> Gap {
    let moved = Placed {
        shape: a.shape.clone(),
        common_from_body: translation(offset) * a.common_from_body,
    };
    pair_gap(
        &moved,
        &at(b, turn, angle_deg),
        &Motion::rest(),
        &Ask::default(),
    )
    .unwrap()
}

/// A witness must be real: at its moment the gap is no larger than told.
fn check_witness(label: &str, a: &Placed, b: &Placed, turn: Option<&Turn>, gap: &Gap) {
    let Some(Witness {
        point_a,
        point_b,
        angle_deg,
        offset_mm,
        ..
    }) = gap.witness
    else {
        return;
    };
    assert!(
        ((point_a - point_b).norm() - gap.hi_mm).abs() < 1e-6,
        "{label} {gap:?}"
    );
    let there = sample(a, b, offset_mm, turn, angle_deg);
    assert!(there.lo_mm <= gap.hi_mm + 1e-6, "{label} {gap:?} {there:?}");
}

fn random_offset(random: &mut Random, spread: &Spread) -> Vec3 {
    let weights: Vec<f64> = spread
        .offsets_mm
        .iter()
        .map(|_| {
            let power = [1, 8][random.below(2)];
            random.within(0.0, 1.0).powi(power)
        })
        .collect();
    let sum: f64 = weights.iter().sum();
    let mut offset = Vec3::zeros();
    for (corner, weight) in spread.offsets_mm.iter().zip(weights) {
        offset += corner * (weight / sum);
    }
    let across = random.direction().cross(&spread.disc_normal);
    match across.try_normalize(1e-9) {
        Some(across) => offset + across * spread.disc_radius_mm * random.within(0.0, 1.0),
        None => offset,
    }
}

#[test]
fn tools_agree_with_nested_search() {
    let mut random = Random(101);
    let (mut wide, mut seen) = (0, 0);
    for case in 0..cases(60).min(600) {
        let (tool, mesh) = (
            random_tool(&mut random, Pose::identity()),
            placed(&rough(&mut random, 10.0)),
        );
        let tool = Placed {
            common_from_body: random.pose(30.0),
            ..tool
        };
        let mesh = Placed {
            common_from_body: random.pose(30.0),
            ..mesh
        };
        let gap = pair_gap(&tool, &mesh, &Motion::rest(), &Ask::default()).unwrap();
        let back = pair_gap(&mesh, &tool, &Motion::rest(), &Ask::default()).unwrap();
        wide += usize::from(gap.hi_mm - gap.lo_mm > 1e-6);
        seen += 1;
        if gap.contained.is_none() {
            let slow = slow_tool_mesh(&tool, &mesh);
            assert!(gap.lo_mm <= slow + 1e-6, "{case} {gap:?} {slow}");
            assert!((slow - gap.hi_mm).abs() <= 1e-4, "{case} {gap:?} {slow}");
        }
        assert!(
            gap.lo_mm <= back.hi_mm + 1e-9 && back.lo_mm <= gap.hi_mm + 1e-9,
            "{case}"
        );
        check_witness("tool", &tool, &mesh, None, &gap);
        check_witness("mesh", &mesh, &tool, None, &back);
    }
    println!("tools: {seen} cases, {wide} brackets wider than 1e-6");
    assert!(wide * 100 <= seen);
}

#[test]
fn spreads_agree_with_samples() {
    let mut random = Random(102);
    let (mut wide, mut seen) = (0, 0);
    for case in 0..cases(150) {
        let (a, b, spread) = (body(&mut random), body(&mut random), spread(&mut random));
        let motion = Motion {
            spread: spread.clone(),
            turn: None,
        };
        let gap = pair_gap(&a, &b, &motion, &Ask::default()).unwrap();
        let mut least = f64::INFINITY;
        for _ in 0..40 {
            let offset = random_offset(&mut random, &spread);
            let one = sample(&a, &b, offset, None, 0.0);
            least = least.min(one.hi_mm);
            assert!(gap.lo_mm <= one.hi_mm + 1e-6, "{case} {gap:?} {one:?}");
        }
        check_witness(&format!("spread {case}"), &a, &b, None, &gap);
        assert!(
            gap.hi_mm <= least + 1e-6 + (gap.hi_mm - gap.lo_mm),
            "{case} {gap:?} {least}"
        );
        seen += 1;
        wide += usize::from(gap.hi_mm - gap.lo_mm > 1e-6);
    }
    println!("spreads: {seen} cases, {wide} brackets wider than 1e-6");
    assert!(wide * 100 <= seen);
}

#[test]
fn turns_agree_with_adaptive_sampling() {
    let mut random = Random(103);
    let (mut undecided, mut seen) = (0, 0);
    for case in 0..cases(150) {
        let (a, b, turn) = (body(&mut random), body(&mut random), turn(&mut random));
        let gap = pair_gap(&a, &b, &Motion::turn(turn.clone()), &Ask::default()).unwrap();
        undecided += usize::from(!gap.decided);
        seen += 1;
        check_witness(&format!("turn {case}"), &a, &b, Some(&turn), &gap);
        let tolerance = 2e-2;
        let slow = slow_turn(&turn, tolerance, gap.hi_mm, &|angle| {
            sample(&a, &b, Vec3::zeros(), Some(&turn), angle).hi_mm
        });
        assert!(gap.lo_mm <= slow + 1e-6, "{case} {gap:?} {slow}");
        assert!(gap.hi_mm <= slow + tolerance, "{case} {gap:?} {slow}");
        if gap.decided {
            assert!(gap.hi_mm - gap.lo_mm <= 1.001e-3, "{case} {gap:?}");
        }
    }
    println!("turns: {seen} cases, {undecided} undecided");
    assert!(undecided * 100 <= seen);
}

#[test]
fn turns_of_spread_bodies_agree_with_samples() {
    let mut random = Random(104);
    let (mut undecided, mut seen) = (0, 0);
    for case in 0..cases(100) {
        let (a, b) = (body(&mut random), body(&mut random));
        let (turn, spread) = (turn(&mut random), spread(&mut random));
        let motion = Motion {
            spread: spread.clone(),
            turn: Some(turn.clone()),
        };
        let gap = pair_gap(&a, &b, &motion, &Ask::default()).unwrap();
        undecided += usize::from(!gap.decided);
        seen += 1;
        check_witness(&format!("both {case}"), &a, &b, Some(&turn), &gap);
        for _ in 0..60 {
            let offset = random_offset(&mut random, &spread);
            let span = (turn.to_deg - turn.from_deg).clamp(-360.0, 360.0);
            let angle = turn.from_deg + span * random.within(0.0, 1.0);
            let one = sample(&a, &b, offset, Some(&turn), angle);
            assert!(gap.lo_mm <= one.hi_mm + 1e-6, "{case} {gap:?} {one:?}");
        }
    }
    println!("both: {seen} cases, {undecided} undecided");
    assert!(undecided * 100 <= seen);
}

/// The first body is moved along the witness so that a chosen gap, or overlap, is there for sure.
#[test]
fn planted_gaps_are_never_missed() {
    let mut random = Random(105);
    let (mut unknown, mut seen) = (0, 0);
    for case in 0..cases(120) {
        let (a, b, turn) = (body(&mut random), body(&mut random), turn(&mut random));
        let motion = Motion::turn(turn.clone());
        let gap = pair_gap(&a, &b, &motion, &Ask::default()).unwrap();
        let Some(witness) = gap.witness.filter(|_| gap.hi_mm > 0.1) else {
            continue;
        };
        let planted = [1e-7, 1e-5, 1e-3, 0.1, 1.0, -1e-7, -1e-5, -1e-3, -0.1][random.below(9)];
        let toward = (witness.point_b - witness.point_a).normalize();
        let by = translation(toward * (gap.hi_mm - planted));
        let a = Placed {
            common_from_body: by * a.common_from_body,
            ..a
        };
        let moved = pair_gap(&a, &b, &motion, &Ask::default()).unwrap();
        assert!(
            moved.lo_mm <= f64::max(planted, 0.0) + 1e-6,
            "{case} {planted} {moved:?}"
        );
        let wanted = f64::max(planted, 0.0) + 1e-4;
        let decision =
            at_least(from_ref(&a), from_ref(&b), &motion, wanted, &Ask::default()).unwrap();
        assert!(!matches!(decision, Decision::Yes), "{case} {planted}");
        seen += 1;
        let vague = planted < 0.0 && moved.hi_mm > 0.0;
        unknown += usize::from(!moved.decided || (vague && planted < -1e-4));
        check_witness(&format!("planted {case}"), &a, &b, Some(&turn), &moved);
    }
    println!("planted: {seen} cases, {unknown} not told");
    assert!(unknown * 50 <= seen);
}

#[test]
fn meshes_of_all_kinds_are_used() {
    let mut random = Random(1);
    let kinds = (0..20).map(|_| matches!(body(&mut random).shape, Shape::Mesh(_)));
    let meshes = kinds.filter(|&mesh| mesh).count();
    assert!((1..20).contains(&meshes));
}
