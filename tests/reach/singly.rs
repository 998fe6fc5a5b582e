//! Bands against shares at single angles: two ways to ask that have little code in common.
//!
//! A small pad stands on a block, and beside it something low that stops only what comes low, or
//! only a step of the holder: a tool made smaller must become so from below, too.

use super::lab::{Mill, Triangles};
use super::shop::{Shop, cuboid};
use lapidary::answer::check::Silent;
use lapidary::answer::reach::{ReachOptions, reach};
use std::sync::atomic::AtomicBool;

/// From this share on the pad's top counts as reached.
const SHARE: f64 = 0.95;

/// Height of the pad's top.
const TOP_MM: f64 = 30.0;

fn pad_beside(others: &[[[f64; 3]; 2]]) -> Triangles {
    let mut solid = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 20.0]);
    solid.extend(cuboid([-0.5, -0.5, 20.0], [0.5, 0.5, TOP_MM]));
    for [low, high] in others {
        solid.extend(cuboid(*low, *high));
    }
    solid
}

fn ridge(from_x_mm: f64, up_mm: f64) -> [[f64; 3]; 2] {
    let to = [from_x_mm + 0.2, 5.0, TOP_MM + up_mm];
    [[from_x_mm, -5.0, 20.0], to]
}

/// Asks for bands and for shares at angles; gives at how many of these the pad's top is surely reached.
fn compare(tools: &str, part: &Triangles, angles_deg: &[f64]) -> usize {
    let shop = Shop::with_cuts("")
        .add("tools.toml", tools)
        .mesh("finished.stl", part);
    let setup = shop
        .load()
        .unwrap_or_else(|faults| panic!("{:#?}", faults.0))
        .setup;
    let ask =
        |options: &ReachOptions| reach(&setup, options, &Silent, &AtomicBool::new(false)).unwrap();
    let mut options = ReachOptions {
        indexes_deg: [&[0.0], angles_deg].concat(),
        tools: vec![20],
        grain_mm: 0.5,
        least_area_mm2: 0.0,
        halvings: 0,
        ..ReachOptions::default()
    };
    let singly = ask(&options);
    let level = |face: &&lapidary::answer::reach::model::FaceReach| {
        let best = face.tools[0].seats[0].indexes.iter();
        let mut at_zero = best.filter(|found| found.index_deg == 0.0);
        (face.area_mm2 - 1.0).abs() < 1e-6 && at_zero.any(|found| found.share.certain > 0.99)
    };
    let mut tops = singly.parts[0].faces.iter().filter(level);
    let top = tops.next().expect("the pad's top is reached at 0");
    options.faces = vec![top.face.clone()];
    options.from_share = SHARE;
    options.bands = true;
    options.bands_to_deg = 0.1;
    options.at_indexes = false;
    let found = ask(&options);
    let bands = found.parts[0].faces[0].tools[0].seats[0].bands.as_ref();
    let bands = bands.expect("bands were asked for");
    let holds = |list: &[[f64; 2]], angle_deg: f64| {
        let holds = |[low, high]: &[f64; 2]| {
            [0.0, 360.0]
                .iter()
                .any(|turn| (*low..=*high).contains(&(angle_deg + turn)))
        };
        list.iter().any(holds)
    };
    let mut sure = 0;
    for found in &top.tools[0].seats[0].indexes {
        let at = found.index_deg;
        let reached = holds(&bands.reached_deg, at);
        if found.share.certain >= SHARE {
            sure += 1;
            let told = reached || holds(&bands.undecided_deg, at);
            assert!(told, "reached at {at}, by {bands:?} not");
        }
        assert!(
            !reached || found.share.most() >= SHARE,
            "not at {at}, by {bands:?} reached"
        );
    }
    sure
}

#[test]
fn a_ridge_lower_than_a_large_corner_radius_mill_is_wide() {
    let mill = Mill {
        stick_out_mm: 120.0,
        holder_mm: [40.0, 60.0],
        more: "RE = 0.2",
        ..Mill::slim(20, "corner-radius-mill", 24.0)
    };
    let part = pad_beside(&[ridge(12.9, 2.8)]);
    let sure = compare(
        &mill.text(),
        &part,
        &[345.1, 346.0, 347.0, 10.0, 45.0, 340.0],
    );
    assert!(sure >= 6, "{sure}");
}

#[test]
fn a_post_under_a_step_of_the_holder() {
    let mill = Mill {
        stick_out_mm: 120.0,
        shank_mm: 11.0,
        ..Mill::slim(20, "end-mill", 12.0)
    };
    let holder = "holder = [{ diameter = 12.0, height = 60.0 }]";
    let steps = "holder = [{ diameter = 20, height = 10 }, { diameter = 80, height = 60 }]";
    let text = mill.text().replace(holder, steps);
    assert!(text.contains(steps), "{text}");
    let part = pad_beside(&[ridge(19.9, 53.5)]);
    let sure = compare(&text, &part, &[345.1, 346.0, 347.0, 10.0, 340.0]);
    assert!(sure >= 4, "{sure}");
}

/// Level a flat end finds room to one side; a little off level its rim alone touches, and there is none.
#[test]
fn an_angle_alone_is_not_lost() {
    let mill = Mill {
        stick_out_mm: 120.0,
        holder_mm: [40.0, 60.0],
        ..Mill::slim(20, "end-mill", 24.0)
    };
    let part = pad_beside(&[ridge(-13.1, 2.8), ridge(12.9, 2.8)]);
    let sure = compare(&mill.text(), &part, &[0.001, 359.0, 20.0, 300.0]);
    assert!(sure >= 3, "{sure}");
}
