//! Slots: shares of floor and walls as formulas in the slot's and the tool's sizes.
//!
//! A slot `w` wide, `l` long and `d` deep in the middle of a top that goes on around it. `D` is the
//! cutter's diameter, `a` the length of its flutes, `L` its stick-out, `g` the wanted gap.
//!
//! - Floor, nothing else in the way: all but the corners that a round cutter leaves, `(1 - pi / 4) D^2`
//!   together: `1 - (4 - pi) D^2 / (4 w l)`, at `D = w` too.
//! - Floor, holder wider than the slot and `L < d + g`: the holder comes to the top: nothing.
//! - Floor, shank as wide as the flutes and `a < d + g`: the shank keeps `g` from every wall, so that
//!   the floor is that of a slot narrower and shorter by `2 g`; nothing where `w < D + 2 g`.
//! - Walls: a place on a wall is touched highest with the end of the cutter at its own height. Along:
//!   `(l - D) / l`. Up: the highest `min(d, L - g)`, or `min(d, a - g)` with the wide shank.
//!
//! Source: own derivation.

use super::lab::{GAP_MM, Mill, Shares, asked, of_area, share_at, shop};
use super::models::{Random, shifted_seed};
use super::shop::pocketed;
use std::f64::consts::PI;

/// What the gouge tolerance of 0.01 may add: a rim of 0.01 about a corner or at a height.
const GOUGED: f64 = 0.004;

/// Sizes in eighths are the same in the single precision of STL.
fn eighths(random: &mut Random, low: f64, high: f64) -> f64 {
    (random.within(low, high) * 8.0).round() / 8.0
}

struct Slot {
    width_mm: f64,
    length_mm: f64,
    depth_mm: f64,
}

impl Slot {
    fn floor(&self, less_mm: f64, diameter_mm: f64) -> f64 {
        let (w, l) = (
            self.width_mm - 2.0 * less_mm,
            self.length_mm - 2.0 * less_mm,
        );
        if w < diameter_mm {
            return 0.0;
        }
        (w * l - (1.0 - PI / 4.0) * diameter_mm * diameter_mm) / (self.width_mm * self.length_mm)
    }

    fn wall(&self, diameter_mm: f64, high_mm: f64) -> f64 {
        let along = (self.length_mm - diameter_mm) / self.length_mm;
        along * high_mm.clamp(0.0, self.depth_mm) / self.depth_mm
    }
}

/// Long, with a short holder, with a wide shank, as wide as the slot.
fn mills(slot: &Slot, random: &mut Random) -> [Mill; 4] {
    let narrow_mm = loop {
        let mm = eighths(random, 0.5 * slot.width_mm, 0.95 * slot.width_mm);
        // The room for the wide shank is neither next to nothing nor nearly enough.
        let room_mm = slot.width_mm - mm - 2.0 * GAP_MM;
        if !(-2.0..1.0).contains(&room_mm) {
            break mm;
        }
    };
    let long = Mill::slim(21, "end-mill", narrow_mm);
    let short_mm = eighths(random, GAP_MM + 2.0, slot.depth_mm + 1.0);
    let short = Mill {
        number: 22,
        flutes_mm: short_mm - 1.0,
        stick_out_mm: short_mm,
        holder_mm: [slot.width_mm + 20.0, 60.0],
        ..long.clone()
    };
    let flutes_mm = eighths(random, GAP_MM + 2.0, slot.depth_mm + 1.0);
    let wide_shank = Mill {
        number: 23,
        flutes_mm,
        shank_mm: narrow_mm,
        ..long.clone()
    };
    let exact = Mill {
        number: 24,
        diameter_mm: slot.width_mm,
        ..long.clone()
    };
    [long, short, wide_shank, exact]
}

#[test]
fn slots_of_many_sizes() {
    let mut shares = Shares::default();
    let mut random = Random(shifted_seed(31));
    for case in 0..6 {
        let slot = Slot {
            width_mm: eighths(&mut random, 8.0, 24.0),
            length_mm: eighths(&mut random, 34.0, 70.0),
            depth_mm: eighths(&mut random, 8.0, 30.0),
        };
        let Slot {
            width_mm: w,
            length_mm: l,
            depth_mm: d,
        } = slot;
        let mills = mills(&slot, &mut random);
        let part = pocketed([0.5 * w, 0.5 * l], 46.0 - d);
        let answer = asked(&shop(&mills, &part), &[21, 22, 23, 24], &[0.0], 0.25);
        let narrow_mm = mills[0].diameter_mm;
        let (short_mm, flutes_mm) = (mills[1].stick_out_mm, mills[2].flutes_mm);
        let shank_deep = flutes_mm < d + GAP_MM;
        let expected = [
            (21, slot.floor(0.0, narrow_mm), slot.wall(narrow_mm, d)),
            (22, 0.0, slot.wall(narrow_mm, short_mm - GAP_MM)),
            (
                23,
                slot.floor(if shank_deep { GAP_MM } else { 0.0 }, narrow_mm),
                slot.wall(narrow_mm, flutes_mm - GAP_MM),
            ),
            (24, slot.floor(0.0, w), slot.wall(w, d)),
        ];
        for (tool, floor, wall) in expected {
            let what = format!("case {case}, {w} x {l} x {d}, {:?}", mills[tool - 21]);
            let found = |area: f64| share_at(&answer, tool as u32, 0.0, of_area(area));
            shares.within(
                found(w * l),
                floor,
                GOUGED,
                if tool == 23 { 0.17 } else { 0.1 },
                &format!("{what}, floor"),
            );
            shares.within(found(l * d), wall, GOUGED, 0.06, &format!("{what}, wall"));
        }
    }
    shares.done();
}

/// A neck slimmer than the flutes follows them, under a shank wider than the slot that stays over it.
///
/// With LU as the height of the shank's lower end: the floor as with a slim shank where that is `d + g` or more,
/// else nothing; up a wall the highest `min(d, LU - g)`. A neck as wide as the flutes rubs: it keeps its gap.
///
/// Source: own derivation, as above.
#[test]
fn a_neck_follows_under_a_wide_shank() {
    let slot = Slot {
        width_mm: 16.0,
        length_mm: 60.0,
        depth_mm: 20.0,
    };
    let part = pocketed([8.0, 30.0], 26.0);
    let mut shares = Shares::default();
    for (usable, neck, floor, wall_mm) in [
        (23.0, "9.0", slot.floor(0.0, 10.0), 20.0),
        (21.0, "9.0", 0.0, 19.0),
        (12.0, "9.0", 0.0, 10.0),
        (23.0, "10.0", slot.floor(GAP_MM, 10.0), 6.0),
    ] {
        let mill = Mill {
            flutes_mm: 8.0,
            shank_mm: 20.0,
            ..Mill::slim(21, "end-mill", 10.0)
        };
        let shop = shop(&[mill], &part).change(
            "tools.toml",
            "LU = 8.0",
            &format!("LU = {usable:?}\nBD = {neck}"),
        );
        let answer = asked(&shop, &[21], &[0.0], 0.25);
        let found = |area: f64| share_at(&answer, 21, 0.0, of_area(area));
        let what = format!("LU {usable}, neck {neck}");
        let on_floor = found(slot.width_mm * slot.length_mm);
        shares.within(on_floor, floor, GOUGED, 0.11, &format!("{what}, floor"));
        let on_wall = found(slot.length_mm * slot.depth_mm);
        let wall = slot.wall(10.0, wall_mm);
        shares.within(on_wall, wall, GOUGED, 0.06, &format!("{what}, wall"));
    }
    shares.done();
}
