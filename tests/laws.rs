//! Laws that hold whatever the bodies are, on random ones (proptest; it prints the seed that fails).

#![allow(clippy::unwrap_used)]

#[path = "adversary/models.rs"]
#[allow(dead_code)]
mod models;
#[path = "adversary/shop.rs"]
#[allow(dead_code)]
mod shop;

use lapidary::answer::check::model::CheckAnswer;
use lapidary::gap::{Ask, Gap, Motion, Placed, Ring, Shape, Turn, pair_gap};
use lapidary::value::{Pose, Vec3};
use models::{Random, placed, random_tool, rough, tool};
use nalgebra::Point3;
use proptest::prelude::*;

/// Rounding of moved coordinates up to some 100 mm.
const ROUNDING_MM: f64 = 1e-9;

fn gap(a: &Placed, b: &Placed, motion: &Motion, tolerance_mm: f64) -> Gap {
    let ask = Ask {
        tolerance_mm,
        ..Ask::default()
    };
    pair_gap(a, b, motion, &ask).unwrap()
}

fn moved(body: &Placed, by: &Pose) -> Placed {
    Placed {
        shape: body.shape.clone(),
        common_from_body: by * body.common_from_body,
    }
}

fn overlap(one: &Gap, two: &Gap) -> bool {
    one.lo_mm <= two.hi_mm + ROUNDING_MM && two.lo_mm <= one.hi_mm + ROUNDING_MM
}

/// A tool or a lump, a lump, and a motion of the first or a turn of the second.
fn scene(random: &mut Random) -> (Placed, Placed, Motion) {
    let mut a = placed(&rough(random, 9.0));
    if random.below(2) == 0 {
        a = random_tool(random, Pose::identity());
    }
    let pose = random.pose(30.0);
    let a = moved(&a, &pose);
    let pose = random.pose(30.0);
    let b = moved(&placed(&rough(random, 9.0)), &pose);
    let motion = match random.below(3) {
        0 => Motion::line(random.vector(20.0), random.vector(20.0)),
        1 => Motion::spread((0..4).map(|_| random.vector(15.0)).collect()),
        _ => Motion::turn(turn(random)),
    };
    (a, b, motion)
}

fn turn(random: &mut Random) -> Turn {
    Turn {
        centre: Point3::from(random.vector(10.0)),
        direction: random.direction(),
        from_deg: random.within(-90.0, 90.0),
        to_deg: random.within(-90.0, 90.0),
    }
}

/// The same question with the groups exchanged: who moved stays, who stayed moves back.
fn swapped(motion: &Motion) -> Motion {
    let mut motion = motion.clone();
    for offset in &mut motion.spread.offsets_mm {
        *offset = -*offset;
    }
    if let Some(turn) = &mut motion.turn {
        turn.direction = -turn.direction;
    }
    motion
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 96,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    #[test]
    fn swapping_a_pair_keeps_the_gap(seed in any::<u64>()) {
        let (a, b, motion) = scene(&mut Random(seed));
        let (one, two) = (gap(&a, &b, &motion, 1e-3), gap(&b, &a, &swapped(&motion), 1e-3));
        prop_assert!(overlap(&one, &two), "{one:?} {two:?}");
        prop_assert_eq!(one.contained.is_some(), two.contained.is_some());
    }

    #[test]
    fn moving_everything_keeps_the_gap(seed in any::<u64>()) {
        let mut random = Random(seed);
        let (a, b, motion) = scene(&mut random);
        let by = random.pose(100.0);
        let mut carried = motion.clone();
        for offset in &mut carried.spread.offsets_mm {
            *offset = by.rotation * *offset;
        }
        if let Some(turn) = &mut carried.turn {
            turn.centre = by * turn.centre;
            turn.direction = by.rotation * turn.direction;
        }
        let one = gap(&a, &b, &motion, 1e-3);
        let two = gap(&moved(&a, &by), &moved(&b, &by), &carried, 1e-3);
        prop_assert!(overlap(&one, &two), "{one:?} {two:?}");
    }

    #[test]
    fn growing_a_tool_never_widens_the_gap(seed in any::<u64>()) {
        let mut random = Random(seed);
        let (_, b, motion) = scene(&mut random);
        let pose = random.pose(25.0);
        let small = random_tool(&mut random, pose);
        let grow_mm = random.within(0.0, 3.0);
        let Shape::Revolved(body) = &small.shape else { unreachable!("a tool is revolved") };
        let grown: Vec<Vec<Ring>> = body.pieces().iter().map(|piece| {
            let larger = |ring: &Ring| Ring { radius_mm: ring.radius_mm + grow_mm, ..*ring };
            piece.rings().iter().map(larger).collect()
        }).collect();
        let rings: Vec<&[Ring]> = grown.iter().map(Vec::as_slice).collect();
        let large = tool(&rings, pose);
        let (one, two) = (gap(&small, &b, &motion, 1e-3), gap(&large, &b, &motion, 1e-3));
        prop_assert!(two.lo_mm <= one.hi_mm + ROUNDING_MM, "{one:?} {two:?}");
        // And by no more than it has grown.
        if one.contained.is_none() {
            prop_assert!(two.hi_mm >= one.lo_mm - grow_mm - ROUNDING_MM, "{one:?} {two:?}");
        }
    }

    #[test]
    fn a_finer_tolerance_stays_within_the_coarser_bracket(seed in any::<u64>()) {
        let (a, b, motion) = scene(&mut Random(seed));
        let mut coarser = gap(&a, &b, &motion, 1.0);
        for tolerance_mm in [0.1, 1e-2, 1e-4] {
            let finer = gap(&a, &b, &motion, tolerance_mm);
            prop_assert!(overlap(&coarser, &finer), "{coarser:?} {finer:?}");
            prop_assert!(finer.decided && finer.hi_mm - finer.lo_mm <= tolerance_mm + ROUNDING_MM);
            coarser = finer;
        }
    }

    #[test]
    fn subdividing_triangles_keeps_the_gap(seed in any::<u64>()) {
        let mut random = Random(seed);
        let (a, _, motion) = scene(&mut random);
        let coarse = rough(&mut random, 9.0);
        let middle = |t: &[Vec3; 3], i: usize, j: usize| (t[i] + t[j]) * 0.5;
        let fine: Vec<[Vec3; 3]> = coarse.iter().flat_map(|t| {
            let (p, q, r) = (middle(t, 0, 1), middle(t, 1, 2), middle(t, 2, 0));
            [[t[0], p, r], [p, t[1], q], [r, q, t[2]], [p, q, r]]
        }).collect();
        let pose = random.pose(25.0);
        let (one, two) = (moved(&placed(&coarse), &pose), moved(&placed(&fine), &pose));
        let (one, two) = (gap(&a, &one, &motion, 1e-3), gap(&a, &two, &motion, 1e-3));
        prop_assert!(overlap(&one, &two), "{one:?} {two:?}");
    }

    #[test]
    fn splitting_a_move_keeps_the_gap(seed in any::<u64>(), share in 0.0..1.0_f64) {
        let mut random = Random(seed);
        let (a, b, _) = scene(&mut random);
        let pieces = if random.below(2) == 0 {
            let (from, to) = (random.vector(25.0), random.vector(25.0));
            let middle = from + (to - from) * share;
            [(from, to), (from, middle), (middle, to)].map(|(p, q)| Motion::line(p, q))
        } else {
            let whole = turn(&mut random);
            let middle = whole.from_deg + (whole.to_deg - whole.from_deg) * share;
            let part = |from_deg: f64, to_deg: f64| {
                Motion::turn(Turn { from_deg, to_deg, ..whole.clone() })
            };
            [part(whole.from_deg, whole.to_deg), part(whole.from_deg, middle), part(middle, whole.to_deg)]
        };
        let [whole, first, second] = pieces.map(|motion| gap(&a, &b, &motion, 1e-3));
        let joined = Gap {
            lo_mm: first.lo_mm.min(second.lo_mm),
            hi_mm: first.hi_mm.min(second.hi_mm),
            ..whole
        };
        prop_assert!(overlap(&whole, &joined), "{whole:?} {first:?} {second:?}");
    }
}

