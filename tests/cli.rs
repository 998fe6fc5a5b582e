//! The real program: arguments, files, exit codes, output whole or not at all.

use assert_cmd::Command;
use predicates::prelude::*;
use predicates::str::{contains, is_empty};

fn lapidary() -> Command {
    Command::new(assert_cmd::cargo::cargo_bin!("lapidary"))
}

#[test]
fn version_and_help_go_to_standard_output() {
    let version = concat!("lapidary ", env!("CARGO_PKG_VERSION"), "\n");
    lapidary()
        .arg("--version")
        .assert()
        .code(0)
        .stdout(version)
        .stderr(is_empty());
    let help = lapidary().args(["check", "--help"]).assert().code(0);
    help.stdout(contains("Exit codes:").and(contains("Examples:")))
        .stderr(is_empty());
}

#[test]
fn wrong_arguments_are_bad_input() {
    for args in [
        &[][..],
        &["polish"],
        &["check"],
        &["check", "job.toml", "--format", "yaml"],
        &["check", "job.toml", "--tool", "three"],
        &["check", "job.toml", "--index", "nan"],
        &["check", "job.toml", "--tolerance", "0"],
        &["check", "job.toml", "--threads", "0"],
        &["check", "job.toml", "--bands-to", "1"],
        &["check", "job.toml", "--face", "flat-3"],
        &["check", "job.toml", "--reached", "steps"],
        &["check", "job.toml", "--reached=some"],
        &["report", "job.toml"],
        &[
            "report",
            "job.toml",
            "-o",
            "page.html",
            "--date",
            "2026-02-29",
        ],
        &["lengths"],
        &["lengths", "job.toml", "--step", "0"],
        &["schema", "part"],
        &["man", "polish"],
    ] {
        let wrong = lapidary().args(args).assert().code(2);
        wrong.stdout(is_empty()).stderr(is_empty().not());
    }
}

#[test]
fn where_tools_reach_goes_with_json() {
    let job = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-models/horizontal.toml");
    let words = ["check", job, "--tool", "3", "--seat", "1.1", "--reached"];
    let text = lapidary().args(words).assert().code(2);
    text.stdout(is_empty())
        .stderr(contains("--format json").and(contains("lapidary reach --bands")));
    let quick = [
        "--no-lengths",
        "--no-remedies",
        "--face",
        "flat-3",
        "--bands-to",
        "5",
    ];
    let json = lapidary()
        .args(words)
        .args(quick)
        .args(["--format", "json"])
        .assert()
        .code(0);
    let told: serde_json::Value = serde_json::from_slice(&json.get_output().stdout).unwrap();
    let face = &told["reached"]["answer"]["parts"][0]["faces"][0];
    assert_eq!(face["face"], "flat-3");
    let bands = |told: &serde_json::Value| {
        told.pointer("/answer/parts/0/faces/0/tools/0/seats/0/bands")
            .cloned()
            .expect("bands")
    };
    let alone = [
        "reach", job, "--tool", "3", "--seat", "1.1", "--index", "0", "--bands",
    ];
    let alone = lapidary()
        .args(alone)
        .args(&quick[2..])
        .args(["--format", "json"])
        .assert()
        .code(0);
    let alone: serde_json::Value = serde_json::from_slice(&alone.get_output().stdout).unwrap();
    assert_eq!(bands(&told["reached"]), bands(&alone));
    assert_ne!(bands(&alone)["undecided_deg"], serde_json::json!([]));
    let schema = lapidary().args(["schema", "check"]).assert().code(0);
    let schema = serde_json::from_slice(&schema.get_output().stdout).unwrap();
    let valid = jsonschema::validator_for(&schema).unwrap().validate(&told);
    assert!(valid.is_ok(), "{valid:?}");
}

