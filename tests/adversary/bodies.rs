//! Bodies wholly inside others: solid, hollow, overlapping, inside out, open, in loose triangles.

use crate::models::{
    Random, box_triangles, cylinder, flipped, lump_of, mesh, placed, random_tool, soup,
};
use crate::stage::carried;
use crate::tally::{Case, Tally};
use lapidary::gap::{MeshShape, Motion, Placed, Turn};
use lapidary::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::Arc;

type Triangles = Vec<[Vec3; 3]>;

/// A box with faces cut into squares, so that no ray or winding is a special case.
fn crate_of(low: f64, high: f64) -> Triangles {
    let [low, high] = [low, high].map(Vec3::repeat);
    box_triangles(low, high)
        .iter()
        .flat_map(quarters)
        .flat_map(|t| quarters(&t))
        .collect()
}

/// A triangle in four.
fn quarters(t: &[Vec3; 3]) -> [[Vec3; 3]; 4] {
    let middle = |i: usize, j: usize| (t[i] + t[j]) * 0.5;
    let (p, q, r) = (middle(0, 1), middle(1, 2), middle(2, 0));
    [[t[0], p, r], [p, t[1], q], [r, q, t[2]], [p, q, r]]
}

/// A small guest near a place: a tool, a lump, or a body of two shells.
fn guest(random: &mut Random, at: Vec3) -> Placed {
    let pose = Pose::from_parts(nalgebra::Translation3::from(at), random.pose(0.0).rotation);
    match random.below(4) {
        0 => cylinder(random.within(0.01, 2.0), -1.0, 1.0, pose),
        1 => {
            let mut two = lump_of(random, 1.0);
            two.extend(box_triangles(Vec3::repeat(2.5), Vec3::repeat(3.0)));
            carried(&placed(&two), &pose)
        }
        _ => carried(&placed(&lump_of(random, 1.5)), &pose),
    }
}

/// A motion of the guest that stays within 6 mm of where it is.
fn little_motion(random: &mut Random, at: Vec3) -> Motion {
    match random.below(3) {
        0 => Motion::rest(),
        1 => Motion::line(random.vector(2.0), random.vector(2.0)),
        _ => Motion::turn(Turn {
            centre: Point3::from(at),
            direction: random.direction(),
            from_deg: 0.0,
            to_deg: random.within(-400.0, 400.0),
        }),
    }
}

#[test]
fn inside_solid_and_inverted_shells() {
    let mut random = Random(401);
    let mut tally = Tally::new("inside a solid", 401);
    for number in 0..150 {
        let outer = crate_of(-50.0, 50.0);
        let body = match number % 5 {
            0 => outer,
            1 => flipped(&outer),
            // Two shells that overlap; the guest sits in one, the other, or both.
            2 => [outer, shifted(&crate_of(-50.0, 50.0), Vec3::repeat(35.5))].concat(),
            3 => [
                flipped(&outer),
                shifted(&crate_of(-50.0, 50.0), Vec3::repeat(35.5)),
            ]
            .concat(),
            // One shell in another of the same sense is no cavity.
            _ => [outer, crate_of(-30.0, 30.0)].concat(),
        };
        let at = random.vector(8.0) + Vec3::repeat([0.0, 8.0][random.below(2)]);
        let motion = little_motion(&mut random, at);
        let (guest, body) = (guest(&mut random, at), placed(&body));
        tally.never_clear(
            &format!("inside {number}"),
            &[guest],
            &[body],
            &motion,
            true,
        );
    }
    tally.close();
}

fn shifted(triangles: &Triangles, by: Vec3) -> Triangles {
    triangles.iter().map(|t| t.map(|c| c + by)).collect()
}

