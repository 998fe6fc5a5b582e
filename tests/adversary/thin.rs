//! Needles and plates that are in the way for an instant only, and meshes of slivers.

use crate::models::{Random, box_triangles, cylinder, placed, tool};
use crate::stage::{above, elsewhere, farthest, lump, planted_size, shifted, spread_around};
use crate::tally::{Case, Tally};
use lapidary::gap::{Motion, Ring, Turn};
use lapidary::value::{Vec3, about_axis, translation};
use nalgebra::Point3;

/// A drum along X with thin plates or needles standing on it; one is the highest.
fn drum(random: &mut Random, radius_mm: f64) -> Vec<[Vec3; 3]> {
    let low = radius_mm * 0.6;
    let half = Vec3::new(40.0, low / 1.5, low / 1.5);
    let mut all = box_triangles(-half, half);
    for plate in 0..1 + random.below(4) {
        let thick = 10.0_f64.powf(random.within(-6.0, -1.0));
        let wide = if random.below(2) == 0 { thick } else { 30.0 };
        // The corners of the highest are at the radius exactly.
        let height = if plate == 0 {
            (radius_mm * radius_mm - 0.25 * thick * thick).sqrt()
        } else {
            radius_mm * random.within(0.7, 0.99)
        };
        let corner = Vec3::new(wide, thick * 0.5, height);
        let plate_box = box_triangles(Vec3::new(-wide, -thick * 0.5, low * 0.2), corner);
        let angle = random.within(0.0, 360.0);
        let turned = about_axis(&Vec3::x(), &Point3::origin(), angle);
        all.extend(plate_box.iter().map(|t| t.map(|c| turned.rotation * c)));
    }
    all
}

/// A tool so slender that it is met for a thousandth of a degree.
fn slender(random: &mut Random, height_mm: f64) -> lapidary::gap::Placed {
    let radius_mm = 10.0_f64.powf(random.within(-4.0, 0.5));
    let at = translation(Vec3::new(0.0, 0.0, height_mm));
    match random.below(3) {
        0 => tool(&[&[Ring::disc(0.0, 0.0), Ring::disc(radius_mm, 30.0)]], at),
        1 => {
            let ball = Ring {
                radius_mm: 0.0,
                height_mm: radius_mm,
                ball_mm: radius_mm,
            };
            tool(&[&[ball, Ring::disc(radius_mm, 30.0)]], at)
        }
        _ => cylinder(radius_mm, 0.0, 30.0, at),
    }
}

#[test]
fn plates_and_needles_pass_a_slender_tool() {
    let mut random = Random(301);
    let mut tally = Tally::new("plates between samples", 301);
    for number in 0..200 {
        let radius_mm = random.within(20.0, 150.0);
        let gap = planted_size(&mut random);
        let start = random.within(-400.0, 400.0);
        let mut case = Case {
            a: vec![slender(&mut random, radius_mm + gap)],
            b: vec![placed(&drum(&mut random, radius_mm))],
            motion: Motion::turn(Turn {
                centre: Point3::origin(),
                direction: Vec3::x(),
                from_deg: start,
                to_deg: start + if number % 2 == 0 { 360.0 } else { -360.0 },
            }),
            truth_mm: gap,
            name: format!("drum {number}"),
        };
        let by = random.pose(200.0);
        elsewhere(&mut case.a, &mut case.b, &mut case.motion, &by);
        tally.ask(&case);
    }
    tally.close();
}

#[test]
fn a_rapid_passes_a_needle() {
    let mut random = Random(302);
    let mut tally = Tally::new("rapid past a needle", 302);
    for number in 0..300 {
        let gap = planted_size(&mut random);
        let thick = 10.0_f64.powf(random.within(-6.0, -1.0));
        let needle = box_triangles(
            Vec3::new(-thick, -thick, -80.0),
            Vec3::new(thick, thick, 0.0),
        );
        let mill = slender(&mut random, gap);
        let reach = random.within(100.0, 900.0);
        let share = random.within(0.0, 1.0);
        let along = about_axis(&Vec3::z(), &Point3::origin(), random.within(0.0, 360.0)).rotation;
        let mut case = Case {
            a: vec![mill],
            b: vec![placed(&needle)],
            motion: Motion::line(
                along * Vec3::new(-reach * share, 0.0, 0.0),
                along * Vec3::new(reach * (1.0 - share), 0.0, 0.0),
            ),
            truth_mm: gap,
            name: format!("needle {number}"),
        };
        let by = random.pose(200.0);
        elsewhere(&mut case.a, &mut case.b, &mut case.motion, &by);
        tally.ask(&case);
    }
    tally.close();
}

/// Splits edges very near an end, again and again: slivers of aspect 1e6 and more.
fn slivered(triangles: &[[Vec3; 3]], random: &mut Random) -> Vec<[Vec3; 3]> {
    let mut all = triangles.to_vec();
    for _ in 0..12 {
        let t = all[random.below(all.len())];
        let (p, q) = (t[0], t[1]);
        let share = 10.0_f64.powf(random.within(-7.0, -4.0));
        let split = p + (q - p) * share;
        if split == p || split == q {
            continue;
        }
        let mut next = Vec::new();
        for t in all {
            let edge = (0..3).find(|&i| {
                let (a, b) = (t[i], t[(i + 1) % 3]);
                (a, b) == (p, q) || (a, b) == (q, p)
            });
            match edge {
                Some(i) => {
                    let (a, b, c) = (t[i], t[(i + 1) % 3], t[(i + 2) % 3]);
                    next.extend([[a, split, c], [split, b, c]]);
                }
                None => next.push(t),
            }
        }
        all = next;
    }
    all
}

#[test]
fn slivers_under_a_moving_tool() {
    let mut random = Random(303);
    let mut tally = Tally::new("slivers", 303);
    for number in 0..400 {
        let lower = if number % 2 == 0 {
            box_triangles(random.vector(30.0).abs() * -1.0, random.vector(30.0).abs())
        } else {
            lump(&mut random)
        };
        let normal = random.direction();
        let lower = slivered(&lower, &mut random);
        let corner = farthest(&lower, &normal);
        let upper = above(&normal, &mut random);
        let gap = planted_size(&mut random);
        let middle = corner + normal * gap - upper.foot;
        let motion = if random.below(3) == 0 {
            Motion::spread(vec![middle])
        } else {
            Motion {
                spread: spread_around(middle, &normal, &mut random),
                turn: None,
            }
        };
        tally.ask(&Case {
            a: vec![upper.body],
            b: vec![placed(&lower)],
            motion,
            truth_mm: gap,
            name: format!("sliver {number}"),
        });
    }
    tally.close();
}

/// Two slivered meshes at rest and along a line.
#[test]
fn slivers_against_slivers() {
    let mut random = Random(304);
    let mut tally = Tally::new("slivers against slivers", 304);
    for number in 0..300 {
        let normal = random.direction();
        let (one, two) = (lump(&mut random), lump(&mut random));
        let (one, two) = (slivered(&one, &mut random), slivered(&two, &mut random));
        let gap = planted_size(&mut random).abs();
        let shift = farthest(&two, &normal) + normal * gap - farthest(&one, &-normal);
        let away = normal * random.within(1.0, 40.0);
        let motion = match number % 3 {
            0 => Motion::rest(),
            1 => Motion::line(Vec3::zeros(), away),
            _ => Motion::line(away, Vec3::zeros()),
        };
        tally.ask(&Case {
            a: vec![shifted(&placed(&one), shift)],
            b: vec![placed(&two)],
            motion,
            truth_mm: gap,
            name: format!("sliver pair {number}"),
        });
    }
    tally.close();
}
