//! What stops a tool: the right body is named, and a face stops it where it really goes on.

use super::lab::{GAP_MM, Mill, Triangles, asked, of_area, share_at, shop};
use super::shop::pocketed;
use lapidary::answer::reach::model::{FaceReach, Reason, ReasonShare};
use nalgebra::Point3;

/// A pocket 40 x 60, 30 deep, the job's clamp and other seats beside it.
const DEPTH_MM: f64 = 30.0;

fn reasons(mill: &Mill, face: impl Fn(&FaceReach) -> bool) -> (f64, Vec<ReasonShare>) {
    let part = pocketed([20.0, 30.0], 46.0 - DEPTH_MM);
    // So coarse that no wall is split more than a few times.
    let answer = asked(&shop(std::slice::from_ref(mill), &part), &[21], &[0.0], 8.0);
    let faces = answer.parts[0].faces.iter();
    let face = faces.into_iter().find(|found| face(found)).unwrap();
    let at = face.tools[0].seats[0].indexes.first().unwrap();
    (at.share.undecided, at.reasons.clone())
}

/// The shank is 2 wider than the cutter on each side: beside a wall it meets the wall itself, `a` up
/// from the tip, wherever the wall goes on so far: a share of `1 - (a - gap) / depth`, less what the
/// corners leave.
#[test]
fn a_shank_that_meets_the_wall_it_mills() {
    let mill = Mill {
        flutes_mm: 12.0,
        shank_mm: 14.0,
        ..Mill::slim(21, "end-mill", 10.0)
    };
    let (_, reasons) = reasons(&mill, of_area(60.0 * DEPTH_MM));
    let first = &reasons[0];
    assert_eq!(first.reason, Reason::FlutesTooShort, "{reasons:?}");
    let exact = 1.0 - (12.0 - GAP_MM) / DEPTH_MM;
    assert!(
        first.share <= exact + 0.01 && first.share > exact - 0.3,
        "{reasons:?}"
    );
}

/// The same with a holder: the body told is the part itself, not one that happens to have its number.
#[test]
fn a_holder_that_meets_the_wall_beside_it() {
    let mill = Mill {
        stick_out_mm: 14.0,
        flutes_mm: 13.0,
        holder_mm: [34.0, 60.0],
        ..Mill::slim(21, "end-mill", 10.0)
    };
    let (_, reasons) = reasons(&mill, of_area(60.0 * DEPTH_MM));
    let bodies = |told: &ReasonShare| match &told.reason {
        Reason::Stopped { body, .. } | Reason::Close { body, .. } => Some(body.clone()),
        _ => None,
    };
    let told: Vec<String> = reasons.iter().filter_map(bodies).collect();
    assert!(!told.is_empty(), "{reasons:?}");
    assert!(
        told.iter().all(|body| body == "the part itself"),
        "{reasons:?}"
    );
}

/// A wall whose upper band leans by one step of single precision still ends at its upper edge: a holder
/// that comes over the wall is stopped by nothing above it. Share by hand: the holder's lower end is
/// the stick-out over the tip and keeps the gap from the top, `(20 - 2) / 46` of the wall, less a
/// margin beside its upright ends.
#[test]
fn a_wall_ends_at_an_edge_a_hair_off_its_plane() {
    let step = 3.814_697_265_625e-6;
    for off in [0.0, step, -step] {
        let low = [[-35.0, 0.0], [35.0, 0.0], [35.0, 40.0]];
        let outline = [&low[..], &[[35.0 + off, 46.0], [-35.0, 46.0]]].concat();
        let caps = [[0, 1, 2], [0, 2, 3], [0, 3, 4]];
        let part = extruded(&outline, &caps, &[]);
        let mill = Mill {
            stick_out_mm: 20.0,
            flutes_mm: 19.0,
            holder_mm: [30.0, 60.0],
            ..Mill::slim(21, "end-mill", 8.0)
        };
        let answer = asked(&shop(&[mill], &part), &[21], &[0.0], 1.0);
        let wall = |face: &FaceReach| (face.area_mm2 - 90.0 * 46.0).abs() < 1.0;
        let share = share_at(&answer, 21, 0.0, wall);
        let exact = (20.0 - GAP_MM) / 46.0;
        assert!(share.most() >= exact - 0.03, "{off}: {share:?}");
        assert!(share.certain <= exact + 0.01, "{off}: {share:?}");
        assert!(share.certain > exact - 0.1, "{off}: {share:?}");
    }
}

/// An arm over a floor, its upper and its lower face missing: nothing of the floor under it is surely
/// reached, though the flutes are so long that only they go through what is missing.
#[test]
fn flutes_do_not_come_through_an_arm_without_faces() {
    let outline = [
        [-35.0, 0.0],
        [35.0, 0.0],
        [35.0, 10.0],
        [-15.0, 10.0],
        [-15.0, 30.0],
        [35.0, 30.0],
        [35.0, 46.0],
        [-35.0, 46.0],
    ];
    let caps = [
        [0, 1, 2],
        [0, 2, 3],
        [0, 3, 4],
        [0, 4, 7],
        [4, 5, 6],
        [4, 6, 7],
    ];
    let mills = ["ball-mill", "end-mill"].map(|kind| Mill {
        flutes_mm: 80.0,
        ..Mill::slim(if kind == "end-mill" { 22 } else { 21 }, kind, 8.0)
    });
    for missing in [&[][..], &[4, 6]] {
        let part = extruded(&outline, &caps, missing);
        let answer = asked(&shop(&mills, &part), &[21, 22], &[0.0], 1.0);
        for tool in [21, 22] {
            let floor = share_at(&answer, tool, 0.0, of_area(50.0 * 90.0));
            assert_eq!(
                floor.certain, 0.0,
                "T{tool}, without {missing:?}: {floor:?}"
            );
        }
    }
}

/// An outline in x and z, counter-clockwise with z up, along y from -45 to 45; some sides left out.
fn extruded(outline: &[[f64; 2]], caps: &[[usize; 3]], missing: &[usize]) -> Triangles {
    let at = |k: usize, y: f64| Point3::new(outline[k][0], y, outline[k][1]);
    let mut all = Vec::new();
    for &[a, b, c] in caps {
        all.push([a, b, c].map(|k| at(k, -45.0)));
        all.push([a, c, b].map(|k| at(k, 45.0)));
    }
    for a in (0..outline.len()).filter(|side| !missing.contains(side)) {
        let b = (a + 1) % outline.len();
        all.push([at(a, -45.0), at(a, 45.0), at(b, 45.0)]);
        all.push([at(a, -45.0), at(b, 45.0), at(b, -45.0)]);
    }
    all
}
