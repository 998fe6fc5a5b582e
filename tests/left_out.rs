//! What `cargo test --release` leaves out, told by itself: it runs without a display or a driver.

use std::io::Write;
use std::path::Path;

/// What is left out, the command for it, and a file that it needs.
const LEFT_OUT: [[&str; 3]; 2] = [
    [
        "the window's own tests, one with a graphics driver",
        "cargo test --release -p lapidary-viewer",
        "viewer/Cargo.toml",
    ],
    [
        "the window driven by mouse and keys, under Xvfb",
        "python3 tests/window/run.py",
        "tests/window/run.py",
    ],
];

#[test]
fn what_is_left_out_is_told() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let map = std::fs::read_to_string(root.join("DEVELOPERS.md")).unwrap();
    let ci = std::fs::read_to_string(root.join(".ci/run")).unwrap();
    // Written past the capture of the test runner, which shows nothing of a test that holds.
    let mut out = std::io::stderr().lock();
    for [what, command, needed] in LEFT_OUT {
        assert!(root.join(needed).is_file(), "{needed}");
        assert!(map.contains(command), "DEVELOPERS.md lacks {command}");
        let in_ci = command.replace("cargo test", "cargo test --locked");
        assert!(ci.contains(&in_ci), ".ci/run lacks {in_ci}");
        writeln!(out, "left out here: {what}: {command}").unwrap();
    }
}
