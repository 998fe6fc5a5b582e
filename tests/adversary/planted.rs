//! A gap of known size at one moment of a motion.
//!
//! One body lies beyond a plane (or outside a cylinder), the other on the near side of another one
//! (or inside a smaller cylinder), the motion keeps both so, and at one moment the nearest points
//! face each other. So the least gap is the distance of the planes (or the difference of the
//! radii), whatever the rest of the bodies looks like.

use crate::models::{Random, box_triangles, lathe, placed, shifted_seed};
use crate::stage::{
    above, any_across, before_turn, carried, elsewhere, farthest, interval, lump, planted_size,
    shifted, spread_around,
};
use crate::tally::{Case, Tally};
use lapidary::gap::{Motion, Spread, Turn};
use lapidary::value::{Pose, Vec3, about_axis};
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
        Spread {
            offsets_mm: vec![middle],
            ..Spread::default()
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

/// A prism turns below a plane and inside a cylinder; the upper body meets its rim at a slant, so
/// that neither the axial nor the radial distance alone is the gap.
fn over_a_rim(random: &mut Random, number: usize) -> Case {
    let radius_mm = random.within(5.0, 80.0);
    let profile = [
        (0.0, -20.0),
        (radius_mm, -20.0),
        (radius_mm, 0.0),
        (0.0, 0.0),
    ];
    let prism = placed(&lathe(&profile, 3 + random.below(40)));
    let slant = random.within(0.1, 1.4);
    let normal = Vec3::new(slant.cos(), 0.0, slant.sin());
    let upper = above(&normal, random);
    let gap = planted_size(random);
    // At the moment the first corner of the prism is on +X.
    let middle = Vec3::new(radius_mm, 0.0, 0.0) + normal * gap - upper.foot;
    let spread = if random.below(2) == 0 {
        spread_around(middle, &normal, random)
    } else {
        Spread {
            offsets_mm: vec![middle],
            ..Spread::default()
        }
    };
    let moment_deg = telling_angle(random);
    let (from_deg, to_deg) = interval(moment_deg, random);
    let (centre, direction) = (Point3::origin(), Vec3::z());
    let turn = Some(Turn {
        centre,
        direction,
        from_deg,
        to_deg,
    });
    let mut case = Case {
        a: vec![upper.body],
        b: vec![before_turn(&prism, &centre, &direction, moment_deg)],
        motion: Motion { spread, turn },
        truth_mm: gap,
        name: format!("rim {number}"),
    };
    let by = random.pose(100.0);
    elsewhere(&mut case.a, &mut case.b, &mut case.motion, &by);
    case
}

/// Two teeth pass a corner at a slant. The first stands before it at the start, a little farther
/// off than the second will be: a bound too large by a part of the gap loses the second one.
fn past_two_teeth(random: &mut Random, number: usize) -> Case {
    let radius_mm = random.within(20.0, 80.0);
    let slant = random.within(0.3, 1.2);
    let normal = Vec3::new(slant.cos(), 0.0, slant.sin());
    let gap = planted_size(random).abs();
    let tooth = |lower_mm: f64, angle_deg: f64| {
        let tip = Vec3::new(radius_mm, 0.0, 0.0) - normal * lower_mm;
        let [p, q, r] = [[-9.0, -1.0, -3.0], [-9.0, 1.0, -3.0], [-9.0, 0.0, -8.0]]
            .map(|corner| tip + Vec3::from(corner));
        let turned = about_axis(&Vec3::z(), &Point3::origin(), angle_deg);
        [[tip, q, p], [tip, p, r], [tip, r, q], [p, q, r]].map(|t| t.map(|c| turned.rotation * c))
    };
    let (span_deg, later) = (random.within(30.0, 200.0), random.within(0.2, 0.8));
    let ahead_deg = if number.is_multiple_of(2) {
        span_deg
    } else {
        -span_deg
    };
    let farther_mm = gap * random.within(0.05, 0.3);
    let teeth = [tooth(farther_mm, 0.0), tooth(0.0, -ahead_deg * later)].concat();
    // A corner that lies beyond the teeth along the axis and away from it.
    let wide = random.within(0.5, 9.0);
    let corner = box_triangles(Vec3::new(0.0, -wide, 0.0), Vec3::new(20.0, wide, 20.0));
    let at = Vec3::new(radius_mm, 0.0, 0.0) + normal * gap;
    let mut case = Case {
        a: vec![shifted(&placed(&corner), at)],
        b: vec![placed(&teeth)],
        motion: Motion::turn(Turn {
            centre: Point3::origin(),
            direction: Vec3::z(),
            from_deg: 0.0,
            to_deg: ahead_deg,
        }),
        truth_mm: gap,
        name: format!("teeth {number}"),
    };
    let by = random.pose(100.0);
    elsewhere(&mut case.a, &mut case.b, &mut case.motion, &by);
    case
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
    let mut random = Random(shifted_seed(seed));
    let mut tally = Tally::new(name, shifted_seed(seed));
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
fn turns_past_a_rim() {
    suite("turns past a rim", 105, 400, over_a_rim).close();
}

#[test]
fn turns_of_two_teeth() {
    suite("turns of two teeth", 106, 300, past_two_teeth).close();
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
