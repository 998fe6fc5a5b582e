//! The moments of an answer: at each of them the gap, measured anew at rest, is the gap that was
//! told for the whole motion.

#![allow(clippy::unwrap_used)]

use lapidary::answer::check::model::{CheckAnswer, Measured, Phase, Trouble, TroubleKind, Verdict};
use lapidary::answer::check::{CheckOptions, Silent, check_with};
use lapidary::answer::drawing::drawings;
use lapidary::answer::drawing::model::GapDrawing;
use lapidary::answer::moment::find::{Spot, stand, worst_spot};
use lapidary::answer::moment::now::gap_now;
use lapidary::answer::moment::walk::Walked;
use lapidary::answer::otherwise::{Otherwise, gauge_limits_mm};
use lapidary::answer::scene::{Scene, ShapeStore};
use lapidary::gap::Outline;
use lapidary::setup::load;
use lapidary::setup::model::Setup;
use lapidary::value::Vec3;
use nalgebra::Point3;
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

/// Whether a point of the drawing lies in the material of some lines.
fn within(outlines: &[Outline], [x, y]: [f64; 2]) -> bool {
    let winding = |outline: &Outline| -> i32 {
        let points = &outline.points_mm;
        let edge = |at: usize| [points[at], points[(at + 1) % points.len()]];
        let crossing = |[a, b]: [[f64; 2]; 2]| {
            let right = (b[0] - a[0]) * (y - a[1]) - (x - a[0]) * (b[1] - a[1]) > 0.0;
            match (a[1] <= y, b[1] <= y) {
                (true, false) if right => 1,
                (false, true) if !right => -1,
                _ => 0,
            }
        };
        (0..points.len()).map(edge).map(crossing).sum()
    };
    outlines.iter().map(winding).sum::<i32>() > 0
}

/// The overlap that is told can be measured in its drawing: its two ends are so far apart, all
/// between them is tool and body both, and beyond them is only one.
fn is_measured(drawing: &GapDrawing, told_mm: f64) {
    let allowance_mm = drawing.measured.chord_allowance_mm;
    let [tool, body] = drawing.points_mm;
    let along = [body[0] - tool[0], body[1] - tool[1]];
    let line_mm = along[0].hypot(along[1]);
    assert!(
        (line_mm + allowance_mm - told_mm).abs() < 0.005,
        "{line_mm} but {told_mm}"
    );
    assert_eq!(drawing.overlap_mm, Some(told_mm));
    let of_tool = drawing
        .elements
        .iter()
        .find(|element| element.nearest)
        .unwrap();
    let of_body = drawing.bodies.iter().find(|body| body.nearest).unwrap();
    let at = |share: f64| [0, 1].map(|i: usize| tool[i] + along[i] * share);
    let beyond = 0.05 / line_mm;
    for share in [beyond, 0.25, 0.5, 0.75, 1.0 - beyond] {
        assert!(within(&of_tool.outlines, at(share)), "tool at {share}");
        assert!(within(&of_body.outlines, at(share)), "body at {share}");
    }
    assert!(!within(&of_tool.outlines, at(-beyond)));
    assert!(!within(&of_body.outlines, at(1.0 + beyond)));
}

#[test]
fn a_told_overlap_can_be_measured_where_it_is_told() {
    let setup = demo("horizontal.toml");
    let store = ShapeStore::build(&setup).unwrap();
    let options = CheckOptions {
        lengths: false,
        ..CheckOptions::default()
    };
    let never = AtomicBool::new(false);
    let answer = check_with(&setup, &store, &options, &Silent, &never).unwrap();
    let drawn = drawings(&setup, &answer).unwrap();
    let scene = Scene::new(&setup, store).unwrap();
    let mut overlaps = 0;
    for (at, trouble) in answer.troubles.iter().enumerate() {
        let Some(worst) = trouble
            .worst
            .as_ref()
            .filter(|_| trouble.kind == TroubleKind::Clash)
        else {
            continue;
        };
        let (place, told_mm) = (worst.place.unwrap(), trouble.amount_mm.unwrap());
        assert_eq!(place.overlap_mm, Some(told_mm));
        is_measured(drawn.troubles[at].as_ref().unwrap(), told_mm);
        // The window stands there too: the tool moved so far is free, and not before.
        let stood = stand(&scene, &answer, Spot::Trouble(at)).unwrap();
        let [tool, body] = [place.tool_mm, place.machine_mm].map(Vec3::from);
        let way = (body - tool).normalize();
        let verdict = |length_mm: f64| {
            let mut moment = stood.moment.clone();
            moment.tip = Point3::from(Vec3::from(place.tip_mm.unwrap()) + way * length_mm);
            let gap = gap_now(&scene, &moment, &never).unwrap().unwrap();
            gap.verdict
        };
        assert_eq!(stood.moment.tip, Point3::from(place.tip_mm.unwrap()));
        assert_eq!(verdict(told_mm - 0.02), Verdict::Clash);
        assert_eq!(verdict(told_mm + 0.02), Verdict::Close);
        // The cut, or the move, is told at the same moment.
        let leasts = answer.cuts.iter().map(|cut| &cut.least);
        let mut leasts = leasts.chain(answer.index_moves.iter().map(|step| &step.least));
        assert!(leasts.any(|least| least.as_ref() == Some(worst)));
        overlaps += 1;
    }
    assert_eq!(overlaps, 2);
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
