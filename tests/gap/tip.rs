//! Tip stops against the certified gap: free all the way up from the upper value, and not a little
//! below the lower one.

use crate::models::{self, Random};
use lapidary::gap::{
    Ask, Freedom, Gap, Landscape, MeshShape, Motion, Piece, Placed, Revolved, Ring, Shape, Stack,
    StackElement, group_gap, tip_is_free, tip_stop,
};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;
use std::sync::Arc;

/// Farther up than anything of the cases.
const FAR_MM: f64 = 400.0;

fn turned(pieces: &[&[(f64, f64, f64)]]) -> Shape {
    let ring = |&(radius_mm, height_mm, ball_mm): &(f64, f64, f64)| Ring {
        radius_mm,
        height_mm,
        ball_mm,
    };
    let piece = |rings: &&[(f64, f64, f64)]| Piece::new(rings.iter().map(ring).collect()).unwrap();
    Shape::Revolved(Arc::new(
        Revolved::new(pieces.iter().map(piece).collect()).unwrap(),
    ))
}

fn meshed(triangles: &[[Vec3; 3]]) -> Shape {
    Shape::Mesh(Arc::new(
        MeshShape::new(Arc::new(models::mesh(triangles))).unwrap(),
    ))
}

/// A rough ground, and some loose triangles in the air.
fn ground(random: &mut Random) -> Vec<[Vec3; 3]> {
    let count = 7;
    let points: Vec<Vec3> = (0..count * count)
        .map(|at| {
            let (x, y) = ((at % count) as f64, (at / count) as f64);
            Vec3::new(x * 8.0 - 24.0, y * 8.0 - 24.0, random.within(-6.0, 6.0))
        })
        .collect();
    let mut soup = Vec::new();
    for row in 0..count - 1 {
        for column in 0..count - 1 {
            let at = |i: usize, j: usize| points[(row + i) * count + column + j];
            soup.push([at(0, 0), at(0, 1), at(1, 1)]);
            soup.push([at(0, 0), at(1, 1), at(1, 0)]);
        }
    }
    for _ in 0..random.below(5) {
        let (centre, size) = (random.vector(25.0), random.within(0.5, 15.0));
        soup.push([0, 1, 2].map(|_| centre + random.vector(size)));
    }
    soup
}

/// Flutes, holder and sometimes a head mesh, each with a wanted gap.
fn tool(random: &mut Random) -> Vec<StackElement> {
    let radius = random.within(0.5, 5.0);
    let corner = radius * random.within(0.05, 0.95);
    let flutes = match random.below(4) {
        0 => turned(&[&[(radius, 0.0, 0.0), (radius, 9.0, 0.0)]]),
        1 => turned(&[&[(0.0, radius, radius), (radius, 9.0, 0.0)]]),
        2 => turned(&[&[(radius - corner, corner, corner), (radius, 9.0, 0.0)]]),
        _ => turned(&[&[(0.0, 0.0, 0.0), (radius, corner, 0.0), (radius, 9.0, 0.0)]]),
    };
    let holder = turned(&[
        &[(6.0, 0.0, 0.0), (9.0, 12.0, 0.0)],
        &[(11.0, 12.0, 1.5), (11.0, 20.0, 1.5)],
    ]);
    let mut gap_mm = || {
        if random.below(3) == 0 {
            0.0
        } else {
            random.within(0.0, 3.0)
        }
    };
    let (of_flutes, of_holder, of_head) = (gap_mm(), gap_mm(), gap_mm());
    let up = |height: f64| translation(Vec3::z() * height);
    let element = |shape, tool_from_body, wanted_gap_mm| StackElement {
        shape,
        tool_from_body,
        wanted_gap_mm,
    };
    let mut elements = vec![
        element(flutes, Pose::identity(), of_flutes),
        element(holder, up(random.within(6.0, 9.0)), of_holder),
    ];
    if random.below(2) == 0 {
        let head: Vec<[Vec3; 3]> = (0..12)
            .map(|_| {
                let centre = random.vector(14.0);
                [0, 1, 2].map(|_| centre + random.vector(6.0))
            })
            .collect();
        let skew = about_axis(&Vec3::x(), &Point3::origin(), random.within(-40.0, 40.0));
        elements.push(element(meshed(&head), up(24.0) * skew, of_head));
    }
    elements
}

/// The gap of one element, its wanted gap taken off, with the tip over a line of heights.
fn spare(element: &StackElement, bodies: &[Placed], from: Vec3, to: Vec3) -> Gap {
    let placed = Placed {
        shape: element.shape.clone(),
        common_from_body: element.tool_from_body,
    };
    let motion = Motion::spread(vec![from, to]);
    group_gap(&[placed], bodies, &motion, &Ask::default()).unwrap()
}

/// A ground, and in every other case a round pin.
fn bodies(random: &mut Random) -> Vec<Placed> {
    let mut bodies = vec![Placed {
        shape: meshed(&ground(random)),
        common_from_body: random.pose(10.0),
    }];
    if random.below(2) == 0 {
        let pin = turned(&[&[(3.0, -8.0, 0.0), (3.0, 8.0, 0.0)], &[(0.0, 12.0, 5.0)]]);
        bodies.push(Placed {
            shape: pin,
            common_from_body: random.pose(20.0),
        });
    }
    bodies
}

