//! `lapidary view`: starts the window, which is a program of its own.

use super::args::ViewArgs;
use super::exit::Exit;
use super::say;
use std::path::{Path, PathBuf};
use std::process::Command;

/// Name of the window's program.
const VIEWER: &str = "lapidary-viewer";

/// Starts the window and waits until it is closed.
#[must_use]
pub fn run(args: &ViewArgs) -> Exit {
    let own = std::env::current_exe().ok();
    let beside = own.as_deref().and_then(beside);
    let program = beside.unwrap_or_else(|| PathBuf::from(VIEWER));
    let started = Command::new(&program)
        .arg(&args.job)
        .args(&args.more)
        .status();
    match started {
        Ok(status) if status.success() => Exit::Clear,
        // It has said itself what was wrong.
        Ok(_) => Exit::BadInput,
        Err(fault) => {
            say(format_args!("error: {}", not_started(&program, &fault)));
            Exit::BadInput
        }
    }
}

/// The program in the folder of our own, where it is there.
fn beside(own: &Path) -> Option<PathBuf> {
    let name = format!("{VIEWER}{}", std::env::consts::EXE_SUFFIX);
    let program = own.with_file_name(name);
    program.is_file().then_some(program)
}

fn not_started(program: &Path, fault: &std::io::Error) -> String {
    if fault.kind() == std::io::ErrorKind::NotFound {
        format!(
            "the window is a program of its own, {VIEWER}, and is neither beside lapidary nor on \
             the PATH; install it from the project's folder with\n  cargo install --path viewer"
        )
    } else {
        format!("{} could not be started: {fault}", program.display())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_missing_window_is_told_with_the_line_that_installs_it() {
        let missing = std::io::Error::from(std::io::ErrorKind::NotFound);
        let told = not_started(Path::new(VIEWER), &missing);
        assert!(told.contains("cargo install --path viewer"), "{told}");
        let denied = std::io::Error::from(std::io::ErrorKind::PermissionDenied);
        assert!(!not_started(Path::new(VIEWER), &denied).contains("install"));
    }

    #[test]
    fn the_program_beside_our_own_comes_first() {
        let folder = tempfile::tempdir().unwrap();
        let own = folder.path().join("lapidary");
        assert_eq!(beside(&own), None);
        let name = format!("{VIEWER}{}", std::env::consts::EXE_SUFFIX);
        std::fs::write(folder.path().join(&name), b"").unwrap();
        assert_eq!(beside(&own), Some(folder.path().join(name)));
    }
}
