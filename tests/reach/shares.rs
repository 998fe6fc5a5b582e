//! Shares of a block with a pocket, a bore or a dome, under end mill, ball mill and drill.

use super::shop::{Shop, cuboid, pocketed};
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::{ReachAnswer, Reason, Share};
use lapidary::answer::reach::{ReachOptions, reach};
use nalgebra::Point3;
use std::f64::consts::{PI, TAU};
use std::sync::atomic::AtomicBool;

type Triangles = Vec<[Point3<f64>; 3]>;

/// By how much the gouge tolerance of 0.01 may raise a share of these faces.
const GOUGED: f64 = 0.002;

const MORE_TOOLS: &str = r#"
[[tools]]
number = 20
name = "ball mill 10"
kind = "ball-mill"
DC = 10
APMX = 20
LU = 30
OAL = 100
DMM = 8
stick_out = 60
holder = [{ diameter = 20, height = 80 }]

[[tools]]
number = 21
name = "end mill 16, short"
kind = "end-mill"
DC = 16
APMX = 20
LU = 28
OAL = 70
DMM = 12
stick_out = 30
holder = [{ diameter = 44, height = 80 }]
"#;

pub fn ask(shop: &Shop, indexes_deg: &[f64]) -> ReachAnswer {
    let loaded = shop
        .load()
        .unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let options = ReachOptions {
        indexes_deg: indexes_deg.to_vec(),
        grain_mm: 0.25,
        least_area_mm2: 0.0,
        halvings: 0,
        ..ReachOptions::default()
    };
    reach(&loaded.setup, &options, &Silent, &AtomicBool::new(false)).unwrap()
}

/// Share of a tool over all faces whose area is one of these.
#[track_caller]
pub fn share(answer: &ReachAnswer, tool: u32, fits: impl Fn(f64) -> bool) -> Share {
    let (mut total, mut certain, mut undecided) = (0.0, 0.0, 0.0);
    for face in answer.parts[0]
        .faces
        .iter()
        .filter(|face| fits(face.area_mm2))
    {
        let found = face.tools.iter().find(|t| t.tool == tool).unwrap().worst;
        total += face.area_mm2;
        certain += face.area_mm2 * found.certain;
        undecided += face.area_mm2 * found.undecided;
    }
    assert!(total > 0.0, "no face fits");
    Share {
        certain: certain / total,
        undecided: undecided / total,
    }
}

pub fn about(area_mm2: f64) -> impl Fn(f64) -> bool {
    move |found| (found - area_mm2).abs() < 1e-3
}

#[track_caller]
pub fn assert_share(found: Share, exact: f64, widest: f64) {
    assert!(
        found.certain <= exact + GOUGED && exact <= found.most() + GOUGED,
        "{exact} is not in {found:?}"
    );
    assert!(found.undecided <= widest, "{found:?} is wide");
}

#[test]
fn pocket_under_an_end_mill() {
    let shop = Shop::with_cuts("")
        .add("tools.toml", MORE_TOOLS)
        .mesh("finished.stl", &pocketed([20.0, 15.0], 30.0));
    let answer = ask(&shop, &[0.0]);
    // Flat end of radius 8 in corners of 90 degrees: each corner keeps (1 - pi / 4) R^2.
    let radius = 8.0;
    let exact = 1.0 - (4.0 - PI) * radius * radius / (40.0 * 30.0);
    assert_share(share(&answer, 2, about(1200.0)), exact, 0.06);
    // A wall is touched from corner radius to corner radius.
    assert_share(share(&answer, 2, about(640.0)), (40.0 - 16.0) / 40.0, 0.05);
    assert_share(share(&answer, 2, about(480.0)), (30.0 - 16.0) / 30.0, 0.06);
    // Outside, the shank (as wide as the flutes, from 32 up) must stay 2 over the top at 46.
    assert_share(share(&answer, 2, about(3220.0)), (46.0 - 16.0) / 46.0, 0.02);
    // With a slim shank the holder face, 30 up, must stay 2 over the top: tips from 18 on.
    assert_share(
        share(&answer, 21, about(3220.0)),
        (46.0 - 18.0) / 46.0,
        0.02,
    );
    // The top is flat and free.
    assert_share(share(&answer, 2, about(5100.0)), 1.0, 0.0);
    // A drill makes no pocket.
    assert_eq!(share(&answer, 6, about(1200.0)).most(), 0.0);
}

