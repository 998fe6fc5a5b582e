//! A part in the shadow of a neighbour on the next side of a four-sided column.
//!
//! The neighbour is a plate that stands out beside the part, 90 off the middle, higher than the holder's
//! face, or the nose, over the part's top. What is `r` in radius and comes that low keeps the wanted
//! gap: tips up to `90 - r - g`. The end of the cutter covers its radius more. The top goes from -35 to
//! 35: `(90 - r - g + R + 35) / 70` of it. Source: own derivation.

use super::lab::{GAP_MM, Mill, Shares, Triangles, asked, share_at, shop};
use super::shop::{Shop, cuboid};
use lapidary::answer::reach::model::{ReachAnswer, Reason, Share};

/// Half the width of the plate on the next side: how high it stands when the first side faces the
/// spindle.
const HIGH_MM: f64 = 250.0;

const NEIGHBOUR: &str = r#"
[[parts]]
name = "plate"
[[parts.states]]
name = "finished"
file = "plate.stl"
chord_allowance = 0

[[seats]]
name = "next"
part = "plate"
sides = [2]
at = [[0, 130]]
clamps = []
"#;

fn block() -> Triangles {
    cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0])
}

fn with_neighbour(shop: Shop) -> Shop {
    let plate = cuboid([-HIGH_MM, -60.0, 0.0], [HIGH_MM, 60.0, 10.0]);
    shop.mesh("plate.stl", &plate).add("job.toml", NEIGHBOUR)
}

/// Share of the top of the block.
fn top(answer: &ReachAnswer, tool: u32) -> Share {
    share_at(answer, tool, 0.0, |face| {
        (face.area_mm2 - 6300.0).abs() < 1e-3
            && face.tools.iter().any(|tool| tool.worst.most() > 0.0)
    })
}

fn main_reason(answer: &ReachAnswer, tool: u32) -> Option<Reason> {
    let top = answer.parts[0].faces.iter().find(|face| {
        (face.area_mm2 - 6300.0).abs() < 1e-3
            && face.tools.iter().any(|tool| tool.worst.most() > 0.0)
    });
    let found = top?.tools.iter().find(|found| found.tool == tool)?;
    found.seats[0].reason.clone()
}

fn named(reason: Option<Reason>) -> [String; 2] {
    match reason {
        Some(Reason::Stopped { element, body } | Reason::Close { element, body }) => {
            [element, body]
        }
        other => panic!("{other:?} names no body"),
    }
}

#[test]
fn the_holder_keeps_off_the_neighbour() {
    let mut shares = Shares::default();
    for (diameter_mm, radius_mm) in [(8.0, 62.0), (16.0, 75.0), (12.0, 88.0)] {
        let mill = Mill {
            stick_out_mm: 70.0,
            holder_mm: [2.0 * radius_mm, 60.0],
            ..Mill::slim(31, "end-mill", diameter_mm)
        };
        let alone = shop(std::slice::from_ref(&mill), &block());
        let free = asked(&alone, &[31], &[0.0], 0.25);
        shares.within(top(&free, 31), 1.0, 0.0, 0.0, "alone");
        let shaded = asked(&with_neighbour(alone), &[31], &[0.0], 0.25);
        let covered_mm = 90.0 - radius_mm - GAP_MM + 0.5 * diameter_mm + 35.0;
        let what = format!("holder of radius {radius_mm}");
        shares.within(
            top(&shaded, 31),
            (covered_mm / 70.0).min(1.0),
            1e-6,
            0.03,
            &what,
        );
        let [element, body] = named(main_reason(&shaded, 31));
        assert!(
            element.contains("holder") && body.contains("plate"),
            "{element}, {body}"
        );
    }
    shares.done();
}

#[test]
fn the_nose_keeps_off_the_neighbour() {
    let mut shares = Shares::default();
    let mill = Mill {
        holder_mm: [20.0, 10.0],
        ..Mill::slim(31, "end-mill", 16.0)
    };
    let wide_nose = |shop: Shop| shop.change("machine.toml", "diameter = 80", "diameter = 156");
    let alone = wide_nose(shop(std::slice::from_ref(&mill), &block()));
    shares.within(
        top(&asked(&alone, &[31], &[0.0], 0.25), 31),
        1.0,
        0.0,
        0.0,
        "alone",
    );
    let shaded = asked(&with_neighbour(alone), &[31], &[0.0], 0.25);
    let exact = (90.0 - 78.0 - GAP_MM + 8.0 + 35.0) / 70.0;
    shares.within(top(&shaded, 31), exact, 1e-6, 0.03, "nose");
    let [element, body] = named(main_reason(&shaded, 31));
    assert!(
        element.contains("nose") && body.contains("plate"),
        "{element}, {body}"
    );
    shares.done();
}

/// The shadow turns with the carrier: on the side from which the plate stands away it is the same by
/// symmetry, and where the plate lies flat behind the part there is none.
#[test]
fn a_neighbour_on_the_far_side_casts_no_shadow() {
    let mut shares = Shares::default();
    let mill = Mill {
        stick_out_mm: 70.0,
        holder_mm: [150.0, 60.0],
        ..Mill::slim(31, "end-mill", 16.0)
    };
    let on_side = |side: u32| {
        let shop = with_neighbour(shop(std::slice::from_ref(&mill), &block()));
        let shop = shop.change("job.toml", "sides = [2]", &format!("sides = [{side}]"));
        top(&asked(&shop, &[31], &[0.0], 0.25), 31)
    };
    let exact = (90.0 - 75.0 - GAP_MM + 8.0 + 35.0) / 70.0;
    for side in [2, 4] {
        shares.within(on_side(side), exact, 1e-6, 0.03, &format!("side {side}"));
    }
    shares.within(on_side(3), 1.0, 0.0, 0.0, "side 3");
    shares.done();
}
