//! Columns side by side, a free patch smaller than any spacing, and one radius for cutter, fillet and
//! bore.

use super::bodies::{block, circle, rounded};
use super::lab::{Mill, Shares, Triangles, asked, of_area, share_at, shop};
use super::shop::cuboid;
use nalgebra::Point3;
use std::f64::consts::{FRAC_PI_2, PI, TAU};

/// A base 70 x 90 with a column on either side of a strip `width` wide along y, 20 up.
pub fn columns(width: f64) -> Triangles {
    let half = 0.5 * width;
    let profile = [
        [-35.0, 0.0],
        [35.0, 0.0],
        [35.0, 46.0],
        [half, 46.0],
        [half, 26.0],
        [-half, 26.0],
        [-half, 46.0],
        [-35.0, 46.0],
    ];
    let caps = [
        [0, 1, 4],
        [0, 4, 5],
        [1, 2, 3],
        [1, 3, 4],
        [0, 5, 6],
        [0, 6, 7],
    ];
    super::bodies::extruded(&profile, &caps, 90.0)
        .into_iter()
        .map(|triangle| triangle.map(|p| Point3::new(p.x, p.y - 45.0, p.z)))
        .collect()
}

/// The strip is open at both ends.
///
/// An end mill narrower than it, or as wide, covers all of it. A wider one stands before the ends, as
/// near as the two corners let it: it covers a segment of its circle over the chord `w` at each end,
/// `R^2 asin(w / 2 R) - (w / 2) sqrt(R^2 - w^2 / 4)`. A ball touches with its lowest point: `(w - D) / w`,
/// and nothing where it is wider. Source: own derivation.
#[test]
fn strip_between_two_columns() {
    let mut shares = Shares::default();
    for width in [10.0, 12.0, 14.5] {
        let mills = [
            Mill::slim(31, "end-mill", 8.0),
            Mill::slim(32, "end-mill", 12.0),
            Mill::slim(33, "end-mill", 20.0),
            Mill::slim(34, "ball-mill", 8.0),
            Mill::slim(35, "ball-mill", 16.0),
        ];
        let answer = asked(
            &shop(&mills, &columns(width)),
            &[31, 32, 33, 34, 35],
            &[0.0],
            0.25,
        );
        let end_mill = |diameter: f64| {
            let (radius, half) = (0.5 * diameter, 0.5 * width);
            if diameter <= width {
                return 1.0;
            }
            let triangle = half * (radius * radius - half * half).sqrt();
            2.0 * (radius * radius * (half / radius).asin() - triangle) / (width * 90.0)
        };
        for (tool, exact) in [
            (31, end_mill(8.0)),
            (32, end_mill(12.0)),
            (33, end_mill(20.0)),
            (34, (width - 8.0) / width),
            (35, 0.0),
        ] {
            let found = share_at(&answer, tool, 0.0, of_area(width * 90.0));
            shares.within(found, exact, 0.003, 0.08, &format!("{width}, mill {tool}"));
        }
    }
    shares.done();
}

/// A pad 6 x 6 under a plate with a square opening `opening` wide, with air between.
pub fn under_a_plate(opening: f64) -> Triangles {
    let half = 0.5 * opening;
    let mut solid = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 10.0]);
    solid.extend(cuboid([-3.0, -3.0, 9.0], [3.0, 3.0, 20.0]));
    for (low, high) in [
        ([-35.0, -45.0], [-half, 45.0]),
        ([half, -45.0], [35.0, 45.0]),
        ([-half, -45.0], [half, -half]),
        ([-half, half], [half, 45.0]),
    ] {
        solid.extend(cuboid([low[0], low[1], 30.0], [high[0], high[1], 40.0]));
    }
    solid
}

