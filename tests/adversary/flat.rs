//! Minima that last: work concentric with the rotary axis, faces that slide along faces.

use crate::models::{Random, box_triangles, cylinder, lathe, placed};
use crate::stage::{carried, elsewhere};
use crate::tally::{Case, Tally};
use lapidary::gap::{Motion, Placed, Turn};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;

fn turn(from_deg: f64, to_deg: f64) -> Motion {
    Motion::turn(Turn {
        centre: Point3::origin(),
        direction: Vec3::x(),
        from_deg,
        to_deg,
    })
}

/// A bar along X, its corners at this radius.
fn bar(radius_mm: f64, sides: usize) -> Placed {
    let profile = [
        (0.0, -60.0),
        (radius_mm, -60.0),
        (radius_mm, 60.0),
        (0.0, 60.0),
    ];
    carried(
        &placed(&lathe(&profile, sides)),
        &about_axis(&Vec3::y(), &Point3::origin(), 90.0),
    )
}

/// A flat-ended or round-ended tool above the bar, its tip at this height.
fn above(height_mm: f64, random: &mut Random) -> Placed {
    let radius_mm = random.within(0.5, 12.0);
    let x = random.within(-30.0, 30.0);
    cylinder(
        radius_mm,
        0.0,
        50.0,
        translation(Vec3::new(x, 0.0, height_mm)),
    )
}

fn gap_size(random: &mut Random) -> f64 {
    let size = 10.0_f64.powf(random.within(-4.0, 1.0));
    if random.below(4) == 0 {
        -0.3 * size
    } else {
        size
    }
}

#[test]
fn concentric_work_turns_under_a_tool() {
    let mut random = Random(201);
    let mut tally = Tally::new("concentric work", 201);
    for number in 0..60 {
        let sides = [8, 32, 90, 180][random.below(4)];
        let radius_mm = random.within(5.0, 80.0);
        let gap = gap_size(&mut random);
        let from_deg = random.within(-180.0, 180.0);
        // A step of the bar passes under the tool at least.
        let span = random.within(360.0 / sides as f64, 200.0) * 1.01;
        let to_deg = from_deg + if number % 2 == 0 { span } else { -span };
        tally.ask(&Case {
            a: vec![above(radius_mm + gap, &mut random)],
            b: vec![bar(radius_mm, sides)],
            motion: turn(from_deg, to_deg),
            truth_mm: gap,
            name: format!("bar {number}"),
        });
    }
    tally.close();
}

#[test]
fn a_round_body_turns_about_its_own_axis() {
    let mut random = Random(202);
    let mut tally = Tally::new("round about its own axis", 202);
    for number in 0..60 {
        let radius_mm = random.within(5.0, 80.0);
        let gap = gap_size(&mut random);
        let lying = about_axis(&Vec3::y(), &Point3::origin(), 90.0);
        let mut case = Case {
            a: vec![above(radius_mm + gap, &mut random)],
            b: vec![cylinder(radius_mm, -60.0, 60.0, lying)],
            motion: turn(random.within(-90.0, 0.0), random.within(1.0, 360.0)),
            truth_mm: gap,
            name: format!("round {number}"),
        };
        let by = random.pose(80.0);
        elsewhere(&mut case.a, &mut case.b, &mut case.motion, &by);
        tally.ask(&case);
    }
    tally.close();
}

#[test]
fn a_face_slides_along_a_face() {
    let mut random = Random(203);
    let mut tally = Tally::new("face along face", 203);
    for number in 0..300 {
        let gap = gap_size(&mut random);
        let half = Vec3::new(random.within(5.0, 90.0), random.within(5.0, 90.0), 10.0);
        let table = box_triangles(-half, Vec3::new(half.x, half.y, 0.0));
        let guest = if random.below(2) == 0 {
            let size = random.within(1.0, 30.0);
            placed(&box_triangles(
                Vec3::new(-size, -size, 0.0),
                Vec3::repeat(size),
            ))
        } else {
            cylinder(random.within(0.5, 20.0), 0.0, 40.0, Pose::identity())
        };
        let along = |random: &mut Random| {
            let (x, y) = (half.x * 0.9, half.y * 0.9);
            Vec3::new(random.within(-x, x), random.within(-y, y), gap)
        };
        let mut case = Case {
            a: vec![guest],
            b: vec![placed(&table)],
            motion: Motion::line(along(&mut random), along(&mut random)),
            truth_mm: gap,
            name: format!("face {number}"),
        };
        let by = if number % 3 == 0 {
            Pose::identity()
        } else {
            random.pose(100.0)
        };
        elsewhere(&mut case.a, &mut case.b, &mut case.motion, &by);
        tally.ask(&case);
    }
    tally.close();
}

/// A round shank passes beside an edge parallel to it, at a right angle or nearly along it.
#[test]
fn a_cylinder_grazes_an_edge() {
    let mut random = Random(204);
    let mut tally = Tally::new("grazing", 204);
    for number in 0..400 {
        let gap = gap_size(&mut random) * 0.1;
        let radius_mm = random.within(0.5, 20.0);
        let block = box_triangles(Vec3::new(-40.0, -30.0, -50.0), Vec3::new(40.0, 0.0, 0.0));
        let steep = [0.0, 1e-7, 1e-3, random.within(0.0, 0.3)][random.below(4)];
        // The axis lies in the plane y = radius + gap at all times, turned within it.
        let turn = random.within(0.0, 360.0);
        let pose = about_axis(&Vec3::y(), &Point3::origin(), turn);
        let half = random.within(5.0, 60.0);
        let shank = cylinder(radius_mm, -half, half, pose);
        let y = radius_mm + gap;
        let at = |random: &mut Random| {
            Vec3::new(random.within(-30.0, 30.0), y, random.within(-40.0, -5.0))
        };
        let (first, mut last) = (at(&mut random), at(&mut random));
        last.y += steep * (last - first).norm();
        let mut case = Case {
            a: vec![shank],
            b: vec![placed(&block)],
            motion: Motion::line(first, last),
            truth_mm: gap,
            name: format!("grazing {number}"),
        };
        let by = random.pose(100.0);
        elsewhere(&mut case.a, &mut case.b, &mut case.motion, &by);
        tally.ask(&case);
    }
    tally.close();
}
