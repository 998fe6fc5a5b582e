//! How short a tool may be set for the faces that it reaches: against closed forms, and against
//! `reach` itself.

use super::shares::{about, share};
use super::shop::{Shop, pocketed};
use lapidary::answer::check::{CheckOptions, Silent};
use lapidary::answer::lengths::{LengthsAnswer, LengthsAsk, Proposal, lengths};
use lapidary::answer::reach::model::Reason;
use lapidary::answer::reach::{ReachOptions, reach};
use lapidary::answer::retool::with_stick_out;
use lapidary::setup::model::Setup;
use std::sync::atomic::AtomicBool;

/// The top is at 46, the floor here: 36.3 deep.
const FLOOR_MM: f64 = 9.7;

const LONG_TOOL: &str = r#"
[[tools]]
number = 22
name = "end mill 16, long"
kind = "end-mill"
DC = 16
APMX = 20
OAL = 120
DMM = 12
stick_out = 60
holder = [{ diameter = 44, height = 80 }]
"#;

fn shop(more: &str) -> Shop {
    Shop::with_cuts("")
        .add("tools.toml", &format!("{LONG_TOOL}{more}"))
        .mesh("finished.stl", &pocketed([20.0, 15.0], FLOOR_MM))
}

fn options(faces: &[String]) -> ReachOptions {
    ReachOptions {
        indexes_deg: vec![0.0],
        grain_mm: 0.5,
        least_area_mm2: 0.0,
        faces: faces.to_vec(),
        from_share: 0.9,
        halvings: 0,
        ..ReachOptions::default()
    }
}

fn found(setup: &Setup, faces: &[String], step_mm: f64) -> LengthsAnswer {
    let ask = LengthsAsk {
        step_mm,
        check: CheckOptions::default(),
        reached: Some(options(faces)),
    };
    lengths(setup, &ask, &Silent, &AtomicBool::new(false)).unwrap()
}

/// Name of the pocket's floor.
fn floor(setup: &Setup) -> String {
    let answer = reach(setup, &options(&[]), &Silent, &AtomicBool::new(false)).unwrap();
    let fits = about(1200.0);
    let faces = &answer.parts[0].faces;
    let floor = faces.iter().find(|face| fits(face.area_mm2));
    floor.unwrap().face.clone()
}

/// Certain share of the floor with tool 22 at a gauge length.
fn floor_share(setup: &Setup, gauge_length_mm: f64) -> f64 {
    let mut setup = setup.clone();
    let tool = setup.tools.iter().position(|t| t.number == 22).unwrap();
    setup.tools[tool] = with_stick_out(&setup.tools[tool], gauge_length_mm - 80.0);
    let answer = reach(&setup, &options(&[]), &Silent, &AtomicBool::new(false)).unwrap();
    share(&answer, 22, about(1200.0)).certain
}

#[test]
fn the_holder_stays_over_the_pocket() {
    let setup = shop("").load().unwrap().setup;
    let floor = floor(&setup);
    for step_mm in [1.0, 0.25] {
        let answer = found(&setup, std::slice::from_ref(&floor), step_mm);
        let tool = answer.tools.iter().find(|t| t.range.tool == 22).unwrap();
        let reached = tool.reached.as_ref().unwrap();
        assert_eq!(reached.places, 1);
        // Everywhere on the floor the holder of radius 22 is over the edge: its face stays 2 over the
        // top, 36.3 + 2 over the tip, and the holder is 80 high.
        let exact_mm = 80.0 + (46.0 - FLOOR_MM) + 2.0;
        let shortest_mm = (exact_mm / step_mm).ceil() * step_mm;
        assert_eq!(reached.shortest_mm, Some(shortest_mm));
        let lost = reached.lost.as_ref().unwrap();
        assert_eq!(lost.gauge_length_mm, shortest_mm - step_mm);
        assert_eq!((&lost.face, &*lost.seat), (&floor, "1.1"));
        assert!(
            matches!(&lost.reason, Some(Reason::Close { element, .. }) if element.contains("holder")),
            "{:?}",
            lost.reason
        );
        let Proposal::Set {
            gauge_length_mm,
            stiffer_times,
            ..
        } = tool.proposal
        else {
            panic!("{:?}", tool.proposal);
        };
        assert_eq!(gauge_length_mm, shortest_mm);
        let expected = (60.0 / (shortest_mm - 80.0)).powi(3);
        approx::assert_relative_eq!(stiffer_times, expected, max_relative = 1e-12);
        // The same by reach alone.
        assert!(floor_share(&setup, shortest_mm) >= 0.9);
        assert!(floor_share(&setup, shortest_mm - step_mm) < 0.9);
    }
}

#[test]
fn a_drill_without_a_bore_has_nothing_to_be_set_for() {
    let setup = shop("").load().unwrap().setup;
    let answer = found(&setup, &[floor(&setup)], 1.0);
    let drill = answer.tools.iter().find(|t| t.range.tool == 6).unwrap();
    assert_eq!(drill.reached.as_ref().unwrap().places, 0);
    assert_eq!(drill.proposal, Proposal::ReachesNothing);
}

#[test]
fn a_shallow_bore_of_the_holder_ends_it_before_the_face_does() {
    // 120 of cutter, 75 at most of it in the bore: 45 stick out at least.
    let shop = shop("").change("tools.toml", "OAL = 120", "OAL = 120\nLSCX = 75");
    let setup = shop.load().unwrap().setup;
    let answer = found(&setup, &[floor(&setup)], 1.0);
    let tool = answer.tools.iter().find(|t| t.range.tool == 22).unwrap();
    let reached = tool.reached.as_ref().unwrap();
    assert_eq!((reached.shortest_mm, &reached.lost), (Some(125.0), &None));
    assert!(tool.least_by.contains("LSCX"), "{}", tool.least_by);
    assert!(
        matches!(tool.proposal, Proposal::Set { gauge_length_mm, .. } if gauge_length_mm == 125.0)
    );
}

#[test]
fn no_length_is_told_that_the_holder_does_not_allow() {
    // Screwed on, and no multiple of the step.
    let shop = shop("").change("tools.toml", "stick_out = 60", "stick_out = 60.4\ngrip = 0");
    let setup = shop.load().unwrap().setup;
    let answer = found(&setup, &[floor(&setup)], 1.0);
    let tool = answer.tools.iter().find(|t| t.range.tool == 22).unwrap();
    let reached = tool.reached.as_ref().unwrap();
    assert_eq!((reached.places, reached.shortest_mm), (1, None));
    assert_eq!(tool.proposal, Proposal::NoStepInRange);
}