/// The opening is 0.3 wider than the mill: tips are free in a square of 0.3 alone, 0.32 with the
/// gouge tolerance. A ball touches the pad at these and nowhere else: 0.09 / 36 of it. The end of an
/// end mill, wider than the pad, touches all of it.
#[test]
fn a_free_patch_of_three_tenths_is_found() {
    let mills = [
        Mill::slim(31, "ball-mill", 10.0),
        Mill::slim(32, "end-mill", 10.0),
    ];
    let part = under_a_plate(10.3);
    let shop = shop(&mills, &part);
    let (least, most) = (0.3 * 0.3 / 36.0, 0.32 * 0.32 / 36.0);
    for grain_mm in [0.04, 0.25, 4.0] {
        let answer = asked(&shop, &[31, 32], &[0.0], grain_mm);
        let pad = of_area(36.0);
        let top = |face: &lapidary::answer::reach::model::FaceReach| {
            pad(face) && face.tools.iter().any(|tool| tool.worst.most() > 0.0)
        };
        let ball = share_at(&answer, 31, 0.0, top);
        assert!(
            ball.certain <= most * 1.001 && ball.most() >= least,
            "grain {grain_mm}: {least} to {most}, {ball:?}"
        );
        if grain_mm < 0.1 {
            assert!(ball.certain > 0.0 && ball.undecided < 0.02, "{ball:?}");
        }
        let end = share_at(&answer, 32, 0.0, top);
        assert!(end.most() > 0.999, "grain {grain_mm}: {end:?}");
        if grain_mm < 0.1 {
            assert!(end.certain > 0.9, "{end:?}");
        }
    }
    // An opening a little narrower than the mill lets nothing through.
    let narrow = self::shop(&mills, &under_a_plate(9.96));
    let answer = asked(&narrow, &[31, 32], &[0.0], 0.25);
    for tool in [31, 32] {
        let found = share_at(&answer, tool, 0.0, of_area(36.0));
        assert_eq!(found.certain, 0.0, "mill {tool}: {found:?}");
    }
}

/// An end mill as large as the fillets of a pocket and as a blind bore of one part reaches all of both:
/// floors, straight walls, fillets, and the bore's wall; one a size larger leaves the fillets and the
/// whole bore. Facets of 2.8 degrees stand 0.0024 off the true circle, within the gouge tolerance.
#[test]
fn cutter_fillet_and_bore_of_one_radius() {
    let mut shares = Shares::default();
    let radius = 8.0;
    let pocket = rounded([16.0, 40.0], [24.0, 50.0], radius, 32);
    let mut solid = block([32.0, 80.0], 46.0, pocket, 20.0);
    let bore = block([32.0, 80.0], 46.0, circle([16.0, 40.0], radius, 128), 20.0);
    let shifted =
        |t: [Point3<f64>; 3], x: f64| t.map(|p| Point3::new(p.x + x, p.y - 40.0, p.z + 46.0));
    solid = solid.into_iter().map(|t| shifted(t, -33.0)).collect();
    solid.extend(bore.into_iter().map(|t| shifted(t, 1.0)));
    let mills = [
        Mill::slim(31, "end-mill", 16.0),
        Mill::slim(32, "end-mill", 20.0),
    ];
    let answer = asked(&shop(&mills, &solid), &[31, 32], &[0.0], 0.5);
    let about = |area: f64| {
        move |face: &lapidary::answer::reach::model::FaceReach| {
            (face.area_mm2 / area - 1.0).abs() < 0.004
        }
    };
    let fillet = FRAC_PI_2 * radius * 20.0;
    let floor = 24.0 * 50.0 - (4.0 - PI) * radius * radius;
    for (what, area, larger) in [
        ("fillet", fillet, 0.0),
        ("bore", TAU * radius * 20.0, 0.0),
        ("bottom of the bore", PI * radius * radius, 0.0),
        ("floor", floor, (1200.0 - (4.0 - PI) * 100.0) / floor),
        ("wall", 34.0 * 20.0, 30.0 / 34.0),
    ] {
        let found = share_at(&answer, 31, 0.0, about(area));
        shares.within(found, 1.0, 1e-9, 0.03, what);
        let found = share_at(&answer, 32, 0.0, about(area));
        shares.within(found, larger, 0.003, 0.09, what);
    }
    shares.done();
}
