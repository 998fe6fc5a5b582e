//! Stops that have a formula.

use super::*;
use crate::gap::{Freedom, tip_is_free};

/// A large triangle on a plane that rises with x.
fn slope(rise: f64) -> Soup {
    let at = |x: f64, y: f64| Vec3::new(x, y, rise * x);
    vec![[at(-900.0, -900.0), at(900.0, -900.0), at(0.0, 900.0)]]
}

/// A thin upright triangle whose upper edge runs along `y`, `x` off, rising by `rise`.
fn edge(x: f64, rise: f64) -> Soup {
    let at = |y: f64, z: f64| Vec3::new(x, y, z);
    vec![[
        at(-40.0, -40.0 * rise),
        at(40.0, 40.0 * rise),
        at(0.0, -60.0 - 40.0 * rise),
    ]]
}

/// A needle with its tip at a point.
fn needle(tip: Vec3) -> Soup {
    let low = |x: f64, y: f64| tip + Vec3::new(x, y, -50.0);
    vec![[tip, low(0.001, 0.0), low(0.0, 0.001)]]
}

#[test]
fn on_a_slope() {
    for rise in [0.0, 0.2, 1.0, 3.0] {
        let soup = slope(rise);
        let grade = f64::hypot(1.0, rise);
        // A flat end touches with its rim, a ball where its normal is the plane's.
        assert_stop(
            &stop_at(&stack(flat(6.0), 0.0), &soup, [2.0, 1.0]),
            rise * 8.0,
        );
        let of_ball = rise * 2.0 + 6.0 * grade - 6.0;
        assert_stop(&stop_at(&stack(ball(6.0), 0.0), &soup, [2.0, 1.0]), of_ball);
        let of_bull = rise * (2.0 + 4.0) + 2.0 * grade - 2.0;
        assert_stop(
            &stop_at(&stack(bull(6.0, 2.0), 0.0), &soup, [2.0, 1.0]),
            of_bull,
        );
        // A drill of 118 degrees: the tip while the plane is less steep than the point.
        let steep = 1.0 / 59_f64.to_radians().tan();
        let of_drill = rise * 2.0 + 6.0 * (rise - steep).max(0.0);
        assert_stop(
            &stop_at(&stack(drill(6.0, 59.0), 0.0), &soup, [2.0, 1.0]),
            of_drill,
        );
    }
}

#[test]
fn on_a_level_edge() {
    for x in [0.0, 0.5, 3.0, 5.9] {
        let soup = edge(x, 0.0);
        assert_stop(&stop_at(&stack(flat(6.0), 0.0), &soup, [0.0, 3.0]), 0.0);
        let under = |radius: f64, out: f64| radius - (radius * radius - out * out).sqrt();
        assert_stop(
            &stop_at(&stack(ball(6.0), 0.0), &soup, [0.0, 3.0]),
            -under(6.0, x),
        );
        let of_bull = -under(2.0, f64::max(x - 4.0, 0.0));
        assert_stop(
            &stop_at(&stack(bull(6.0, 2.0), 0.0), &soup, [0.0, 3.0]),
            of_bull,
        );
        let of_drill = -x / 59_f64.to_radians().tan();
        assert_stop(
            &stop_at(&stack(drill(6.0, 59.0), 0.0), &soup, [0.0, 3.0]),
            of_drill,
        );
    }
    let beside = stop_at(&stack(ball(6.0), 0.0), &edge(6.001, 0.0), [0.0, 3.0]);
    assert_eq!(beside.hi_mm, f64::NEG_INFINITY);
    assert!(beside.stopped_by.is_none());
}

#[test]
fn on_a_rising_edge() {
    let rise = 0.7;
    for x in [0.0, 1.0, 4.0_f64] {
        let soup = edge(x, rise);
        // The rim: as far along the edge as the disc reaches.
        let of_flat = rise * (36.0 - x * x).sqrt();
        assert_stop(&stop_at(&stack(flat(6.0), 0.0), &soup, [0.0, 0.0]), of_flat);
        // A ball on a line: the section of the ball across it is a circle of radius^2 - x^2.
        let circle = (36.0 - x * x).sqrt();
        let of_ball = circle * f64::hypot(1.0, rise) - 6.0;
        assert_stop(&stop_at(&stack(ball(6.0), 0.0), &soup, [0.0, 0.0]), of_ball);
        // A cone on a line: a hyperbola, z = steep * sqrt(x^2 + y^2).
        let steep = 1.0 / 40_f64.to_radians().tan();
        let of_cone = -x * (steep * steep - rise * rise).sqrt();
        assert_stop(
            &stop_at(&stack(drill(6.0, 40.0), 0.0), &soup, [0.0, 0.0]),
            of_cone,
        );
    }
}

/// A torus on a rising edge is a quartic: compared with a fine search along the edge.
#[test]
fn torus_on_a_rising_edge() {
    for (x, rise) in [(0.0, 0.3), (2.5, 0.7), (4.0, 2.0), (5.5, 0.1), (4.5, 20.0)] {
        let mut best = f64::NEG_INFINITY;
        for step in -600_000..600_000 {
            let y = f64::from(step) * 1e-5;
            let radius = f64::hypot(x, y);
            if radius < 6.0 {
                let out = f64::max(radius - 4.0, 0.0);
                best = best.max(rise * y - 2.0 + (4.0 - out * out).max(0.0).sqrt());
            }
        }
        let stop = stop_at(&stack(bull(6.0, 2.0), 0.0), &edge(x, rise), [0.0, 0.0]);
        assert!(stop.lo_mm >= best - 1e-9, "{x} {rise}: {stop:?} {best}");
        assert!(stop.hi_mm <= best + 1e-3, "{x} {rise}: {stop:?} {best}");
        assert!(stop.hi_mm - stop.lo_mm < 1e-8, "{stop:?}");
    }
}

