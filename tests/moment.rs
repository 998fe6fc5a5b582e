//! The moments of an answer: at each of them the gap, measured anew at rest, is the gap that was
//! told for the whole motion.

#![allow(clippy::unwrap_used)]

use lapidary::answer::check::model::{CheckAnswer, Measured, Phase, Trouble, Verdict};
use lapidary::answer::check::{CheckOptions, Silent, check_with};
use lapidary::answer::moment::find::{Spot, stand, worst_spot};
use lapidary::answer::moment::now::gap_now;
use lapidary::answer::moment::walk::Walked;
use lapidary::answer::otherwise::{Otherwise, gauge_limits_mm};
use lapidary::answer::scene::{Scene, ShapeStore};
use lapidary::setup::load;
use lapidary::setup::model::Setup;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// Moments are found to the tolerance of a motion's bracket.
const SAME_MM: f64 = 2e-3;

fn demo(name: &str) -> Setup {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo-models")
        .join(name);
    load(&path, &|path: &Path| std::fs::read(path))
        .unwrap()
        .setup
}

fn asked(setup: &Setup, store: &ShapeStore) -> CheckAnswer {
    let options = CheckOptions {
        lengths: false,
        remedies: false,
        ..CheckOptions::default()
    };
    check_with(setup, store, &options, &Silent, &AtomicBool::new(false)).unwrap()
}

/// Room against what was wanted, from the upper value: the points are really there.
fn room_mm(measured: &Measured) -> f64 {
    measured.gap.hi_mm.unwrap_or(measured.gap.lo_mm) - measured.wanted_mm
}

/// Stands at every spot with a known tip, and measures there; how many there were.
fn every_spot(name: &str) -> usize {
    let setup = demo(name);
    let store = ShapeStore::build(&setup).unwrap();
    let answer = asked(&setup, &store);
    let scene = Scene::new(&setup, store).unwrap();
    let troubles = (0..answer.troubles.len()).map(Spot::Trouble);
    let cuts = (0..answer.cuts.len()).map(Spot::Cut);
    let moves = (0..answer.index_moves.len()).map(Spot::Move);
    let mut compared = 0;
    for spot in troubles.chain(cuts).chain(moves) {
        let stood = stand(&scene, &answer, spot).unwrap();
        let Some(told) = stood.measured.clone() else {
            continue;
        };
        if told.place.and_then(|place| place.tip_mm).is_none() {
            continue;
        }
        let stop = AtomicBool::new(false);
        let now = gap_now(&scene, &stood.moment, &stop).unwrap().unwrap();
        let off_mm = room_mm(&now) - room_mm(&told);
        assert!(off_mm.abs() < SAME_MM, "{spot:?}: {told:#?} but {now:#?}");
        compared += 1;
    }
    compared
}

#[test]
fn the_gap_at_a_told_moment_is_the_told_gap() {
    assert!(every_spot("horizontal.toml") > 100);
    assert!(every_spot("vertical.toml") > 100);
}

#[test]
fn walks_never_come_nearer_than_told() {
    let setup = demo("horizontal.toml");
    let store = ShapeStore::build(&setup).unwrap();
    let answer = asked(&setup, &store);
    let scene = Scene::new(&setup, store).unwrap();
    let worst = worst_spot(&answer).unwrap();
    assert_eq!(worst, Spot::Trouble(0));
    let in_a_move = |trouble: &Trouble| trouble.phase == Some(Phase::IndexMove);
    let turning = answer.troubles.iter().position(in_a_move).unwrap();
    let turning = stand(&scene, &answer, Spot::Trouble(turning)).unwrap();
    let told = turning.measured.clone().unwrap();
    let mut least_mm = f64::INFINITY;
    for step in 0..=90 {
        let moment = turning.on_turn(f64::from(step) / 90.0).unwrap();
        let now = gap_now(&scene, &moment, &AtomicBool::new(false))
            .unwrap()
            .unwrap();
        assert!(now.gap.lo_mm >= told.gap.lo_mm - SAME_MM, "{step}: {now:?}");
        least_mm = least_mm.min(now.gap.lo_mm);
    }
    // The walk passes near the place: a degree at radius 150 is 2.6 mm of path, and the gap is flat
    // at its least.
    assert!(
        least_mm < told.gap.lo_mm + 0.1,
        "{least_mm} of {}",
        told.gap.lo_mm
    );
    let first = stand(&scene, &answer, worst).unwrap();
    let begin = first.on_approach(0.0).unwrap();
    let end = first.on_approach(1.0).unwrap();
    let clear = gap_now(&scene, &begin, &AtomicBool::new(false))
        .unwrap()
        .unwrap();
    let clash = gap_now(&scene, &end, &AtomicBool::new(false))
        .unwrap()
        .unwrap();
    assert_eq!(
        (clear.verdict, clash.verdict),
        (Verdict::Clear, Verdict::Clash)
    );
    assert!(begin.own.unwrap().enters.is_empty() && !end.own.unwrap().enters.is_empty());
}

