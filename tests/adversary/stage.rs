//! Bodies whose farthest point in a direction is known, and motions that keep a plane or a radius.

use crate::models::{Random, box_triangles, placed, rough, tool};
use lapidary::gap::{Motion, Placed, Ring, Spread, Turn};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::{Point3, Rotation3, Unit};

/// A convex body with its farthest point along a direction, both in the common frame.
pub struct Facing {
    pub body: Placed,
    pub foot: Vec3,
}

/// The farthest point of discs grown by balls, along a direction (own formula: the radius along
/// the part of the direction square to the axis, the ball along the direction itself).
fn ring_foot(rings: &[Ring], direction: &Vec3, random: &mut Random) -> Vec3 {
    let across = Vec3::new(direction.x, direction.y, 0.0);
    let reach =
        |ring: &Ring| ring.radius_mm * across.norm() + ring.height_mm * direction.z + ring.ball_mm;
    let best = rings.iter().map(reach).fold(f64::NEG_INFINITY, f64::max);
    let mut feet = Vec::new();
    for ring in rings.iter().filter(|ring| reach(ring) >= best - 1e-12) {
        let mut out = across.try_normalize(1e-12).unwrap_or_default();
        if out == Vec3::zeros() {
            // A flat end faces the direction: any point of the disc will do.
            let angle = random.within(0.0, std::f64::consts::TAU);
            out = Vec3::new(angle.cos(), angle.sin(), 0.0) * random.within(0.0, 1.0);
        }
        feet.push(out * ring.radius_mm + Vec3::z() * ring.height_mm + direction * ring.ball_mm);
    }
    let share = random.within(0.0, 1.0);
    let (first, last) = (feet[0], feet[feet.len() - 1]);
    first * (1.0 - share) + last * share
}

/// Convex tools without a corner sharper than 90 degrees, so that a point pushed inward along the
/// direction from the foot is inside.
fn rings(random: &mut Random) -> Vec<Ring> {
    let r = random.within(0.3, 12.0);
    let ball = |radius_mm, ball_mm| Ring {
        radius_mm,
        height_mm: ball_mm,
        ball_mm,
    };
    let height = 2.5 * r + random.within(0.0, 60.0);
    match random.below(6) {
        0 => vec![ball(0.0, r), Ring::disc(r, height)],
        1 => {
            let corner = r * random.within(0.05, 0.9);
            vec![ball(r - corner, corner), Ring::disc(r, height)]
        }
        2 => vec![
            Ring::disc(0.0, 0.0),
            Ring::disc(r, r * 0.36),
            Ring::disc(r, height),
        ],
        3 => vec![ball(0.0, r)],
        4 => {
            // Round at both ends: a core grown by a ball all round.
            let corner = r * random.within(0.05, 0.9);
            let low = ball(r - corner, corner);
            let high = Ring {
                height_mm: height,
                ..low
            };
            vec![low, high]
        }
        _ => vec![Ring::disc(r, 0.0), Ring::disc(r, height)],
    }
}

/// A turn that takes Z to a direction, and a random one about it before.
pub fn z_to(direction: &Vec3, random: &mut Random) -> Rotation3<f64> {
    let onto = Rotation3::rotation_between(&Vec3::z(), direction)
        .unwrap_or_else(|| Rotation3::from_axis_angle(&Vec3::x_axis(), std::f64::consts::PI));
    onto * Rotation3::from_axis_angle(&Vec3::z_axis(), random.within(-3.0, 3.0))
}

/// A body that lies beyond a plane with this normal: its foot is its lowest point above it.
pub fn above(normal: &Vec3, random: &mut Random) -> Facing {
    let tilt = match random.below(4) {
        0 => z_to(normal, random),
        1 => z_to(&any_across(normal, random), random),
        _ => Rotation3::from_axis_angle(
            &Unit::new_normalize(random.direction()),
            random.within(-3.0, 3.0),
        ),
    };
    let own = tilt.inverse_transform_vector(&-normal);
    let pose = Pose::from_parts(nalgebra::Translation3::identity(), tilt);
    if random.below(4) == 0 {
        let half = Vec3::from_fn(|_, _| random.within(0.5, 20.0));
        let triangles = box_triangles(-half, half);
        let foot = farthest(&triangles, &own);
        let body = Placed {
            common_from_body: pose,
            ..placed(&triangles)
        };
        return Facing {
            body,
            foot: tilt * foot,
        };
    }
    let own = if own.x.abs() + own.y.abs() < 1e-9 {
        Vec3::z() * own.z.signum()
    } else {
        own
    };
    let rings = rings(random);
    let foot = tilt * ring_foot(&rings, &own, random);
    Facing {
        body: tool(&[&rings], pose),
        foot,
    }
}

