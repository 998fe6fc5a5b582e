//! Every file of the demo, spoiled in every way: a message that names the file, exit code 2, no
//! panic, no output file.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on must say where"
)]

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

const JOBS: [&str; 4] = [
    "horizontal.toml",
    "horizontal-mended.toml",
    "vertical.toml",
    "vertical-inch.toml",
];

fn demo() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-models")
}

/// A copy of the demo that tests may spoil.
fn copy() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for part in ["", "machines", "tools", "meshes"] {
        let (from, to) = (demo().join(part), folder.path().join(part));
        std::fs::create_dir_all(&to).unwrap();
        for entry in std::fs::read_dir(from).unwrap().map(Result::unwrap) {
            let name = entry.file_name();
            let kept = Path::new(&name)
                .extension()
                .is_some_and(|end| end == "toml" || end == "stl");
            if kept {
                std::fs::copy(entry.path(), to.join(name)).unwrap();
            }
        }
    }
    folder
}

fn check(folder: &Path, job: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_lapidary"))
        .args([
            "check",
            job,
            "--no-lengths",
            "--no-remedies",
            "-o",
            "answer.txt",
        ])
        .current_dir(folder)
        .output()
        .unwrap()
}

/// The job is refused: exit code 2, the gist on standard error, nothing written, no panic.
fn refused(folder: &Path, job: &str, gist: &[&str], what: &str) {
    let output = check(folder, job);
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(2), "{what}: {errors}");
    assert!(!errors.contains("panicked"), "{what}: {errors}");
    for word in gist {
        assert!(errors.contains(word), "{what}: no `{word}` in: {errors}");
    }
    assert!(
        !folder.join("answer.txt").exists(),
        "{what}: an output file was left"
    );
    assert_eq!(output.stdout, b"", "{what}: something on standard output");
}

/// The files that a job is read from, relative to the demo, and the job that reads each.
fn files_of_jobs() -> Vec<(PathBuf, &'static str)> {
    let mut files: Vec<(PathBuf, &'static str)> = Vec::new();
    for job in JOBS {
        let mut texts = vec![PathBuf::from(job)];
        let text = std::fs::read_to_string(demo().join(job)).unwrap();
        for named in quoted(&text).filter(|named| named.ends_with(".toml")) {
            texts.push(PathBuf::from(named));
        }
        for text in texts.clone() {
            let content = std::fs::read_to_string(demo().join(&text)).unwrap();
            for mesh in quoted(&content).filter(|named| named.ends_with(".stl")) {
                texts.push(PathBuf::from("meshes").join(Path::new(mesh).file_name().unwrap()));
            }
        }
        for file in texts {
            if !files.iter().any(|(known, _)| *known == file) {
                files.push((file, job));
            }
        }
    }
    files
}

fn quoted(text: &str) -> impl Iterator<Item = &str> {
    text.split('"').skip(1).step_by(2)
}

/// Bytes without a pattern, the same on every run.
fn noise(count: usize) -> Vec<u8> {
    let mut state = 0x9e37_79b9_7f4a_7c15_u64;
    let mut next = || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        state.to_le_bytes()[3]
    };
    (0..count).map(|_| next()).collect()
}

/// Cut off inside a value, so that what is left cannot be a shorter file that is whole.
fn truncated(bytes: &[u8], is_text: bool) -> Vec<u8> {
    let half = bytes.len() / 2;
    if !is_text {
        return bytes[..half].to_vec();
    }
    let equals = bytes[..half]
        .iter()
        .rposition(|&byte| byte == b'=')
        .unwrap();
    bytes[..=equals].to_vec()
}

#[test]
fn every_file_of_the_demo_truncated_emptied_random_or_gone() {
    let folder = copy();
    let files = files_of_jobs();
    assert!(files.len() >= 20, "{files:?}");
    for (file, job) in files {
        let path = folder.path().join(&file);
        let whole = std::fs::read(&path).unwrap();
        let is_text = file.extension().is_some_and(|end| end == "toml");
        let name = file.file_name().unwrap().to_str().unwrap();
        let spoiled = [
            ("truncated", truncated(&whole, is_text)),
            ("emptied", Vec::new()),
            ("random", noise(5000)),
        ];
        for (how, bytes) in spoiled {
            std::fs::write(&path, bytes).unwrap();
            refused(folder.path(), job, &[name], &format!("{name} {how}"));
        }
        std::fs::remove_file(&path).unwrap();
        refused(folder.path(), job, &[name], &format!("{name} gone"));
        std::fs::write(&path, whole).unwrap();
    }
}

