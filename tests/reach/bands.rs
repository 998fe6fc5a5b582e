//! Bands of angle against closed forms: a ball mill between two columns.
//!
//! The ball touches the top of a narrow pad, so that its centre stays a radius over it whatever the
//! angle. The tool leans until its side, less the gouge tolerance, comes to the upper edge of a
//! column: with the edge at (x, z) from the centre, x cos a - z sin a = R. Own derivation.

use super::lab::{Mill, shop};
use super::shop::{Shop, cuboid};
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::Bands;
use lapidary::answer::reach::{ReachOptions, reach};
use lapidary::setup::model::Setup;
use std::sync::atomic::AtomicBool;

/// Radius of the ball, less the gouge tolerance of 0.01.
pub const CORE_MM: f64 = 4.99;

/// Half the width of the pad.
pub const PAD_MM: f64 = 0.001;

/// Height of the columns over the top of the pad, less the ball's radius.
pub const EDGE_UP_MM: f64 = 20.0 - 5.0;

fn tool() -> &'static str {
    r#"
[[tools]]
number = 20
name = "ball mill 10"
kind = "ball-mill"
DC = 10
APMX = 20
LU = 30
OAL = 140
DMM = 8
stick_out = 90
holder = [{ diameter = 20, height = 80 }]
"#
}

/// Bands of the pad's top between two columns.
fn bands_between(half: f64, pad: f64) -> Bands {
    between_columns(half, pad, 0.01)
}

/// The same to some width.
fn between_columns(half: f64, pad: f64, to_deg: f64) -> Bands {
    let (setup, options) = columns(half, pad, to_deg);
    let found = reach(&setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
    let bands = &found.parts[0].faces[0].tools[0].seats[0].bands;
    bands.clone().unwrap()
}

/// A base with two columns `half` off the middle, and a pad between them; the question for the bands of
/// the pad's top.
pub fn columns(half: f64, pad: f64, to_deg: f64) -> (Setup, ReachOptions) {
    let mut solid = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 20.0]);
    solid.extend(cuboid([half, -45.0, 20.0], [35.0, 45.0, 41.0]));
    solid.extend(cuboid([-35.0, -45.0, 20.0], [-half, 45.0, 41.0]));
    solid.extend(cuboid([-pad, -pad, 20.0], [pad, pad, 21.0]));
    let shop = Shop::with_cuts("")
        .add("tools.toml", tool())
        .mesh("finished.stl", &solid);
    let loaded = shop
        .load()
        .unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let mut options = ReachOptions {
        indexes_deg: vec![0.0],
        tools: vec![20],
        grain_mm: 1.0,
        least_area_mm2: 0.0,
        ..ReachOptions::default()
    };
    let stop = AtomicBool::new(false);
    let all = reach(&loaded.setup, &options, &Silent, &stop).unwrap();
    let is_pad = |area: f64| (area / (4.0 * pad * pad) - 1.0).abs() < 1e-3;
    let top = all.parts[0].faces.iter().find(|face| {
        let worst = face.tools[0].worst;
        is_pad(face.area_mm2) && worst.certain > 0.99
    });
    options.faces = vec![
        top.expect("the top of the pad is reached at 0")
            .face
            .clone(),
    ];
    options.from_share = 0.5;
    options.bands = true;
    options.bands_to_deg = to_deg;
    (loaded.setup, options)
}

#[test]
fn band_between_two_columns() {
    let bands = bands_between(15.0, PAD_MM);
    let far = 15.0_f64.hypot(EDGE_UP_MM);
    let limit_deg = ((CORE_MM / far).acos() - EDGE_UP_MM.atan2(15.0)).to_degrees();
    // A half of the pad is reached: the place that counts is at its middle, but for its width.
    let room_deg = 0.01 + (PAD_MM / far).to_degrees() + 1e-6;
    let [[low, high]] = bands.reached_deg[..] else {
        panic!("one band is expected: {bands:?}");
    };
    assert!(
        (low - (360.0 - limit_deg)).abs() <= room_deg,
        "{bands:?}, {limit_deg}"
    );
    assert!(
        (high - (360.0 + limit_deg)).abs() <= room_deg,
        "{bands:?}, {limit_deg}"
    );
    for [from, to] in bands.undecided_deg {
        assert!(to - from <= 2.0 * room_deg, "{from} {to}");
    }
}

