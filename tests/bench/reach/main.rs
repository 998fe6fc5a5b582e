//! Measures `reach`: the demo's whole map beside queries of the library coal, and the growth with
//! tools and triangles.
//!
//! `cargo bench --bench reach -- --python PATH` with a Python that has `coal` (3.0.3) and `numpy`;
//! `--only map`, `--only tools` or `--only triangles` for a part of it; `--every DEG` for fewer
//! indexes. Processor time is what Linux tells.

#[path = "../clock.rs"]
mod clock;
mod growth;
mod sample;
#[path = "../gap/scene.rs"]
#[allow(dead_code, reason = "the scene of another bench; here only its solids")]
mod scene;

use clock::processor_seconds;
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::ReachAnswer;
use lapidary::answer::reach::{ReachOptions, reach};
use lapidary::setup::load;
use lapidary::setup::model::Setup;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::Instant;

/// Pieces that coal is asked about.
const SAMPLE: usize = 1_000;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let option = |name: &str| {
        let at = arguments.iter().position(|argument| argument == name)?;
        arguments.get(at + 1).cloned()
    };
    let only = option("--only");
    let wanted = |part: &str| only.as_deref().is_none_or(|only| only == part);
    let every_deg = option("--every").and_then(|every| every.parse().ok());
    let whole = ReachOptions {
        every_deg: every_deg.unwrap_or(5.0),
        ..ReachOptions::default()
    };
    // All pieces are of one grain, so that a sample of them stands for them.
    let one_grain = ReachOptions {
        halvings: 0,
        ..whole.clone()
    };
    if wanted("tools") {
        growth::tools(&demo());
    }
    if wanted("triangles") {
        growth::triangles();
    }
    if wanted("map") {
        map(&one_grain, option("--python").as_deref());
        let (_, clock_s, used_s) = timed(&demo(), &whole);
        println!(
            "the same with finer grain where it may decide: {clock_s:.1} s, processor {used_s:.1} s"
        );
    }
}

fn demo() -> Setup {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-models/horizontal.toml");
    let read = |path: &Path| fs::read(path);
    load(&job, &read).expect("the demo is sound").setup
}

/// An answer with its time by the clock and by the processor.
fn timed(setup: &Setup, options: &ReachOptions) -> (ReachAnswer, f64, f64) {
    let (begun, used) = (Instant::now(), processor_seconds());
    let answer = reach(setup, options, &Silent, &AtomicBool::new(false)).expect("an answer");
    let clock_s = begun.elapsed().as_secs_f64();
    (answer, clock_s, processor_seconds() - used)
}

fn map(options: &ReachOptions, python: Option<&str>) {
    let setup = demo();
    let (answer, clock_s, used_s) = timed(&setup, options);
    let faces: usize = answer.parts.iter().map(|part| part.faces.len()).sum();
    println!(
        "map: {} tools, {} indexes, {faces} faces, {} seats: {clock_s:.1} s, processor {used_s:.1} s",
        answer.tools.len(),
        answer.indexes_deg.len(),
        setup.seats.len(),
    );
    let Some(python) = python else { return };
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("reach-bench");
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("the target folder can be written");
    let size = sample::write(&folder, &setup, &answer.indexes_deg, options, SAMPLE);
    for (what, count) in [
        ("pieces", size.pieces),
        ("squares of the grain", size.squares),
    ] {
        let each_us = used_s * 1e6 / count;
        println!("the map has {count:.3e} {what}; ours {each_us:.2} us of processor time for each");
    }
    let script = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/bench/reach/coal_side.py"
    );
    let status = std::process::Command::new(python)
        .arg(script)
        .arg(&folder)
        .arg(size.pieces.to_string())
        .arg(size.squares.to_string())
        .arg(used_s.to_string())
        .status();
    println!("python: {status:?}");
}
