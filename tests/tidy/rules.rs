//! The rules. Each takes a file and tells what is wrong with it.

use crate::lexer::{code, outside_tests, words};
use crate::tree::File;

/// A rule with its name.
pub type Rule = (&'static str, fn(&File) -> Vec<String>);

pub const RULES: [Rule; 9] = [
    ("imports point down", imports_point_down),
    ("only gap may call parry", only_gap_calls_parry),
    ("no outside world below cli", no_outside_world),
    ("files stay short", files_stay_short),
    ("functions stay short", functions_stay_short),
    ("no stubs", no_stubs),
    ("no unwrap outside tests", no_unwrap),
    ("no words of the workplace", no_workplace_words),
    ("no places of one machine", no_machine_places),
];

/// The layers of `src`, lowest first.
pub const LAYERS: [&str; 7] = ["value", "mesh", "setup", "gap", "answer", "report", "cli"];

/// What may stand at the top of the repository.
const AGREED: [&str; 17] = [
    ".cargo",
    ".ci",
    ".gitattributes",
    ".gitignore",
    "CHANGELOG.md",
    "Cargo.lock",
    "Cargo.toml",
    "DEVELOPERS.md",
    "LICENSE-APACHE",
    "LICENSE-MIT",
    "README.md",
    "clippy.toml",
    "demo-models",
    "rustfmt.toml",
    "src",
    "tests",
    "viewer",
];

/// Longest file of program text.
const FILE_LINES: usize = 500;

/// Longest function, from its first line to its closing brace.
const FUNCTION_LINES: usize = 70;

/// Names that reach the file system, the environment, a terminal or another process.
const OUTSIDE_WORLD: [&str; 12] = [
    "OpenOptions",
    "dbg",
    "eprint",
    "eprintln",
    "fs",
    "net",
    "print",
    "println",
    "process",
    "stderr",
    "stdout",
    "tempfile",
];

/// Entries at the top that no one agreed on.
pub fn unknown_entries(names: &[String]) -> Vec<String> {
    let unknown = |name: &&String| !AGREED.contains(&name.as_str());
    names.iter().filter(unknown).cloned().collect()
}

/// What is missing in the README.
pub fn missing_commands(readme: &str) -> Vec<&'static str> {
    let commands = [
        "cargo run --release -- check demo-models/horizontal.toml",
        "cargo test --release",
    ];
    let stands_alone = |command: &&str| {
        let mut lines = readme.lines();
        !lines.any(|line| line.trim_start_matches("$ ").trim() == *command)
    };
    commands.into_iter().filter(stands_alone).collect()
}

/// Folders of `src` that the code map leaves out, and Rust files that it names but that are not
/// there.
pub fn map_faults(map: &str, paths: &[&str]) -> Vec<String> {
    let folders = paths.iter().filter_map(|path| {
        let (folder, _) = path.strip_prefix("src/")?.rsplit_once('/')?;
        (!folder.ends_with("tests")).then(|| format!("src/{folder}/"))
    });
    let mut faults: Vec<String> = folders
        .filter(|folder| !map.contains(folder.as_str()))
        .map(|folder| format!("{folder} is not in the map"))
        .collect();
    faults.dedup();
    let quoted = map.split('`').skip(1).step_by(2);
    let is_file = |name: &&str| name.ends_with(".rs") && !name.contains([' ', '*']);
    for name in quoted.filter(is_file) {
        let there = |path: &&&str| **path == name || path.ends_with(&format!("/{name}"));
        if paths.iter().find(there).is_none() {
            faults.push(format!("{name} is in the map, but not there"));
        }
    }
    faults
}

fn rank(layer: &str) -> Option<usize> {
    LAYERS.iter().position(|known| *known == layer)
}

/// The layer of a file of `src`, and its path within it.
fn layer_of(path: &str) -> Option<(&str, &str)> {
    path.strip_prefix("src/")?.split_once('/')
}

fn is_test(path: &str) -> bool {
    path.starts_with("tests/") || path.contains("/tests/")
}

fn is_rust(path: &str) -> bool {
    path.ends_with(".rs")
}

fn imports_point_down(file: &File) -> Vec<String> {
    let Some((layer, within)) = layer_of(&file.path).filter(|_| is_rust(&file.path)) else {
        return Vec::new();
    };
    let Some(own) = rank(layer) else {
        return vec![format!("`{layer}` is no layer")];
    };
    let code = code(&file.text);
    let mut wrong = Vec::new();
    for (word, after) in words(&code).filter(|(word, _)| ["crate", "lapidary"].contains(word)) {
        let Some(path) = after.strip_prefix("::") else {
            continue;
        };
        let target = words(path).next().map_or("", |(target, _)| target);
        if !path.starts_with(target) || target.is_empty() {
            wrong.push(format!(
                "`{word}::` with no layer behind it hides what is imported"
            ));
        } else if rank(target).is_some_and(|rank| rank > own) {
            wrong.push(format!("`{layer}` imports `{target}`"));
        }
    }
    let depth = within.matches('/').count() + if within.ends_with("mod.rs") { 1 } else { 2 };
    if outside_tests(&code).contains(&"super::".repeat(depth)) {
        wrong.push("`super` leaves the layer".to_owned());
    }
    wrong
}