/// Of a pad 8 mm wide the strip beside a column is lost first: nineteen twentieths are reached up to
/// the angle at which the place nine tenths of the way to the edge is lost.
///
/// Source: as above, for that place.
#[test]
fn a_share_ends_within_a_hundredth_of_a_degree_at_the_default_grain() {
    let (setup, options) = columns(15.0, 4.0, 0.01);
    let options = ReachOptions {
        grain_mm: ReachOptions::default().grain_mm,
        from_share: 0.95,
        bands: true,
        at_indexes: false,
        ..options
    };
    let found = reach(&setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
    let bands = found.parts[0].faces[0].tools[0].seats[0].bands.as_ref();
    let bands = bands.expect("bands were asked for");
    let near = 15.0 - 0.9 * 4.0;
    let far = EDGE_UP_MM.hypot(near);
    let limit_deg = ((CORE_MM / far).acos() - EDGE_UP_MM.atan2(near)).to_degrees();
    let [[low, high]] = bands.reached_deg[..] else {
        panic!("one band is expected: {bands:?}");
    };
    for end_deg in [360.0 - low, high - 360.0] {
        let short_deg = limit_deg - end_deg;
        assert!((0.0..0.01).contains(&short_deg), "{bands:?}, {limit_deg}");
    }
    for [from, to] in &bands.undecided_deg {
        assert!(to - from < 0.01, "{bands:?}");
    }
}

/// The floor of a slot open at both ends is reached less and less as the tool leans: along one wall, nearer than
/// the radius, and along the other, over whose upper edge the tool's side leans. The edges of what is reached are as
/// long as the slot, and the share changes slowly with the angle.
///
/// Source: own derivation. Of a floor `w` wide and `d` deep a ball of radius `R`, less the gouge tolerance `r`,
/// reaches `w - r - (r + (d - R) sin a) / cos a`.
#[test]
fn ends_are_sharp_where_a_share_changes_slowly_along_long_edges() {
    let mill = Mill {
        shank_mm: 6.0,
        flutes_mm: 60.0,
        ..Mill::slim(31, "ball-mill", 6.0)
    };
    let shop = shop(&[mill], &super::narrow::columns(19.0));
    let setup = shop.load().unwrap_or_else(|f| panic!("{:#?}", f.0)).setup;
    let stop = AtomicBool::new(false);
    let mut options = ReachOptions {
        tools: vec![31],
        indexes_deg: vec![0.0],
        least_area_mm2: 0.0,
        ..ReachOptions::default()
    };
    let all = reach(&setup, &options, &Silent, &stop).unwrap();
    let floor = super::lab::of_area(19.0 * 90.0);
    let floor = all.parts[0].faces.iter().find(|face| floor(face));
    options.faces = vec![floor.expect("the floor is asked about").face.clone()];
    options.bands = true;
    for share in [0.5, 0.3, 0.68] {
        options.from_share = share;
        let found = reach(&setup, &options, &Silent, &stop).unwrap();
        let bands = found.parts[0].faces[0].tools[0].seats[0].bands.clone();
        let bands = bands.expect("bands were asked for");
        let reached = |lean: f64| {
            let near = 2.99 + (20.0 - 3.0) * lean.sin();
            (19.0 - 2.99 - near / lean.cos()) / 19.0
        };
        let (mut low, mut high) = (0.0, 1.0);
        while high - low > 1e-12 {
            let middle = 0.5 * (low + high);
            *(if reached(middle) > share {
                &mut low
            } else {
                &mut high
            }) = middle;
        }
        let limit_deg = low.to_degrees();
        let [[from, to]] = bands.reached_deg[..] else {
            panic!("one band is expected: {bands:?}");
        };
        for end_deg in [360.0 - from, to - 360.0] {
            let short_deg = limit_deg - end_deg;
            let is_sharp = (-1e-6..0.01).contains(&short_deg);
            assert!(is_sharp, "{share}: {bands:?}, {limit_deg}");
        }
        for [from, to] in &bands.undecided_deg {
            assert!(to - from < 0.01, "{share}: {bands:?}, {limit_deg}");
        }
    }
}

/// A wall square to the rotary axis stands upright at every angle, also where single precision lets it lean: turned
/// in the file, and back at its seat, the part has the same band.
#[test]
fn a_wall_square_to_the_axis_keeps_its_band_where_the_file_is_turned() {
    let slotted = |turned_deg: f64| {
        let turn = nalgebra::Rotation3::from_axis_angle(
            &nalgebra::Vector3::z_axis(),
            f64::to_radians(90.0 + turned_deg),
        );
        let solid = super::narrow::columns(19.0);
        let turned = solid
            .into_iter()
            .map(|corners| corners.map(|corner| turn * corner));
        turned.collect::<Vec<_>>()
    };
    for turned_deg in [0.0, 30.0, 17.3] {
        let mill = Mill {
            flutes_mm: 60.0,
            ..Mill::slim(31, "end-mill", 6.0)
        };
        let lay = format!("sides = [1]\nlay_deg = {:?}", -turned_deg);
        let shop = shop(&[mill], &slotted(turned_deg)).change("job.toml", "sides = [1]", &lay);
        let setup = shop.load().unwrap_or_else(|f| panic!("{:#?}", f.0)).setup;
        let options = ReachOptions {
            tools: vec![31],
            indexes_deg: vec![0.0, 300.0, 330.0, 30.0, 60.0],
            least_area_mm2: 0.0,
            bands: true,
            bands_to_deg: 0.5,
            from_share: 0.5,
            ..ReachOptions::default()
        };
        let found = reach(&setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
        let wall = |area_mm2: f64| (area_mm2 - 20.0 * 90.0).abs() < 1e-2;
        let mut walls = 0;
        for face in found.parts[0]
            .faces
            .iter()
            .filter(|face| wall(face.area_mm2))
        {
            walls += 1;
            let bands = face.tools[0].seats[0].bands.clone().unwrap();
            let [[low, high]] = bands.reached_deg[..] else {
                panic!("{turned_deg}, {}: {bands:?}", face.face);
            };
            assert!(
                low < 300.0 && high > 420.0,
                "{turned_deg}, {}: {bands:?}",
                face.face
            );
        }
        assert_eq!(walls, 2, "{turned_deg}");
    }
}

/// A wall 6.5 degrees off the rotary axis counts as upright over more of a turn than one along it, the more so where
/// coordinates are far out and single precision is coarse: no single angle is reached where its bands say it is not.
#[test]
fn a_slanted_wall_far_out_has_doubt_about_the_end_of_its_band() {
    let off: f64 = 6.5_f64.to_radians();
    let slanted = |p: nalgebra::Point3<f64>| {
        let slant_mm = if p.y > 0.0 {
            (p.x + 35.0) * off.tan()
        } else {
            0.0
        };
        nalgebra::Point3::new(p.x, p.y - slant_mm, p.z)
    };
    // Low, so that rounding bends it the more, on a block.
    let low = cuboid([-35.0, -45.0, 43.0], [35.0, 25.0, 46.0]);
    let low = low.into_iter().map(|t| t.map(slanted));
    let block = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 43.0]);
    let far_out = |p: nalgebra::Point3<f64>| p + nalgebra::Vector3::x() * 300.0;
    let solid: Vec<_> = low.chain(block).map(|t| t.map(far_out)).collect();
    let mill = Mill {
        flutes_mm: 60.0,
        ..Mill::slim(31, "end-mill", 6.0)
    };
    let shop = shop(&[mill], &solid).change("job.toml", "at = [[0, 130]]", "at = [[-300, 130]]");
    let setup = shop.load().unwrap_or_else(|f| panic!("{:#?}", f.0)).setup;
    let beside = [-0.03, -0.02, -0.015, -0.01, -0.005, 0.0, 0.01, 0.02, 0.03];
    let ask = |indexes_deg: Vec<f64>, bands: bool| {
        let options = ReachOptions {
            tools: vec![31],
            indexes_deg,
            least_area_mm2: 0.0,
            bands,
            bands_to_deg: 0.01,
            from_share: 0.5,
            ..ReachOptions::default()
        };
        let found = reach(&setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
        let wall = 3.0 * 70.0 / off.cos();
        let mut faces = found.parts[0].faces.iter();
        let face = faces.find(|face| (face.area_mm2 - wall).abs() < 1e-2);
        let areas = found.parts[0].faces.iter().map(|face| face.area_mm2);
        let Some(face) = face else {
            panic!("{:?}, {wall}", areas.collect::<Vec<_>>())
        };
        face.tools[0].seats[0].clone()
    };
    let bands = ask(vec![90.0], true).bands.unwrap();
    let singly = ask(
        beside
            .iter()
            .map(|deg: &f64| deg.rem_euclid(360.0))
            .collect(),
        false,
    );
    let mut reached = 0;
    for one in singly.indexes.iter().filter(|one| one.share.certain >= 0.5) {
        let mut all = bands.reached_deg.iter().chain(&bands.undecided_deg);
        let held = all.any(|[low, high]| (one.index_deg - low).rem_euclid(360.0) <= high - low);
        assert!(held, "{}: {bands:?}", one.index_deg);
        reached += usize::from(one.index_deg > 180.0);
    }
    assert!(reached > 0, "{singly:?}");
}

#[test]
fn a_band_of_two_hundredths_of_a_degree_is_not_missed() {
    // The tool goes down between the columns within 0.01 degree of upright.
    let lean = 0.01_f64.to_radians();
    let bands = bands_between((CORE_MM + EDGE_UP_MM * lean.sin()) / lean.cos(), PAD_MM);
    let holds_zero = |list: &[[f64; 2]]| {
        let holds = |[low, high]: &[f64; 2]| *low <= 360.0 && *high >= 360.0 || *low <= 0.0;
        list.iter().any(holds)
    };
    assert!(
        holds_zero(&bands.reached_deg) || holds_zero(&bands.undecided_deg),
        "{bands:?}"
    );
    let all = bands.reached_deg.iter().chain(&bands.undecided_deg);
    let width: f64 = all.map(|[low, high]| high - low).sum();
    assert!(width < 0.2, "{bands:?}");
}

/// A face that looks at the spindle at an angle below 0 has no hole in its band there, although the first
/// steps of these limits do not meet it.
#[test]
fn the_angle_of_a_face_ends_no_band_where_limits_go_below_zero() {
    let [mut level, mut asked] = [0, 0];
    for side in [2, 4] {
        let shop = Shop::with_cuts("")
            .change(
                "machine.toml",
                "step_deg = 1",
                "step_deg = 1\nlimits_deg = [-121, 120]",
            )
            .change("job.toml", "sides = [1]", &format!("sides = [{side}]"))
            .mesh(
                "finished.stl",
                &cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]),
            );
        let setup = shop.load().unwrap_or_else(|f| panic!("{:#?}", f.0)).setup;
        let options = ReachOptions {
            tools: vec![2],
            bands: true,
            bands_to_deg: 1.0,
            at_indexes: false,
            least_area_mm2: 0.0,
            ..ReachOptions::default()
        };
        let found = reach(&setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
        for face in &found.parts[0].faces {
            asked += 1;
            let bands = face.tools[0].seats[0].bands.clone().unwrap();
            level += usize::from(
                bands
                    .reached_deg
                    .iter()
                    .any(|[low, high]| *low < -90.1 && *high > -89.9),
            );
        }
    }
    assert_eq!((asked, level), (12, 1));
}

