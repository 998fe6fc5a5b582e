//! The first job of the README: loads without a word and is clear, as written there.

use assert_cmd::Command;
use lapidary::setup::load;
use predicates::str::{contains, is_empty, starts_with};
use std::fmt::Write;
use std::path::{Path, PathBuf};
use tempfile::TempDir;

/// The one TOML block of the README, without the indent of its list item.
fn first_job() -> String {
    let readme = include_str!("../README.md");
    let blocks: Vec<&str> = readme.split("```toml\n").skip(1).collect();
    assert_eq!(blocks.len(), 1);
    let block = blocks[0].split("```").next().unwrap_or_default();
    let lines = block
        .lines()
        .map(|line| line.strip_prefix("   ").unwrap_or(line));
    lines.collect::<Vec<_>>().join("\n").trim_end().to_owned() + "\n"
}

/// An upright box as ASCII STL.
fn box_stl(low: [f64; 3], high: [f64; 3]) -> String {
    let corner = |bits: usize| [0, 1, 2].map(|axis| [low, high][bits >> axis & 1][axis]);
    let faces = [
        [0, 2, 3, 1],
        [4, 5, 7, 6],
        [0, 1, 5, 4],
        [2, 6, 7, 3],
        [0, 4, 6, 2],
        [1, 3, 7, 5],
    ];
    let mut text = String::from("solid box\n");
    for [a, b, c, d] in faces {
        for triangle in [[a, b, c], [a, c, d]] {
            text.push_str("facet normal 0 0 0\nouter loop\n");
            for [x, y, z] in triangle.map(corner) {
                writeln!(text, "vertex {x} {y} {z}").expect("a string takes all text");
            }
            text.push_str("endloop\nendfacet\n");
        }
    }
    text + "endsolid box\n"
}

fn folder() -> (TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let job = folder.path().join("job.toml");
    let bracket = box_stl([-30.0, -20.0, 0.0], [30.0, 20.0, 30.0]);
    std::fs::write(folder.path().join("bracket.stl"), bracket).expect("a mesh");
    std::fs::write(&job, first_job()).expect("a job");
    (folder, job)
}

fn check(job: &Path) -> Command {
    let mut command = Command::new(assert_cmd::cargo::cargo_bin!("lapidary"));
    command.arg("check").arg(job);
    command
}

#[test]
fn the_first_job_loads_without_a_word() {
    let (_folder, job) = folder();
    let loaded = load(&job, &|path: &Path| std::fs::read(path)).unwrap();
    assert_eq!(loaded.warnings, []);
    assert_eq!(loaded.setup.seats.len(), 8);
    let part = &loaded.setup.parts[0];
    assert_eq!(part.states[1].mesh.shells[0].volume_mm3, 60.0 * 40.0 * 30.0);
    assert_eq!(part.states[0].mesh.shells[0].volume_mm3, 60.0 * 40.0 * 32.0);
}

#[test]
fn the_first_job_is_clear() {
    let (_folder, job) = folder();
    let clear = check(&job).assert().code(0).stderr(is_empty());
    clear.stdout(starts_with(". clear: no trouble; 8 of 8 "));
}

#[test]
fn a_report_file_holds_what_standard_output_shows() {
    let (folder, job) = folder();
    for format in ["text", "json"] {
        let shown = check(&job).args(["--format", format]).assert().code(0);
        let path = folder.path().join("report");
        let filed = check(&job)
            .args(["--format", format, "--threads", "1", "-o"])
            .arg(&path)
            .assert();
        filed.code(0).stdout(is_empty()).stderr(is_empty());
        assert_eq!(std::fs::read(&path).unwrap(), shown.get_output().stdout);
    }
    // The job, its mesh and the report; no temporary file.
    assert_eq!(folder.path().read_dir().unwrap().count(), 3);
}

#[test]
fn a_choice_that_fits_nothing_is_bad_input() {
    let (folder, job) = folder();
    let report = folder.path().join("report");
    for choice in [
        ["--cut", "bottom"],
        ["--seat", "9.9"],
        ["--tool", "7"],
        ["--index", "45"],
    ] {
        let wrong = check(&job)
            .args(choice)
            .arg("-o")
            .arg(&report)
            .assert()
            .code(2);
        wrong.stdout(is_empty()).stderr(starts_with("error: "));
        assert!(!report.exists());
    }
}

#[test]
fn an_output_that_cannot_be_written_is_told_before_the_check() {
    let (_folder, job) = folder();
    let wrong = check(&job)
        .args(["-o", "no/such/folder/r.txt"])
        .assert()
        .code(2);
    wrong
        .stdout(is_empty())
        .stderr(contains("cannot be written"));
    let wrong = check(&job).arg("-o").arg(&job).assert().code(2);
    wrong
        .stdout(is_empty())
        .stderr(contains("is a file of the job"));
    assert_eq!(std::fs::read_to_string(&job).unwrap(), first_job());
}

#[test]
fn the_json_report_fits_its_printed_schema() {
    let (_folder, job) = folder();
    let json = check(&job).args(["--format", "json"]).assert().code(0);
    let mut schema = Command::new(assert_cmd::cargo::cargo_bin!("lapidary"));
    let schema = schema.args(["schema", "check"]).assert().code(0);
    let parsed = |bytes: &[u8]| serde_json::from_slice::<serde_json::Value>(bytes).unwrap();
    let validator = jsonschema::validator_for(&parsed(&schema.get_output().stdout)).unwrap();
    let value = parsed(&json.get_output().stdout);
    let faults: Vec<_> = validator
        .iter_errors(&value)
        .map(|fault| fault.to_string())
        .collect();
    assert_eq!(faults, [""; 0]);
    assert_eq!(value["answer"]["verdict"], "clear");
    assert_eq!(value["answer"]["cuts"].as_array().unwrap().len(), 8);
}
