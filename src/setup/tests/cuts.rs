//! Cuts and features: faults, and frames by hand.

use super::fixture::{Files, JOB};
use crate::setup::model::{Feature, FeatureForm, Setup};
use crate::value::Vec3;
use nalgebra::Point3;

const J: &str = "job.toml";

#[track_caller]
fn error(old: &str, new: &str, at: &str, words: &[&str]) {
    Files::with(J, old, new).one_error(J, at, words);
}

#[test]
fn cuts_are_checked() {
    error(
        "tool = 6",
        "tool = 7",
        "tool = 7",
        &["`cuts[1].tool`", "no tool 7", "2, 6"],
    );
    error(
        "before = \"blank\"",
        "before = \"blnk\"",
        "blnk",
        &["`cuts[0].before`", "\"blank\" meant?"],
    );
    error(
        "after = \"finished\"",
        "after = \"done\"",
        "done",
        &["\"blank\", \"finished\""],
    );
    error(
        "name = \"hole\"",
        "name = \"top\"",
        "name = \"top\"#2",
        &["\"top\" stands twice"],
    );
    let back = Files::with(
        J,
        "before = \"blank\"\nafter = \"finished\"",
        "before = \"finished\"\nafter = \"blank\"",
    );
    back.one_error(
        J,
        "before = \"finished\"",
        &["`cuts[0].before`", "goes forward"],
    );
    Files::good().warning(
        J,
        "after = \"finished\"#2",
        &["`cuts[1].after`", "as it is"],
    );
    let skipped = Files::with(J, "before = \"blank\"", "before = \"finished\"");
    skipped.warning(J, "before = \"finished\"", &["no earlier cut leaves it so"]);
    error(
        "tool = 6",
        "tool = 6\nfeed_plane = 9\ntravel_plane = 3",
        "travel",
        &["below the feed plane"],
    );
    error(
        "tool = 6",
        "tool = 6\npass_depth = 0",
        "pass_depth",
        &["`cuts[1].pass_depth`"],
    );
    let nowhere = Files::with(J, "part = \"housing\"\nsides", "sides");
    nowhere.warning(J, "part = \"housing\"", &["`cuts[0].part`", "done nowhere"]);
}

/// The good job with the second cut's feature exchanged, cut by the 16 mm end mill. Words in
/// capitals stand for what many features share.
fn with_feature(feature: &str) -> Files {
    let feature = feature
        .replace("AT", ", at = [0, 0, 46], ACCESS")
        .replace("ACCESS", "access = [0, 0, 1]")
        .replace("ALONG", "along = [1, 0, 0]")
        .replace("SIZE", "length = 40, width = 30, DEPTH")
        .replace("DEPTH", "depth = 5");
    let (kind, rest) = feature.split_once(',').unwrap();
    let start = JOB.rfind("feature = {").unwrap();
    let before = JOB[..start].replace("tool = 6", "tool = 2");
    let mut files = Files::good();
    files.text(
        J,
        &format!("{before}feature = {{ kind = '{}', {rest} }}\n", kind.trim()),
    );
    files
}

fn feature(text: &str) -> Feature {
    let setup: Setup = with_feature(text).good_setup().setup;
    setup.cuts[1].feature.clone()
}

