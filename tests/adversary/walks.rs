//! Motions walked piece by piece: what lies between two moments is counted too.

use crate::shop::{HOLE, Shop, cuboid, cut};
use lapidary::answer::check::model::{IndexMoveAnswer, Measured};
use lapidary::answer::moment::find::{Spot, Stood, stand};
use lapidary::answer::moment::now::{gap_now, gap_over};
use lapidary::answer::moment::walk::{Stretch, Walked, Way};
use lapidary::answer::scene::{Scene, ShapeStore};
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

/// As far as a window goes between two moments that it draws: 3 degrees of a quarter turn.
const STEPS: u32 = 30;

/// Brackets of turns are this wide, twice.
const SAME_MM: f64 = 2e-3;

/// A clamp of 2 x 2 that stands out from the rotary axis, 43.5 degrees after side 1, midway between
/// two moments; in index moves the drill's tip waits 170 over the axis, 2 beyond the clamp's end.
fn post_between() -> Shop {
    let (sin, cos) = 43.5_f64.to_radians().sin_cos();
    let upright = cuboid([-1.0, -1.0, 125.0], [1.0, 1.0, 168.0]);
    // The seat lies 90 over the axis.
    let leant =
        |p: Point3<f64>| Point3::new(cos * p.x + sin * p.z, p.y, cos * p.z - sin * p.x - 90.0);
    let post: Vec<_> = upright.iter().map(|t| t.map(leant)).collect();
    let at = |axis: &str, at: i32| format!("name = \"{axis}\"\nindex_at = {at}\n");
    let mut shop = Shop::with_cuts(&cut("hole", 6, HOLE))
        .mesh("post.stl", &post)
        .change("job.toml", "sides = [1]", "sides = [1, 2]")
        .change("job.toml", "clamps = []", "clamps = [\"post\"]");
    for (axis, stands) in [("X", 0), ("Y", 130), ("Z", -400)] {
        shop = shop.change(
            "machine.toml",
            &format!("name = \"{axis}\"\n"),
            &at(axis, stands),
        );
    }
    shop
}

/// Does something with each index move that a clamp comes nearest in.
fn in_moves_past_the_post(work: impl Fn(&Scene<'_>, &Stood, &IndexMoveAnswer)) -> usize {
    let shop = post_between();
    let (setup, answer) = (shop.load().unwrap().setup, shop.answer());
    let scene = Scene::new(&setup, ShapeStore::build(&setup).unwrap()).unwrap();
    let mut count = 0;
    for (index, step) in answer.index_moves.iter().enumerate() {
        let stood = stand(&scene, &answer, Spot::Move(index)).unwrap();
        let by_post = step
            .least
            .as_ref()
            .is_some_and(|least| least.body.contains("post"));
        if by_post && (step.from_deg - step.to_deg).abs() == 90.0 {
            work(&scene, &stood, step);
            count += 1;
        }
    }
    count
}

fn share(step: u32) -> f64 {
    f64::from(step) / f64::from(STEPS)
}

fn never() -> AtomicBool {
    AtomicBool::new(false)
}

fn walked(scene: &Scene<'_>, stood: &Stood, from: f64, to: f64) -> Walked {
    Walked::over(scene, [from, to], &stood.over_turn(from, to), &never()).unwrap()
}

#[track_caller]
fn assert_same(one: &Measured, other: &Measured) {
    let (one_hi, other_hi) = (one.gap.hi_mm.unwrap(), other.gap.hi_mm.unwrap());
    let same = (one.gap.lo_mm - other.gap.lo_mm).abs() < SAME_MM
        && (one_hi - other_hi).abs() < SAME_MM
        && one.gap.lo_mm <= other_hi
        && other.gap.lo_mm <= one_hi;
    assert!(same, "{one:#?}\n{other:#?}");
}

#[test]
fn a_low_gap_between_two_moments_is_walked() {
    let count = in_moves_past_the_post(|scene, stood, step| {
        let moments = (0..=STEPS).map(|step| stood.on_turn(share(step)).unwrap());
        let at_moments_mm = moments
            .map(|moment| gap_now(scene, &moment, &never()).unwrap().unwrap())
            .map(|now| now.gap.lo_mm)
            .fold(f64::INFINITY, f64::min);
        let whole = (0..STEPS).fold(walked(scene, stood, 0.0, 0.0), |so_far, step| {
            let next = walked(scene, stood, share(step), share(step + 1));
            so_far.then(next).unwrap()
        });
        let least = whole.least.unwrap();
        let told = step.least.as_ref().unwrap();
        assert_same(&least, told);
        assert!(
            at_moments_mm > least.gap.hi_mm.unwrap() + 0.3,
            "{at_moments_mm} of {least:#?}"
        );
        assert_eq!((whole.from, whole.to), (0.0, 1.0));
        // Where it was found, it is found again at rest.
        let mut there = stood.on_turn(0.0).unwrap();
        there.index_deg = least.place.unwrap().angle_deg;
        assert_same(&gap_now(scene, &there, &never()).unwrap().unwrap(), &least);
    });
    assert!(count >= 2, "{count}");
}

#[test]
fn what_was_jumped_over_is_not_walked() {
    let count = in_moves_past_the_post(|scene, stood, _| {
        let before = walked(scene, stood, 0.0, 0.4);
        let after = walked(scene, stood, 0.6, 1.0);
        assert!(before.clone().then(after).is_none());
        // One jump may skip steps that were never measured: the next stretch has them.
        let rest = walked(scene, stood, 0.4, 1.0);
        let whole = walked(scene, stood, 0.0, 1.0);
        assert_same(
            &before.then(rest).unwrap().least.unwrap(),
            &whole.least.unwrap(),
        );
    });
    assert!(count >= 2, "{count}");
}

/// X moves the work, Z the tool: a base body 6 beside the holder, as far in all of the machine's
/// X, comes by from above.
#[test]
fn the_base_is_passed_where_an_axis_moves_the_work() {
    let shop = post_between().stand("base", [20.0, 129.0, 200.0], [22.0, 131.0, 450.0]);
    let (setup, answer) = (shop.load().unwrap().setup, shop.answer());
    let scene = Scene::new(&setup, ShapeStore::build(&setup).unwrap()).unwrap();
    let mut begin = stand(&scene, &answer, Spot::Move(0)).unwrap().moment;
    begin.tip = Point3::new(-50.0, 130.0, 460.0);
    let stretch = Stretch {
        begin: begin.clone(),
        way: Way::Straight(Point3::new(70.0, 130.0, 350.0)),
    };
    let over = gap_over(&scene, &stretch, &never()).unwrap().unwrap();
    assert!((over.gap.lo_mm - 6.0).abs() < SAME_MM, "{over:#?}");
    let mut there = begin;
    there.tip = over.place.unwrap().tip_mm.unwrap().into();
    let now = gap_now(&scene, &there, &never()).unwrap().unwrap();
    assert_same(&now, &over);
    let nearest = |measured: &Measured| Point3::from(measured.place.unwrap().machine_mm);
    assert!(
        (nearest(&now).x - nearest(&over).x).abs() < SAME_MM,
        "{now:#?} {over:#?}"
    );
}