#[test]
fn inside_a_cavity_and_beside_it() {
    let mut random = Random(402);
    let mut tally = Tally::new("cavities", 402);
    for number in 0..120 {
        let outer = crate_of(-50.0, 50.0);
        let cavity = flipped(&shifted(&crate_of(-20.0, 20.0), Vec3::new(20.0, 0.0, 0.0)));
        let mut hollow = [outer, cavity].concat();
        if number % 3 == 0 {
            hollow = flipped(&hollow);
        }
        // A ball in the cavity: its gap is known.
        let radius = random.within(0.5, 6.0);
        let at = random.vector(10.0) + Vec3::new(20.0, 0.0, 0.0);
        let from_middle = (at - Vec3::new(20.0, 0.0, 0.0)).amax();
        let ball = crate::models::tool(
            &[&[lapidary::gap::Ring {
                radius_mm: 0.0,
                height_mm: 0.0,
                ball_mm: radius,
            }]],
            lapidary::value::translation(at),
        );
        tally.ask(&Case {
            a: vec![ball.clone()],
            b: vec![placed(&hollow)],
            motion: Motion::rest(),
            truth_mm: 20.0 - from_middle - radius,
            name: format!("cavity {number}"),
        });
        // The same body with something solid filling the cavity, or the ball beside the cavity.
        let plug = shifted(&crate_of(-25.0, 25.0), Vec3::new(20.0, 0.0, 0.0));
        let plugged = [hollow.clone(), plug].concat();
        tally.never_clear(
            &format!("plug {number}"),
            &[ball],
            &[placed(&plugged)],
            &Motion::rest(),
            true,
        );
        let beside = random.vector(8.0) - Vec3::new(25.0, 0.0, 0.0);
        let motion = little_motion(&mut random, beside);
        let stray = [guest(&mut random, beside)];
        tally.never_clear(
            &format!("beside {number}"),
            &stray,
            &[placed(&hollow)],
            &motion,
            true,
        );
    }
    tally.close();
}

/// What cannot be told need not be told, but must not be clear.
#[test]
fn inside_open_and_loose_bodies() {
    let mut random = Random(403);
    let mut tally = Tally::new("open and loose bodies", 403);
    for number in 0..150 {
        let mut outer = crate_of(-50.0, 50.0);
        if number % 4 == 1 {
            outer = flipped(&outer);
        }
        let shape = match number % 3 {
            0 => {
                outer.remove(random.below(outer.len()));
                mesh(&outer)
            }
            1 => soup(&outer),
            _ => {
                // Some triangles turned over, some doubled.
                for _ in 0..6 {
                    let index = random.below(outer.len());
                    outer[index].swap(0, 1);
                }
                soup(&outer)
            }
        };
        let body = Placed::mesh(
            &Arc::new(MeshShape::new(Arc::new(shape)).unwrap()),
            Pose::identity(),
        );
        let at = random.vector(30.0);
        let motion = little_motion(&mut random, at);
        let stray = [guest(&mut random, at)];
        tally.never_clear(&format!("open {number}"), &stray, &[body], &motion, false);
    }
    tally.close();
}

/// Under a missing triangle, a hair inside the hole.
#[test]
fn under_one_missing_triangle() {
    let mut random = Random(404);
    let mut tally = Tally::new("under a missing triangle", 404);
    for number in 0..100 {
        let mut outer = crate_of(-50.0, 50.0);
        let gone = outer.remove(random.below(outer.len()));
        let middle = (gone[0] + gone[1] + gone[2]) / 3.0;
        let inward = (gone[2] - gone[0]).cross(&(gone[1] - gone[0])).normalize();
        let depth = [0.5, 2.0, 6.0][random.below(3)];
        let size = depth * 0.3;
        let at = middle + inward * depth;
        let low = at - Vec3::repeat(size * 0.5);
        let stray = [placed(&box_triangles(low, at + Vec3::repeat(size * 0.5)))];
        let name = format!("hole {number}");
        tally.never_clear(&name, &stray, &[placed(&outer)], &Motion::rest(), false);
        let pose = lapidary::value::translation(at);
        let pin = [cylinder(size * 0.2, -size, size, pose)];
        tally.never_clear(&name, &pin, &[placed(&outer)], &Motion::rest(), false);
    }
    tally.close();
}

/// Outside everything, an open body still gives an answer.
#[test]
fn outside_a_loose_body() {
    let mut random = Random(405);
    let mut tally = Tally::new("outside a loose body", 405);
    for number in 0..100 {
        let outer = crate_of(-50.0, 50.0);
        let shape = Arc::new(MeshShape::new(Arc::new(soup(&outer))).unwrap());
        let gap = 10.0_f64.powf(random.within(-4.0, 1.0));
        let pose = random.pose(0.0);
        let mut lowest = 0.0_f64;
        let visitor = random_tool(&mut random, Pose::identity());
        if let lapidary::gap::Shape::Revolved(tool) = &visitor.shape {
            lowest = tool
                .pieces()
                .iter()
                .map(|p| p.heights_mm().0)
                .fold(f64::INFINITY, f64::min);
        }
        let up = lapidary::value::translation(Vec3::new(0.0, 0.0, 50.0 + gap - lowest));
        tally.ask(&Case {
            a: vec![carried(&visitor, &(pose * up))],
            b: vec![Placed::mesh(&shape, pose)],
            motion: Motion::rest(),
            truth_mm: gap,
            name: format!("loose {number}"),
        });
    }
    tally.close();
}
