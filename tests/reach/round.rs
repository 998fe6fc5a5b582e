//! Hemispheres and cones, standing and hollow, under ball mills and end mills.
//!
//! Facets are inscribed: the edge of what is reached lies within half a row of them, and the formulas
//! are allowed that much. Source of all formulas: own derivation; areas on a sphere by Gauss and
//! Bonnet, checked here against a sum.

use super::bodies::plate;
use super::lab::{Mill, Shares, Triangles, asked, share_at, shop};
use super::models::lathe;
use super::shares::dome;
use super::shop::cuboid;
use lapidary::answer::reach::model::FaceReach;
use nalgebra::{Point3, Vector3};
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// Share of a unit hemisphere about z that lies in the cap of half angle `cap` about z and looks
/// at a spindle that leans by `lean`.
///
/// The cap's rim crosses the great circle of the spindle where `cos = tan(lean)^-1 tan(cap)^-1`;
/// where it does not, all of the cap looks at the spindle.
fn cap_seen(cap: f64, lean: f64) -> f64 {
    if lean + cap <= FRAC_PI_2 {
        return 1.0 - cap.cos();
    }
    // Two caps of half angles `cap` and a right angle, `lean` apart: the general formula with
    // cos(right angle) = 0.
    let corner = (lean.cos() / cap.sin()).acos();
    let arc = (-lean.cos() * cap.cos() / (lean.sin() * cap.sin())).acos();
    (TAU - 2.0 * corner - 2.0 * cap.cos() * arc) / TAU
}

/// The same by a sum over directions.
fn summed(holds: impl Fn(&Vector3<f64>) -> bool, rows: u32) -> f64 {
    let columns = 4 * rows;
    let direction = |row: u32, column: u32| {
        // Rows of equal height have equal areas.
        let z = (f64::from(row) + 0.5) / f64::from(rows);
        let turn = (f64::from(column) + 0.5) / f64::from(columns) * TAU;
        let across = (1.0 - z * z).sqrt();
        Vector3::new(across * turn.cos(), across * turn.sin(), z)
    };
    let all = (0..rows).flat_map(|row| (0..columns).map(move |column| direction(row, column)));
    all.filter(holds).count() as f64 / f64::from(rows * columns)
}

#[test]
fn the_area_of_a_cap_seen_aslant_is_that_of_a_sum() {
    for (cap, lean) in [
        (80.0, 30.0),
        (70.0, 40.0),
        (55.0, 60.0),
        (50.0, 20.0),
        (88.0, 5.0),
    ] {
        let (cap, lean) = (f64::to_radians(cap), f64::to_radians(lean));
        let spindle = Vector3::new(lean.sin(), 0.0, lean.cos());
        let seen = |n: &Vector3<f64>| n.z >= cap.cos() && n.dot(&spindle) >= 0.0;
        let sum = summed(seen, 500);
        assert!(
            (cap_seen(cap, lean) - sum).abs() < 2e-3,
            "{cap} {lean} {sum}"
        );
    }
}

fn block_with(boss: Triangles) -> Triangles {
    let mut solid = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
    solid.extend(boss);
    solid
}

/// The faces of a boss of this foot on the block.
fn on_block(foot_mm2: f64) -> impl Fn(&FaceReach) -> bool {
    move |face| {
        let flat = [3220.0, 4140.0, 6300.0, foot_mm2];
        flat.iter()
            .all(|other| (face.area_mm2 - other).abs() > 0.005 * other)
    }
}

/// A ball of radius `R` whose centre is `rho + R` from the middle of the boss stands on the plane about
/// it where the direction of contact rises by `asin(R / (rho + R))`: what is reached is the cap above,
/// as far as it looks at the spindle. The way out never comes nearer: the boss is convex, and the
/// tool rises from the plane.
#[test]
fn hemisphere_under_balls_smaller_equal_and_larger() {
    let mut shares = Shares::default();
    let rho = 12.0;
    let mills =
        [4.0, 24.0, 32.0].map(|diameter| Mill::slim(diameter as u32, "ball-mill", diameter));
    let part = block_with(dome(rho, 46.0, 32, 96));
    let answer = asked(&shop(&mills, &part), &[4, 24, 32], &[0.0, 40.0], 0.5);
    let half_row = 0.5 * FRAC_PI_2 / 32.0;
    for mill in &mills {
        let radius = 0.5 * mill.diameter_mm;
        let cap = (radius / (rho + radius)).acos();
        for lean in [0.0_f64, 40.0] {
            let exact = cap_seen(cap, lean.to_radians());
            let slack = exact - cap_seen(cap - half_row, lean.to_radians() + half_row);
            let found = share_at(&answer, mill.number, lean, on_block(PI * rho * rho));
            let what = format!("ball {radius} at {lean}");
            shares.within(found, exact, slack + 0.005, 0.06, &what);
        }
    }
    shares.done();
}

/// A plate of 20 x 20 with a hollow of revolution in its top, where the block's top is.
fn hollow(levels: Vec<(f64, f64)>, sides: u32) -> Triangles {
    let moved = |p: Point3<f64>| Point3::new(p.x - 10.0, p.y - 10.0, p.z + 46.0);
    plate(1, 46.0, &[levels], sides)
        .into_iter()
        .map(|triangle| triangle.map(moved))
        .collect()
}

/// Whether a ball with its centre at `from`, and all the way out, keeps out of what is around a
/// hemisphere of radius `rho` in the plane z = 0.
fn goes_out(from: &Vector3<f64>, spindle: &Vector3<f64>, rho: f64, radius: f64) -> bool {
    (0..800).all(|step| {
        let at = from + spindle * (f64::from(step) * 0.04);
        let across = at.xy().norm();
        if at.z < 0.0 {
            at.norm() <= rho - radius + 1e-9
        } else if across < rho {
            (rho - across).hypot(at.z) >= radius - 1e-9
        } else {
            at.z >= radius
        }
    })
}