#[test]
fn features_are_checked() {
    let cases: [(&str, &[&str]); 12] = [
        (
            "pocket AT, along = [0, 0, 3], SIZE",
            &["`cuts[1].feature.along`", "parallel"],
        ),
        (
            "pocket AT, ALONG, SIZE, corner_radius = 16",
            &["corner_radius`", "do not fit"],
        ),
        (
            "pocket AT, ALONG, SIZE, stock_left = 8",
            &["feature.width`", "16 mm wide", "14"],
        ),
        (
            "round-pocket AT, diameter = 15, DEPTH",
            &["feature.diameter`", "T2"],
        ),
        ("round-hole, at = [], ACCESS, DEPTH", &["no hole"]),
        (
            "round-hole, at = [[0, 0, 0]], access = [0, 0, 0], DEPTH",
            &["feature.access`", "length"],
        ),
        (
            "slot, points = [[0, 0, 46], [9, 0, 46.01]], ACCESS, DEPTH",
            &["feature.points[1]`", "0.0100 mm off the plane"],
        ),
        (
            "slot, points = [[0, 0, 46]], ACCESS, DEPTH",
            &["1 points; give 2"],
        ),
        (
            "slot, points = [[0, 0, 46], [9, 0, 46]], ACCESS, DEPTH, width = 12",
            &["feature.width`"],
        ),
        (
            "profile, points = [[0, 0, 1], [9, 0, 1], [0, 0, 1]], closed = true, ACCESS, \
             side = 'on', DEPTH",
            &["feature.points[2]`", "leave the last one out"],
        ),
        (
            "path, ACCESS, moves = [{ to = [0, 0, 50] }]",
            &["feature.moves`", "two positions"],
        ),
        (
            "step AT, ALONG, length = -1, width = 30, DEPTH",
            &["feature.length`"],
        ),
    ];
    for (text, words) in cases {
        with_feature(text).one_error(J, "feature = {#2", words);
    }
    let deep = Files::with(J, "depth = 18", "depth = 29.5");
    deep.warning(
        J,
        "depth = 29.5",
        &["`cuts[1].feature.depth`", "LU of 30 mm"],
    );
}

#[test]
fn features_stand_in_their_own_frames() {
    // A step whose wall runs along +y, tool from +x: the floor goes toward x cross y = z.
    let step = feature(
        "step, at = [35, 0, 10], access = [1, 0, 0], along = [0, 1, 0], length = 60, width = 24, \
         depth = 4",
    );
    assert_eq!(
        step.part_from_feature * Point3::origin(),
        Point3::new(35.0, 0.0, 22.0)
    );
    assert_eq!(step.part_from_feature * Vec3::y(), Vec3::z());
    let FeatureForm::Pocket {
        open,
        length_mm,
        width_mm,
        ..
    } = step.form
    else {
        panic!()
    };
    assert_eq!(
        (open, length_mm, width_mm),
        ([true, true, true, false], 60.0, 24.0)
    );
    let pocket = feature(
        "pocket, at = [0, 0, 46], access = [0, 0, 5], along = [1, 0, 1], SIZE, \
         open = [\"-across\"]",
    );
    assert_eq!(pocket.part_from_feature * Vec3::x(), Vec3::x());
    let FeatureForm::Pocket { open, .. } = pocket.form else {
        panic!()
    };
    assert_eq!(open, [false, false, false, true]);
    let path =
        feature("path, ACCESS, moves = [{ to = [1, 2, 60], rapid = true }, { to = [1, 9, 50] }]");
    let FeatureForm::Path { moves_mm, .. } = &path.form else {
        panic!()
    };
    let back: Vec<Point3<f64>> = moves_mm
        .iter()
        .map(|(at, _)| path.part_from_feature * Point3::from(*at))
        .collect();
    assert_eq!(
        back,
        [Point3::new(1.0, 2.0, 60.0), Point3::new(1.0, 9.0, 50.0)]
    );
    assert_eq!((moves_mm[0].1, moves_mm[1].1), (true, false));
}

#[test]
fn slots_and_holes_come_back_to_part_coordinates() {
    let slot = feature(
        "slot, points = [[35, 1, 2], [35, 9, 2], [35, 9, 20]], access = [1, 0, 0], depth = 3",
    );
    let FeatureForm::Slot {
        points_mm,
        width_mm: None,
        ..
    } = &slot.form
    else {
        panic!()
    };
    let back = |p: &[f64; 2]| slot.part_from_feature * Point3::new(p[0], p[1], 0.0);
    let back: Vec<Point3<f64>> = points_mm.iter().map(back).collect();
    assert_eq!(
        back,
        [
            Point3::new(35.0, 1.0, 2.0),
            Point3::new(35.0, 9.0, 2.0),
            Point3::new(35.0, 9.0, 20.0)
        ]
    );
    assert_eq!(slot.part_from_feature * Vec3::z(), Vec3::x());
}
