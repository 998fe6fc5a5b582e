//! Faults of syntax and structure: each with its line, its place and its remedy.

use super::fixture::{Files, JOB, shown};

const J: &str = "job.toml";
const M: &str = "shop/machine.toml";
const T: &str = "shop/tools.toml";

#[test]
fn unknown_keys_come_with_the_nearest_known_one() {
    let files = Files::with(J, "depth = 18", "depth = 18, break_trough = 1");
    files.one_error(
        J,
        "break_trough",
        &["`cuts[1].feature.break_trough`", "`break_through` meant"],
    );
    let files = Files::with(J, "[wanted]", "zzz = 1\n[wanted]");
    files.one_error(J, "zzz", &["no key `zzz`", "`tool_files`", "`carrier`"]);
    let files = Files::with(M, "way =", "wey =");
    files.one_error(M, "wey", &["`rotary.wey`", "is `way` meant?"]);
    let files = Files::with(T, "DMM = 16", "DNM = 16");
    files.one_error(T, "DNM", &["`tools[0].DNM`", "is `DMM` meant?"]);
}

#[test]
fn missing_keys_are_said_at_their_table() {
    let files = Files::with(J, "name = \"hole\"\n", "");
    let text = String::from_utf8(files.0[std::path::Path::new(J)].clone()).unwrap();
    let header = text
        .lines()
        .enumerate()
        .filter(|(_, line)| *line == "[[cuts]]")
        .nth(1)
        .unwrap()
        .0;
    let faults = files.faults();
    assert_eq!(faults.len(), 1, "{}", shown(&faults));
    assert_eq!(faults[0].line, Some(header + 1), "{}", faults[0]);
    assert!(
        faults[0]
            .message
            .contains("`cuts[1]`: the key `name` is missing; add it: Name shown")
    );
    let files = Files::with(J, "[carrier]\nname = \"column\"", "[carrier]");
    files.one_error(J, "[carrier]", &["`carrier`: the key `name` is missing"]);
    let files = Files::with(M, "units = \"mm\"\n", "");
    files.one_error(M, "format", &["the key `units` is missing"]);
}

/// File, what is exchanged for what, part of the line of the fault, words of the message.
const TYPES: [(&str, &str, &str, &str, &[&str]); 8] = [
    (
        J,
        "depth = 18",
        "depth = \"18\"",
        "depth = \"18\"",
        &["a number", "the text \"18\""],
    ),
    (
        J,
        "tool = 6",
        "tool = 6.5",
        "tool = 6.5",
        &["`cuts[1].tool`", "a whole number", "6.5"],
    ),
    (
        J,
        "tool = 6",
        "tool = -6",
        "tool = -6",
        &["at least 0", "-6"],
    ),
    (
        J,
        "tool = 6",
        "tool = 99999999999",
        "tool = 999",
        &["at most 4294967295"],
    ),
    (
        J,
        "title = \"Two housings\"",
        "title = 2",
        "title =",
        &["text in quotes", "number 2"],
    ),
    (
        J,
        "sides = [1, 3]",
        "sides = 1",
        "sides = 1",
        &["`seats[0].sides`", "a list"],
    ),
    (
        J,
        "[carrier]",
        "[[carrier]]",
        "[[carrier]]",
        &["must be a table, but is a list"],
    ),
    (
        M,
        "[-280, 280]",
        "[-280, 0, 280]",
        "[-280,",
        &["2 entries, but has 3"],
    ),
];

#[test]
fn wrong_types_and_counts_are_said() {
    for (path, old, new, at, words) in TYPES {
        Files::with(path, old, new).one_error(path, at, words);
    }
    assert_eq!(
        Files::with(J, "tool = 6", "tool = 6.0")
            .good_setup()
            .setup
            .cuts
            .len(),
        2
    );
}

#[test]
fn values_not_among_those_allowed_are_listed() {
    let files = Files::with(J, "units = \"mm\"", "units = \"cm\"");
    files.one_error(J, "units", &["\"cm\"", "not among \"mm\", \"inch\""]);
    let files = Files::with(M, "\"iso-841\"", "\"iso\"");
    files.one_error(M, "sense", &["`rotary.sense`", "\"iso-841\", \"reversed\""]);
    let files = Files::with(J, "depth = 18", "depth = 18, depth_to = \"point\"");
    files.one_error(
        J,
        "depth_to",
        &["`cuts[1].feature.depth_to`", "\"full-diameter\", \"tip\""],
    );
}