/// A dome on the plane z = `foot`, its triangles turned out.
pub fn dome(radius: f64, foot: f64, rows: u32, sides: u32) -> Triangles {
    let at = |row: u32, side: u32| {
        let (rise, turn) = (
            f64::from(row) / f64::from(rows) * PI / 2.0,
            f64::from(side % sides) / f64::from(sides) * TAU,
        );
        let across = if row == rows {
            0.0
        } else {
            radius * rise.cos()
        };
        Point3::new(
            across * turn.cos(),
            across * turn.sin(),
            foot + radius * rise.sin(),
        )
    };
    let mut all = Vec::new();
    for side in 0..sides {
        all.push([Point3::new(0.0, 0.0, foot), at(0, side + 1), at(0, side)]);
        for row in 0..rows {
            let [a, b] = [at(row, side), at(row, side + 1)];
            let [c, d] = [at(row + 1, side + 1), at(row + 1, side)];
            all.push([a, b, c]);
            if row + 1 < rows {
                all.push([a, c, d]);
            }
        }
    }
    all
}

#[test]
fn dome_under_a_ball_mill() {
    let mut solid = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
    solid.extend(dome(20.0, 46.0, 24, 72));
    let shop = Shop::with_cuts("")
        .add("tools.toml", MORE_TOOLS)
        .mesh("finished.stl", &solid);
    let answer = ask(&shop, &[0.0]);
    // The ball of radius 5 rests on the plane where its centre is 5 up: the zone of the dome
    // below sin = R / (rho + R) is out of reach. A zone's area goes with its height.
    let exact = 20.0 / (20.0 + 5.0);
    let flat = [3220.0, 4140.0, 6300.0, PI * 400.0];
    let domed = |area: f64| {
        !flat
            .iter()
            .any(|other| (area - other).abs() < 0.5 * other.sqrt())
    };
    let found = share(&answer, 20, domed);
    // Facets of 3.75 degrees: the zone's edge lies within one row of them, 1 / 24 of the dome.
    assert!(found.certain <= exact + 1.0 / 24.0, "{found:?}");
    assert!(found.most() >= exact - 1.0 / 24.0, "{found:?}");
    assert!(found.undecided < 0.1, "{found:?}");
}

/// A block with a round bore of radius 2.5 through its top, 26 deep.
pub fn bored(sides: u32) -> Triangles {
    let corner = |quarter: u32| {
        let signs = [(1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)];
        let (x, y) = signs[(quarter % 4) as usize];
        (35.0 * x, 45.0 * y)
    };
    let rim = |side: u32, z: f64| {
        let turn = f64::from(side % sides) / f64::from(sides) * TAU;
        Point3::new(2.5 * turn.cos(), 2.5 * turn.sin(), z)
    };
    let mut all = Vec::new();
    for quarter in 0..4 {
        let ((ax, ay), (bx, by)) = (corner(quarter), corner(quarter + 1));
        let at = |(x, y): (f64, f64), z: f64| Point3::new(x, y, z);
        let [a, b] = [(ax, ay), (bx, by)];
        all.push([at(a, 0.0), at(b, 46.0), at(b, 0.0)].map(|p| p));
        all.push([at(a, 0.0), at(a, 46.0), at(b, 46.0)]);
        all.push([Point3::origin(), at(a, 0.0), at(b, 0.0)].map(|p| p));
        // The corner sees the quarter of the rim about it.
        let from = sides / 4 * quarter;
        all.push([at(a, 46.0), at(b, 46.0), rim(from + sides / 4, 46.0)]);
        for side in from..from + sides / 4 {
            all.push([at(a, 46.0), rim(side + 1, 46.0), rim(side, 46.0)]);
        }
    }
    for side in 0..sides {
        let [a, b] = [rim(side, 20.0), rim(side + 1, 20.0)];
        let [c, d] = [rim(side + 1, 46.0), rim(side, 46.0)];
        all.push([a, c, b]);
        all.push([a, d, c]);
        all.push([Point3::new(0.0, 0.0, 20.0), a, b]);
    }
    // The plan above goes round once; faces that it turned in are turned out here.
    all.into_iter().map(outward).collect()
}

/// Turned so that the block's material lies behind the triangle.
fn outward(t: [Point3<f64>; 3]) -> [Point3<f64>; 3] {
    let normal = (t[1] - t[0]).cross(&(t[2] - t[0]));
    let middle = (t[0].coords + t[1].coords + t[2].coords) / 3.0;
    let inside_bore = middle.x.hypot(middle.y) < 2.6 && middle.z > 19.0 && middle.z < 46.0;
    let out = if inside_bore && middle.z > 20.1 {
        -nalgebra::Vector3::new(middle.x, middle.y, 0.0)
    } else if inside_bore {
        nalgebra::Vector3::z()
    } else {
        middle - nalgebra::Vector3::new(0.0, 0.0, 23.0)
    };
    if normal.dot(&out) < 0.0 {
        [t[0], t[2], t[1]]
    } else {
        t
    }
}