/// What narrows a question goes with a question.
#[test]
fn options_that_would_change_nothing_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    let page = page.to_str().unwrap();
    let job = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-models/horizontal.toml");
    let report = ["report", job, "-o", page];
    for (words, told) in [
        (&["--bands-to", "1"][..], "--bands-to goes with"),
        (
            &["--reached=steps", "--bands-to", "1"],
            "--bands-to goes with",
        ),
        (
            &["--reached=none", "--most-faces", "1"],
            "--most-faces and --share go with",
        ),
        (
            &["--reached=none", "--share", "0.5"],
            "--most-faces and --share go with",
        ),
    ] {
        let wrong = lapidary().args(report).args(words).assert().code(2);
        wrong.stdout(is_empty()).stderr(contains(told));
    }
    assert_eq!(folder.path().read_dir().unwrap().count(), 0);
}

/// The JSON of a check, and its page as it is unless told otherwise, beside `reach` itself.
#[test]
fn steps_are_what_reach_finds() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    let job = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-models/horizontal.toml");
    let some = ["--tool", "3", "--seat", "1.1", "--most-faces", "6"];
    let quick = ["--no-lengths", "--no-remedies"];
    let json = |words: &[&str]| -> serde_json::Value {
        let done = lapidary()
            .args(words)
            .args(some)
            .args(["--format", "json"])
            .assert();
        serde_json::from_slice(&done.code(0).get_output().stdout).unwrap()
    };
    let told = json(&["check", job, quick[0], quick[1], "--reached=steps"]);
    let alone = json(&["reach", job, "--every", "15"]);
    assert_eq!(told["reached"]["how"], "steps");
    assert_eq!(told["reached"]["answer"], alone["answer"]);
    assert_eq!(
        alone["answer"]["parts"][0]["faces"]
            .as_array()
            .unwrap()
            .len(),
        6
    );
    let schema = lapidary().args(["schema", "check"]).assert().code(0);
    let schema = serde_json::from_slice(&schema.get_output().stdout).unwrap();
    let valid = jsonschema::validator_for(&schema).unwrap().validate(&told);
    assert!(valid.is_ok(), "{valid:?}");
    let report = lapidary()
        .args(["report", job, "--no-pictures", "-o"])
        .arg(&page)
        .args(quick)
        .args(some)
        .assert();
    report.code(0).stdout(is_empty());
    let page = std::fs::read_to_string(page).unwrap();
    // Every angle of the page that is tagged, as a number, beside the one that stands at its place.
    let tags = page.split("<data value=\"").filter_map(|tag| {
        let (value, rest) = tag.split_once("\" data-at=\"/reached/")?;
        Some((
            value.parse::<f64>().unwrap(),
            format!("/reached/{}", rest.split('"').next()?),
        ))
    });
    let tags: Vec<(f64, String)> = tags.filter(|(_, at)| at.ends_with("/index_deg")).collect();
    // Every angle at which the face may be reached, and no other, counted from the shares themselves.
    let faces = alone["answer"]["parts"][0]["faces"].as_array().unwrap();
    let indexes = faces
        .iter()
        .flat_map(|face| face["tools"][0]["seats"][0]["indexes"].as_array().unwrap());
    let may_be = |at: &&serde_json::Value| {
        let share = |key: &str| at["share"][key].as_f64().unwrap();
        share("certain") + share("undecided") >= 0.95 - 1e-9
    };
    let marks = indexes.filter(may_be).count();
    assert!(marks > 7, "{marks}");
    assert_eq!(tags.len(), marks, "{tags:?}");
    for (value, at) in tags {
        assert_eq!(
            told.pointer(&at).and_then(serde_json::Value::as_f64),
            Some(value),
            "{at}"
        );
    }
}

/// Angles at which a face may be reached with the share of 0.95, each with whether it surely is.
fn marks(face: &serde_json::Value) -> Vec<(f64, bool)> {
    let indexes = &face["tools"][0]["seats"][0]["indexes"];
    let number = |value: &serde_json::Value| value.as_f64().expect("a number");
    let mark = |at: &serde_json::Value| {
        let [certain, undecided] = ["certain", "undecided"].map(|key| number(&at["share"][key]));
        let mark = (number(&at["index_deg"]), certain >= 0.95);
        (certain + undecided >= 0.95 - 1e-9).then_some(mark)
    };
    let indexes = indexes.as_array().expect("a list");
    indexes.iter().filter_map(mark).collect()
}