#[test]
fn on_a_needle() {
    let soup = needle(Vec3::new(3.0, 4.0, 7.0));
    assert_stop(&stop_at(&stack(flat(6.0), 0.0), &soup, [0.0, 0.0]), 7.0);
    assert_stop(
        &stop_at(&stack(ball(6.0), 0.0), &soup, [0.0, 0.0]),
        7.0 - 6.0 + 11_f64.sqrt(),
    );
    let of_bull = 7.0 - 2.0 + 3_f64.sqrt();
    assert_stop(
        &stop_at(&stack(bull(6.0, 2.0), 0.0), &soup, [0.0, 0.0]),
        of_bull,
    );
    let of_drill = 7.0 - 5.0 / 59_f64.to_radians().tan();
    assert_stop(
        &stop_at(&stack(drill(6.0, 59.0), 0.0), &soup, [0.0, 0.0]),
        of_drill,
    );
}

#[test]
fn a_wanted_gap_rounds_the_rim() {
    // A flat end grown by 2 is a bull nose of 2, and stands 2 lower.
    let soup = needle(Vec3::new(7.0, 0.0, 5.0));
    let stop = stop_at(&stack(flat(6.0), 2.0), &soup, [0.0, 0.0]);
    assert_stop(&stop, 5.0 + 3_f64.sqrt());
    let slope = slope(0.5);
    let stop = stop_at(&stack(flat(6.0), 2.0), &slope, [0.0, 0.0]);
    assert_stop(&stop, 0.5 * 6.0 + 2.0 * f64::hypot(1.0, 0.5));
}

#[test]
fn a_gap_below_zero_takes_a_skin_off() {
    let tilted = slope(0.5);
    let grade = f64::hypot(1.0, 0.5);
    let stop = stop_at(&stack(flat(6.0), -0.01), &tilted, [0.0, 0.0]);
    assert_stop(&stop, 0.5 * 5.99 - 0.01);
    let stop = stop_at(&stack(ball(6.0), -0.01), &tilted, [0.0, 0.0]);
    assert_stop(&stop, 6.0 * grade - 6.0 - 0.01 * grade);
    // A drill moves up by more than the skin: its cone moves inward.
    let level = slope(0.0);
    let half = 59_f64.to_radians();
    let stop = stop_at(&stack(drill(6.0, 59.0), -0.01), &level, [0.0, 0.0]);
    assert_stop(&stop, -0.01 / half.sin());
    // A wall that the flutes touch, or enter by less than the skin, does not stop them.
    for x in [6.0, 5.995] {
        let stop = stop_at(&stack(flat(6.0), -0.01), &edge(x, 0.0), [0.0, 0.0]);
        assert_eq!(stop.hi_mm, f64::NEG_INFINITY, "{x}");
    }
    let stop = stop_at(&stack(flat(6.0), -0.01), &edge(5.985, 0.0), [0.0, 0.0]);
    assert_stop(&stop, -0.01);
}

#[test]
fn the_element_that_stops_is_named() {
    let flutes = element(&[flat(3.0)], 0.0);
    let holder = element(&[vec![Ring::disc(10.0, 20.0), Ring::disc(10.0, 50.0)]], 2.0);
    let stack = Stack::new(&[flutes, holder]).unwrap();
    // A post beside the cutter, 25 high, on a floor.
    let mut soup = slope(0.0);
    soup.extend(needle(Vec3::new(8.0, 0.0, 25.0)));
    let land = landscape(&soup);
    let stop = tip_stop(&stack, &land, [0.0, 0.0], 0.0);
    assert_stop(&stop, 25.0 - 18.0);
    let by = stop.stopped_by.unwrap();
    assert_eq!((by.element, by.body, by.triangle), (1, 0, 1));
    let stop = tip_stop(&stack, &land, [-40.0, 0.0], 0.0);
    assert_stop(&stop, 0.0);
    assert_eq!(stop.stopped_by.unwrap().element, 0);
    let tip = |z: f64| tip_is_free(&stack, &land, &Vec3::new(0.0, 0.0, z));
    assert_eq!(tip(7.0 + 1e-6), Freedom::Free);
    assert_eq!(tip(7.0 - 1e-6), Freedom::Stopped(by));
    assert_eq!(tip(-1e5), Freedom::Stopped(by));
    assert_eq!(tip(f64::NAN), Freedom::Undecided);
}

#[test]
fn nothing_below_is_no_stop() {
    let stop = stop_at(&stack(flat(6.0), 0.0), &slope(0.0), [5000.0, 0.0]);
    assert_eq!(
        (stop.lo_mm, stop.hi_mm),
        (f64::NEG_INFINITY, f64::NEG_INFINITY)
    );
    let empty = Landscape::new(&[], &Pose::identity()).unwrap();
    let stop = tip_stop(&stack(flat(6.0), 0.0), &empty, [0.0, 0.0], 0.0);
    assert_eq!(stop.hi_mm, f64::NEG_INFINITY);
    assert!(stop.stopped_by.is_none());
}