#[test]
fn bore_under_a_drill_of_its_diameter() {
    let shop = Shop::with_cuts("").mesh("finished.stl", &bored(48));
    let answer = ask(&shop, &[0.0, 1.0, 90.0]);
    let walls = |area: f64| (380.0..420.0).contains(&area);
    let bore = answer.parts[0]
        .faces
        .iter()
        .find(|face| walls(face.area_mm2));
    let bore = bore.expect("the bore is one face of about 2 pi 2.5 26");
    let drill = bore.tools.iter().find(|tool| tool.tool == 6).unwrap();
    // The drill's full diameter stays a point length (140 degrees) over the flat bottom.
    let point = 2.5 / 70.0_f64.to_radians().tan();
    assert_share(drill.worst, (26.0 - point) / 26.0, 0.05);
    let best = drill.seats[0].best.as_ref().unwrap();
    assert_eq!(best.index_deg, 0.0);
    let reasons = best.reasons.iter().map(|told| told.reason.clone());
    assert_eq!(reasons.collect::<Vec<_>>(), [Reason::PointMeetsBottom]);
    // Aligned at one angle only: a bore's band has no width.
    assert_eq!(drill.seats[0].indexes.len(), 1);
}

#[test]
fn a_larger_holder_never_raises_a_share() {
    let pocket = pocketed([20.0, 15.0], 10.0);
    let with = |diameter: u32| {
        let shop = Shop::with_cuts("")
            .add("tools.toml", MORE_TOOLS)
            .mesh("finished.stl", &pocket)
            .change(
                "tools.toml",
                "holder = [{ diameter = 44, height = 80 }]",
                &format!("holder = [{{ diameter = {diameter}, height = 80 }}]"),
            );
        ask(&shop, &[0.0])
    };
    let (small, large) = (with(20), with(60));
    let mut less = 0;
    for (a, b) in small.parts[0].faces.iter().zip(&large.parts[0].faces) {
        let of = |face: &lapidary::answer::reach::model::FaceReach| {
            face.tools
                .iter()
                .find(|tool| tool.tool == 21)
                .unwrap()
                .worst
        };
        assert!(of(b).certain <= of(a).most() + 1e-9, "{}", a.face);
        less += usize::from(of(b).most() < of(a).certain);
    }
    assert!(less > 0, "the larger holder must cost something here");
}

#[test]
fn the_next_side_a_quarter_turn_on_is_the_same() {
    let pocket = pocketed([20.0, 15.0], 30.0);
    let on_side = |side: u32| {
        Shop::with_cuts("").mesh("finished.stl", &pocket).change(
            "job.toml",
            "sides = [1]",
            &format!("sides = [{side}]"),
        )
    };
    let first = ask(&on_side(1), &[0.0]);
    let others = [90.0, 270.0].map(|index_deg| ask(&on_side(2), &[index_deg]));
    let shares = |answer: &ReachAnswer| -> Vec<Share> {
        let faces = answer.parts[0].faces.iter();
        faces.map(|face| face.tools[0].worst).collect()
    };
    let same = others
        .iter()
        .filter(|other| shares(other) == shares(&first));
    assert_eq!(
        same.count(),
        1,
        "one of the two quarter turns faces the spindle"
    );
}

#[test]
fn threads_change_nothing() {
    let shop = Shop::with_cuts("").mesh("finished.stl", &pocketed([20.0, 15.0], 30.0));
    let with = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        pool.unwrap().install(|| ask(&shop, &[0.0, 45.0, 90.0]))
    };
    assert_eq!(with(1), with(2));
}

#[test]
fn no_sense_is_unknown() {
    let shop = Shop::with_cuts("").change("machine.toml", "sense = \"iso-841\"\n", "");
    let answer = ask(&shop, &[0.0]);
    assert!(!answer.sense_declared && answer.parts.is_empty());
}

#[test]
fn what_looks_away_says_so() {
    let shop = Shop::with_cuts("").mesh("finished.stl", &pocketed([20.0, 15.0], 30.0));
    let answer = ask(&shop, &[0.0]);
    let bottom = answer.parts[0]
        .faces
        .iter()
        .find(|face| about(6300.0)(face.area_mm2));
    let tool = &bottom.unwrap().tools[0];
    assert_eq!(tool.worst.most(), 0.0);
    assert_eq!(tool.seats[0].reason, Some(Reason::FacingAway));
}
