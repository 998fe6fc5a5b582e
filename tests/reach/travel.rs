//! Axis travel against closed forms, and faces that are asked more finely where that decides them.

use super::lab::{Mill, of_area, shop};
use super::shop::{Shop, cuboid};
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::{Reason, Share};
use lapidary::answer::reach::{ReachOptions, reach};
use std::sync::atomic::AtomicBool;

/// Top of the block: 70 in X about 0, 90 in Y.
const TOP_MM2: f64 = 70.0 * 90.0;

/// Height of the tool's gauge line where the tip stands on the top, at Z 136: stick-out and holder.
const GAUGE_MM: f64 = 136.0 + 90.0 + 60.0;

/// The spindle's gauge line at Z 0.
const HOME_MM: f64 = 710.0;

/// A block from -35 of X on under one mill, with one axis limited otherwise.
fn limited(mill: &Mill, old: &str, new: &str) -> Shop {
    limited_from(-35.0, mill, old, new)
}

/// The same from another place of X on.
fn limited_from(left_mm: f64, mill: &Mill, old: &str, new: &str) -> Shop {
    let block = cuboid([left_mm, -45.0, 0.0], [left_mm + 70.0, 45.0, 46.0]);
    shop(std::slice::from_ref(mill), &block).change("machine.toml", old, new)
}

/// What is found of the top: its share, and the main reason why the rest is not reached.
fn top(shop: &Shop, options: ReachOptions) -> (Share, Option<Reason>) {
    let loaded = shop.load();
    let loaded = loaded.unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let options = ReachOptions {
        indexes_deg: vec![0.0],
        tools: vec![21],
        ..options
    };
    let answer = reach(&loaded.setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
    let faces = answer.parts[0].faces.iter();
    let of_area = faces.filter(|face| of_area(TOP_MM2)(face));
    let seats = of_area.map(|face| &face.tools[0].seats[0]);
    // The bottom is as large.
    let mut up = seats.filter(|seat| seat.reason != Some(Reason::FacingAway));
    let seat = up.next().expect("the top is a face");
    let share = seat.best.as_ref().map_or(Share::NONE, |best| best.share);
    (share, seat.reason.clone())
}

fn at_grain(grain_mm: f64) -> ReachOptions {
    ReachOptions {
        grain_mm,
        halvings: 0,
        ..ReachOptions::default()
    }
}

fn short_of(axis: &str) -> Option<Reason> {
    Some(Reason::ShortOfTravel {
        axis: axis.to_owned(),
    })
}

/// The tip stands on the top at `136 + gauge length - 710` of Z. A flat end may stand on a place in
/// many ways; short of Z it is in all of them.
#[test]
fn a_top_below_the_travel_of_z() {
    let lowest_mm = GAUGE_MM - HOME_MM;
    for kind in ["end-mill", "ball-mill"] {
        let mill = Mill::slim(21, kind, 10.0);
        let limited = |low_mm: f64| {
            limited(
                &mill,
                "limits = [-560, 0]",
                &format!("limits = [{low_mm:?}, 0]"),
            )
        };
        let (share, reason) = top(&limited(lowest_mm + 0.5), at_grain(4.0));
        assert_eq!((share, reason), (Share::NONE, short_of("Z")), "{kind}");
        let (share, _) = top(&limited(lowest_mm - 0.5), at_grain(4.0));
        assert!(share.certain > 0.999, "{kind}: {share:?}");
    }
}

/// X counts the tool's way over the work, whatever moves: tips come as far as X -20. A flat end of radius 5 reaches 5 farther, a ball
/// does not, nor does a corner radius of 1 more than its flat of 4.
#[test]
fn a_top_beyond_the_travel_of_x() {
    for (kind, more, beyond_mm) in [
        ("end-mill", "", 5.0),
        ("ball-mill", "", 0.0),
        ("corner-radius-mill", "RE = 1.0", 4.0),
    ] {
        let mill = Mill {
            more,
            ..Mill::slim(21, kind, 10.0)
        };
        // Of a block up to -22 every tip over the top itself is beyond.
        for left_mm in [-35.0_f64, -92.0] {
            let (old, new) = ("limits = [-280, 280]", "limits = [-20, 280]");
            let limited = limited_from(left_mm, &mill, old, new);
            let exact = ((left_mm + 70.0 + 20.0 + beyond_mm) / 70.0).max(0.0);
            let (share, reason) = top(&limited, at_grain(0.5));
            let what = format!("{kind} from {left_mm}: {share:?} for {exact}");
            let holds = share.certain <= exact + 1e-9 && exact <= share.most() + 1e-9;
            assert!(holds && share.undecided < 0.03, "{what}");
            assert_eq!(reason, short_of("X"), "{what}");
        }
    }
}

/// As above with a flat end, 60 of 70 reached. Whether it is 0.84 cannot be told at a coarse grain; with
/// halvings it can. The finer bracket lies in the coarser one.
#[test]
fn a_face_that_is_not_decided_is_asked_more_finely() {
    let mill = Mill::slim(21, "end-mill", 10.0);
    let limited = limited(&mill, "limits = [-280, 280]", "limits = [-20, 280]");
    let asked = |from_share: f64, halvings: u32| {
        let options = ReachOptions {
            from_share,
            halvings,
            ..at_grain(4.0)
        };
        top(&limited, options).0
    };
    let exact = 60.0 / 70.0;
    let coarse = asked(0.84, 0);
    assert!(coarse.certain < 0.84 && coarse.most() > exact, "{coarse:?}");
    for from_share in [0.84, 0.87] {
        let fine = asked(from_share, 6);
        let decided = fine.certain >= from_share || fine.most() < from_share;
        assert!(decided, "{from_share}: {fine:?}");
        assert!(
            fine.certain <= exact + 1e-9 && exact <= fine.most() + 1e-9,
            "{fine:?}"
        );
        assert!(
            fine.certain >= coarse.certain - 1e-9,
            "{fine:?}, {coarse:?}"
        );
        assert!(fine.most() <= coarse.most() + 1e-9, "{fine:?}, {coarse:?}");
    }
    // Where it is decided at the grain it is not asked again.
    assert_eq!(asked(0.5, 6), coarse);
}