/// Replaces one piece of a file of the demo, once.
fn spoil(folder: &Path, file: &str, from: &str, to: &str) {
    let path = folder.join(file);
    let text = std::fs::read_to_string(&path).unwrap();
    assert!(text.contains(from), "`{from}` is not in {file}");
    std::fs::write(path, text.replacen(from, to, 1)).unwrap();
}

const MACHINE: &str = "machines/horizontal.toml";
const JOB: &str = "horizontal.toml";

/// What is wrong, in which file, the text and what it becomes, and the gist of the message.
const FAULTS: [[&str; 5]; 9] = [
    [
        "missing key",
        MACHINE,
        "gauge_point = [0, 0, 710]",
        "",
        "gauge_point",
    ],
    [
        "unknown key",
        MACHINE,
        "gauge_point =",
        "guage_point =",
        "guage_point",
    ],
    [
        "not a number",
        MACHINE,
        "gauge_point = [0, 0, 710]",
        "gauge_point = [0, 0, nan]",
        "gauge_point",
    ],
    [
        "negative length",
        JOB,
        "length = 440",
        "length = -440",
        "length",
    ],
    [
        "limits swapped",
        MACHINE,
        "limits = [-280, 280]",
        "limits = [280, -280]",
        "limits",
    ],
    [
        "no such file",
        JOB,
        "meshes/clamp.stl",
        "meshes/clump.stl",
        "clump.stl",
    ],
    [
        "no such side",
        JOB,
        "sides = [1, 2, 3, 4]",
        "sides = [1, 2, 3, 5]",
        "5",
    ],
    ["no such tool", JOB, "\ntool = 1\n", "\ntool = 77\n", "77"],
    [
        "wrong format",
        JOB,
        "lapidary/job",
        "lapidary/jab",
        "format",
    ],
];

#[test]
fn each_fault_of_a_text_is_told_with_its_line() {
    for [what, file, from, to, gist] in FAULTS {
        let folder = copy();
        spoil(folder.path(), file, from, to);
        let name = Path::new(file).file_name().unwrap().to_str().unwrap();
        refused(folder.path(), JOB, &[name, gist], what);
        let output = check(folder.path(), JOB);
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        let line = errors
            .lines()
            .find(|line| line.contains(gist) && line.contains(name));
        let numbered = line.is_some_and(|line| {
            line.split(&format!("{name}:"))
                .nth(1)
                .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
        });
        assert!(numbered, "{what}: no line number in: {errors}");
    }
}

#[test]
fn several_faults_of_several_files_are_told_at_once() {
    let folder = copy();
    spoil(
        folder.path(),
        "machines/horizontal.toml",
        "limits = [-280, 280]",
        "limits = [280, -280]",
    );
    spoil(
        folder.path(),
        "horizontal.toml",
        "sides = [1, 2, 3, 4]",
        "sides = [1, 2, 3, 5]",
    );
    std::fs::write(folder.path().join("meshes/clamp.stl"), b"").unwrap();
    refused(
        folder.path(),
        "horizontal.toml",
        &["limits", "5", "clamp.stl"],
        "three faults",
    );
}

#[test]
fn without_a_rotary_sense_everything_is_unknown() {
    let folder = copy();
    spoil(
        folder.path(),
        "machines/horizontal.toml",
        "sense = \"iso-841\"",
        "",
    );
    let output = check(folder.path(), "horizontal.toml");
    assert_eq!(
        output.status.code(),
        Some(3),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let text = std::fs::read_to_string(folder.path().join("answer.txt")).unwrap();
    assert!(text.starts_with("? unknown"), "{text}");
    assert!(text.contains("sense"), "{text}");
}

#[test]
fn a_mesh_in_the_wrong_unit_is_pointed_out() {
    let folder = copy();
    spoil(
        folder.path(),
        "horizontal.toml",
        "meshes/housing-blank.stl\"",
        "meshes/housing-blank.stl\", mesh_units = \"inch\"",
    );
    let output = check(folder.path(), "horizontal.toml");
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(
        errors.contains("25.4") || errors.contains("unit"),
        "{errors}"
    );
    assert_ne!(output.status.code(), Some(0), "{errors}");
}