fn only_gap_calls_parry(file: &File) -> Vec<String> {
    if !file.path.starts_with("src/") || file.path.starts_with("src/gap/") || !is_rust(&file.path) {
        return Vec::new();
    }
    let code = code(&file.text);
    let calls = words(&code).filter(|(word, _)| word.starts_with("parry"));
    calls.map(|(word, _)| format!("`{word}`")).collect()
}

fn no_outside_world(file: &File) -> Vec<String> {
    let below = layer_of(&file.path).is_some_and(|(layer, _)| layer != "cli");
    if !below || !is_rust(&file.path) || is_test(&file.path) {
        return Vec::new();
    }
    let code = outside_tests(&code(&file.text));
    let reaches = words(&code).filter(|(word, after)| match *word {
        // Other kinds of `File`, and what is known when the program is built, are no harm.
        "File" => ["::open", "::create", "::options"]
            .iter()
            .any(|call| after.starts_with(call)),
        "env" => !after.starts_with('!'),
        _ => OUTSIDE_WORLD.contains(word),
    });
    reaches.map(|(word, _)| format!("`{word}`")).collect()
}

fn files_stay_short(file: &File) -> Vec<String> {
    let lines = file.text.lines().count();
    let program = is_rust(&file.path) || file.path.ends_with(".py");
    if program && lines > FILE_LINES {
        vec![format!("{lines} lines, at most {FILE_LINES}")]
    } else {
        Vec::new()
    }
}

fn functions_stay_short(file: &File) -> Vec<String> {
    if !is_rust(&file.path) {
        return Vec::new();
    }
    let code = code(&file.text);
    let lines: Vec<&str> = code.lines().collect();
    let mut wrong = Vec::new();
    for (number, line) in lines.iter().enumerate() {
        let Some(name) = function_name(line) else {
            continue;
        };
        let indent = line.len() - line.trim_start().len();
        // The formatter puts the closing brace under the first word.
        let end = format!("{}}}", " ".repeat(indent));
        let length = lines[number..]
            .iter()
            .position(|line| line.trim_end() == end);
        if let Some(length) = length.filter(|length| length + 1 > FUNCTION_LINES) {
            wrong.push(format!(
                "`{name}` has {} lines, at most {FUNCTION_LINES}",
                length + 1
            ));
        }
    }
    wrong
}

/// The name of the function that a line begins, where its body does not end on the line.
fn function_name(line: &str) -> Option<&str> {
    let mut words = words(line).map(|(word, _)| word);
    let known = ["pub", "super", "crate", "in", "const", "async"];
    let first = words.find(|word| !known.contains(word))?;
    let name = (first == "fn").then(|| words.next()).flatten()?;
    (!line.trim_end().ends_with(['}', ';'])).then_some(name)
}

fn no_stubs(file: &File) -> Vec<String> {
    let marks = [
        concat!("TO", "DO"),
        concat!("FIX", "ME"),
        concat!("X", "XX"),
    ];
    let mut wrong: Vec<String> = words(&file.text)
        .filter(|(word, _)| marks.contains(word))
        .map(|(word, _)| format!("`{word}`"))
        .collect();
    if is_rust(&file.path) {
        let code = code(&file.text);
        let macros = words(&code).filter(|(word, after)| {
            ["todo", "unimplemented"].contains(word) && after.starts_with('!')
        });
        wrong.extend(macros.map(|(word, _)| format!("`{word}!`")));
        if code.contains("#[ignore") || code.contains("#[should_panic]") {
            wrong.push("a test that is left out, or that any panic would pass".to_owned());
        }
    }
    wrong
}

fn no_unwrap(file: &File) -> Vec<String> {
    if !is_rust(&file.path) || is_test(&file.path) {
        return Vec::new();
    }
    let code = outside_tests(&code(&file.text));
    let calls = words(&code).filter(|(word, after)| *word == "unwrap" && after.starts_with('('));
    calls.map(|_| "`unwrap()`".to_owned()).collect()
}

fn no_workplace_words(file: &File) -> Vec<String> {
    let banned = [
        concat!("ag", "ent"),
        concat!("ag", "ents"),
        concat!("chat", "bot"),
        concat!("l", "lm"),
        concat!("ses", "sion"),
        concat!("ses", "sions"),
        concat!("suba", "gent"),
        concat!("work", "tree"),
        concat!("work", "trees"),
    ];
    // The licence has words of its own.
    let lower = file.text.to_lowercase();
    let found = words(&lower).filter(|(word, _)| banned.contains(word));
    found.map(|(word, _)| format!("`{word}`")).collect()
}

fn no_machine_places(file: &File) -> Vec<String> {
    let banned = [
        concat!("/wo", "rk/"),
        concat!("/tm", "p/"),
        concat!("/ho", "me/"),
        concat!("/ro", "ot/"),
        concat!("C:", "\\Users"),
        concat!("crates", ".io"),
        concat!("py", "pi.org"),
        concat!("python", "hosted"),
        concat!("npm", "js."),
        concat!("debian", ".org"),
        concat!("local", "host"),
    ];
    let found = banned.iter().filter(|place| file.text.contains(**place));
    found.map(|place| format!("`{place}`")).collect()
}