/// Whatever is proved of an angle at one width holds at another.
#[test]
fn coarser_bands_do_not_contradict_finer_ones() {
    let widths_deg = [5.0, 1.0, 0.01];
    let all = widths_deg.map(|to_deg| between_columns(15.0, PAD_MM, to_deg));
    let on = |list: &[[f64; 2]], angle_deg: f64| {
        list.iter()
            .any(|[low, high]| (angle_deg - low).rem_euclid(360.0) <= high - low)
    };
    let width = |bands: &Bands| {
        bands
            .undecided_deg
            .iter()
            .map(|[low, high]| high - low)
            .sum::<f64>()
    };
    for (finer, coarser) in [(2, 1), (1, 0)] {
        assert!(width(&all[finer]) < width(&all[coarser]));
        for tenth in 0..3600 {
            let angle_deg = f64::from(tenth) * 0.1 + 0.0123;
            let [fine, coarse] = [finer, coarser].map(|at| {
                let bands: &Bands = &all[at];
                match (
                    on(&bands.reached_deg, angle_deg),
                    on(&bands.undecided_deg, angle_deg),
                ) {
                    (true, _) => Some(true),
                    (_, true) => None,
                    _ => Some(false),
                }
            });
            let contradict = fine
                .zip(coarse)
                .is_some_and(|(fine, coarse)| fine != coarse);
            assert!(!contradict, "{angle_deg}");
        }
    }
}
