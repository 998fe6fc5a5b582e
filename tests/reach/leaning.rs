//! Bands of a cutter whose touching edge changes with the lean, and of a round face.

use super::bodies::extruded;
use super::lab::{Mill, Triangles, shop};
use super::shop::cuboid;
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::{Bands, FaceReach};
use lapidary::answer::reach::{ReachOptions, reach};
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

/// The gouge tolerance.
const GOUGE_MM: f64 = 0.01;

/// Bands may end so far from the closed form,
const END_DEG: f64 = 0.01;

/// or be undecided so far about it.
const UNDECIDED_DEG: f64 = 0.05;

/// Bands of the one face that is chosen, for the only mill.
fn bands_of(
    mill: &Mill,
    part: &Triangles,
    [from_share, grain_mm]: [f64; 2],
    chosen: impl Fn(&FaceReach) -> bool,
) -> Bands {
    let loaded = shop(std::slice::from_ref(mill), part).load();
    let loaded = loaded.unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let mut options = ReachOptions {
        indexes_deg: vec![0.0],
        tools: vec![mill.number],
        grain_mm,
        least_area_mm2: 0.0,
        halvings: 0,
        ..ReachOptions::default()
    };
    let stop = AtomicBool::new(false);
    let all = reach(&loaded.setup, &options, &Silent, &stop).unwrap();
    let face = all.parts[0].faces.iter().find(|face| chosen(face));
    options.faces = vec![face.expect("the face is found").face.clone()];
    options.from_share = from_share;
    options.bands = true;
    let found = reach(&loaded.setup, &options, &Silent, &stop).unwrap();
    let seat = &found.parts[0].faces[0].tools[0].seats[0];
    seat.bands.clone().expect("bands were asked for")
}

/// Whether an angle lies in one of these intervals, which may go on beyond 360.
fn holds(list: &[[f64; 2]], angle_deg: f64) -> bool {
    let angle_deg = angle_deg.rem_euclid(360.0);
    let inside = |[low, high]: &[f64; 2]| {
        let within = |angle: f64| *low <= angle && angle <= *high;
        within(angle_deg) || within(angle_deg + 360.0)
    };
    list.iter().any(inside)
}

/// Asserts that the bands are those from `-limit` to `limit`, but for what is undecided near these ends
/// and near `changes`.
#[track_caller]
fn assert_symmetric(bands: &Bands, limit_deg: f64, changes_deg: &[f64]) {
    let away = |angle: f64, from: f64| {
        let mut marks = changes_deg.iter().chain([&limit_deg]);
        marks.all(|mark| (angle.abs() - mark).abs() > from)
    };
    let near = |place: f64| [-0.06, -0.03, -0.011, 0.011, 0.03, 0.06].map(|off| place + off);
    let coarse = (0..720).map(|half| f64::from(half) * 0.5 - 180.0);
    let marks = changes_deg.iter().chain([&limit_deg]);
    let fine = marks.flat_map(|mark| near(*mark).into_iter().chain(near(-*mark)));
    for angle in coarse.chain(fine).filter(|a| away(*a, END_DEG)) {
        let (reached, undecided) = (
            holds(&bands.reached_deg, angle),
            holds(&bands.undecided_deg, angle),
        );
        assert!(
            undecided || reached == (angle.abs() < limit_deg),
            "{angle}: {bands:?}"
        );
        assert!(
            !undecided || !away(angle, UNDECIDED_DEG),
            "{angle}: {bands:?}"
        );
    }
}