pub fn farthest(triangles: &[[Vec3; 3]], direction: &Vec3) -> Vec3 {
    let corners = triangles.iter().flatten().copied();
    corners
        .max_by(|p, q| p.dot(direction).total_cmp(&q.dot(direction)))
        .unwrap()
}

/// A unit vector square to another.
pub fn any_across(normal: &Vec3, random: &mut Random) -> Vec3 {
    loop {
        let across = random.direction().cross(normal);
        if across.norm() > 0.1 {
            return across.normalize();
        }
    }
}

/// Moves a body.
pub fn carried(body: &Placed, by: &Pose) -> Placed {
    Placed {
        shape: body.shape.clone(),
        common_from_body: by * body.common_from_body,
    }
}

/// A rough body with random size.
pub fn lump(random: &mut Random) -> Vec<[Vec3; 3]> {
    let size = random.within(2.0, 40.0);
    rough(random, size)
}

/// Translations in a plane around a middle, some of them lifted along the normal, that hold the
/// middle in their hull (or in the disc).
pub fn spread_around(middle: Vec3, normal: &Vec3, random: &mut Random) -> Spread {
    let (e1, reach) = (any_across(normal, random), random.within(0.5, 200.0));
    let e2 = normal.cross(&e1);
    let at = |x: f64, y: f64| middle + e1 * x + e2 * y;
    let early = random.within(0.0, 1.0);
    let mut offsets_mm = vec![at(-reach * early, 0.0), at(reach * (1.0 - early), 0.0)];
    let mut disc_radius_mm = 0.0;
    match random.below(4) {
        0 => {}
        1 => {
            let wide = random.within(0.1, 80.0);
            offsets_mm = vec![at(-reach, -wide), at(reach, -wide), at(0.0, 2.0 * wide)];
        }
        2 => offsets_mm.push(at(random.within(-9.0, 9.0), 3.0) + normal * random.within(0.0, 50.0)),
        _ => {
            disc_radius_mm = random.within(0.5, 60.0);
            let turned = random.within(0.0, std::f64::consts::TAU);
            let off = disc_radius_mm * random.within(0.0, 0.999);
            offsets_mm = vec![at(off * turned.cos(), off * turned.sin())];
        }
    }
    Spread {
        offsets_mm,
        disc_radius_mm,
        disc_normal: *normal * random.within(0.1, 5.0),
    }
}

/// An interval of angle that holds `moment_deg` at a telling place.
pub fn interval(moment_deg: f64, random: &mut Random) -> (f64, f64) {
    let span = [7.3, 90.0, 180.0, 360.0, random.within(0.5, 300.0)][random.below(5)];
    let share = match random.below(6) {
        0 => 0.0,
        1 => 1.0,
        2 => 0.5,
        3 => random.below(17) as f64 / 16.0,
        _ => random.within(0.0, 1.0),
    };
    let (from, to) = (moment_deg - span * share, moment_deg + span * (1.0 - share));
    if random.below(2) == 0 {
        (from, to)
    } else {
        (to, from)
    }
}

/// Moves a whole question by a pose: bodies, offsets, axis.
pub fn elsewhere(a: &mut [Placed], b: &mut [Placed], motion: &mut Motion, by: &Pose) {
    for body in a.iter_mut().chain(b) {
        *body = carried(body, by);
    }
    for offset in &mut motion.spread.offsets_mm {
        *offset = by.rotation * *offset;
    }
    motion.spread.disc_normal = by.rotation * motion.spread.disc_normal;
    if let Some(Turn {
        centre, direction, ..
    }) = &mut motion.turn
    {
        *centre = *by * *centre;
        *direction = by.rotation * *direction;
    }
}

/// A body turned back, so that a turn brings it to where it stands now at `moment_deg`.
pub fn before_turn(
    body: &Placed,
    centre: &Point3<f64>,
    direction: &Vec3,
    moment_deg: f64,
) -> Placed {
    carried(body, &about_axis(direction, centre, -moment_deg))
}

/// A shift as a pose.
pub fn shifted(body: &Placed, by: Vec3) -> Placed {
    carried(body, &translation(by))
}

/// A size of a planted gap: +-1e-7 to +-1, as many of each decade.
pub fn planted_size(random: &mut Random) -> f64 {
    let size = 10.0_f64.powf(random.within(-7.0, 0.0));
    if random.below(2) == 0 {
        size
    } else {
        -size * 0.2
    }
}
