//! Laws that hold whatever the bodies are (proptest).

use crate::models::{Random, placed, random_tool, rough, shape};
use lapidary::gap::{Ask, Gap, Motion, Placed, Shape, Turn, Witness, pair_gap};
use lapidary::value::{Pose, Vec3};
use nalgebra::Point3;
use proptest::prelude::*;

fn ask(a: &Placed, b: &Placed, motion: &Motion) -> Gap {
    pair_gap(a, b, motion, &Ask::default()).unwrap()
}

fn overlap(one: &Gap, other: &Gap) -> bool {
    one.lo_mm <= other.hi_mm + 1e-6 && other.lo_mm <= one.hi_mm + 1e-6
}

fn pair(seed: u64) -> (Placed, Placed, Random) {
    let mut random = Random(seed);
    let mut a = match random.below(2) {
        0 => placed(&rough(&mut random, 10.0)),
        _ => random_tool(&mut random, Pose::identity()),
    };
    let mut b = placed(&rough(&mut random, 10.0));
    a.common_from_body = random.pose(25.0);
    b.common_from_body = random.pose(25.0);
    (a, b, random)
}

fn turn(random: &mut Random) -> Turn {
    let from_deg = random.within(-180.0, 180.0);
    Turn {
        centre: Point3::from(random.vector(10.0)),
        direction: random.direction(),
        from_deg,
        to_deg: from_deg + random.within(1.0, 120.0),
    }
}