/// Keys whose numbers are not lengths.
const NO_LENGTHS: [&str; 10] = [
    "version",
    "number",
    "sides",
    "step_deg",
    "SIG",
    "tool",
    "spindle",
    "direction",
    "access",
    "along",
];

/// A file in inches with the same sizes.
fn in_inches(value: &mut toml::Value, key: &str) {
    match value {
        toml::Value::Table(table) => {
            if table.contains_key("file") {
                table.insert("mesh_units".into(), "mm".into());
            }
            table
                .iter_mut()
                .for_each(|(key, value)| in_inches(value, key));
        }
        toml::Value::Array(list) => list.iter_mut().for_each(|value| in_inches(value, key)),
        toml::Value::String(text) if key == "units" => "inch".clone_into(text),
        toml::Value::Integer(number) if !NO_LENGTHS.contains(&key) => {
            *value = toml::Value::Float(*number as f64 / 25.4);
        }
        toml::Value::Float(number) if !NO_LENGTHS.contains(&key) => *number /= 25.4,
        _ => {}
    }
}

fn assert_alike(one: &CheckAnswer, two: &CheckAnswer) {
    assert_eq!(
        one.verdict, two.verdict,
        "{:#?} {:#?}",
        one.troubles, two.troubles
    );
    assert_eq!(one.outcomes, two.outcomes);
    assert_eq!(shop::kinds(one), shop::kinds(two));
    for (one, two) in one.cuts.iter().zip(&two.cuts) {
        for (one, two) in one.travel.iter().zip(&two.travel) {
            assert!(
                (one.spare_mm - two.spare_mm).abs() < 1e-6,
                "{one:?} {two:?}"
            );
        }
        let (one, two) = (one.least.as_ref().unwrap(), two.least.as_ref().unwrap());
        assert_eq!(
            (&one.element_body, &one.body),
            (&two.element_body, &two.body)
        );
        assert!(
            (one.gap.lo_mm - two.gap.lo_mm).abs() < 1e-5,
            "{one:?} {two:?}"
        );
    }
}

#[test]
fn inches_and_millimetres_agree() {
    let pillar = |job: shop::Shop| job.stand("bed", [15.0, 60.0, 140.0], [40.0, 200.0, 240.0]);
    let hole = || shop::Shop::with_cuts(&shop::cut("hole", 6, shop::HOLE));
    for job in [hole(), pillar(hole())] {
        let one = job.answer();
        assert!(!one.cuts.is_empty());
        for files in [
            &["tools.toml"][..],
            &["job.toml", "machine.toml"],
            &["job.toml", "machine.toml", "tools.toml"],
        ] {
            let mut inches = job.clone();
            for file in files {
                inches = inches.rewrite(file, |text| {
                    let mut value: toml::Value = toml::from_str(text).unwrap();
                    in_inches(&mut value, "");
                    toml::to_string(&value).unwrap()
                });
            }
            assert_alike(&one, &inches.answer());
        }
    }
}
