//! Arguments, files, progress, exit codes.

/// Runs the program with the process arguments.
#[must_use]
pub fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(2)
}