/// Unless it is told otherwise a page has every face that `reach` asks about: on a dial, alone or with faces
/// that have the same marks, or among those that are not reached.
#[test]
fn every_face_is_on_the_page() {
    let folder = tempfile::tempdir().unwrap();
    let page = folder.path().join("page.html");
    let job = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-models/horizontal.toml");
    let some = ["--tool", "3", "--seat", "1.1"];
    let reach = lapidary()
        .args(["reach", job, "--every", "15", "--format", "json"])
        .args(some)
        .assert();
    let reach: serde_json::Value =
        serde_json::from_slice(&reach.code(0).get_output().stdout).unwrap();
    let faces = reach["answer"]["parts"][0]["faces"].as_array().unwrap();
    let report = lapidary()
        .args([
            "report",
            job,
            "--no-pictures",
            "--no-lengths",
            "--no-remedies",
            "-o",
        ])
        .arg(&page)
        .args(some)
        .assert();
    report.code(0).stdout(is_empty());
    let page = std::fs::read_to_string(page).unwrap();
    let (_, page) = page.split_once("id=\"by-face-").unwrap();
    let (page, _) = page.split_once("</section>").unwrap();
    let captions = page.split("<figcaption><strong>").skip(1).map(|caption| {
        let (names, _) = caption.split_once(", housing, side 1</strong>").unwrap();
        names.split(", ").collect::<Vec<_>>()
    });
    let captions: Vec<Vec<&str>> = captions.collect();
    let without: Vec<&str> = page
        .split("<p>Without a dial, ")
        .skip(1)
        .flat_map(|told| {
            let (names, _) = told.split_once(".</p>").unwrap();
            names.split([' ', ',']).collect::<Vec<_>>()
        })
        .collect();
    let of = |name: &str| {
        let face = faces.iter().find(|face| face["face"] == name);
        marks(face.unwrap_or_else(|| panic!("{name} was not asked about")))
    };
    for face in faces {
        let name = face["face"].as_str().unwrap();
        let dials = captions
            .iter()
            .filter(|names| names.contains(&name))
            .count();
        let empty = without.iter().filter(|told| **told == name).count();
        let reached = usize::from(!marks(face).is_empty());
        assert_eq!([dials, empty], [reached, 1 - reached], "{name}");
    }
    assert!(faces.len() > 80, "{}", faces.len());
    assert!(captions.iter().any(|names| names.len() > 2), "{captions:?}");
    for names in captions {
        assert!(
            names.iter().all(|name| of(name) == of(names[0])),
            "{names:?}"
        );
    }
}

/// Bands take long: without a word only those of the largest faces are asked for. A drill has none.
#[test]
fn bands_are_of_the_largest_faces() {
    let job = concat!(env!("CARGO_MANIFEST_DIR"), "/demo-models/horizontal.toml");
    let words = [
        "--reached",
        "--tool",
        "6",
        "--seat",
        "1.1",
        "--format",
        "json",
    ];
    let told = lapidary().args(["check", job]).args(words).assert().code(0);
    let told: serde_json::Value = serde_json::from_slice(&told.get_output().stdout).unwrap();
    let part = &told["reached"]["answer"]["parts"][0];
    assert_eq!(part["faces"].as_array().unwrap().len(), 6);
    assert!(part["other_faces"].as_u64().unwrap() > 80);
}