/// A ball no larger than the hollow touches every place of it with its centre `rho - R` from the
/// middle; one as large with its centre in the middle; a larger one touches the rim alone. Aslant, the
/// ball must look at the place, and the way out must miss the rim: asked for each direction of a
/// sum.
#[test]
fn hollow_hemisphere_under_balls_smaller_equal_and_larger() {
    let mut shares = Shares::default();
    let rho = 8.25;
    let rows = 24;
    let level = |row: u32| {
        let turn = f64::from(row) / f64::from(rows) * FRAC_PI_2;
        (rho * turn.sin(), rho * turn.cos())
    };
    let levels = (0..rows).map(level).chain([(rho, 0.0)]).collect();
    let mills =
        [6.0, 16.5, 20.0].map(|diameter| Mill::slim(30 + diameter as u32, "ball-mill", diameter));
    let part = hollow(levels, 96);
    let lean = 30.0_f64;
    let answer = asked(&shop(&mills, &part), &[36, 46, 50], &[0.0, lean], 1.0);
    // The bottom is nearly as large.
    let bowl = |face: &FaceReach| {
        (face.area_mm2 / (TAU * rho * rho) - 1.0).abs() < 0.01
            && (face.area_mm2 - 400.0).abs() > 0.1
    };
    let spindle = Vector3::new(lean.to_radians().sin(), 0.0, lean.to_radians().cos());
    let small = |n: &Vector3<f64>| {
        // `n` looks up; the place in the hollow is opposite.
        n.dot(&spindle) >= 0.0 && goes_out(&(-n * (rho - 3.0)), &spindle, rho, 3.0)
    };
    let aslant = summed(small, 60);
    assert!((0.2..0.95).contains(&aslant), "{aslant} is no test");
    for (tool, index_deg, exact) in [
        (36, 0.0, 1.0),
        (46, 0.0, 1.0),
        (50, 0.0, 0.0),
        (36, lean, aslant),
        (46, lean, 0.0),
        (50, lean, 0.0),
    ] {
        let found = share_at(&answer, tool, index_deg, bowl);
        let what = format!("ball {tool} at {index_deg}");
        // One tip alone is free for the equal one, to the gouge tolerance.
        let widest = if tool == 46 { 0.7 } else { 0.12 };
        shares.within(found, exact, 0.025, widest, &what);
    }
    shares.done();
}

/// A cone of base radius `a` and height `h`. An end mill touches it with its rim at the height of
/// the place: all of it, to the foot. A ball of radius `R` is `R (1 - n_z)` lower than the place that it
/// touches, `n_z = a / hypot(a, h)`, and stands on the plane below that: `(1 - R (1 - n_z) / h)^2`.
#[test]
fn cone_under_end_mill_and_ball_mill() {
    let mut shares = Shares::default();
    let (a, h) = (14.0, 18.0);
    let cone = lathe(&[(0.0, 46.0), (a, 46.0), (0.0, 46.0 + h)], 96);
    let cone: Triangles = cone.into_iter().map(|t| t.map(Point3::from)).collect();
    let mills = [
        Mill::slim(31, "end-mill", 12.0),
        Mill::slim(32, "ball-mill", 6.0),
        Mill::slim(33, "ball-mill", 24.0),
    ];
    let answer = asked(
        &shop(&mills, &block_with(cone)),
        &[31, 32, 33],
        &[0.0],
        0.12,
    );
    let ball = |radius: f64| (1.0 - radius * (1.0 - a / a.hypot(h)) / h).powi(2);
    for (tool, exact) in [(31, 1.0), (32, ball(3.0)), (33, ball(12.0))] {
        let found = share_at(&answer, tool, 0.0, on_block(PI * a * a));
        shares.within(found, exact, 0.01, 0.12, &format!("mill {tool}"));
    }
    shares.done();
}

/// A hollow cone of radius `a` at its mouth and `h` deep. The end of an end mill fits from where the
/// hollow is as wide as it: `1 - (R / a)^2`. A ball touches `R h / hypot(a, h)` off the axis at least:
/// `1 - (R h / (a hypot(a, h)))^2`. Larger ones touch the rim alone.
#[test]
fn hollow_cone_under_end_mill_and_ball_mill() {
    let mut shares = Shares::default();
    let (a, h) = (9.0, 12.0);
    let mills = [
        Mill::slim(31, "end-mill", 8.0),
        Mill::slim(32, "end-mill", 20.0),
        Mill::slim(33, "ball-mill", 8.0),
        Mill::slim(34, "ball-mill", 26.0),
    ];
    let part = hollow(vec![(0.0, a), (h, 0.0)], 96);
    let answer = asked(&shop(&mills, &part), &[31, 32, 33, 34], &[0.0], 0.12);
    let side = PI * a * a.hypot(h);
    // The bottom is nearly as large.
    let bowl = |face: &FaceReach| {
        (face.area_mm2 / side - 1.0).abs() < 0.01 && (face.area_mm2 - 400.0).abs() > 0.1
    };
    let ball = |radius: f64| 1.0 - (radius * h / (a * a.hypot(h))).min(1.0).powi(2);
    for (tool, exact) in [
        (31, 1.0 - (4.0_f64 / a).powi(2)),
        (32, 0.0),
        (33, ball(4.0)),
        (34, ball(13.0)),
    ] {
        let found = share_at(&answer, tool, 0.0, bowl);
        shares.within(found, exact, 0.01, 0.17, &format!("mill {tool}"));
    }
    shares.done();
}
