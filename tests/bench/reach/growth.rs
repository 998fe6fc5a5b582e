//! How the time of `reach` grows with tools and with triangles.

#[path = "../tip/part.rs"]
#[allow(dead_code, reason = "the part of another bench, without its tools")]
mod part;

use super::timed;
use lapidary::answer::reach::ReachOptions;
use lapidary::setup::model::Setup;
use std::sync::Arc;

/// Every eighth turn, one seat.
fn few(tools: Vec<u32>) -> ReachOptions {
    ReachOptions {
        indexes_deg: (0..8).map(|eighth| f64::from(eighth) * 45.0).collect(),
        seats: vec!["1.1".to_owned()],
        tools,
        ..ReachOptions::default()
    }
}

/// One tool more each time.
pub fn tools(demo: &Setup) {
    let numbers: Vec<u32> = demo.tools.iter().map(|tool| tool.number).collect();
    for count in 1..=numbers.len() {
        let asked = numbers[..count].to_vec();
        let (answer, clock_s, used_s) = timed(demo, &few(asked));
        let last = numbers[count - 1];
        println!(
            "{} tools, up to T{last}: {clock_s:.2} s, processor {used_s:.2} s",
            answer.tools.len(),
        );
    }
}

/// The same form in 10 thousand, 100 thousand and a million triangles, in place of the demo's part.
pub fn triangles() {
    for fine_mm in [2.4, 0.745, 0.2345] {
        let mut setup = super::demo();
        let mesh = Arc::new(part::housing(fine_mm));
        let count = mesh.triangles.len();
        for state in &mut setup.parts[0].states {
            state.mesh = Arc::clone(&mesh);
        }
        for tools in [vec![2], vec![2, 3, 5]] {
            let asked = tools.len();
            let (answer, clock_s, used_s) = timed(&setup, &few(tools));
            let faces = answer.parts[0].faces.len();
            println!(
                "{count} triangles, {faces} faces, {asked} tools, 8 indexes: {clock_s:.2} s, \
                 processor {used_s:.2} s"
            );
        }
    }
}
