//! Samples that each rule must refuse, and like ones that all rules must let through.

use crate::lexer::{code, outside_tests};
use crate::rules::{RULES, map_faults, missing_commands, unknown_entries};
use crate::tree::File;

fn file(path: &str, text: &str) -> File {
    File {
        path: path.to_owned(),
        text: text.to_owned(),
    }
}

/// Rule, path and a text that breaks it.
fn bad() -> Vec<(&'static str, File)> {
    let imports = |path, text| ("imports point down", file(path, text));
    let world = |path, text| ("no outside world below cli", file(path, text));
    let stub = |text: &str| ("no stubs", file("tests/a.rs", text));
    let word = |text| ("no words of the workplace", file("README.md", text));
    let place = |text| ("no places of one machine", file(".ci/run", text));
    let long = "fn f() {\n".to_owned() + &"    g();\n".repeat(70) + "}\n";
    let indented = long
        .lines()
        .map(|line| format!("    {line}\n"))
        .collect::<String>();
    vec![
        imports("src/gap/a.rs", "use crate::answer::Check;"),
        imports("src/value/a.rs", "fn f() -> crate::mesh::Mesh;"),
        imports("src/mesh/a.rs", "use crate::{setup, value};"),
        imports("src/setup/a.rs", "use lapidary::cli;"),
        imports("src/gap/a.rs", "use super::super::cli;"),
        imports("src/gap/mod.rs", "use super::cli;"),
        imports("src/gap/b/c.rs", "use super::super::super::cli;"),
        imports("src/odd/a.rs", ""),
        (
            "only gap may call parry",
            file("src/answer/a.rs", "use parry3d_f64::query;"),
        ),
        world("src/setup/a.rs", "use std::{fs, path};"),
        world("src/report/text/a.rs", "println!(\"1\");"),
        world(
            "src/mesh/a.rs",
            "#[cfg(test)]\nmod tests {\n}\nfn f() { File::open(path) }",
        ),
        ("files stay short", file("src/gap/a.rs", &"\n".repeat(501))),
        (
            "files stay short",
            file("demo-models/a.py", &"\n".repeat(501)),
        ),
        ("functions stay short", file("src/gap/a.rs", &long)),
        (
            "functions stay short",
            file("tests/a.rs", &format!("impl A {{\n{indented}}}\n")),
        ),
        stub(concat!("// TO", "DO: more")),
        stub(concat!("// FIX", "ME")),
        stub("todo!(\"more\")"),
        stub("unimplemented!()"),
        stub("#[ignore = \"slow\"]\nfn f() {}"),
        stub("#[should_panic]\nfn f() {}"),
        (
            "no unwrap outside tests",
            file("src/gap/a.rs", "a.unwrap()"),
        ),
        (
            "no unwrap outside tests",
            file("src/main.rs", "#[cfg(test)]\nmod tests {\n}\na.unwrap()"),
        ),
        word(concat!("An ag", "ent did it.")),
        word(concat!("In a work", "tree")),
        word(concat!("The Ses", "sion ends.")),
        place(concat!("cd /wo", "rk/main")),
        place(concat!("cat /tm", "p/out")),
        place(concat!("curl https://py", "pi.org/simple")),
    ]
}

/// Texts that keep every rule.
fn good() -> Vec<File> {
    let short = "fn f() {\n".to_owned() + &"    g();\n".repeat(68) + "}\n";
    let in_tests =
        "#[cfg(test)]\nmod tests {\n    use super::*;\n    a.unwrap(); fs::read(p);\n}\n";
    vec![
        file("src/answer/a.rs", "use crate::gap::Gap;\nuse super::scene;"),
        file(
            "src/value/a.rs",
            "// crate::mesh and std::fs\nlet text = \"crate::mesh, fs\";",
        ),
        file("src/gap/b/c.rs", "use super::super::ask;"),
        file("src/gap/mod.rs", in_tests),
        file("src/gap/a.rs", "use parry3d_f64::query;"),
        file("src/cli/a.rs", "use std::fs;\nuse crate::report::text;"),
        file("src/mesh/tests/a.rs", "a.unwrap(); std::fs::read(p)"),
        file("src/mesh/a.rs", "a.unwrap_or(0); FileFault::new()"),
        file("src/main.rs", "fn main() { lapidary::cli::main() }"),
        file("src/gap/short.rs", &short),
        file("tests/long.json", &"\n".repeat(900)),
        file("demo-models/a.toml", "work = 1 # network, homework"),
    ]
}

#[test]
fn each_rule_refuses_its_bad_samples() {
    let samples = bad();
    for (name, rule) in RULES {
        let of_rule: Vec<&File> = samples
            .iter()
            .filter(|(of, _)| *of == name)
            .map(|s| &s.1)
            .collect();
        assert!(!of_rule.is_empty(), "no sample for: {name}");
        for sample in of_rule {
            assert!(
                !rule(sample).is_empty(),
                "{name} lets through: {}: {}",
                sample.path,
                sample.text
            );
        }
    }
    let known = |name: &str| RULES.iter().any(|(rule, _)| *rule == name);
    assert!(samples.iter().all(|(name, _)| known(name)));
}

#[test]
fn all_rules_let_good_samples_through() {
    for sample in good() {
        for (name, rule) in RULES {
            assert_eq!(
                rule(&sample),
                Vec::<String>::new(),
                "{name}: {}",
                sample.path
            );
        }
    }
}

#[test]
fn an_entry_at_the_top_is_refused_when_no_one_agreed_on_it() {
    let names = ["src", "notes", "tests"].map(str::to_owned);
    assert_eq!(unknown_entries(&names), ["notes"]);
}

#[test]
fn a_command_must_stand_on_a_line_of_its_own() {
    let both =
        "$ cargo run --release -- check demo-models/horizontal.toml\n$ cargo test --release\n";
    assert_eq!(missing_commands(both), Vec::<&str>::new());
    assert_eq!(
        missing_commands(&both.replace("--release\n", "--release --lib\n")).len(),
        1
    );
    assert_eq!(missing_commands("").len(), 2);
}

#[test]
fn a_map_with_a_gap_or_a_dead_name_is_refused() {
    let paths = ["src/gap/turn.rs", "src/gap/tests/a.rs", "src/main.rs"];
    assert_eq!(
        map_faults("`src/gap/` holds `turn.rs`", &paths),
        Vec::<String>::new()
    );
    assert_eq!(
        map_faults("`turn.rs`", &paths),
        ["src/gap/ is not in the map"]
    );
    let dead = map_faults("`src/gap/` holds `urn.rs`", &paths);
    assert_eq!(dead, ["urn.rs is in the map, but not there"]);
}

#[test]
fn comments_and_literals_are_no_code() {
    let text =
        "a /* b /* c */ d */ \"e\\\"f\" r#\"g\"h\"# 'i' '\\'' '\\u{1}' &'life j // k\nr#type";
    let left: String = code(text).split_whitespace().collect::<Vec<_>>().join(" ");
    assert_eq!(left, "a &'life j r#type");
    assert_eq!(code(text).lines().count(), 2);
    let split = "x\n#[cfg(test)]\nmod tests {\n    y\n}\nz";
    assert_eq!(outside_tests(split), "x\n\nz");
}