#[test]
fn stops_agree_with_the_certified_gap() {
    let mut random = Random(77);
    let (mut stopped, mut widest) = (0, 0.0_f64);
    for number in 0..400 {
        let bodies = bodies(&mut random);
        let common_from_approach = random.pose(5.0);
        let landscape = Landscape::new(&bodies, &common_from_approach).unwrap();
        let approach_from_common = landscape.approach_from_common();
        let seen: Vec<Placed> = bodies
            .iter()
            .map(|body| Placed {
                shape: body.shape.clone(),
                common_from_body: approach_from_common * body.common_from_body,
            })
            .collect();
        let elements = tool(&mut random);
        let stack = Stack::new(&elements).unwrap();
        let at = [random.within(-20.0, 20.0), random.within(-20.0, 20.0)];
        let tip = |z: f64| Vec3::new(at[0], at[1], z);
        let stop = tip_stop(&stack, &landscape, at, 0.0);
        if stop.lo_mm == f64::NEG_INFINITY {
            continue;
        }
        stopped += 1;
        let width_mm = stop.hi_mm - stop.lo_mm;
        widest = widest.max(width_mm);
        let by = stop.stopped_by.unwrap();
        // Two round bodies: a touch is told by the general leaf query, which is less sharp.
        let limit_mm = if by.body == 1 { 5e-5 } else { 1e-7 };
        assert!(width_mm < limit_mm, "{number}: {stop:?}");
        for (place, element) in elements.iter().enumerate() {
            let wanted_mm = element.wanted_gap_mm;
            let above = spare(
                element,
                &seen,
                tip(stop.hi_mm + 1e-6),
                tip(stop.hi_mm + FAR_MM),
            );
            assert!(
                above.hi_mm >= wanted_mm - 1e-7,
                "{number}: element {place} at {stop:?} has {above:?} of {wanted_mm}"
            );
            if place == by.element {
                let below = tip(stop.lo_mm - 1e-4);
                let below = spare(element, &seen[by.body..=by.body], below, tip(stop.lo_mm));
                assert!(
                    below.hi_mm <= wanted_mm + 1e-7,
                    "{number}: {by:?} at {stop:?} has {below:?} of {wanted_mm}"
                );
            }
        }
        let free = |z: f64| tip_is_free(&stack, &landscape, &tip(z));
        assert_eq!(free(stop.hi_mm + 1e-9), Freedom::Free, "{number}");
        assert!(
            matches!(free(stop.lo_mm - 1e-6), Freedom::Stopped(_)),
            "{number}"
        );
    }
    println!("{stopped} stops, widest bracket {widest:e}");
    assert!(stopped > 300, "{stopped}");
}

/// A block as a head over a round pin that lies across: both closed forms.
#[test]
fn meshes_and_turned_bodies_have_their_closed_forms() {
    let lying = about_axis(&Vec3::x(), &Point3::origin(), 90.0);
    let pin = Placed {
        shape: turned(&[&[(3.0, -20.0, 0.0), (3.0, 20.0, 0.0)]]),
        common_from_body: translation(Vec3::new(1.0, 2.0, 10.0)) * lying,
    };
    let landscape = Landscape::new(&[pin], &Pose::identity()).unwrap();
    let flat = StackElement {
        shape: turned(&[&[(4.0, 0.0, 0.0), (4.0, 9.0, 0.0)]]),
        tool_from_body: Pose::identity(),
        wanted_gap_mm: 0.0,
    };
    let corner = |x: f64, y: f64| Vec3::new(x, y, 0.0);
    let plate = [[corner(-5.0, -5.0), corner(5.0, -5.0), corner(0.0, 9.0)]];
    let head = StackElement {
        shape: meshed(&plate),
        tool_from_body: translation(Vec3::z() * 30.0),
        wanted_gap_mm: 1.5,
    };
    let stack = Stack::new(&[flat]).unwrap();
    let stop = tip_stop(&stack, &landscape, [1.0, 0.0], 0.0);
    assert!(
        (stop.hi_mm - 13.0).abs() < 1e-8 && (stop.lo_mm - 13.0).abs() < 1e-6,
        "{stop:?}"
    );
    // Beside the pin: the rim on its flank, 2 mm off its axis.
    let stop = tip_stop(&stack, &landscape, [7.0, 0.0], 0.0);
    let flank = 10.0 + 5_f64.sqrt();
    assert!(
        (stop.hi_mm - flank).abs() < 1e-8 && (stop.lo_mm - flank).abs() < 1e-6,
        "{stop:?}"
    );
    let stop = tip_stop(&stack, &landscape, [8.01, 0.0], 0.0);
    assert_eq!(stop.hi_mm, f64::NEG_INFINITY);
    let stack = Stack::new(&[head]).unwrap();
    let stop = tip_stop(&stack, &landscape, [1.0, 0.0], 0.0);
    let of_head = 13.0 + 1.5 - 30.0;
    assert!(
        (stop.hi_mm - of_head).abs() < 1e-8 && (stop.lo_mm - of_head).abs() < 1e-6,
        "{stop:?}"
    );
}