#[test]
fn a_choice_is_judged_by_the_branch_that_was_meant() {
    let files = Files::with(J, "\"round-hole\"", "\"round-whole\"");
    files.one_error(
        J,
        "whole",
        &["`cuts[1].feature.kind`", "\"round-hole\", \"planar-face\""],
    );
    let files = Files::with(J, "kind = \"round-hole\", ", "");
    files.one_error(
        J,
        "depth = 18",
        &["`cuts[1].feature`: the key `kind` is missing", "\"slot\""],
    );
    let files = Files::with(J, "access = [0, 0, 1], depth", "access = [0, 0], depth");
    files.one_error(
        J,
        "depth = 18",
        &["`cuts[1].feature.access`", "3 entries, but has 2"],
    );
    let files = Files::with(M, "diameter = 150 }", "diametre = 150 }");
    files.among(
        M,
        "diametre",
        &["`bodies[0].shape.diametre`", "is `diameter` meant?"],
    );
    files.among(
        M,
        "diametre",
        &["`bodies[0].shape`: the key `diameter` is missing"],
    );
    let files = Files::with(M, "shape = { kind = \"cylinder\"", "shape = \"round\" #");
    files.one_error(M, "\"round\"", &["`bodies[0].shape`", "must be a table"]);
}

#[test]
fn numbers_that_are_not_finite_are_refused() {
    for text in [
        "nan",
        "-nan",
        "inf",
        "-inf",
        "+inf",
        "1e999",
        "99999999999999999999",
    ] {
        let files = Files::with(J, "depth = 18", &format!("depth = {text}"));
        let faults = files.faults();
        assert_eq!(faults.len(), 1, "{text}: {}", shown(&faults));
        let fault = &faults[0];
        assert_eq!(
            fault.line,
            Some(JOB.lines().position(|l| l.contains("= 18")).unwrap() + 1)
        );
        assert!(
            fault.message.contains("finite") || fault.message.contains("not TOML"),
            "{fault}"
        );
    }
    let files = Files::with(
        M,
        "gauge_point = [0, 0, 710]",
        "gauge_point = [0, nan, 710]",
    );
    files.one_error(M, "nan", &["`gauge_point[1]`", "finite"]);
}

#[test]
fn syntax_faults_have_lines() {
    Files::with(J, "[carrier]", "[carrier").one_error(J, "[carrier", &["not TOML"]);
    let files = Files::with(J, "'meshes\\part.stl'", "\"meshes\\part.stl\"");
    files.one_error(J, "part.stl", &["not TOML", "use '...' or /"]);
    Files::with(J, "bore = 80", "bore = 80\nbore = 81").one_error(J, "bore = 81", &["duplicate"]);
    // Two faults of syntax are both said.
    let files = Files::with(J, "bore = 80", "bore = ").change(J, "tool = 6", "tool = ?");
    let lines: Vec<_> = files.faults().iter().map(|fault| fault.line).collect();
    assert!(lines.len() >= 2 && lines[0] < lines[1], "{lines:?}");
    let mut files = Files::good();
    files.0.insert(
        J.into(),
        b"format = \"lapidary/job\"\ntitle = \"\xe9\"\n".to_vec(),
    );
    let faults = files.faults();
    assert_eq!((faults[0].line, faults.len()), (Some(2), 1));
    assert!(faults[0].message.contains("UTF-8"));
}

#[test]
fn the_wrong_file_is_one_fault_not_many() {
    let files = Files::with(J, "shop/machine.toml", "shop/tools.toml").change(
        J,
        "[\"shop/tools.toml\"]",
        "[]",
    );
    files.among(
        T,
        "format",
        &[
            "\"lapidary/tools\"",
            "must be a file of format \"lapidary/machine\"",
        ],
    );
    Files::with(J, "version = 1", "version = 2").one_error(J, "version = 2", &["reads version 1"]);
    Files::with(J, "version = 1\n", "").one_error(J, "format", &["write version = 1"]);
    Files::with(J, "format = \"lapidary/job\"\n", "").one_error(
        J,
        "version",
        &["write format = \"lapidary/job\""],
    );
}

#[test]
fn several_faults_of_several_files_come_at_once() {
    let files = Files::with(J, "depth = 18", "depth = true")
        .change(J, "tool = 2", "tool = \"two\"")
        .change(M, "moves = \"work\"", "moves = \"table\"")
        .change(M, "step_deg = 1", "step_degree = 1")
        .change(T, "APMX = 32", "APMX = 52");
    let faults = files.faults();
    assert_eq!(faults.len(), 5, "{}", shown(&faults));
    files.among(J, "depth = true", &["`cuts[1].feature.depth`"]);
    files.among(J, "tool = \"two\"", &["`cuts[0].tool`"]);
    files.among(M, "moves = \"table\"", &["`axes[0].moves`"]);
    files.among(M, "step_degree", &["is `step_deg` meant?"]);
    files.among(T, "LU = 40", &["APMX 52 mm is more than LU 40 mm"]);
    assert!(faults.is_sorted(), "{}", shown(&faults));
}
