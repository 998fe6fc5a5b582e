//! A blind bore aslant: single precision lets the triangles of its floor and of its wall lean, the thin ones
//! much. Both are reached all the same where the bore looks at the spindle, and there alone.

use super::bodies::plate;
use super::lab::{Mill, Triangles, shop};
use super::shop::cuboid;
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::PartReach;
use lapidary::answer::reach::{ReachOptions, reach};
use nalgebra::{Point3, Rotation3, Vector3};
use std::f64::consts::PI;
use std::sync::atomic::AtomicBool;

const LEAN_DEG: f64 = 13.37;

/// A bore of 10 mm, 25 mm deep, in a plate that leans.
fn bore(sides: u32) -> Triangles {
    let lean = Rotation3::from_axis_angle(&Vector3::y_axis(), LEAN_DEG.to_radians());
    let placed = |p: Point3<f64>| {
        let p = lean * Point3::new(p.x - 10.0, p.y - 10.0, p.z + 46.0);
        // As a binary STL file has it.
        p.map(|x| f64::from(x as f32))
    };
    plate(1, 46.0, &[vec![(0.0, 5.0), (25.0, 5.0)]], sides)
        .into_iter()
        .map(|triangle| triangle.map(placed))
        .collect()
}

fn asked(sides: u32, options: &ReachOptions) -> PartReach {
    let mill = Mill {
        number: 8,
        ..Mill::slim(8, "end-mill", 8.0)
    };
    let loaded = shop(&[mill], &bore(sides)).load();
    let loaded = loaded.unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let found = reach(&loaded.setup, options, &Silent, &AtomicBool::new(false)).unwrap();
    found.parts.into_iter().next().unwrap()
}

/// Floor and wall, by their areas.
fn floor_and_wall(found: &PartReach, sides: u32) -> [usize; 2] {
    let n = f64::from(sides);
    let floor_mm2 = 0.5 * n * 25.0 * (2.0 * PI / n).sin();
    let wall_mm2 = 25.0 * n * 10.0 * (PI / n).sin();
    [floor_mm2, wall_mm2].map(|area_mm2| {
        let mut faces = found.faces.iter();
        faces
            .position(|face| (face.area_mm2 / area_mm2 - 1.0).abs() < 1e-3)
            .expect("the face is found")
    })
}

#[test]
fn a_blind_bore_aslant_is_reached_whole_at_its_angle() {
    for sides in [64, 200] {
        for index_deg in [LEAN_DEG, 360.0 - LEAN_DEG] {
            let options = ReachOptions {
                tools: vec![8],
                indexes_deg: vec![index_deg],
                grain_mm: 0.5,
                halvings: 0,
                ..ReachOptions::default()
            };
            let found = asked(sides, &options);
            let [floor, wall] = floor_and_wall(&found, sides).map(|face| {
                let seat = &found.faces[face].tools[0].seats[0];
                seat.indexes.first().map(|at| at.share)
            });
            if index_deg == LEAN_DEG {
                // The disc of 8 mm turns everywhere in the bore of 10 mm but for the corners of the floor.
                let floor = floor.unwrap();
                assert!(floor.certain > 0.95 && floor.most() > 0.9999, "{floor:?}");
                assert!(wall.unwrap().certain > 0.99, "{wall:?}");
            } else {
                // Twice the lean off: the floor's rim is in the way of the flat end, half of the wall looks away.
                assert!(wall.is_none_or(|share| share.most() < 0.6), "{wall:?}");
                assert!(floor.is_none_or(|share| share.certain < 0.5), "{floor:?}");
            }
        }
    }
}

#[test]
fn a_bore_has_a_band_at_its_angle_alone() {
    for indexes_deg in [vec![LEAN_DEG], vec![0.0]] {
        let known = indexes_deg[0] == LEAN_DEG;
        let mut options = ReachOptions {
            tools: vec![8],
            indexes_deg,
            bands_to_deg: 1.0,
            ..ReachOptions::default()
        };
        let all = asked(64, &options);
        let wall = floor_and_wall(&all, 64)[1];
        options.faces = vec![all.faces[wall].face.clone()];
        options.bands = true;
        let found = asked(64, &options);
        let bands = found.faces[0].tools[0].seats[0].bands.clone().unwrap();
        let holds = |list: &[[f64; 2]]| {
            list.iter()
                .any(|[low, high]| *low <= LEAN_DEG && LEAN_DEG <= *high)
        };
        if known {
            assert_eq!(bands.reached_deg, [[LEAN_DEG; 2]], "{bands:?}");
        } else {
            assert!(
                bands.reached_deg.is_empty() && holds(&bands.undecided_deg),
                "{bands:?}"
            );
        }
    }
}

/// A block aslant by 45 degrees, as single precision has it: its sides look at the spindle at angles that
/// differ from whole steps by a millionth of a degree. Each is one index, not two.
#[test]
fn an_angle_a_hair_off_a_step_is_that_step() {
    let lean = Rotation3::from_axis_angle(&Vector3::y_axis(), 45.0_f64.to_radians());
    let block: Triangles = cuboid([-30.0, -40.0, 0.0], [31.0, 40.0, 33.0])
        .into_iter()
        .map(|triangle| triangle.map(|p| (lean * p).map(|x| f64::from(x as f32))))
        .collect();
    let shop = shop(&[Mill::slim(8, "end-mill", 8.0)], &block);
    let loaded = shop.change("machine.toml", "step_deg = 1\n", "").load();
    let loaded = loaded.unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let options = ReachOptions {
        tools: vec![8],
        every_deg: 45.0,
        grain_mm: 20.0,
        halvings: 0,
        ..ReachOptions::default()
    };
    let found = reach(&loaded.setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
    let steps: Vec<f64> = (0..8).map(|k| f64::from(k) * 45.0).collect();
    assert_eq!(found.indexes_deg, steps);
}
