//! Measures one million triangles of binary STL in one run: read, weld, shells, tree; time and peak
//! memory.
//!
//! `cargo bench --bench read`. Each measurement is a process of its own that does nothing else, so
//! that its peak is that of the work. The peak is what Linux tells (`VmHWM`); elsewhere it is not
//! measured.

use lapidary::gap::MeshShape;
use lapidary::mesh::solids::{Roundness, revolved};
use lapidary::mesh::{ReadOptions, read_stl, write_stl_binary};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::Arc;
use std::time::Instant;

/// Bytes before the triangles, and of each triangle.
const HEADER: usize = 84;
const RECORD: usize = 50;

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    if let [_, flag, path, ..] = arguments.as_slice()
        && flag == "--one"
    {
        return measure(Path::new(path));
    }
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("read-bench");
    std::fs::create_dir_all(&folder).expect("the target folder can be written");
    let bytes = wavy();
    println!("{} triangles", (bytes.len() - HEADER) / RECORD);
    for (name, bytes) in [("in order", bytes.clone()), ("shuffled", shuffled(&bytes))] {
        let path = folder.join(format!("{}.stl", name.replace(' ', "-")));
        std::fs::write(&path, bytes).expect("the target folder can be written");
        for _ in 0..3 {
            let program = std::env::current_exe().expect("a program knows where it is");
            let run = Command::new(program).arg("--one").arg(&path).output();
            let run = run.expect("the program can start itself");
            print!("{name}: {}", String::from_utf8_lossy(&run.stdout));
        }
    }
}

/// Reads one file and prints a line.
fn measure(path: &Path) {
    let start = Instant::now();
    let bytes = std::fs::read(path).expect("the file is there");
    let from_disk = start.elapsed();
    let read = read_stl(&bytes, &ReadOptions::new(1.0)).expect("the file is sound");
    let welded = start.elapsed();
    let triangles = read.mesh.triangles.len();
    let shape = MeshShape::new(Arc::new(read.mesh)).expect("the mesh is sound");
    let whole = start.elapsed();
    assert!(shape.mesh().shells.len() == 1 && shape.mesh().shells[0].closed);
    println!(
        "{triangles} triangles in {:.0} ms: file {:.0}, weld and shells {:.0}, tree {:.0}; peak {}",
        ms(whole),
        ms(from_disk),
        ms(welded - from_disk),
        ms(whole - welded),
        peak()
    );
}

fn ms(time: std::time::Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

/// The greatest memory that this process has held.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|line| line.trim().trim_end_matches(" kB").parse::<f64>().ok());
    kilobytes.map_or_else(
        || "not measured".to_owned(),
        |kilobytes| format!("{:.0} MB", kilobytes / 1e3),
    )
}

/// A wavy turned body of a million triangles.
fn wavy() -> Vec<u8> {
    let wave = |k: u32| 60.0 + 5.0 * (f64::from(k) * 0.05).sin();
    let profile: Vec<(f64, f64)> = (0..=1000).map(|k| (f64::from(k) * 0.2, wave(k))).collect();
    let mesh = revolved(&profile, 500, Roundness::Inscribed).expect("the profile is sound");
    write_stl_binary(&mesh)
}

/// The same triangles in an order without any sense (a fixed seed).
fn shuffled(bytes: &[u8]) -> Vec<u8> {
    let (header, records) = bytes.split_at(HEADER);
    let mut order: Vec<&[u8]> = records.chunks(RECORD).collect();
    let mut state = 7_u64;
    for last in (1..order.len()).rev() {
        // splitmix64 (Steele, Lea, Flood 2014).
        state = state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = (state ^ (state >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        order.swap(last, ((mixed ^ (mixed >> 31)) % (last as u64 + 1)) as usize);
    }
    let mut whole = header.to_vec();
    order
        .iter()
        .for_each(|record| whole.extend_from_slice(record));
    whole
}
