//! Shares of a block with a pocket, under an end mill and under a drill.

use super::shop::{Shop, pocketed};
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::{ReachAnswer, Share};
use lapidary::answer::reach::{ReachOptions, reach};
use std::f64::consts::PI;
use std::sync::atomic::AtomicBool;

fn ask(shop: &Shop, options: &ReachOptions) -> ReachAnswer {
    let loaded = shop.load().unwrap();
    reach(&loaded.setup, options, &Silent, &AtomicBool::new(false)).unwrap()
}

/// Faces of one part by where they lie: area and share of a tool.
fn share(answer: &ReachAnswer, tool: u32, area_mm2: f64) -> Vec<Share> {
    let faces = answer.parts[0].faces.iter();
    let mine = faces.filter(|face| (face.area_mm2 - area_mm2).abs() < 1e-6);
    mine.map(|face| face.tools.iter().find(|t| t.tool == tool).unwrap().worst)
        .collect()
}

/// By how much the gouge tolerance of 0.01 may raise a share of these faces.
const GOUGED: f64 = 0.002;

#[track_caller]
fn assert_share(found: Share, exact: f64, widest: f64) {
    assert!(
        found.certain <= exact + GOUGED && exact <= found.most() + 1e-9,
        "{exact} is not in {found:?}"
    );
    assert!(found.undecided <= widest, "{found:?} is wide");
}

#[test]
fn pocket_floor_lacks_its_corners() {
    let shop = Shop::with_cuts("").mesh("finished.stl", &pocketed([20.0, 15.0], 30.0));
    let options = ReachOptions {
        indexes_deg: vec![0.0],
        ..ReachOptions::default()
    };
    let start = std::time::Instant::now();
    let answer = ask(&shop, &options);
    println!("{:?}", start.elapsed());
    for face in &answer.parts[0].faces {
        for tool in &face.tools {
            println!(
                "{} {:8.1} T{} {:.4} {:.4} {:?}",
                face.face, face.area_mm2, tool.tool, tool.worst.certain, tool.worst.undecided,
                tool.seats[0].reason
            );
        }
    }
    // Flat end of radius 8 in corners of 90 degrees: each corner keeps (1 - pi / 4) R^2. The
    // gouge tolerance of 0.01 lets the cutter as much nearer to each wall.
    let radius = 8.0;
    let exact = 1.0 - (4.0 - PI) * radius * radius / (40.0 * 30.0);
    assert_share(share(&answer, 2, 1200.0)[0], exact, 0.03);
    // A wall is touched from corner radius to corner radius.
    assert_share(share(&answer, 2, 640.0)[0], (40.0 - 16.0) / 40.0, 0.04);
    assert_share(share(&answer, 2, 480.0)[0], (30.0 - 16.0) / 30.0, 0.05);
    // Outside, the shank (as wide as the flutes, from 32 up) must stay 2 over the top at 46.
    assert_share(share(&answer, 2, 3220.0)[0], (46.0 - 16.0) / 46.0, 0.02);
    // The top is flat and free.
    assert_share(share(&answer, 2, 5100.0)[0], 1.0, 0.0);
}
