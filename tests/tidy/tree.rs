//! The files of the repository.

use std::fs;
use std::path::{Path, PathBuf};

/// A text file, by its path from the root with `/` between the names.
pub struct File {
    pub path: String,
    pub text: String,
}

/// Folders that are made, not written.
const MADE: [&str; 5] = [".git", "target", "__pycache__", "env", "node_modules"];

/// Kinds of files that are read as text; each lies under a rule about its words.
const TEXT: [&str; 12] = [
    "rs", "py", "toml", "md", "json", "snap", "wgsl", "html", "css", "js", "svg", "txt",
];

pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// Names at the top, folders and files that are made by a build left out.
pub fn top_level() -> Vec<String> {
    entries(&root()).into_iter().map(|(name, _)| name).collect()
}

/// Every text file, `Cargo.lock` left out: it is written by cargo.
pub fn text_files() -> Vec<File> {
    let mut files = Vec::new();
    collect(&root(), "", &mut files);
    files
}

fn entries(folder: &Path) -> Vec<(String, PathBuf)> {
    let read = fs::read_dir(folder).unwrap_or_else(|e| panic!("{}: {e}", folder.display()));
    let mut entries: Vec<(String, PathBuf)> = read
        .map(|entry| {
            entry
                .expect("an entry of a folder that is being read")
                .path()
        })
        .map(|path| {
            (
                path.file_name()
                    .unwrap_or_default()
                    .to_string_lossy()
                    .into_owned(),
                path,
            )
        })
        .filter(|(name, _)| !MADE.contains(&name.as_str()))
        .collect();
    entries.sort();
    entries
}

fn collect(folder: &Path, above: &str, files: &mut Vec<File>) {
    for (name, path) in entries(folder) {
        let here = format!("{above}{name}");
        if path.is_dir() {
            collect(&path, &format!("{here}/"), files);
        } else if is_text(&here) {
            let text = fs::read_to_string(&path).unwrap_or_else(|e| panic!("{here}: {e}"));
            let text = text.replace("\r\n", "\n");
            files.push(File { path: here, text });
        }
    }
}

fn is_text(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or(path);
    match name.rsplit_once('.') {
        Some((stem, ending)) if !stem.is_empty() => TEXT.contains(&ending),
        _ => name == ".gitignore" || name == ".gitattributes" || path == ".ci/run",
    }
}