/// The whole approach at once, and walked in pieces of which some pass the feed plane.
#[test]
fn an_approach_is_the_same_in_pieces() {
    let setup = demo("horizontal.toml");
    let store = ShapeStore::build(&setup).unwrap();
    let answer = asked(&setup, &store);
    let scene = Scene::new(&setup, store).unwrap();
    let never = AtomicBool::new(false);
    let mut compared = 0;
    for cut in (0..answer.cuts.len()).step_by(7) {
        let stood = stand(&scene, &answer, Spot::Cut(cut)).unwrap();
        if stood.approach.is_none() {
            continue;
        }
        let over = |from: f64, to: f64| {
            let stretches = stood.over_approach(from, to);
            Walked::over(&scene, [from, to], &stretches, &never).unwrap()
        };
        let whole = over(0.0, 1.0);
        assert_eq!(stood.over_approach(0.0, 1.0).len(), 2);
        let share = |step: i32| f64::from(step) / 9.0;
        let pieces = (0..9).map(|step| over(share(step), share(step + 1)));
        let walked = pieces.reduce(|so_far, next| so_far.then(next).unwrap());
        let (whole, walked) = (whole.least.unwrap(), walked.unwrap().least.unwrap());
        let off_mm = room_mm(&whole) - room_mm(&walked);
        assert!(off_mm.abs() < SAME_MM, "{cut}: {whole:#?} {walked:#?}");
        assert_eq!(whole.verdict, walked.verdict, "{cut}");
        for step in 0..=9 {
            let moment = stood.on_approach(share(step)).unwrap();
            let now = gap_now(&scene, &moment, &never).unwrap().unwrap();
            assert!(room_mm(&now) >= walked.gap.lo_mm - walked.wanted_mm - SAME_MM);
        }
        compared += 1;
    }
    assert!(compared > 10, "{compared}");
}

#[test]
fn a_setup_set_otherwise_differs_in_that_only() {
    let setup = demo("horizontal.toml");
    let tool = 2;
    let (low_mm, high_mm) = gauge_limits_mm(&setup.tools[tool]);
    let set_mm = setup.tools[tool].gauge_length_mm;
    assert!(low_mm < set_mm && high_mm.unwrap() > set_mm);
    let longer = Otherwise {
        gauge_lengths_mm: vec![(tool, set_mm + 10.0), (999, 1.0)],
        wanted_rest_mm: Some(-3.0),
        ..Otherwise::default()
    };
    let changed = longer.applied(&setup);
    assert_eq!(changed.tools[tool].gauge_length_mm, set_mm + 10.0);
    assert_eq!(
        changed.tools[tool].stick_out_mm,
        setup.tools[tool].stick_out_mm + 10.0
    );
    assert_eq!(changed.wanted.holder.rest_mm, 0.0);
    assert_eq!(changed.wanted.holder.index_mm, setup.wanted.holder.index_mm);
    for wrong_mm in [low_mm - 1.0, high_mm.unwrap() + 1.0, f64::NAN] {
        let wrong = Otherwise {
            gauge_lengths_mm: vec![(tool, wrong_mm)],
            ..Otherwise::default()
        };
        assert_eq!(wrong.applied(&setup).tools[tool].gauge_length_mm, set_mm);
    }
    assert!(Otherwise::default().is_nothing() && !longer.is_nothing());
}
