//! Rules that hold over the whole repository: layers, lengths, words, commands.
//!
//! Every rule is a function of a file's path and text. `samples` shows of each that it can fail;
//! the tests here hold the repository against them.

mod lexer;
mod rules;
mod samples;
mod tree;

use rules::{RULES, map_faults, missing_commands, unknown_entries};
use tree::{root, text_files, top_level};

#[test]
fn every_file_keeps_every_rule() {
    let files = text_files();
    // A walk that finds next to nothing would keep every rule.
    assert!(files.len() > 100, "only {} files found", files.len());
    let mut wrong = Vec::new();
    for file in &files {
        for (name, rule) in RULES {
            let found = rule(file).into_iter();
            wrong.extend(found.map(|what| format!("{}: {name}: {what}", file.path)));
        }
    }
    assert!(wrong.is_empty(), "\n{}", wrong.join("\n"));
}

#[test]
fn the_top_holds_what_was_agreed_and_no_more() {
    let names = top_level();
    assert!(names.iter().any(|name| name == "Cargo.toml"));
    assert_eq!(unknown_entries(&names), Vec::<String>::new());
}

#[test]
fn the_readme_holds_both_commands() {
    let readme = std::fs::read_to_string(root().join("README.md")).unwrap();
    assert_eq!(missing_commands(&readme), Vec::<&str>::new());
}

#[test]
fn the_code_map_names_every_folder_and_no_file_that_is_gone() {
    let map = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let files = text_files();
    let paths: Vec<&str> = files.iter().map(|file| file.path.as_str()).collect();
    assert_eq!(map_faults(&map, &paths), Vec::<String>::new());
}