/// A chamfer mill of 90 degrees touches a pad with its tip while that leans less than 45 degrees, and
/// beyond with the upper edge of its cone, so that its axis jumps aside by its radius `R`.
///
/// In the tool's frame the edge of a column at `(-x, z)` from the pad stands at
/// `-x cos a + z sin a`. With the tip it must stay `R` left of the axis: that would end at
/// `x cos a - z sin a = R`. With the upper edge the axis is at `+R`, and the mill's side over the pad:
/// `z sin a - x cos a = 0`. Both less the gouge tolerance. Source: own derivation.
#[test]
fn chamfer_mill_over_a_pad_between_columns() {
    let mill = Mill {
        flutes_mm: 60.0,
        stick_out_mm: 120.0,
        more: "SIG = 90",
        ..Mill::slim(31, "chamfer-mill", 10.0)
    };
    let pad = 0.001;
    let (x, up): (f64, f64) = (30.0, 20.0);
    let with = |x: f64| {
        let mut solid = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 20.0]);
        solid.extend(cuboid([x, -45.0, 20.0], [35.0, 45.0, 21.0 + up]));
        solid.extend(cuboid([-35.0, -45.0, 20.0], [-x, 45.0, 21.0 + up]));
        solid.extend(cuboid([-pad, -pad, 20.0], [pad, pad, 21.0]));
        solid
    };
    let is_pad = |face: &FaceReach| {
        (face.area_mm2 / (4.0 * pad * pad) - 1.0).abs() < 1e-3 && face.tools[0].worst.certain > 0.99
    };
    let bands = bands_of(&mill, &with(x), [0.5, 1.0], is_pad);
    // A cosine and a sine of one length: z sin a - x cos a = length sin(a - atan(x / z)).
    let limit = (x.atan2(up) + (GOUGE_MM / x.hypot(up)).asin()).to_degrees();
    assert!((56.0..57.0).contains(&limit), "{limit} is beyond 45");
    assert_symmetric(&bands, limit, &[45.0]);
    // Columns nearer: the tip decides, below 45 degrees.
    let x = 18.0_f64;
    let bands = bands_of(&mill, &with(x), [0.5, 1.0], is_pad);
    let limit = (((5.0 - GOUGE_MM) / x.hypot(up)).acos() - up.atan2(x)).to_degrees();
    assert!((30.0..40.0).contains(&limit), "{limit} is below 45");
    assert_symmetric(&bands, limit, &[45.0]);
}

/// Half a cylinder of radius 10 in 24 facets along y, on the block.
pub fn ridge_part() -> Triangles {
    let facets = 24_usize;
    let profile: Vec<[f64; 2]> = (0..=facets)
        .map(|k| {
            let turn = k as f64 / facets as f64 * std::f64::consts::PI;
            [10.0 * turn.cos(), 46.0 + 10.0 * turn.sin()]
        })
        .collect();
    let caps: Vec<[usize; 3]> = (1..facets).map(|k| [0, k, k + 1]).collect();
    let ridge = extruded(&profile, &caps, 60.0);
    let mut part = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
    part.extend(
        ridge
            .into_iter()
            .map(|triangle| triangle.map(|p| Point3::new(p.x, p.y - 30.0, p.z))),
    );
    part
}

/// A ball mill on a ridge: half a cylinder of radius 10 in 24 facets on a plane.
///
/// The ball, of radius `R`, stands on the plane where a place is `R (1 - n_z)` high. Of the facets from
/// one foot on, by their normals, the first has no higher place, the second 0.76 of them, all others
/// all. At a lean `a` a facet whose normal is `b` off the upright looks at the spindle up to
/// `a = 90 - b`; which places stand too low does not change. Facets go one after the other: 21.5, from
/// 11.25 degrees on 20.8, then 19.8 from 18.75, 18.8 from 26.25, 17.8 from 33.75, 16.8 from 41.25 degrees on.
/// Source: own derivation.
#[test]
fn ball_mill_on_a_ridge() {
    let mill = Mill::slim(31, "ball-mill", 4.0);
    let part = ridge_part();
    let chord = 2.0 * 10.0 * (std::f64::consts::PI / 48.0).sin();
    let area = chord * 60.0 * 24.0;
    let round = |face: &FaceReach| (face.area_mm2 / area - 1.0).abs() < 1e-3;
    for (facets_wanted, limit_deg) in [(17.2, 41.25), (19.3, 26.25)] {
        let bands = bands_of(&mill, &part, [facets_wanted / 24.0, 0.15], round);
        assert_symmetric(&bands, limit_deg, &[]);
    }
}
