//! A gap of known size at one moment of a motion.
//!
//! One body lies beyond a plane (or outside a cylinder), the other on the near side of another one
//! (or inside a smaller cylinder), the motion keeps both so, and at one moment the nearest points
//! face each other. So the least gap is the distance of the planes (or the difference of the
//! radii), whatever the rest of the bodies looks like.

use crate::models::{Random, placed};
use crate::stage::{
    above, any_across, before_turn, carried, elsewhere, farthest, interval, lump, planted_size,
    shifted, spread_around,
};
use crate::tally::{Case, Tally};
use lapidary::gap::{Motion, Turn};
use lapidary::value::{Pose, Vec3};
use nalgebra::{Point3, Translation3};

/// The upper body over a corner of a lump, the gap at a random place of the spread.
fn over_a_plane(random: &mut Random, number: usize) -> Case {
    let normal = random.direction();
    let lower = lump(random);
    let corner = farthest(&lower, &normal);
    let upper = above(&normal, random);
    let gap = planted_size(random);
    let middle = corner + normal * gap - upper.foot;
    let spread = spread_around(middle, &normal, random);
    Case {
        a: vec![upper.body],
        b: vec![placed(&lower)],
        motion: Motion { spread, turn: None },
        truth_mm: gap,
        name: format!("plane {number}"),
    }
}

/// The same with the lower body turning about the normal, below the plane all the time.
fn over_a_turning_plane(random: &mut Random, number: usize) -> Case {
    let mut case = over_a_plane(random, number);
    let normal = case.motion.spread.disc_normal.normalize();
    let centre = Point3::from(random.vector(50.0));
    let moment_deg = telling_angle(random);
    let (from_deg, to_deg) = interval(moment_deg, random);
    case.b[0] = before_turn(&case.b[0], &centre, &normal, moment_deg);
    case.motion.turn = Some(Turn {
        centre,
        direction: normal,
        from_deg,
        to_deg,
    });
    case.name = format!("turning plane {number}");
    case
}

/// The lower body turns inside a cylinder; the upper one stays beyond its tangent plane.
fn over_a_cylinder(random: &mut Random, number: usize) -> Case {
    let normal = random.direction();
    let axis = any_across(&normal, random);
    let lower = lump(random);
    let from_axis = |corner: &Vec3| (corner - axis * corner.dot(&axis)).norm();
    let corners = lower.iter().flatten().copied();
    let corner = corners
        .max_by(|p, q| from_axis(p).total_cmp(&from_axis(q)))
        .unwrap();
    let out = (corner - axis * corner.dot(&axis)).normalize();
    let onto = nalgebra::Matrix3::from_columns(&[normal, axis, normal.cross(&axis)])
        * nalgebra::Matrix3::from_columns(&[out, axis, out.cross(&axis)]).transpose();
    let turned = nalgebra::Rotation3::from_matrix_unchecked(onto);
    let facing = Pose::from_parts(Translation3::identity(), turned);
    let centre = Point3::from(random.vector(60.0));
    let at_moment = shifted(&carried(&placed(&lower), &facing), centre.coords);
    let corner = turned * corner + centre.coords;
    let moment_deg = telling_angle(random);
    let (from_deg, to_deg) = interval(moment_deg, random);
    let upper = above(&normal, random);
    let gap = planted_size(random);
    let middle = corner + normal * gap - upper.foot;
    let spread = if random.below(2) == 0 {
        spread_around(middle, &normal, random)
    } else {
        lapidary::gap::Spread {
            offsets_mm: vec![middle],
            ..lapidary::gap::Spread::default()
        }
    };
    let turn = Some(Turn {
        centre,
        direction: axis * random.within(0.2, 3.0),
        from_deg,
        to_deg,
    });
    Case {
        a: vec![upper.body],
        b: vec![before_turn(&at_moment, &centre, &axis, moment_deg)],
        motion: Motion { spread, turn },
        truth_mm: gap,
        name: format!("cylinder {number}"),
    }
}

/// Multiples of 90 degrees, interval ends and anything.
fn telling_angle(random: &mut Random) -> f64 {
    match random.below(3) {
        0 => 90.0 * (random.below(9) as f64 - 4.0),
        1 => 45.0 * (random.below(9) as f64 - 4.0),
        _ => random.within(-400.0, 400.0),
    }
}

/// The two groups change places in a question without a turn: the other one moves back.
fn swapped(case: Case) -> Case {
    let mut motion = case.motion;
    for offset in &mut motion.spread.offsets_mm {
        *offset = -*offset;
    }
    Case {
        a: case.b,
        b: case.a,
        motion,
        ..case
    }
}

fn suite(
    name: &'static str,
    seed: u64,
    count: usize,
    make: impl Fn(&mut Random, usize) -> Case,
) -> Tally {
    let mut random = Random(seed);
    let mut tally = Tally::new(name, seed);
    for number in 0..count {
        tally.ask(&make(&mut random, number));
    }
    tally
}

#[test]
fn lines_areas_and_discs() {
    suite("lines, areas, discs", 101, 1500, |random, number| {
        let case = over_a_plane(random, number);
        if number % 2 == 0 { case } else { swapped(case) }
    })
    .close();
}

#[test]
fn turns_under_a_plane() {
    suite("turns under a plane", 102, 400, over_a_turning_plane).close();
}

#[test]
fn turns_inside_a_cylinder() {
    suite("turns inside a cylinder", 103, 400, over_a_cylinder).close();
}

#[test]
fn far_from_the_origin() {
    suite("1e4 mm off", 104, 300, |random, number| {
        let mut case = match number % 3 {
            0 => over_a_plane(random, number),
            1 => over_a_turning_plane(random, number),
            _ => over_a_cylinder(random, number),
        };
        let far = random.pose(5.0);
        let far = lapidary::value::translation(random.direction() * 1e4) * far;
        elsewhere(&mut case.a, &mut case.b, &mut case.motion, &far);
        case
    })
    .close();
}
