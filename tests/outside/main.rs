//! The gap engine against reference libraries.
//!
//! `reference/` holds cases with values of coal 3.0.3 (distance of triangle meshes, python-fcl
//! 0.7.0.11 as a third vote), manifold3d 3.5.4 (solids: 0 when contained) and, for solids of
//! revolution, 256-sided prisms in and round them. `make_reference.py` made them. The answers go
//! to `target/outside/answers.json`, for `live.py` to compare with the libraries anew.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on must say where"
)]

mod bodies;
mod brep;
mod crossings;
mod known;
mod motion;
mod rest;
mod section;
mod tip;

use std::path::{Path, PathBuf};

/// The folder of the package.
pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// A committed reference file as JSON.
pub fn reference(name: &str) -> serde_json::Value {
    let path = root().join("tests/outside/reference").join(name);
    let text = std::fs::read_to_string(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    serde_json::from_str(&text).unwrap()
}

/// The cases of several files, one after the other.
pub fn references(names: &[&str]) -> Vec<serde_json::Value> {
    let list = |name: &&str| match reference(name) {
        serde_json::Value::Array(rows) => rows,
        other => panic!("{name} is no list: {other}"),
    };
    names.iter().flat_map(list).collect()
}

/// Writes answers of one kind, one a line: `[lo, hi, decided, contained]`, null where skipped.
pub fn write_answers(name: &str, rows: &[Option<lapidary::gap::Gap>]) {
    let lines: Vec<String> = rows
        .iter()
        .map(|row| row.as_ref().map_or("null".into(), line))
        .collect();
    let folder = root().join("target/outside");
    std::fs::create_dir_all(&folder).unwrap();
    write(
        &folder.join(name),
        &format!("[\n{}\n]\n", lines.join(",\n")),
    );
}

fn line(gap: &lapidary::gap::Gap) -> String {
    // JSON has no infinity; no case here has a cap.
    assert!(gap.lo_mm.is_finite() && gap.hi_mm.is_finite());
    serde_json::json!([gap.lo_mm, gap.hi_mm, gap.decided, gap.contained.is_some()]).to_string()
}

fn write(path: &Path, text: &str) {
    std::fs::write(path, text).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
}