fn moved(body: &Placed, by: &Pose) -> Placed {
    Placed {
        shape: body.shape.clone(),
        common_from_body: by * body.common_from_body,
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn swapping_keeps_the_gap(seed in any::<u64>()) {
        let (a, b, mut random) = pair(seed);
        prop_assert!(overlap(&ask(&a, &b, &Motion::rest()), &ask(&b, &a, &Motion::rest())));
        let line = [random.vector(30.0), random.vector(30.0)];
        let there = ask(&a, &b, &Motion::line(line[0], line[1]));
        let back = ask(&b, &a, &Motion::line(-line[0], -line[1]));
        prop_assert!(overlap(&there, &back), "{there:?} {back:?}");
        let turn = turn(&mut random);
        let reverse = Turn { from_deg: -turn.from_deg, to_deg: -turn.to_deg, ..turn.clone() };
        let there = ask(&a, &b, &Motion::turn(turn));
        let back = ask(&b, &a, &Motion::turn(reverse));
        prop_assert!(overlap(&there, &back), "{there:?} {back:?}");
    }

    #[test]
    fn moving_everything_keeps_the_gap(seed in any::<u64>()) {
        let (a, b, mut random) = pair(seed);
        let by = random.pose(100.0);
        let turn = turn(&mut random);
        let there = Turn {
            centre: by * turn.centre,
            direction: by.rotation * turn.direction,
            ..turn.clone()
        };
        let here = ask(&a, &b, &Motion::turn(turn));
        let far = ask(&moved(&a, &by), &moved(&b, &by), &Motion::turn(there));
        prop_assert!(overlap(&here, &far), "{here:?} {far:?}");
    }

    #[test]
    fn splitting_a_turn_keeps_the_least(seed in any::<u64>()) {
        let (a, b, mut random) = pair(seed);
        let turn = turn(&mut random);
        let middle = turn.from_deg + (turn.to_deg - turn.from_deg) * random.within(0.1, 0.9);
        let whole = ask(&a, &b, &Motion::turn(turn.clone()));
        let first = ask(&a, &b, &Motion::turn(Turn { to_deg: middle, ..turn.clone() }));
        let last = ask(&a, &b, &Motion::turn(Turn { from_deg: middle, ..turn }));
        let lo_mm = first.lo_mm.min(last.lo_mm);
        let joined = Gap { lo_mm, hi_mm: first.hi_mm.min(last.hi_mm), ..whole };
        prop_assert!(overlap(&whole, &joined), "{whole:?} {joined:?}");
    }

    #[test]
    fn a_finer_tolerance_stays_inside(seed in any::<u64>()) {
        let (a, b, mut random) = pair(seed);
        let motion = Motion::turn(turn(&mut random));
        let coarse = Ask { tolerance_mm: 0.5, ..Ask::default() };
        let coarse = pair_gap(&a, &b, &motion, &coarse).unwrap();
        let fine = ask(&a, &b, &motion);
        prop_assert!(overlap(&coarse, &fine) && coarse.hi_mm - coarse.lo_mm <= 0.5 + 1e-9);
        prop_assert!(coarse.lo_mm <= fine.hi_mm && fine.lo_mm <= coarse.hi_mm);
    }

    #[test]
    fn a_wider_spread_never_gives_a_larger_gap(seed in any::<u64>()) {
        let (a, b, mut random) = pair(seed);
        let mut offsets = vec![random.vector(20.0)];
        let mut before = ask(&a, &b, &Motion::spread(offsets.clone()));
        for _ in 0..4 {
            offsets.push(random.vector(20.0));
            let wider = ask(&a, &b, &Motion::spread(offsets.clone()));
            prop_assert!(wider.lo_mm <= before.hi_mm + 1e-6, "{before:?} {wider:?}");
            before = wider;
        }
    }

    #[test]
    fn subdividing_triangles_keeps_the_gap(seed in any::<u64>()) {
        let (a, b, mut random) = pair(seed);
        let Shape::Mesh(mesh) = &b.shape else { return Ok(()) };
        let at = |index: u32| mesh.mesh().vertices[index as usize].coords;
        let mut finer: Vec<[Vec3; 3]> = Vec::new();
        for corners in &mesh.mesh().triangles {
            let [p, q, r] = corners.map(at);
            let [pq, qr, rp] = [(p + q) * 0.5, (q + r) * 0.5, (r + p) * 0.5];
            finer.extend([[p, pq, rp], [pq, q, qr], [rp, qr, r], [pq, qr, rp]]);
        }
        let fine = Placed { shape: Shape::Mesh(shape(&finer)), common_from_body: b.common_from_body };
        let motion = Motion::turn(turn(&mut random));
        prop_assert!(overlap(&ask(&a, &b, &motion), &ask(&a, &fine, &motion)));
        prop_assert!(overlap(&ask(&a, &b, &Motion::rest()), &ask(&a, &fine, &Motion::rest())));
    }

    #[test]
    fn caps_hints_and_limits_keep_the_truth(seed in any::<u64>(), cap in 0.0..60.0_f64) {
        let (a, b, mut random) = pair(seed);
        for motion in [Motion::rest(), Motion::turn(turn(&mut random))] {
            let plain = ask(&a, &b, &motion);
            let capped = pair_gap(&a, &b, &motion, &Ask { cap_mm: cap, ..Ask::default() }).unwrap();
            prop_assert!(capped.decided && capped.lo_mm <= cap);
            prop_assert!(capped.lo_mm <= plain.hi_mm + 1e-9, "{plain:?} {capped:?}");
            prop_assert!(capped.hi_mm >= plain.lo_mm - 1e-9, "{plain:?} {capped:?}");
            let hint: Option<Witness> = plain.witness;
            let hinted = pair_gap(&a, &b, &motion, &Ask { hint, ..Ask::default() }).unwrap();
            prop_assert!(overlap(&plain, &hinted), "{plain:?} {hinted:?}");
            let short = Ask { budget: 40, ..Ask::default() };
            let short = pair_gap(&a, &b, &motion, &short).unwrap();
            prop_assert!(short.lo_mm <= plain.hi_mm + 1e-9 && short.hi_mm >= plain.lo_mm - 1e-9);
        }
    }

    #[test]
    fn far_coordinates_keep_the_gap(seed in any::<u64>()) {
        let (a, b, _) = pair(seed);
        let near = ask(&a, &b, &Motion::rest());
        let by = lapidary::value::translation(Vec3::new(1e4, -1e4, 1e4));
        let far = ask(&moved(&a, &by), &moved(&b, &by), &Motion::rest());
        prop_assert!(overlap(&near, &far), "{near:?} {far:?}");
    }
}