#[test]
fn a_missing_job_is_bad_input_and_leaves_no_report() {
    let folder = tempfile::tempdir().unwrap();
    let report = folder.path().join("report.txt");
    let missing = lapidary()
        .args(["check", "no-such-job.toml", "-o"])
        .arg(&report)
        .assert();
    missing
        .code(2)
        .stdout(is_empty())
        .stderr(contains("no-such-job.toml: error: ").and(contains(
            "1 error: nothing was checked; mend the errors above and run it again",
        )));
    assert_eq!(folder.path().read_dir().unwrap().count(), 0);
}

#[test]
fn every_fault_of_a_job_is_told_in_one_go() {
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job.toml");
    std::fs::write(
        &job,
        "format = \"lapidary/job\"\nversion = 1\ncolour = \"red\"\n",
    )
    .unwrap();
    let wrong = lapidary()
        .arg("check")
        .arg(&job)
        .assert()
        .code(2)
        .stdout(is_empty());
    let told = String::from_utf8(wrong.get_output().stderr.clone()).unwrap();
    let faults = told
        .lines()
        .filter(|line| line.contains(": error: "))
        .count();
    assert!(faults > 1, "{told}");
    assert!(told.contains("colour"), "{told}");
    let closing = format!("{faults} errors: nothing was checked; ");
    assert!(told.lines().last().unwrap().starts_with(&closing), "{told}");
}

#[test]
fn schemas_are_json() {
    for file in ["job", "machine", "tools", "check", "lengths"] {
        let schema = lapidary()
            .args(["schema", file])
            .assert()
            .code(0)
            .stderr(is_empty());
        let schema: serde_json::Value =
            serde_json::from_slice(&schema.get_output().stdout).unwrap();
        assert!(jsonschema::meta::is_valid(&schema), "{file}");
        let format = &schema["properties"]["format"]["const"];
        assert_eq!(format, &format!("lapidary/{file}"));
    }
}

#[test]
fn completions_and_manual_pages_name_the_commands() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = lapidary().args(["completions", shell]).assert().code(0);
        script
            .stdout(contains("accept-close").and(contains("lapidary")))
            .stderr(is_empty());
    }
    lapidary()
        .arg("man")
        .assert()
        .code(0)
        .stdout(contains(".TH lapidary 1"));
    let check = lapidary().args(["man", "check"]).assert().code(0);
    check.stdout(contains(".TH lapidary-check 1").and(contains("\\-\\-accept\\-close")));
}

/// A reader that goes away early is no reason to panic or to complain.
#[test]
fn a_closed_pipe_is_no_fault() {
    use std::process::{Command, Stdio};
    let mut child = Command::new(assert_cmd::cargo::cargo_bin!("lapidary"))
        .args(["schema", "job"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "");
    assert_eq!(output.status.code(), Some(0));
}

/// Ctrl-C while the job is being read: a clean word, nothing written, exit code 130.
#[cfg(unix)]
#[test]
fn ctrl_c_stops_without_a_report() {
    use std::io::Write;
    use std::process::{Command, Stdio};
    let folder = tempfile::tempdir().unwrap();
    let job = folder.path().join("job.toml");
    assert!(Command::new("mkfifo").arg(&job).status().unwrap().success());
    let child = Command::new(assert_cmd::cargo::cargo_bin!("lapidary"))
        .arg("check")
        .arg(&job)
        .arg("-o")
        .arg(folder.path().join("report.txt"))
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Opening waits for the reader, so the program is at its job file now.
    let mut pipe = std::fs::OpenOptions::new().write(true).open(&job).unwrap();
    let id = child.id().to_string();
    assert!(
        Command::new("kill")
            .args(["-INT", &id])
            .status()
            .unwrap()
            .success()
    );
    std::thread::sleep(std::time::Duration::from_millis(300));
    pipe.write_all(b"format = \"lapidary/job\"\n").unwrap();
    drop(pipe);
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(130));
    assert_eq!(String::from_utf8_lossy(&output.stdout), "");
    assert_eq!(
        String::from_utf8_lossy(&output.stderr),
        "stopped; nothing was written\n"
    );
    assert_eq!(folder.path().read_dir().unwrap().count(), 1);
}
